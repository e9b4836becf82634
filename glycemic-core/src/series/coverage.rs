//! How much of the time there are readings, and where there are none.
//!
//! # Method
//! A gap is an interval longer than three nominal intervals (the nominal interval is the median
//! step), or one in which another sensor took over. Active time is the readings over what the
//! span from first to last reading could hold at the nominal interval.
//!
//! # Source
//! Active time: Battelino et al., Diabetes Care 2019; 42:1593-1603. The three intervals: a
//! convention of this library.

use super::trace::{Trace, TraceView};

/// A stretch without readings.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Gap {
    /// Last reading before it, UTC milliseconds.
    pub from_ms: i64,
    /// First reading after it.
    pub to_ms: i64,
    /// Its length in minutes.
    pub minutes: f64,
    /// Whether another sensor took over in it.
    pub sensor_change: bool,
}

/// How complete a trace is.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Coverage {
    /// Readings.
    pub n: usize,
    /// Readings that the span could hold.
    pub possible: usize,
    /// Share of the possible readings, in percent, at most 100.
    pub active_pct: f64,
    /// Span from first to last reading, in days of 24 h.
    pub days: f64,
    /// Nominal interval in minutes.
    pub nominal_interval_min: f64,
    /// Number of gaps.
    pub gaps: usize,
    /// The longest gap in minutes; 0 if there is none.
    pub longest_gap_min: f64,
}

impl TraceView<'_> {
    /// The gaps, in order.
    pub fn gaps(&self) -> Vec<Gap> {
        let limit = 3 * self.trace().nominal_ms();
        let mut gaps = Vec::new();
        for pair in self.times_ms().windows(2) {
            let sensor_change = self.spans_break(pair[0], pair[1]);
            if pair[1] - pair[0] > limit || sensor_change {
                let minutes = (pair[1] - pair[0]) as f64 / 60_000.0;
                gaps.push(Gap { from_ms: pair[0], to_ms: pair[1], minutes, sensor_change });
            }
        }
        gaps
    }

    /// How complete it is.
    pub fn coverage(&self) -> Coverage {
        let times = self.times_ms();
        let nominal = self.trace().nominal_ms();
        let span = match (times.first(), times.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0,
        };
        let possible =
            if times.is_empty() { 0 } else { (span as f64 / nominal as f64).round() as usize + 1 };
        let gaps = self.gaps();
        Coverage {
            n: times.len(),
            possible,
            active_pct: if possible == 0 {
                0.0
            } else {
                (100.0 * times.len() as f64 / possible as f64).min(100.0)
            },
            days: span as f64 / 86_400_000.0,
            nominal_interval_min: nominal as f64 / 60_000.0,
            gaps: gaps.len(),
            longest_gap_min: gaps.iter().map(|g| g.minutes).fold(0.0, f64::max),
        }
    }
}

impl Trace {
    /// The gaps, in order.
    pub fn gaps(&self) -> Vec<Gap> {
        self.view().gaps()
    }

    /// How complete it is.
    pub fn coverage(&self) -> Coverage {
        self.view().coverage()
    }
}
