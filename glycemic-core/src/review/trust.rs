//! Question 2: can this sensor be trusted on this person? Levels, rises, lows and timing apart.

use super::answer::{Answer, Figure, Options};
use crate::agreement::{summary, within};
use crate::align::{How, Pairs, lag, pair};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::panel::Blood;
use crate::stats::line;
use crate::table::Table;
use crate::trial::Trial;
use crate::units;

/// Pairs under which levels are not judged.
const MIN_PAIRS: usize = 8;
/// Meals with a meter reading before and after that rises need.
const MIN_RISES: usize = 5;
/// Meter readings below 70 mg/dL that lows need.
const MIN_LOWS: usize = 3;

pub(super) fn answer(trial: &Trial, options: Options) -> Result<(Answer, Option<Blood>), Error> {
    let pairs = pair(&trial.meter, &trial.sensor, 5.0, How::Nearest, 0.0)?;
    let clock = trial.clock();
    let days: Vec<i64> = pairs.times_ms.iter().map(|&t| clock.day(t)).collect();
    let mut figures =
        vec![Figure::count("pairs", "pairs of meter and sensor", "1", pairs.len() as f64)];
    figures.push(Figure::count(
        "unpaired",
        "meter readings without a pair",
        "1",
        pairs.unpaired.len() as f64,
    ));
    let mut reasons = Vec::new();
    let mut blood = None;
    if pairs.len() < MIN_PAIRS {
        reasons.push(Reason::count(
            "too_few_pairs",
            "pairs of meter and sensor to judge levels",
            pairs.len(),
            MIN_PAIRS,
        ));
    } else {
        let s = summary(&pairs.reference_mg_dl, &pairs.measured_mg_dl, Some(&days), options.level)?;
        blood = s.bias_mg_dl.value.zip(s.bias_se_mg_dl).map(|(bias_mg_dl, se_mg_dl)| Blood {
            bias_mg_dl,
            se_mg_dl,
            ..Blood::default()
        });
        figures.push(against("mard_pct", "mean absolute relative difference", "%", s.mard_pct));
        figures.push(against(
            "bias_mg_dl",
            "mean difference sensor - meter",
            "mg/dL",
            s.bias_mg_dl,
        ));
        for (id, label, limit, switch) in [
            ("within_15_15_pct", "within 15 mg/dL (<100) or 15 %", 15.0, 100.0),
            ("within_20_20_pct", "within 20 mg/dL (<80) or 20 %", 20.0, 80.0),
        ] {
            let w = within(
                &pairs.reference_mg_dl,
                &pairs.measured_mg_dl,
                limit,
                limit,
                switch,
                Some(&days),
                options.level,
            )?;
            let e = Estimate::new(
                100.0 * w.fraction,
                100.0 * w.low,
                100.0 * w.high,
                w.level,
                &w.method,
                w.n,
            );
            figures.push(against(id, label, "%", e.needing(MIN_PAIRS)));
        }
        figures.push(against(
            "drift_mg_dl_day",
            "drift of sensor - meter by wear day",
            "mg/dL/d",
            drift(&pairs, options.level)?,
        ));
    }
    figures.push(rises(trial, options)?);
    figures.push(lows(&pairs, options.level));
    let unchecked = night_lows_unchecked(trial);
    figures.push(Figure::count(
        "night_lows_unchecked",
        "lows at night (below 70 mg/dL, 22:00-07:00) without a meter reading within 15 minutes",
        "1",
        unchecked as f64,
    ));
    figures.push(against(
        "lag_less_clock_min",
        "sensor later than the meter's stamps (lag less what the meter's clock is ahead)",
        "min",
        lag(&trial.meter, &trial.sensor, options.level)?,
    ));
    let mut answer =
        Answer::new("trust", "Can I trust this sensor on this person?", figures, reasons);
    answer.cautions = vec!["one_person", "check_by_meter"];
    if unchecked > 0 {
        answer.cautions.push("possibly_pressure");
    }
    answer.tables.push(("pairs".into(), table(trial, &pairs)?));
    Ok((answer, blood))
}

fn against(id: &str, label: &str, unit: &'static str, estimate: Estimate) -> Figure {
    Figure::new(id, label, unit, "against_meter", estimate)
}

/// Slope of the difference over days of wear.
fn drift(pairs: &Pairs, level: f64) -> Result<Estimate, Error> {
    const METHOD: &str = "straight line of sensor - meter on day of wear, HC3";
    let first = pairs.times_ms[0];
    let x: Vec<f64> = pairs.times_ms.iter().map(|t| (t - first) as f64 / 86_400_000.0).collect();
    let y: Vec<f64> =
        pairs.measured_mg_dl.iter().zip(&pairs.reference_mg_dl).map(|(m, r)| m - r).collect();
    if x.iter().copied().fold(0.0, f64::max) < 4.0 {
        let reason = Reason::plain("short_span", "the pairs span fewer than four days");
        return Ok(Estimate::missing(level, METHOD, x.len(), MIN_PAIRS, reason));
    }
    let line = line::weighted(&x, &y, &vec![1.0; x.len()])?;
    Ok(line.slope_estimate(level, METHOD).needing(MIN_PAIRS))
}

/// Change from before to after a meal: the sensor's less the meter's, over the same times.
fn rises(trial: &Trial, options: Options) -> Result<Figure, Error> {
    let pairs = pair(&trial.meter, &trial.sensor, 10.0, How::Interpolate, 0.0)?;
    let mut differences = Vec::new();
    for meal in &trial.meals {
        let near = |low: i64, high: i64| {
            (0..pairs.len())
                .rev()
                .find(|&i| (low..=high).contains(&(pairs.times_ms[i] - meal.time_ms)))
        };
        if let (Some(a), Some(b)) =
            (near(-45 * 60_000, 10 * 60_000), near(30 * 60_000, 120 * 60_000))
        {
            let change = |v: &[f64]| v[b] - v[a];
            differences.push(change(&pairs.measured_mg_dl) - change(&pairs.reference_mg_dl));
        }
    }
    let label = "rise over a meal, sensor less meter";
    if differences.len() < MIN_RISES {
        let what = "meals with a meter reading before and after";
        let reason = Reason::count("too_few_rises", what, differences.len(), MIN_RISES);
        let e = Estimate::missing(
            options.level,
            "mean of differences",
            differences.len(),
            MIN_RISES,
            reason,
        );
        return Ok(against("rise_difference_mg_dl", label, "mg/dL", e));
    }
    let each: Vec<i64> = (0..differences.len() as i64).collect();
    let e = crate::agreement::summary::mean_estimate(&differences, &each, options.level).0;
    Ok(against("rise_difference_mg_dl", label, "mg/dL", e.needing(MIN_RISES)))
}

/// Lows need meter readings that were low; there are seldom any.
fn lows(pairs: &Pairs, level: f64) -> Figure {
    let low: Vec<f64> = pairs
        .reference_mg_dl
        .iter()
        .zip(&pairs.measured_mg_dl)
        .filter(|(r, _)| **r < units::LOW.mg_dl)
        .map(|(r, m)| m - r)
        .collect();
    let label = "difference sensor - meter where the meter is below 70 mg/dL";
    let reason =
        Reason::count("too_few_lows", "meter readings below 70 mg/dL", low.len(), MIN_LOWS);
    let mut e = Estimate::missing(level, "mean of differences", low.len(), MIN_LOWS, reason);
    if low.len() >= MIN_LOWS {
        let each: Vec<i64> = (0..low.len() as i64).collect();
        e = crate::agreement::summary::mean_estimate(&low, &each, level).0;
    }
    against("low_difference_mg_dl", label, "mg/dL", e)
}

/// Runs of night readings below the low limit that no meter reading within 15 minutes checked.
fn night_lows_unchecked(trial: &Trial) -> usize {
    const QUARTER_MS: i64 = 15 * 60_000;
    let clock = trial.clock();
    let limit = units::LOW.in_source(trial.sensor.unit());
    let night = |t: i64| !(420.0..1320.0).contains(&clock.minute_of_day(t));
    let checked = |t: i64| trial.meter.times_ms().iter().any(|m| (m - t).abs() <= QUARTER_MS);
    let mut runs: Vec<(i64, bool)> = Vec::new();
    for (&t, &g) in trial.sensor.times_ms().iter().zip(trial.sensor.glucose_mg_dl()) {
        if g >= limit || !night(t) {
            continue;
        }
        match runs.last_mut() {
            Some(run) if t - run.0 <= 3 * trial.sensor.nominal_ms() => {
                *run = (t, run.1 || checked(t));
            }
            _ => runs.push((t, checked(t))),
        }
    }
    runs.iter().filter(|run| !run.1).count()
}

fn table(trial: &Trial, pairs: &Pairs) -> Result<Table, Error> {
    let clock = trial.clock();
    let mut t = Table::new();
    t.push_i64("time_ms", pairs.times_ms.iter().map(|t| Some(*t)).collect())?;
    t.push_text("local_time", pairs.times_ms.iter().map(|t| Some(clock.text(*t))).collect())?;
    t.push_f64("meter_mg_dl", pairs.reference_mg_dl.iter().map(|v| Some(*v)).collect())?;
    t.push_f64("sensor_mg_dl", pairs.measured_mg_dl.iter().map(|v| Some(*v)).collect())?;
    t.push_f64("rate_mg_dl_min", pairs.rate_mg_dl_min.clone())?;
    t.push_i64("readings", pairs.readings.iter().map(|n| Some(*n as i64)).collect())?;
    t.push_text("context", pairs.context.iter().map(|c| Some(c.clone())).collect())?;
    Ok(t)
}
