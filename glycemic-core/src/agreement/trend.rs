//! Whether differences depend on the level, and limits that follow it.
//!
//! # Method
//! Difference on mean of the two: D = b0 + b1 A, least squares; b1 is the proportional bias.
//! Size of its residuals on A: |D - fit| = c0 + c1 A. Limits at A: b0 + b1 A -/+
//! z sqrt(π/2) (c0 + c1 A), since the mean size of a normal deviation is sqrt(2/π) SD. With
//! clusters (subjects, days) the slopes' standard errors come from cluster sums, with Student's
//! t on clusters less one; else on n - 2. A slope b1 also arises when the two methods have
//! unequal errors, without any proportional bias: [`deming`](super::deming) tells them apart.
//!
//! # Source
//! Bland and Altman, Stat Methods Med Res 1999; 8: 135-160 (from memory).

use std::collections::BTreeMap;

use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{t_cdf, t_two_sided};
use crate::stats::moments;

/// Fewest pairs, and fewest clusters for an interval.
const MIN_PAIRS: usize = 4;
const MIN_CLUSTERS: usize = 3;

/// Differences against the level.
#[derive(Clone, Debug, PartialEq)]
pub struct Trend {
    /// Pairs.
    pub n: usize,
    /// Difference at level 0, in the unit of the values.
    pub intercept: f64,
    /// Proportional bias: difference for each unit of level.
    pub slope: Estimate,
    /// Two-sided p-value of no proportional bias.
    pub slope_p: Option<f64>,
    /// Mean size of a residual at level 0.
    pub spread_intercept: f64,
    /// Growth of that size for each unit of level.
    pub spread_slope: Estimate,
    /// Two-sided p-value of an even spread.
    pub spread_slope_p: Option<f64>,
}

impl Trend {
    /// Bias, lower and upper limit at a level (mean of the two methods), `z` SDs apart from it.
    ///
    /// `None` where the fitted spread is negative: the line does not hold there.
    pub fn at(&self, level: f64, z: f64) -> Option<(f64, f64, f64)> {
        let bias = self.intercept + self.slope.value? * level;
        let size = self.spread_intercept + self.spread_slope.value? * level;
        let half = z * (0.5 * std::f64::consts::PI).sqrt() * size;
        (half >= 0.0).then_some((bias, bias - half, bias + half))
    }
}

/// The trend of n >= 4 pairs; `cluster` marks pairs that belong together.
///
/// # Errors
/// Fewer than four pairs, different lengths, NaN, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::trend;
/// // A device that reads 10 % high: the difference is 2 / 21 of the mean of the two.
/// let r = [50.0, 100.0, 150.0, 200.0];
/// let t = trend(&r, &r.map(|v| 1.1 * v), None, 0.95)?;
/// assert!((t.slope.value.unwrap() - 2.0 / 21.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn trend(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Trend, Error> {
    require_same_len("measured", reference.len(), measured.len())?;
    require_all_finite("reference", reference)?;
    require_all_finite("measured", measured)?;
    require_within("level", level, 0.5, 0.999)?;
    if let Some(cluster) = cluster {
        require_same_len("cluster", reference.len(), cluster.len())?;
    }
    let n = reference.len();
    if n < MIN_PAIRS {
        return Err(Error::TooFewValues { measure: "trend", needed: MIN_PAIRS, got: n });
    }
    let pairs = || reference.iter().zip(measured);
    let a: Vec<f64> = pairs().map(|(r, m)| 0.5 * (r + m)).collect();
    let d: Vec<f64> = pairs().map(|(r, m)| m - r).collect();
    let bias = regress(&a, &d, cluster, level);
    let fitted = |x: f64| bias.intercept + bias.slope.value.unwrap_or(0.0) * x;
    let size: Vec<f64> = a.iter().zip(&d).map(|(a, d)| (d - fitted(*a)).abs()).collect();
    let spread = regress(&a, &size, cluster, level);
    Ok(Trend {
        n,
        intercept: bias.intercept,
        slope: bias.slope,
        slope_p: bias.p,
        spread_intercept: spread.intercept,
        spread_slope: spread.slope,
        spread_slope_p: spread.p,
    })
}

struct Regressed {
    intercept: f64,
    slope: Estimate,
    p: Option<f64>,
}

fn regress(x: &[f64], y: &[f64], cluster: Option<&[i64]>, level: f64) -> Regressed {
    let n = x.len();
    let mean = |v: &[f64]| moments::mean(v).unwrap_or(f64::NAN);
    let (mx, my) = (mean(x), mean(y));
    let method = match cluster {
        None => "least squares, Student's t on n - 2",
        Some(_) => "least squares, cluster sums, Student's t",
    };
    let Some(slope) = moments::slope(x, y) else {
        let reason = Reason::plain("no_spread", "all pairs are at one level");
        let slope = Estimate::missing(level, method, n, MIN_PAIRS, reason);
        return Regressed { intercept: my, slope, p: None };
    };
    let sxx: f64 = x.iter().map(|v| (v - mx) * (v - mx)).sum();
    let residual = |i: usize| y[i] - my - slope * (x[i] - mx);
    let size = n as f64;
    let (se, df, pieces) = match cluster {
        None => {
            let squares: f64 = (0..n).map(|i| residual(i) * residual(i)).sum();
            ((squares / (size - 2.0) / sxx).sqrt(), size - 2.0, n)
        }
        Some(cluster) => {
            let mut sums: BTreeMap<i64, f64> = BTreeMap::new();
            for (i, c) in cluster.iter().enumerate() {
                *sums.entry(*c).or_insert(0.0) += residual(i) * (x[i] - mx);
            }
            let g = sums.len() as f64;
            let squares: f64 = sums.values().map(|s| s * s).sum();
            let small = g / (g - 1.0) * (size - 1.0) / (size - 2.0);
            ((small * squares).sqrt() / sxx, g - 1.0, sums.len())
        }
    };
    let intercept = my - slope * mx;
    if pieces < MIN_CLUSTERS {
        let reason = Reason::count("too_few_clusters", "clusters", pieces, MIN_CLUSTERS);
        let missing = Estimate::missing(level, method, pieces, MIN_CLUSTERS, reason);
        return Regressed { intercept, slope: Estimate { value: Some(slope), ..missing }, p: None };
    }
    let half = t_two_sided(level, df) * se;
    // Residuals of 0 leave nothing to test against.
    let p = (se > 0.0).then(|| (2.0 * t_cdf(-(slope / se).abs(), df)).min(1.0));
    let slope = Estimate::new(slope, slope - half, slope + half, level, method, pieces);
    Regressed { intercept, slope, p }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Residuals of +1 and -1 in turn about D = 2 + 0.1 A: the limits are 1.96 sqrt(π/2) apart
    /// from the line, near enough for residuals that hardly tilt it.
    #[test]
    fn limits_follow_the_line() {
        let level: Vec<f64> = (0..40).map(|i| 50.0 + 5.0 * f64::from(i / 2)).collect();
        let off = |i: usize| 2.0 + 0.1 * level[i] + if i.is_multiple_of(2) { 1.0 } else { -1.0 };
        let r: Vec<f64> = (0..40).map(|i| level[i] - 0.5 * off(i)).collect();
        let m: Vec<f64> = (0..40).map(|i| level[i] + 0.5 * off(i)).collect();
        let t = trend(&r, &m, None, 0.95).unwrap();
        assert!((t.slope.value.unwrap() - 0.1).abs() < 1e-9);
        let (bias, low, high) = t.at(100.0, 1.96).unwrap();
        let half = 1.96 * (0.5 * std::f64::consts::PI).sqrt();
        assert!((bias - 12.0).abs() < 1e-9 && (high - bias - half).abs() < 1e-9);
        assert!((bias - low - half).abs() < 1e-9);
        assert!(t.slope_p.unwrap() < 1e-6);
    }

    /// Each pair twice says no more than once: clusters see that, n - 2 does not.
    #[test]
    fn clusters_are_not_fooled_by_copies() {
        let (r, m) = ([50.0, 90.0, 130.0, 170.0, 210.0], [55.0, 88.0, 139.0, 171.0, 226.0]);
        let (rr, mm) = ([r, r].concat(), [m, m].concat());
        let own: Vec<i64> = (0..10).map(|i| i % 5).collect();
        let width = |t: Trend| t.slope.high.unwrap() - t.slope.low.unwrap();
        let plain = width(trend(&rr, &mm, None, 0.95).unwrap());
        let wide = width(trend(&rr, &mm, Some(&own), 0.95).unwrap());
        assert!(wide > 1.2 * plain, "{wide} {plain}");
        let two: Vec<i64> = (0..10).map(|i| i % 2).collect();
        let t = trend(&rr, &mm, Some(&two), 0.95).unwrap();
        assert_eq!((t.slope.low, t.slope_p), (None, None));
        assert_eq!(t.slope.reason.unwrap().had, Some(2.0));
    }

    #[test]
    fn one_level_has_no_trend() {
        let t = trend(&[100.0; 5], &[101.0; 5], None, 0.95).unwrap();
        assert_eq!((t.slope.value, t.at(100.0, 1.96)), (None, None));
        assert_eq!(trend(&[1.0; 3], &[1.0; 3], None, 0.95).unwrap_err().code(), "too_few_values");
    }
}
