//! The response to one meal.
//!
//! # Method
//! Baseline: mean of the readings in the `before_min` up to the start, or up to five minutes before
//! the earliest onset that the trace allows (see `onset`), whichever is earlier. Rise: the highest
//! reading in the window less the baseline, *as displayed*; *noise-aware*, of the curve behind the
//! readings, freed of what it errs by (see `aware`). A window cut by the next meal or the end of
//! the readings keeps what was seen; its rise is told when glucose was seen to fall after the peak,
//! else it is censored: at least so much. Incremental areas start
//! from the straight line's value at the start. Recovery: the first time after the peak from
//! which glucose stays within 10 mg/dL of the baseline for 15 minutes.
//!
//! # Units
//! mg/dL, minutes from the meal's start, mg/dL·min.
//!
//! # Source
//! Summary measures: Matthews et al., BMJ 1990; 300:230-235. Areas: see [`crate::area`].
//! The rule for cut windows: a convention of this library.

use super::aware::{Behind, DRAWS};
use super::meal::Activity;
use super::onset::Onset;
use crate::area::{self, Rule};
use crate::interpolate::Method;
use crate::series::{Censor, Trace, TraceView};
use crate::stats::moments;

const MINUTE: i64 = 60_000;
/// A rise is given when at least this much of the window was seen, in minutes.
const MIN_SEEN_MIN: f64 = 60.0;

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
    /// How far this rise and all others move together where the noise, as estimated, is off by
    /// one standard error; of clean meals only.
    pub rise_noise_shift_mg_dl: Option<f64>,
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
    /// When the trace says that the meal began, UTC milliseconds; `None` where it doesn't say.
    pub onset_ms: Option<i64>,
    /// The window was cut before glucose was seen to fall: the rise is at least what is given.
    pub rise_censored: bool,
}

impl Response {
    /// Whether it shows the meal alone: no walk or exercise in the window, no earlier meal within
    /// three hours, no meal in the first two hours after, the peak seen.
    pub fn is_clean(&self) -> bool {
        self.is_alone() && !self.flags.contains(&"exercise_in_window")
    }

    /// Whether no other meal is in it and the peak was seen, a walk or exercise or not.
    pub fn is_alone(&self) -> bool {
        let spoilt = [
            "previous_meal_under_3h",
            "gap_at_peak",
            "no_baseline",
            "sensor_change",
            "outside_wear",
        ];
        self.seen_min >= 115.0 && !spoilt.iter().any(|f| self.flags.contains(f))
    }

    /// Whether the next meal or the end of the readings cut the window.
    pub fn is_cut(&self) -> bool {
        ["next_meal_in_window", "window_cut"].iter().any(|f| self.flags.contains(f))
    }
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

/// Where a meal stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place {
    pub start: i64,
    pub onset: Option<Onset>,
    pub window: Window,
}

impl Place {
    /// The stretch of the baseline: up to the start, or to five minutes before the earliest onset
    /// that the trace allows.
    pub(super) fn baseline_ms(&self) -> (i64, i64) {
        let to = self.onset.map_or(self.start, |o| self.start.min(o.earliest_ms - 5 * MINUTE));
        (to - ms(self.window.before_min), to)
    }

    /// From where the peak is looked for.
    pub(super) fn meal_from(&self) -> i64 {
        self.onset.map_or(self.start, |o| self.start.min(o.best_ms))
    }
}

pub(super) fn respond(
    trace: &Trace,
    place: Place,
    around: Around<'_>,
    behind: Option<&Behind>,
    random: (u64, u64),
) -> Response {
    let start = place.start;
    let end = start + ms(place.window.after_min);
    let onset_ms = place.onset.map(|o| o.best_ms);
    let mut r = Response { time_ms: start, onset_ms, ..Response::default() };
    note_diary(&mut r, around, start, end);
    let seen_end = around.next_ms.map_or(end, |n| n.min(end));
    let baseline_ms = place.baseline_ms();
    let before = trace.window(baseline_ms.0, baseline_ms.1);
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
    // A meal entered late has risen before its entry.
    let from = place.meal_from();
    let risen = trace.window(from + 1, seen_end);
    measure(&mut r, trace, risen, after, baseline);
    r.rise_censored = r.is_cut() && !falls(risen, baseline);
    let aware = behind.and_then(|b| b.rise(trace, from, last, baseline_ms, random, DRAWS));
    if let Some((rise, sd)) = aware {
        r.rise_noise_aware_mg_dl = Some(rise);
        r.rise_noise_sd_mg_dl = Some(sd);
    }
    r
}

/// Whether the peak was seen and glucose fell after it: a quarter of an hour and three readings
/// later it stands, by the mean of the last three, at least 5 mg/dL and a tenth of the rise lower.
fn falls(after: TraceView<'_>, baseline: f64) -> bool {
    let (times, glucose) = (after.times_ms(), after.glucose_mg_dl());
    let top = highest(glucose);
    let n = glucose.len();
    if n < top + 4 || times[n - 1] - times[top] < 15 * MINUTE {
        return false;
    }
    let last = glucose[n - 3..].iter().sum::<f64>() / 3.0;
    glucose[top] - last >= (0.1 * (glucose[top] - baseline)).max(5.0)
}

/// Place of the first highest reading.
fn highest(glucose: &[f64]) -> usize {
    let mut top = 0;
    for i in 1..glucose.len() {
        if glucose[i] > glucose[top] {
            top = i;
        }
    }
    top
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

/// What is read off the window: `risen` from the onset on, `after` from the logged start on.
fn measure(
    r: &mut Response,
    trace: &Trace,
    risen: TraceView<'_>,
    after: TraceView<'_>,
    baseline: f64,
) {
    let start = r.time_ms;
    let (times, glucose) = (risen.times_ms(), risen.glucose_mg_dl());
    let top = highest(glucose);
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
        areas(r, trace, after.times_ms(), after.glucose_mg_dl(), baseline, start);
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
