//! The panel's intervals as this sensor reads, by days of wear.
//!
//! The truth of a measure is its value over a long wear of the same person with the same sensor:
//! the measure itself, not the interval, is taken as given. Drift and the first day's wobble are
//! switched off, since these intervals speak of day-to-day variation only.

use glycemic_core::panel::{self, Id, MEASURES};
use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::{Error, Estimate};

use super::{Asked, LEVEL, Row};
use crate::{simulated_meals_ms, simulated_trace};

/// Days of wear that stand for the truth.
const LONG_DAYS: u32 = 1000;
/// Seed of the long wear, used for nothing else.
const LONG_SEED: u64 = 990_000_001;

/// The study over one scenario worn for `days` days.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn study(scenario: &Scenario, days: u32, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let mut steady = *scenario;
    steady.sensor.drift_mg_dl_day = 0.0;
    steady.sensor.wobble_mg_dl = 0.0;
    let long = trial(&Scenario { days: LONG_DAYS, ..steady }, LONG_SEED);
    let truth = panel::panel(simulated_trace(&long)?.view(), &simulated_meals_ms(&long));
    let truth: Vec<(Id, f64)> =
        MEASURES.iter().filter_map(|m| Some((m.id, truth.get(m.id)?))).collect();
    super::run(&Scenario { days, ..steady }, first, trials, |s| ask(s, &truth))
}

fn ask(s: &Simulated, truth: &[(Id, f64)]) -> Result<Vec<Asked>, Error> {
    let trace = simulated_trace(s)?;
    let found = panel::intervals(trace.view(), &simulated_meals_ms(s), LEVEL);
    // Counts, extremes and what else has no interval by design is not asked.
    let without = |e: &Estimate| {
        e.reason.as_ref().is_some_and(|r| ["a_count", "no_method"].contains(&r.code.as_str()))
    };
    let asked = found.into_iter().filter(|f| !without(&f.1)).filter_map(|(id, estimate)| {
        let truth = truth.iter().find(|t| t.0 == id)?.1;
        Some(Asked { figure: id.measure().name, truth, estimate })
    });
    Ok(asked.collect())
}
