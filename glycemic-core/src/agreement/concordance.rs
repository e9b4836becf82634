//! Concordance correlation: how far pairs lie from the line of identity.
//!
//! # Method
//! 2 s_xy / (s_x² + s_y² + (mean x - mean y)²) with moments divided by n. It is the correlation
//! times a bias correction 2 / (v + 1/v + u²), v the ratio of the SDs, u the difference of the
//! means over the root of their product. Interval by Fisher's z with the corrected variance.
//! It grows with the range of the values, so it is no verdict on a device. Pairs are taken as
//! independent.
//!
//! # Source
//! Lin LI. Biometrics 1989; 45: 255-268; correction 2000; 56: 324-325 (corrected variance from
//! memory; its coverage was confirmed by simulation).

use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::normal_quantile;
use crate::stats::moments;

/// Concordance and its parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Concordance {
    /// Pairs.
    pub n: usize,
    /// Concordance correlation, from -1 to 1.
    pub concordance: Estimate,
    /// The same with moments divided by n - 1; `None` without spread.
    pub with_n_minus_1: Option<f64>,
    /// Pearson's correlation: scatter about the best line.
    pub correlation: Option<f64>,
    /// How far that line is from identity: 1 is on it.
    pub bias_correction: Option<f64>,
    /// SD of x over SD of y.
    pub scale_shift: Option<f64>,
    /// (mean x - mean y) / sqrt(SD x × SD y).
    pub location_shift: Option<f64>,
}

/// Concordance of n >= 3 pairs.
///
/// # Errors
/// Fewer than three pairs, different lengths, NaN, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::concordance;
/// // Variances 2/3, covariance 2/3, means 1 apart: 2 (2/3) / (4/3 + 1).
/// let c = concordance(&[1.0, 2.0, 3.0], &[2.0, 3.0, 4.0], 0.95)?;
/// assert!((c.concordance.value.unwrap() - 4.0 / 7.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn concordance(x: &[f64], y: &[f64], level: f64) -> Result<Concordance, Error> {
    const METHOD: &str = "Lin 1989, corrected 2000, Fisher's z";
    require_same_len("y", x.len(), y.len())?;
    require_all_finite("x", x)?;
    require_all_finite("y", y)?;
    require_within("level", level, 0.5, 0.999)?;
    let n = x.len();
    let (Some(mx), Some(my), true) = (moments::mean(x), moments::mean(y), n >= 3) else {
        return Err(Error::TooFewValues { measure: "concordance", needed: 3, got: n });
    };
    let size = n as f64;
    let moment = |a: &[f64], ma: f64, b: &[f64], mb: f64| {
        a.iter().zip(b).map(|(a, b)| (a - ma) * (b - mb)).sum::<f64>() / size
    };
    let (vx, vy, vxy) = (moment(x, mx, x, mx), moment(y, my, y, my), moment(x, mx, y, my));
    let apart = (mx - my) * (mx - my);
    if vx <= 0.0 || vy <= 0.0 {
        let reason = Reason::plain("no_spread", "one of the two columns has no spread");
        return Ok(Concordance {
            n,
            concordance: Estimate::missing(level, METHOD, n, 3, reason),
            with_n_minus_1: None,
            correlation: None,
            bias_correction: None,
            scale_shift: None,
            location_shift: None,
        });
    }
    let rho = 2.0 * vxy / (vx + vy + apart);
    let up = size / (size - 1.0);
    let (sx, sy) = (vx.sqrt(), vy.sqrt());
    let r = vxy / (sx * sy);
    let u = (mx - my) / (sx * sy).sqrt();
    let scale = sx / sy;
    Ok(Concordance {
        n,
        concordance: interval(rho, r, u, n, level, METHOD),
        with_n_minus_1: Some(2.0 * vxy * up / ((vx + vy) * up + apart)),
        correlation: Some(r),
        bias_correction: Some(2.0 / (scale + 1.0 / scale + u * u)),
        scale_shift: Some(scale),
        location_shift: Some(u),
    })
}

fn interval(rho: f64, r: f64, u: f64, n: usize, level: f64, method: &str) -> Estimate {
    let (r2, c2) = (r * r, rho * rho);
    let variance = ((1.0 - r2) * c2 * (1.0 - c2) / r2 + 2.0 * rho * c2 * (1.0 - rho) * u * u / r
        - c2 * c2 * u * u * u * u / (2.0 * r2))
        / (n as f64 - 2.0);
    let se_z = variance.sqrt() / (1.0 - c2);
    if !se_z.is_finite() || c2 >= 1.0 {
        let reason =
            Reason::plain("no_interval", "the correlation is exactly 0 or the pairs are equal");
        return Estimate { value: Some(rho), ..Estimate::missing(level, method, n, 3, reason) };
    }
    let (z, half) = (libm::atanh(rho), normal_quantile(0.5 * (1.0 + level)) * se_z);
    Estimate::new(rho, libm::tanh(z - half), libm::tanh(z + half), level, method, n).needing(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_interval_says_so() {
        let x = [1.0, 2.0, 3.0, 4.0];
        let same = concordance(&x, &x, 0.95).unwrap().concordance;
        assert_eq!((same.value, same.low), (Some(1.0), None));
        assert_eq!(same.reason.unwrap().code, "no_interval");
        let flat = concordance(&x, &[2.0; 4], 0.95).unwrap();
        assert_eq!(flat.concordance.reason.unwrap().code, "no_spread");
        assert_eq!(flat.correlation, None);
        let none = concordance(&[1.0, 2.0, 3.0], &[1.0, 2.0, 1.0], 0.95).unwrap().concordance;
        assert_eq!((none.value, none.low), (Some(0.0), None));
        assert_eq!(concordance(&x[..2], &x[..2], 0.95).unwrap_err().code(), "too_few_values");
    }

    /// Concordance is the correlation times the bias correction.
    #[test]
    fn parts_multiply() {
        let c =
            concordance(&[59.0, 76.3, 120.7, 186.5], &[62.1, 93.3, 126.7, 203.0], 0.95).unwrap();
        let product = c.correlation.unwrap() * c.bias_correction.unwrap();
        assert!((c.concordance.value.unwrap() - product).abs() < 1e-14);
    }
}
