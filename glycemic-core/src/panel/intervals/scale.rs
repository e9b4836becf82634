//! The scale on which a measure's interval is symmetric.
//!
//! # Method
//! Levels as they are; what can't be negative by its logarithm; what lies between 0 and 100 by its
//! log odds, so that no end leaves the range.

use crate::panel::registry::Id;

/// How a measure is transformed before its spread is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Scale {
    /// Not at all.
    Plain,
    /// By its logarithm.
    Log,
    /// By its log odds; from 0 to 100.
    Logit,
}

impl Scale {
    pub(crate) fn of(id: Id) -> Scale {
        use Id::*;
        match id {
            MeanMgDl | MeanMmolL | GmiPct | GmiMmolMol | Ea1cPct | OvernightMgDl | FastingMgDl
            | DawnRiseMgDl => Scale::Plain,
            VeryLowPct | LowPct | InRangePct | HighPct | VeryHighPct | Below70Pct | Above180Pct
            | TightRangePct | GradeHypoPct | GradeEuPct | GradeHyperPct | TimeInFluctuationPct
            | Gri | GriHypoComponent | GriHyperComponent | Cogi => Scale::Logit,
            _ => Scale::Log,
        }
    }

    /// The value on the scale, kept `edge` (relative to the value's range) off its ends.
    pub(crate) fn forward(self, x: f64, edge: f64) -> f64 {
        match self {
            Scale::Plain => x,
            Scale::Log => libm::log(x.max(edge)),
            Scale::Logit => {
                let share = x.clamp(edge, 100.0 - edge) / 100.0;
                libm::log(share / (1.0 - share))
            }
        }
    }

    pub(crate) fn back(self, y: f64) -> f64 {
        match self {
            Scale::Plain => y,
            Scale::Log => libm::exp(y),
            Scale::Logit => 100.0 / (1.0 + libm::exp(-y)),
        }
    }

    /// The words for the method.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Scale::Plain => "",
            Scale::Log => " on the log scale",
            Scale::Logit => " on the logit scale",
        }
    }
}
