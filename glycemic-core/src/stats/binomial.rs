//! Intervals for a share: so many of so many.
//!
//! # Method
//! The exact interval inverts the binomial test and never covers less than its level. The
//! score interval covers its level on average. With dependent items the exact interval can
//! be taken on an effective sample size, a real number.
//!
//! # Units
//! Shares from 0 to 1, also for the level.
//!
//! # Source
//! Clopper CJ, Pearson ES. Biometrika 1934; 26: 404-413. Wilson EB. J Am Stat Assoc 1927;
//! 22: 209-212. Korn EL, Graubard BI. Surv Methodol 1998; 24: 193-201 (effective size).

use super::distribution::{beta_quantile, normal_quantile};
use crate::error::{self, Error};

/// The exact two-sided interval for a share, `count` of `n`, as (low, high).
///
/// Source: Clopper and Pearson (1934).
///
/// # Errors
/// [`TooFewValues`](Error::TooFewValues) for n = 0; [`OutOfRange`](Error::OutOfRange) for a
/// count above n or a level that is not between 0 and 1.
///
/// # Example
/// ```
/// # use glycemic_core::stats::binomial::clopper_pearson;
/// // None of 10: the upper end solves (1 - x)^10 = 0.025.
/// let (low, high) = clopper_pearson(0, 10, 0.95)?;
/// assert_eq!(low, 0.0);
/// assert!((high - 0.308_497_1).abs() < 1e-7);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn clopper_pearson(count: usize, n: usize, level: f64) -> Result<(f64, f64), Error> {
    clopper_pearson_effective(count as f64, n as f64, level)
}

/// The exact one-sided lower limit for a share, `count` of `n`, at `level`.
///
/// Source: Clopper and Pearson (1934).
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Example
/// ```
/// # use glycemic_core::stats::binomial::clopper_pearson_lower;
/// // All of 10: the limit solves x^10 = 0.05.
/// assert!((clopper_pearson_lower(10, 10, 0.95)? - 0.741_134_4).abs() < 1e-7);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn clopper_pearson_lower(count: usize, n: usize, level: f64) -> Result<f64, Error> {
    let (count, n) = (count as f64, n as f64);
    check(count, n, level)?;
    Ok(lower(count, n, 1.0 - level))
}

/// The exact two-sided interval with a real count and a real (effective) size.
///
/// `count` of `n` where n is the number of independent items that carry as much as the
/// dependent ones, and count is the observed share times n. Source: Korn and Graubard (1998).
///
/// # Errors
/// As [`clopper_pearson`], and [`NotFinite`](Error::NotFinite). A size above 0 but below 1 is
/// allowed; the interval is then wide.
///
/// # Example
/// ```
/// # use glycemic_core::stats::binomial::{clopper_pearson, clopper_pearson_effective};
/// assert_eq!(clopper_pearson_effective(9.0, 10.0, 0.95)?, clopper_pearson(9, 10, 0.95)?);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn clopper_pearson_effective(count: f64, n: f64, level: f64) -> Result<(f64, f64), Error> {
    check(count, n, level)?;
    let tail = 0.5 * (1.0 - level);
    Ok((lower(count, n, tail), 1.0 - lower(n - count, n, tail)))
}

/// The score interval for a share, `count` of `n`, as (low, high).
///
/// Source: Wilson (1927), without a continuity correction.
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Example
/// ```
/// # use glycemic_core::stats::binomial::wilson;
/// // 81 of 263, Newcombe (Stat Med 1998; 17: 857-872), table I, method 3.
/// let (low, high) = wilson(81, 263, 0.95)?;
/// assert!((low - 0.2553).abs() < 5e-5 && (high - 0.3662).abs() < 5e-5);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn wilson(count: usize, n: usize, level: f64) -> Result<(f64, f64), Error> {
    let (k, size) = (count as f64, n as f64);
    check(k, size, level)?;
    let z = normal_quantile(0.5 * (1.0 + level));
    let share = k / size;
    let centre = share + z * z / (2.0 * size);
    let half = z * (share * (1.0 - share) / size + z * z / (4.0 * size * size)).sqrt();
    let scale = 1.0 + z * z / size;
    let low = if count == 0 { 0.0 } else { (centre - half) / scale };
    let high = if count == n { 1.0 } else { (centre + half) / scale };
    Ok((low, high))
}

fn lower(count: f64, n: f64, tail: f64) -> f64 {
    if count <= 0.0 { 0.0 } else { beta_quantile(tail, count, n - count + 1.0) }
}

fn check(count: f64, n: f64, level: f64) -> Result<(), Error> {
    error::require_finite("n", n)?;
    if n <= 0.0 {
        return Err(Error::TooFewValues { measure: "an interval for a share", needed: 1, got: 0 });
    }
    error::require_within("count", count, 0.0, n)?;
    error::require_within("level", level, 0.0, 1.0)?;
    if level == 0.0 || level == 1.0 {
        return Err(Error::OutOfRange {
            name: "level",
            index: None,
            value: level,
            low: 0.0,
            high: 1.0,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newcombe RG. Stat Med 1998; 17: 857-872, table I: methods 3 (score) and 5 (exact),
    /// printed to four decimals.
    #[test]
    fn newcombe_1998() {
        for (count, n, score, exact) in [
            (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
            (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
            (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
            (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
        ] {
            for (got, printed) in [
                (wilson(count, n, 0.95).unwrap(), score),
                (clopper_pearson(count, n, 0.95).unwrap(), exact),
            ] {
                assert!((got.0 - printed.0).abs() < 5.1e-5, "{count}/{n}: {got:?}");
                assert!((got.1 - printed.1).abs() < 5.1e-5, "{count}/{n}: {got:?}");
            }
        }
    }

    #[test]
    fn ends_are_whole() {
        assert_eq!(clopper_pearson(7, 7, 0.9).unwrap().1, 1.0);
        assert_eq!(wilson(7, 7, 0.9).unwrap().1, 1.0);
        assert_eq!(clopper_pearson_lower(0, 7, 0.9).unwrap(), 0.0);
        let (low, high) = clopper_pearson_effective(3.3, 4.7, 0.95).unwrap();
        assert!(low > 0.0 && low < 3.3 / 4.7 && 3.3 / 4.7 < high && high < 1.0);
    }

    #[test]
    fn refuses_what_is_no_share() {
        assert_eq!(clopper_pearson(0, 0, 0.95).unwrap_err().code(), "too_few_values");
        assert_eq!(clopper_pearson(3, 2, 0.95).unwrap_err().code(), "out_of_range");
        assert_eq!(wilson(1, 2, 1.0).unwrap_err().code(), "out_of_range");
        assert_eq!(wilson(1, 2, f64::NAN).unwrap_err().code(), "not_finite");
        assert_eq!(clopper_pearson_effective(f64::NAN, 2.0, 0.9).unwrap_err().code(), "not_finite");
    }
}
