//! Pairing by stated rules, with what each pair was taken under and a count of all that was
//! left out.
//!
//! # Method
//! As [`pair`](super::pair()), and: of meter readings that would use the same sensor reading (the
//! same two, when interpolated) the nearest keeps it, the earlier of equals, when a reading may be
//! used once. A meter reading taken from `calibration_min` before a user's calibration to a minute
//! after it is left out: the sensor was set to it, or to one like it. A pair outside the range
//! that the sensor or the meter reports is kept apart, with what each showed. Wear day counts
//! whole days since that sensor's insertion, from 1.
//!
//! # Source
//! Nearest within 5 minutes, each value used once: CLSI POCT05, from memory. Fifteen minutes
//! before a calibration: common practice, no source.

use std::collections::BTreeMap;

use super::pair::{How, Outside, Pairs, Spot, Unpaired, rate, read, spots_by};
use super::wear::{EventKind, WearEvent, spells, wear_day, worn_at};
use crate::clock::DAY_MS;
use crate::error::{Error, require_within};
use crate::series::{Censor, Meter, Trace};
use crate::stats::moments;

const MINUTE: i64 = 60_000;

/// What becomes of meter readings in quick succession.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Bursts {
    /// Their mean is one value.
    #[default]
    Averaged,
    /// The first counts, the rest are left out.
    First,
    /// Each stands for itself.
    Each,
}

impl Bursts {
    /// The word that [`FromStr`](std::str::FromStr) reads.
    pub fn word(self) -> &'static str {
        match self {
            Bursts::Averaged => "averaged",
            Bursts::First => "first",
            Bursts::Each => "each",
        }
    }
}

impl std::str::FromStr for Bursts {
    type Err = Error;
    fn from_str(text: &str) -> Result<Bursts, Error> {
        match text {
            "averaged" => Ok(Bursts::Averaged),
            "first" => Ok(Bursts::First),
            "each" => Ok(Bursts::Each),
            _ => Err(Error::UnknownChoice {
                name: "bursts",
                got: text.into(),
                choices: "averaged, first, each",
            }),
        }
    }
}

/// Rules of pairing.
#[derive(Clone, Debug, PartialEq)]
pub struct PairOptions {
    /// How far a sensor reading may be, minutes, 0.1 to 60.
    pub window_min: f64,
    /// How the sensor is read.
    pub how: How,
    /// The sensor is read this much later, minutes, -1440 to 1440.
    pub lag_min: f64,
    /// What becomes of bursts.
    pub bursts: Bursts,
    /// Meter readings no further apart are one burst, minutes, 0 to 15.
    pub burst_min: f64,
    /// Whether a sensor reading is used for one meter reading only.
    pub once: bool,
    /// Whether readings about a user's calibration count as pairs.
    pub calibrations_in: bool,
    /// How long before a calibration a meter reading is left out, minutes, 0 to 240.
    pub calibration_min: f64,
    /// Lowest and highest value that the sensor reports, mg/dL, both inside.
    pub sensor_range_mg_dl: Option<(f64, f64)>,
    /// The same for the meter.
    pub meter_range_mg_dl: Option<(f64, f64)>,
}

impl Default for PairOptions {
    fn default() -> Self {
        PairOptions {
            window_min: 5.0,
            how: How::Nearest,
            lag_min: 0.0,
            bursts: Bursts::Averaged,
            burst_min: 2.0,
            once: true,
            calibrations_in: false,
            calibration_min: 15.0,
            sensor_range_mg_dl: None,
            meter_range_mg_dl: None,
        }
    }
}

impl PairOptions {
    /// Whether each option lies in its range; [`pair_with`] asks too.
    ///
    /// # Errors
    /// The first that does not.
    pub fn check(&self) -> Result<(), Error> {
        require_within("window_min", self.window_min, 0.1, 60.0)?;
        require_within("lag_min", self.lag_min, -1440.0, 1440.0)?;
        require_within("burst_min", self.burst_min, 0.0, 15.0)?;
        require_within("calibration_min", self.calibration_min, 0.0, 240.0)?;
        for (name, range) in [
            ("sensor_range_mg_dl", self.sensor_range_mg_dl),
            ("meter_range_mg_dl", self.meter_range_mg_dl),
        ] {
            if let Some((low, high)) = range {
                require_within(name, low, 0.0, 2000.0)?;
                require_within(name, high, low, 2000.0)?;
            }
        }
        Ok(())
    }
}

/// Pairs the meter's readings with the sensor's by the rules given.
///
/// `events` of the sensors worn with this trace, in any order; without them no sensor and no wear
/// day is known, and no reading is left out for a calibration. Local hours need a zone.
///
/// # Errors
/// An option outside its range.
///
/// # Example
/// ```
/// # use glycemic_core::align::{EventKind, PairOptions, WearEvent, pair_with};
/// # use glycemic_core::{Meter, Unit, series::Builder};
/// let (start, minute) = (1_741_000_000_000, 60_000);
/// let times: Vec<i64> = (0..12).map(|i| start + i * 5 * minute).collect();
/// let sensor = Builder::new(Unit::MgDl).build(&times, &[100.0; 12])?;
/// let taken = [start + 21 * minute, start + 40 * minute];
/// let meter = Meter::new(&taken, &[104.0, 98.0], &[String::new(), String::new()], Unit::MgDl)?;
/// // The second reading was typed into the sensor two minutes later.
/// let event = |minutes: i64, kind| WearEvent {
///     time_ms: start + minutes * minute,
///     kind,
///     sensor: Some("A".to_string()),
/// };
/// let events = [event(0, EventKind::Inserted), event(42, EventKind::Calibrated)];
/// let pairs = pair_with(&meter, &sensor, &events, &PairOptions::default())?;
/// assert_eq!((pairs.len(), pairs.wear_day[0]), (1, Some(1)));
/// assert_eq!(pairs.unpaired[0].why, "calibration");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn pair_with(
    meter: &Meter,
    sensor: &Trace,
    events: &[WearEvent],
    options: &PairOptions,
) -> Result<Pairs, Error> {
    options.check()?;
    let mut pairs = Pairs::default();
    let burst_min = if options.bursts == Bursts::Each { None } else { Some(options.burst_min) };
    let found = spots_by(meter, burst_min);
    repeatability(&mut pairs, &spots_by(meter, Some(options.burst_min)));
    let calibrated: Vec<i64> = events
        .iter()
        .filter(|e| e.kind == EventKind::Calibrated && !options.calibrations_in)
        .map(|e| e.time_ms)
        .collect();
    let window = millis(options.window_min);
    let lag = millis(options.lag_min);
    let outcomes: Vec<Result<Read, &'static str>> = found
        .iter()
        .map(|spot| {
            if about_calibration(spot, &calibrated, millis(options.calibration_min)) {
                return Err("calibration");
            }
            read(sensor, spot.time_ms + lag, window, options.how)
        })
        .collect();
    let keeps = if options.once { winners(&outcomes) } else { vec![true; outcomes.len()] };
    let spells = spells(events);
    for ((mut spot, outcome), keeps) in found.into_iter().zip(outcomes).zip(keeps) {
        if options.bursts == Bursts::First {
            pairs.left_in_bursts += spot.values.len() - 1;
            spot.values.truncate(1);
            spot.glucose = spot.values[0];
        }
        match outcome {
            Ok(read) if keeps => take(&mut pairs, spot, read, sensor, &spells, options),
            Ok(_) => pairs.unpaired.push(unpaired(&spot, "sensor_reading_used")),
            Err(why) => pairs.unpaired.push(unpaired(&spot, why)),
        }
    }
    Ok(pairs)
}

/// A value read from the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Read {
    pub(super) value: f64,
    pub(super) censor: Censor,
    /// Index of the nearer reading.
    pub(super) nearest: usize,
    /// Which readings it rests on: two of them when interpolated.
    pub(super) key: (usize, usize),
    /// From the nearer reading to the time asked, milliseconds, without a sign.
    pub(super) away_ms: i64,
}

fn millis(minutes: f64) -> i64 {
    (minutes * MINUTE as f64).round() as i64
}

fn unpaired(spot: &Spot, why: &'static str) -> Unpaired {
    let (time_ms, glucose_mg_dl, readings) = (spot.time_ms, spot.glucose, spot.values.len());
    Unpaired { time_ms, glucose_mg_dl, why, readings }
}

/// Stamps of meter and diary are to the minute, so a reading may seem to come just after.
fn about_calibration(spot: &Spot, calibrated: &[i64], before: i64) -> bool {
    let near = |t: &i64| spot.time_ms <= t + MINUTE && spot.last_ms >= t - before;
    calibrated.iter().any(near)
}

/// For each reading whether it is the nearest of those that rest on the same sensor reading.
fn winners(outcomes: &[Result<Read, &'static str>]) -> Vec<bool> {
    let mut best: BTreeMap<(usize, usize), (i64, usize)> = BTreeMap::new();
    for (i, read) in outcomes.iter().enumerate() {
        if let Ok(read) = read {
            let own = (read.away_ms, i);
            let held = best.entry(read.key).or_insert(own);
            *held = own.min(*held);
        }
    }
    let mut keeps = vec![false; outcomes.len()];
    for (_, i) in best.into_values() {
        keeps[i] = true;
    }
    keeps
}

/// Files a pair among the pairs, or apart when it lies outside what a device reports.
fn take(
    pairs: &mut Pairs,
    spot: Spot,
    found: Read,
    sensor: &Trace,
    spells: &[super::wear::Spell],
    options: &PairOptions,
) {
    let beyond = |range: Option<(f64, f64)>, value: f64| match range {
        Some((low, _)) if value < low => Some(true),
        Some((_, high)) if value > high => Some(false),
        _ => None,
    };
    let why = match (found.censor, beyond(options.sensor_range_mg_dl, found.value)) {
        (Censor::Low, _) | (_, Some(true)) => Some("sensor_low"),
        (Censor::High, _) | (_, Some(false)) => Some("sensor_high"),
        _ => match beyond(options.meter_range_mg_dl, spot.glucose) {
            Some(true) => Some("meter_low"),
            Some(false) => Some("meter_high"),
            None => None,
        },
    };
    let at = sensor.times_ms()[found.nearest];
    let worn = worn_at(spells, at);
    let name = worn.and_then(|s| s.sensor.clone());
    if let Some(why) = why {
        pairs.outside.push(Outside {
            time_ms: spot.time_ms,
            reference_mg_dl: spot.glucose,
            measured_mg_dl: found.value,
            why,
            readings: spot.values.len(),
            sensor: name,
        });
        return;
    }
    let clock = sensor.clock();
    let time = spot.time_ms;
    pairs.times_ms.push(time);
    pairs.reference_mg_dl.push(spot.glucose);
    pairs.measured_mg_dl.push(found.value);
    pairs.rate_mg_dl_min.push(rate(sensor, time + millis(options.lag_min)));
    pairs.readings.push(spot.values.len());
    pairs.context.push(spot.context);
    pairs.away_min.push(found.away_ms as f64 / MINUTE as f64);
    pairs.sensor.push(name);
    pairs.wear_day.push(worn.map(|s| wear_day(s, at)));
    pairs.local_hour.push(clock.map(|c| c.minute_of_day(time) / 60.0));
    pairs.day.push(clock.map_or_else(|| time.div_euclid(DAY_MS), |c| c.day(time)));
}

/// Spread of readings within bursts, pooled, in mg/dL and in percent.
fn repeatability(pairs: &mut Pairs, spots: &[Spot]) {
    let (mut squares, mut relative) = (0.0, 0.0);
    for spot in spots.iter().filter(|s| s.values.len() > 1) {
        let mean = moments::mean(&spot.values).unwrap_or(spot.glucose);
        let own: f64 = spot.values.iter().map(|v| (v - mean) * (v - mean)).sum();
        squares += own;
        relative += own / (mean * mean);
        pairs.repeat_freedom += spot.values.len() - 1;
    }
    if pairs.repeat_freedom > 0 {
        let freedom = pairs.repeat_freedom as f64;
        pairs.repeat_sd_mg_dl = Some((squares / freedom).sqrt());
        pairs.repeat_cv_pct = Some(100.0 * (relative / freedom).sqrt());
    }
}
