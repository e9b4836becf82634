//! Student's t off its centre, and the power of a t test.
//!
//! # Method
//! The distribution as in `tolerance_factor`; arguments are checked here.
//!
//! # Units
//! None: the noncentrality is the effect over its standard error.
//!
//! # Source
//! Cohen J. Statistical power analysis for the behavioral sciences, 2nd ed. (1988), from memory.

use super::distribution::t_two_sided;
use super::tolerance_factor;
use crate::error::{Error, require_finite, require_within};

/// The share of the noncentral t distribution with `df` > 0 below `t`; noncentrality up to ±37.
///
/// # Errors
/// Arguments that are not finite or out of range.
///
/// # Example
/// ```
/// # use glycemic_core::stats::noncentral_t::noncentral_t_cdf;
/// // Without noncentrality Student's t: one half below 0.
/// assert!((noncentral_t_cdf(0.0, 7.0, 0.0)? - 0.5).abs() < 1e-15);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn noncentral_t_cdf(t: f64, df: f64, noncentrality: f64) -> Result<f64, Error> {
    require_finite("t", t)?;
    require_within("df", df, 1e-3, 1e7)?;
    require_within("noncentrality", noncentrality, -37.0, 37.0)?;
    Ok(tolerance_factor::noncentral_t_cdf(t, df, noncentrality))
}

/// The chance that a two-sided t test at `level` sees an effect of `noncentrality` standard
/// errors, on `df` degrees of freedom.
///
/// # Errors
/// As [`noncentral_t_cdf`], and a level outside 0.5 to 0.999. Effects beyond 37 standard errors
/// count as 37.
///
/// # Example
/// ```
/// # use glycemic_core::stats::noncentral_t::power;
/// // No effect: seen as often as the test errs.
/// assert!((power(0.0, 9.0, 0.95)? - 0.05).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn power(noncentrality: f64, df: f64, level: f64) -> Result<f64, Error> {
    require_within("level", level, 0.5, 0.999)?;
    require_finite("noncentrality", noncentrality)?;
    let delta = noncentrality.abs().min(37.0);
    let limit = t_two_sided(level, df);
    Ok(1.0 - noncentral_t_cdf(limit, df, delta)? + noncentral_t_cdf(-limit, df, delta)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::distribution::normal_cdf;
    use crate::stats::distribution::t_cdf;

    #[test]
    fn at_the_centre_it_is_students_t() {
        for (t, df) in [(1.3, 4.0), (-2.2, 11.0), (0.4, 1.0), (3.9, 60.0)] {
            let got = noncentral_t_cdf(t, df, 0.0).unwrap();
            assert!((got - t_cdf(t, df)).abs() < 1e-13, "{t} {df} {got}");
        }
        assert!(noncentral_t_cdf(f64::NAN, 3.0, 0.0).is_err());
        assert!(power(1.0, 3.0, 1.5).is_err());
    }

    /// With very many degrees of freedom it is the normal distribution about the noncentrality.
    #[test]
    fn with_many_degrees_of_freedom_it_is_normal() {
        for (t, delta) in [(1.0, 0.5), (-1.0, 0.5), (4.0, 3.0), (0.2, -2.0)] {
            let got = noncentral_t_cdf(t, 1e6, delta).unwrap();
            assert!((got - normal_cdf(t - delta)).abs() < 1e-5, "{t} {delta} {got}");
        }
    }
}
