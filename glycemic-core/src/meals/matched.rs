//! How much of a meal's shape there is in a stretch of readings.
//!
//! # Method
//! A level and a rise of a fixed shape are fitted to the readings by generalised least
//! squares under the covariance of this sensor's noise, of slow movement and of a slope that is probably
//! small. The shape is (x/p) exp(1 - x/p), x minutes
//! after the first bite less a delay of ten: 1 at its peak. Weights depend on the times only, so
//! they are worked out once.
//!
//! # Source
//! Generalised least squares: Aitken AC. Proc R Soc Edinb 1935; 55: 42-48. Shape of the rise: the
//! gut of Hovorka et al., Physiol Meas 2004; 25: 905-920. The delay until a sensor shows a meal is
//! common practice, no source. Peak times about 46-50 min in healthy adults: Freckmann et al.,
//! J Diabetes Sci Technol 2007; 1: 695-703.

use super::covariance::{Linked, Signal};
use crate::stats::cholesky::{factor, matrix, solve};

const STEP_MIN: f64 = 5.0;
/// Readings needed from so many steps before a start to so many after it.
const BEFORE_STEPS: usize = 12;
const AFTER_STEPS: usize = 24;
/// Minutes from the first bite until a sensor shows anything.
const DELAY_MIN: f64 = 10.0;
/// Minutes from then to the peak: a quick and a slow meal.
pub(super) const PEAKS_MIN: [f64; 2] = [45.0, 90.0];
/// Slow movement of glucose beside the meal: not noise, but nothing to explain either.
pub(super) const WANDER: Signal = Signal { variance: 9.0, scale_min: 60.0 };
/// Standard deviation of the slope, mg/dL per minute.
pub(super) const SLOPE_SD: f64 = 0.03;
pub(super) const ROUNDING: f64 = 1.0 / 12.0;

/// Weights that give the height of a shape, and the height's standard error.
#[derive(Clone, Debug)]
pub(super) struct Filter {
    weights: Vec<f64>,
    pub(super) se: f64,
}

impl Filter {
    /// For readings at `t` minutes and a meal begun at `onset` that peaks `peak` minutes on.
    pub(super) fn new(t: &[f64], onset: f64, peak: f64, noise: &Linked) -> Option<Filter> {
        let n = t.len();
        let covariance = matrix(n, |i, j| {
            let h = (t[i] - t[j]).abs();
            let own = if i == j { noise.white.max(ROUNDING) } else { 0.0 };
            let slope = SLOPE_SD * SLOPE_SD * (t[i] - onset) * (t[j] - onset);
            noise.at(h) + WANDER.at(h) + slope + own
        });
        let low = factor(&covariance)?;
        let columns = [vec![1.0; n], t.iter().map(|x| shape(x - onset, peak)).collect()];
        let whitened: Vec<Vec<f64>> = columns.iter().map(|c| solve(&low, c.clone())).collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let normal = factor(&matrix(2, |a, b| dot(&columns[a], &whitened[b])))?;
        let row = solve(&normal, vec![0.0, 1.0]);
        let weights =
            (0..n).map(|i| (0..2).map(|k| row[k] * whitened[k][i]).sum::<f64>()).collect();
        Some(Filter { weights, se: row[1].max(0.0).sqrt() })
    }

    /// The height of the shape in `y`; `None` when a reading is missing.
    pub(super) fn height(&self, y: &[Option<f64>]) -> Option<f64> {
        let mut sum = 0.0;
        for (w, v) in self.weights.iter().zip(y) {
            sum += w * (*v)?;
        }
        (y.len() == self.weights.len()).then_some(sum)
    }
}

/// A start that stands out.
pub(super) struct Start {
    pub(super) place: usize,
    /// Its height in standard errors.
    pub(super) z: f64,
}

/// The score of every start whose readings are all there, and its neighbours' too.
pub(super) fn scores(y: &[Option<f64>], noise: &Linked) -> Option<Vec<Start>> {
    let t: Vec<f64> = (0..=BEFORE_STEPS + AFTER_STEPS)
        .map(|i| (i as f64 - BEFORE_STEPS as f64) * STEP_MIN)
        .collect();
    let filters =
        PEAKS_MIN.iter().map(|p| Filter::new(&t, 0.0, *p, noise)).collect::<Option<Vec<_>>>()?;
    let mut starts = Vec::new();
    for place in BEFORE_STEPS..y.len().saturating_sub(AFTER_STEPS) {
        let part = &y[place - BEFORE_STEPS..=place + AFTER_STEPS];
        let found = filters.iter().filter_map(|f| Some(Start { place, z: f.height(part)? / f.se }));
        starts.extend(found.max_by(|a, b| a.z.total_cmp(&b.z)));
    }
    // The clearest start must not lie at the edge of what was seen: it may be further out.
    let inside =
        |k: usize| k > 0 && k + 1 < starts.len() && starts[k + 1].place - starts[k - 1].place == 2;
    let kept: Vec<bool> = (0..starts.len()).map(|k| inside(k) && starts[k].z > 0.0).collect();
    Some(starts.into_iter().zip(kept).filter(|s| s.1).map(|s| s.0).collect())
}

fn shape(minutes: f64, peak: f64) -> f64 {
    let x = ((minutes - DELAY_MIN) / peak).max(0.0);
    x * libm::exp(1.0 - x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pure_shape_is_found_and_a_line_is_not() {
        let noise = Linked { linked: 20.0, white: 0.1, slow_min: 40.0, fast_min: 0.0 };
        let t: Vec<f64> = (-12..=20).map(|i| 5.0 * f64::from(i)).collect();
        let filter = Filter::new(&t, 0.0, 35.0, &noise).unwrap();
        let meal: Vec<Option<f64>> =
            t.iter().map(|x| Some(110.0 + 33.0 * shape(*x, 35.0))).collect();
        assert!((filter.height(&meal).unwrap() - 33.0).abs() < 1e-6);
        let line: Vec<Option<f64>> = t.iter().map(|x| Some(90.0 + 0.02 * x)).collect();
        assert!(filter.height(&line).unwrap().abs() < filter.se);
        let mut lost = meal;
        lost[3] = None;
        assert_eq!(filter.height(&lost), None);
        assert!(filter.se > 1.0 && filter.se < 20.0, "{}", filter.se);
    }
}
