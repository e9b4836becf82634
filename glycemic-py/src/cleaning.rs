//! What building a trace found, its gaps, and how complete it is.

use pyo3::prelude::*;

use crate::record::record;

record! {
    /// A reading that is not in the trace, and why.
    PyRejected as "Rejected" {
        /// Position in the input, counted from 0.
        index: usize,
        /// Its time, UTC milliseconds.
        time_ms: i64,
        /// Its value in mg/dL, if it had one.
        glucose_mg_dl: Option<f64>,
        /// ``missing`` or ``conflict``.
        why: String,
    }
}

record! {
    /// What building a trace found and did.
    PyCleaning as "Cleaning" {
        /// Readings given.
        given: usize,
        /// Readings kept.
        kept: usize,
        /// Readings that came before an earlier one and were sorted into place.
        sorted: usize,
        /// Repeats of a reading: same instant, same value.
        duplicates: usize,
        /// Readings at an instant that already had another value; the first given was kept.
        conflicts: usize,
        /// Readings without a value.
        missing: usize,
        /// Readings shown as below the sensor's limit.
        censored_low: usize,
        /// Readings shown as above the sensor's limit.
        censored_high: usize,
        /// Every reading set aside, with its place in the input.
        rejected: Vec<Py<PyRejected>>,
    }
}

record! {
    /// A stretch without readings.
    PyGap as "Gap" {
        /// Last reading before it, UTC milliseconds.
        from_ms: i64,
        /// First reading after it, UTC milliseconds.
        to_ms: i64,
        /// Its length in minutes.
        minutes: f64,
        /// Whether another sensor took over in it.
        sensor_change: bool,
    }
}

record! {
    /// How complete a trace is.
    PyCoverage as "Coverage" {
        /// Readings.
        n: usize,
        /// Readings that the span could hold.
        possible: usize,
        /// Share of the possible readings, in percent, at most 100.
        active_pct: f64,
        /// Span from first to last reading, in days of 24 h.
        days: f64,
        /// Nominal interval in minutes.
        nominal_interval_min: f64,
        /// Number of gaps.
        gaps: usize,
        /// The longest gap in minutes; 0 if there is none.
        longest_gap_min: f64,
    }
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyCleaning>()?;
    m.add_class::<PyRejected>()?;
    m.add_class::<PyCoverage>()?;
    m.add_class::<PyGap>()
}
