//! How single meals scatter about the mean rise.
//!
//! # Method
//! The SD grows in a straight line with the mean rise (absolute residuals on the fitted rise). Rises
//! are at least about 0 and skewed, since what varies from meal to meal multiplies: a meal is a
//! gamma variable with that mean and SD, its shape at least 1. Quantiles by the cube
//! root rule.
//!
//! # Source
//! Glejser H. J Am Stat Assoc 1969; 64: 316-323. Wilson EB, Hilferty MM. Proc Natl Acad Sci USA
//! 1931; 17: 684-688.

use crate::stats::distribution::normal_quantile;
use crate::stats::line;

/// Square root of pi / 2: an SD is that times the mean absolute deviation, for a normal variable.
const HALF_PI_ROOT: f64 = 1.253_314_137_315_500_3;

/// Residual SD as a straight line of the mean rise, never under a quarter of the overall one.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub(super) struct Spread {
    base: f64,
    per_mg_dl: f64,
    least: f64,
}

impl Spread {
    /// From residuals about fitted rises; the fit took `taken` degrees of freedom.
    pub(super) fn of(fitted: &[f64], residuals: &[f64], taken: f64) -> Spread {
        let n = fitted.len() as f64;
        let free = (n - taken).max(1.0);
        let absolute: Vec<f64> = residuals.iter().map(|e| e.abs() * (n / free).sqrt()).collect();
        let overall = absolute.iter().sum::<f64>() / n * HALF_PI_ROOT;
        let least = overall / 4.0;
        match line::weighted(fitted, &absolute, &vec![1.0; fitted.len()]) {
            Ok(s) if s.slope > 0.0 => Spread {
                base: s.intercept * HALF_PI_ROOT,
                per_mg_dl: s.slope * HALF_PI_ROOT,
                least,
            },
            _ => Spread { base: overall, per_mg_dl: 0.0, least },
        }
    }

    /// The SD of a meal whose mean rise this is.
    pub(super) fn at(&self, fitted: f64) -> f64 {
        // Exact data would divide by zero.
        (self.base + self.per_mg_dl * fitted).max(self.least).max(1e-6)
    }

    /// The spread of meals read with another gain.
    pub(super) fn scaled(&self, factor: f64) -> Spread {
        // A line of the mean keeps its slope when both are scaled.
        Spread { base: self.base * factor, least: self.least * factor, ..*self }
    }
}

/// `seen` without the sensor's noise, at least a quarter of it.
pub(super) fn without_noise(seen: f64, noise_sd: f64) -> f64 {
    (seen * seen - noise_sd * noise_sd).max(seen * seen / 16.0).sqrt()
}

/// Shape of a gamma variable: (mean / SD)², at least 1.
pub(super) fn shape(mean: f64, sd: f64) -> f64 {
    let ratio = mean.max(0.0) / sd;
    (ratio * ratio).max(1.0)
}

/// The rise that a meal of this mean and SD stays under with probability `p`.
pub(super) fn quantile(mean: f64, sd: f64, p: f64) -> f64 {
    let k = shape(mean, sd);
    let root = 1.0 - 1.0 / (9.0 * k) + normal_quantile(p) / (3.0 * k.sqrt());
    let root = root.max(0.0);
    mean + sd * k.sqrt() * (root * root * root - 1.0)
}

/// The standard normal deviate of a rise: how far it lies from what such a meal does.
pub(super) fn deviate(mean: f64, sd: f64, rise: f64) -> f64 {
    let k = shape(mean, sd);
    let cube = 1.0 + (rise - mean) / (sd * k.sqrt());
    3.0 * k.sqrt() * (libm::cbrt(cube.max(0.0)) - 1.0 + 1.0 / (9.0 * k))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::distribution::{chi2_quantile, normal_cdf};

    /// A gamma variable of shape k and mean 1 is chi-squared with 2k degrees over 2k.
    #[test]
    fn quantiles_are_those_of_a_gamma_variable() {
        for (k, p) in [(1.0, 0.8), (4.0, 0.5), (4.0, 0.8), (4.0, 0.95), (25.0, 0.8)] {
            let exact = chi2_quantile(p, 2.0 * k) / (2.0 * k);
            let found = quantile(1.0, 1.0 / f64::sqrt(k), p);
            assert!((found - exact).abs() < 0.01 * exact, "{k} {p}: {found} {exact}");
            let back = normal_cdf(deviate(1.0, 1.0 / f64::sqrt(k), found));
            assert!((back - p).abs() < 1e-12);
        }
    }

    #[test]
    fn noise_never_takes_all() {
        assert_eq!(without_noise(5.0, 3.0), 4.0);
        assert_eq!(without_noise(4.0, 100.0), 1.0);
    }
}
