//! Pairs of a meter reading and the sensor's value at its time.
//!
//! # Method
//! For each meter reading the sensor is read at the meter's time plus `lag_min`: the nearest
//! reading within `window_min`, or the straight line between the two around it when both lie
//! within `window_min` of it. Sensor readings at a limit of the device are not used. Meter
//! readings within two minutes of the one before are a burst: they are averaged into one pair.
//! The rate of change is the slope of the straight line through the sensor's readings from 10
//! minutes before to 5 after.
//!
//! # Source
//! Nearest within 5 minutes: CLSI POCT05, from memory. Bursts: common practice, no source.

use crate::error::{Error, require_within};
use crate::series::{Censor, Meter, Trace};
use crate::stats::moments;

const MINUTE: i64 = 60_000;
/// Readings of the meter no further apart than this are one burst, in minutes.
const BURST_MIN: i64 = 2;

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
    /// Its value, mg/dL.
    pub glucose_mg_dl: f64,
    /// `outside_wear`, `no_reading_near` or `sensor_at_limit`.
    pub why: &'static str,
}

/// Paired values, in order of time.
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
    /// Meter readings without a pair, and why.
    pub unpaired: Vec<Unpaired>,
    /// Standard deviation of readings within bursts, mg/dL, pooled; `None` without bursts.
    pub repeat_sd_mg_dl: Option<f64>,
}

impl Pairs {
    /// Number of pairs.
    pub fn len(&self) -> usize {
        self.times_ms.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.times_ms.is_empty()
    }
}

/// A meter reading, or the mean of a burst.
pub(super) struct Spot {
    pub time_ms: i64,
    pub glucose: f64,
    pub values: Vec<f64>,
    pub context: String,
}

/// The meter's readings with bursts averaged.
pub(super) fn spots(meter: &Meter) -> Vec<Spot> {
    let mut out: Vec<Spot> = Vec::new();
    let mut last = i64::MIN;
    for i in 0..meter.len() {
        let (time_ms, glucose) = (meter.times_ms()[i], meter.glucose_mg_dl()[i]);
        match out.last_mut() {
            Some(spot) if time_ms - last <= BURST_MIN * MINUTE => spot.values.push(glucose),
            _ => out.push(Spot {
                time_ms,
                glucose,
                values: vec![glucose],
                context: meter.context()[i].clone(),
            }),
        }
        last = time_ms;
    }
    for spot in &mut out {
        spot.glucose = moments::mean(&spot.values).unwrap_or(spot.glucose);
    }
    out
}

/// Pairs the meter's readings with the sensor's.
///
/// `window_min` from 0.1 to 60, `lag_min` from -1440 to 1440: the sensor is read that much later.
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
    require_within("window_min", window_min, 0.1, 60.0)?;
    require_within("lag_min", lag_min, -1440.0, 1440.0)?;
    let window = (window_min * MINUTE as f64).round() as i64;
    let lag = (lag_min * MINUTE as f64).round() as i64;
    let mut pairs = Pairs::default();
    for spot in spots(meter) {
        match read(sensor, spot.time_ms + lag, window, how) {
            Ok(value) => {
                pairs.times_ms.push(spot.time_ms);
                pairs.reference_mg_dl.push(spot.glucose);
                pairs.measured_mg_dl.push(value);
                pairs.rate_mg_dl_min.push(rate(sensor, spot.time_ms + lag));
                pairs.readings.push(spot.values.len());
                pairs.context.push(spot.context);
            }
            Err(why) => pairs.unpaired.push(Unpaired {
                time_ms: spot.time_ms,
                glucose_mg_dl: spot.glucose,
                why,
            }),
        }
    }
    pairs.repeat_sd_mg_dl = repeat_sd(&spots(meter));
    Ok(pairs)
}

fn read(sensor: &Trace, at: i64, window: i64, how: How) -> Result<f64, &'static str> {
    let (times, values) = (sensor.times_ms(), sensor.glucose_mg_dl());
    if at < times[0] - window || at > times[times.len() - 1] + window {
        return Err("outside_wear");
    }
    let after = times.partition_point(|&t| t < at);
    let near = |i: usize| times.get(i).is_some_and(|t| (t - at).abs() <= window);
    let (before_ok, after_ok) = (after > 0 && near(after - 1), near(after));
    let index = match (before_ok, after_ok) {
        (false, false) => return Err("no_reading_near"),
        (true, false) => after - 1,
        (false, true) => after,
        (true, true) if at - times[after - 1] <= times[after] - at => after - 1,
        (true, true) => after,
    };
    let exact = times[index] == at;
    let censor = sensor.view().censor();
    if how == How::Nearest || exact {
        return if censor[index] == Censor::None {
            Ok(values[index])
        } else {
            Err("sensor_at_limit")
        };
    }
    if !(before_ok && after_ok) || sensor.view().spans_break(times[after - 1], times[after]) {
        return Err("no_reading_near");
    }
    if censor[after - 1] != Censor::None || censor[after] != Censor::None {
        return Err("sensor_at_limit");
    }
    let share = (at - times[after - 1]) as f64 / (times[after] - times[after - 1]) as f64;
    Ok(values[after - 1] + share * (values[after] - values[after - 1]))
}

/// Slope of the sensor's readings from 10 minutes before to 5 after, if there are three.
pub(super) fn rate(sensor: &Trace, at: i64) -> Option<f64> {
    let part = sensor.window(at - 10 * MINUTE, at + 5 * MINUTE);
    if part.len() < 3 {
        return None;
    }
    let minutes: Vec<f64> =
        part.times_ms().iter().map(|t| (t - at) as f64 / MINUTE as f64).collect();
    moments::slope(&minutes, part.glucose_mg_dl())
}

fn repeat_sd(spots: &[Spot]) -> Option<f64> {
    let (mut squares, mut freedom) = (0.0, 0usize);
    for spot in spots.iter().filter(|s| s.values.len() > 1) {
        squares += spot.values.iter().map(|v| (v - spot.glucose) * (v - spot.glucose)).sum::<f64>();
        freedom += spot.values.len() - 1;
    }
    (freedom > 0).then(|| (squares / freedom as f64).sqrt())
}
