//! Which columns of the mixed model are which kinds of food and parts of the day, and the mean line
//! over a mix of them.
//!
//! # Source
//! See [`super::model`].

use super::model::{KINDS, MealPoint, Part, Sort, TIMES};
use crate::estimate::Reason;
use crate::stats::line::Line;
use crate::stats::mixed::Mixed;

/// Which random column is which sort.
#[derive(Clone, Debug, PartialEq, Default)]
pub(super) struct Layout {
    pub(super) kinds: Vec<&'static str>,
    pub(super) times: Vec<&'static str>,
    /// Grams by which the columns are divided.
    pub(super) unit_g: f64,
}

impl Layout {
    /// Sorts that occur among the meals; one alone cannot be told from the common slope.
    pub(super) fn of(meals: &[MealPoint], unit_g: f64) -> Layout {
        let more_than_one = |names: Vec<&'static str>| if names.len() < 2 { vec![] } else { names };
        let kind =
            |name: &&'static str| meals.iter().any(|m| m.sort.kind.as_deref() == Some(*name));
        let time = |name: &&'static str| meals.iter().any(|m| m.sort.time == Some(*name));
        Layout {
            kinds: more_than_one(KINDS.iter().copied().filter(kind).collect()),
            times: more_than_one(TIMES.iter().map(|t| t.0).filter(time).collect()),
            unit_g,
        }
    }

    pub(super) fn columns(&self, meals: &[MealPoint]) -> Vec<Vec<Vec<f64>>> {
        let of = |held: &dyn Fn(&MealPoint) -> bool| -> Vec<f64> {
            meals.iter().map(|m| if held(m) { m.net_carbs_g / self.unit_g } else { 0.0 }).collect()
        };
        let kinds: Vec<Vec<f64>> =
            self.kinds.iter().map(|k| of(&|m| m.sort.kind.as_deref() == Some(*k))).collect();
        let times: Vec<Vec<f64>> =
            self.times.iter().map(|t| of(&|m| m.sort.time == Some(*t))).collect();
        [kinds, times].into_iter().filter(|p| !p.is_empty()).collect()
    }

    /// Kinds and times without a limit of their own.
    pub(super) fn without_fits(
        &self,
        meals: &[MealPoint],
        reason: &Reason,
    ) -> (Vec<Part>, Vec<Part>) {
        let part = |name: &&'static str, held: &dyn Fn(&Sort) -> bool| {
            let count = meals.iter().filter(|m| held(&m.sort)).count();
            Part { name: name.to_string(), meals: count, fit: Err(reason.clone()) }
        };
        let kind = |k| part(k, &|s| s.kind.as_deref() == Some(*k));
        let time = |t| part(t, &|s| s.time == Some(*t));
        (self.kinds.iter().map(kind).collect(), self.times.iter().map(time).collect())
    }

    /// Shares of the random slopes in a mix of sorts, kinds first.
    pub(super) fn shares(&self, mix: &[Sort]) -> Vec<f64> {
        let all = mix.len().max(1) as f64;
        let share =
            |held: &dyn Fn(&Sort) -> bool| mix.iter().filter(|s| held(s)).count() as f64 / all;
        let kinds = self.kinds.iter().map(|k| share(&|s| s.kind.as_deref() == Some(*k)));
        kinds.chain(self.times.iter().map(|t| share(&|s| s.time == Some(*t)))).collect()
    }
}

/// The mean line over shares of the random slopes.
pub(super) fn line_of(mixed: &Mixed, shares: &[f64], plain: &Line, unit_g: f64) -> Line {
    let at_zero = [1.0];
    let mut slope_of = vec![0.0, 1.0];
    slope_of.extend(shares.iter().map(|s| s / unit_g));
    let mut both = slope_of.clone();
    both[0] = 1.0;
    let (intercept, v_intercept) = mixed.combination(&at_zero);
    let (slope, v_slope) = mixed.combination(&slope_of);
    let (_, v_both) = mixed.combination(&both);
    let across = 0.5 * (v_both - v_intercept - v_slope);
    let cov = [[v_intercept, across], [across, v_slope]];
    Line {
        intercept,
        slope,
        residual_sd: mixed.residual_variance.sqrt(),
        cov_model: cov,
        cov_hc3: cov,
        ..plain.clone()
    }
}
