//! Two sensors worn together: how far they differ from each other.
//!
//! # Method
//! Relative difference of a pair: 100 |a - b| / ((a + b) / 2), since neither is the reference;
//! its mean is the paired absolute relative difference. Two coefficients of variation are in
//! use: the pooled one, 100 sqrt(mean (a - b)² / 2) over the mean of all values, and the mean of
//! each pair's SD over its mean (which is the paired difference over √2). Precision is no
//! accuracy: two sensors may agree and both be wrong.
//!
//! # Units
//! Any one unit; results in percent.
//!
//! # Source
//! Obermaier et al., J Diabetes Sci Technol 2013; 7: 824-832 (use confirmed, formula from
//! memory).

use super::summary::mean_estimate;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::Estimate;
use crate::stats::{moments, quantile};

/// How far two devices differ from each other.
#[derive(Clone, Debug, PartialEq)]
pub struct PairedPrecision {
    /// Pairs.
    pub n: usize,
    /// Mean of 100 |a - b| over the mean of the two, %.
    pub pard_pct: Estimate,
    /// Median of the same, %.
    pub median_pct: f64,
    /// Pooled coefficient of variation, %.
    pub pooled_cv_pct: f64,
    /// Mean of the pairs' coefficients of variation, %.
    pub mean_cv_pct: f64,
    /// Mean of b - a, in percent of the mean of the two: a standing offset between the two.
    pub offset_pct: Estimate,
}

/// Precision of n >= 1 pairs of positive values; `cluster` gives each pair's cluster (for one
/// person the local day), or is `None`.
///
/// # Errors
/// No pair, different lengths, NaN, values that are not positive, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::paired_precision;
/// let p = paired_precision(&[90.0, 110.0], &[110.0, 90.0], None, 0.95)?;
/// assert_eq!((p.pard_pct.value, p.offset_pct.value), (Some(20.0), Some(0.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn paired_precision(
    a: &[f64],
    b: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<PairedPrecision, Error> {
    require_same_len("b", a.len(), b.len())?;
    require_within("level", level, 0.5, 0.999)?;
    for (name, values) in [("a", a), ("b", b)] {
        require_all_finite(name, values)?;
        if let Some(index) = values.iter().position(|&v| v <= 0.0) {
            let (value, low, high) = (values[index], f64::MIN_POSITIVE, f64::MAX);
            return Err(Error::OutOfRange { name, index: Some(index), value, low, high });
        }
    }
    let each: Vec<i64> = (0..a.len() as i64).collect();
    let cluster = cluster.unwrap_or(&each);
    require_same_len("cluster", a.len(), cluster.len())?;
    let relative: Vec<f64> =
        a.iter().zip(b).map(|(a, b)| 100.0 * (b - a) / (0.5 * (a + b))).collect();
    let size: Vec<f64> = relative.iter().map(|d| d.abs()).collect();
    let squares: Vec<f64> = a.iter().zip(b).map(|(a, b)| 0.5 * (a - b) * (a - b)).collect();
    let (Some(square), Some(mean_a), Some(mean_b), Some(mean_size), Some(median_pct)) = (
        moments::mean(&squares),
        moments::mean(a),
        moments::mean(b),
        moments::mean(&size),
        quantile::median(&size),
    ) else {
        return Err(Error::TooFewValues { measure: "paired precision", needed: 1, got: 0 });
    };
    Ok(PairedPrecision {
        n: a.len(),
        pard_pct: mean_estimate(&size, cluster, level).0,
        median_pct,
        pooled_cv_pct: 100.0 * square.sqrt() / (0.5 * (mean_a + mean_b)),
        mean_cv_pct: mean_size / std::f64::consts::SQRT_2,
        offset_pct: mean_estimate(&relative, cluster, level).0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 and 120 differ by 20 of 110, 200 and 200 not at all.
    #[test]
    fn two_pairs_by_hand() {
        let p = paired_precision(&[100.0, 200.0], &[120.0, 200.0], None, 0.95).unwrap();
        let first = 100.0 * 20.0 / 110.0;
        assert!((p.pard_pct.value.unwrap() - first / 2.0).abs() < 1e-12);
        assert!((p.mean_cv_pct - first / 2.0 / 2.0_f64.sqrt()).abs() < 1e-12);
        // Squares 20² / 2 and 0, mean 100, root 10; all values have mean 155.
        assert!((p.pooled_cv_pct - 100.0 * 10.0 / 155.0).abs() < 1e-12);
        assert!((p.offset_pct.value.unwrap() - first / 2.0).abs() < 1e-12);
        assert_eq!(p.pard_pct.low, None);
    }

    #[test]
    fn which_is_first_does_not_matter() {
        let (a, b) = ([80.0, 100.0, 150.0, 210.0], [90.0, 95.0, 170.0, 200.0]);
        let (one, two) = (
            paired_precision(&a, &b, None, 0.95).unwrap(),
            paired_precision(&b, &a, None, 0.95).unwrap(),
        );
        assert_eq!((one.pard_pct, one.pooled_cv_pct), (two.pard_pct, two.pooled_cv_pct));
        assert_eq!(one.offset_pct.value, two.offset_pct.value.map(|v| -v));
        assert_eq!(
            paired_precision(&a, &[1.0, 0.0, 1.0, 1.0], None, 0.95).unwrap_err().index(),
            Some(1)
        );
        assert_eq!(paired_precision(&[], &[], None, 0.95).unwrap_err().code(), "too_few_values");
    }
}
