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

/// What goes with every trace that was set.
pub const CAUTION: &str = "agreement with this meter is not agreement with blood; the device itself \
                           keeps showing what it showed, and its alarms stay as they are";

impl OfSensor {
    /// What is done to its readings, in words.
    fn told(&self) -> String {
        let c = self.correction;
        let what = match self.kind {
            Kind::None => {
                let why = self.reason.as_ref().map_or("no reason given", |r| r.text.as_str());
                return format!("left as it is: {why}");
            }
            Kind::Offset => format!("less {:.1} mg/dL", c.offset_mg_dl),
            Kind::Gain => format!("divided by {:.3}", c.gain),
            Kind::Both => format!("less {:.1} mg/dL, divided by {:.3}", c.offset_mg_dl, c.gain),
            Kind::DriftingOffset => format!(
                "less {:.1} mg/dL and {:.2} mg/dL per day since insertion",
                c.offset_mg_dl, c.drift_mg_dl_day
            ),
        };
        format!("{what}, by {} pairs with the meter", self.pairs_ms.len())
    }
}

impl Recalibration {
    /// What [`apply`](Recalibration::apply) does, a line for each sensor, then what was taken for
    /// granted.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::{sensor::{Pairing, recalibrate}, series::{Builder, Meter}, Unit};
    /// let times: Vec<i64> = (0..10).map(|i| 1_741_046_400_000 + i * 300_000).collect();
    /// let trace = Builder::new(Unit::MgDl).build(&times, &[115.0; 10])?;
    /// let found = recalibrate(&Meter::default(), &trace, Pairing::default(), 6.0, 0.95)?;
    /// assert!(found.provenance()[0].starts_with("sensor 1: left as it is: needs at least 8 pairs"));
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn provenance(&self) -> Vec<String> {
        let numbered = self.sensors.iter().enumerate();
        let mut lines: Vec<String> =
            numbered.map(|(i, s)| format!("sensor {}: {}", i + 1, s.told())).collect();
        lines.push(format!(
            "sensor read {} min after the meter; meter's bias taken as {} %, give or take {} %",
            self.pairing.lag_min, self.pairing.meter_bias_pct, self.meter_bias_sd_pct
        ));
        lines.push(CAUTION.to_string());
        lines
    }

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
