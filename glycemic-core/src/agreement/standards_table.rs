//! Criteria against data as a table, and the words that stand for what the numbers say.

use super::standards::{Kind, Row, Status, Verdict};
use super::within::Share;
use crate::error::Error;
use crate::table::Table;

impl Verdict {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::NumericalLimitsMet => "numerical_limits_met",
            Verdict::NumericalLimitsNotMet => "numerical_limits_not_met",
            Verdict::TooFew => "too_few",
        }
    }
}

impl Kind {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Kind::ShareAtLeast => "share_at_least",
            Kind::BoundAbove => "bound_above",
            Kind::ShareAtMost => "share_at_most",
        }
    }
}

impl Status {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Status::Confirmed => "confirmed",
            Status::Unconfirmed => "unconfirmed",
        }
    }
}

/// A row for each criterion; shares, bounds and limits in percent.
///
/// # Errors
/// None that rows of [`standards`](super::standards) can cause.
pub fn to_table(rows: &[Row]) -> Result<Table, Error> {
    let text = |f: &dyn Fn(&Row) -> String| rows.iter().map(|r| Some(f(r))).collect::<Vec<_>>();
    let number = |f: &dyn Fn(&Row) -> Option<f64>| rows.iter().map(f).collect::<Vec<_>>();
    let share = |f: fn(&Share) -> f64| number(&|r| r.observed.as_ref().map(f));
    let count = |f: fn(&Row) -> Option<usize>| {
        rows.iter().map(|r| f(r).map(|n| n as i64)).collect::<Vec<_>>()
    };
    let mut t = Table::new();
    t.push_text("standard", text(&|r| r.standard.to_string()))?;
    t.push_text("item", text(&|r| r.item.to_string()))?;
    t.push_text("rule", text(&|r| r.rule.clone()))?;
    t.push_text("kind", text(&|r| r.kind.word().to_string()))?;
    t.push_i64("count", count(|r| Some(r.count)))?;
    t.push_i64("n", count(|r| Some(r.n)))?;
    t.push_f64("n_effective", share(|s| s.n_effective))?;
    t.push_f64("percent", number(&|r| r.percent))?;
    t.push_f64("percent_low", share(|s| 100.0 * s.low))?;
    t.push_f64("percent_high", share(|s| 100.0 * s.high))?;
    t.push_f64("bound_pct", number(&|r| r.bound_pct))?;
    t.push_f64("limit_pct", number(&|r| Some(r.limit_pct)))?;
    t.push_text("verdict", text(&|r| r.verdict.word().to_string()))?;
    t.push_i64("pairs_more", count(|r| r.pairs_more))?;
    t.push_text("source", text(&|r| r.source.to_string()))?;
    t.push_text("status", text(&|r| r.status.word().to_string()))?;
    t.push_text("note", text(&|r| r.note.to_string()))?;
    Ok(t)
}
