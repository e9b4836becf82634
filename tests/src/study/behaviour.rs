//! What a sensor does beside its level: an unsteady first day, steps, flat lines, drop-outs, noise
//! and alarms; what was planted or simulated is found, or said where it is not.
//!
//! The simulator has no flat lines, no noise that grows and no abrupt end of a wild first day; they are
//! planted by the rules that stand with each table.

use glycemic_core::align::{EventKind, WearEvent};
use glycemic_core::sensor::{Pairing, differences, first_day, noise, steps};
use glycemic_core::simulate::{MeterRow, Scenario, Simulated, Swap, trial};
use glycemic_core::stats::{moments, quantile, random::Random};
use glycemic_core::{Error, Estimate};

use super::sensor::{Lag, ready};
use super::{LEVEL, each_seed};
use crate::{simulated_diary, simulated_meals_ms};

pub(super) const MINUTE: i64 = 60_000;
pub(super) const HOUR_MS: i64 = 60 * MINUTE;
pub(super) const STEP_MS: i64 = 5 * MINUTE;

pub(super) fn pct(part: usize, of: usize) -> String {
    if of == 0 { "-".into() } else { format!("{:.1}", 100.0 * part as f64 / of as f64) }
}

pub(super) fn median(values: impl Iterator<Item = f64>) -> String {
    quantile::median(&values.collect::<Vec<f64>>()).map_or("-".into(), |m| format!("{m:.2}"))
}

/// Changes what the sensor showed at each row; whole mg/dL.
pub(super) fn shown(s: &mut Simulated, change: impl Fn(i64, f64, f64) -> f64) {
    for row in &mut s.sensor {
        let place = ((row.time_ms - s.start_ms) / STEP_MS) as usize;
        if let (None, Some(clean)) = (row.text, s.sensor_clean_mg_dl.get(place)) {
            row.value_mg_dl =
                change(row.time_ms, row.value_mg_dl, *clean).round().clamp(40.0, 400.0);
        }
    }
}

/// A first day: wobble of the simulator, mg/dL; errors planted; pricks added.
struct First {
    name: &'static str,
    wobble: f64,
    wild: bool,
    pricks: bool,
}

/// Until this hour of wear the planted errors last; their SD, mg/dL.
const WILD: (i64, f64) = (12, 25.0);

fn wild(s: &mut Simulated) {
    let mut random = Random::keyed(s.seed, 71, 0);
    let errors: Vec<f64> = (0..=2 * WILD.0).map(|_| WILD.1 * random.normal()).collect();
    let start = s.start_ms;
    shown(s, |t, value, _| {
        let halves = (t - start) as f64 / (30 * MINUTE) as f64;
        let (k, part) = (halves as usize, halves.fract());
        match (errors.get(k), errors.get(k + 1)) {
            (Some(a), Some(b)) => value + a + part * (b - a),
            _ => value,
        }
    });
}

/// A prick every two hours from hour 2 to 46 of wear.
fn more_pricks(s: &mut Simulated) {
    let mut random = Random::keyed(s.seed, 72, 0);
    for hour in (2..=46).step_by(2) {
        let blood = s.blood_mg_dl.get(12 * hour).copied().unwrap_or(100.0);
        let error = s.truth.meter_bias_pct + s.scenario.meter.cv_pct * random.normal();
        let ahead = s.scenario.meter.clock_ahead_min * MINUTE;
        s.meter.push(MeterRow {
            time_ms: s.start_ms + hour as i64 * HOUR_MS + ahead,
            glucose_mg_dl: (blood * (1.0 + error / 100.0)).round(),
            context: "fasting",
        });
    }
    s.meter.sort_by_key(|m| m.time_ms);
}

/// The hour from which the simulator's wobble adds less than three times the variance of later
/// differences, as the estimator has it; and what the estimator said.
fn hour(scenario: &Scenario, seed: u64, first: &First) -> Result<(f64, Estimate), Error> {
    let mut s = trial(scenario, seed);
    if first.wild {
        wild(&mut s);
    }
    if first.pricks {
        more_pricks(&mut s);
    }
    let r = ready(&s, Lag::Known)?;
    let all = Pairing { settled_from_h: 0.0, ..r.pairing };
    let found = first_day(&r.meter, &r.trace, &simulated_meals_ms(&s), r.pairing, LEVEL)?;
    let pairs = differences(&r.meter, &r.trace, all)?;
    let later = pairs.filtered(|i| pairs.wear_days[i] >= 2.0).difference_mg_dl();
    let sd = moments::sd(&later).unwrap_or(1.0);
    let settled = 6.0 * libm::log(first.wobble / (6f64.sqrt() * sd)).max(0.0);
    let truth = if first.wild { WILD.0 as f64 } else { settled };
    Ok((truth, found.into_iter().next().map(|f| f.steady_from_h).unwrap_or_default()))
}

/// From which hour on a sensor is steady.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn first_days(seed: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| first day | pricks | truth, h (median) | told % | steady throughout % | unsteady at first % | no hour refused % | too few pairs % | told and covered % | error, h (median) |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let of = |name, wobble, wild| [false, true].map(|pricks| First { name, wobble, wild, pricks });
    let wild_name = "planted errors until hour 12";
    for first in
        [of("nothing", 0.0, false), of("demo's wobble", 15.0, false), of(wild_name, 0.0, true)]
            .iter()
            .flatten()
    {
        let mut scenario = Scenario::DEMO;
        scenario.sensor.wobble_mg_dl = first.wobble;
        let all = each_seed(seed, trials, |seed| hour(&scenario, seed, first))?;
        let told: Vec<_> = all.iter().filter(|a| a.1.estimable()).collect();
        let count = |f: &dyn Fn(&Estimate) -> bool| all.iter().filter(|a| f(&a.1)).count();
        let reason = |e: &Estimate, code: &str| e.reason.as_ref().is_some_and(|r| r.code == code);
        let n = all.len();
        let few =
            |e: &Estimate| reason(e, "too_few_early_pairs") || reason(e, "too_few_later_pairs");
        text.push_str(&format!(
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |\n",
            first.name,
            if first.pricks { "23 more in 48 h" } else { "the scenario's" },
            median(all.iter().map(|a| a.0)),
            pct(told.len(), n),
            pct(count(&|e| e.value == Some(0.0)), n),
            pct(count(&|e| e.estimable() && e.low > Some(0.0)), n),
            pct(count(&|e| reason(e, "any_hour_fits")), n),
            pct(count(&few), n),
            pct(told.iter().filter(|a| a.1.covers(a.0)).count(), told.len()),
            median(told.iter().filter_map(|a| a.1.value.map(|v| v - a.0))),
        ));
    }
    Ok(text)
}

/// Steps at a swap on day 7, both sensors alike but for an offset; no drift.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn steps_table(seed: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| step, mg/dL | seen by | told % | found % | covered % | median width | error, mg/dL (median) |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for by in [0.0, 10.0, 20.0] {
        let mut scenario = Scenario::DEMO;
        let knobs = &mut scenario.sensor;
        let (gain, offset_mg_dl) = (knobs.gain, knobs.offset_mg_dl + by);
        knobs.drift_mg_dl_day = 0.0;
        knobs.swap = Some(Swap { day: 7, minute: 1080, gain, offset_mg_dl, failed: false });
        let all = each_seed(seed, trials, |seed| {
            let s = trial(&scenario, seed);
            let r = ready(&s, Lag::Known)?;
            let at = |w: &_| swapped(w);
            let events: Vec<WearEvent> = s.wear.iter().filter_map(at).collect();
            let found = steps(&r.meter, &r.trace, &events, r.pairing, LEVEL)?;
            let one = found.into_iter().next();
            Ok(one.map_or_else(Default::default, |f| [f.difference_mg_dl, f.overnight_mg_dl]))
        })?;
        for (k, name) in ["meter", "nights"].into_iter().enumerate() {
            let told: Vec<&Estimate> =
                all.iter().map(|a: &[Estimate; 2]| &a[k]).filter(|e| e.estimable()).collect();
            let n = told.len();
            text.push_str(&format!(
                "| {by:.0} | {name} | {} | {} | {} | {} | {} |\n",
                pct(n, all.len()),
                pct(told.iter().filter(|e| !e.covers(0.0)).count(), n),
                pct(told.iter().filter(|e| e.covers(by)).count(), n),
                median(told.iter().filter_map(|e| Some(e.high? - e.low?))),
                median(told.iter().filter_map(|e| e.value.map(|v| v - by))),
            ));
        }
    }
    Ok(text)
}

fn swapped(row: &glycemic_core::simulate::WearRow) -> Option<WearEvent> {
    let kind = (row.event == "inserted").then_some(EventKind::Inserted)?;
    Some(WearEvent { time_ms: row.time_ms, kind, sensor: Some(row.sensor.to_string()) })
}

/// The day of wear from which planted noise is doubled.
const LOUD_DAY: i64 = 8;

/// Noise told over that of the trial, and jitter from day 8 on over that before.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn noises(seed: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | from day 8 | SD of the noise, mg/dL | told % | told over true: 5 % | median | 95 % | jitter after over before: 5 % | median | 95 % | called louder % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for id in ["demo", "low_noise", "high_noise", "other_noise"] {
        let Some(mut scenario) = Scenario::named(id) else { continue };
        (scenario.sensor.swap, scenario.sensor.pressure_lows) = (None, 0);
        for louder in [false, true] {
            let all = each_seed(seed, trials, |seed| noise_of(&scenario, seed, louder))?;
            let part = |f: &dyn Fn(&Noisy) -> Option<f64>, p: f64| {
                let values: Vec<f64> = all.iter().filter_map(f).collect();
                quantile::type7(&quantile::sorted(&values), p)
                    .map_or("-".into(), |v| format!("{v:.2}"))
            };
            let of = |f: &dyn Fn(&Noisy) -> Option<f64>| {
                [0.05, 0.5, 0.95].map(|p| part(f, p)).join(" | ")
            };
            text.push_str(&format!(
                "| {id} | {} | {} | {} | {} | {} | {} |\n",
                if louder { "doubled" } else { "as before" },
                part(&|n| Some(n.truth), 0.5),
                pct(all.iter().filter(|n| n.told.is_some()).count(), all.len()),
                of(&|n| n.told.map(|t| t / n.truth)),
                of(&|n| n.growth),
                pct(all.iter().filter(|n| n.louder).count(), all.len()),
            ));
        }
    }
    Ok(text)
}

/// What one trial's noise is and what is told of it.
struct Noisy {
    truth: f64,
    told: Option<f64>,
    growth: Option<f64>,
    louder: bool,
}

fn noise_of(scenario: &Scenario, seed: u64, louder: bool) -> Result<Noisy, Error> {
    let mut s = trial(scenario, seed);
    let from = s.start_ms + (LOUD_DAY - 1) * 24 * HOUR_MS;
    if louder {
        shown(&mut s, |t, value, clean| if t < from { value } else { 2.0 * value - clean });
    }
    let clean = |t: i64| s.sensor_clean_mg_dl.get(((t - s.start_ms) / STEP_MS) as usize);
    let seen = s.sensor.iter().filter(|r| r.text.is_none());
    let errors: Vec<f64> =
        seen.filter_map(|r| clean(r.time_ms).map(|c| r.value_mg_dl - c)).collect();
    let (trace, meals, _) = simulated_diary(&s)?;
    let events: Vec<WearEvent> = s.wear.iter().filter_map(swapped).collect();
    let found = noise::level(&trace, &meals, &events, LEVEL)?;
    let of = |late: bool| -> Vec<&Estimate> {
        let days = found.by_wear_day.iter();
        let days = days.filter(|d| (d.wear_day as i64 >= LOUD_DAY) == late);
        days.map(|d| &d.jitter_mg_dl).filter(|e| e.estimable()).collect()
    };
    let typical = |days: &[&Estimate]| {
        quantile::median(&days.iter().filter_map(|e| e.value).collect::<Vec<f64>>())
    };
    let (before, after) = (of(false), of(true));
    let growth = typical(&before).zip(typical(&after)).map(|(b, a)| a / b);
    // Louder: on most later days the interval lies above what was usual before.
    let above =
        |e: &&&Estimate| e.low.zip(typical(&before)).is_some_and(|(low, usual)| low > usual);
    let louder = !after.is_empty() && 2 * after.iter().filter(above).count() > after.len();
    Ok(Noisy {
        truth: moments::sd(&errors).unwrap_or(0.0),
        told: found.noise.ok().map(|n| n.sd_mg_dl),
        growth,
        louder,
    })
}
