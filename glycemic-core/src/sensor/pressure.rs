//! Dips that may be pressure on the sensor and not low glucose: found, weighed, never removed.
//!
//! A dip found here is *possibly pressure; a true low can't be excluded without a meter reading*.
//!
//! # Method
//! Lying on a sensor makes it read too low: a plateau with steep edges. Each place and length of
//! such a plateau is weighed against smooth glucose whose rate is bounded, under this sensor's own
//! noise (see the model in `model.rs`); the likelihood ratios, times how often such lows come, add
//! up to the odds of a dip. A meal or activity near lets glucose move faster beforehand; a meter
//! reading inside the dip multiplies the odds by how much better it fits the reading with the
//! depth put back than the reading as it is.
//!
//! Nothing is looked for where readings are missing from 45 min before a dip to 45 min after it,
//! where the reading stands at the sensor's limit, or across a change of sensor.
//!
//! # Limits of glucose
//! When all of a resting body's glucose production stops (about 2 mg/kg/min into 1.88 dL/kg) glucose
//! falls 1.1 mg/dL per minute; a rate of 2 either way, the fastest stratum of sensor tests, is
//! called faster than resting glucose. Rates here are over 10 min as read, so noise is in them.
//!
//! # Units
//! mg/dL, minutes, UTC milliseconds.
//!
//! # Source
//! Length (median 45, 5-95 % 30-70 min), depth (24, 10-48 mg/dL) and more of them at night:
//! Facchinetti et al., Diabetes Technol Ther 2016; 18: 264-272. Posture at night: Mensh et al.,
//! J Diabetes Sci Technol 2013; 7: 863-870, from memory. Production and volume: Dalla Man et al.,
//! IEEE Trans Biomed Eng 2007; 54: 1740-1749; the production at rest from memory. How many lows are
//! expected, the states of glucose and their weights are conventions of this library.

mod beside;
mod evidence;
mod model;
mod search;

pub use beside::{BESIDE, Beside, beside};
pub use evidence::{MeterNear, Says};

use self::evidence::Evidence;
use self::model::lenses;
use self::search::Search;
use super::noise::reckoned;
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::{Activity, Meal};
use crate::series::{Meter, Trace};
use crate::table::{Items, Table};

const MINUTE: i64 = 60_000;
/// What may be said of any dip here.
pub const CAUTION: &str = "possibly pressure; a true low can't be excluded without a meter reading";
/// A rate that resting glucose does not reach, mg/dL per minute.
pub const FAST_MG_DL_MIN: f64 = 2.0;
/// Readings further apart can't show a steep edge.
const MOST_INTERVAL_MIN: f64 = 10.0;

/// How dips are looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct PressureOptions {
    /// Pressure lows expected in a night (00:00-06:00).
    pub per_night: f64,
    /// Pressure lows expected in the rest of a day.
    pub per_day: f64,
    /// Only dips at least so probably pressure are given.
    pub least_probability: f64,
    /// Smallest depth given, mg/dL.
    pub least_depth_mg_dl: f64,
    /// Minutes by which the meter's clock is ahead of the sensor's.
    pub meter_ahead_min: f64,
    /// Confidence level of the depth.
    pub level: f64,
}

impl Default for PressureOptions {
    fn default() -> Self {
        PressureOptions {
            per_night: 0.3,
            per_day: 0.1,
            least_probability: 0.05,
            least_depth_mg_dl: 10.0,
            meter_ahead_min: 0.0,
            level: 0.95,
        }
    }
}

impl PressureOptions {
    fn check(&self) -> Result<(), Error> {
        require_within("per_night", self.per_night, 1e-6, 100.0)?;
        require_within("per_day", self.per_day, 1e-6, 100.0)?;
        require_within("least_probability", self.least_probability, 0.0, 1.0)?;
        require_within("least_depth_mg_dl", self.least_depth_mg_dl, 1.0, 1000.0)?;
        require_within("meter_ahead_min", self.meter_ahead_min, -1440.0, 1440.0)?;
        require_within("level", self.level, 0.5, 0.999)
    }
}

/// A dip that may be pressure.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Dip {
    /// Last reading before the fall, UTC milliseconds.
    pub start_ms: i64,
    /// First reading after the recovery, UTC milliseconds.
    pub end_ms: i64,
    /// From start to end.
    pub minutes: f64,
    /// How much is missing from the readings on its plateau if it is pressure, mg/dL; the middle
    /// of an edge that fades is in it, so it is a few mg/dL less than the full depth.
    pub depth_mg_dl: Estimate,
    /// How probable pressure is.
    pub probability: f64,
    /// Steepest fall over 10 min at its start, mg/dL per minute.
    pub fall_mg_dl_min: f64,
    /// Steepest recovery over 10 min at its end, mg/dL per minute.
    pub recovery_mg_dl_min: f64,
    /// Whether both are faster than resting glucose ([`FAST_MG_DL_MIN`]).
    pub faster_than_glucose: bool,
    /// Minutes that the fall took.
    pub fall_min: f64,
    /// Minutes that the recovery took.
    pub recovery_min: f64,
    /// Lowest reading in it, mg/dL.
    pub lowest_mg_dl: f64,
    /// Whether a reading in it is below 70 mg/dL (3.9 mmol/L).
    pub reads_low: bool,
    /// Whether it starts from 00:00 on and before 06:00 local time; unknown without a zone.
    pub night: Option<bool>,
    /// Minutes since the last logged meal, up to four hours.
    pub after_meal_min: Option<f64>,
    /// Whether activity was logged from two hours before to its end.
    pub activity_near: bool,
    /// Whether it lies in the first twelve hours of a sensor.
    pub first_hours: bool,
    /// The meter reading nearest to its middle, inside it or within 15 min, if there is one.
    pub meter: Option<MeterNear>,
}

/// All dips, and what was looked at.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct PressureLows {
    /// In order of time.
    pub dips: Vec<Dip>,
    /// Days of 24 h in which a dip of 45 min could have been found.
    pub looked_at_days: f64,
    /// SD of the sensor's noise that was reckoned with, mg/dL.
    pub noise_sd_mg_dl: f64,
    /// Whether that noise is assumed, for want of windows without food.
    pub noise_assumed: bool,
    /// Why nothing could be looked for.
    pub reason: Option<Reason>,
}

/// Dips that may be pressure, in order of time.
///
/// # Errors
/// Options out of their range.
///
/// # Example
/// ```
/// use glycemic_core::sensor::pressure::{CAUTION, PressureOptions, pressure_lows};
/// use glycemic_core::{Unit, clock::LocalClock, series::Builder};
/// // A night at 95 mg/dL; from 03:00 to 03:40 the reading is 30 lower.
/// let times: Vec<i64> = (0..96).map(|i| 1_741_046_400_000 + i * 300_000).collect();
/// let wave = |i: i32| [0.0, 1.0, 0.0, -1.0][i as usize % 4];
/// let glucose: Vec<f64> =
///     (0..96).map(|i| wave(i) + if (36..44).contains(&i) { 65.0 } else { 95.0 }).collect();
/// let trace = Builder::new(Unit::MgDl).clock(Some(LocalClock::fixed(0))).build(&times, &glucose)?;
/// let found = pressure_lows(&trace, &[], &[], None, &PressureOptions::default())?;
/// assert_eq!(found.dips.len(), 1);
/// let dip = &found.dips[0];
/// assert!(dip.probability > 0.9 && dip.night == Some(true) && dip.faster_than_glucose);
/// assert!((dip.depth_mg_dl.value.unwrap() - 30.0).abs() < 4.0);
/// assert!(CAUTION.contains("can't be excluded"));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn pressure_lows(
    trace: &Trace,
    meals: &[Meal],
    activity: &[Activity],
    meter: Option<&Meter>,
    options: &PressureOptions,
) -> Result<PressureLows, Error> {
    options.check()?;
    let noise = reckoned(trace, meals);
    let astray = search::astray(trace, &|h| noise.covariance(h));
    let covariance = |h: f64| noise.covariance(h) - if h == 0.0 { astray } else { 0.0 };
    let mut out = PressureLows {
        dips: Vec::new(),
        looked_at_days: 0.0,
        noise_sd_mg_dl: noise.sd_mg_dl(),
        noise_assumed: noise.assumed(),
        reason: None,
    };
    let nominal_min = trace.nominal_ms() as f64 / MINUTE as f64;
    if nominal_min > MOST_INTERVAL_MIN {
        let text = "readings more than 10 min apart can't show how steep a fall is";
        out.reason = Some(Reason::plain("readings_too_far_apart", text));
        return Ok(out);
    }
    let step_min = nominal_min.max(5.0);
    let Some(lenses) = lenses(step_min, &covariance) else { return Ok(out) };
    let search = Search::new(trace, step_min)?;
    out.looked_at_days = search.places() as f64 * step_min / 1440.0;
    if out.looked_at_days == 0.0 {
        let text = "no stretch without a gap is long enough to show a dip";
        out.reason = Some(Reason::plain("no_stretch", text));
        return Ok(out);
    }
    let evidence = Evidence::new(trace, meals, activity, meter, options.meter_ahead_min)?;
    let found = search.candidates(&lenses, &evidence, options);
    out.dips = search.dips(found, &evidence, options, &covariance);
    Ok(out)
}

impl PressureLows {
    /// The dips that are at least so probably pressure; without those in which the meter was as low as
    /// the sensor, however steep they are.
    pub fn at_least(&self, probability: f64) -> impl Iterator<Item = &Dip> {
        let confirmed = |d: &Dip| d.meter.is_some_and(|m| m.says == Says::TrueLow);
        self.dips.iter().filter(move |d| d.probability >= probability && !confirmed(d))
    }

    /// A row for each dip.
    ///
    /// # Errors
    /// None that dips can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let f64s = |f: &dyn Fn(&Dip) -> Option<f64>| self.dips.iter().map(f).collect();
        let bools = |f: &dyn Fn(&Dip) -> bool| self.dips.iter().map(f).collect();
        let i64s = |f: &dyn Fn(&Dip) -> i64| self.dips.iter().map(|d| Some(f(d))).collect();
        let mut t = Table::new();
        t.push_i64("start_ms", i64s(&|d| d.start_ms))?;
        t.push_i64("end_ms", i64s(&|d| d.end_ms))?;
        t.push_f64("minutes", f64s(&|d| Some(d.minutes)))?;
        t.push_f64("probability", f64s(&|d| Some(d.probability)))?;
        t.push_f64("depth_mg_dl", f64s(&|d| d.depth_mg_dl.value))?;
        t.push_f64("depth_low_mg_dl", f64s(&|d| d.depth_mg_dl.low))?;
        t.push_f64("depth_high_mg_dl", f64s(&|d| d.depth_mg_dl.high))?;
        t.push_f64("fall_mg_dl_min", f64s(&|d| Some(d.fall_mg_dl_min)))?;
        t.push_f64("recovery_mg_dl_min", f64s(&|d| Some(d.recovery_mg_dl_min)))?;
        t.push_bool("faster_than_glucose", bools(&|d| d.faster_than_glucose))?;
        t.push_f64("fall_min", f64s(&|d| Some(d.fall_min)))?;
        t.push_f64("recovery_min", f64s(&|d| Some(d.recovery_min)))?;
        t.push_f64("lowest_mg_dl", f64s(&|d| Some(d.lowest_mg_dl)))?;
        t.push_bool("reads_low", bools(&|d| d.reads_low))?;
        let known = self.dips.iter().map(|d| d.night.is_some()).collect();
        t.push("night", Items::Bool(bools(&|d| d.night == Some(true))), known)?;
        t.push_f64("after_meal_min", f64s(&|d| d.after_meal_min))?;
        t.push_bool("activity_near", bools(&|d| d.activity_near))?;
        t.push_bool("first_hours", bools(&|d| d.first_hours))?;
        t.push_f64("meter_mg_dl", f64s(&|d| d.meter.map(|m| m.glucose_mg_dl)))?;
        t.push_f64("meter_minutes_away", f64s(&|d| d.meter.map(|m| m.minutes_away)))?;
        let says = |d: &Dip| d.meter.map(|m| m.says.name().to_string());
        t.push_text("meter_says", self.dips.iter().map(says).collect())?;
        Ok(t)
    }
}

#[cfg(test)]
#[path = "pressure_tests.rs"]
mod tests;
