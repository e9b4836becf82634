//! How far the rise as displayed and the noise-aware rise lie from the noise-free one.

use glycemic_core::Error;
use glycemic_core::simulate::{Scenario, Simulated, trial};

use super::each_seed;
use crate::simulated_responses;

/// Multiples of the published sensor noise that are tried.
const NOISE_SCALES: [f64; 5] = [0.0, 0.25, 0.4, 0.7, 1.0];

/// Rises of one clean meal, mg/dL.
struct Rises {
    truth: f64,
    displayed: f64,
    noise_aware: f64,
}

/// Mean error and root mean square error by noise, as a table in Markdown.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn table(first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| noise scale | meals | true rise | displayed: error | rmse | noise-aware: error | rmse | noise SD found |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for scale in NOISE_SCALES {
        let mut scenario = Scenario::DEMO;
        scenario.sensor.noise_scale = scale;
        let trials = each_seed(first, trials, |seed| collect(&trial(&scenario, seed)))?;
        let noise: Vec<f64> = trials.iter().filter_map(|t| t.1).collect();
        let meals: Vec<Rises> = trials.into_iter().flat_map(|t| t.0).collect();
        let n = meals.len().max(1) as f64;
        let mean = |f: &dyn Fn(&Rises) -> f64| meals.iter().map(f).sum::<f64>() / n;
        let rmse = |f: &dyn Fn(&Rises) -> f64| mean(&|m| f(m) * f(m)).sqrt();
        let displayed = |m: &Rises| m.displayed - m.truth;
        let aware = |m: &Rises| m.noise_aware - m.truth;
        text.push_str(&format!(
            "| {scale:.2} | {} | {:.1} | {:.2} | {:.2} | {:.2} | {:.2} | {:.2} |\n",
            meals.len(),
            mean(&|m| m.truth),
            mean(&displayed),
            rmse(&displayed),
            mean(&aware),
            rmse(&aware),
            noise.iter().sum::<f64>() / noise.len().max(1) as f64,
        ));
    }
    Ok(text)
}

/// The clean meals of a trial, and the noise SD that was found.
fn collect(s: &Simulated) -> Result<(Vec<Rises>, Option<f64>), Error> {
    let found = simulated_responses(s)?;
    let mut meals = Vec::new();
    for (i, row) in found.rows.iter().enumerate() {
        let (Some(displayed), Some(noise_aware), true) =
            (row.rise_mg_dl, row.rise_noise_aware_mg_dl, found.is_clean(i))
        else {
            continue;
        };
        let clean = &s.sensor_clean_mg_dl;
        let at = |min: i64| ((row.time_ms + min * 60_000 - s.start_ms) / 300_000) as usize;
        let end = (at(0) + (row.seen_min / 5.0) as usize + 1).min(clean.len());
        let before = &clean[at(-30)..=at(0)];
        let base = before.iter().sum::<f64>() / before.len() as f64;
        let peak = clean[at(0)..end].iter().copied().fold(f64::MIN, f64::max);
        meals.push(Rises { truth: peak - base, displayed, noise_aware });
    }
    Ok((meals, found.noise.ok().map(|n| n.sd_mg_dl)))
}
