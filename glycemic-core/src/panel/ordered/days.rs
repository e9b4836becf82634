//! A trace cut at local midnights, days of 23 and 25 hours included.

use std::ops::Range;

use crate::clock::{DAY_MS, LocalClock, Resolved};
use crate::series::TraceView;

/// One local day that holds readings.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Day {
    /// Number of the local calendar day.
    pub(crate) number: i64,
    /// Instant of local midnight.
    pub(crate) start_ms: i64,
    /// Instant of the next.
    pub(crate) end_ms: i64,
    /// Its readings.
    pub(crate) range: Range<usize>,
    /// Whether it has 24 hours: then its clock is taken to be the same all day.
    pub(crate) even: bool,
}

impl Day {
    /// The instant of a full local hour of this day.
    pub(crate) fn at_hour(&self, clock: &LocalClock, hour: i64) -> i64 {
        let plain = self.start_ms + hour * 3_600_000;
        if self.even {
            return plain;
        }
        match clock.resolve(self.number * DAY_MS + hour * 3_600_000) {
            Resolved::One(ms) | Resolved::Doubled(ms, _) => ms,
            Resolved::Missing => plain,
        }
    }

    /// Readings that the day could hold.
    pub(crate) fn possible(&self, nominal_ms: i64) -> usize {
        ((self.end_ms - self.start_ms) / nominal_ms).max(0) as usize
    }
}

/// The local days that hold readings, in order. A reading belongs to the day that began last:
/// where the clock is put back over midnight, the day does not begin twice.
pub(crate) fn days(view: TraceView<'_>, clock: &LocalClock) -> Vec<Day> {
    let times = view.times_ms();
    let mut out: Vec<Day> = Vec::new();
    let mut from = 0;
    while from < times.len() {
        let number = clock.day(times[from]).max(out.last().map_or(i64::MIN, |d| d.number + 1));
        let (start_ms, end_ms) = (clock.day_start(number), clock.day_start(number + 1));
        let rest = &times[from..];
        let to = from + rest.partition_point(|&t| t < end_ms).max(1);
        let even = end_ms - start_ms == DAY_MS;
        out.push(Day { number, start_ms, end_ms, range: from..to, even });
        from = to;
    }
    out
}
