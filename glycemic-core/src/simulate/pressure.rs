//! Pressure lows: falls of the reading, not of blood, from lying on the sensor.
//!
//! # Method
//! A first-order system driven by a rectangle. Durations have median 45 min and 5th and 95th
//! percentiles 30 and 70, depths 24 (10, 48) mg/dL: each is drawn as a lognormal whose spread
//! differs above and below the median, so that all three are met. Four of five fall between 01:15
//! and 04:30, the others in the early afternoon (more at night in the source; the share is our
//! own).
//!
//! # Source
//! Facchinetti A et al. *Diabetes Technol Ther* 18 (2016): 264-272.

use super::random::{Purpose, Random};
use super::scenario::Scenario;

/// Time constant of a pressure low, min. Our own figure.
const PRESSURE_TAU_MIN: f64 = 6.0;
/// Share of pressure lows at night. Our own figure.
const NIGHT_SHARE: f64 = 0.8;
/// 95th percentile of the standard normal.
const Z95: f64 = 1.644_853_626_951_472_2;

/// A fall of the reading from lying on the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct PressureLow {
    /// When the pressure began, epoch ms UTC.
    pub start_ms: i64,
    /// When it ended, epoch ms UTC.
    pub end_ms: i64,
    /// How far the reading would fall in the end, mg/dL.
    pub depth_mg_dl: f64,
}

/// A positive number with this 5th percentile, median and 95th percentile, from a standard
/// normal: exp of a normal whose SD differs on the two sides of the median.
pub(crate) fn from_quantiles(p05: f64, median: f64, p95: f64, z: f64) -> f64 {
    let end = if z < 0.0 { median / p05 } else { p95 / median };
    median * libm::exp(z / Z95 * libm::log(end))
}

/// Nights of a wear in random order: pressure lows take the first, true lows the last. Not the
/// first night: the wobble would hide it.
pub(crate) fn nights(random: &mut Random, worn_days: usize) -> Vec<usize> {
    random.shuffled(worn_days.saturating_sub(1))
}

/// The pressure lows of a wear from `start` on (minutes from the first local midnight).
pub(crate) fn pressure_lows(scenario: &Scenario, seed: u64, start: i64) -> Vec<PressureLow> {
    let mut random = Random::new(seed ^ 0x5ead, Purpose::SensorShape);
    let days = scenario.days as usize;
    let count = Scenario::scaled(scenario.sensor.pressure_lows, days);
    let mut chosen: Vec<usize> = nights(&mut random, days).into_iter().take(count).collect();
    chosen.sort_unstable();
    let lows = chosen.into_iter().map(|night| {
        let (asleep, early) = (random.chance(NIGHT_SHARE), random.uniform());
        let (day, from, to) = if asleep { (2, 75.0, 270.0) } else { (1, 810.0, 1020.0) };
        let local = 1440 * (night as i64 + day) + (from + (to - from) * early) as i64;
        let begin = scenario.elapsed(local).max(start);
        let long = from_quantiles(30.0, 45.0, 70.0, random.normal()).round() as i64;
        PressureLow {
            start_ms: scenario.time_ms(begin),
            end_ms: scenario.time_ms(begin + long),
            depth_mg_dl: from_quantiles(10.0, 24.0, 48.0, random.normal()),
        }
    });
    let mut lows: Vec<PressureLow> = lows.collect();
    lows.sort_by_key(|low| low.start_ms);
    lows
}

/// What the lows take off the reading, by minute of wear.
pub(crate) fn pressure(lows: &[PressureLow], start_ms: i64, minutes: usize) -> Vec<f64> {
    let pace = -libm::expm1(-1.0 / PRESSURE_TAU_MIN);
    let mut fall = 0.0;
    let mut by_minute = Vec::with_capacity(minutes);
    for minute in 0..minutes {
        by_minute.push(fall);
        let now = start_ms + 60_000 * minute as i64;
        let pressed = lows.iter().find(|low| low.start_ms <= now && now < low.end_ms);
        fall += pace * (pressed.map_or(0.0, |low| low.depth_mg_dl) - fall);
    }
    by_minute
}
