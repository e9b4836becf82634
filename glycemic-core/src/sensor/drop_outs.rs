//! Drop-outs: when readings failed to come, for how long, and how much of the wear was seen.
//!
//! # Method
//! A drop-out is an interval of more than one and a half nominal intervals between two readings of
//! one sensor; its lost readings are what it could hold. Data capture is the readings over what a
//! sensor's time could hold from its first reading to its end, at most 100 %; by wear day (24 h
//! from insertion, or from the first reading where none was noted) the same within the day. The
//! wait from insertion to the first reading is told apart, and so is what was lost in the first
//! hours after the first reading. A sensor failed where the wear says so.
//!
//! Drop-outs a day are told with days as the unit (see [`rate`](super::rate)).
//!
//! # Units
//! Minutes, percent, UTC milliseconds.
//!
//! # Source
//! Data capture as readings over expected: Battelino et al., Diabetes Care 2019; 42: 1593-1603. Nine
//! of ten drop-outs under 20 min, fewer at night: Facchinetti et al., Diabetes Technol Ther 2016;
//! 18: 264-272. The classes of length are conventions of this library.

use super::rate::per_day;
use super::wear::{Worn, sensors};
use crate::align::WearEvent;
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::series::Trace;
use crate::table::{Items, Table};

const MINUTE: f64 = 60_000.0;
const DAY_MS: i64 = 86_400_000;
/// Upper ends of the classes of length, minutes; the last class has none.
pub const CLASSES_MIN: [f64; 3] = [20.0, 60.0, 180.0];

/// An interval without readings.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DropOut {
    /// Which sensor.
    pub sensor: Option<String>,
    /// Day of its wear, 1 for the first 24 hours.
    pub wear_day: usize,
    /// Last reading before it, UTC milliseconds.
    pub from_ms: i64,
    /// First reading after it, UTC milliseconds.
    pub to_ms: i64,
    /// Between the two.
    pub minutes: f64,
    /// Readings lost.
    pub lost: usize,
    /// Local hour in which it begins, 0 to 23; unknown without a zone.
    pub hour: Option<usize>,
}

/// How complete one sensor's readings are.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Capture {
    /// Which sensor.
    pub sensor: Option<String>,
    /// Day of wear; `None` for the whole wear of the sensor.
    pub wear_day: Option<usize>,
    /// Readings.
    pub readings: usize,
    /// Readings that the time could hold.
    pub expected: usize,
    /// The one over the other, percent; `None` when nothing was expected.
    pub capture_pct: Option<f64>,
    /// Longest interval between readings, minutes; 0 without a drop-out.
    pub longest_min: f64,
}

/// One sensor's wear.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SensorWear {
    /// Capture of its whole wear.
    pub capture: Capture,
    /// Days from insertion, or from its first reading, to its end.
    pub days: f64,
    /// Minutes from insertion to the first reading; unknown when no insertion was noted.
    pub wait_min: Option<f64>,
    /// Share of the readings expected in the first hours that were lost, percent.
    pub first_hours_lost_pct: Option<f64>,
    /// Whether it was noted as failed.
    pub failed: bool,
}

/// All of it.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DropOuts {
    /// Drop-outs in order of time.
    pub drop_outs: Vec<DropOut>,
    /// A row for each sensor.
    pub sensors: Vec<SensorWear>,
    /// A row for each wear day of each sensor.
    pub by_wear_day: Vec<Capture>,
    /// Drop-outs up to each of [`CLASSES_MIN`], and longer.
    pub by_length: [usize; 4],
    /// Readings lost by the local hour in which the drop-out begins, or why there is no hour.
    pub lost_by_hour: Result<[usize; 24], Reason>,
    /// Drop-outs in a day.
    pub per_day: Estimate,
    /// Sensors noted as failed.
    pub failed: usize,
}

/// Drop-outs and data capture; `first_hours`, from 1 to 48, are those after the first reading.
///
/// # Errors
/// Hours or a level out of their range.
///
/// # Example
/// ```
/// use glycemic_core::align::{EventKind, WearEvent};
/// use glycemic_core::sensor::drop_outs::drop_outs;
/// use glycemic_core::{Unit, series::Builder};
/// // A day of readings of which six in a row did not come.
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> =
///     (0..288).filter(|i| !(100..106).contains(i)).map(|i| start + i * 300_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &vec![100.0; 282])?;
/// let inserted =
///     WearEvent { time_ms: start - 3_600_000, kind: EventKind::Inserted, sensor: None };
/// let found = drop_outs(&trace, &[inserted], 12.0, 0.95)?;
/// assert_eq!((found.drop_outs[0].minutes, found.drop_outs[0].lost), (35.0, 6));
/// let sensor = &found.sensors[0];
/// assert_eq!(sensor.wait_min, Some(60.0));
/// assert_eq!(sensor.capture.capture_pct, Some(100.0 * 282.0 / 288.0));
/// assert_eq!(found.per_day.reason.unwrap().code, "too_few_days");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn drop_outs(
    trace: &Trace,
    events: &[WearEvent],
    first_hours: f64,
    level: f64,
) -> Result<DropOuts, Error> {
    require_within("first_hours", first_hours, 1.0, 48.0)?;
    require_within("level", level, 0.5, 0.999)?;
    let worn = sensors(trace, events);
    let mut all = Vec::new();
    let mut rows = Vec::new();
    let mut by_wear_day = Vec::new();
    for sensor in &worn {
        let found = of_sensor(trace, sensor);
        by_wear_day.extend(wear_days(trace, sensor, &found));
        rows.push(sensor_wear(trace, sensor, &found, first_hours));
        all.extend(found);
    }
    let counts: Vec<usize> = by_wear_day
        .iter()
        .map(|d| {
            let same = |o: &&DropOut| o.sensor == d.sensor && Some(o.wear_day) == d.wear_day;
            all.iter().filter(same).count()
        })
        .collect();
    let possible = DAY_MS as f64 / trace.nominal_ms() as f64;
    let seen: Vec<f64> =
        by_wear_day.iter().map(|d| (d.expected as f64 / possible).min(1.0)).collect();
    let mut by_length = [0; 4];
    for o in &all {
        let class = CLASSES_MIN.iter().position(|c| o.minutes <= *c).unwrap_or(CLASSES_MIN.len());
        by_length[class] += 1;
    }
    Ok(DropOuts {
        per_day: per_day(&counts, &seen, level)?,
        by_length,
        lost_by_hour: by_hour(trace, &all),
        failed: worn.iter().filter(|w| w.failed).count(),
        drop_outs: all,
        sensors: rows,
        by_wear_day,
    })
}

/// Places of one sensor's readings.
fn readings(trace: &Trace, from_ms: i64, to_ms: i64) -> &[i64] {
    let times = trace.times_ms();
    let from = times.partition_point(|t| *t < from_ms);
    let to = times.partition_point(|t| *t < to_ms).max(from);
    &times[from..to]
}

fn of_sensor(trace: &Trace, worn: &Worn) -> Vec<DropOut> {
    let nominal = trace.nominal_ms();
    let times = readings(trace, worn.from_ms, worn.to_ms);
    let long = times.windows(2).filter(|p| 2 * (p[1] - p[0]) > 3 * nominal);
    let out = long.map(|p| DropOut {
        sensor: worn.sensor.clone(),
        wear_day: wear_day(worn, p[0]),
        from_ms: p[0],
        to_ms: p[1],
        minutes: (p[1] - p[0]) as f64 / MINUTE,
        lost: lost(p[1] - p[0], nominal),
        hour: trace.clock().map(|c| (c.minute_of_day(p[0]) / 60.0) as usize),
    });
    out.collect()
}

fn wear_day(worn: &Worn, at_ms: i64) -> usize {
    ((at_ms - worn.from_ms).max(0) / DAY_MS) as usize + 1
}

/// Readings that an interval between two readings could hold.
fn lost(span_ms: i64, nominal_ms: i64) -> usize {
    ((span_ms as f64 / nominal_ms as f64).round() as usize).saturating_sub(1)
}

/// Capture from `from_ms` to `to_ms`.
fn capture(
    trace: &Trace,
    worn: &Worn,
    wear_day: Option<usize>,
    (from_ms, to_ms): (i64, i64),
    found: &[DropOut],
) -> Capture {
    let readings = readings(trace, from_ms, to_ms).len();
    let expected = ((to_ms - from_ms).max(0) as f64 / trace.nominal_ms() as f64).round() as usize;
    let inside = found.iter().filter(|o| o.from_ms < to_ms && from_ms <= o.from_ms);
    Capture {
        sensor: worn.sensor.clone(),
        wear_day,
        readings,
        expected,
        capture_pct: (expected > 0).then(|| (100.0 * readings as f64 / expected as f64).min(100.0)),
        longest_min: inside.map(|o| o.minutes).fold(0.0, f64::max),
    }
}

fn wear_days(trace: &Trace, worn: &Worn, found: &[DropOut]) -> Vec<Capture> {
    let Some(&first) = readings(trace, worn.from_ms, worn.to_ms).first() else { return Vec::new() };
    let last = wear_day(worn, worn.to_ms - 1);
    let day = |d: usize| {
        let from = worn.from_ms + (d as i64 - 1) * DAY_MS;
        let part = (from.max(first), (from + DAY_MS).min(worn.to_ms));
        capture(trace, worn, Some(d), part, found)
    };
    (wear_day(worn, first)..=last).map(day).collect()
}

fn sensor_wear(trace: &Trace, worn: &Worn, found: &[DropOut], first_hours: f64) -> SensorWear {
    let first = readings(trace, worn.from_ms, worn.to_ms).first().copied();
    let from = first.unwrap_or(worn.from_ms);
    let end = (from + (first_hours * 60.0 * MINUTE) as i64).min(worn.to_ms);
    let early = capture(trace, worn, None, (from, end), found);
    SensorWear {
        capture: capture(trace, worn, None, (from, worn.to_ms), found),
        days: (worn.to_ms - worn.from_ms).max(0) as f64 / DAY_MS as f64,
        wait_min: first.filter(|_| worn.noted).map(|f| (f - worn.from_ms) as f64 / MINUTE),
        first_hours_lost_pct: early.capture_pct.filter(|_| first.is_some()).map(|c| 100.0 - c),
        failed: worn.failed,
    }
}

fn by_hour(trace: &Trace, all: &[DropOut]) -> Result<[usize; 24], Reason> {
    if trace.clock().is_none() {
        let text = "needs local time, and no zone or local clock was given";
        return Err(Reason::plain("no_zone", text));
    }
    let mut out = [0; 24];
    for o in all {
        out[o.hour.unwrap_or(0).min(23)] += o.lost;
    }
    Ok(out)
}

impl DropOuts {
    /// A row for each drop-out.
    ///
    /// # Errors
    /// None that they can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let rows = &self.drop_outs;
        let i64s = |f: &dyn Fn(&DropOut) -> i64| rows.iter().map(|o| Some(f(o))).collect();
        let mut t = Table::new();
        t.push_text("sensor", rows.iter().map(|o| o.sensor.clone()).collect())?;
        t.push_i64("wear_day", i64s(&|o| o.wear_day as i64))?;
        t.push_i64("from_ms", i64s(&|o| o.from_ms))?;
        t.push_i64("to_ms", i64s(&|o| o.to_ms))?;
        t.push_f64("minutes", rows.iter().map(|o| Some(o.minutes)).collect())?;
        t.push_i64("lost", i64s(&|o| o.lost as i64))?;
        let hours = rows.iter().map(|o| o.hour.unwrap_or(0) as i64).collect();
        t.push("hour", Items::I64(hours), rows.iter().map(|o| o.hour.is_some()).collect())?;
        Ok(t)
    }

    /// A row for each sensor (without a wear day), then one for each of its wear days.
    ///
    /// # Errors
    /// None that they can cause; columns have one length.
    pub fn capture_table(&self) -> Result<Table, Error> {
        let rows: Vec<&Capture> =
            self.sensors.iter().map(|s| &s.capture).chain(&self.by_wear_day).collect();
        let mut t = Table::new();
        t.push_text("sensor", rows.iter().map(|c| c.sensor.clone()).collect())?;
        t.push_i64("wear_day", rows.iter().map(|c| c.wear_day.map(|d| d as i64)).collect())?;
        t.push_i64("readings", rows.iter().map(|c| Some(c.readings as i64)).collect())?;
        t.push_i64("expected", rows.iter().map(|c| Some(c.expected as i64)).collect())?;
        t.push_f64("capture_pct", rows.iter().map(|c| c.capture_pct).collect())?;
        t.push_f64("longest_min", rows.iter().map(|c| Some(c.longest_min)).collect())?;
        Ok(t)
    }
}

#[cfg(test)]
#[path = "drop_outs_tests.rs"]
mod tests;
