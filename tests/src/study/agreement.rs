//! Agreement of one sensor with the meter: shares within limits, bias, MARD and agreement of changes.
//!
//! # Method
//! The truth is for this sensor on this person with this meter, over days like these: the same
//! figures of all pairs of many other trials (seeds of their own) put together. So every trial has the same
//! lot of strips. Shares are by exact intervals on an effective number of pairs, days as
//! clusters: they need only reach the level.

use glycemic_core::agreement::changes::{ChangeOptions, changes};
use glycemic_core::agreement::{Share, summary, within};
use glycemic_core::align::{How, PairOptions, pair_with};
use glycemic_core::simulate::{Meter, Scenario, Simulated, trial};
use glycemic_core::stats::moments;
use glycemic_core::{Error, Estimate};

use super::{Asked, LEVEL, Row, each_seed, run};
use crate::{simulated_meals_ms, simulated_meter, simulated_trace};

/// Seeds of the trials that tell the truth.
const TRUTH_SEEDS: (u64, u64) = (7_800_000, 1_000);
const DAY_MS: i64 = 86_400_000;
/// mg/dL and percent of a rule; the switch lies where both are one.
const RULES: [(&str, f64, f64); 2] =
    [("within 15 mg/dL or 15 %", 15.0, 100.0), ("within 20 mg/dL or 20 %", 20.0, 100.0)];

/// Pairs of one trial.
struct Paired {
    meter: Vec<f64>,
    sensor: Vec<f64>,
    days: Vec<i64>,
    /// Changes over meals, sensor less meter.
    changes: Vec<f64>,
    change_bias: Estimate,
}

fn paired(s: &Simulated) -> Result<Paired, Error> {
    let (trace, meter) = (simulated_trace(s)?, simulated_meter(s)?);
    let rules = PairOptions { window_min: 10.0, how: How::Interpolate, ..PairOptions::default() };
    let pairs = pair_with(&meter, &trace, &[], &rules)?;
    let days: Vec<i64> = pairs.times_ms.iter().map(|t| t.div_euclid(DAY_MS)).collect();
    let (meter, sensor) = (pairs.reference_mg_dl, pairs.measured_mg_dl);
    let options = ChangeOptions { level: LEVEL, ..ChangeOptions::default() };
    let meals = simulated_meals_ms(s);
    let found = changes(&pairs.times_ms, &meter, &sensor, &days, &meals, &options)?;
    let off = found.rows.iter().map(|c| c.sensor_mg_dl - c.meter_mg_dl).collect();
    Ok(Paired { meter, sensor, days, changes: off, change_bias: found.bias_mg_dl })
}

fn told(share: Share) -> Estimate {
    Estimate::new(share.fraction, share.low, share.high, share.level, &share.method, share.n)
}

/// Coverage over one scenario, with one lot of strips.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn study(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let scenario =
        Scenario { meter: Meter { lot_bias_sd_pct: 0.0, ..scenario.meter }, ..*scenario };
    let all = each_seed(TRUTH_SEEDS.0, TRUTH_SEEDS.1, |seed| paired(&trial(&scenario, seed)))?;
    let meter: Vec<f64> = all.iter().flat_map(|p| p.meter.clone()).collect();
    let sensor: Vec<f64> = all.iter().flat_map(|p| p.sensor.clone()).collect();
    let moved: Vec<f64> = all.iter().flat_map(|p| p.changes.clone()).collect();
    let of_all = summary(&meter, &sensor, None, LEVEL)?;
    let mut shares = Vec::new();
    for (_, limit, switch) in RULES {
        shares.push(within(&meter, &sensor, limit, limit, switch, None, LEVEL)?.fraction);
    }
    let truth = |e: &Estimate| e.value.unwrap_or(f64::NAN);
    let moved_mean = moments::mean(&moved).unwrap_or(f64::NAN);
    run(&scenario, first, trials, |s| {
        let p = paired(s)?;
        let days = Some(p.days.as_slice());
        let own = summary(&p.meter, &p.sensor, days, LEVEL)?;
        let mut asked = Vec::new();
        for (place, (figure, limit, switch)) in RULES.into_iter().enumerate() {
            let share = within(&p.meter, &p.sensor, limit, limit, switch, days, LEVEL)?;
            asked.push(Asked { figure, truth: shares[place], estimate: told(share) });
        }
        let mut ask = |figure, truth, estimate| asked.push(Asked { figure, truth, estimate });
        ask("bias, mg/dL", truth(&of_all.bias_mg_dl), own.bias_mg_dl);
        ask("MARD, %", truth(&of_all.mard_pct), own.mard_pct);
        ask("change over a meal, mg/dL", moved_mean, p.change_bias);
        Ok(asked)
    })
}
