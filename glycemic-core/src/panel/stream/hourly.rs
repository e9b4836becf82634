//! The lability index of a stream: the first reading of each hour, joined exactly.
//!
//! # Method
//! As [`lability`](crate::panel::ordered::lability). Where a stream goes before this one, the
//! first reading of an hour may turn out not to be the first; so the pair that it is part of is
//! kept apart.

use crate::estimate::Reason;
use crate::panel::options::Lability;
use crate::panel::ordered::lability::{Pairs, Scale, hour};

use super::Reading;

/// Hourly readings so far.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Hourly {
    first: Option<Reading>,
    second: Option<Reading>,
    last: Option<Reading>,
    /// Pairs from the second on.
    pairs: Pairs,
}

impl Hourly {
    pub(super) fn add(&mut self, reading: Reading, scale: Scale) {
        let Some(last) = self.last else {
            (self.first, self.last) = (Some(reading), Some(reading));
            return;
        };
        if hour(reading.time_ms) == hour(last.time_ms) {
            return;
        }
        if self.second.is_none() {
            self.second = Some(reading);
        } else {
            add_pair(&mut self.pairs, last, reading, scale);
        }
        self.last = Some(reading);
    }

    pub(super) fn join(&mut self, later: &Hourly, scale: Scale) {
        for reading in [later.first, later.second].into_iter().flatten() {
            self.add(reading, scale);
        }
        if later.second.is_some() {
            self.pairs.join(&later.pairs);
            self.last = later.last;
        }
    }

    pub(super) fn index(&self, scale: Scale) -> Result<f64, Reason> {
        let mut all = self.pairs;
        if let (Some(first), Some(second)) = (self.first, self.second) {
            add_pair(&mut all, first, second, scale);
        }
        all.index(Lability::WeeklySum)
    }
}

fn add_pair(pairs: &mut Pairs, from: Reading, to: Reading, scale: Scale) {
    pairs.add(to.time_ms - from.time_ms, to.code - from.code, scale);
}
