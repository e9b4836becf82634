//! Answers in grams, kept inside the doses eaten.

use crate::estimate::{Estimate, Reason};

use super::fit::MIN_MEALS;

/// Steps in which the doses are looked through before an end is found by halving.
const STEPS: u32 = 64;

/// The doses that are not refused, more grams never giving a smaller rise: the largest dose at
/// which `most` (the highest rise that can be believed) is still at or under the target, and the
/// smallest at which `least` is already at or over it.
pub(super) fn not_refused(
    doses: (f64, f64),
    target: f64,
    least: impl Fn(f64) -> f64,
    most: impl Fn(f64) -> f64,
) -> (Option<f64>, Option<f64>) {
    let step = (doses.1 - doses.0) / f64::from(STEPS);
    let dose = |i: u32| if i == STEPS { doses.1 } else { doses.0 + step * f64::from(i) };
    let low = (0..=STEPS).rev().find(|&i| most(dose(i)) <= target).map(|i| {
        if i == STEPS { doses.1 } else { halve(dose(i), dose(i + 1), |g| most(g) <= target) }
    });
    let high = (0..=STEPS)
        .find(|&i| least(dose(i)) >= target)
        .map(|i| if i == 0 { doses.0 } else { halve(dose(i - 1), dose(i), |g| least(g) < target) });
    (low, high)
}

/// Where `holds` ends between `from`, at which it holds, and `to`.
pub(super) fn halve(from: f64, to: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut from, mut to) = (from, to);
    for _ in 0..60 {
        let middle = 0.5 * (from + to);
        if holds(middle) { from = middle } else { to = middle }
    }
    from
}

/// An answer in grams, before it is cut to the doses eaten.
pub(super) struct Answer<'a> {
    pub(super) value: Option<f64>,
    /// The doses not refused.
    pub(super) ends: (Option<f64>, Option<f64>),
    /// Whether the slope is told apart from 0.
    pub(super) clear: bool,
    pub(super) doses: (f64, f64),
    pub(super) level: f64,
    pub(super) method: &'a str,
    pub(super) n: usize,
}

impl Answer<'_> {
    /// An end outside the doses is open, a value outside is a bound.
    pub(super) fn estimate(self) -> Estimate {
        let Answer { doses, level, method, n, .. } = self;
        let value = self.value.filter(|v| (doses.0..=doses.1).contains(v));
        let (low, high) = self.ends;
        let nothing = low.is_none() && high.is_none();
        if self.value.is_none() || (!self.clear && (nothing || value.is_none())) {
            return Estimate::missing(level, method, n, MIN_MEALS, no_clear_slope());
        }
        // The value and the ends come by different ways; an end never crosses the value.
        let low = low.map(|l| value.map_or(l, |v| l.min(v)));
        let high = high.map(|h| value.map_or(h, |v| h.max(v)));
        let eaten = format!("the doses eaten ({:.0} to {:.0} g)", doses.0, doses.1);
        let reason = if value.is_none() {
            Some(Reason::plain("outside_doses", &format!("the answer lies outside {eaten}")))
        } else if low.is_none() || high.is_none() {
            Some(Reason::plain("open_interval", &format!("one end lies outside {eaten}")))
        } else {
            None
        };
        let method = method.to_string();
        Estimate { value, low, high, level, method, n, needed: MIN_MEALS, reason }
    }
}

fn no_clear_slope() -> Reason {
    Reason::plain("no_clear_slope", "the rise does not clearly grow with grams in these meals")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_where_the_bands_meet_the_target() {
        // m = g, give or take 5.
        let ends = not_refused((10.0, 60.0), 30.0, |g| g - 5.0, |g| g + 5.0);
        assert!((ends.0.unwrap() - 25.0).abs() < 1e-9 && (ends.1.unwrap() - 35.0).abs() < 1e-9);
        // Give or take 25: open above, and bound below by nothing.
        assert_eq!(not_refused((10.0, 60.0), 30.0, |g| g - 35.0, |g| g + 25.0), (None, None));
        assert_eq!(not_refused((10.0, 60.0), 90.0, |g| g, |g| g), (Some(60.0), None));
        assert_eq!(not_refused((10.0, 60.0), 5.0, |g| g, |g| g), (None, Some(10.0)));
    }
}
