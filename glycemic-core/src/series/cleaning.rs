//! What building a trace found: readings at a limit, readings set aside, and how many of each.

/// Whether a reading is a value or stands at a limit of the device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum Censor {
    /// A value.
    #[default]
    None,
    /// At or below the lower limit.
    Low,
    /// At or above the upper limit.
    High,
}

/// A reading that is not in the trace, and why.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Rejected {
    /// Position in the input, counted from 0.
    pub index: usize,
    /// Its time, UTC milliseconds.
    pub time_ms: i64,
    /// Its value in mg/dL, if it had one.
    pub glucose_mg_dl: Option<f64>,
    /// `missing` or `conflict`.
    pub why: String,
}

/// What building a trace found and did.
#[derive(Clone, Debug, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Cleaning {
    /// Readings given.
    pub given: usize,
    /// Readings kept.
    pub kept: usize,
    /// Readings that came before an earlier one and were sorted into place.
    pub sorted: usize,
    /// Repeats of a reading: same instant, same value.
    pub duplicates: usize,
    /// Readings at an instant that already had another value; the first given was kept.
    pub conflicts: usize,
    /// Readings without a value.
    pub missing: usize,
    /// Readings shown as below the sensor's limit.
    pub censored_low: usize,
    /// Readings shown as above the sensor's limit.
    pub censored_high: usize,
    /// Every reading set aside, with its place in the input.
    pub rejected: Vec<Rejected>,
}
