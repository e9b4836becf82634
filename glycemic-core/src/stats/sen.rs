//! A slope that single odd points don't move, with an interval that assumes no distribution.
//!
//! # Method
//! The median of the slopes of all pairs of points with different x. Its interval is the set of
//! slopes that Kendall's test of trend doesn't reject: without ties exactly, by counting the
//! orders of n values with so many inversions; with ties in x or y, and beyond 60 points, by the
//! normal approximation with the variance corrected for ties.
//!
//! # Units
//! y per x. Points are taken as independent.
//!
//! # Source
//! Sen PK. J Am Stat Assoc 1968; 63: 1379-1389. Kendall MG. Rank correlation methods, 1948
//! (number of inversions, correction for ties).

use super::distribution::normal_quantile;
use super::quantile;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::Estimate;

const EXACT: usize = 60;
/// Points under which there is no interval at the usual levels.
pub const MIN_POINTS: usize = 5;

/// The slopes of all pairs of points with different x.
fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let mut slopes = Vec::with_capacity(n * n.saturating_sub(1) / 2);
    for i in 0..n {
        for j in i + 1..n {
            if x[i] != x[j] {
                slopes.push((y[j] - y[i]) / (x[j] - x[i]));
            }
        }
    }
    slopes
}

/// Slope and intercept for points (`x`, `y`) of length n ≥ 2; `None` when all x are the same. The
/// intercept is the median of y less slope times the median of x.
///
/// # Errors
/// [`LengthMismatch`](Error::LengthMismatch) or [`NotFinite`](Error::NotFinite).
///
/// # Example
/// ```
/// # use glycemic_core::stats::sen::line;
/// // One point far off the line y = 2x does not matter.
/// assert_eq!(line(&[0.0, 1.0, 2.0, 3.0, 4.0], &[0.0, 2.0, 4.0, 6.0, 90.0])?, Some((2.0, 0.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn line(x: &[f64], y: &[f64]) -> Result<Option<(f64, f64)>, Error> {
    require_same_len("y", x.len(), y.len())?;
    require_all_finite("x", x)?;
    require_all_finite("y", y)?;
    let Some(slope) = quantile::median(&slopes(x, y)) else { return Ok(None) };
    let middle = quantile::median(y).zip(quantile::median(x));
    Ok(middle.map(|(y, x)| (slope, y - slope * x)))
}

/// The slope of y over x, n ≥ 5, with its interval.
///
/// An end is open when even the steepest slope is not rejected.
///
/// # Errors
/// Lengths that differ, NaN, a level outside 0.5 to 0.999, or fewer than 5 points or a single x.
///
/// # Example
/// ```
/// # use glycemic_core::stats::sen::slope;
/// // Sen (1968): the example of the paper. Of 5040 orders 76 have three inversions or fewer: the
/// // 4th slope from either end gives 1 - 2 × 76 / 5040 = 0.9698.
/// let (x, y) = ([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0], [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0]);
/// let e = slope(&x, &y, 0.96)?;
/// assert_eq!(e.value, Some(4.0));
/// assert!((e.low.unwrap() - 26.0 / 7.0).abs() < 1e-12 && (e.high.unwrap() - 4.375).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn slope(x: &[f64], y: &[f64], level: f64) -> Result<Estimate, Error> {
    const METHOD: &str = "median of the slopes of all pairs (Sen 1968)";
    require_same_len("y", x.len(), y.len())?;
    require_all_finite("x", x)?;
    require_all_finite("y", y)?;
    require_within("level", level, 0.5, 0.999)?;
    let n = x.len();
    if n < MIN_POINTS {
        let measure = "a median of slopes";
        return Err(Error::TooFewValues { measure, needed: MIN_POINTS, got: n });
    }
    let slopes = quantile::sorted(&slopes(x, y));
    let Some(value) = quantile::type7(&slopes, 0.5) else {
        let measure = "a median of slopes (different x)";
        return Err(Error::TooFewValues { measure, needed: 2, got: 1 });
    };
    let tied = ties(x).len() + ties(y).len() > 0;
    let below = if tied || n > EXACT {
        normal_rank(x, y, slopes.len(), level)
    } else {
        exact_rank(n, (1.0 - level) / 2.0)
    };
    let at = |k: Option<usize>| k.and_then(|k| slopes.get(k)).copied();
    Ok(Estimate {
        low: at(below),
        high: at(below.and_then(|k| slopes.len().checked_sub(k + 1))),
        ..Estimate::new(value, value, value, level, METHOD, n)
    }
    .needing(MIN_POINTS))
}

/// The largest k with a chance of at most `tail` for k or fewer inversions among n.
fn exact_rank(n: usize, tail: f64) -> Option<usize> {
    // Chance of k inversions: inserting the m-th value adds 0 to m - 1 of them, each alike.
    let mut chance = vec![1.0];
    for m in 2..=n {
        let mut next = vec![0.0; chance.len() + m - 1];
        for (k, p) in chance.iter().enumerate() {
            for share in &mut next[k..k + m] {
                *share += p / m as f64;
            }
        }
        chance = next;
    }
    let mut sum = 0.0;
    let within = chance.iter().take_while(|p| {
        sum += **p;
        // The sums are of rounded shares.
        sum <= tail + 1e-12
    });
    within.count().checked_sub(1)
}

fn normal_rank(x: &[f64], y: &[f64], slopes: usize, level: f64) -> Option<usize> {
    let spread = |m: f64| m * (m - 1.0) * (2.0 * m + 5.0);
    let n = x.len() as f64;
    let lost: f64 = ties(x).iter().chain(&ties(y)).map(|&t| spread(t as f64)).sum();
    let sd = ((spread(n) - lost).max(0.0) / 18.0).sqrt();
    let half = normal_quantile(0.5 + level / 2.0) * sd;
    // Half a step further out, so that the interval is no shorter than the test allows.
    let rank = ((slopes as f64 - half) / 2.0).floor() - 1.0;
    (rank >= 0.0).then_some(rank as usize)
}

/// Sizes of the groups of equal values.
fn ties(values: &[f64]) -> Vec<usize> {
    let sorted = quantile::sorted(values);
    sorted.chunk_by(|a, b| a == b).map(<[f64]>::len).filter(|&n| n > 1).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of the 5040 orders of seven, 1, 6, 20, 49 and 98 have 0 to 4 inversions (Kendall 1948):
    /// 174/5040 = 0.0345 for four or fewer, 0.0688 for five or fewer (169 have 5).
    #[test]
    fn inversions_of_seven() {
        assert_eq!(exact_rank(7, 0.0346), Some(4));
        assert_eq!(exact_rank(7, 0.0345), Some(3));
        assert_eq!(exact_rank(7, 0.0681), Some(5));
        assert_eq!(exact_rank(3, 0.01), None);
    }

    #[test]
    fn a_straight_line_is_found_and_an_odd_point_moves_nothing() {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 3.0 - 0.5 * x).collect();
        y[11] = 900.0;
        let e = slope(&x, &y, 0.9).unwrap();
        assert!((e.value.unwrap() + 0.5).abs() < 1e-12 && e.covers(-0.5));
        assert!(slope(&x[..4], &y[..4], 0.9).is_err() && slope(&[1.0; 6], &y[..6], 0.9).is_err());
    }

    /// With ties the rank comes from the normal approximation, near the exact one without.
    #[test]
    fn ties_use_the_normal_approximation() {
        assert_eq!(ties(&[1.0, 2.0, 2.0, 3.0, 3.0, 3.0]), [2, 3]);
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let exact = exact_rank(20, 0.05).unwrap() as i64;
        let normal = normal_rank(&x, &x, 190, 0.9).unwrap() as i64;
        assert!((exact - normal).abs() <= 1, "{exact} {normal}");
    }

    /// The example of Sen (1968), section 6: slope 4; its data from memory.
    #[test]
    fn the_line_of_sen_1968() {
        let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
        let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
        assert_eq!(line(&x, &y).unwrap(), Some((4.0, 4.0)));
        assert_eq!(line(&[2.0; 3], &[1.0, 2.0, 3.0]).unwrap(), None);
    }
}
