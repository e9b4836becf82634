//! Published numerical limits, a row each.
//!
//! One person's sensor against a home meter can't pass a device standard: a verdict speaks of
//! the numbers only, and the standard's design requirements are listed as not met.
//!
//! # Source
//! ISO 15197:2013, clause 6.3.3 (clause number from memory): at least 95 % within 15 mg/dL
//! below 100 mg/dL of the reference and within 15 % at or above it.

use super::within::{Share, within};
use crate::error::Error;

/// What the numbers say against a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Verdict {
    /// The observed share reaches the limit.
    NumericalLimitsMet,
    /// It does not.
    NumericalLimitsNotMet,
    /// Too few pairs for the standard's rule.
    TooFew,
}

/// One criterion of a standard against the data.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Criterion {
    /// Standard and rule.
    pub rule: String,
    /// Observed share with its interval.
    pub observed: Share,
    /// Share that the rule asks for.
    pub required: f64,
    /// What the numbers say.
    pub verdict: Verdict,
    /// Pairs that are missing for the standard's sample size.
    pub pairs_more: usize,
    /// Design requirements of the source that such data don't meet.
    pub not_met: Vec<String>,
}

/// The numerical limits of ISO 15197:2013 on n pairs in mg/dL.
///
/// # Errors
/// As [`within`].
pub fn iso15197(reference: &[f64], measured: &[f64], level: f64) -> Result<Vec<Criterion>, Error> {
    const PAIRS_PER_LOT: usize = 200;
    let observed = within(reference, measured, 15.0, 15.0, 100.0, None, level)?;
    let pairs_more = PAIRS_PER_LOT.saturating_sub(observed.n);
    let verdict = if pairs_more > 0 {
        Verdict::TooFew
    } else if observed.fraction >= 0.95 {
        Verdict::NumericalLimitsMet
    } else {
        Verdict::NumericalLimitsNotMet
    };
    let not_met = [
        "100 subjects, two results each, three strip lots (numbers from memory)",
        "a laboratory comparator of known trueness",
        "the prescribed distribution of values (from memory)",
    ];
    Ok(vec![Criterion {
        rule: "ISO 15197:2013 6.3.3: 95 % within 15 mg/dL (<100) or 15 % (>=100)".into(),
        observed,
        required: 0.95,
        verdict,
        pairs_more,
        not_met: not_met.map(String::from).to_vec(),
    }])
}
