//! How much a stretch of readings speaks for a meal, and when it began.
//!
//! # Method
//! A stretch around a suspected start is explained in two ways: by this sensor's noise, slow
//! movement, a slope and a level alone, or by these and a meal's shape (see `matched`). The meal
//! may begin at any five minutes up to an hour either way, show after 0 to 20 minutes and peak 25
//! to 120 minutes later; how often this person's meals do which, and how high they rise, is learnt
//! from the clean logged meals (expectation-maximisation, beside what is usual). The evidence is
//! the ratio of the two chances of the readings, averaged over all of these. The onset is where
//! most of the chance lies near, and how much of it lies within half an hour is told.
//!
//! The size of the noise is taken to be uncertain (a multivariate t of few degrees of freedom): a
//! stretch that fits neither way says little. This judges the noise by how the readings wander, so
//! they are first averaged over a quarter of an hour: what happens from one reading to the next
//! differs from sensor to sensor (many smooth their readings), is the least well fitted part of
//! the noise, and tells nothing of a meal, yet would be most of what the size is judged by. Of a
//! smooth sensor each reading would count as a proof that there is little noise. What size is usual
//! is learnt from the stretches without a meal (`usual_scale`).
//!
//! # Source
//! Marginal likelihoods: Kass RE, Raftery AE. J Am Stat Assoc 1995; 90: 773-795. Multivariate t:
//! Zellner A. J Am Stat Assoc 1976; 71: 400-405. Expectation-maximisation: Dempster AP, Laird NM,
//! Rubin DB. J R Stat Soc B 1977; 39: 1-38. Scale of a multivariate t: Lange KL, Little RJA, Taylor
//! JMG. J Am Stat Assoc 1989; 84: 881-896. All from memory. The grid, the quarter of an hour and
//! what is usual are conventions of this library.

use core::ops::Range;

use super::covariance::Linked;
use super::matched::{ROUNDING, SLOPE_SD, WANDER};
use crate::stats::cholesky::{dot, factor, forward, matrix};

pub(super) const STEP_MIN: i64 = 5;
/// Readings from so many steps before the suspected start.
pub(super) const BEFORE: usize = 20;
/// To so many after it.
pub(super) const AFTER: usize = 30;
/// The true start lies at most so many steps away.
const AWAY: usize = 12;
/// Readings averaged together: a quarter of an hour.
const TOGETHER: usize = 3;
/// An onset so many steps away is as good as right: half an hour.
const NEAR: usize = 6;
/// Minutes from when the sensor shows a meal to its peak.
const PEAKS_MIN: [f64; 5] = [25.0, 40.0, 60.0, 85.0, 120.0];
/// A meal shows after 0, 1 or more steps.
const DELAYS: usize = 5;
const SORTS: usize = PEAKS_MIN.len() * DELAYS;
/// The level is as good as unknown, mg/dL.
const LEVEL_SD: f64 = 100.0;
/// Degrees of freedom by which the size of the noise is known.
const FREE: f64 = 4.0;
/// The scale of the noise that is usual elsewhere, 1, counts as so many averages.
const USUAL_AVERAGES: f64 = 100.0;
const SCALE_ROUNDS: usize = 20;
/// What meals raise where none are logged, mg/dL.
const MEAN_RISE: f64 = 40.0;
const SD_RISE: f64 = 20.0;
/// Least SD of what they raise, mg/dL.
const LEAST_SD: f64 = 5.0;
/// What is usual counts as so many logged meals.
const USUAL: f64 = 4.0;
const ROUNDS: usize = 4;
/// Onsets so many steps apart support each other, the nearer the more.
const SUPPORT: usize = 4;
const SUPPORT_LOSS: f64 = 0.02;

/// What this person's meals look like.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Habit {
    /// Share of each delay and peak, the peaks of a delay together.
    shares: [f64; SORTS],
    mean: f64,
    sd: f64,
    /// Variance of the noise as a multiple of what the covariance says.
    pub(super) scale: f64,
}

impl Default for Habit {
    fn default() -> Habit {
        Habit { shares: [1.0 / SORTS as f64; SORTS], mean: MEAN_RISE, sd: SD_RISE, scale: 1.0 }
    }
}

/// What a stretch says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Evidence {
    /// Logarithm of how much likelier the readings are with a meal than without.
    pub log_factor: f64,
    /// The onset, in steps from the suspected start.
    pub steps: i64,
    /// How probable an onset within half an hour of it is, if there was a meal.
    pub near: f64,
    /// How far the readings are from noise alone.
    pub plain: Plain,
}

/// Readings held against noise alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plain {
    /// Squared length of the whitened averages.
    pub squares: f64,
    /// How many averages, less one for the level.
    pub free: f64,
}

/// One start and peak: logarithm of the ratio of chances, height, and its variance.
#[derive(Clone, Copy)]
struct Cell {
    log: f64,
    height: f64,
    variance: f64,
}

/// Whitened shapes of stretches that begin at one place before the suspected start.
#[derive(Clone, Debug)]
struct Shapes {
    low: Vec<Vec<f64>>,
    /// By the step at which the rise begins, then by peak.
    rises: Vec<Vec<Vec<f64>>>,
}

impl Shapes {
    /// For stretches from `before` steps before the start.
    fn new(before: usize, noise: &Linked) -> Option<Shapes> {
        let n = before + AFTER + 1;
        let minutes = |step: usize| (step as i64 * STEP_MIN) as f64;
        let at_lag: Vec<f64> =
            (0..n).map(|lag| noise.at(minutes(lag)) + WANDER.at(minutes(lag))).collect();
        let each = matrix(n, |i, j| {
            let own = if i == j { noise.white.max(ROUNDING) } else { 0.0 };
            let from_start = |k: usize| minutes(k) - minutes(before);
            let slope = SLOPE_SD * SLOPE_SD * from_start(i) * from_start(j);
            at_lag[i.abs_diff(j)] + LEVEL_SD * LEVEL_SD + slope + own
        });
        let low = factor(&averaged_both_ways(&each))?;
        let shapes = PEAKS_MIN
            .map(|peak| (0..n + AWAY).map(|step| shape(minutes(step), peak)).collect::<Vec<f64>>());
        // The first begins `AWAY` steps before the suspected start.
        let rises = (0..2 * AWAY + DELAYS)
            .map(|first| {
                let value = |values: &[f64], k: usize| {
                    (k + AWAY).checked_sub(before + first).map_or(0.0, |step| values[step])
                };
                let whitened = |values: &Vec<f64>| {
                    forward(&low, averages(&(0..n).map(|k| value(values, k)).collect::<Vec<f64>>()))
                };
                shapes.iter().map(whitened).collect()
            })
            .collect();
        Some(Shapes { low, rises })
    }

    /// Readings that may end early, less their mean, averaged and whitened.
    fn white(&self, y: &[f64]) -> Vec<f64> {
        let mean = y.iter().sum::<f64>() / y.len().max(1) as f64;
        forward(&self.low, averages(&y.iter().map(|v| v - mean).collect::<Vec<f64>>()))
    }

    /// Each start among `first`, and each peak, for whitened readings.
    fn cells(&self, z: &[f64], habit: &Habit, first: Range<usize>) -> Vec<Vec<Cell>> {
        let plain = dot(z, z);
        let of = |x: &Vec<f64>| cell(z, plain, &x[..z.len().min(x.len())], habit);
        self.rises[first].iter().map(|peaks| peaks.iter().map(of).collect()).collect()
    }

    fn evidence(&self, y: &[f64], habit: &Habit) -> Evidence {
        let z = self.white(y);
        let cells = self.cells(&z, habit, 0..self.rises.len());
        let top = cells.iter().flatten().map(|c| c.log).fold(f64::MIN, f64::max);
        let chances: Vec<f64> = (0..=2 * AWAY)
            .map(|onset| {
                let of = |(k, share): (usize, &f64)| {
                    let c = cells[onset + k / PEAKS_MIN.len()][k % PEAKS_MIN.len()];
                    share * libm::exp(c.log - top)
                };
                habit.shares.iter().enumerate().map(of).sum()
            })
            .collect();
        let all: f64 = chances.iter().sum();
        let onset = most_supported(&chances);
        let around = onset.saturating_sub(NEAR)..(onset + NEAR + 1).min(chances.len());
        Evidence {
            log_factor: top + libm::log(all / chances.len() as f64),
            steps: onset as i64 - AWAY as i64,
            near: chances[around].iter().sum::<f64>() / all,
            plain: Plain { squares: dot(&z, &z), free: (z.len() as f64 - 1.0).max(0.0) },
        }
    }

    /// What meals look like whose readings begin [`BEFORE`] steps before their start.
    fn learn(&self, meals: &[Vec<f64>]) -> Habit {
        let mut habit = Habit::default();
        for _ in 0..ROUNDS {
            let mut counts = [USUAL / SORTS as f64; SORTS];
            let mut sum = USUAL * MEAN_RISE;
            let mut squares = USUAL * (MEAN_RISE * MEAN_RISE + SD_RISE * SD_RISE);
            for y in meals {
                let cells = self.cells(&self.white(y), &habit, AWAY..AWAY + DELAYS);
                let cell = |k: usize| cells[k / PEAKS_MIN.len()][k % PEAKS_MIN.len()];
                let top = (0..SORTS).map(|k| cell(k).log).fold(f64::MIN, f64::max);
                let weights: Vec<f64> =
                    (0..SORTS).map(|k| habit.shares[k] * libm::exp(cell(k).log - top)).collect();
                let all: f64 = weights.iter().sum();
                for (k, weight) in weights.iter().enumerate() {
                    let (c, part) = (cell(k), weight / all);
                    counts[k] += part;
                    sum += part * c.height;
                    squares += part * (c.height * c.height + c.variance);
                }
            }
            let n = USUAL + meals.len() as f64;
            let mean = sum / n;
            let sd = (squares / n - mean * mean).max(LEAST_SD * LEAST_SD).sqrt();
            habit = Habit { shares: counts.map(|c| c / n), mean, sd, scale: 1.0 };
        }
        habit
    }
}

/// Shapes by the place where stretches begin, made when first asked for.
#[derive(Clone, Debug)]
pub(super) struct Stretches {
    noise: Linked,
    made: Vec<Option<Shapes>>,
}

impl Stretches {
    pub(super) fn new(noise: &Linked) -> Stretches {
        Stretches { noise: *noise, made: vec![None; BEFORE + 1] }
    }

    fn shapes(&mut self, before: usize) -> Option<&Shapes> {
        let slot = self.made.get_mut(before)?;
        if slot.is_none() {
            *slot = Shapes::new(before, &self.noise);
        }
        slot.as_ref()
    }

    /// What meals look like; each of `meals` whole, from [`BEFORE`] steps before to [`AFTER`] after.
    pub(super) fn learn(&mut self, meals: &[Vec<f64>]) -> Option<Habit> {
        Some(self.shapes(BEFORE)?.learn(meals))
    }

    /// What readings say that begin `before` steps before the suspected start; they may end early.
    pub(super) fn evidence(&mut self, before: usize, y: &[f64], habit: &Habit) -> Option<Evidence> {
        Some(self.shapes(before)?.evidence(y, habit))
    }
}

/// One shape `x` in the readings `z`, both whitened; `plain` is the squared length of `z`.
fn cell(z: &[f64], plain: f64, x: &[f64], habit: &Habit) -> Cell {
    // A shape that begins after the readings end is as good as not seen.
    let weight = dot(x, x).max(1e-12);
    let (seen, variance) = (dot(x, z) / weight, 1.0 / weight);
    let spread = habit.sd * habit.sd;
    let off = seen - habit.mean;
    let with_meal = (plain - seen * seen / variance + off * off / (spread + variance)).max(0.0);
    let known = FREE * habit.scale;
    let log_ratio = libm::log((known + plain) / (known + with_meal));
    Cell {
        log: 0.5 * ((FREE + z.len() as f64) * log_ratio - libm::log(1.0 + spread / variance)),
        height: (seen * spread + habit.mean * variance) / (spread + variance),
        variance: spread * variance / (spread + variance),
    }
}

/// The scale of the noise that fits stretches without a meal, each with the chance that it is one.
///
/// The maximum likelihood of the multivariate t's scale, by expectation-maximisation: stretches far
/// louder than the others count less.
pub(super) fn usual_scale(stretches: &[(Plain, f64)]) -> f64 {
    let free: f64 = stretches.iter().map(|(p, chance)| chance * p.free).sum();
    let mut scale = 1.0;
    for _ in 0..SCALE_ROUNDS {
        let of = |(p, chance): &(Plain, f64)| {
            chance * p.squares * (FREE + p.free) / (FREE + p.squares / scale)
        };
        let squares: f64 = stretches.iter().map(of).sum();
        scale = (USUAL_AVERAGES + squares) / (USUAL_AVERAGES + free);
    }
    scale
}

/// Means of [`TOGETHER`] values after each other; those left over at the end are not used.
fn averages(values: &[f64]) -> Vec<f64> {
    let mean = |part: &[f64]| part.iter().sum::<f64>() / TOGETHER as f64;
    values.chunks_exact(TOGETHER).map(mean).collect()
}

/// The covariance of the averages, from that of the readings.
fn averaged_both_ways(each: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let rows: Vec<Vec<f64>> = each.iter().map(|row| averages(row)).collect();
    let n = each.len() / TOGETHER;
    let column = |j: usize| averages(&rows.iter().map(|row| row[j]).collect::<Vec<f64>>());
    (0..n).map(column).collect()
}

/// The place with the most chance near it.
fn most_supported(chances: &[f64]) -> usize {
    let support = |k: usize| -> f64 {
        let near = chances.iter().enumerate().filter(|(i, _)| i.abs_diff(k) <= SUPPORT);
        near.map(|(i, c)| c * (1.0 - SUPPORT_LOSS * i.abs_diff(k) as f64)).sum()
    };
    (0..chances.len()).max_by(|a, b| support(*a).total_cmp(&support(*b))).unwrap_or(0)
}

fn shape(minutes: f64, peak: f64) -> f64 {
    let x = (minutes / peak).max(0.0);
    x * libm::exp(1.0 - x)
}

#[cfg(test)]
#[path = "evidence_tests.rs"]
mod tests;
