//! Detrended fluctuation analysis.
//!
//! # Method
//! On the longest stretch without a gap (of equals the first): deviations from its mean are summed
//! up; the sum is cut into boxes of n readings, a line is fitted in each, and F(n) is the root
//! mean square of what is left. The exponent is the slope of log F on log n over n = 8, 12, 16,
//! 24, 32, ... up to a quarter of the stretch: white noise 0.5, a random walk 1.5. Readings are
//! taken as evenly spaced. Boxes double: two neighbours' moments joined give the box twice as
//! long, so the work grows with the readings only.
//!
//! # Source
//! Peng C-K et al. Phys Rev E 1994; 49: 1685-1689, from memory. The box sizes and the least
//! length: conventions of this library (smaller boxes bend the line).

use super::number::Number;
use crate::estimate::Reason;
use crate::stats::moments;

/// Readings that the stretch must hold: eight box sizes from 8 to 64 and more.
const MIN_READINGS: usize = 256;

pub(crate) fn exponent<N: Number>(stretch: &[N]) -> Result<f64, Reason> {
    if stretch.len() < MIN_READINGS {
        let what = "readings in a row without a gap";
        return Err(Reason::count("too_short", what, stretch.len(), MIN_READINGS));
    }
    let profile = profile(stretch);
    let mut points: Vec<(f64, f64)> = Vec::new();
    for smallest in [8, 12] {
        points.extend(fluctuations(&profile, smallest));
    }
    let flat = || Reason::plain("no_variation", "the readings don't vary about straight lines");
    if points.iter().any(|p| p.1 <= 0.0) {
        return Err(flat());
    }
    let sizes: Vec<f64> = points.iter().map(|p| libm::log(p.0)).collect();
    // F squared: half its logarithm.
    let sizes_f: Vec<f64> = points.iter().map(|p| 0.5 * libm::log(p.1)).collect();
    moments::slope(&sizes, &sizes_f).ok_or_else(flat)
}

/// Running sum of the deviations from the mean.
fn profile<N: Number>(stretch: &[N]) -> Vec<f64> {
    let centre = super::number::Spread::of(stretch).mean().unwrap_or(0.0);
    let mut sum = 0.0;
    stretch
        .iter()
        .map(|x| {
            sum += x.float() - centre;
            sum
        })
        .collect()
}

/// Box size and F squared, for sizes `smallest`, twice that, and so on.
fn fluctuations(profile: &[f64], smallest: usize) -> Vec<(f64, f64)> {
    let mut boxes: Vec<Moments> = profile.chunks_exact(smallest).map(Moments::of).collect();
    let mut out = Vec::new();
    let mut size = smallest;
    while size <= profile.len() / 4 {
        let n = size as f64;
        // Squares of 0, 1, ... n - 1 about their mean.
        let across = n * (n * n - 1.0) / 12.0;
        let left: f64 =
            boxes.iter().map(|b| (b.squares - b.cross * b.cross / across).max(0.0)).sum();
        out.push((n, left / (n * boxes.len() as f64)));
        boxes = boxes.chunks_exact(2).map(|pair| pair[0].joined(pair[1], n)).collect();
        size *= 2;
    }
    out
}

/// A box's mean, squares about it, and products with the position about both means.
#[derive(Clone, Copy)]
struct Moments {
    mean: f64,
    squares: f64,
    cross: f64,
}

impl Moments {
    fn of(values: &[f64]) -> Moments {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let (mut squares, mut cross) = (0.0, 0.0);
        let mut position = (1.0 - n) / 2.0;
        for value in values {
            squares += (value - mean) * (value - mean);
            cross += position * (value - mean);
            position += 1.0;
        }
        Moments { mean, squares, cross }
    }

    /// This box of `n` and the next one as one of 2 n.
    fn joined(self, next: Moments, n: f64) -> Moments {
        let apart = next.mean - self.mean;
        Moments {
            mean: (self.mean + next.mean) / 2.0,
            squares: self.squares + next.squares + n / 2.0 * apart * apart,
            cross: self.cross + next.cross + n * n / 2.0 * apart,
        }
    }
}
