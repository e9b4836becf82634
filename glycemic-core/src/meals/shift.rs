//! What an error of the estimated noise does to all rises at once.
//!
//! # Method
//! The noise is estimated once for a trial, so where it is off every noise-aware rise is off the same
//! way, and more meals don't help. A grouped jackknife tells by how much: the windows without food and
//! those of the meals are parted in time into eight groups; each group is left out in turn, the noise
//! and glucose's own movement are estimated from the rest, and the rises found anew with the same
//! draws. Of what comes out, each rise keeps the part that moves with the mean of all: its shift at
//! one standard error. The variance of the mean rise is that of the jackknife.
//!
//! # Source
//! Efron B, Tibshirani RJ. An introduction to the bootstrap, 1993, ch. 11; groups: Shao J, Wu CFJ.
//! Ann Stat 1989; 17: 1176-1197. Both from memory.

use super::aware::Behind;
use super::covariance::{self, Sums};
use super::response::{Place, Response};
use crate::series::Trace;

/// Groups of the jackknife.
pub const GROUPS: usize = 8;
/// Draws for a rise of a replica: the same ones in each, so that differences need few.
const DRAWS: u64 = 16;

/// What rises would rest on without each group of windows; none with too few windows.
pub(super) fn replicas(quiet: &[Sums], meals: &[Sums]) -> Vec<Behind> {
    if quiet.len() < 4 || meals.len() < GROUPS {
        return Vec::new();
    }
    let groups = GROUPS.min(quiet.len());
    let without = |all: &[Sums], k: usize| -> Vec<Sums> {
        let group = |i: usize| i * groups / all.len();
        (0..all.len()).filter(|i| group(*i) != k).map(|i| all[i]).collect()
    };
    let one = |k: usize| {
        let noise = covariance::noise(&covariance::means(&without(quiet, k)))?;
        Behind::new(noise, &without(meals, k))
    };
    (0..groups).filter_map(one).collect()
}

/// Writes the shift of each clean response that has a noise-aware rise.
pub(super) fn shifts(
    trace: &Trace,
    replicas: &[Behind],
    places: &[Place],
    rows: &mut [Response],
    seed: u64,
) {
    let mut found: Vec<(usize, Vec<f64>)> = Vec::new();
    for (i, r) in rows.iter().enumerate() {
        if !r.is_clean() || r.rise_noise_aware_mg_dl.is_none() {
            continue;
        }
        let (from, baseline_ms) = (places[i].meal_from(), places[i].baseline_ms());
        let last = r.time_ms + (r.seen_min * 60_000.0).round() as i64;
        let rise = |b: &Behind| b.rise(trace, from, last, baseline_ms, (seed, i as u64), DRAWS);
        let rises: Option<Vec<f64>> = replicas.iter().map(|b| rise(b).map(|r| r.0)).collect();
        found.extend(rises.map(|r| (i, r)));
    }
    let each: Vec<&[f64]> = found.iter().map(|f| f.1.as_slice()).collect();
    for ((i, _), shift) in found.iter().zip(along_mean(&each)) {
        rows[*i].rise_noise_shift_mg_dl = Some(shift);
    }
}

/// Of the replicas of each rise, the part that goes with the mean of all rises, at one standard
/// error of that mean.
fn along_mean(rises: &[&[f64]]) -> Vec<f64> {
    let Some(groups) = rises.first().map(|r| r.len()).filter(|g| *g > 1) else { return Vec::new() };
    let off: Vec<Vec<f64>> = rises
        .iter()
        .map(|r| {
            let mean = r.iter().sum::<f64>() / groups as f64;
            r.iter().map(|x| x - mean).collect()
        })
        .collect();
    let mean: Vec<f64> =
        (0..groups).map(|k| off.iter().map(|o| o[k]).sum::<f64>() / off.len() as f64).collect();
    let length = mean.iter().map(|m| m * m).sum::<f64>().sqrt();
    if length <= 0.0 {
        return vec![0.0; rises.len()];
    }
    let scale = ((groups - 1) as f64 / groups as f64).sqrt() / length;
    off.iter().map(|o| scale * o.iter().zip(&mean).map(|(a, b)| a * b).sum::<f64>()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Leaving one of n values out of their mean: the jackknife gives s / sqrt(n), exactly
    /// (Efron and Tibshirani 1993, ch. 11). For 1, 2, 3, 4: sqrt(5 / 3) / 2.
    #[test]
    fn the_jackknife_of_a_mean() {
        let left_out = [1.0, 2.0, 3.0, 4.0].map(|x| (10.0 - x) / 3.0);
        let se = (5.0f64 / 3.0).sqrt() / 2.0;
        // The second rise moves twice as much, the third not at all.
        let twice = left_out.map(|x| 2.0 * x);
        let shift = along_mean(&[&left_out, &twice, &[7.0; 4]]);
        for (found, wanted) in shift.iter().zip([se, 2.0 * se, 0.0]) {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
    }

    #[test]
    fn nothing_to_tell_is_no_shift() {
        assert!(along_mean(&[]).is_empty());
        assert_eq!(along_mean(&[&[5.0; 8], &[6.0; 8]]), [0.0, 0.0]);
        assert!(replicas(&[], &[]).is_empty());
    }
}
