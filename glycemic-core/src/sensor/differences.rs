//! Pairs of sensor and meter made ready for questions about the sensor: whose they are, on which day of
//! wear, and which ones are better not asked.
//!
//! # Method
//! The sensor is read at the meter's time plus a lag (nearest reading within 5 minutes). The meter is
//! divided by 1 + its bias, where that is known. A lag estimated from the same pairs is not as good as
//! one that is known, or none: where the sensor is noisy it errs by ten minutes and more, and the offset
//! with it, more than its standard error allows for. Pairs taken while the sensor moved fast show its lag
//! more than its level and are left out; so are, by default, those of a sensor's first 24 hours. All of
//! them are counted.
//!
//! # Units
//! mg/dL, mg/dL per minute, hours and days since insertion (since its first reading, where nobody
//! knows when a sensor was inserted).
//!
//! # Source
//! Pairing: see [`align`](crate::align). Leaving out pairs above 2 mg/dL a minute and a first day of
//! 24 h: common practice, no source.

use super::worn::{Worn, sensors};
use crate::align::{How, pair};
use crate::clock::DAY_MS;
use crate::error::{Error, require_within};
use crate::series::{Meter, Trace};

const HOUR_MS: f64 = 3_600_000.0;

/// How sensor and meter are paired.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Pairing {
    /// The sensor is read so many minutes after the meter's stamp; see [`align::lag`](crate::align::lag()).
    pub lag_min: f64,
    /// Standard error of that lag, where it was estimated; 0 where it is known. It widens the interval
    /// of an offset: a lag shifts all pairs taken while glucose moved alike.
    pub lag_se_min: f64,
    /// Pairs at a faster change of the sensor, mg/dL per minute, are left out.
    pub fastest_mg_dl_min: f64,
    /// Pairs of a sensor's first hours are left out; 0 keeps all.
    pub settled_from_h: f64,
    /// What is known of the meter's bias, percent of blood; 0 when nothing is.
    pub meter_bias_pct: f64,
}

impl Default for Pairing {
    /// No lag, 2 mg/dL per minute, 24 hours, a meter of no known bias.
    fn default() -> Pairing {
        Pairing {
            lag_min: 0.0,
            lag_se_min: 0.0,
            fastest_mg_dl_min: 2.0,
            settled_from_h: 24.0,
            meter_bias_pct: 0.0,
        }
    }
}

/// Meter readings that were not used, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LeftOut {
    /// No sensor reading near, or one at a limit of the sensor.
    pub unpaired: usize,
    /// Taken while glucose changed fast.
    pub fast: usize,
    /// Taken in a sensor's first hours.
    pub unsettled: usize,
}

/// Pairs in order of time, n items in each column.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Differences {
    /// When the sensor was read, UTC milliseconds.
    pub times_ms: Vec<i64>,
    /// The meter, its known bias taken off, mg/dL.
    pub reference_mg_dl: Vec<f64>,
    /// The sensor, mg/dL.
    pub measured_mg_dl: Vec<f64>,
    /// Rate of change by the sensor, mg/dL per minute; 0 where it can't be told.
    pub rate_mg_dl_min: Vec<f64>,
    /// Days since the sensor was inserted.
    pub wear_days: Vec<f64>,
    /// Which of [`sensors`] it is, counted from 0.
    pub sensor: Vec<usize>,
    /// The local day; days of 24 h from the first reading where there is no local clock.
    pub day: Vec<i64>,
    /// Meter readings not used.
    pub left_out: LeftOut,
}

impl Differences {
    /// Number of pairs.
    pub fn len(&self) -> usize {
        self.times_ms.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.times_ms.is_empty()
    }

    /// Sensor less meter, mg/dL.
    pub fn difference_mg_dl(&self) -> Vec<f64> {
        self.measured_mg_dl.iter().zip(&self.reference_mg_dl).map(|(m, r)| m - r).collect()
    }

    /// Sensor less meter, percent of the meter.
    pub fn difference_pct(&self) -> Vec<f64> {
        let pairs = self.measured_mg_dl.iter().zip(&self.reference_mg_dl);
        pairs.map(|(m, r)| 100.0 * (m - r) / r).collect()
    }

    /// Those for which `keep` holds; it is given their places.
    pub fn filtered(&self, keep: impl Fn(usize) -> bool) -> Differences {
        let places: Vec<usize> = (0..self.len()).filter(|&i| keep(i)).collect();
        fn of<T: Copy>(places: &[usize], column: &[T]) -> Vec<T> {
            places.iter().map(|&i| column[i]).collect()
        }
        Differences {
            times_ms: of(&places, &self.times_ms),
            reference_mg_dl: of(&places, &self.reference_mg_dl),
            measured_mg_dl: of(&places, &self.measured_mg_dl),
            rate_mg_dl_min: of(&places, &self.rate_mg_dl_min),
            wear_days: of(&places, &self.wear_days),
            sensor: of(&places, &self.sensor),
            day: of(&places, &self.day),
            left_out: self.left_out,
        }
    }

    /// Number of different days.
    pub fn days(&self) -> usize {
        let mut days = self.day.clone();
        days.sort_unstable();
        days.dedup();
        days.len()
    }

    /// Days from the first pair to the last.
    pub(super) fn span_days(&self) -> f64 {
        match (self.times_ms.first(), self.times_ms.last()) {
            (Some(first), Some(last)) => (last - first) as f64 / DAY_MS as f64,
            _ => 0.0,
        }
    }
}

/// Pairs `meter` with `trace`.
///
/// # Errors
/// A lag outside -1440 to 1440 min, a standard error of it outside 0 to 60 min, a rate outside 0.1 to 100 mg/dL per min, first hours outside 0 to
/// 336, a bias outside -50 to 50 %.
///
/// # Example
/// ```
/// use glycemic_core::{sensor::{Pairing, differences}, series::{Builder, Meter}, Unit};
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> = (0..4 * 288).map(|i| start + i * 300_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &vec![106.0; times.len()])?;
/// // One reading in the first 24 hours, one later.
/// let pricked = [start + 7_200_000, start + 3 * 86_400_000];
/// let meter = Meter::new(&pricked, &[100.0; 2], &vec![String::new(); 2], Unit::MgDl)?;
/// let d = differences(&meter, &trace, Pairing::default())?;
/// assert_eq!((d.difference_mg_dl(), d.wear_days[0], d.left_out.unsettled), (vec![6.0], 3.0, 1));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn differences(meter: &Meter, trace: &Trace, pairing: Pairing) -> Result<Differences, Error> {
    require_within("lag_se_min", pairing.lag_se_min, 0.0, 60.0)?;
    require_within("fastest_mg_dl_min", pairing.fastest_mg_dl_min, 0.1, 100.0)?;
    require_within("settled_from_h", pairing.settled_from_h, 0.0, 336.0)?;
    require_within("meter_bias_pct", pairing.meter_bias_pct, -50.0, 50.0)?;
    let pairs = pair(meter, trace, 5.0, How::Nearest, pairing.lag_min)?;
    let lag = (pairing.lag_min * 60_000.0).round() as i64;
    let worn = sensors(trace);
    let mut out = Differences::default();
    out.left_out.unpaired = pairs.unpaired.len();
    for i in 0..pairs.len() {
        let time = pairs.times_ms[i] + lag;
        let sensor = worn_at(&worn, time);
        let start = worn.get(sensor).map_or(time, Worn::start_ms);
        if pairs.rate_mg_dl_min[i].is_some_and(|rate| rate.abs() > pairing.fastest_mg_dl_min) {
            out.left_out.fast += 1;
            continue;
        }
        if ((time - start) as f64) < pairing.settled_from_h * HOUR_MS {
            out.left_out.unsettled += 1;
            continue;
        }
        out.times_ms.push(time);
        out.reference_mg_dl.push(pairs.reference_mg_dl[i] / (1.0 + pairing.meter_bias_pct / 100.0));
        out.measured_mg_dl.push(pairs.measured_mg_dl[i]);
        out.rate_mg_dl_min.push(pairs.rate_mg_dl_min[i].unwrap_or(0.0));
        out.wear_days.push((time - start) as f64 / DAY_MS as f64);
        out.sensor.push(sensor);
        out.day.push(day(trace, time));
    }
    Ok(out)
}

/// The sensor worn at an instant: the last one that had started by then.
pub(super) fn worn_at(worn: &[Worn], time_ms: i64) -> usize {
    worn.iter().rposition(|w| w.start_ms() <= time_ms).unwrap_or(0)
}

/// The local day, or the day of 24 h since the trace began.
fn day(trace: &Trace, time_ms: i64) -> i64 {
    match (trace.clock(), trace.times_ms().first()) {
        (Some(clock), _) => clock.day(time_ms),
        (None, Some(first)) => (time_ms - first).div_euclid(DAY_MS),
        (None, None) => 0,
    }
}
