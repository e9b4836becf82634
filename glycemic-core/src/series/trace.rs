//! The sensor's trace: strictly rising times, finite positive values.
//!
//! # Units
//! Times are UTC milliseconds since 1970, glucose mg/dL.
//!
//! A trace is made by [`Builder`](super::Builder), which cleans and reports. It remembers the
//! unit it was measured in, since a reading is classified in that unit.

use super::cleaning::{Censor, Cleaning};
use crate::clock::LocalClock;
use crate::error::Error;
use crate::interpolate::{self, Method};
use crate::units::Unit;

/// A sensor's readings over time.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Trace {
    pub(super) times_ms: Vec<i64>,
    pub(super) glucose_mg_dl: Vec<f64>,
    pub(super) censor: Vec<Censor>,
    pub(super) unit: Unit,
    pub(super) nominal_ms: i64,
    pub(super) clock: Option<LocalClock>,
    pub(super) breaks_ms: Vec<i64>,
    pub(super) cleaning: Cleaning,
}

impl Trace {
    /// Number of readings.
    pub fn len(&self) -> usize {
        self.times_ms.len()
    }

    /// Whether there is none; a built trace has at least one.
    pub fn is_empty(&self) -> bool {
        self.times_ms.is_empty()
    }

    /// Times of the readings, UTC milliseconds, strictly rising.
    pub fn times_ms(&self) -> &[i64] {
        &self.times_ms
    }

    /// Glucose in mg/dL.
    pub fn glucose_mg_dl(&self) -> &[f64] {
        &self.glucose_mg_dl
    }

    /// What building found and did.
    pub fn cleaning(&self) -> &Cleaning {
        &self.cleaning
    }

    /// The unit the readings were measured in.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// The local clock, if a zone is known or times were naive.
    pub fn clock(&self) -> Option<&LocalClock> {
        self.clock.as_ref()
    }

    /// The nominal interval: the median step, in milliseconds.
    pub fn nominal_ms(&self) -> i64 {
        self.nominal_ms
    }

    /// Instants at which another sensor took over; nothing is joined across them.
    pub fn breaks_ms(&self) -> &[i64] {
        &self.breaks_ms
    }

    /// The same trace with the instants at which another sensor took over.
    pub fn with_breaks(mut self, mut breaks_ms: Vec<i64>) -> Trace {
        breaks_ms.sort_unstable();
        breaks_ms.dedup();
        self.breaks_ms = breaks_ms;
        self
    }

    /// All of it as a view.
    pub fn view(&self) -> TraceView<'_> {
        TraceView { trace: self, from: 0, to: self.len() }
    }

    /// The readings from `from_ms` up to and including `to_ms`.
    pub fn window(&self, from_ms: i64, to_ms: i64) -> TraceView<'_> {
        let from = self.times_ms.partition_point(|&t| t < from_ms);
        let to = self.times_ms.partition_point(|&t| t <= to_ms).max(from);
        TraceView { trace: self, from, to }
    }

    /// Glucose at other times; missing outside the span, across a gap longer than `max_gap_min`
    /// minutes, and across a change of sensor.
    ///
    /// # Errors
    /// `max_gap_min` is not finite or not positive.
    pub fn at(
        &self,
        query_ms: &[i64],
        method: Method,
        max_gap_min: f64,
    ) -> Result<Vec<Option<f64>>, Error> {
        crate::error::require_within("max_gap_min", max_gap_min, 1e-3, 1e7)?;
        let max_gap = (max_gap_min * 60_000.0) as i64;
        if self.breaks_ms.is_empty() {
            return interpolate::at(&self.times_ms, &self.glucose_mg_dl, query_ms, method, max_gap);
        }
        let mut edges = vec![i64::MIN];
        edges.extend(&self.breaks_ms);
        edges.push(i64::MAX);
        let mut out = vec![None; query_ms.len()];
        for pair in edges.windows(2) {
            let part = self.window(pair[0], pair[1].saturating_sub(1));
            let wanted: Vec<usize> = (0..query_ms.len())
                .filter(|&i| pair[0] <= query_ms[i] && query_ms[i] < pair[1])
                .collect();
            if part.is_empty() || wanted.is_empty() {
                continue;
            }
            let times: Vec<i64> = wanted.iter().map(|&i| query_ms[i]).collect();
            let found =
                interpolate::at(part.times_ms(), part.glucose_mg_dl(), &times, method, max_gap)?;
            for (i, value) in wanted.into_iter().zip(found) {
                out[i] = value;
            }
        }
        Ok(out)
    }

    /// Glucose on an even grid of `step_min` minutes from the first reading on; the times and the
    /// values, missing where [`at`](Trace::at) would be.
    ///
    /// # Errors
    /// A step under a second or over a day, or as [`at`](Trace::at).
    pub fn resample(
        &self,
        step_min: f64,
        method: Method,
        max_gap_min: f64,
    ) -> Result<(Vec<i64>, Vec<Option<f64>>), Error> {
        crate::error::require_within("step_min", step_min, 1.0 / 60.0, 1440.0)?;
        let step = (step_min * 60_000.0).round() as i64;
        let (first, last) = (self.times_ms[0], self.times_ms[self.len() - 1]);
        let times: Vec<i64> = (0..=(last - first) / step).map(|i| first + i * step).collect();
        let values = self.at(&times, method, max_gap_min)?;
        Ok((times, values))
    }
}

/// A stretch of a trace, borrowed.
#[derive(Clone, Copy, Debug)]
pub struct TraceView<'a> {
    trace: &'a Trace,
    from: usize,
    to: usize,
}

impl<'a> TraceView<'a> {
    /// Number of readings.
    pub fn len(&self) -> usize {
        self.to - self.from
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.from == self.to
    }

    /// Times, UTC milliseconds.
    pub fn times_ms(&self) -> &'a [i64] {
        &self.trace.times_ms[self.from..self.to]
    }

    /// Glucose in mg/dL.
    pub fn glucose_mg_dl(&self) -> &'a [f64] {
        &self.trace.glucose_mg_dl[self.from..self.to]
    }

    /// Which readings stand at a limit of the sensor.
    pub fn censor(&self) -> &'a [Censor] {
        &self.trace.censor[self.from..self.to]
    }

    /// The trace it is a part of.
    pub fn trace(&self) -> &'a Trace {
        self.trace
    }

    /// The readings `from..to` of this view; what lies past its end is left out.
    pub(crate) fn slice(self, from: usize, to: usize) -> TraceView<'a> {
        let to = to.min(self.len());
        TraceView { trace: self.trace, from: self.from + from.min(to), to: self.from + to }
    }

    /// Whether a change of sensor lies between `from_ms` and `to_ms`.
    pub fn spans_break(&self, from_ms: i64, to_ms: i64) -> bool {
        self.trace.breaks_ms.iter().any(|&b| from_ms < b && b <= to_ms)
    }
}
