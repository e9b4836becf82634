//! A limit rule: so many mg/dL below a switch point, so many percent from it on.
//!
//! # Method
//! The switch may look at the reference (meters, most tables) or at the measured value (the
//! strata of integrated continuous glucose monitors); the percentage is always of the
//! reference. Limits count as within, with a hundred-millionth of slack for decimals. Shares by
//! rules with different switches are not comparable, so a rule prints all of itself.
//!
//! # Source
//! ISO 15197:2013, 6.3.3 (15 mg/dL, 15 %, 100 mg/dL); 20/20 with switch 80 is common practice,
//! no source.

use super::within::{Share, share_of_hits};
use crate::error::{Error, require_same_len, require_within};

/// Slack of a comparison: 15 % of a decimal reference is not exact in binary.
pub(super) const SLACK: f64 = 1e-8;

/// Which of the two values decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum By {
    /// The reference value.
    #[default]
    Reference,
    /// The device's value.
    Measured,
}

impl By {
    /// The value that decides.
    pub fn of(self, reference: f64, measured: f64) -> f64 {
        match self {
            By::Reference => reference,
            By::Measured => measured,
        }
    }
}

/// Limits of a share.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Rule {
    /// Limit below the switch, mg/dL.
    pub mg_dl: f64,
    /// Limit from the switch on, percent of the reference.
    pub pct: f64,
    /// From here on the percentage holds, mg/dL; 0 for a percentage everywhere.
    pub switch_mg_dl: f64,
    /// Whose value is set against the switch.
    pub switch_by: By,
}

impl Rule {
    /// `limit` mg/dL below `switch_mg_dl` of the reference and `limit` % from it on.
    pub fn same(limit: f64, switch_mg_dl: f64) -> Rule {
        Rule { mg_dl: limit, pct: limit, switch_mg_dl, switch_by: By::Reference }
    }

    /// The rule in full, such as `15 mg/dL below, 15 % from 100 mg/dL of reference`.
    pub fn words(&self) -> String {
        if self.switch_mg_dl == 0.0 {
            return format!("{} % of the reference", self.pct);
        }
        let whose = match self.switch_by {
            By::Reference => "reference",
            By::Measured => "measured value",
        };
        format!(
            "{} mg/dL below, {} % from {} mg/dL of {whose}",
            self.mg_dl, self.pct, self.switch_mg_dl
        )
    }

    /// Whether one pair lies within the limits.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::agreement::rule::{By, Rule};
    /// let rule = Rule::same(15.0, 100.0);
    /// assert!(rule.holds(99.0, 114.0) && !rule.holds(100.0, 115.1));
    /// // By the measured value the same pair is judged by 15 mg/dL.
    /// assert!(Rule { switch_by: By::Measured, ..rule }.holds(104.0, 89.0));
    /// ```
    pub fn holds(&self, reference: f64, measured: f64) -> bool {
        let low = self.switch_by.of(reference, measured) < self.switch_mg_dl;
        let limit = if low { self.mg_dl } else { self.pct / 100.0 * reference };
        (measured - reference).abs() <= limit + SLACK
    }

    /// Share of n >= 1 pairs within the limits; `cluster` gives each pair's cluster, or is `None`.
    ///
    /// # Errors
    /// No pair, different lengths, NaN, negative limits, a level outside 0.5-0.999.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::agreement::rule::Rule;
    /// let share = Rule::same(20.0, 80.0).share(&[70.0, 200.0], &[90.0, 241.0], None, 0.95)?;
    /// assert_eq!((share.count, share.n), (1, 2));
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn share(
        &self,
        reference: &[f64],
        measured: &[f64],
        cluster: Option<&[i64]>,
        level: f64,
    ) -> Result<Share, Error> {
        super::check_pairs(reference, measured)?;
        self.check()?;
        require_within("level", level, 0.5, 0.999)?;
        if let Some(cluster) = cluster {
            require_same_len("cluster", reference.len(), cluster.len())?;
        }
        let hits: Vec<bool> =
            reference.iter().zip(measured).map(|(&r, &m)| self.holds(r, m)).collect();
        share_of_hits(&hits, cluster, level)
    }

    pub(super) fn check(&self) -> Result<(), Error> {
        let limits =
            [("mg_dl", self.mg_dl), ("pct", self.pct), ("switch_mg_dl", self.switch_mg_dl)];
        limits.into_iter().try_for_each(|(name, value)| require_within(name, value, 0.0, 1e6))
    }
}
