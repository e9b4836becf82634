//! Published numerical criteria, a row each, with where each number comes from.
//!
//! # Method
//! A share is set against the limit as the source says: the observed share itself (meters), a
//! one-sided 95 % lower bound (integrated continuous monitors), none at all, or at most so many
//! percent. Limits of a rule count as within. Strata are by the reference for meters and by the
//! device's own value for integrated monitors. The source of the bound criteria prescribes no
//! method for the bound: here it is exact binomial, on the effective number of pairs when
//! clusters (persons, days) are given; without them it takes pairs as independent and is too
//! favourable when a person gave several.
//!
//! A verdict speaks of the numbers only. What a standard asks of a study's design is in
//! [`design`](super::design).
//!
//! # Source
//! ISO 15197:2003 and 2013; FDA guidances for self-monitoring and point-of-care meters (2016,
//! re-issued 2020); 21 CFR 862.1355(b)(1)(v), Federal Register 2022; 87: 9237-9239. Each row
//! says what of it was read and what is from memory.

use super::within::{Share, share_of_hits};
use crate::error::{Error, require_same_len, require_within};
use crate::stats::binomial::clopper_pearson_effective;

pub use super::icgm::{Rates, icgm};
pub use super::meters::{fda_point_of_care, fda_self_monitoring, iso15197_2003, iso15197_2013};

/// What a source compares with its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Kind {
    /// The observed share reaches the limit.
    ShareAtLeast,
    /// The one-sided 95 % lower bound of the share lies above the limit.
    BoundAbove,
    /// The observed share does not pass the limit; 0 means not a single pair.
    ShareAtMost,
}

/// What the numbers say against a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Verdict {
    /// The limit is kept.
    NumericalLimitsMet,
    /// It is not.
    NumericalLimitsNotMet,
    /// Too few pairs for the source's rule.
    TooFew,
}

/// How sure the numbers of a row are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Status {
    /// Read in the source or in an open paper that quotes it.
    Confirmed,
    /// From memory: read the source before a claim rests on it.
    Unconfirmed,
}

/// One criterion against the data.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Row {
    /// Standard.
    pub standard: &'static str,
    /// Clause or item in it.
    pub item: &'static str,
    /// The rule in words.
    pub rule: String,
    /// What is compared with the limit.
    pub kind: Kind,
    /// Pairs that count (`ShareAtMost`: that offend).
    pub count: usize,
    /// Pairs in the stratum.
    pub n: usize,
    /// The share with its two-sided interval; `None` for an empty stratum.
    pub observed: Option<Share>,
    /// The same in percent.
    pub percent: Option<f64>,
    /// One-sided 95 % lower bound in percent, for `BoundAbove`.
    pub bound_pct: Option<f64>,
    /// Limit in percent.
    pub limit_pct: f64,
    /// What the numbers say.
    pub verdict: Verdict,
    /// Further pairs it takes at the least: up to the sample size of the source, or, at the
    /// observed share, until the bound passes. `None`: at this share no number of pairs would do.
    pub pairs_more: Option<usize>,
    /// Source of the numbers.
    pub source: &'static str,
    /// How sure the limit is.
    pub status: Status,
    /// What in the row is from memory or a choice of this library; empty when nothing is.
    pub note: &'static str,
}

/// A criterion before it meets data.
pub(super) struct Criterion {
    pub(super) standard: &'static str,
    pub(super) item: &'static str,
    pub(super) rule: String,
    pub(super) kind: Kind,
    pub(super) limit_pct: f64,
    /// Fewest pairs, 0 when the source names none.
    pub(super) pairs: usize,
    pub(super) source: &'static str,
    pub(super) status: Status,
    pub(super) note: &'static str,
}

impl Criterion {
    pub(super) fn judge(
        self,
        hits: &[bool],
        cluster: Option<&[i64]>,
        level: f64,
    ) -> Result<Row, Error> {
        let n = hits.len();
        let observed = if n == 0 { None } else { Some(share_of_hits(hits, cluster, level)?) };
        let limit = self.limit_pct / 100.0;
        let mut row = Row {
            standard: self.standard,
            item: self.item,
            rule: self.rule,
            kind: self.kind,
            count: observed.as_ref().map_or(0, |s| s.count),
            n,
            percent: observed.as_ref().map(|s| 100.0 * s.fraction),
            observed,
            bound_pct: None,
            limit_pct: self.limit_pct,
            verdict: Verdict::TooFew,
            pairs_more: Some(self.pairs.max(1).saturating_sub(n)),
            source: self.source,
            status: self.status,
            note: self.note,
        };
        let Some(share) = row.observed.clone() else {
            if self.kind == Kind::BoundAbove {
                row.pairs_more = more_pairs(1.0, 1.0, limit).map(|pairs| pairs.max(1));
            }
            return Ok(row);
        };
        let met = match self.kind {
            // The slack is for 95 % of n, which is not exact in binary.
            Kind::ShareAtLeast => share.count as f64 >= limit * n as f64 - 1e-9,
            Kind::ShareAtMost => share.count as f64 <= limit * n as f64 + 1e-9,
            Kind::BoundAbove => {
                let bound = lower_bound(share.fraction, share.n_effective)?;
                row.bound_pct = Some(100.0 * bound);
                bound > limit
            }
        };
        if self.kind == Kind::BoundAbove {
            let weight = share.n_effective / n as f64;
            // Could even a faultless device pass with so few?
            let fewest = more_pairs(1.0, weight, limit).unwrap_or(usize::MAX);
            row.verdict = verdict(met, n >= fewest);
            row.pairs_more = if met {
                Some(0)
            } else {
                more_pairs(share.fraction, weight, limit).map(|pairs| pairs.saturating_sub(n))
            };
        } else {
            // An offence where none is allowed is one in any number of pairs.
            let sure = self.kind == Kind::ShareAtMost && limit == 0.0 && !met;
            row.verdict = verdict(met, sure || n >= self.pairs);
        }
        Ok(row)
    }
}

fn verdict(met: bool, enough: bool) -> Verdict {
    match (enough, met) {
        (false, _) => Verdict::TooFew,
        (true, true) => Verdict::NumericalLimitsMet,
        (true, false) => Verdict::NumericalLimitsNotMet,
    }
}

/// The exact one-sided 95 % lower bound, on an effective number of pairs.
fn lower_bound(fraction: f64, n_effective: f64) -> Result<f64, Error> {
    Ok(clopper_pearson_effective(fraction * n_effective, n_effective, 0.90)?.0)
}

/// Pairs from which the bound passes at a given share, each worth `weight` independent ones.
fn more_pairs(fraction: f64, weight: f64, limit: f64) -> Option<usize> {
    const MOST: usize = 10_000_000;
    let passes = |pairs: usize| {
        lower_bound(fraction, pairs as f64 * weight).is_ok_and(|bound| bound > limit)
    };
    if !passes(MOST) {
        return None;
    }
    let (mut fails, mut enough) = (0, MOST);
    while enough - fails > 1 {
        let middle = fails + (enough - fails) / 2;
        if passes(middle) {
            enough = middle;
        } else {
            fails = middle;
        }
    }
    Some(enough)
}

pub(super) fn check(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<(), Error> {
    super::check_pairs(reference, measured)?;
    require_within("level", level, 0.5, 0.999)?;
    if let Some(cluster) = cluster {
        require_same_len("cluster", reference.len(), cluster.len())?;
    }
    if reference.is_empty() {
        return Err(Error::TooFewValues { measure: "criteria", needed: 1, got: 0 });
    }
    Ok(())
}

#[cfg(test)]
#[path = "standards_tests.rs"]
mod tests;
