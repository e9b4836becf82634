//! Quantiles of a sample.
//!
//! # Method
//! Definition 7 of Hyndman and Fan: the k-th of n sorted values stands at the share
//! (k - 1) / (n - 1), with straight lines between.
//!
//! # Units
//! Whatever unit the values have; a share p runs from 0 to 1.
//!
//! # Source
//! Hyndman RJ, Fan Y. Sample quantiles in statistical packages. Am Stat 1996; 50: 361-365.

/// The quantile of `sorted` (rising, n values) at the share `p`, by definition 7.
///
/// `None` when there is no value, or when `p` is NaN or outside 0 to 1. Source: Hyndman and
/// Fan (1996).
///
/// # Example
/// ```
/// # use glycemic_core::stats::quantile::type7;
/// // Place (5 - 1) × 0.3 = 1.2: a fifth of the way from 20 to 30.
/// assert_eq!(type7(&[10.0, 20.0, 30.0, 40.0, 50.0], 0.3), Some(22.0));
/// assert_eq!(type7(&[], 0.3), None);
/// ```
pub fn type7(sorted: &[f64], p: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&p) {
        return None;
    }
    let place = sorted.len().checked_sub(1)? as f64 * p;
    let below = place as usize;
    let low = *sorted.get(below)?;
    let part = place - below as f64;
    match sorted.get(below + 1) {
        Some(&high) if part > 0.0 => Some(low + part * (high - low)),
        _ => Some(low),
    }
}

/// The middle value, or the mean of the two in the middle; `None` when there is no value.
///
/// Any order. Source: [`type7`] at one half.
///
/// # Example
/// ```
/// # use glycemic_core::stats::quantile::median;
/// assert_eq!(median(&[110.0, 90.0, 100.0, 240.0]), Some(105.0));
/// ```
pub fn median(values: &[f64]) -> Option<f64> {
    type7(&sorted(values), 0.5)
}

/// A copy of `values` in rising order (NaN, which no checked input holds, at the ends).
///
/// # Example
/// ```
/// # use glycemic_core::stats::quantile::sorted;
/// assert_eq!(sorted(&[3.0, 1.0, 2.0]), [1.0, 2.0, 3.0]);
/// ```
pub fn sorted(values: &[f64]) -> Vec<f64> {
    let mut copy = values.to_vec();
    copy.sort_unstable_by(f64::total_cmp);
    copy
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: place 9 × 0.25 = 2.25 in 0, 1, 4, 9, … is 4 + 0.25 × 5.
    #[test]
    fn squares() {
        let squares: Vec<f64> = (0..10).map(|k| f64::from(k * k)).collect();
        assert_eq!(type7(&squares, 0.0), Some(0.0));
        assert_eq!(type7(&squares, 0.25), Some(5.25));
        assert_eq!(type7(&squares, 1.0), Some(81.0));
        assert_eq!(median(&squares), Some(20.5));
    }

    #[test]
    fn no_value_or_no_share() {
        assert_eq!(median(&[]), None);
        assert_eq!(type7(&[1.0], f64::NAN), None);
        assert_eq!(type7(&[1.0], 1.01), None);
        assert_eq!(type7(&[1.0], 0.7), Some(1.0));
    }
}
