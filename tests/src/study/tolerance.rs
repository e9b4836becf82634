//! The mean limit and the safe grams, as the review's question 5 makes them.
//!
//! A trial without a value may still give a bound: the answer lies outside the doses eaten.

use glycemic_core::simulate::{Limits, Scenario, Simulated, rise_curve};
use glycemic_core::{Error, tolerance};

use super::{Asked, LEVEL, Row};
use crate::simulated_responses;

/// Share of new meals that stay under the target at the safe grams.
const SAFE_PROBABILITY: f64 = 0.8;

/// The study over one scenario.
///
/// # Errors
/// [`Error::TooFewValues`] where the scenario's truth lies outside the doses simulated.
pub fn study(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let truth = rise_curve(scenario).limits(scenario.rise_mg_dl);
    super::run(scenario, first, trials, |s| ask(s, &truth))
}

fn ask(s: &Simulated, truth: &Limits) -> Result<Vec<Asked>, Error> {
    let outside = Error::TooFewValues { measure: "a true limit", needed: 1, got: 0 };
    let limit = truth.mean_limit_sensor_g.ok_or(outside.clone())?;
    let safe = truth.safe80_sensor_g.ok_or(outside)?;
    let found = simulated_responses(s)?;
    let (grams, rises, noise_sd_mg_dl) = tolerance::fit::usable(&found);
    let options = tolerance::Options {
        level: LEVEL,
        seed: s.seed,
        noise_sd_mg_dl,
        ..tolerance::Options::new(s.scenario.rise_mg_dl)
    };
    let fit = tolerance::fit(&grams, &rises, options)?;
    let told = fit.safe_g(SAFE_PROBABILITY)?;
    Ok(vec![
        Asked { figure: "mean limit, g", truth: limit, estimate: fit.limit_g },
        Asked { figure: "safe grams at 80 %", truth: safe, estimate: told },
    ])
}
