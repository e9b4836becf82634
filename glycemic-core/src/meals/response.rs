//! The response to one meal.
//!
//! # Method
//! Baseline: mean of the readings from `before_min` before the start up to the start. Rise: the
//! highest reading in the window less the baseline, *as displayed*; *noise-aware*, the highest
//! point of a smoothed curve (local quadratic, 30 minutes either way), corrected for what noise
//! of this person's level and autocorrelation adds to such a maximum and what smoothing takes
//! off it, both found by adding simulated noise to the smoothed curve. Incremental areas start
//! from the straight line's value at the start. Recovery: the first time after the peak from
//! which glucose stays within 10 mg/dL of the baseline for 15 minutes.
//!
//! # Units
//! mg/dL, minutes from the meal's start, mg/dL·min.
//!
//! # Source
//! Summary measures: Matthews et al., BMJ 1990; 300:230-235. Areas: see [`crate::area`].
//! Bias correction: Efron and Tibshirani (1993), chapter 10, from memory.

use super::meal::{Activity, Meal};
use super::noise::Noise;
use crate::area::{self, Rule};
use crate::interpolate::Method;
use crate::series::{Censor, Trace, TraceView};
use crate::stats::random::Random;
use crate::stats::{moments, smooth};

const MINUTE: i64 = 60_000;
/// A rise is given when at least this much of the window was seen, in minutes.
const MIN_SEEN_MIN: f64 = 60.0;
const SMOOTH_HALF_WIDTH_MIN: f64 = 30.0;
/// Wider, for the curve that noise is added to: the noise left in a narrow one would count as
/// meal.
const CURVE_HALF_WIDTH_MIN: f64 = 60.0;
const NOISE_DRAWS: u64 = 48;

/// The part of the trace that belongs to a meal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Minutes before the start for the baseline.
    pub before_min: f64,
    /// Minutes after the start for the response.
    pub after_min: f64,
}

/// The response to one eating occasion. What is `None` could not be told; `flags` says why or
/// what confounds it.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Response {
    /// Start, UTC milliseconds.
    pub time_ms: i64,
    /// Mean before the meal.
    pub baseline_mg_dl: Option<f64>,
    /// Highest reading in the window.
    pub peak_mg_dl: Option<f64>,
    /// Peak less baseline, as displayed.
    pub rise_mg_dl: Option<f64>,
    /// Rise with the noise's part taken off; see the module.
    pub rise_noise_aware_mg_dl: Option<f64>,
    /// Standard deviation that the sensor's noise gives the noise-aware rise.
    pub rise_noise_sd_mg_dl: Option<f64>,
    /// Minutes from the start to the peak.
    pub time_to_peak_min: Option<f64>,
    /// Area above the baseline.
    pub iauc_positive_mg_dl_min: Option<f64>,
    /// Area above less area below the baseline.
    pub iauc_net_mg_dl_min: Option<f64>,
    /// Area above the baseline until the first return to it.
    pub iauc_until_return_mg_dl_min: Option<f64>,
    /// Glucose one hour after the start.
    pub at_60_min_mg_dl: Option<f64>,
    /// Glucose two hours after the start.
    pub at_120_min_mg_dl: Option<f64>,
    /// Minutes from the start to recovery.
    pub recovery_min: Option<f64>,
    /// Where recovery was not seen: until when it was looked for, minutes from the start.
    pub recovery_censored_min: Option<f64>,
    /// How far below the baseline glucose went after the peak; 0 if it didn't.
    pub undershoot_mg_dl: Option<f64>,
    /// Minutes of the window until the next meal, the end of the trace or of the window.
    pub seen_min: f64,
    /// What confounds the response: see [`FLAGS`].
    pub flags: Vec<&'static str>,
}

/// The flags a response may carry.
pub const FLAGS: &[(&str, &str)] = &[
    ("next_meal_in_window", "another meal starts inside the window, which ends there"),
    ("previous_meal_under_3h", "another meal started less than three hours before"),
    ("baseline_unsteady", "glucose drifted by more than 15 mg/dL in the half hour before"),
    ("no_baseline", "fewer than three readings before the meal"),
    ("gap_at_peak", "readings are missing where the peak may have been"),
    ("window_cut", "the trace ends inside the window"),
    ("exercise_in_window", "activity was logged in the window"),
    ("sensor_limit", "a reading stands at the sensor's limit"),
    ("sensor_change", "another sensor took over in the window"),
    ("outside_wear", "no readings at this time"),
];

/// What the diary says about the neighbourhood of a meal.
#[derive(Clone, Copy, Debug)]
pub(super) struct Around<'a> {
    pub previous_ms: Option<i64>,
    pub next_ms: Option<i64>,
    pub activity: &'a [Activity],
}

pub(super) fn respond(
    trace: &Trace,
    meal: &Meal,
    around: Around<'_>,
    window: Window,
    noise: Option<&Noise>,
    random: (u64, u64),
) -> Response {
    let start = meal.time_ms;
    let end = start + ms(window.after_min);
    let mut r = Response { time_ms: start, ..Response::default() };
    note_diary(&mut r, around, start, end);
    let seen_end = around.next_ms.map_or(end, |n| n.min(end));
    let before = trace.window(start - ms(window.before_min), start);
    let after = trace.window(start + 1, seen_end);
    if after.is_empty() {
        r.flags.push("outside_wear");
        return r;
    }
    let last = after.times_ms()[after.len() - 1];
    r.seen_min = minutes(last - start);
    if last < seen_end - 3 * trace.nominal_ms() {
        r.flags.push("window_cut");
    }
    note_trace(&mut r, trace, before, after, start, last);
    if before.len() < 3 || r.seen_min < MIN_SEEN_MIN || r.flags.contains(&"sensor_change") {
        return r;
    }
    let Some(baseline) = moments::mean(before.glucose_mg_dl()) else { return r };
    r.baseline_mg_dl = Some(baseline);
    measure(&mut r, trace, after, baseline, start);
    if let Some((rise, sd)) =
        noise.and_then(|n| noise_aware(trace, start, last, baseline, n, random))
    {
        r.rise_noise_aware_mg_dl = Some(rise);
        r.rise_noise_sd_mg_dl = Some(sd);
    }
    r
}

fn ms(minutes: f64) -> i64 {
    (minutes * MINUTE as f64).round() as i64
}

fn minutes(ms: i64) -> f64 {
    ms as f64 / MINUTE as f64
}

fn note_diary(r: &mut Response, around: Around<'_>, start: i64, end: i64) {
    if around.next_ms.is_some_and(|n| n < end) {
        r.flags.push("next_meal_in_window");
    }
    if around.previous_ms.is_some_and(|p| start - p < 180 * MINUTE) {
        r.flags.push("previous_meal_under_3h");
    }
    let overlaps = |a: &Activity| a.start_ms < end && a.start_ms + ms(a.minutes) > start;
    if around.activity.iter().any(overlaps) {
        r.flags.push("exercise_in_window");
    }
}

fn note_trace(
    r: &mut Response,
    trace: &Trace,
    before: TraceView<'_>,
    after: TraceView<'_>,
    start: i64,
    last: i64,
) {
    if before.len() < 3 {
        r.flags.push("no_baseline");
    } else if drift(before).abs() > 15.0 {
        r.flags.push("baseline_unsteady");
    }
    let gap =
        |g: &crate::series::Gap| g.from_ms < start + 120 * MINUTE && g.to_ms > start + 15 * MINUTE;
    if trace.window(start - 3 * trace.nominal_ms(), last).gaps().iter().any(gap) {
        r.flags.push("gap_at_peak");
    }
    if after.censor().iter().any(|c| *c != Censor::None) {
        r.flags.push("sensor_limit");
    }
    if after.spans_break(start - 30 * MINUTE, last) {
        r.flags.push("sensor_change");
    }
}

/// Change over the view by its straight line, mg/dL.
fn drift(view: TraceView<'_>) -> f64 {
    let t: Vec<f64> = view.times_ms().iter().map(|&t| minutes(t - view.times_ms()[0])).collect();
    moments::slope(&t, view.glucose_mg_dl()).map_or(0.0, |slope| slope * t[t.len() - 1])
}

fn measure(r: &mut Response, trace: &Trace, after: TraceView<'_>, baseline: f64, start: i64) {
    let (times, glucose) = (after.times_ms(), after.glucose_mg_dl());
    let mut top = 0;
    for i in 1..glucose.len() {
        if glucose[i] > glucose[top] {
            top = i;
        }
    }
    r.peak_mg_dl = Some(glucose[top]);
    r.rise_mg_dl = Some(glucose[top] - baseline);
    r.time_to_peak_min = Some(minutes(times[top] - start));
    let lowest = glucose[top..].iter().copied().fold(f64::MAX, f64::min);
    r.undershoot_mg_dl = Some((baseline - lowest).max(0.0));
    let spots = [start + 60 * MINUTE, start + 120 * MINUTE];
    if let Ok(found) = trace.at(&spots, Method::Linear, 16.0) {
        let seen = |m: f64| r.seen_min >= m;
        r.at_60_min_mg_dl = found[0].filter(|_| seen(60.0));
        r.at_120_min_mg_dl = found[1].filter(|_| seen(120.0));
    }
    match recovery(times, glucose, top, baseline, trace.nominal_ms()) {
        Some(at) => r.recovery_min = Some(minutes(at - start)),
        None => r.recovery_censored_min = Some(r.seen_min),
    }
    let whole =
        !["gap_at_peak", "window_cut", "next_meal_in_window"].iter().any(|f| r.flags.contains(f));
    if whole && after.gaps().is_empty() {
        areas(r, trace, times, glucose, baseline, start);
    }
}

fn areas(
    r: &mut Response,
    trace: &Trace,
    times: &[i64],
    glucose: &[f64],
    baseline: f64,
    start: i64,
) {
    let Ok(first) = trace.at(&[start], Method::Linear, 16.0) else { return };
    let Some(first) = first[0] else { return };
    let mut t = vec![0.0];
    let mut g = vec![first];
    t.extend(times.iter().map(|&x| minutes(x - start)));
    g.extend(glucose);
    let by = |rule| area::incremental(&t, &g, Some(baseline), rule).ok();
    r.iauc_positive_mg_dl_min = by(Rule::Positive);
    r.iauc_net_mg_dl_min = by(Rule::Net);
    r.iauc_until_return_mg_dl_min = by(Rule::UntilReturn);
}

/// First reading after the peak from which glucose stays within 10 mg/dL of the baseline (or
/// below it) for 15 minutes without a gap.
fn recovery(
    times: &[i64],
    glucose: &[f64],
    top: usize,
    baseline: f64,
    nominal: i64,
) -> Option<i64> {
    let mut since: Option<usize> = None;
    for i in top..times.len() {
        let gap = i > top && times[i] - times[i - 1] > 3 * nominal;
        if gap {
            return None;
        }
        if glucose[i] > baseline + 10.0 {
            since = None;
            continue;
        }
        let from = *since.get_or_insert(i);
        if times[i] - times[from] >= 15 * MINUTE {
            return Some(times[from]);
        }
    }
    None
}

/// The rise and the SD that noise gives it; see the module's method.
fn noise_aware(
    trace: &Trace,
    start: i64,
    last: i64,
    baseline: f64,
    noise: &Noise,
    key: (u64, u64),
) -> Option<(f64, f64)> {
    // The smoother sees past both ends, so that the maximum near an end is not a corner.
    let part = trace.window(start - 30 * MINUTE, last);
    let t: Vec<f64> = part.times_ms().iter().map(|&x| minutes(x - start)).collect();
    let before = t.iter().filter(|x| **x <= 0.0).count();
    let at = &t[before..];
    let rise_of = |y: &[f64]| -> Option<(f64, f64)> {
        let smoothed = smooth::local_quadratic(&t, y, at, SMOOTH_HALF_WIDTH_MIN);
        Some((smoothed.into_iter().flatten().reduce(f64::max)?, moments::mean(&y[..before])?))
    };
    let curve: Vec<f64> =
        smooth::local_quadratic(&t, part.glucose_mg_dl(), &t, CURVE_HALF_WIDTH_MIN)
            .into_iter()
            .collect::<Option<Vec<f64>>>()?;
    let (curve_top, base) =
        (curve[before..].iter().copied().reduce(f64::max)?, moments::mean(&curve[..before])?);
    let (top, _) = rise_of(part.glucose_mg_dl())?;
    let step = minutes(trace.nominal_ms());
    let mut excess = Vec::new();
    let mut errors = Vec::new();
    for draw in 0..NOISE_DRAWS {
        let mut random = Random::keyed(key.0, key.1, draw);
        let (peak, mean) = rise_of(&with_noise(&curve, &t, step, noise, &mut random))?;
        excess.push(peak - curve_top);
        errors.push((peak - curve_top) - (mean - base));
    }
    Some((top - moments::mean(&excess)? - baseline, moments::sd(&errors)?))
}

/// The curve plus first-order autocorrelated noise; over longer steps it decays accordingly.
fn with_noise(curve: &[f64], t: &[f64], step: f64, noise: &Noise, random: &mut Random) -> Vec<f64> {
    let mut e = noise.sd_mg_dl * random.normal();
    let mut out = Vec::with_capacity(curve.len());
    for i in 0..curve.len() {
        if i > 0 {
            let rho = libm::pow(noise.autocorrelation, (t[i] - t[i - 1]) / step);
            e = rho * e + (1.0 - rho * rho).sqrt() * noise.sd_mg_dl * random.normal();
        }
        out.push(curve[i] + e);
    }
    out
}
