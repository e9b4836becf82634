//! Question 2: can this sensor be trusted on this person? Levels, rises, lows and timing apart.

use super::answer::{Answer, Figure, Options};
use super::{trust_next, trust_sensor};
use crate::agreement::changes::{ChangeOptions, Changes, changes};
use crate::agreement::expected_difference::{Stated, expected_difference};
use crate::agreement::summary::mean_estimate;
use crate::agreement::{self, summary, within};
use crate::align::{
    ClockError, How, PairOptions, Pairs, WearEvent, clock_error, lag, pair_with,
    pairing_sensitivity,
};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::panel::Blood;
use crate::table::Table;
use crate::trial::Trial;
use crate::units;

/// Pairs under which levels are not judged.
pub(super) const MIN_PAIRS: usize = 8;
/// Meter readings below 70 mg/dL that lows need.
const MIN_LOWS: usize = 3;
/// Meals with a meter reading before and after that rises need.
pub(super) const MIN_RISES: usize = 5;
/// What a meter that meets ISO 15197:2013 states: 95 % within 15 % of the laboratory.
const METER_STATES: Stated = Stated { within: 15.0, share: 0.95, bias: 0.0 };
/// What a sensor that meets the special controls of 21 CFR 862.1355 states: 87 % within 20 %.
const SENSOR_STATES: Stated = Stated { within: 20.0, share: 0.87, bias: 0.0 };

/// What later answers need of this one.
pub(super) struct Known {
    /// For levels in blood, where there are enough pairs.
    pub(super) blood: Option<Blood>,
    /// How much later the sensor shows what the meter's stamps say, if it can be told.
    pub(super) lag_min: Option<f64>,
}

/// What was found of the pairs, for the steps that come next.
pub(super) struct Found {
    pub(super) pairs: Pairs,
    pub(super) changes: Changes,
    pub(super) lag: Estimate,
    pub(super) clock: ClockError,
    pub(super) night_lows_unchecked: usize,
}

pub(super) fn answer(trial: &Trial, options: Options) -> Result<(Answer, Known), Error> {
    let events = events(trial);
    let found = found(trial, &events, options.level)?;
    let mut figures = counts(&found.pairs);
    let mut reasons = Vec::new();
    let blood = levels(&found.pairs, options.level, &mut figures, &mut reasons)?;
    let own = trust_sensor::Own::of(trial, &events, options)?;
    figures.extend(own.figures());
    figures.push(against(
        "rise_difference_mg_dl",
        "change over a meal, sensor less meter",
        "mg/dL",
        found.changes.bias_mg_dl.clone(),
    ));
    figures.push(against(
        "rise_slope",
        "change by the sensor for each mg/dL of change by the meter",
        "1",
        found.changes.slope.clone(),
    ));
    figures.push(lows(&found.pairs, options.level));
    figures.push(Figure::count(
        "night_lows_unchecked",
        "lows at night (below 70 mg/dL, 22:00-07:00) without a meter reading within 15 minutes",
        "1",
        found.night_lows_unchecked as f64,
    ));
    figures.push(against(
        "lag_less_clock_min",
        "sensor later than the meter's stamps (lag less what the meter's clock is ahead)",
        "min",
        found.lag.clone(),
    ));
    let next = trust_next::steps(&found, &own);
    let mut answer =
        Answer::new("trust", "Can I trust this sensor on this person?", figures, reasons);
    answer.cautions = vec!["one_person", "check_by_meter"];
    if found.night_lows_unchecked > 0 || own.possible_pressure() > 0 {
        answer.cautions.push("possibly_pressure");
    }
    answer.tables.push(("trust_next".into(), trust_next::table(&next)?));
    answer.tables.push(("pairs".into(), pairs_table(&found.pairs)?));
    answer.tables.push(("unpaired".into(), unpaired_table(&found.pairs)?));
    answer.tables.push(("changes_over_meals".into(), found.changes.to_table()?));
    if found.pairs.len() >= MIN_PAIRS {
        answer.tables.push(("agreement_by".into(), by_group(&found.pairs, options.level)?));
        answer.tables.push(("standards".into(), standards(&found.pairs, options.level)?));
        let lag = found.lag.value;
        let base = PairOptions::default();
        let rules =
            pairing_sensitivity(&trial.meter, &trial.sensor, &events, lag, &base, options.level)?;
        answer.tables.push(("pairing_rules".into(), rules.to_table()?));
    }
    answer.tables.extend(own.tables()?);
    Ok((answer, Known { blood, lag_min: found.lag.value }))
}

/// What happened to the sensor; other words than those known are passed over here.
pub(super) fn events(trial: &Trial) -> Vec<WearEvent> {
    let event = |w: &crate::trial::Wear| {
        let kind = w.event.parse().ok()?;
        Some(WearEvent { time_ms: w.time_ms, kind, sensor: w.sensor.clone() })
    };
    trial.wear.iter().filter_map(event).collect()
}

fn found(trial: &Trial, events: &[WearEvent], level: f64) -> Result<Found, Error> {
    let pairs = pair_with(&trial.meter, &trial.sensor, events, &PairOptions::default())?;
    let options = PairOptions { window_min: 10.0, how: How::Interpolate, ..Default::default() };
    let near = pair_with(&trial.meter, &trial.sensor, events, &options)?;
    let clock = trial.clock();
    let days: Vec<i64> = near.times_ms.iter().map(|&t| clock.day(t)).collect();
    let meals: Vec<i64> = trial.meals.iter().map(|m| m.time_ms).collect();
    let asked = ChangeOptions { level, meter_sd_mg_dl: near.repeat_sd_mg_dl, ..Default::default() };
    let (meter, sensor) = (&near.reference_mg_dl, &near.measured_mg_dl);
    Ok(Found {
        changes: changes(&near.times_ms, meter, sensor, &days, &meals, &asked)?,
        lag: lag(&trial.meter, &trial.sensor, level)?,
        clock: clock_error(&trial.meter, &trial.sensor),
        night_lows_unchecked: night_lows_unchecked(trial),
        pairs,
    })
}

fn counts(pairs: &Pairs) -> Vec<Figure> {
    let calibration = pairs.unpaired.iter().filter(|u| u.why == "calibration").count();
    let count = |id, label, n: usize| Figure::count(id, label, "1", n as f64);
    vec![
        count("pairs", "pairs of meter and sensor", pairs.len()),
        count("unpaired", "meter readings without a pair", pairs.unpaired.len()),
        count(
            "calibration_readings",
            "of these, meter readings used for a calibration, or just before one",
            calibration,
        ),
        count(
            "outside_range",
            "pairs outside a device's range, reported apart",
            pairs.outside.len(),
        ),
    ]
}

/// Levels: differences and shares, where there are enough pairs.
fn levels(
    pairs: &Pairs,
    level: f64,
    figures: &mut Vec<Figure>,
    reasons: &mut Vec<Reason>,
) -> Result<Option<Blood>, Error> {
    if pairs.len() < MIN_PAIRS {
        let what = "pairs of meter and sensor to judge levels";
        reasons.push(Reason::count("too_few_pairs", what, pairs.len(), MIN_PAIRS));
        return Ok(None);
    }
    let (r, m) = (&pairs.reference_mg_dl, &pairs.measured_mg_dl);
    let days = Some(pairs.day.as_slice());
    let s = summary(r, m, days, level)?;
    let blood = s.bias_mg_dl.value.zip(s.bias_se_mg_dl).map(|(bias_mg_dl, se_mg_dl)| Blood {
        bias_mg_dl,
        se_mg_dl,
        ..Blood::default()
    });
    figures.push(against("mard_pct", "mean absolute relative difference", "%", s.mard_pct));
    figures.push(against("bias_mg_dl", "mean difference sensor - meter", "mg/dL", s.bias_mg_dl));
    for (id, label, limit, switch) in [
        ("within_15_15_pct", "within 15 mg/dL (<100) or 15 %", 15.0, 100.0),
        ("within_20_20_pct", "within 20 mg/dL (<80) or 20 %", 20.0, 80.0),
    ] {
        let w = within(r, m, limit, limit, switch, days, level)?;
        let pct = |share: f64| 100.0 * share;
        let e = Estimate::new(pct(w.fraction), pct(w.low), pct(w.high), w.level, &w.method, w.n);
        figures.push(against(id, label, "%", e.needing(MIN_PAIRS)));
    }
    if let Ok(expected) = expected_difference(METER_STATES, SENSOR_STATES, 0.0)? {
        figures.push(Figure::count(
            "expected_beyond_20_pct",
            "pairs that would differ by 20 % or more if meter and sensor each just met their stated error",
            "%",
            100.0 * expected.share_at_least(20.0)?,
        ));
    }
    Ok(blood)
}

pub(super) fn against(id: &str, label: &str, unit: &'static str, estimate: Estimate) -> Figure {
    Figure::new(id, label, unit, "against_meter", estimate)
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
        e = mean_estimate(&low, &each, level).0;
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

fn pairs_table(pairs: &Pairs) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_i64("time_ms", pairs.times_ms.iter().map(|t| Some(*t)).collect())?;
    t.push_f64("meter_mg_dl", pairs.reference_mg_dl.iter().map(|v| Some(*v)).collect())?;
    t.push_f64("sensor_mg_dl", pairs.measured_mg_dl.iter().map(|v| Some(*v)).collect())?;
    t.push_f64("rate_mg_dl_min", pairs.rate_mg_dl_min.clone())?;
    t.push_i64("readings", pairs.readings.iter().map(|n| Some(*n as i64)).collect())?;
    t.push_text("context", pairs.context.iter().map(|c| Some(c.clone())).collect())?;
    t.push_text("sensor", pairs.sensor.clone())?;
    t.push_i64("wear_day", pairs.wear_day.clone())?;
    Ok(t)
}

fn unpaired_table(pairs: &Pairs) -> Result<Table, Error> {
    let left = &pairs.unpaired;
    let mut t = Table::new();
    t.push_i64("time_ms", left.iter().map(|u| Some(u.time_ms)).collect())?;
    t.push_f64("meter_mg_dl", left.iter().map(|u| Some(u.glucose_mg_dl)).collect())?;
    t.push_text("why", left.iter().map(|u| Some(u.why.to_string())).collect())?;
    Ok(t)
}

/// Differences and shares by part of the wear, and by rate of change.
fn by_group(pairs: &Pairs, level: f64) -> Result<Table, Error> {
    let week = |day: &Option<i64>| match day {
        Some(d) => format!("wear days {} to {}", (d - 1) / 3 * 3 + 1, (d - 1) / 3 * 3 + 3),
        None => "wear day unknown".to_string(),
    };
    let rate = |r: &Option<f64>| match r {
        Some(r) if *r < -1.0 => "falling over 1 mg/dL/min",
        Some(r) if *r > 1.0 => "rising over 1 mg/dL/min",
        Some(_) => "within 1 mg/dL/min",
        None => "rate unknown",
    };
    let groups: [Vec<String>; 2] = [
        pairs.wear_day.iter().map(week).collect(),
        pairs.rate_mg_dl_min.iter().map(|r| rate(r).to_string()).collect(),
    ];
    let mut rows = Vec::new();
    for (k, groups) in groups.iter().enumerate() {
        let options = agreement::accuracy::Options {
            groups: Some(groups),
            cluster: Some(&pairs.day),
            level,
            ..Default::default()
        };
        let (r, m) = (&pairs.reference_mg_dl, &pairs.measured_mg_dl);
        let found = agreement::accuracy_table(r, m, &options)?;
        rows.extend(found.into_iter().filter(|row| k == 0 || row.group.is_some()));
    }
    agreement::accuracy::to_table(&rows, agreement::accuracy::Options::default().rules)
}

/// The numerical limits of the meter standards, which ask for a laboratory and many people.
fn standards(pairs: &Pairs, level: f64) -> Result<Table, Error> {
    let (r, m) = (&pairs.reference_mg_dl, &pairs.measured_mg_dl);
    let cluster = Some(pairs.day.as_slice());
    let mut rows = agreement::standards::iso15197_2013(r, m, cluster, level)?;
    rows.extend(agreement::standards::icgm(r, m, None, cluster, level)?);
    agreement::standards_table::to_table(&rows)
}
