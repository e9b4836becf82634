//! Which sensor was worn when.

use crate::series::Trace;

/// One sensor's part of a trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Worn {
    /// When it was inserted, UTC ms; `None` when the trace doesn't say.
    pub inserted_ms: Option<i64>,
    /// Its first reading, UTC ms.
    pub first_ms: i64,
    /// Its last reading, UTC ms.
    pub last_ms: i64,
}

impl Worn {
    /// From when its days of wear count: insertion, or else the first reading. UTC ms.
    pub fn start_ms(&self) -> i64 {
        self.inserted_ms.unwrap_or(self.first_ms)
    }
}

/// The sensors of a trace, in order: one for each stretch between the instants at which a sensor was
/// inserted ([`Trace::with_breaks`]) that holds a reading.
///
/// # Example
/// ```
/// use glycemic_core::{sensor::sensors, series::Builder, Unit};
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> = (0..10).map(|i| start + i * 300_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &[100.0; 10])?;
/// // A sensor worn before the trace begins, then another.
/// let worn = sensors(&trace.with_breaks(vec![start + 1_400_000]));
/// assert_eq!((worn.len(), worn[0].inserted_ms, worn[1].first_ms), (2, None, times[5]));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn sensors(trace: &Trace) -> Vec<Worn> {
    let breaks = trace.breaks_ms();
    let starts = std::iter::once(None).chain(breaks.iter().copied().map(Some));
    let ends = breaks.iter().copied().chain([i64::MAX]);
    let mut out = Vec::new();
    for (inserted_ms, end) in starts.zip(ends) {
        let part = trace.window(inserted_ms.unwrap_or(i64::MIN), end.saturating_sub(1));
        if let (Some(&first_ms), Some(&last_ms)) = (part.times_ms().first(), part.times_ms().last())
        {
            out.push(Worn { inserted_ms, first_ms, last_ms });
        }
    }
    out
}
