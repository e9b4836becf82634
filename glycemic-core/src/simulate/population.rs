//! Different people: a healthy, an intermediate and a resistant class.
//!
//! # Method
//! Each class has a centre; a person is the centre with some knobs multiplied by lognormal factors
//! of median 1, from normals kept within 2.5 SD. Weak insulin action goes with more weight, more
//! basal insulin and a stronger pancreas (compensation); the two responses of the pancreas go
//! together. All spreads and correlations are our own, chosen so that simulated days match what
//! was published of healthy adults; see `physiology_tests`.
//!
//! # Source
//! Targets: Freckmann G et al. *J Diabetes Sci Technol* 1 (2007): 695-703. Shah VN et al. *J Clin
//! Endocrinol Metab* 104 (2019): 4356-4364. That action and secretion make up for each other: Kahn
//! SE et al. *Diabetes* 42 (1993): 1663-1672 (from memory).

use super::person::{HEALTHY, Person, RESISTANT};
use super::random::{Purpose, Random};

/// How well a person handles carbohydrate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "lowercase"))]
pub enum Class {
    /// As healthy adults.
    Healthy,
    /// Half-way between the two.
    Intermediate,
    /// As the demo's adult.
    Resistant,
}

impl Class {
    /// The person in the middle of the class.
    pub(crate) fn centre(self) -> Person {
        match self {
            Self::Healthy => HEALTHY,
            Self::Intermediate => half_way(&HEALTHY, &RESISTANT),
            Self::Resistant => RESISTANT,
        }
    }
}

/// The knobs in which the two centres differ, each at the geometric mean.
fn half_way(one: &Person, other: &Person) -> Person {
    let mean = |knob: fn(&Person) -> f64| (knob(one) * knob(other)).sqrt();
    Person {
        weight_kg: mean(|p| p.weight_kg),
        basal_glucose_mg_dl: mean(|p| p.basal_glucose_mg_dl),
        basal_insulin_pmol_l: mean(|p| p.basal_insulin_pmol_l),
        insulin_action: mean(|p| p.insulin_action),
        liver_action: mean(|p| p.liver_action),
        basal_uptake: mean(|p| p.basal_uptake),
        level_response: mean(|p| p.level_response),
        rate_response: mean(|p| p.rate_response),
        emptying: mean(|p| p.emptying),
        ..*one
    }
}

/// Keeps the stream apart from those of a trial with the same seed.
const PEOPLE: u64 = 0x7065_6f70_6c65;

/// A person of the class: the same class and seed, the same person.
///
/// # Example
/// ```
/// use glycemic_core::simulate::{Class, person};
/// let (one, other) = (person(Class::Healthy, 1), person(Class::Healthy, 2));
/// assert_eq!(one, person(Class::Healthy, 1));
/// assert_ne!(one.insulin_action, other.insulin_action);
/// ```
pub fn person(class: Class, seed: u64) -> Person {
    let mut random = Random::new(seed ^ PEOPLE, Purpose::Choices);
    let mut normal = || random.normal().clamp(-2.5, 2.5);
    let action = normal();
    // A normal of unit variance with correlation r to insulin action.
    let mut with_action = |r: f64| r * action + (1.0 - r * r).sqrt() * normal();
    let (weight, insulin, level) = (with_action(-0.5), with_action(-0.6), with_action(-0.6));
    let rate = 0.7 * level + 0.51_f64.sqrt() * normal();
    let (glucose, emptying, swing, walk) = (normal(), normal(), normal(), normal());
    let centre = class.centre();
    let scaled = |value: f64, sd: f64, z: f64| value * libm::exp(sd * z);
    Person {
        weight_kg: scaled(centre.weight_kg, 0.14, weight),
        basal_glucose_mg_dl: scaled(centre.basal_glucose_mg_dl, 0.06, glucose),
        basal_insulin_pmol_l: scaled(centre.basal_insulin_pmol_l, 0.25, insulin),
        insulin_action: scaled(centre.insulin_action, 0.25, action),
        liver_action: scaled(centre.liver_action, 0.15, action),
        level_response: scaled(centre.level_response, 0.25, level),
        rate_response: scaled(centre.rate_response, 0.25, rate),
        emptying: scaled(centre.emptying, 0.12, emptying),
        daily_swing: scaled(centre.daily_swing, 0.30, swing),
        walk_uptake: scaled(centre.walk_uptake, 0.20, walk),
        ..centre
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean(values: &[f64]) -> f64 {
        values.iter().sum::<f64>() / values.len() as f64
    }

    /// Correlation about 0, where both are centred.
    fn correlation(one: &[f64], other: &[f64]) -> f64 {
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        product(one, other) / (product(one, one) * product(other, other)).sqrt()
    }

    #[test]
    fn people_of_a_class_scatter_round_its_centre() {
        for class in [Class::Healthy, Class::Intermediate, Class::Resistant] {
            let people: Vec<Person> = (0..400).map(|seed| person(class, seed)).collect();
            let knob = |knob: fn(&Person) -> f64| {
                let centre = libm::log(knob(&class.centre()));
                people.iter().map(|p| libm::log(knob(p)) - centre).collect::<Vec<f64>>()
            };
            let action = knob(|p| p.insulin_action);
            let with_action = |other: &[f64]| correlation(&action, other);
            // Median 1, so the mean logarithm is 0 within 4 standard errors; kept within 2.5 SD.
            assert!(mean(&action).abs() < 4.0 * 0.25 / 20.0);
            assert!(action.iter().all(|a| a.abs() <= 2.5 * 0.25 + 1e-12));
            // A correlation of -0.6 has a standard error of 0.03 with 400 people, one of -0.5 0.04.
            assert!((with_action(&knob(|p| p.level_response)) + 0.6).abs() < 0.13);
            assert!((with_action(&knob(|p| p.basal_insulin_pmol_l)) + 0.6).abs() < 0.13);
            assert!((with_action(&knob(|p| p.weight_kg)) + 0.5).abs() < 0.16);
        }
    }
}
