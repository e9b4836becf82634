//! Share of pairs within a number of mg/dL below a switch point and a percentage at or above it.
//!
//! # Method
//! A pair counts when |m - r| <= `mg_dl` (reference below the switch) or |m - r| <= `pct` % of
//! the reference (at or above it), limits included. The interval is exact binomial
//! (Clopper and Pearson 1934). With clusters the number of pairs is reduced to an effective
//! number by the design effect of the observed shares, never above the number of pairs.
//!
//! # Source
//! ISO 15197:2013 clause 6.3.3 for 15 mg/dL, 15 %, 100 mg/dL. 20/20 with switch 80 is common
//! practice, no source.

use std::collections::BTreeMap;

use super::rule::{By, Rule};
use crate::error::Error;
use crate::stats::binomial;

/// A share of pairs with its interval.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Share {
    /// Pairs within the limits.
    pub count: usize,
    /// Pairs.
    pub n: usize,
    /// Effective number of independent pairs; equals `n` without clusters.
    pub n_effective: f64,
    /// `count / n`, from 0 to 1.
    pub fraction: f64,
    /// Lower end of the exact interval.
    pub low: f64,
    /// Upper end of the exact interval.
    pub high: f64,
    /// Confidence level.
    pub level: f64,
    /// How the interval was made.
    pub method: String,
}

/// Whether one pair lies within the limits.
///
/// The comparison leaves a hundred-millionth of slack, since 15 % of a decimal reference is not
/// exact in binary.
pub fn is_within(reference: f64, measured: f64, mg_dl: f64, pct: f64, switch_mg_dl: f64) -> bool {
    Rule { mg_dl, pct, switch_mg_dl, switch_by: By::Reference }.holds(reference, measured)
}

/// Share of n pairs within the limits; `cluster` gives each pair's cluster (for one person the
/// local day), or is `None`.
///
/// # Errors
/// No pair, different lengths, NaN, negative limits, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::within;
/// // 15 mg/dL at 60, 15 % at 200: both exactly on the limit.
/// let s = within(&[60.0, 200.0], &[75.0, 230.0], 15.0, 15.0, 100.0, None, 0.95)?;
/// assert_eq!((s.count, s.fraction), (2, 1.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn within(
    reference: &[f64],
    measured: &[f64],
    mg_dl: f64,
    pct: f64,
    switch_mg_dl: f64,
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Share, Error> {
    let rule = Rule { mg_dl, pct, switch_mg_dl, switch_by: By::Reference };
    rule.share(reference, measured, cluster, level)
}

/// Share of hits with its interval, for checked inputs of one length.
pub(super) fn share_of_hits(
    hits: &[bool],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Share, Error> {
    let n = hits.len();
    if n == 0 {
        return Err(Error::TooFewValues { measure: "share within limits", needed: 1, got: 0 });
    }
    let count = hits.iter().filter(|&&h| h).count();
    let n_effective = cluster.map_or(n as f64, |cluster| effective(hits, cluster));
    let fraction = count as f64 / n as f64;
    let (low, high) = if cluster.is_none() {
        binomial::clopper_pearson(count, n, level)?
    } else {
        binomial::clopper_pearson_effective(fraction * n_effective, n_effective, level)?
    };
    let method = match cluster {
        None => "exact binomial, pairs taken as independent",
        Some(_) => {
            "exact binomial on the effective number of pairs, clustered by day, conservative"
        }
    };
    Ok(Share { count, n, n_effective, fraction, low, high, level, method: method.to_string() })
}

/// Pairs over the design effect: variance of the share with clusters over that without.
///
/// At 0 or 100 %, where the design effect can't be seen, the number of clusters stands in.
fn effective(hits: &[bool], cluster: &[i64]) -> f64 {
    let n = hits.len() as f64;
    let p = hits.iter().filter(|&&h| h).count() as f64 / n;
    let mut sums: BTreeMap<i64, f64> = BTreeMap::new();
    for (h, c) in hits.iter().zip(cluster) {
        *sums.entry(*c).or_insert(0.0) += f64::from(u8::from(*h)) - p;
    }
    let g = sums.len() as f64;
    if p <= 0.0 || p >= 1.0 || g < 2.0 {
        return g;
    }
    let robust = g / (g - 1.0) * sums.values().map(|s| s * s).sum::<f64>() / (n * n);
    let simple = p * (1.0 - p) / n;
    (n / (robust / simple).max(1.0)).max(1.0)
}
