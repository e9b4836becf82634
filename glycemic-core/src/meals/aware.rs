//! The rise with the noise's part taken off.
//!
//! # Method
//! The curve behind the readings, from an hour and a half before the meal on, is the mean of those that
//! fit (see `curve`); the rise is its highest point in the window less its mean before the meal.
//! What such a rise still errs by is found by simulation: a curve that fits is drawn, noise is
//! added, the rise is found anew, and the mean of what it is off by is taken away. Without noise
//! the rise is the displayed one.
//!
//! # Units
//! mg/dL, minutes.
//!
//! # Source
//! Bias by simulation: Efron B, Tibshirani RJ. An introduction to the bootstrap, 1993, ch. 10.
//! From memory.

use super::covariance::{self, Linked, Signal, Sums};
use super::curve::Curve;
use crate::series::Trace;
use crate::stats::moments;
use crate::stats::random::Random;

const MINUTE: i64 = 60_000;
/// Readings before the start that help to tell the baseline, minutes.
const CONTEXT_MIN: i64 = 90;
/// Draws by which the error of a rise is simulated.
pub(super) const DRAWS: u64 = 64;
/// Variance of rounding to whole mg/dL.
const ROUNDING: f64 = 1.0 / 12.0;
/// Half a step of the display, mg/dL.
const STEP: f64 = 0.5;
/// Readings at most; more are averaged in groups.
const MOST: usize = 100;

/// What the noise-aware rise of every meal of a person rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Behind {
    noise: Linked,
    signal: Signal,
}

impl Behind {
    /// From the noise and the second differences of the meals' windows.
    pub(super) fn new(noise: Linked, meals: &[Sums]) -> Option<Behind> {
        let signal = covariance::signal(&covariance::means(meals), &noise)?;
        Some(Behind { noise, signal })
    }

    /// The rise of a window over its baseline's stretch, and the standard deviation that noise gives it.
    pub(super) fn rise(
        &self,
        trace: &Trace,
        start: i64,
        last: i64,
        baseline_ms: (i64, i64),
        key: (u64, u64),
        draws: u64,
    ) -> Option<(f64, f64)> {
        let context = (start - CONTEXT_MIN * MINUTE).min(baseline_ms.0);
        let from = unbroken_from(trace, start, context);
        let view = trace.window(from, last);
        let (t, y) = grouped(view.times_ms(), view.glucose_mg_dl(), start);
        let place = |ms: i64| t.partition_point(|x| *x < (ms - start) as f64 / MINUTE as f64);
        let (first, past) = (place(baseline_ms.0), place(baseline_ms.1 + 1));
        let meal = place(start + 1);
        if meal >= t.len() || first >= past {
            return None;
        }
        let curve = Curve::new(&t, &self.signal, &self.noise)?;
        let rise_of = |g: &[f64]| -> Option<f64> {
            let top = g[meal..].iter().copied().reduce(f64::max)?;
            Some(top - moments::mean(&g[first..past])?)
        };
        let mean_curve = curve.of(&y);
        let rise = rise_of(&mean_curve)?;
        let mut errors = Vec::with_capacity(draws as usize);
        for draw in 0..draws {
            let mut random = Random::keyed(key.0, key.1, draw);
            let drawn = curve.draw(&mean_curve, &mut random);
            let noise = curve.draw_noise(&mut random);
            let seen: Vec<f64> = drawn.iter().zip(&noise).map(|(g, e)| g + e).collect();
            errors.push(rise_of(&curve.of(&seen))? - rise_of(&drawn)?);
        }
        // Noise that is little more than rounding leaves the displayed rise as it is.
        let shown = rise_of(&y)?;
        let beyond = (self.noise.linked + self.noise.white - ROUNDING).max(0.0);
        let share = beyond / (beyond + STEP * STEP);
        let freed = rise - moments::mean(&errors)?;
        Some((shown + share * (freed - shown), moments::sd(&errors)?))
    }
}

/// No further back than a change of sensor.
fn unbroken_from(trace: &Trace, start: i64, from: i64) -> i64 {
    let last_break = trace.breaks_ms().iter().copied().filter(|b| *b <= start).max();
    last_break.map_or(from, |b| b.max(from))
}

/// Minutes from the start and readings, averaged in groups where there are very many.
fn grouped(times_ms: &[i64], y: &[f64], start: i64) -> (Vec<f64>, Vec<f64>) {
    let size = times_ms.len().div_ceil(MOST).max(1);
    let minutes: Vec<f64> = times_ms.iter().map(|t| (t - start) as f64 / MINUTE as f64).collect();
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    (minutes.chunks(size).map(mean).collect(), y.chunks(size).map(mean).collect())
}
