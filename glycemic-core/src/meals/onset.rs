//! When a logged meal seems to have begun.
//!
//! # Method
//! A meal's shape (see `matched`) is fitted at every start from `before_min` before the logged one
//! to `after_min` after it; the best is the onset. Starts whose squared height in standard errors
//! lies within 3.84 of the best are plausible (a profile interval of 95 %). A meal whose rise is
//! under three standard errors tells nothing of its start.
//!
//! # Source
//! Profile interval: Wilks SS. Ann Math Stat 1938; 9: 60-62.

use super::covariance::Linked;
use super::matched::{Filter, PEAKS_MIN};
use crate::interpolate::Method;
use crate::series::Trace;

const MINUTE: i64 = 60_000;
/// Readings from so long before the logged start, minutes.
const FROM_MIN: i64 = -100;
/// Until so long after it.
const TO_MIN: i64 = 100;
const STEP_MIN: i64 = 5;
/// Heights under so many standard errors tell nothing.
const CLEAR: f64 = 3.0;
const PLAUSIBLE: f64 = 3.841_458_820_694_124;

/// A start told by the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Onset {
    pub best_ms: i64,
    pub earliest_ms: i64,
}

/// The weights for every start that is tried.
#[derive(Clone, Debug)]
pub(super) struct Starts {
    /// Minutes from the logged start, and the filters of each shape.
    tried: Vec<(i64, Vec<Filter>)>,
}

impl Starts {
    pub(super) fn new(noise: &Linked, before_min: f64, after_min: f64) -> Option<Starts> {
        let t: Vec<f64> =
            (FROM_MIN / STEP_MIN..=TO_MIN / STEP_MIN).map(|i| (i * STEP_MIN) as f64).collect();
        let first = -(before_min / STEP_MIN as f64) as i64;
        let last = (after_min / STEP_MIN as f64) as i64;
        let filters = |shift: i64| -> Option<Vec<Filter>> {
            PEAKS_MIN.iter().map(|peak| Filter::new(&t, shift as f64, *peak, noise)).collect()
        };
        let tried = (first..=last)
            .map(|i| Some((i * STEP_MIN, filters(i * STEP_MIN)?)))
            .collect::<Option<Vec<_>>>()?;
        Some(Starts { tried })
    }

    /// The start that the trace tells; `None` where readings are missing or the rise is not clear.
    pub(super) fn find(&self, trace: &Trace, logged_ms: i64) -> Option<Onset> {
        let times: Vec<i64> = (FROM_MIN / STEP_MIN..=TO_MIN / STEP_MIN)
            .map(|i| logged_ms + i * STEP_MIN * MINUTE)
            .collect();
        let y = trace.at(&times, Method::Linear, 16.0).ok()?;
        let mut scores = Vec::with_capacity(self.tried.len());
        for (shift, filters) in &self.tried {
            let mut best = 0.0_f64;
            for filter in filters {
                best = best.max(filter.height(&y)? / filter.se);
            }
            scores.push((*shift, best));
        }
        // Of equal scores the one nearest to the diary.
        let better =
            |a: &(i64, f64), b: &(i64, f64)| a.1.total_cmp(&b.1).then(b.0.abs().cmp(&a.0.abs()));
        let best = scores.iter().copied().max_by(better)?;
        if best.1 < CLEAR {
            return None;
        }
        let plausible = |s: &&(i64, f64)| best.1 * best.1 - s.1 * s.1 <= PLAUSIBLE;
        let earliest = scores.iter().find(plausible)?;
        let at = |shift: i64| logged_ms + shift * MINUTE;
        Some(Onset { best_ms: at(best.0), earliest_ms: at(earliest.0) })
    }
}
