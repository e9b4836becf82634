//! This person's floor: what windows without food look like, and the noise in them.
//!
//! # Method
//! Null windows are stretches as long as a meal's window that start at least four hours after
//! the last logged meal, end before the next, hold no gap and don't overlap. Each is freed of a
//! straight trend; the noise level is the median over windows of the residual SD (so that a
//! night with pressure on the sensor doesn't set it), the autocorrelation that of all residuals
//! one reading apart. A straight line takes slow noise away with the trend, so the level is
//! raised by what it takes of first-order autocorrelated noise over such a window. The rise that such windows show, maximum less mean of the 30 minutes
//! before, is what this sensor on this person shows without food.
//!
//! # Source
//! Autocorrelated sensor noise: Breton and Kovatchev, J Diabetes Sci Technol 2008; 2:853-862.
//! Null windows: a convention of this library.

use super::meal::Meal;
use crate::series::Trace;
use crate::stats::{moments, quantile};

const MINUTE: i64 = 60_000;
/// Null windows under which the noise is not estimated.
pub const MIN_WINDOWS: usize = 4;

/// Noise and floor from windows without food.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Noise {
    /// Null windows found.
    pub windows: usize,
    /// Noise standard deviation, mg/dL.
    pub sd_mg_dl: f64,
    /// Autocorrelation of the noise one nominal interval apart.
    pub autocorrelation: f64,
    /// Median rise in null windows, mg/dL.
    pub median_rise_mg_dl: f64,
    /// 95th percentile of the rise in null windows: a smaller rise can't be told from no food.
    pub floor_rise_mg_dl: f64,
}

/// Noise and floor, or the number of null windows when there are too few.
pub fn noise(
    trace: &Trace,
    meals: &[Meal],
    before_min: f64,
    after_min: f64,
) -> Result<Noise, usize> {
    let mut sds = Vec::new();
    let mut rises = Vec::new();
    let mut readings = 0;
    let (mut sum_lagged, mut sum_squares) = (0.0, 0.0);
    for start in null_starts(trace, meals, after_min) {
        let from = start - (before_min * MINUTE as f64) as i64;
        let end = start + (after_min * MINUTE as f64) as i64;
        let before = trace.window(from, start);
        let after = trace.window(start + 1, end);
        let whole = trace.window(from, end);
        if !whole.gaps().is_empty() || before.len() < 3 || after.len() < 12 {
            continue;
        }
        let residuals = detrended(whole.times_ms(), whole.glucose_mg_dl());
        readings = readings.max(residuals.len());
        sds.extend(moments::sd(&residuals));
        sum_lagged += residuals.windows(2).map(|w| w[0] * w[1]).sum::<f64>();
        sum_squares += residuals.windows(2).map(|w| w[0] * w[0]).sum::<f64>();
        let top = after.glucose_mg_dl().iter().copied().fold(f64::MIN, f64::max);
        rises.extend(moments::mean(before.glucose_mg_dl()).map(|b| top - b));
    }
    if sds.len() < MIN_WINDOWS {
        return Err(sds.len());
    }
    let sorted = quantile::sorted(&rises);
    let autocorrelation =
        if sum_squares > 0.0 { (sum_lagged / sum_squares).clamp(0.0, 0.99) } else { 0.0 };
    Ok(Noise {
        windows: sds.len(),
        sd_mg_dl: quantile::median(&sds).unwrap_or(0.0)
            / kept_share(readings, autocorrelation).sqrt(),
        autocorrelation,
        median_rise_mg_dl: quantile::type7(&sorted, 0.5).unwrap_or(0.0),
        floor_rise_mg_dl: quantile::type7(&sorted, 0.95).unwrap_or(0.0),
    })
}

/// Starts of windows without food: four hours after a meal, then one window after another.
fn null_starts(trace: &Trace, meals: &[Meal], after_min: f64) -> Vec<i64> {
    let mut times: Vec<i64> = meals.iter().map(|m| m.time_ms).collect();
    times.sort_unstable();
    let length = (after_min * MINUTE as f64) as i64;
    let mut starts = Vec::new();
    for pair in times.windows(2) {
        let mut at = pair[0] + 240 * MINUTE;
        while at + length < pair[1] {
            if trace.times_ms()[0] <= at {
                starts.push(at);
            }
            at += length;
        }
    }
    starts
}

fn detrended(times_ms: &[i64], values: &[f64]) -> Vec<f64> {
    let minutes: Vec<f64> =
        times_ms.iter().map(|t| (t - times_ms[0]) as f64 / MINUTE as f64).collect();
    let (mt, mv) = (moments::mean(&minutes).unwrap_or(0.0), moments::mean(values).unwrap_or(0.0));
    let slope = moments::slope(&minutes, values).unwrap_or(0.0);
    minutes.iter().zip(values).map(|(t, v)| v - mv - slope * (t - mt)).collect()
}

/// Share of the variance of first-order autocorrelated noise that is left, on average, when n
/// readings are freed of a straight line: trace of the residual projection times the correlation
/// matrix, over n - 1.
fn kept_share(n: usize, rho: f64) -> f64 {
    let nf = n as f64;
    let middle = (nf - 1.0) / 2.0;
    let scale = (0..n).map(|i| (i as f64 - middle) * (i as f64 - middle)).sum::<f64>().sqrt();
    let line = |i: usize| (i as f64 - middle) / scale;
    let mut taken = 0.0;
    for i in 0..n {
        let mut weight = 1.0;
        for j in (0..=i).rev() {
            let twice = if i == j { 1.0 } else { 2.0 };
            taken += twice * weight * (1.0 / nf + line(i) * line(j));
            weight *= rho;
        }
    }
    ((nf - taken) / (nf - 1.0)).max(0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_takes_one_degree_of_freedom_from_white_noise_and_more_from_slow() {
        // White noise: n - 2 of n - 1 is left.
        assert!((kept_share(37, 0.0) - 35.0 / 36.0).abs() < 1e-12);
        assert!(kept_share(37, 0.9) < 0.7);
    }
}
