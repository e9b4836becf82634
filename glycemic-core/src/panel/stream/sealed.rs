//! What a stream has taken in for good: sums that later readings don't change.

use super::Reading;
use super::cycles::Cycles;
use super::hourly::Hourly;
use crate::panel::ordered::lability::Scale;
use crate::panel::ordered::number::{Differences, Spread};
use crate::panel::ordered::segments::GAP_INTERVALS;
use crate::panel::ordered::steps::Steps;

/// Sums over the readings from the first to the last sealed one.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Sealed {
    /// Their sum and squares: the threshold of MAGE, and Poincare's SD2.
    pub(super) readings: Spread<i64>,
    pub(super) steps: Steps<i64>,
    pub(super) cycles: Cycles,
    pub(super) hourly: Hourly,
    /// Differences at each lag, without those whose earlier instant lies before the first
    /// reading: a stream that goes before this one settles them.
    pub(super) lags: [Differences<i64>; 4],
    last: Option<Reading>,
}

impl Sealed {
    pub(super) fn add(&mut self, reading: Reading, scale: Scale) {
        self.readings.add(reading.code);
        let joined = self.step_to(reading, scale);
        self.cycles.add(reading.code, joined);
        self.hourly.add(reading, scale);
        self.last = Some(reading);
    }

    /// Adds the step to the next reading, unless a gap lies between; whether there was none.
    fn step_to(&mut self, next: Reading, scale: Scale) -> bool {
        let Some(last) = self.last else { return false };
        let dt_ms = next.time_ms - last.time_ms;
        let joined = dt_ms <= GAP_INTERVALS * scale.nominal_ms;
        if joined {
            self.steps.add(dt_ms, next.code - last.code, scale.step_mg_dl);
        }
        joined
    }

    /// Joins what comes later and begins with `first`, except for the lags across the border.
    pub(super) fn join(&mut self, later: &Sealed, first: Reading, scale: Scale) {
        self.readings.join(&later.readings);
        let joined = self.step_to(first, scale);
        self.steps.join(&later.steps);
        self.cycles.join(&later.cycles, joined);
        self.hourly.join(&later.hourly, scale);
        for (mine, theirs) in self.lags.iter_mut().zip(&later.lags) {
            mine.join(theirs);
        }
        self.last = later.last;
    }
}
