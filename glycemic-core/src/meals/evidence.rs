//! How much a stretch of readings speaks for a meal, and when it began.
//!
//! # Method
//! A stretch around a suspected start is explained in two ways: by this sensor's noise, slow
//! movement, a slope and a level alone, or by these and a meal's shape (see `matched`). The meal
//! may begin at any five minutes up to an hour either way, show after 0 to 20 minutes and peak 25
//! to 120 minutes later; how often this person's meals do which, and how high they rise, is learnt
//! from the clean logged meals (expectation-maximisation, beside what is usual). The evidence is
//! the ratio of the two chances of the readings, averaged over all of these. The size of the noise
//! is taken to be uncertain (a multivariate t of few degrees of freedom): a stretch that fits
//! neither way says little. The onset is where most of the chance lies near.
//!
//! # Source
//! Marginal likelihoods: Kass RE, Raftery AE. J Am Stat Assoc 1995; 90: 773-795. Multivariate t:
//! Zellner A. J Am Stat Assoc 1976; 71: 400-405. Expectation-maximisation: Dempster AP, Laird NM,
//! Rubin DB. J R Stat Soc B 1977; 39: 1-38. All from memory. The grid and what is usual are
//! conventions of this library.

use core::ops::Range;

use super::covariance::Linked;
use super::matched::{ROUNDING, SLOPE_SD, WANDER};
use crate::stats::cholesky::{factor, matrix};

pub(super) const STEP_MIN: i64 = 5;
/// Readings from so many steps before the suspected start.
pub(super) const BEFORE: usize = 20;
/// To so many after it.
pub(super) const AFTER: usize = 30;
/// The true start lies at most so many steps away.
const AWAY: usize = 12;
/// Minutes from when the sensor shows a meal to its peak.
const PEAKS_MIN: [f64; 5] = [25.0, 40.0, 60.0, 85.0, 120.0];
/// A meal shows after 0, 1 or more steps.
const DELAYS: usize = 5;
const SORTS: usize = PEAKS_MIN.len() * DELAYS;
/// The level is as good as unknown, mg/dL.
const LEVEL_SD: f64 = 100.0;
/// Degrees of freedom by which the size of the noise is known.
const FREE: f64 = 4.0;
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
}

impl Default for Habit {
    fn default() -> Habit {
        Habit { shares: [1.0 / SORTS as f64; SORTS], mean: MEAN_RISE, sd: SD_RISE }
    }
}

/// What a stretch says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Evidence {
    /// Logarithm of how much likelier the readings are with a meal than without.
    pub log_factor: f64,
    /// The onset, in steps from the suspected start.
    pub steps: i64,
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
        let low = factor(&matrix(n, |i, j| {
            let own = if i == j { noise.white.max(ROUNDING) } else { 0.0 };
            let from_start = |k: usize| minutes(k) - minutes(before);
            let slope = SLOPE_SD * SLOPE_SD * from_start(i) * from_start(j);
            at_lag[i.abs_diff(j)] + LEVEL_SD * LEVEL_SD + slope + own
        }))?;
        let shapes = PEAKS_MIN
            .map(|peak| (0..n + AWAY).map(|step| shape(minutes(step), peak)).collect::<Vec<f64>>());
        // The first begins `AWAY` steps before the suspected start.
        let rises = (0..2 * AWAY + DELAYS)
            .map(|first| {
                let value = |values: &[f64], k: usize| {
                    (k + AWAY).checked_sub(before + first).map_or(0.0, |step| values[step])
                };
                let whitened = |values: &Vec<f64>| {
                    whiten(&low, &(0..n).map(|k| value(values, k)).collect::<Vec<f64>>())
                };
                shapes.iter().map(whitened).collect()
            })
            .collect();
        Some(Shapes { low, rises })
    }

    /// Each start among `first`, and each peak, for readings that may end early.
    fn cells(&self, y: &[f64], habit: &Habit, first: Range<usize>) -> Vec<Vec<Cell>> {
        let mean = y.iter().sum::<f64>() / y.len().max(1) as f64;
        let z = whiten(&self.low, &y.iter().map(|v| v - mean).collect::<Vec<f64>>());
        let plain = dot(&z, &z);
        let of = |x: &Vec<f64>| cell(&z, plain, &x[..z.len().min(x.len())], habit);
        self.rises[first].iter().map(|peaks| peaks.iter().map(of).collect()).collect()
    }

    fn evidence(&self, y: &[f64], habit: &Habit) -> Evidence {
        let cells = self.cells(y, habit, 0..self.rises.len());
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
        let mean = chances.iter().sum::<f64>() / chances.len() as f64;
        Evidence {
            log_factor: top + libm::log(mean),
            steps: most_supported(&chances) as i64 - AWAY as i64,
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
                let cells = self.cells(y, &habit, AWAY..AWAY + DELAYS);
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
            habit = Habit { shares: counts.map(|c| c / n), mean, sd };
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
    let log_ratio = libm::log((FREE + plain) / (FREE + with_meal));
    Cell {
        log: 0.5 * ((FREE + z.len() as f64) * log_ratio - libm::log(1.0 + spread / variance)),
        height: (seen * spread + habit.mean * variance) / (spread + variance),
        variance: spread * variance / (spread + variance),
    }
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

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// The solution of L x = b; of the first rows where `b` is shorter.
fn whiten(low: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let still = b.iter().take_while(|v| **v == 0.0).count();
    let mut x = vec![0.0; still];
    for (row, v) in low.iter().zip(b).skip(still) {
        let known = dot(&row[still..], &x[still..]);
        x.push((v - known) / row[x.len()]);
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::cholesky::solve;
    use crate::stats::random::Random;

    const QUIET: Linked = Linked { linked: 20.0, white: 0.1, slow_min: 40.0, fast_min: 0.0 };

    fn minutes() -> Vec<f64> {
        (-(BEFORE as i64)..=AFTER as i64).map(|i| (i * STEP_MIN) as f64).collect()
    }

    fn meal(start: f64, peak: f64, height: f64) -> Vec<f64> {
        minutes().iter().map(|m| 110.0 + height * shape(m - start, peak)).collect()
    }

    /// Closed form: with y ~ N(0, S) or N(m x, S + s² x xᵀ) the two quadratic forms, here by the full
    /// matrices, give the ratio of two multivariate t densities (Zellner 1976).
    #[test]
    fn a_cell_is_the_ratio_of_two_densities() {
        let (habit, shapes) = (Habit::default(), Shapes::new(BEFORE, &QUIET).unwrap());
        let y = meal(0.0, 40.0, 30.0);
        let n = y.len();
        let mean = y.iter().sum::<f64>() / n as f64;
        let y0: Vec<f64> = y.iter().map(|v| v - mean).collect();
        let x: Vec<f64> = minutes().iter().map(|m| shape(*m, 40.0)).collect();
        let s = matrix(n, |i, j| dot(&shapes.low[i], &shapes.low[j]));
        let with = factor(&matrix(n, |i, j| s[i][j] + SD_RISE * SD_RISE * x[i] * x[j])).unwrap();
        let off: Vec<f64> = y0.iter().zip(&x).map(|(v, x)| v - MEAN_RISE * x).collect();
        let form = |low: &[Vec<f64>], v: &[f64]| dot(v, &solve(low, v.to_vec()));
        let log_det =
            |low: &[Vec<f64>]| low.iter().enumerate().map(|(i, r)| libm::log(r[i])).sum::<f64>();
        let density = |low: &[Vec<f64>], v: &[f64]| {
            -log_det(low) - 0.5 * (FREE + n as f64) * libm::log(FREE + form(low, v))
        };
        let wanted = density(&with, &off) - density(&shapes.low, &y0);
        let found = shapes.cells(&y, &habit, AWAY..AWAY + 1)[0][1].log;
        assert!((found - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{found} {wanted}");
    }

    #[test]
    fn a_meal_is_dated_and_a_line_is_none() {
        let mut stretches = Stretches::new(&QUIET);
        let habit = Habit::default();
        // Begins 25 minutes after the suspected start and shows ten minutes later.
        let seen = stretches.evidence(BEFORE, &meal(35.0, 60.0, 45.0), &habit).unwrap();
        assert!(seen.log_factor > 5.0 && (seen.steps - 5).abs() <= 2, "{seen:?}");
        let line: Vec<f64> = minutes().iter().map(|m| 100.0 + 0.02 * m).collect();
        assert!(stretches.evidence(BEFORE, &line, &habit).unwrap().log_factor < 0.0);
        // Cut short at both ends it is still seen.
        let part = &meal(35.0, 60.0, 45.0)[BEFORE - 8..BEFORE + 24];
        assert!(stretches.evidence(8, part, &habit).unwrap().log_factor > 3.0);
        assert!(stretches.evidence(BEFORE + 1, part, &habit).is_none());
    }

    /// Meals made with a peak at 85 min, shown after ten: most of the share goes there, and the mean
    /// and SD of their heights come back.
    #[test]
    fn what_meals_look_like_is_learnt() {
        let mut random = Random::keyed(7, 0, 0);
        let made: Vec<Vec<f64>> = (0..60)
            .map(|_| {
                let height = 30.0 + 8.0 * random.normal();
                meal(10.0, 85.0, height).iter().map(|v| v + 0.3 * random.normal()).collect()
            })
            .collect();
        let still = Linked { linked: 0.0, white: 0.1, slow_min: 10.0, fast_min: 0.0 };
        let habit = Stretches::new(&still).learn(&made).unwrap();
        assert!(habit.shares[2 * PEAKS_MIN.len() + 3] > 0.5, "{:?}", habit.shares);
        assert!((habit.shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((habit.mean - 30.0).abs() < 4.0 && (habit.sd - 9.0).abs() < 4.0, "{habit:?}");
        assert_eq!(Stretches::new(&still).learn(&[]).unwrap().mean, MEAN_RISE);
    }
}
