//! A meter's clock that is wrong by whole hours: suggested with a probability, never applied.
//!
//! # Method
//! Shifts of up to 13 hours either way, every two minutes, are matched as in
//! [`lag`](super::lag()): the likelihood of a shift is its residual variance to the power of
//! -(n - 3)/2. A clock that is h hours ahead makes
//! a sum of lag less clock of -60 h and a small rest, taken to be normal with mean 6 and SD 10
//! minutes. Before the data a right hour has a probability of 0.90, one hour either way (summer
//! time, a neighbouring zone) 0.03 each, twelve hours (morning for afternoon) 0.01 each, and the
//! rest is spread over the others; all of these are our own choices, no source. An hour is suggested from a
//! probability of 0.90 on. Zones of half hours show up as minutes in [`lag`](super::lag()).
//!
//! # Source
//! Bayes over a row of candidates: common practice, no source.

use super::lag::{MINUTE, USUAL_TAU_MIN};
use super::matching::Matching;
use super::pair::{Spot, spots};
use super::smoothed::Smoothed;
use crate::error::Error;
use crate::estimate::Reason;
use crate::series::{Meter, Trace};
use crate::units::Unit;

/// Smoothing, minutes either way.
const HALF_MIN: usize = 16;
const REACH_MIN: i64 = 13 * 60;
const STEP_MIN: i64 = 2;
/// Pairs that a shift needs.
const PAIRS: usize = 7;
/// Readings that a shift must find on the sensor, as a share of the most that any finds.
const COVERED: f64 = 0.7;
const REST_MEAN_MIN: f64 = 6.0;
const REST_SD_MIN: f64 = 10.0;
/// Probability from which on an hour is suggested.
pub const SURE: f64 = 0.90;

/// What the hour of the meter's clock looks like.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ClockError {
    /// Whole hours the meter's clock is ahead, where it is wrong with a probability of at least
    /// [`SURE`]; a suggestion, nothing is shifted.
    pub suggested_hours: Option<i64>,
    /// Hours ahead and their probabilities, the most probable first; none if it can't be told.
    pub candidates: Vec<(i64, f64)>,
    /// Meter readings within the sensor's wear, by the meter's own stamps.
    pub n: usize,
    /// Why it can't be told.
    pub reason: Option<Reason>,
}

/// Whether the meter's clock is wrong by whole hours, and how sure that is.
///
/// Positive hours: the meter's clock is ahead. Nothing is changed; see [`shifted`].
///
/// # Example
/// ```
/// # use glycemic_core::{Meter, Unit, align::clock_error, series::Builder};
/// let start = 1_741_000_000_000;
/// let times: Vec<i64> = (0..2016).map(|i| start + i * 300_000).collect();
/// let sensor = Builder::new(Unit::MgDl).build(&times, &vec![100.0; 2016])?;
/// let meter = Meter::new(&[start], &[96.0], &[String::new()], Unit::MgDl)?;
/// let hour = clock_error(&meter, &sensor);
/// assert_eq!(hour.suggested_hours, None);
/// assert_eq!(hour.reason.map(|r| r.code).as_deref(), Some("too_few_pairs"));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn clock_error(meter: &Meter, sensor: &Trace) -> ClockError {
    let spots = spots(meter);
    let joined = Smoothed::joined(sensor);
    let candidates = posterior(&spots, &joined).unwrap_or_default();
    let n = spots.iter().filter(|s| joined.at(s.time_ms).is_some()).count();
    let reason = candidates.is_empty().then(|| {
        let what = "meter readings within the sensor's wear";
        Reason::count("too_few_pairs", what, n.min(PAIRS - 1), PAIRS)
    });
    let suggested_hours = candidates.first().filter(|c| c.0 != 0 && c.1 >= SURE).map(|c| c.0);
    ClockError { suggested_hours, candidates, n, reason }
}

/// Hours that the meter's clock is more probably ahead than not.
pub(super) fn hours_wrong(spots: &[Spot], joined: &Smoothed) -> Option<i64> {
    let candidates = posterior(spots, joined)?;
    candidates.first().filter(|c| c.0 != 0 && c.1 >= 0.5).map(|c| c.0)
}

/// The meter with its clock set back by `minutes`: every time earlier by that, values as they are.
///
/// The context of each reading says so. Where the clock was an hour ahead, give 60.
///
/// # Errors
/// A shift over 14 hours either way, or times that become implausible.
///
/// # Example
/// ```
/// # use glycemic_core::{Meter, Unit, align::shifted};
/// let meter = Meter::new(&[1_741_003_600_000], &[96.0], &["fasting".into()], Unit::MgDl)?;
/// let right = shifted(&meter, 60.0)?;
/// assert_eq!(right.times_ms(), [1_741_000_000_000]);
/// assert_eq!(right.context(), ["fasting; time set back by 60 min"]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn shifted(meter: &Meter, minutes: f64) -> Result<Meter, Error> {
    crate::error::require_within("minutes", minutes, -840.0, 840.0)?;
    let back = (minutes * MINUTE as f64).round() as i64;
    let times: Vec<i64> = meter.times_ms().iter().map(|t| t - back).collect();
    let note = format!("time set back by {minutes} min");
    let told = |c: &String| if c.is_empty() { note.clone() } else { format!("{c}; {note}") };
    let context: Vec<String> = meter.context().iter().map(told).collect();
    Meter::new(&times, meter.glucose_mg_dl(), &context, Unit::MgDl)
}

/// Hours ahead and their probabilities, the most probable first.
fn posterior(spots: &[Spot], joined: &Smoothed) -> Option<Vec<(i64, f64)>> {
    let smooth = joined.smooth(HALF_MIN, USUAL_TAU_MIN * USUAL_TAU_MIN);
    let mut shifts = Vec::new();
    for minutes in (-REACH_MIN..=REACH_MIN).step_by(STEP_MIN as usize) {
        let read = |s: &Spot| Some((s.glucose, smooth.at(s.time_ms + minutes * MINUTE)?));
        let (meter, sensor): (Vec<f64>, Vec<f64>) = spots.iter().filter_map(read).unzip();
        shifts.push((minutes as f64, meter, sensor));
    }
    let most = shifts.iter().map(|s| s.1.len()).max().unwrap_or(0);
    let needed = PAIRS.max((COVERED * most as f64).ceil() as usize);
    shifts.retain(|s| s.1.len() >= needed);
    let shifts: Vec<(f64, Matching, Vec<f64>)> =
        shifts.into_iter().map(|s| (s.0, Matching::new(&s.1), s.2)).collect();
    let variance = |sum: f64, n: usize| sum / (n - 2) as f64;
    let least = shifts.iter().map(|s| variance(s.1.residuals(&s.2).1, s.2.len()));
    let least = least.fold(f64::INFINITY, f64::min);
    if !least.is_finite() {
        return None;
    }
    let variances: Vec<(f64, f64, f64)> = shifts
        .into_iter()
        .map(|(minutes, matching, sensor)| {
            let n = sensor.len();
            let sum = matching.with_gain(least).residuals(&sensor).1;
            (minutes, variance(sum, n).max(1e-6), n as f64)
        })
        .collect();
    let best = variances.iter().map(|v| v.1).fold(f64::INFINITY, f64::min);
    let likelihood = |v: &(f64, f64, f64)| libm::exp(-0.5 * (v.2 - 3.0) * libm::log(v.1 / best));
    let rest = |minutes: f64| {
        let z = (minutes - REST_MEAN_MIN) / REST_SD_MIN;
        libm::exp(-0.5 * z * z)
    };
    let mut weights: Vec<(i64, f64)> = (-12..=12_i64)
        .map(|hours| {
            let sum = |v: &(f64, f64, f64)| likelihood(v) * rest(v.0 + 60.0 * hours as f64);
            (hours, prior(hours) * variances.iter().map(sum).sum::<f64>())
        })
        .collect();
    let total: f64 = weights.iter().map(|w| w.1).sum();
    if total <= 0.0 {
        return None;
    }
    weights.iter_mut().for_each(|w| w.1 /= total);
    weights.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    Some(weights)
}

fn prior(hours: i64) -> f64 {
    match hours.abs() {
        0 => 0.90,
        1 => 0.03,
        12 => 0.01,
        _ => 0.001,
    }
}
