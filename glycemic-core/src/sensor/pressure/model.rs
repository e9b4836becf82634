//! Two explanations of a stretch of readings, weighed: glucose alone, or glucose with a piece
//! taken off it.
//!
//! # Method
//! Readings are glucose plus noise. Glucose is smooth: a Gaussian process (Matérn 5/2) whose rate
//! of change stays inside what a body can do. Which of four states holds (still, moving, after
//! food, or a louder noise) is not known; each has a weight beforehand and the readings weigh them
//! anew. Pressure takes a plateau off the readings, with edges of at most 15 min down and 20 up.
//! The likelihood ratio of a plateau is worked out for every length and pair of edges, its depth
//! integrated over a normal. One reading or two may be astray, with a dip as well as without.

use crate::stats::cholesky::{dot, factor, inverse, log_determinant, matrix, solve};

/// Readings needed before and after a dip, in steps.
pub(super) const PAD: usize = 9;
/// Lengths of a dip from the last reading before it to the first after it, in steps.
pub(super) const LENGTHS: [usize; 15] = [4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 16, 18, 21, 24];
/// Lengths of the two edges, in steps.
const FALLS: [usize; 3] = [1, 2, 3];
const RECOVERIES: [usize; 3] = [1, 2, 4];
/// Median and spread (SD of the logarithm) of the length, minutes. The spread is wider than
/// published.
const LENGTH_MIN: (f64, f64) = (45.0, 0.6);
/// Mean and SD of the depth beforehand, mg/dL: published 24, 5 % under 10, 5 % over 48.
const DEPTH: (f64, f64) = (25.0, 14.0);
/// Variance of the level, (mg/dL)²: as good as unknown.
const LEVEL: f64 = 1e4;
/// Variance of every reading about any shape, (mg/dL)²: rounding, and that no shape is exact.
const OWN: f64 = 1.0;
/// How often one reading alone is off, and by how much (SD, mg/dL).
const STRAY: (f64, f64) = (0.004, 18.0);

/// What glucose may be doing: SD (mg/dL) and time scale (minutes), and a factor on the noise's
/// variance. The SD of the rate is √(5/3) SD / scale: 0.1, 0.7, 1.4 mg/dL per minute.
const STATES: [(f64, f64, f64); 4] =
    [(6.0, 80.0, 1.0), (25.0, 45.0, 1.0), (45.0, 42.0, 1.0), (10.0, 60.0, 4.0)];
/// Weights of the states beforehand.
pub(super) const RESTING: [f64; 4] = [0.83, 0.10, 0.01, 0.06];
/// The same with activity near.
pub(super) const ACTIVE: [f64; 4] = [0.44, 0.45, 0.05, 0.06];
/// The same with a meal near.
pub(super) const FED: [f64; 4] = [0.19, 0.45, 0.30, 0.06];

/// A plateau of one length and pair of edges, ready to be looked for.
struct Plateau {
    fall: usize,
    recovery: usize,
    weights: Vec<f64>,
    precision: f64,
    /// Precision of each reading given all others and the depth as usual.
    alone: Vec<f64>,
}

/// One state of glucose over a window of one length.
struct State {
    low: Vec<Vec<f64>>,
    half_log_det: f64,
    /// Inverse of the covariance.
    inverse: Vec<Vec<f64>>,
    /// Precision of each reading given all others: the inverse's diagonal.
    alone: Vec<f64>,
    plateaus: Vec<Plateau>,
}

/// All states for dips of one length.
pub(super) struct Lens {
    /// Length of the dip in steps.
    pub(super) length: usize,
    /// Weight of the length beforehand.
    pub(super) weight: f64,
    states: Vec<State>,
}

/// What a window says of a dip of one length.
#[derive(Clone, Copy, Debug)]
pub(super) struct Weighed {
    /// Log of the likelihood ratio, dip against none.
    pub(super) log_ratio: f64,
    /// Edges of the best plateau, in steps.
    pub(super) fall: usize,
    pub(super) recovery: usize,
}

/// A lens for each length; `covariance` is that of the noise by minutes.
pub(super) fn lenses(step_min: f64, covariance: &dyn Fn(f64) -> f64) -> Option<Vec<Lens>> {
    let spread = |length: usize| {
        let z = libm::log(length as f64 * step_min / LENGTH_MIN.0) / LENGTH_MIN.1;
        libm::exp(-0.5 * z * z)
    };
    let total: f64 = LENGTHS.iter().map(|l| spread(*l)).sum();
    let lens = |length: usize| {
        let states = STATES.iter().map(|s| State::new(length, *s, step_min, covariance));
        let states = states.collect::<Option<Vec<_>>>()?;
        Some(Lens { length, weight: spread(length) / total, states })
    };
    LENGTHS.iter().map(|l| lens(*l)).collect()
}

impl State {
    fn new(
        length: usize,
        (sd, scale, louder): (f64, f64, f64),
        step_min: f64,
        covariance: &dyn Fn(f64) -> f64,
    ) -> Option<State> {
        let n = 2 * PAD + length + 1;
        let of_lag: Vec<f64> = (0..n)
            .map(|k| {
                let h = k as f64 * step_min;
                let own = if k == 0 { OWN } else { 0.0 };
                sd * sd * matern(h / scale) + louder * covariance(h) + own + LEVEL
            })
            .collect();
        let low = factor(&matrix(n, |i, j| of_lag[i.abs_diff(j)]))?;
        let half_log_det = 0.5 * log_determinant(&low);
        let inverse = inverse(&low);
        let alone: Vec<f64> = inverse.iter().enumerate().map(|(i, row)| row[i]).collect();
        let mut plateaus = Vec::new();
        for fall in FALLS {
            for recovery in RECOVERIES.into_iter().filter(|r| fall + r < length + 1) {
                let shape: Vec<f64> = (0..n)
                    .map(|i| plateau(i as f64 - PAD as f64, length, fall, recovery))
                    .collect();
                let weights = solve(&low, shape.clone());
                let precision = dot(&shape, &weights);
                let shrunk = DEPTH.1 * DEPTH.1 / (1.0 + DEPTH.1 * DEPTH.1 * precision);
                let alone = alone.iter().zip(&weights).map(|(a, w)| a - shrunk * w * w).collect();
                plateaus.push(Plateau { fall, recovery, weights, precision, alone });
            }
        }
        Some(State { low, half_log_det, inverse, alone, plateaus })
    }

    /// Readings times the inverse covariance, and the log density of the readings without a dip,
    /// up to a constant.
    fn log_density(&self, y: &[f64]) -> (Vec<f64>, f64) {
        let solved = solve(&self.low, y.to_vec());
        let log = -self.half_log_det - 0.5 * dot(y, &solved);
        (solved, log)
    }
}

impl Plateau {
    /// Log of what readings astray multiply a dip's density by; `solved` are the readings
    /// times the inverse covariance, `depth` the depth found.
    fn log_astray(&self, solved: &[f64], depth: f64, inverse: &[Vec<f64>]) -> f64 {
        let spread = DEPTH.1 * DEPTH.1;
        // The dip's best depth after its prior, taken off.
        let by = (DEPTH.0 + spread * self.precision * depth) / (1.0 + spread * self.precision);
        let left: Vec<f64> = solved.iter().zip(&self.weights).map(|(s, w)| s + by * w).collect();
        let shrunk = spread / (1.0 + spread * self.precision);
        log_astray(&self.alone, &left, |k| {
            let pull = shrunk * self.weights[k];
            inverse[k].iter().zip(&self.weights).map(|(c, w)| c - pull * w).collect()
        })
    }
}

/// Log of what one or two readings perhaps astray multiply a density by. `alone`: precision of each
/// reading given all others; `solved`: readings times the inverse covariance; `column`: a column of
/// the inverse. Of pairs only those with the reading that is most likely astray are counted.
fn log_astray(alone: &[f64], solved: &[f64], column: impl Fn(usize) -> Vec<f64>) -> f64 {
    let odds = astray_odds(alone, solved);
    let first = (0..odds.len()).max_by(|a, b| odds[*a].total_cmp(&odds[*b]));
    let one: f64 = odds.iter().sum();
    let Some(first) = first.filter(|i| STRAY.0 * odds[*i] > 1.0) else {
        return libm::log1p(STRAY.0 * one);
    };
    // Without the first, as if its variance were boundless.
    let link = column(first);
    let share = |i: usize| link[i] / alone[first];
    let others: Vec<usize> = (0..odds.len()).filter(|i| *i != first).collect();
    let rest: Vec<f64> = others.iter().map(|&i| alone[i] - link[i] * share(i)).collect();
    let left: Vec<f64> = others.iter().map(|&i| solved[i] - solved[first] * share(i)).collect();
    let second: f64 = astray_odds(&rest, &left).iter().sum();
    libm::log1p(STRAY.0 * one + STRAY.0 * STRAY.0 * odds[first] * second)
}

/// Ratio of densities of each reading, astray against not.
fn astray_odds(alone: &[f64], solved: &[f64]) -> Vec<f64> {
    let wide = STRAY.1 * STRAY.1;
    let of = |(precision, s): (&f64, &f64)| {
        let (off, variance) = (s / precision, 1.0 / precision);
        let all = variance + wide;
        let log = 0.5 * (off * off / variance - off * off / all);
        libm::exp(log.min(300.0)) * (variance / all).sqrt()
    };
    alone.iter().zip(solved).map(of).collect()
}

impl Lens {
    /// What a window of `2 PAD + length + 1` readings says, the states weighted by `prior`.
    pub(super) fn weigh(&self, window: &[f64], prior: &[f64; 4]) -> Option<Weighed> {
        let mean = window.iter().sum::<f64>() / window.len() as f64;
        let y: Vec<f64> = window.iter().map(|v| v - mean).collect();
        let mut none = Vec::new();
        let mut each = Vec::new();
        let mut best: Option<(f64, Weighed)> = None;
        for (state, p) in self.states.iter().zip(prior) {
            let (solved, log) = state.log_density(&y);
            let log = log + libm::log(p.max(1e-12));
            none.push(log + log_astray(&state.alone, &solved, |k| state.inverse[k].clone()));
            let share = libm::log(state.plateaus.len() as f64);
            for p in &state.plateaus {
                // What is taken off: a dip is a fall.
                let (depth, variance) = (-dot(&p.weights, &y) / p.precision, 1.0 / p.precision);
                let with = log - share
                    + log_bayes(depth, variance)
                    + p.log_astray(&solved, depth, &state.inverse);
                each.push(with);
                if best.is_none_or(|b| with > b.0) {
                    let (fall, recovery) = (p.fall, p.recovery);
                    let found = Weighed { log_ratio: 0.0, fall, recovery };
                    best = Some((with, found));
                }
            }
        }
        let none = log_sum(&none);
        let log_ratio = log_sum(&each) - none;
        best.map(|b| Weighed { log_ratio, ..b.1 })
    }
}

/// Depth of a dip and its SD, mg/dL: the middle of the readings before and after less the mean of
/// the plateau, under the noise and, with `moving`, glucose that moves.
pub(super) fn depth(
    window: &[f64],
    found: &Weighed,
    step_min: f64,
    covariance: &dyn Fn(f64) -> f64,
    moving: bool,
) -> (f64, f64) {
    let end = window.len().saturating_sub(PAD + 1);
    let plateau = (PAD + found.fall, end.saturating_sub(found.recovery));
    let inside = |i: usize| (plateau.0..=plateau.1.max(plateau.0)).contains(&i);
    let flank = |i: usize| (PAD - 2..=PAD).contains(&i) || (end..=end + 2).contains(&i);
    let count = |f: &dyn Fn(usize) -> bool| (0..window.len()).filter(|i| f(*i)).count().max(1);
    let (n, m) = (count(&inside) as f64, count(&flank) as f64);
    let weights: Vec<f64> =
        (0..window.len()).map(|i| f64::from(flank(i)) / m - f64::from(inside(i)) / n).collect();
    let (sd, scale, _) = STATES[usize::from(moving)];
    let mut variance = 0.0;
    for (i, a) in weights.iter().enumerate().filter(|w| *w.1 != 0.0) {
        for (j, b) in weights.iter().enumerate().filter(|w| *w.1 != 0.0) {
            let h = i.abs_diff(j) as f64 * step_min;
            let own = if i == j { OWN } else { 0.0 };
            variance += a * b * (covariance(h) + sd * sd * matern(h / scale) + own);
        }
    }
    (dot(&weights, window), variance.max(0.0).sqrt())
}

/// Log of the densities' ratio of a depth found: normal about what is usual, or about none.
fn log_bayes(depth: f64, variance: f64) -> f64 {
    let (mean, wide) = (DEPTH.0, variance + DEPTH.1 * DEPTH.1);
    let off = depth - mean;
    0.5 * (depth * depth / variance - off * off / wide + libm::log(variance / wide))
}

/// 0 before and after, 1 on the plateau, straight edges; `at` in steps from the start.
fn plateau(at: f64, length: usize, fall: usize, recovery: usize) -> f64 {
    let down = at / fall as f64;
    let up = (length as f64 - at) / recovery as f64;
    down.min(up).clamp(0.0, 1.0)
}

fn matern(h_over_scale: f64) -> f64 {
    let x = 5f64.sqrt() * h_over_scale;
    (1.0 + x + x * x / 3.0) * libm::exp(-x)
}

fn log_sum(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() {
        return top;
    }
    top + libm::log(logs.iter().map(|l| libm::exp(l - top)).sum::<f64>())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both ends of a plateau of 40 min with edges of 5 and 10.
    #[test]
    fn a_plateau_by_hand() {
        let seen: Vec<f64> = (-1..10).map(|i| plateau(f64::from(i), 8, 1, 2)).collect();
        assert_eq!(seen, [0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.0, 0.0]);
    }

    /// Log ratio of N(25, 14² + 3²) and N(0, 3²) at 20, by hand:
    /// ½(400/9 - 25/205 + ln(9/205)) = 20.598.
    #[test]
    fn the_ratio_of_two_normals() {
        assert!((log_bayes(20.0, 9.0) - 20.5982).abs() < 1e-3, "{}", log_bayes(20.0, 9.0));
        assert!(log_bayes(0.0, 9.0) < 0.0);
    }

    /// Three readings of variance 9 that are not linked: one astray at 60, one at -50, both.
    #[test]
    fn readings_astray_by_hand() {
        let y = [60.0, 2.0, -50.0];
        let (variance, wide) = (9.0, 9.0 + STRAY.1 * STRAY.1);
        let ratio = |y: f64| {
            libm::exp(0.5 * (y * y / variance - y * y / wide)) * f64::sqrt(variance / wide)
        };
        let odds = y.map(ratio);
        let one: f64 = odds.iter().sum();
        let two = odds[0] * (odds[1] + odds[2]);
        let wanted = libm::log(1.0 + STRAY.0 * one + STRAY.0 * STRAY.0 * two);
        let column = |k: usize| (0..3).map(|i| f64::from(u8::from(i == k)) / variance).collect();
        let found = log_astray(&[1.0 / variance; 3], &y.map(|y| y / variance), column);
        assert!((found - wanted).abs() < 1e-9 * wanted, "{found} {wanted}");
    }

    /// A plateau is for pressure, the same depth with slow flanks is not.
    #[test]
    fn steep_edges_speak_for_pressure_and_slow_ones_against() {
        let noise = |h: f64| 4.0 * libm::exp(-h / 20.0);
        let lens = lenses(5.0, &noise).unwrap().into_iter().find(|l| l.length == 8).unwrap();
        let n = 2 * PAD + 9;
        let at = |i: usize| i as f64 - PAD as f64;
        let steep: Vec<f64> = (0..n).map(|i| 100.0 - 25.0 * plateau(at(i), 8, 2, 2)).collect();
        let slow: Vec<f64> = (0..n)
            .map(|i| 100.0 - 25.0 * libm::exp(-(at(i) - 4.0) * (at(i) - 4.0) / 50.0))
            .collect();
        let flat = vec![100.0; n];
        let ratio = |y: &[f64]| lens.weigh(y, &RESTING).unwrap().log_ratio;
        assert!(ratio(&steep) > 6.0, "{}", ratio(&steep));
        assert!(ratio(&slow) < 0.0, "{}", ratio(&slow));
        assert!(ratio(&flat) < -2.0, "{}", ratio(&flat));
        let found = lens.weigh(&steep, &RESTING).unwrap();
        assert_eq!((found.fall, found.recovery), (2, 2));
        let (depth, sd) = depth(&steep, &found, 5.0, &noise, false);
        assert!((depth - 25.0).abs() < 1e-9 && sd > 0.5 && sd < 6.0, "{depth} {sd}");
        // One reading astray is no dip.
        let mut astray = flat.clone();
        astray[PAD + 3] = 70.0;
        assert!(ratio(&astray) < 0.0, "{}", ratio(&astray));
    }
}
