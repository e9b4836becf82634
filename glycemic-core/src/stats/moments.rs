//! Mean, variance and standard deviation.
//!
//! # Method
//! Two passes: the mean first, then deviations from it, each corrected for the rounding
//! that the sum of the deviations shows. The variance divides by n - 1.
//!
//! # Units
//! Whatever unit the values have; the variance has its square.
//!
//! # Source
//! Chan TF, Golub GH, LeVeque RJ. Algorithms for computing the sample variance. Am Stat
//! 1983; 37: 242-247 (the corrected two-pass algorithm).

/// The arithmetic mean; `None` when there is no value.
///
/// # Example
/// ```
/// # use glycemic_core::stats::moments::mean;
/// assert_eq!(mean(&[90.0, 100.0, 140.0]), Some(110.0));
/// assert_eq!(mean(&[]), None);
/// ```
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let n = values.len() as f64;
    let rough = values.iter().sum::<f64>() / n;
    Some(rough + values.iter().map(|v| v - rough).sum::<f64>() / n)
}

/// The variance with n - 1 below the line; `None` for fewer than two values.
///
/// Source: Chan, Golub and LeVeque (1983).
///
/// # Example
/// ```
/// # use glycemic_core::stats::moments::variance;
/// // Deviations -2, 0, 2: the squares sum to 8, divided by 2.
/// assert_eq!(variance(&[98.0, 100.0, 102.0]), Some(4.0));
/// ```
pub fn variance(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let centre = mean(values)?;
    let n = values.len() as f64;
    let (mut sum, mut squares) = (0.0, 0.0);
    for value in values {
        let deviation = value - centre;
        sum += deviation;
        squares += deviation * deviation;
    }
    Some(((squares - sum * sum / n) / (n - 1.0)).max(0.0))
}

/// The standard deviation with n - 1 below the line; `None` for fewer than two values.
///
/// Source: as [`variance`].
///
/// # Example
/// ```
/// # use glycemic_core::stats::moments::sd;
/// assert_eq!(sd(&[98.0, 100.0, 102.0]), Some(2.0));
/// assert_eq!(sd(&[98.0]), None);
/// ```
pub fn sd(values: &[f64]) -> Option<f64> {
    variance(values).map(f64::sqrt)
}

/// Slope of the least-squares line of `y` on `x`, n items each; `None` for fewer than two
/// different x.
///
/// # Example
/// ```
/// # use glycemic_core::stats::moments::slope;
/// assert_eq!(slope(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0]), Some(2.0));
/// assert_eq!(slope(&[1.0, 1.0], &[1.0, 3.0]), None);
/// ```
pub fn slope(x: &[f64], y: &[f64]) -> Option<f64> {
    let (mx, my) = (mean(x)?, mean(y)?);
    let sxx: f64 = x.iter().map(|a| (a - mx) * (a - mx)).sum();
    let sxy: f64 = x.iter().zip(y).map(|(a, b)| (a - mx) * (b - my)).sum();
    (sxx > 0.0).then(|| sxy / sxx)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST StRD, NumAcc3: 1000000.2 once, then 1000000.1 and 1000000.3 500 times each;
    /// certified mean 1000000.2 and sd 0.1.
    #[test]
    fn certified_numacc3() {
        let mut values = vec![1_000_000.2];
        for _ in 0..500 {
            values.extend([1_000_000.1, 1_000_000.3]);
        }
        assert!((mean(&values).unwrap() - 1_000_000.2).abs() < 2e-10);
        // The values themselves are stored to 1.2e-10.
        assert!((sd(&values).unwrap() - 0.1).abs() < 1e-10);
    }

    #[test]
    fn equal_values_have_no_spread() {
        assert_eq!(sd(&[0.1; 7]), Some(0.0));
        assert_eq!(variance(&[]), None);
    }
}
