//! Rises that no logged meal explains: meals that the diary may lack.
//!
//! # Method
//! A meal's shape (see `matched`) is tried at every five minutes that have all their readings from
//! an hour before to two hours after. The clearest start is taken, its neighbourhood struck out,
//! and so on; one from 110 minutes after a logged meal back to 50 minutes before one is that meal's
//! and not given. The size is how much the readings rise; with no meal in the four hours before, the rise is measured from the
//! median of the three hours before, so that the way back from a low is no meal. The probability
//! weighs the shape's height, or the size where that is less, as meals have them (mean 40, SD 20
//! mg/dL) against none, at odds of one suspected start in twenty beforehand.
//!
//! Suspected meals are offered, not assumed: nothing but the null windows takes note of them.
//! Where readings are missing none is looked for; those in the first twelve hours of a sensor,
//! whose wobble can look like a meal, say so.
//!
//! # Units
//! mg/dL, UTC milliseconds.
//!
//! # Source
//! Bayes factor of two normals: Jeffreys H. Theory of probability, 1961. The sizes and the odds are
//! a convention of this library.

use super::covariance::Linked;
use super::matched::{Filter, PEAKS_MIN};
use super::meal::{Activity, Meal};
use super::noise::{Noise, noise_without};
use crate::error::{Error, require_within};
use crate::interpolate::Method;
use crate::series::{Censor, Trace};
use crate::stats::{moments, quantile};
use crate::table::Table;

const MINUTE: i64 = 60_000;
const STEP_MIN: i64 = 5;
/// Readings needed from so many steps before a start to so many after it.
const BEFORE_STEPS: usize = 12;
const AFTER_STEPS: usize = 24;
/// Minutes after a logged meal whose rise is that meal's.
const AFTER_LOGGED_MIN: i64 = 110;
/// And before one, which may have been entered late.
const BEFORE_LOGGED_MIN: i64 = 50;
/// No second start is looked for so near to a suspected meal.
const APART_MIN: i64 = 150;
/// Nor so near to a logged one's.
const APART_LOGGED_MIN: i64 = 90;
/// Nor so near to one that was dismissed.
const APART_DISMISSED_MIN: i64 = 45;
/// A fall may still be a meal's own so long after it.
const DECAY_MIN: i64 = 240;
const FIRST_HOURS_MS: i64 = 12 * 60 * MINUTE;
/// What meals raise, mg/dL.
const MEAN_RISE: f64 = 40.0;
const SD_RISE: f64 = 20.0;
/// Where there are too few windows without food: a noise between the quiet and the loud sensors.
const FALLBACK: Linked = Linked { linked: 22.0, white: 0.1, slow_min: 30.0, fast_min: 6.0 };

/// How suspected meals are looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct UnloggedOptions {
    /// Odds beforehand that a start that stands out is a meal.
    pub prior_odds: f64,
    /// Only those at least so probable are given.
    pub least_probability: f64,
    /// Smallest size given, mg/dL.
    pub least_size_mg_dl: f64,
}

impl Default for UnloggedOptions {
    fn default() -> Self {
        UnloggedOptions { prior_odds: 0.05, least_probability: 0.2, least_size_mg_dl: 15.0 }
    }
}

/// A meal that the trace suggests and the diary lacks.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Suspected {
    /// When it seems to have begun, UTC milliseconds.
    pub onset_ms: i64,
    /// How much it seems to have raised glucose, mg/dL.
    pub size_mg_dl: f64,
    /// How probable it is that it was a meal.
    pub probability: f64,
    /// Whether it lies in the first twelve hours of a sensor.
    pub first_hours: bool,
    /// Whether activity was logged from an hour before to two hours after.
    pub activity_near: bool,
}

/// Meals that the trace suggests and the diary lacks, in order of time.
///
/// # Errors
/// Options out of their range.
///
/// # Example
/// ```
/// use glycemic_core::meals::{UnloggedOptions, unlogged};
/// use glycemic_core::{Unit, series::Builder};
/// // A flat day with one rise of 60 mg/dL that begins at eight hours.
/// let times: Vec<i64> = (0..288).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// let rise = |m: f64| if m < 0.0 { 0.0 } else { 60.0 * (m / 45.0) * (1.0 - m / 45.0).exp() };
/// let glucose: Vec<f64> =
///     (0..288).map(|i| (100.0 + rise(5.0 * f64::from(i) - 490.0)).round()).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &glucose)?;
/// let found = unlogged(&trace, &[], &[], UnloggedOptions::default())?;
/// assert_eq!(found.len(), 1);
/// assert!((found[0].onset_ms - times[96]).abs() <= 20 * 60_000);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn unlogged(
    trace: &Trace,
    meals: &[Meal],
    activity: &[Activity],
    options: UnloggedOptions,
) -> Result<Vec<Suspected>, Error> {
    require_within("prior_odds", options.prior_odds, 1e-6, 1e6)?;
    require_within("least_probability", options.least_probability, 0.0, 1.0)?;
    require_within("least_size_mg_dl", options.least_size_mg_dl, 1.0, 1000.0)?;
    let look = |noise: Result<Noise, usize>| {
        let linked = noise.map_or(FALLBACK, |n| n.linked());
        search(trace, meals, activity, &options, &linked)
    };
    // What is found first is kept out of the noise, by which it is then looked for anew.
    let first = look(noise_without(trace, meals, &[], 30.0, 180.0))?;
    look(noise_without(trace, meals, &probable(&first), 30.0, 180.0))
}

/// The onsets of those that are more probable than not.
pub(super) fn probable(found: &[Suspected]) -> Vec<i64> {
    found.iter().filter(|s| s.probability > 0.5).map(|s| s.onset_ms).collect()
}

fn search(
    trace: &Trace,
    meals: &[Meal],
    activity: &[Activity],
    options: &UnloggedOptions,
    linked: &Linked,
) -> Result<Vec<Suspected>, Error> {
    let (times, mut y) = trace.resample(STEP_MIN as f64, Method::Linear, 16.0)?;
    leave_out_censored(trace, &times, &mut y);
    let mut times_of_meals: Vec<i64> = meals.iter().map(|m| m.time_ms).collect();
    times_of_meals.sort_unstable();
    let Some(mut starts) = scores(&times, &y, linked) else { return Ok(vec![]) };
    starts.sort_by(|a, b| b.z.total_cmp(&a.z).then(a.place.cmp(&b.place)));
    let mut taken: Vec<(i64, i64)> = Vec::new();
    let mut found = Vec::new();
    for start in starts {
        let onset_ms = times[start.place];
        if taken.iter().any(|t| (t.0 - onset_ms).abs() < t.1 * MINUTE) {
            continue;
        }
        if explained(&times_of_meals, onset_ms) {
            taken.push((onset_ms, APART_LOGGED_MIN));
            continue;
        }
        let risen = increase(&times, &y, start.place, &times_of_meals);
        let probability = probability(start.height.min(risen), start.se, options.prior_odds);
        if risen < options.least_size_mg_dl || probability < options.least_probability {
            taken.push((onset_ms, APART_DISMISSED_MIN));
            continue;
        }
        taken.push((onset_ms, APART_MIN));
        found.push(Suspected {
            onset_ms,
            size_mg_dl: risen,
            probability,
            first_hours: in_first_hours(trace, onset_ms),
            activity_near: activity.iter().any(|a| {
                let end = a.start_ms + (a.minutes * MINUTE as f64) as i64;
                a.start_ms < onset_ms + 120 * MINUTE && end > onset_ms - 60 * MINUTE
            }),
        });
    }
    found.sort_by_key(|s| s.onset_ms);
    Ok(found)
}

/// The suspected meals as a table.
///
/// # Errors
/// None that they can cause; columns have one length.
pub fn suspected_table(found: &[Suspected]) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_i64("onset_ms", found.iter().map(|s| Some(s.onset_ms)).collect())?;
    t.push_f64("size_mg_dl", found.iter().map(|s| Some(s.size_mg_dl)).collect())?;
    t.push_f64("probability", found.iter().map(|s| Some(s.probability)).collect())?;
    t.push_bool("first_hours", found.iter().map(|s| s.first_hours).collect())?;
    t.push_bool("activity_near", found.iter().map(|s| s.activity_near).collect())?;
    Ok(t)
}

/// A start that stands out.
struct Start {
    place: usize,
    height: f64,
    se: f64,
    z: f64,
}

/// The score of every start whose readings are all there, and its neighbours' too.
fn scores(times: &[i64], y: &[Option<f64>], noise: &Linked) -> Option<Vec<Start>> {
    let t: Vec<f64> = (0..=BEFORE_STEPS + AFTER_STEPS)
        .map(|i| (i as f64 - BEFORE_STEPS as f64) * STEP_MIN as f64)
        .collect();
    let filters =
        PEAKS_MIN.iter().map(|p| Filter::new(&t, 0.0, *p, noise)).collect::<Option<Vec<_>>>()?;
    let mut starts = Vec::new();
    for place in BEFORE_STEPS..times.len().saturating_sub(AFTER_STEPS) {
        let part = &y[place - BEFORE_STEPS..=place + AFTER_STEPS];
        let found = filters.iter().filter_map(|f| {
            let height = f.height(part)?;
            Some(Start { place, height, se: f.se, z: height / f.se })
        });
        starts.extend(found.max_by(|a, b| a.z.total_cmp(&b.z)));
    }
    // The clearest start must not lie at the edge of what was seen: it may be further out.
    let inside =
        |k: usize| k > 0 && k + 1 < starts.len() && starts[k + 1].place - starts[k - 1].place == 2;
    let kept: Vec<bool> = (0..starts.len()).map(|k| inside(k) && starts[k].z > 0.0).collect();
    Some(starts.into_iter().zip(kept).filter(|s| s.1).map(|s| s.0).collect())
}

/// A reading at the sensor's limit says nothing of a rise, nor do values drawn from it.
fn leave_out_censored(trace: &Trace, times: &[i64], y: &mut [Option<f64>]) {
    let view = trace.view();
    for (t, censor) in view.times_ms().iter().zip(view.censor()) {
        if *censor != Censor::None {
            let from = times.partition_point(|x| *x <= t - trace.nominal_ms());
            let to = times.partition_point(|x| *x < t + trace.nominal_ms());
            y[from..to.max(from)].fill(None);
        }
    }
}

/// Whether a rise from here on belongs to a logged meal.
fn explained(meals: &[i64], onset_ms: i64) -> bool {
    meals.iter().any(|m| {
        let after = onset_ms - m;
        (-BEFORE_LOGGED_MIN * MINUTE..=AFTER_LOGGED_MIN * MINUTE).contains(&after)
    })
}

/// How much the readings rise: highest quarter of an hour in the two hours after, less the level
/// at the start, or the usual level before where no meal explains a fall.
fn increase(times: &[i64], y: &[Option<f64>], place: usize, meals: &[i64]) -> f64 {
    let values = |from: usize, to: usize| -> Vec<f64> {
        y[from.min(y.len())..to.min(y.len())].iter().flatten().copied().collect()
    };
    let next = meals.iter().copied().find(|m| *m > times[place]).unwrap_or(i64::MAX);
    let seen = times[place..].iter().take(25).take_while(|t| **t <= next).count();
    let after = values(place, place + seen);
    let top = after.windows(3).filter_map(moments::mean).fold(f64::MIN, f64::max);
    let at_start = moments::mean(&values(place.saturating_sub(3), place + 3));
    let usual = quantile::median(&values(place.saturating_sub(36), place.saturating_sub(1)));
    let decays = |m: &i64| (0..=DECAY_MIN * MINUTE).contains(&(times[place] - m));
    match (at_start, usual) {
        (Some(level), Some(usual)) if !meals.iter().any(decays) => top - level.max(usual),
        (Some(level), _) => top - level,
        _ => 0.0,
    }
}

/// Odds of a meal against none: two normals for the height that was found.
fn probability(size: f64, se: f64, prior_odds: f64) -> f64 {
    let variance = se * se + SD_RISE * SD_RISE;
    let log_meal = -0.5 * (size - MEAN_RISE) * (size - MEAN_RISE) / variance
        - 0.5 * libm::log(variance / (se * se));
    // More than a usual meal is no less of a meal.
    let log_meal = if size > MEAN_RISE { -0.5 * libm::log(variance / (se * se)) } else { log_meal };
    let log_none = -0.5 * size * size / (se * se);
    let odds = prior_odds * libm::exp((log_meal - log_none).min(600.0));
    odds / (1.0 + odds)
}

fn in_first_hours(trace: &Trace, at_ms: i64) -> bool {
    let inserted = trace.breaks_ms().iter().copied().filter(|b| *b <= at_ms).max();
    at_ms - inserted.unwrap_or(trace.times_ms()[0]) < FIRST_HOURS_MS
}
