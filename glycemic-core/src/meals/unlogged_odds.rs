//! What all the starts of a trace say together: the odds beforehand, and how loud the noise is.
//!
//! # Method
//! Odds beforehand: the share of starts that are meals and the probabilities that it gives must
//! agree. The noise: stretches around starts that are probably no meal, and have none beside them,
//! tell its size at the pace of a meal; the fit that gave its covariance rests on other differences
//! and other hours.
//!
//! # Source
//! Odds beforehand, and a null as wide as the data show, from many cases: Efron B. Large-scale
//! inference, 2010, ch. 2 and 6, from memory.

use super::evidence::{Plain, usual_scale};

/// The odds beforehand count as so many starts.
const PRIOR_STARTS: f64 = 20.0;
const PRIOR_ROUNDS: usize = 10;

/// A start with what its readings say.
pub(super) struct Rise {
    pub onset_ms: i64,
    pub size_mg_dl: f64,
    pub log_factor: f64,
    /// How probable an onset within half an hour is, if it is a meal.
    pub near: f64,
    pub plain: Plain,
}

impl Rise {
    /// That there is a meal.
    pub(super) fn probability(&self, prior_odds: f64) -> f64 {
        let odds = prior_odds * libm::exp(self.log_factor.min(600.0));
        odds / (1.0 + odds)
    }
}

/// The odds beforehand that agree with what is found at `starts` starts.
pub(super) fn learnt_odds(rises: &[Rise], starts: usize, prior_odds: f64) -> f64 {
    let expected = PRIOR_STARTS * prior_odds / (1.0 + prior_odds);
    let mut odds = prior_odds;
    for _ in 0..PRIOR_ROUNDS {
        let sum: f64 = rises.iter().map(|r| r.probability(odds)).sum();
        let share = (expected + sum) / (PRIOR_STARTS + starts as f64);
        // With each start a meal the share nears 1.
        odds = share / (1.0 - share).max(1e-6);
    }
    odds
}

/// The scale of the noise in stretches that neither hold a meal nor lie within `apart_ms` of one.
pub(super) fn null_scale(rises: &[Rise], odds: f64, apart_ms: i64) -> f64 {
    let chances: Vec<f64> = rises.iter().map(|r| 1.0 - r.probability(odds)).collect();
    let none_near = |rise: &Rise| {
        let near = rises.iter().zip(&chances);
        let near = near.filter(|(r, _)| (r.onset_ms - rise.onset_ms).abs() < apart_ms);
        near.map(|(_, chance)| *chance).fold(1.0, f64::min)
    };
    let all: Vec<(Plain, f64)> = rises.iter().map(|r| (r.plain, none_near(r))).collect();
    usual_scale(&all)
}
