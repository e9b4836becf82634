//! A trace set by the meter, and what was done to it.
//!
//! # Method
//! Each sensor's readings are corrected by what was found for it, rounded to the step of the unit they
//! were measured in, and kept positive. Readings at a limit of the device stay there: what lies beyond
//! it isn't known. The device's clock, unit and changes of sensor are kept.

use super::candidates::{Correction, Kind};
use super::recalibration::{OfSensor, Recalibration};
use super::worn::Worn;
use crate::clock::DAY_MS;
use crate::error::Error;
use crate::series::{Builder, Censor, Trace};
use crate::stats::moments;

/// More than any device shows, mg/dL.
const MOST_MG_DL: f64 = 2000.0;

/// What was done to one sensor's readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Applied {
    /// Which sensor.
    pub sensor: Worn,
    /// What was set.
    pub kind: Kind,
    /// By how much.
    pub correction: Correction,
    /// When the sensor was read for the pairs it rests on, UTC ms.
    pub pairs_ms: Vec<i64>,
    /// Readings corrected.
    pub readings: usize,
}

/// The trace as set, with its history.
#[derive(Clone, Debug, PartialEq)]
pub struct Recalibrated {
    /// The trace.
    pub trace: Trace,
    /// What was done, sensor by sensor.
    pub applied: Vec<Applied>,
    /// Readings that would have come out below one step of the unit, or above 2000 mg/dL.
    pub clipped: usize,
    /// Readings at a limit of the device, left there.
    pub left_at_limit: usize,
    /// Mean of the trace less what it was, mg/dL, rounding included.
    pub mean_change_mg_dl: f64,
}

impl Recalibration {
    /// Sets `trace`, the one this was found for; the trace itself stays as it is.
    ///
    /// # Errors
    /// A trace whose middle value would no longer be that of a living person.
    ///
    /// # Example
    /// See [`recalibrate`](super::recalibrate).
    pub fn apply(&self, trace: &Trace) -> Result<Recalibrated, Error> {
        let set = |s: &&OfSensor| s.kind != Kind::None;
        let sensors: Vec<&OfSensor> = self.sensors.iter().filter(set).collect();
        let unit = trace.unit();
        let step = unit.step();
        let (mut clipped, mut left_at_limit) = (0, 0);
        let mut readings = vec![0; sensors.len()];
        let mut values = Vec::with_capacity(trace.len());
        let view = trace.view();
        for ((&time, &glucose), censor) in
            trace.times_ms().iter().zip(trace.glucose_mg_dl()).zip(view.censor())
        {
            let own =
                sensors.iter().position(|s| (s.sensor.first_ms..=s.sensor.last_ms).contains(&time));
            let Some(own) = own else {
                values.push(unit.from_mg_dl(glucose));
                continue;
            };
            if *censor != Censor::None {
                left_at_limit += 1;
                values.push(unit.from_mg_dl(glucose));
                continue;
            }
            readings[own] += 1;
            let days = (time - sensors[own].sensor.start_ms()) as f64 / DAY_MS as f64;
            let exact = unit.from_mg_dl(sensors[own].correction.corrected(glucose, days));
            let most = unit.from_mg_dl(MOST_MG_DL).floor();
            let kept = exact.clamp(step, most);
            clipped += usize::from(kept != exact);
            // Tenths are not exact: as the builder puts them on the step.
            let per_unit = (1.0 / step).round();
            values.push((kept * per_unit).round() / per_unit);
        }
        let built = Builder::new(unit)
            .clock(trace.clock().cloned())
            .build_censored(trace.times_ms(), &values, view.censor())?
            .with_breaks(trace.breaks_ms().to_vec());
        let mean = |t: &Trace| moments::mean(t.glucose_mg_dl()).unwrap_or(0.0);
        let applied = sensors.iter().zip(readings).map(|(s, readings)| Applied {
            sensor: s.sensor,
            kind: s.kind,
            correction: s.correction,
            pairs_ms: s.pairs_ms.clone(),
            readings,
        });
        Ok(Recalibrated {
            applied: applied.collect(),
            clipped,
            left_at_limit,
            mean_change_mg_dl: mean(&built) - mean(trace),
            trace: built,
        })
    }
}
