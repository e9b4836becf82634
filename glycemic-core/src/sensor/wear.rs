//! What happened to the sensor, and so which sensor was worn when.
//!
//! # Method
//! A sensor is worn from an `inserted` event to the next `removed` or `inserted` one, or to the
//! trace's last reading. Without `inserted` events, sensors run from the first reading to each
//! change of sensor that the trace knows.

use crate::align::{EventKind, WearEvent};
use crate::series::Trace;

/// The wear of one sensor.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Worn {
    pub(super) sensor: Option<String>,
    /// Insertion, or the first reading where no insertion was noted.
    pub(super) from_ms: i64,
    /// End, not included.
    pub(super) to_ms: i64,
    /// Whether the insertion was noted.
    pub(super) noted: bool,
    /// Whether it was noted as failed.
    pub(super) failed: bool,
}

/// The sensors worn, in order of time.
pub(super) fn sensors(trace: &Trace, events: &[WearEvent]) -> Vec<Worn> {
    let times = trace.times_ms();
    let (Some(&first), Some(&last)) = (times.first(), times.last()) else { return Vec::new() };
    let end = last + trace.nominal_ms();
    let mut sorted: Vec<&WearEvent> = events.iter().collect();
    sorted.sort_by_key(|e| e.time_ms);
    let inserted: Vec<&&WearEvent> =
        sorted.iter().filter(|e| e.kind == EventKind::Inserted && e.time_ms < end).collect();
    let starts: Vec<(i64, Option<String>, bool)> = if inserted.is_empty() {
        // A change at or before the first reading begins no further sensor.
        let later = trace.breaks_ms().iter().copied().filter(|b| *b > first);
        let all = std::iter::once(first).chain(later);
        all.map(|t| (t, None, false)).collect()
    } else {
        inserted.iter().map(|e| (e.time_ms, e.sensor.clone(), true)).collect()
    };
    let mut out = Vec::new();
    for (i, (from_ms, sensor, noted)) in starts.iter().enumerate() {
        let next = starts.get(i + 1).map_or(end, |s| s.0);
        let within = |e: &&&WearEvent| *from_ms < e.time_ms && e.time_ms <= next;
        let removed = sorted.iter().filter(within).find(|e| e.kind == EventKind::Removed);
        let to_ms = removed.map_or(next, |e| e.time_ms).min(next);
        let failed = sorted.iter().filter(within).any(|e| e.kind == EventKind::Failed);
        out.push(Worn { sensor: sensor.clone(), from_ms: *from_ms, to_ms, noted: *noted, failed });
    }
    out
}
