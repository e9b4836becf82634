//! The sensor's random errors.
//!
//! # Method
//! *Johnson* (Breton & Kovatchev): on a 15-min grid e₁ = v₁, eₙ = 0.7 (eₙ₋₁ + vₙ) with v standard
//! normal; error = ξ + λ sinh((eₙ - γ)/δ), λ 15.96, ξ -5.471, δ 1.6898, γ -0.5444 mg/dL; the
//! stationary mean is taken off, so that gain and offset alone set the bias. *Autoregressive* of
//! order 2: on a 5-min grid xₙ = 1.3 xₙ₋₁ - 0.42 xₙ₋₂ + w with w normal, scaled to the same SD.
//! Straight lines between grid points; the whole is scaled. *Outliers*: with a small probability
//! a reading has a normal error of its own beside the noise.
//!
//! # Source
//! Breton M, Kovatchev B. *J Diabetes Sci Technol* 2 (2008): 853-862. The autoregressive order:
//! Facchinetti A et al. *IEEE Trans Biomed Eng* 61 (2014): 620-629; its coefficients from memory.

use super::random::{Purpose, Random};
use super::scenario::{Noise, Sensor};
use super::sensor::STEP_MIN;

const LAMBDA: f64 = 15.96;
const XI: f64 = -5.471;
const DELTA: f64 = 1.6898;
const GAMMA: f64 = -0.5444;
/// Correlation of the latent noise over 15 min.
const PHI: f64 = 0.7;
/// Grid of the noise, min.
const GRID_MIN: usize = 15;
/// Weight of the last value in the autoregressive noise. From memory.
const FIRST: f64 = 1.3;
/// Weight of the one before it. From memory.
const SECOND: f64 = -0.42;

/// Stationary variance of the latent noise: 0.49/0.51.
fn latent_variance() -> f64 {
    PHI * PHI / (1.0 - PHI * PHI)
}

/// Mean of the noise at scale 1, mg/dL: the lognormal moments of sinh of a normal.
pub(crate) fn noise_mean() -> f64 {
    let spread = libm::exp(0.5 * latent_variance() / (DELTA * DELTA));
    XI + LAMBDA * spread * libm::sinh(-GAMMA / DELTA)
}

/// SD of the noise at scale 1, mg/dL, on its grid.
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

/// Correlation of neighbours in the autoregressive noise: a₁/(1 - a₂), by Yule and Walker.
pub(crate) fn neighbour_correlation() -> f64 {
    FIRST / (1.0 - SECOND)
}

/// Variance of what is new in each step, as a fraction of the stationary variance:
/// 1 - a₁ρ₁ - a₂ρ₂ with ρ₂ = a₁ρ₁ + a₂.
pub(crate) fn fresh_share() -> f64 {
    let first = neighbour_correlation();
    let second = FIRST * first + SECOND;
    1.0 - FIRST * first - SECOND * second
}

/// The autoregressive noise on its 5-min grid, variance 1, stationary from the start.
pub(crate) fn autoregressive(random: &mut Random, count: usize) -> Vec<f64> {
    let linked = neighbour_correlation();
    let fresh = fresh_share().sqrt();
    let before = random.normal();
    let mut pair = (before, linked * before + (1.0 - linked * linked).sqrt() * random.normal());
    let mut values = Vec::with_capacity(count);
    for _ in 0..count {
        values.push(pair.0);
        pair = (pair.1, FIRST * pair.1 + SECOND * pair.0 + fresh * random.normal());
    }
    values
}

/// Noise by minute over `minutes` minutes, mg/dL.
pub(crate) fn noise(knobs: &Sensor, seed: u64, minutes: usize) -> Vec<f64> {
    let mut random = Random::new(seed, Purpose::SensorNoise);
    let step = if knobs.noise == Noise::Johnson { GRID_MIN } else { STEP_MIN };
    let count = minutes / step + 2;
    let grid: Vec<f64> = match knobs.noise {
        Noise::Johnson => latent(&mut random, count).into_iter().map(noise_of).collect(),
        Noise::Autoregressive2 => {
            let sd = noise_sd();
            autoregressive(&mut random, count).into_iter().map(|value| sd * value).collect()
        }
    };
    let grid: Vec<f64> = grid.into_iter().map(|value| knobs.noise_scale * value).collect();
    let by_minute = (0..minutes).map(|minute| {
        let (place, part) = (minute / step, (minute % step) as f64 / step as f64);
        grid[place] + part * (grid[place + 1] - grid[place])
    });
    by_minute.collect()
}

/// The readings' own errors, one per 5 min, mg/dL: 0 for most.
pub(crate) fn outliers(knobs: &Sensor, seed: u64, minutes: usize) -> Vec<f64> {
    let mut random = Random::new(seed, Purpose::Outliers);
    let by_reading = (0..minutes.div_ceil(STEP_MIN)).map(|_| {
        let (hit, size) = (random.chance(knobs.outlier_share), random.normal());
        if hit { knobs.outlier_sd_mg_dl * size } else { 0.0 }
    });
    by_reading.collect()
}
