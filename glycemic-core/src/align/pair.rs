//! Pairs of a meter reading and the sensor's value at its time.
//!
//! # Method
//! For each meter reading the sensor is read at the meter's time plus `lag_min`: the nearest
//! reading within `window_min`, or the straight line between the two around it when both lie
//! within `window_min` of it. Sensor readings at a limit of the device are not used. Meter
//! readings within two minutes of the one before are a burst: they are averaged into one pair.
//! The rate of change is the slope of the straight line through the sensor's readings from 10
//! minutes before to 5 after, of the same sensor and none at a limit of it. Choices of these
//! rules, and pairs with wear day and sensor: [`pair_with`].
//!
//! # Source
//! Nearest within 5 minutes: CLSI POCT05, from memory. Bursts: common practice, no source.

use super::scale::{PairOptions, Read, pair_with};
use crate::error::Error;
use crate::series::{Censor, Meter, Trace};
use crate::stats::moments;
use crate::table::Table;

const MINUTE: i64 = 60_000;
/// Readings of the meter no further apart than this are one burst, in minutes.
const BURST_MIN: f64 = 2.0;

/// How the sensor is read at the meter's time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum How {
    /// The nearest reading.
    #[default]
    Nearest,
    /// On the straight line between the readings around it.
    Interpolate,
}

impl How {
    /// The word that [`FromStr`](std::str::FromStr) reads.
    pub fn word(self) -> &'static str {
        match self {
            How::Nearest => "nearest",
            How::Interpolate => "interpolate",
        }
    }
}

impl std::str::FromStr for How {
    type Err = Error;
    fn from_str(text: &str) -> Result<How, Error> {
        match text {
            "nearest" => Ok(How::Nearest),
            "interpolate" => Ok(How::Interpolate),
            _ => Err(Error::UnknownChoice {
                name: "how",
                got: text.into(),
                choices: "nearest, interpolate",
            }),
        }
    }
}

/// A meter reading without a pair.
#[derive(Clone, Debug, PartialEq)]
pub struct Unpaired {
    /// Time of the meter reading, UTC milliseconds.
    pub time_ms: i64,
    /// Its value, mg/dL; of a burst the mean.
    pub glucose_mg_dl: f64,
    /// `outside_wear`, `no_reading_near`, `calibration`, `sensor_reading_used`, or (from [`pair`]
    /// only) `sensor_at_limit`.
    pub why: &'static str,
    /// Meter readings in it.
    pub readings: usize,
}

/// A pair outside the range that one of the two devices reports.
#[derive(Clone, Debug, PartialEq)]
pub struct Outside {
    /// Time of the meter reading, UTC milliseconds.
    pub time_ms: i64,
    /// What the meter showed, mg/dL.
    pub reference_mg_dl: f64,
    /// What the sensor showed, mg/dL: its limit where it only said low or high.
    pub measured_mg_dl: f64,
    /// `sensor_low`, `sensor_high`, `meter_low` or `meter_high`; the sensor comes first.
    pub why: &'static str,
    /// Meter readings in it.
    pub readings: usize,
    /// Which sensor, where that is known.
    pub sensor: Option<String>,
}

/// Paired values, in order of time; columns have one item for each pair.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Pairs {
    /// Times on the meter's clock, UTC milliseconds.
    pub times_ms: Vec<i64>,
    /// The meter, mg/dL; the mean of a burst.
    pub reference_mg_dl: Vec<f64>,
    /// The sensor, mg/dL.
    pub measured_mg_dl: Vec<f64>,
    /// Rate of change by the sensor, mg/dL per minute, where it can be told.
    pub rate_mg_dl_min: Vec<Option<f64>>,
    /// Meter readings in each pair.
    pub readings: Vec<usize>,
    /// What was noted about the meter reading.
    pub context: Vec<String>,
    /// From the meter's time (and the lag) to the nearer sensor reading used, minutes.
    pub away_min: Vec<f64>,
    /// Which sensor, where the wear's events say.
    pub sensor: Vec<Option<String>>,
    /// Day of wear of that sensor, from 1, where its insertion is known.
    pub wear_day: Vec<Option<i64>>,
    /// Local hour, 0 to below 24, with its fraction; needs the sensor's zone.
    pub local_hour: Vec<Option<f64>>,
    /// Number of the local day (UTC without a zone): a cluster for `agreement`.
    pub day: Vec<i64>,
    /// Meter readings without a pair, and why.
    pub unpaired: Vec<Unpaired>,
    /// Pairs outside the range of a device.
    pub outside: Vec<Outside>,
    /// Meter readings left out because only the first of a burst counts.
    pub left_in_bursts: usize,
    /// Standard deviation of readings within bursts, mg/dL, pooled; `None` without bursts.
    pub repeat_sd_mg_dl: Option<f64>,
    /// The same in percent of the burst's mean, pooled as squares.
    pub repeat_cv_pct: Option<f64>,
    /// Degrees of freedom of both: readings in bursts less bursts.
    pub repeat_freedom: usize,
}

impl Pairs {
    /// The pairs outside a device's range: time_ms, reference_mg_dl, measured_mg_dl, why, readings,
    /// sensor.
    ///
    /// # Errors
    /// None that pairs should cause.
    pub fn outside_table(&self) -> Result<Table, Error> {
        let rows = &self.outside;
        let mut t = Table::new();
        t.push_i64("time_ms", rows.iter().map(|o| Some(o.time_ms)).collect())?;
        t.push_f64("reference_mg_dl", rows.iter().map(|o| Some(o.reference_mg_dl)).collect())?;
        t.push_f64("measured_mg_dl", rows.iter().map(|o| Some(o.measured_mg_dl)).collect())?;
        t.push_text("why", rows.iter().map(|o| Some(o.why.to_string())).collect())?;
        t.push_i64("readings", rows.iter().map(|o| Some(o.readings as i64)).collect())?;
        t.push_text("sensor", rows.iter().map(|o| o.sensor.clone()).collect())?;
        Ok(t)
    }

    /// Number of pairs.
    pub fn len(&self) -> usize {
        self.times_ms.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.times_ms.is_empty()
    }
}

/// A meter reading, or a burst of them.
pub(super) struct Spot {
    /// The first reading's time.
    pub time_ms: i64,
    /// The last reading's time.
    pub last_ms: i64,
    /// The value, or the mean of the burst.
    pub glucose: f64,
    pub values: Vec<f64>,
    pub context: String,
}

/// The meter's readings with bursts averaged.
pub(super) fn spots(meter: &Meter) -> Vec<Spot> {
    spots_by(meter, Some(BURST_MIN))
}

/// Bursts of readings no further apart than `burst_min`; `None`: each reading for itself.
pub(super) fn spots_by(meter: &Meter, burst_min: Option<f64>) -> Vec<Spot> {
    let most = burst_min.map(|m| (m * MINUTE as f64).round() as i64);
    let mut out: Vec<Spot> = Vec::new();
    for i in 0..meter.len() {
        let (time_ms, glucose) = (meter.times_ms()[i], meter.glucose_mg_dl()[i]);
        match out.last_mut() {
            Some(spot) if most.is_some_and(|most| time_ms - spot.last_ms <= most) => {
                spot.values.push(glucose);
                spot.last_ms = time_ms;
            }
            _ => out.push(Spot {
                time_ms,
                last_ms: time_ms,
                glucose,
                values: vec![glucose],
                context: meter.context()[i].clone(),
            }),
        }
    }
    for spot in &mut out {
        spot.glucose = moments::mean(&spot.values).unwrap_or(spot.glucose);
    }
    out
}

/// The bursts of a meter with two readings or more, each no further than `burst_min` minutes
/// after the one before, mg/dL.
pub fn bursts(meter: &Meter, burst_min: f64) -> Vec<Vec<f64>> {
    let spots = spots_by(meter, Some(burst_min));
    spots.into_iter().map(|s| s.values).filter(|v| v.len() > 1).collect()
}

/// Pairs the meter's readings with the sensor's.
///
/// `window_min` from 0.1 to 60, `lag_min` from -1440 to 1440: the sensor is read that much later.
/// A sensor reading may serve several meter readings.
///
/// # Errors
/// A window or lag outside its range.
pub fn pair(
    meter: &Meter,
    sensor: &Trace,
    window_min: f64,
    how: How,
    lag_min: f64,
) -> Result<Pairs, Error> {
    let once = false;
    let options = PairOptions { window_min, how, lag_min, once, ..PairOptions::default() };
    let mut pairs = pair_with(meter, sensor, &[], &options)?;
    let at_limit = pairs.outside.drain(..).map(|o| Unpaired {
        time_ms: o.time_ms,
        glucose_mg_dl: o.reference_mg_dl,
        why: "sensor_at_limit",
        readings: o.readings,
    });
    pairs.unpaired.extend(at_limit);
    pairs.unpaired.sort_by_key(|u| u.time_ms);
    Ok(pairs)
}

/// The sensor at an instant, or why it can't be read there.
pub(super) fn read(sensor: &Trace, at: i64, window: i64, how: How) -> Result<Read, &'static str> {
    let (times, values) = (sensor.times_ms(), sensor.glucose_mg_dl());
    let (Some(first), Some(last)) = (times.first(), times.last()) else {
        return Err("outside_wear");
    };
    if at < first - window || at > last + window {
        return Err("outside_wear");
    }
    // A reading of another sensor is none of the sensor worn at that time.
    let view = sensor.view();
    let near = |i: usize| {
        times
            .get(i)
            .is_some_and(|&t| (t - at).abs() <= window && !view.spans_break(t.min(at), t.max(at)))
    };
    let after = times.partition_point(|&t| t < at);
    let before = after.checked_sub(1).filter(|&i| near(i));
    let next = Some(after).filter(|&i| near(i));
    let nearest = match (before, next) {
        (None, None) => return Err("no_reading_near"),
        (Some(i), None) | (None, Some(i)) => i,
        (Some(i), Some(j)) => {
            if at - times[i] <= times[j] - at {
                i
            } else {
                j
            }
        }
    };
    let away_ms = (times[nearest] - at).abs();
    let censor = view.censor();
    if how == How::Nearest || away_ms == 0 {
        let (value, censor) = (values[nearest], censor[nearest]);
        return Ok(Read { value, censor, nearest, key: (nearest, nearest), away_ms });
    }
    let (Some(i), Some(j)) = (before, next) else { return Err("no_reading_near") };
    let key = (i, j);
    // Between a value and a limit nothing can be drawn: the limit is what the sensor said.
    if let Some(&k) = [i, j].iter().find(|&&k| censor[k] != Censor::None) {
        return Ok(Read { value: values[k], censor: censor[k], nearest, key, away_ms });
    }
    let share = (at - times[i]) as f64 / (times[j] - times[i]) as f64;
    let value = values[i] + share * (values[j] - values[i]);
    Ok(Read { value, censor: Censor::None, nearest, key, away_ms })
}

/// Slope of the sensor's readings from 10 minutes before to 5 after, if there are three, all of
/// one sensor and none at a limit of it.
pub(super) fn rate(sensor: &Trace, at: i64) -> Option<f64> {
    let part = sensor.window(at - 10 * MINUTE, at + 5 * MINUTE);
    let times = part.times_ms();
    let at_limit = part.censor().iter().any(|c| *c != Censor::None);
    if times.len() < 3 || at_limit || part.spans_break(times[0], times[times.len() - 1]) {
        return None;
    }
    let minutes: Vec<f64> = times.iter().map(|t| (t - at) as f64 / MINUTE as f64).collect();
    moments::slope(&minutes, part.glucose_mg_dl())
}
