//! Where a trace is whole: stretches of one sensor, and stretches without a gap.
//!
//! # Method
//! A change of sensor, or an interval longer than three nominal intervals, ends a stretch. The
//! three intervals: a convention of this library.

use std::ops::Range;

use crate::series::TraceView;

/// Nominal intervals that a step may last without being a gap.
pub(crate) const GAP_INTERVALS: i64 = 3;

/// The stretches of a trace, as ranges of its readings.
pub(crate) struct Stretches {
    /// Readings of one sensor, gaps or not.
    pub(crate) sensors: Vec<Range<usize>>,
    /// Readings of one sensor without a gap.
    pub(crate) segments: Vec<Range<usize>>,
}

impl Stretches {
    pub(crate) fn of(view: TraceView<'_>) -> Stretches {
        let times = view.times_ms();
        let sensors = sensors(times, view.trace().breaks_ms());
        let limit = view.trace().nominal_ms().saturating_mul(GAP_INTERVALS);
        let mut segments = Vec::new();
        for sensor in &sensors {
            let mut start = sensor.start;
            for (i, pair) in times[sensor.clone()].windows(2).enumerate() {
                if pair[1] - pair[0] > limit {
                    let end = sensor.start + i + 1;
                    segments.push(start..end);
                    start = end;
                }
            }
            segments.push(start..sensor.end);
        }
        Stretches { sensors, segments }
    }

    /// The segment with most readings; of equals the first. Empty for no readings.
    pub(crate) fn longest(&self) -> Range<usize> {
        let mut longest = 0..0;
        for segment in &self.segments {
            if segment.len() > longest.len() {
                longest = segment.clone();
            }
        }
        longest
    }
}

/// A break at b parts the readings before b from those at or after it.
fn sensors(times: &[i64], breaks_ms: &[i64]) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut start = 0;
    for &b in breaks_ms {
        let end = times.partition_point(|&t| t < b);
        if end > start {
            out.push(start..end);
            start = end;
        }
    }
    if times.len() > start {
        out.push(start..times.len());
    }
    out
}
