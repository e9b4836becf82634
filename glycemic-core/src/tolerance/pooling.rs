//! Shrinking slopes when it is not known how far they differ.
//!
//! # Method
//! How far kinds of food (and parts of the day) differ is told by a handful of them, so one best
//! figure claims too much: with it alone the intervals of single kinds held the truth too seldom in
//! simulated trials. The mixed model is solved on a grid of ratios (variance of the slopes over that
//! of the meals); each solution counts by its restricted likelihood times a half-Cauchy density of
//! the slopes' SD, whose scale is the common slope: kinds may well differ as much as the slope is
//! large, and more is not excluded. Coefficients are the mean over the grid, their covariance the
//! mean of the covariances plus the covariance of the means.
//!
//! # Source
//! Gelman A. Bayesian Anal 2006; 1: 515-533 (half-Cauchy for few groups). Restricted likelihood as
//! the posterior of variances: Harville DA. Biometrika 1974; 61: 383-385. From memory.

use crate::error::Error;
use crate::stats::mixed::{Mixed, at_ratios};

/// Natural logarithms of the ratios tried.
const LOG_RATIOS: [f64; 16] =
    [-8.0, -6.0, -5.0, -4.0, -3.5, -3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 1.0, 2.0, 4.0, 6.0];

/// The mixed model averaged over ratios; `common` is the common slope in the columns' unit.
pub(super) fn averaged(
    y: &[f64],
    weights: &[f64],
    fixed: &[Vec<f64>],
    parts: &[Vec<Vec<f64>>],
    common: f64,
) -> Result<Option<Mixed>, Error> {
    let mut found: Vec<(f64, Mixed)> = Vec::new();
    let steps = LOG_RATIOS.len();
    for place in 0..steps.pow(parts.len() as u32) {
        let at: Vec<usize> =
            (0..parts.len()).map(|k| place / steps.pow(k as u32) % steps).collect();
        let ratios: Vec<f64> = at.iter().map(|i| libm::exp(LOG_RATIOS[*i])).collect();
        let Some(mixed) = at_ratios(y, weights, fixed, parts, &ratios)? else { continue };
        let scale = common * common / mixed.residual_variance;
        let prior: f64 = (0..parts.len()).map(|k| log_density(ratios[k], scale, at[k])).sum();
        found.push((prior - 0.5 * mixed.criterion, mixed));
    }
    Ok(mean_of(found))
}

/// Logarithm of the prior's mass about a ratio of the grid: the half-Cauchy density of the SD, times
/// the SD (a step of the logarithm), times the width of the step.
fn log_density(ratio: f64, scale: f64, place: usize) -> f64 {
    let (before, after) = (place.saturating_sub(1), (place + 1).min(LOG_RATIOS.len() - 1));
    let width = LOG_RATIOS[after] - LOG_RATIOS[before];
    0.5 * libm::log(ratio) - libm::log1p(ratio / scale.max(1e-12)) + libm::log(width)
}

/// The mean of models by the logarithm of their weight.
fn mean_of(found: Vec<(f64, Mixed)>) -> Option<Mixed> {
    let most = found.iter().map(|f| f.0).reduce(f64::max)?;
    let raw: Vec<f64> = found.iter().map(|f| libm::exp(f.0 - most)).collect();
    let total: f64 = raw.iter().sum();
    let size = found[0].1.coefficients.len();
    let mut out = Mixed {
        coefficients: vec![0.0; size],
        covariance: vec![vec![0.0; size]; size],
        residual_variance: 0.0,
        ratios: vec![0.0; found[0].1.ratios.len()],
        criterion: 0.0,
        taken: 0.0,
    };
    for (weight, (_, m)) in raw.iter().map(|r| r / total).zip(&found) {
        add(&mut out.coefficients, &m.coefficients, weight);
        add(&mut out.ratios, &m.ratios, weight);
        out.residual_variance += weight * m.residual_variance;
        out.criterion += weight * m.criterion;
        out.taken += weight * m.taken;
    }
    for (weight, (_, m)) in raw.iter().map(|r| r / total).zip(&found) {
        let off: Vec<f64> =
            m.coefficients.iter().zip(&out.coefficients).map(|(a, b)| a - b).collect();
        for (i, row) in out.covariance.iter_mut().enumerate() {
            for (j, value) in row.iter_mut().enumerate() {
                *value += weight * (m.covariance[i][j] + off[i] * off[j]);
            }
        }
    }
    Some(out)
}

fn add(to: &mut [f64], from: &[f64], weight: f64) {
    to.iter_mut().zip(from).for_each(|(t, f)| *t += weight * f);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight groups of forty, so far apart and so exact that nothing is left open: the mean over the
    /// grid is the group's own mean, and its variance the residual one over forty.
    #[test]
    fn plain_groups_are_left_alone() {
        let group = |i: usize| (i / 40) as f64;
        let y: Vec<f64> =
            (0..320).map(|i| 2.0 * group(i) + if i % 2 == 0 { 0.7 } else { -0.7 }).collect();
        let column = |k: usize| (0..320).map(|i| f64::from(u8::from(i / 40 == k))).collect();
        let parts = [(0..8).map(column).collect::<Vec<Vec<f64>>>()];
        let found = averaged(&y, &[1.0; 320], &[vec![1.0; 320]], &parts, 7.0).unwrap().unwrap();
        let (mean, variance) = found.combination(&[1.0, 1.0]);
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((variance - 0.49 / 40.0).abs() < 0.1 * 0.49 / 40.0, "{variance}");
    }

    /// Two solutions of equal weight: means 1 and 3 with variance 1 each give mean 2, variance 1 + 1.
    #[test]
    fn a_mixture_by_hand() {
        let one = |value: f64| Mixed {
            coefficients: vec![value],
            covariance: vec![vec![1.0]],
            residual_variance: 1.0,
            ratios: vec![],
            criterion: 0.0,
            taken: 1.0,
        };
        let found = mean_of(vec![(0.0, one(1.0)), (0.0, one(3.0))]).unwrap();
        assert_eq!((found.coefficients[0], found.covariance[0][0]), (2.0, 2.0));
        assert!(mean_of(vec![]).is_none());
    }
}
