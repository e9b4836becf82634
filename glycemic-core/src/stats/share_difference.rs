//! The difference of two shares, with an interval.
//!
//! # Method
//! The score intervals of the two shares are joined (hybrid score, "method 10"): the lower end
//! lies sqrt((p1 - l1)² + (u2 - p2)²) below the difference, the upper end
//! sqrt((u1 - p1)² + (p2 - l2)²) above it. Counts and sizes may be real numbers, for a printed
//! percentage or an effective number of pairs.
//!
//! # Source
//! Newcombe RG. Interval estimation for the difference between independent proportions. Stat
//! Med 1998; 17: 873-890, method 10 (no continuity correction).

use super::distribution::normal_quantile;
use crate::error::{self, Error};

/// The score interval (Wilson 1927) of a share `fraction` of a real number `n` of items.
///
/// # Errors
/// A share outside 0-1, a size that is not positive, a level that is not between 0 and 1.
///
/// # Example
/// ```
/// # use glycemic_core::stats::{binomial::wilson, share_difference::score};
/// let (low, high) = score(0.9, 10.0, 0.95)?;
/// let whole = wilson(9, 10, 0.95)?;
/// assert!((low - whole.0).abs() < 1e-15 && (high - whole.1).abs() < 1e-15);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn score(fraction: f64, n: f64, level: f64) -> Result<(f64, f64), Error> {
    error::require_within("fraction", fraction, 0.0, 1.0)?;
    error::require_within("n", n, 1e-6, 1e15)?;
    error::require_within("level", level, 1e-6, 1.0 - 1e-6)?;
    let z = normal_quantile(0.5 * (1.0 + level));
    let centre = fraction + z * z / (2.0 * n);
    let half = z * (fraction * (1.0 - fraction) / n + z * z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z * z / n;
    let low = if fraction == 0.0 { 0.0 } else { (centre - half) / scale };
    let high = if fraction == 1.0 { 1.0 } else { (centre + half) / scale };
    Ok((low.max(0.0), high.min(1.0)))
}

/// First share less second share, each (fraction, size), as (difference, low, high).
///
/// # Errors
/// As [`score`].
///
/// # Example
/// ```
/// # use glycemic_core::stats::share_difference::newcombe;
/// // 56 of 70 against 48 of 80, Newcombe's first example.
/// let (difference, low, high) = newcombe((56.0 / 70.0, 70.0), (48.0 / 80.0, 80.0), 0.95)?;
/// assert!((difference - 0.2).abs() < 1e-12);
/// assert!((low - 0.0524).abs() < 5e-5 && (high - 0.3339).abs() < 5e-5);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn newcombe(
    first: (f64, f64),
    second: (f64, f64),
    level: f64,
) -> Result<(f64, f64, f64), Error> {
    let (l1, u1) = score(first.0, first.1, level)?;
    let (l2, u2) = score(second.0, second.1, level)?;
    let (p1, p2) = (first.0, second.0);
    let joined = |a: f64, b: f64| (a * a + b * b).sqrt();
    let difference = p1 - p2;
    let low = difference - joined(p1 - l1, u2 - p2);
    let high = difference + joined(u1 - p1, p2 - l2);
    Ok((difference, low, high))
}
