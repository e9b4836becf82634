//! Limits of agreement.
//!
//! # Method
//! Bias is the mean of measured - reference; limits are bias -/+ 1.96 SD. Standard error of the
//! bias s / sqrt(n), of a limit s sqrt(1/n + 1.96^2 / (2 (n - 1))), both with Student's t on
//! n - 1. With `subject`, differences vary between and within subjects: one-way analysis of
//! variance with unequal numbers, SD = sqrt(between + within); intervals by the method of variance
//! estimates recovery. Exact intervals, other scales and a bootstrap: [`limits`](super::limits()).
//!
//! # Source
//! Bland and Altman, Lancet 1986; i:307-310; Stat Methods Med Res 1999; 8:135-160. Zou GY, Stat
//! Methods Med Res 2013; 22:630-642 (intervals with subjects).

use std::collections::BTreeMap;

use super::mover::{self, Piece};
use super::summary::mean_estimate;
use crate::error::{Error, require_same_len, require_within};
use crate::estimate::Estimate;
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;

/// Limits of agreement with their intervals.
#[derive(Clone, Debug, PartialEq)]
pub struct BlandAltman {
    /// Pairs.
    pub n: usize,
    /// Mean of measured - reference.
    pub bias: Estimate,
    /// Standard deviation of the differences (total, when there are subjects).
    pub sd: f64,
    /// Lower limit of agreement.
    pub lower: Estimate,
    /// Upper limit of agreement.
    pub upper: Estimate,
}

/// Limits of agreement of n >= 2 pairs; `subject` marks pairs of one subject.
///
/// # Errors
/// Fewer than two pairs (or subjects), different lengths, NaN.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::bland_altman;
/// let b = bland_altman(&[100.0, 100.0, 100.0], &[99.0, 100.0, 101.0], None, 0.95)?;
/// assert_eq!((b.bias.value, b.sd, b.upper.value), (Some(0.0), 1.0, Some(1.96)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn bland_altman(
    reference: &[f64],
    measured: &[f64],
    subject: Option<&[i64]>,
    level: f64,
) -> Result<BlandAltman, Error> {
    require_same_len("measured", reference.len(), measured.len())?;
    crate::error::require_all_finite("reference", reference)?;
    crate::error::require_all_finite("measured", measured)?;
    require_within("level", level, 0.5, 0.999)?;
    let d: Vec<f64> = measured.iter().zip(reference).map(|(m, r)| m - r).collect();
    match subject {
        None => independent(&d, level),
        Some(subject) => {
            require_same_len("subject", d.len(), subject.len())?;
            nested(&d, subject, level)
        }
    }
}

fn independent(d: &[f64], level: f64) -> Result<BlandAltman, Error> {
    let (Some(mean), Some(sd)) = (moments::mean(d), moments::sd(d)) else {
        return Err(Error::TooFewValues {
            measure: "limits of agreement",
            needed: 2,
            got: d.len(),
        });
    };
    let n = d.len() as f64;
    let t = t_two_sided(level, n - 1.0);
    let around = |value: f64, se: f64, what| {
        Estimate::new(value, value - t * se, value + t * se, level, what, d.len())
    };
    let se_limit = sd * (1.0 / n + 1.96 * 1.96 / (2.0 * (n - 1.0))).sqrt();
    Ok(BlandAltman {
        n: d.len(),
        bias: around(mean, sd / n.sqrt(), "mean, Student's t"),
        sd,
        lower: around(mean - 1.96 * sd, se_limit, "Bland and Altman 1999, approximate"),
        upper: around(mean + 1.96 * sd, se_limit, "Bland and Altman 1999, approximate"),
    })
}

/// Limits with the true value varying from pair to pair.
fn nested(d: &[f64], subject: &[i64], level: f64) -> Result<BlandAltman, Error> {
    let parts = components(d, subject)?;
    let bias = mean_estimate(d, subject, level).0;
    let [lower, upper] = mover::limits(&bias, parts.variance, &parts.pieces(), 1.96, level);
    Ok(BlandAltman { n: d.len(), bias, sd: parts.variance.sqrt(), lower, upper })
}

/// Variance components of differences that vary between and within subjects.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Components {
    pub(super) subjects: usize,
    ms_between: f64,
    pub(super) ms_within: f64,
    divisor: f64,
    df_within: f64,
    /// Between plus within.
    pub(super) variance: f64,
}

impl Components {
    /// The total variance as a sum of independent mean squares.
    pub(super) fn pieces(&self) -> [Piece; 2] {
        [
            Piece { value: self.ms_between / self.divisor, df: self.subjects as f64 - 1.0 },
            Piece { value: self.ms_within * (1.0 - 1.0 / self.divisor), df: self.df_within },
        ]
    }
}

/// One-way analysis of variance with unequal numbers.
pub(super) fn components(d: &[f64], subject: &[i64]) -> Result<Components, Error> {
    let mut groups: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for (v, s) in d.iter().zip(subject) {
        groups.entry(*s).or_default().push(*v);
    }
    let k = groups.len() as f64;
    let n = d.len() as f64;
    if groups.len() < 2 || d.len() <= groups.len() {
        return Err(Error::TooFewValues {
            measure: "limits of agreement with subjects",
            needed: 2,
            got: groups.len(),
        });
    }
    let mean = moments::mean(d).unwrap_or(f64::NAN);
    let (mut between, mut within, mut squares) = (0.0, 0.0, 0.0);
    for g in groups.values() {
        let m = g.len() as f64;
        let own = moments::mean(g).unwrap_or(f64::NAN);
        between += m * (own - mean) * (own - mean);
        within += g.iter().map(|v| (v - own) * (v - own)).sum::<f64>();
        squares += m * m;
    }
    let (ms_between, ms_within) = (between / (k - 1.0), within / (n - k));
    let divisor = (n * n - squares) / ((k - 1.0) * n);
    let variance = ((ms_between - ms_within) / divisor).max(0.0) + ms_within;
    Ok(Components {
        subjects: groups.len(),
        ms_between,
        ms_within,
        divisor,
        df_within: n - k,
        variance,
    })
}
