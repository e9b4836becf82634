//! A straight line that odd points hardly move: the median of all slopes.
//!
//! # Method
//! Slope: median of the slopes of all pairs with different x. Intercept: median of y less slope
//! times the median of x.
//!
//! # Source
//! Sen PK. J Am Stat Assoc 1968; 63: 1379-1389.

use super::quantile::median;
use crate::error::{self, Error};

/// Slope and intercept for points (`x`, `y`) of length n ≥ 2; `None` when all x are the same.
///
/// # Errors
/// [`LengthMismatch`](Error::LengthMismatch) or [`NotFinite`](Error::NotFinite).
///
/// # Example
/// ```
/// # use glycemic_core::stats::theil_sen::line;
/// // One point far off the line y = 2x does not matter.
/// assert_eq!(line(&[0.0, 1.0, 2.0, 3.0, 4.0], &[0.0, 2.0, 4.0, 6.0, 90.0])?, Some((2.0, 0.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn line(x: &[f64], y: &[f64]) -> Result<Option<(f64, f64)>, Error> {
    error::require_same_len("y", x.len(), y.len())?;
    error::require_all_finite("x", x)?;
    error::require_all_finite("y", y)?;
    let mut slopes = Vec::new();
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            if x[i] != x[j] {
                slopes.push((y[j] - y[i]) / (x[j] - x[i]));
            }
        }
    }
    let Some(slope) = median(&slopes) else { return Ok(None) };
    Ok(median(y).zip(median(x)).map(|(y, x)| (slope, y - slope * x)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of Sen (1968), section 6: slope 4; its data from memory.
    #[test]
    fn sen_1968() {
        let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
        let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
        assert_eq!(line(&x, &y).unwrap(), Some((4.0, 4.0)));
        assert_eq!(line(&[2.0; 3], &[1.0, 2.0, 3.0]).unwrap(), None);
    }
}
