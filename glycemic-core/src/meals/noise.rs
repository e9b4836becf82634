//! This person's floor: what windows without food look like, and the noise in them.
//!
//! # Method
//! Null windows are stretches as long as a meal's window that start at least four hours after
//! the last logged meal, end before the next, hold no gap and no change of sensor, don't overlap,
//! and keep away from meals that the trace suggests but the diary lacks (see
//! [`super::unlogged`](mod@super::unlogged)). Their second differences at lags of 5 to 90 minutes
//! are free of glucose's own slow movement; the covariance that fits them is the noise (see
//! `covariance`). A window whose differences over 30 minutes are five times the median's, such as
//! one with pressure on the sensor, is left out of the noise. The rise that null windows show,
//! maximum less mean of the time before, is what this sensor on this person shows without food.
//!
//! # Source
//! Autocorrelated sensor noise: Breton and Kovatchev, J Diabetes Sci Technol 2008; 2:853-862.
//! Null windows: a convention of this library.

use super::covariance::{self, Linked, Sums};
use super::meal::Meal;
use crate::series::Trace;
use crate::stats::{moments, quantile};

const MINUTE: i64 = 60_000;
/// Null windows under which the noise is not estimated.
pub const MIN_WINDOWS: usize = 4;
/// A window with so many times the median's movement over half an hour is left out.
const RESTLESS: f64 = 5.0;
/// Place of the 30-minute lag.
const HALF_HOUR: usize = 4;
/// A suspected meal keeps null windows away from so long before it, minutes.
const BEFORE_SUSPECTED_MIN: i64 = 30;
/// And so long after it.
const AFTER_SUSPECTED_MIN: i64 = 180;

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
    /// The part of the noise that is not linked in time, rounding included, mg/dL.
    pub white_sd_mg_dl: f64,
    /// Longer time constant of the part that is linked, minutes.
    pub slow_min: f64,
    /// Shorter time constant; 0 for an autoregression of order 1.
    pub fast_min: f64,
    /// Null windows left out because the trace suggests a meal that the diary lacks.
    pub windows_suspected: usize,
}

impl Noise {
    /// Covariance of the noise of two readings so many minutes apart, (mg/dL)².
    pub(crate) fn covariance_at(&self, minutes: f64) -> f64 {
        let white = if minutes == 0.0 { self.white_sd_mg_dl * self.white_sd_mg_dl } else { 0.0 };
        self.linked().at(minutes) + white
    }

    pub(super) fn linked(&self) -> Linked {
        let white = self.white_sd_mg_dl * self.white_sd_mg_dl;
        Linked {
            linked: (self.sd_mg_dl * self.sd_mg_dl - white).max(0.0),
            white,
            slow_min: self.slow_min,
            fast_min: self.fast_min,
        }
    }
}

/// Noise and floor, or the number of null windows when there are too few.
///
/// # Errors
/// The number of null windows, when there are fewer than [`MIN_WINDOWS`].
pub fn noise(
    trace: &Trace,
    meals: &[Meal],
    before_min: f64,
    after_min: f64,
) -> Result<Noise, usize> {
    noise_without(trace, meals, &[], before_min, after_min)
}

/// The same, away from the suspected onsets.
pub(super) fn noise_without(
    trace: &Trace,
    meals: &[Meal],
    suspected_ms: &[i64],
    before_min: f64,
    after_min: f64,
) -> Result<Noise, usize> {
    noise_and_windows(trace, meals, suspected_ms, before_min, after_min).map(|n| n.0)
}

/// The same, with the second differences of each window that the noise rests on, in order of time.
pub(super) fn noise_and_windows(
    trace: &Trace,
    meals: &[Meal],
    suspected_ms: &[i64],
    before_min: f64,
    after_min: f64,
) -> Result<(Noise, Vec<Sums>), usize> {
    let windows = null_windows(trace, meals, before_min, after_min);
    let found = windows.len();
    let near = |w: &NullWindow| {
        suspected_ms.iter().any(|s| {
            w.from_ms < s + AFTER_SUSPECTED_MIN * MINUTE
                && w.end_ms > s - BEFORE_SUSPECTED_MIN * MINUTE
        })
    };
    let windows: Vec<NullWindow> = windows.into_iter().filter(|w| !near(w)).collect();
    if windows.len() < MIN_WINDOWS {
        return Err(windows.len());
    }
    let quiet = quiet_windows(trace, &windows).ok_or(windows.len())?;
    let linked = covariance::noise(&covariance::means(&quiet)).ok_or(windows.len())?;
    let rises: Vec<f64> = windows.iter().map(|w| w.rise_mg_dl).collect();
    let sorted = quantile::sorted(&rises);
    let variance = linked.linked + linked.white;
    let step = trace.nominal_ms() as f64 / MINUTE as f64;
    let noise = Noise {
        windows: windows.len(),
        sd_mg_dl: variance.sqrt(),
        autocorrelation: if variance > 0.0 { linked.at(step) / variance } else { 0.0 },
        median_rise_mg_dl: quantile::type7(&sorted, 0.5).unwrap_or(0.0),
        floor_rise_mg_dl: quantile::type7(&sorted, 0.95).unwrap_or(0.0),
        white_sd_mg_dl: linked.white.sqrt(),
        slow_min: linked.slow_min,
        fast_min: linked.fast_min,
        windows_suspected: found - windows.len(),
    };
    Ok((noise, quiet))
}

/// A stretch without logged food.
#[derive(Clone, Copy, Debug)]
struct NullWindow {
    from_ms: i64,
    end_ms: i64,
    rise_mg_dl: f64,
}

/// The second differences of the quieter windows.
fn quiet_windows(trace: &Trace, windows: &[NullWindow]) -> Option<Vec<Sums>> {
    let each: Vec<_> = windows
        .iter()
        .map(|w| {
            let view = trace.window(w.from_ms, w.end_ms);
            covariance::differences(view.times_ms(), view.glucose_mg_dl(), trace.nominal_ms())
        })
        .collect();
    let movement = |s: &Sums| s[HALF_HOUR].0 / s[HALF_HOUR].1.max(1) as f64;
    let all: Vec<f64> = each.iter().map(movement).collect();
    let limit = RESTLESS * quantile::median(&all)?;
    Some(each.into_iter().filter(|s| movement(s) <= limit).collect())
}

/// Windows without logged food: four hours after a meal, then one after another.
fn null_windows(trace: &Trace, meals: &[Meal], before_min: f64, after_min: f64) -> Vec<NullWindow> {
    let mut times: Vec<i64> = meals.iter().map(|m| m.time_ms).collect();
    times.sort_unstable();
    let (before, length) =
        ((before_min * MINUTE as f64) as i64, (after_min * MINUTE as f64) as i64);
    let mut windows = Vec::new();
    for pair in times.windows(2) {
        let mut at = pair[0] + 240 * MINUTE;
        while at + length < pair[1] {
            windows.extend(null_window(trace, at - before, at, at + length));
            at += length;
        }
    }
    windows
}

fn null_window(trace: &Trace, from_ms: i64, start: i64, end_ms: i64) -> Option<NullWindow> {
    let before = trace.window(from_ms, start);
    let after = trace.window(start + 1, end_ms);
    let whole = trace.window(from_ms, end_ms);
    let edge = 3 * trace.nominal_ms();
    let (first, last) = (*whole.times_ms().first()?, *whole.times_ms().last()?);
    if !whole.gaps().is_empty()
        || first > from_ms + edge
        || last < end_ms - edge
        || before.len() < 3
        || after.len() < 12
        || whole.spans_break(from_ms, end_ms)
    {
        return None;
    }
    let top = after.glucose_mg_dl().iter().copied().fold(f64::MIN, f64::max);
    let rise_mg_dl = top - moments::mean(before.glucose_mg_dl())?;
    Some(NullWindow { from_ms, end_ms, rise_mg_dl })
}
