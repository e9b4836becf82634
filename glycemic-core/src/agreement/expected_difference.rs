//! How far two devices that each meet their stated error would differ.
//!
//! # Method
//! A stated error is "so many of all readings within so much of the truth", perhaps with a
//! standing bias. Taken as normal, it has the SD for which that share lies within. The
//! difference of two such devices at one moment is normal too: its mean is the difference of
//! the biases, its variance the sum of the two less twice their covariance. The model knows no
//! heavy tails and no lag; real differences are larger when glucose moves.
//!
//! # Units
//! Any one: mg/dL, or percent for relative errors.
//!
//! # Source
//! Closed form. Normal model of a meter's relative error: Boyd JC, Bruns DE. Clin Chem 2001; 47:
//! 209-214.

use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::stats::distribution::{normal_cdf, normal_quantile};
use crate::stats::integrate::root;

/// A device's stated error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// Readings lie within this of the truth ...
    pub within: f64,
    /// ... so often, from 0 to 1.
    pub share: f64,
    /// Mean error.
    pub bias: f64,
}

/// The difference of two devices at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct ExpectedDifference {
    /// SD of each device's error.
    pub sds: (f64, f64),
    /// Mean of first less second.
    pub mean: f64,
    /// SD of first less second.
    pub sd: f64,
    /// Median size of the difference.
    pub median_size: f64,
    /// Size that 95 % of differences stay within.
    pub size_95: f64,
}

impl ExpectedDifference {
    /// How often the two differ by `size` or more, from 0 to 1.
    ///
    /// # Errors
    /// A size that is negative or not finite.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::agreement::expected_difference::{Stated, expected_difference};
    /// let meter = Stated { within: 15.0, share: 0.95, bias: 0.0 };
    /// let d = expected_difference(meter, meter, 0.0)?.unwrap();
    /// // Two meters at 95 % within 15 %: they differ by 15 % or more once in six.
    /// assert!((d.share_at_least(15.0)? - 0.1658).abs() < 1e-3);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn share_at_least(&self, size: f64) -> Result<f64, Error> {
        require_within("size", size, 0.0, 1e12)?;
        Ok(outside(size, self.mean, self.sd))
    }
}

/// The difference of two devices, the errors of which have the given correlation (0 unless they
/// share a cause).
///
/// The inner `Err` says why a statement does not settle an SD: a bias as large as the width.
///
/// # Errors
/// A width that is not positive, a share outside 0.01-0.9999, a correlation outside -0.99-0.99,
/// NaN.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::expected_difference::{Stated, expected_difference};
/// let one = Stated { within: 19.6, share: 0.95, bias: 0.0 };
/// let d = expected_difference(one, one, 0.0)?.unwrap();
/// // SD 10 each, so SD 14.1 of the difference, and 95 % within 27.7.
/// assert!((d.sd - 200.0_f64.sqrt()).abs() < 1e-3 && (d.size_95 - 27.718).abs() < 1e-2);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn expected_difference(
    first: Stated,
    second: Stated,
    correlation: f64,
) -> Result<Result<ExpectedDifference, Reason>, Error> {
    require_within("correlation", correlation, -0.99, 0.99)?;
    for stated in [first, second] {
        require_within("within", stated.within, 1e-9, 1e9)?;
        require_within("share", stated.share, 0.01, 0.9999)?;
        require_within("bias", stated.bias, -1e9, 1e9)?;
    }
    let (Some(a), Some(b)) = (sd_of(first), sd_of(second)) else {
        let text = "with a bias as large as the width the stated share does not settle an SD";
        return Ok(Err(Reason::plain("bias_too_large", text)));
    };
    let mean = first.bias - second.bias;
    let sd = (a * a + b * b - 2.0 * correlation * a * b).sqrt();
    let size_of = |share: f64| {
        let high = mean.abs() + 10.0 * sd;
        root(0.0, high, |size| outside(size, mean, sd) - (1.0 - share)).unwrap_or(high)
    };
    Ok(Ok(ExpectedDifference {
        sds: (a, b),
        mean,
        sd,
        median_size: size_of(0.5),
        size_95: size_of(0.95),
    }))
}

/// The SD for which the stated share lies within.
fn sd_of(stated: Stated) -> Option<f64> {
    let Stated { within, share, bias } = stated;
    let bias = bias.abs();
    if bias == 0.0 {
        return Some(within / normal_quantile(0.5 * (1.0 + share)));
    }
    // From a bias at the limit on, a share may have two SDs or none: the statement says too little.
    if bias >= within {
        return None;
    }
    let inside = |sd: f64| 1.0 - outside(within, bias, sd) - share;
    root(1e-9 * within, 1e3 * within, inside)
}

/// The share of a normal variable beyond `size` on both sides of 0.
fn outside(size: f64, mean: f64, sd: f64) -> f64 {
    normal_cdf((-size - mean) / sd) + normal_cdf((mean - size) / sd)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stated(within: f64, share: f64, bias: f64) -> Stated {
        Stated { within, share, bias }
    }

    fn difference(a: Stated, b: Stated, correlation: f64) -> ExpectedDifference {
        expected_difference(a, b, correlation).unwrap().unwrap()
    }

    /// With SD 10 and bias 5, .81859461412 lie within 15 (scipy 1.17.1): the SD comes back.
    #[test]
    fn a_bias_is_taken_off() {
        let d = difference(stated(15.0, 0.818_594_614_12, 5.0), stated(15.0, 0.95, 0.0), 0.0);
        assert!((d.sds.0 - 10.0).abs() < 1e-8, "{d:?}");
        assert_eq!(d.mean, 5.0);
        let same = difference(stated(15.0, 0.818_594_614_12, -5.0), stated(15.0, 0.95, 0.0), 0.0);
        assert!((same.sds.0 - 10.0).abs() < 1e-8);
    }

    /// Equal devices: the share beyond d is 2 Φ(-d / (SD √2)); the quantiles invert it.
    #[test]
    fn closed_form_and_back() {
        let one = stated(20.0, 0.87, 0.0);
        let d = difference(one, one, 0.0);
        let sd = 20.0 / normal_quantile(0.935) * std::f64::consts::SQRT_2;
        assert!((d.sd - sd).abs() < 1e-12);
        let at = |size| d.share_at_least(size).unwrap();
        assert!((at(30.0) - 2.0 * normal_cdf(-30.0 / sd)).abs() < 1e-15);
        assert!((at(d.median_size) - 0.5).abs() < 1e-12 && (at(d.size_95) - 0.05).abs() < 1e-12);
        assert_eq!(at(0.0), 1.0);
    }

    #[test]
    fn a_shared_cause_brings_them_together() {
        let one = stated(20.0, 0.9, 0.0);
        assert!(difference(one, one, 0.8).sd < 0.5 * difference(one, one, 0.0).sd);
    }

    #[test]
    fn impossible_statements() {
        let e = expected_difference(stated(15.0, 0.95, 16.0), stated(15.0, 0.95, 0.0), 0.0);
        assert_eq!(e.unwrap().unwrap_err().code, "bias_too_large");
        assert!(expected_difference(stated(0.0, 0.95, 0.0), stated(1.0, 0.5, 0.0), 0.0).is_err());
        assert!(expected_difference(stated(1.0, 1.0, 0.0), stated(1.0, 0.5, 0.0), 0.0).is_err());
        assert!(
            difference(stated(1.0, 0.5, 0.0), stated(1.0, 0.5, 0.0), 0.0)
                .share_at_least(-1.0)
                .is_err()
        );
    }
}
