//! What a bad night, stress and exercise do to a rise.
//!
//! # Method
//! 98 days are lived four times with the same meals, days and random numbers: with nothing
//! special, and with each of the three on every day. At each eligible meal (see `eating`) 40 g
//! are eaten; the mean rises are compared. Exercise is 25 min that start 88 min before breakfast,
//! the middles of what the plans have.

use super::diary::DayPlan;
use super::eating::{EFFECTS_AT_G, Sitting};
use super::scenario::Scenario;

/// Days lived for each.
const DAYS: usize = 98;

/// Difference of the mean rise at 40 g as the sensor reads, without noise: on such days less on
/// days without any of them.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct DayEffects {
    /// Logged net carbohydrate of the meals compared, g.
    pub at_g: f64,
    /// Mean rise on days with none of them, mg/dL.
    pub rise_without_mg_dl: f64,
    /// Effect of a bad night before, mg/dL.
    pub bad_night_mg_dl: f64,
    /// Effect of stress, mg/dL.
    pub stress_mg_dl: f64,
    /// Effect of exercise before breakfast, mg/dL.
    pub exercise_mg_dl: f64,
}

/// Simulates the effects. Under half a second.
///
/// # Example
/// ```
/// use glycemic_core::simulate::{Scenario, day_effects};
/// let mut scenario = Scenario::DEMO;
/// (scenario.behaviour.stress_action, scenario.behaviour.stress_production) = (1.0, 0.0);
/// // Stress that changes nothing leaves the rise as it is.
/// assert_eq!(day_effects(&scenario).stress_mg_dl, 0.0);
/// ```
pub fn day_effects(scenario: &Scenario) -> DayEffects {
    let behaviour = &scenario.behaviour;
    let rise = |action: f64, production: f64, moved: bool| {
        let every_day = |day: &mut DayPlan| {
            day.acts.sensitivity = action;
            day.acts.production += production;
            day.exercise = moved.then_some((day.breakfast - 88, 25));
        };
        Sitting::laid(scenario, DAYS, every_day).mean_rise(EFFECTS_AT_G)
    };
    let without = rise(1.0, 0.0, false);
    DayEffects {
        at_g: EFFECTS_AT_G,
        rise_without_mg_dl: without,
        bad_night_mg_dl: rise(behaviour.bad_night_action, behaviour.bad_night_production, false)
            - without,
        stress_mg_dl: rise(behaviour.stress_action, behaviour.stress_production, false) - without,
        exercise_mg_dl: rise(behaviour.exercise_action, 0.0, true) - without,
    }
}
