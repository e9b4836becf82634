//! Relative difference and bias of paired values.
//!
//! # Method
//! Absolute relative difference of a pair: 100 |m - r| / r, relative to the reference; MARD is
//! its mean. Bias is the mean of m - r, relative bias the mean of 100 (m - r) / r. Intervals
//! use Student's t on the means of clusters (for one person: local days), so that bursts of
//! pairs don't count as independent; without clusters each pair stands for itself.
//!
//! # Source
//! MARD in context: Reiterer et al., J Diabetes Sci Technol 2017; 11:59-67. Cluster means:
//! the between-within argument of Bland and Altman, Stat Methods Med Res 1999; 8:135-160.

use crate::error::{Error, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::t_two_sided;
use crate::stats::{moments, quantile};

/// Clusters under which no interval is given.
const MIN_CLUSTERS: usize = 3;

/// What paired values say about a device.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// Pairs.
    pub n: usize,
    /// Independent clusters of pairs.
    pub clusters: usize,
    /// Mean absolute relative difference, %.
    pub mard_pct: Estimate,
    /// Median absolute relative difference, %; no interval.
    pub median_ard_pct: f64,
    /// Mean difference measured - reference, mg/dL.
    pub bias_mg_dl: Estimate,
    /// Mean relative difference, %.
    pub bias_pct: Estimate,
    /// Standard deviation of the differences, n-1, mg/dL; `None` for one pair.
    pub sd_mg_dl: Option<f64>,
    /// Standard error of the bias, clustered; `None` for one cluster.
    pub bias_se_mg_dl: Option<f64>,
}

/// Summarises n pairs of glucose in mg/dL; `cluster` gives each pair's cluster, or is `None`.
///
/// # Errors
/// No pair, different lengths, NaN, a reference that is not positive, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::summary;
/// let s = summary(&[100.0, 200.0], &[110.0, 180.0], None, 0.95)?;
/// assert_eq!((s.mard_pct.value, s.bias_mg_dl.value), (Some(10.0), Some(-5.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn summary(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Summary, Error> {
    super::check_pairs(reference, measured)?;
    require_within("level", level, 0.5, 0.999)?;
    if reference.is_empty() {
        return Err(Error::TooFewValues { measure: "agreement summary", needed: 1, got: 0 });
    }
    let each: Vec<i64> = (0..reference.len() as i64).collect();
    let cluster = cluster.unwrap_or(&each);
    require_same_len("cluster", reference.len(), cluster.len())?;
    let pairs = || reference.iter().zip(measured);
    let difference: Vec<f64> = pairs().map(|(r, m)| m - r).collect();
    let relative: Vec<f64> = pairs().map(|(r, m)| 100.0 * (m - r) / r).collect();
    let absolute: Vec<f64> = relative.iter().map(|d| d.abs()).collect();
    let bias = mean_estimate(&difference, cluster, level);
    Ok(Summary {
        n: reference.len(),
        clusters: bias.0.n,
        mard_pct: mean_estimate(&absolute, cluster, level).0,
        median_ard_pct: quantile::median(&absolute).unwrap_or(f64::NAN),
        bias_pct: mean_estimate(&relative, cluster, level).0,
        bias_mg_dl: bias.0,
        sd_mg_dl: moments::sd(&difference),
        bias_se_mg_dl: bias.1,
    })
}

/// Mean with a cluster-robust interval, and its standard error.
///
/// Linearised: the residual sums of clusters, with G/(G-1), Student's t on G-1.
pub fn mean_estimate(values: &[f64], cluster: &[i64], level: f64) -> (Estimate, Option<f64>) {
    let mean = moments::mean(values).unwrap_or(f64::NAN);
    let mut sums: std::collections::BTreeMap<i64, f64> = std::collections::BTreeMap::new();
    for (v, c) in values.iter().zip(cluster) {
        *sums.entry(*c).or_insert(0.0) += v - mean;
    }
    let g = sums.len();
    let method = if g == values.len() {
        "mean of pairs, Student's t"
    } else {
        "mean of pairs clustered by day, Student's t"
    };
    if g < MIN_CLUSTERS {
        let reason =
            Reason::count("too_few_clusters", "independent days or pairs", g, MIN_CLUSTERS);
        let e = Estimate {
            value: Some(mean),
            ..Estimate::missing(level, method, g, MIN_CLUSTERS, reason)
        };
        return (e, None);
    }
    let n = values.len() as f64;
    let gf = g as f64;
    let squares: f64 = sums.values().map(|s| s * s).sum();
    let se = (gf / (gf - 1.0) * squares).sqrt() / n;
    let half = t_two_sided(level, gf - 1.0) * se;
    (
        Estimate::new(mean, mean - half, mean + half, level, method, g).needing(MIN_CLUSTERS),
        Some(se),
    )
}
