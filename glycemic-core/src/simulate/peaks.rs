//! Grams at which the person's meals keep two targets at once: the rise and the peak.
//!
//! # Method
//! The meals of [`rise_curve`](super::rise_curve), each from the glucose at which it was eaten; a peak
//! is what the sensor reads half through its wear.

use super::eating::Sitting;
use super::rises::{DOSES_G, TRUTH_DAYS, crossing};
use super::scenario::Scenario;

/// Largest grams at which such a meal stays at or under both targets on the sensor with this
/// probability (between 0 and 1); targets in mg/dL. `None` when the answer lies outside 5 to 80 g.
/// Some seconds.
///
/// # Example
/// ```
/// use glycemic_core::simulate::{Scenario, rise_curve, safe_under_peak};
/// let demo = Scenario::DEMO;
/// let alone = rise_curve(&demo).limits(30.0).safe80_sensor_g;
/// // A peak that is never reached asks for nothing more.
/// let far = safe_under_peak(&demo, 30.0, 1000.0, 0.8);
/// assert!((far.unwrap() - alone.unwrap()).abs() < 0.5);
/// assert!(safe_under_peak(&demo, 30.0, 125.0, 0.8) < alone);
/// ```
pub fn safe_under_peak(
    scenario: &Scenario,
    rise_mg_dl: f64,
    peak_mg_dl: f64,
    probability: f64,
) -> Option<f64> {
    let sitting = Sitting::laid(scenario, TRUTH_DAYS, |_| ());
    let over = |dose: f64| {
        let meals = (0..sitting.meals()).map(|place| sitting.eat(place, dose, (0, 0)));
        let kept = |m: &super::eating::Eating| {
            m.rise() <= rise_mg_dl && m.peak(sitting.scenario) <= peak_mg_dl
        };
        1.0 - meals.filter(kept).count() as f64 / sitting.meals().max(1) as f64
    };
    let meet = |doses: &[f64]| {
        let shares: Vec<f64> = doses.iter().map(|&dose| over(dose)).collect();
        crossing(doses, &shares, 1.0 - probability)
    };
    // The share bends more than the rise does: gram by gram where it is met.
    let first = meet(&DOSES_G)?;
    let least = DOSES_G.iter().copied().filter(|d| *d <= first).fold(DOSES_G[0], f64::max);
    meet(&(0..=10).map(|gram| least + f64::from(gram)).collect::<Vec<f64>>())
}
