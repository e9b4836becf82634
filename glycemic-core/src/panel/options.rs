//! The choices where publications disagree. The defaults are the conventions of this library.

use std::str::FromStr;

use crate::error::{Error, require_within};

/// An enum of named choices: the words are those of Python, JSON and C.
macro_rules! choices {
    ($(#[$doc:meta])* $name:ident, $argument:literal, $words:literal,
     { $($(#[$item_doc:meta])* $item:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub enum $name {
            $($(#[$item_doc])* #[cfg_attr(feature = "serde", serde(rename = $word))] $item,)+
        }

        impl $name {
            /// The word for this choice.
            pub fn name(self) -> &'static str {
                match self { $($name::$item => $word,)+ }
            }
        }

        impl FromStr for $name {
            type Err = Error;

            fn from_str(word: &str) -> Result<Self, Error> {
                match word {
                    $($word => Ok($name::$item),)+
                    _ => Err(Error::UnknownChoice {
                        name: $argument, got: word.to_string(), choices: $words,
                    }),
                }
            }
        }
    };
}

choices! {
    /// How GRADE sums up the readings.
    GradeRule, "grade", "mean, median", {
        /// Mean over readings (Hill 2007, abstract).
        #[default]
        Mean = "mean",
        /// Median over readings (Hill 2011, table).
        Median = "median",
    }
}

choices! {
    /// Which printed constants the risk function takes; results differ by about 0.1 %.
    RiskConstants, "risk_constants", "mg_dl, mmol_l", {
        /// 1.509, 1.084 and 5.381, for mg/dL (Kovatchev 1997).
        #[default]
        MgDl = "mg_dl",
        /// 1.794, 1.026 and 1.861, for mmol/L (Kovatchev 1997).
        MmolL = "mmol_l",
    }
}

choices! {
    /// The SD that an excursion must exceed to count in MAGE.
    MageSd, "mage_sd", "whole_trace, mean_of_days", {
        /// SD of all readings.
        #[default]
        WholeTrace = "whole_trace",
        /// Mean of the SDs of the local days (Service 1970 takes the SD of the same 24 h).
        MeanOfDays = "mean_of_days",
    }
}

choices! {
    /// Which pairs of readings 24 h apart count in MODD.
    ModdPairs, "modd_pairs", "all, whole_days_only", {
        /// All.
        #[default]
        All = "all",
        /// Without pairs whose earlier reading lies in the first, partial local day.
        WholeDaysOnly = "whole_days_only",
    }
}

choices! {
    /// How long readings in a row last: three readings 5 min apart are 15 min or 10 min. The
    /// papers don't say.
    EpisodeLength, "episode_length", "count_times_interval, span", {
        /// Readings times the nominal interval.
        #[default]
        CountTimesInterval = "count_times_interval",
        /// From the first reading to the last.
        Span = "span",
    }
}

choices! {
    /// What the lability index is.
    Lability, "lability", "weekly_sum, mean_per_pair", {
        /// Sum over a week (Ryan 2004).
        #[default]
        WeeklySum = "weekly_sum",
        /// Mean over pairs, which does not grow with the length of the trace.
        MeanPerPair = "mean_per_pair",
    }
}

/// Choices for a panel.
///
/// # Example
/// ```
/// use glycemic_core::panel::{GradeRule, Options};
/// let options = Options { grade: GradeRule::Median, ..Options::default() };
/// assert!(options.check().is_ok());
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(default))]
pub struct Options {
    /// Level at which the M-value is 0, mg/dL: 120 (Schlichtkrull 1965); later papers take 80 to
    /// 131.
    pub m_reference_mg_dl: f64,
    /// How GRADE sums up the readings.
    pub grade: GradeRule,
    /// Constants of the risk function.
    pub risk_constants: RiskConstants,
    /// The period that `active_pct` is a share of: from this instant on and before that one, UTC
    /// milliseconds. Without it, from the first to the last reading.
    pub reporting_period_ms: Option<(i64, i64)>,
    /// The SD that an excursion must exceed to count in MAGE.
    pub mage_sd: MageSd,
    /// Which pairs count in MODD.
    pub modd_pairs: ModdPairs,
    /// How long readings in a row last.
    pub episode_length: EpisodeLength,
    /// What the lability index is.
    pub lability: Lability,
}

impl Default for Options {
    fn default() -> Options {
        Options {
            m_reference_mg_dl: super::risk::M_REFERENCE_MG_DL,
            grade: GradeRule::default(),
            risk_constants: RiskConstants::default(),
            reporting_period_ms: None,
            mage_sd: MageSd::default(),
            modd_pairs: ModdPairs::default(),
            episode_length: EpisodeLength::default(),
            lability: Lability::default(),
        }
    }
}

impl Options {
    /// Refuses what can't be meant.
    ///
    /// # Errors
    /// An M reference that is not from 20 to 600 mg/dL (NaN included), or a reporting period
    /// that does not end after its start.
    pub fn check(&self) -> Result<(), Error> {
        require_within("m_reference_mg_dl", self.m_reference_mg_dl, 20.0, 600.0)?;
        match self.reporting_period_ms {
            Some((from, to)) if to <= from => Err(Error::OutOfRange {
                name: "reporting_period_ms",
                index: Some(1),
                value: to as f64,
                low: from as f64 + 1.0,
                high: i64::MAX as f64,
            }),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_meant_is_refused() {
        let with = |m: f64, period| Options {
            m_reference_mg_dl: m,
            reporting_period_ms: period,
            ..Options::default()
        };
        assert_eq!(with(f64::NAN, None).check().unwrap_err().argument(), Some("m_reference_mg_dl"));
        assert_eq!(with(0.0, None).check().unwrap_err().code(), "out_of_range");
        let error = with(120.0, Some((5, 5))).check().unwrap_err();
        assert_eq!((error.argument(), error.index()), (Some("reporting_period_ms"), Some(1)));
        assert!(with(80.0, Some((5, 6))).check().is_ok());
    }

    #[test]
    fn words_go_there_and_back() {
        for rule in [GradeRule::Mean, GradeRule::Median] {
            assert_eq!(rule.name().parse(), Ok(rule));
        }
        for length in [EpisodeLength::CountTimesInterval, EpisodeLength::Span] {
            assert_eq!(length.name().parse(), Ok(length));
        }
        let error = "modal".parse::<GradeRule>().unwrap_err();
        assert_eq!(error.to_string(), "grade must be one of mean, median, got \"modal\"");
    }
}
