//! From the signal under the sensor to what the sensor says.
//!
//! # Method
//! Reading = gain × tissue glucose + offset + drift × days worn + first-day wobble + noise,
//! less what pressure lows take away.
//!
//! *Noise* (Breton & Kovatchev): on a 15-min grid e₁ = v₁, eₙ = 0.7 (eₙ₋₁ + vₙ) with v standard
//! normal; error = ξ + λ sinh((eₙ - γ)/δ), λ 15.96, ξ -5.471, δ 1.6898, γ -0.5444 mg/dL. Scaled;
//! the stationary mean is taken off, so that gain and offset alone set the bias; straight lines
//! between grid points. *Pressure lows* (Facchinetti): a first-order system driven by a
//! rectangle; median duration 45 min. *Wobble*: a damped cosine of our own.
//!
//! # Source
//! Breton M, Kovatchev B. *J Diabetes Sci Technol* 2 (2008): 853-862. Facchinetti A et al.
//! *Diabetes Technol Ther* 18 (2016): 264-272.

use super::random::{Purpose, Random};
use super::scenario::Scenario;

const LAMBDA: f64 = 15.96;
const XI: f64 = -5.471;
const DELTA: f64 = 1.6898;
const GAMMA: f64 = -0.5444;
/// Correlation of the latent noise over 15 min.
const PHI: f64 = 0.7;
/// Grid of the noise, min.
const GRID_MIN: usize = 15;
/// Time constant of a pressure low, min. Our own figure.
const PRESSURE_TAU_MIN: f64 = 6.0;

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

/// Stationary variance of the latent noise: 0.49/0.51.
fn latent_variance() -> f64 {
    PHI * PHI / (1.0 - PHI * PHI)
}

/// Mean of the noise at scale 1, mg/dL: the lognormal moments of sinh of a normal.
pub(crate) fn noise_mean() -> f64 {
    let spread = libm::exp(0.5 * latent_variance() / (DELTA * DELTA));
    XI + LAMBDA * spread * libm::sinh(-GAMMA / DELTA)
}

/// SD of the noise at scale 1, mg/dL.
#[cfg(test)]
pub(crate) fn noise_sd() -> f64 {
    let ratio = latent_variance() / (DELTA * DELTA);
    let square = 0.5 * (libm::exp(2.0 * ratio) * libm::cosh(2.0 * GAMMA / DELTA) - 1.0);
    let mean = libm::exp(0.5 * ratio) * libm::sinh(-GAMMA / DELTA);
    LAMBDA * (square - mean * mean).sqrt()
}

/// The latent noise on its 15-min grid.
pub(crate) fn latent(random: &mut Random, count: usize) -> Vec<f64> {
    let mut last = random.normal();
    let mut values = Vec::with_capacity(count);
    for place in 0..count {
        if place > 0 {
            last = PHI * (last + random.normal());
        }
        values.push(last);
    }
    values
}

/// The latent noise as mg/dL, mean 0, at scale 1.
pub(crate) fn noise_of(latent: f64) -> f64 {
    XI + LAMBDA * libm::sinh((latent - GAMMA) / DELTA) - noise_mean()
}

/// Noise by minute over `minutes` minutes, mg/dL.
pub(crate) fn noise(scale: f64, seed: u64, minutes: usize) -> Vec<f64> {
    let mut random = Random::new(seed, Purpose::SensorNoise);
    let grid = latent(&mut random, minutes / GRID_MIN + 2);
    let grid: Vec<f64> = grid.into_iter().map(|value| scale * noise_of(value)).collect();
    let by_minute = (0..minutes).map(|minute| {
        let (place, part) = (minute / GRID_MIN, (minute % GRID_MIN) as f64 / GRID_MIN as f64);
        grid[place] + part * (grid[place + 1] - grid[place])
    });
    by_minute.collect()
}

/// First-day wobble by minute of wear, mg/dL.
pub(crate) fn wobble(scenario: &Scenario, seed: u64, minutes: usize) -> Vec<f64> {
    let mut random = Random::new(seed, Purpose::SensorShape);
    let phase = core::f64::consts::TAU * random.uniform();
    let by_minute = (0..minutes).map(|minute| {
        let hour = minute as f64 / 60.0;
        // exp(-18/6) is 5 %.
        let size = scenario.sensor.wobble_mg_dl * libm::exp(-hour / 6.0);
        size * libm::cos(core::f64::consts::TAU * hour / 11.0 + phase)
    });
    by_minute.collect()
}

/// The pressure lows of a wear from `start` on (minutes from the first local midnight).
pub(crate) fn pressure_lows(scenario: &Scenario, seed: u64, start: i64) -> Vec<PressureLow> {
    let mut random = Random::new(seed ^ 0x5ead, Purpose::SensorShape);
    let nights = scenario.days.saturating_sub(1) as usize;
    let count = Scenario::scaled(scenario.sensor.pressure_lows, scenario.days as usize);
    // Not the first night: the wobble would hide it.
    let mut chosen: Vec<usize> = random.shuffled(nights).into_iter().take(count).collect();
    chosen.sort_unstable();
    let lows = chosen.into_iter().map(|night| {
        let local = 1440 * (night as i64 + 2) + random.whole(75, 270);
        let begin = scenario.elapsed(local).max(start);
        let long = (45.0 + 9.0 * random.normal()).clamp(30.0, 70.0).round() as i64;
        PressureLow {
            start_ms: scenario.time_ms(begin),
            end_ms: scenario.time_ms(begin + long),
            depth_mg_dl: random.between(25.0, 40.0).round(),
        }
    });
    lows.collect()
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
