//! Rises that no logged meal explains: meals that the diary may lack.
//!
//! # Method
//! A meal's shape (see `matched`) is tried at every five minutes that have all their readings from
//! an hour before to two hours after. The clearest start is taken, its neighbourhood struck out,
//! and so on; one from 110 minutes after a logged meal back to 50 minutes before one is that meal's
//! and not given. At each start that is left the readings from 100 minutes before (an hour after the last logged
//! meal at the earliest) to 150 minutes after (the next meal at the latest) say how much likelier
//! they are with a meal than without and when it began, by what this person's own meals look like
//! (see `evidence`). The size is how much the readings rise; with no meal in the four hours before, the rise is measured from the
//! median of the three hours before, so that the way back from a low is no meal.
//!
//! The probability is that of a meal that began within half an hour of the onset given. It comes
//! from that evidence and the odds beforehand. These begin at one start in twenty and follow the
//! trace: a diary that lacks many meals makes another likelier, and the more starts there are that
//! are none, the less likely each (see `unlogged_odds`). How loud the noise is around starts that
//! are probably no meal changes the evidence in turn. What is found more probable than not is kept
//! out of the windows that tell the noise, and everything is looked for anew, until nothing changes.
//!
//! Suspected meals are offered, not assumed: nothing but the null windows takes note of them.
//! Where readings are missing none is looked for; those in the first twelve hours of a sensor,
//! whose wobble can look like a meal, say so. With a loud sensor (noise SD of 11 mg/dL) about half
//! of the meals are found. In simulated trials with quieter sensors what was told less than 80 %
//! probable was a meal more often than that.
//!
//! # Units
//! mg/dL, UTC milliseconds.
//!
//! # Source
//! Bayes factors: Jeffreys H. Theory of probability, 1961. Odds beforehand from the data: Efron B.
//! Large-scale inference, 2010, ch. 2, from memory. The sizes and the odds are a convention of
//! this library.

use super::covariance::Linked;
use super::evidence::{self, Evidence, Habit, STEP_MIN, Stretches};
use super::matched::{Start, scores};
use super::meal::{Activity, Meal};
use super::noise::noise_without;
use super::unlogged_odds::{Rise, learnt_odds, null_scale};
use crate::error::{Error, require_within};
use crate::interpolate::Method;
use crate::series::{Censor, Trace};
use crate::stats::{moments, quantile};
use crate::table::Table;

const MINUTE: i64 = 60_000;
/// Minutes after a logged meal whose rise is that meal's.
const AFTER_LOGGED_MIN: i64 = 110;
/// And before one, which may have been entered late.
const BEFORE_LOGGED_MIN: i64 = 50;
/// No second start is looked for so near to a suspected meal.
const APART_MIN: i64 = 150;
/// Nor so near to a logged one's.
const APART_LOGGED_MIN: i64 = 90;
/// Nor so near to any other start.
const APART_UNLOGGED_MIN: i64 = 45;
/// A fall may still be a meal's own so long after it.
const DECAY_MIN: i64 = 240;
const FIRST_HOURS_MS: i64 = 12 * 60 * MINUTE;
/// Readings sooner after a logged meal are that meal's.
const TAIL_MIN: i64 = 60;
/// Readings later after the next one are the next one's.
const NEXT_MIN: i64 = 10;
/// A stretch of fewer readings says nothing.
const LEAST_READINGS: usize = 20;
/// No logged meal so soon before one from which to learn, and so soon after.
const CLEAN_BEFORE_MIN: i64 = 180;
const CLEAN_AFTER_MIN: i64 = 150;
/// Starts under so many standard errors are not looked at.
const LEAST_Z: f64 = 1.0;
/// How often everything is looked for.
const MOST_PASSES: usize = 4;
/// Where there are too few windows without food: a noise between the quiet and the loud sensors.
const FALLBACK: Linked = Linked { linked: 22.0, white: 0.1, slow_min: 30.0, fast_min: 6.0 };

/// Suspected meals more probable than this count as found: of probabilities that mean what they say, half
/// of the best F1 is the threshold that reaches it (Lipton ZC, Elkan C, Naryanaswamy B. ECML PKDD 2014,
/// from memory), and that is 0.8 to 0.9.
pub const FOUND: f64 = 0.4;

/// How suspected meals are looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct UnloggedOptions {
    /// Odds beforehand that a start that stands out is a meal; the trace itself then changes them.
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
    /// How probable it is that a meal began within half an hour of then.
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
    let look = |suspected: &[i64]| {
        let noise = noise_without(trace, meals, suspected, 30.0, 180.0);
        let linked = noise.map_or(FALLBACK, |n| n.linked());
        search(trace, meals, activity, &options, &linked)
    };
    // What is found is kept out of the noise, by which it is then looked for anew.
    let mut found = look(&[])?;
    for _ in 1..MOST_PASSES {
        let again = look(&probable(&found))?;
        let settled = probable(&again) == probable(&found);
        found = again;
        if settled {
            break;
        }
    }
    Ok(found)
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
    let mut meals_ms: Vec<i64> = meals.iter().map(|m| m.time_ms).collect();
    meals_ms.sort_unstable();
    let day = Day { times: &times, y: &y, meals_ms: &meals_ms };
    let Some(starts) = scores(&y, linked) else { return Ok(vec![]) };
    let starts = day.apart(starts);
    let mut stretches = Stretches::new(linked);
    let Some(mut habit) = stretches.learn(&day.clean_meals()) else { return Ok(vec![]) };
    let mut rises = day.rises(&starts, &mut stretches, &habit);
    let odds = learnt_odds(&rises, starts.len(), options.prior_odds);
    habit.scale = null_scale(&rises, odds, APART_MIN * MINUTE);
    rises = day.rises(&starts, &mut stretches, &habit);
    rises.retain(|r| r.size_mg_dl >= options.least_size_mg_dl);
    let odds = learnt_odds(&rises, starts.len(), options.prior_odds);
    rises.sort_by(|a, b| b.log_factor.total_cmp(&a.log_factor).then(a.onset_ms.cmp(&b.onset_ms)));
    let mut found: Vec<Suspected> = Vec::new();
    for rise in rises {
        let Rise { onset_ms, size_mg_dl, .. } = rise;
        let probability = rise.near * rise.probability(odds);
        let near = |f: &Suspected| (f.onset_ms - onset_ms).abs() < APART_MIN * MINUTE;
        if probability < options.least_probability || found.iter().any(near) {
            continue;
        }
        found.push(Suspected {
            onset_ms,
            size_mg_dl,
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

/// Readings on an even grid, and when the logged meals began.
struct Day<'a> {
    times: &'a [i64],
    y: &'a [Option<f64>],
    meals_ms: &'a [i64],
}

impl Day<'_> {
    /// The clearest starts, apart from each other and not a logged meal's.
    fn apart(&self, mut starts: Vec<Start>) -> Vec<usize> {
        starts.sort_by(|a, b| b.z.total_cmp(&a.z).then(a.place.cmp(&b.place)));
        let mut taken: Vec<(i64, i64)> = Vec::new();
        let mut kept = Vec::new();
        for start in starts.iter().take_while(|s| s.z > LEAST_Z) {
            let at = self.times[start.place];
            if taken.iter().any(|t| (t.0 - at).abs() < t.1 * MINUTE) {
                continue;
            }
            let logged = explained(self.meals_ms, at);
            taken.push((at, if logged { APART_LOGGED_MIN } else { APART_UNLOGGED_MIN }));
            if !logged {
                kept.push(start.place);
            }
        }
        kept
    }

    /// What the readings around each start say.
    fn rises(&self, starts: &[usize], stretches: &mut Stretches, habit: &Habit) -> Vec<Rise> {
        let mut rises = Vec::with_capacity(starts.len());
        for &start in starts {
            let (before, readings) = self.stretch(start);
            if readings.len() < LEAST_READINGS {
                continue;
            }
            let Some(seen) = stretches.evidence(before, &readings, habit) else { continue };
            let place = start.saturating_add_signed(seen.steps as isize);
            let Some(&onset_ms) = self.times.get(place) else { continue };
            if !explained(self.meals_ms, onset_ms) {
                let size_mg_dl = increase(self.times, self.y, place, self.meals_ms);
                let Evidence { log_factor, near, plain, .. } = seen;
                rises.push(Rise { onset_ms, size_mg_dl, log_factor, near, plain });
            }
        }
        rises
    }

    /// How many steps before `start` the readings begin that no logged meal explains, and these.
    fn stretch(&self, start: usize) -> (usize, Vec<f64>) {
        let next = self.meals_ms.partition_point(|m| *m <= self.times[start]);
        let from_ms =
            next.checked_sub(1).map_or(i64::MIN, |i| self.meals_ms[i] + TAIL_MIN * MINUTE);
        let to_ms = self.meals_ms.get(next).map_or(i64::MAX, |m| m + NEXT_MIN * MINUTE);
        let usable = |k: usize| {
            let inside = self.times.get(k).is_some_and(|t| (from_ms..=to_ms).contains(t));
            self.y.get(k).copied().flatten().filter(|_| inside)
        };
        let back = (1..=evidence::BEFORE.min(start)).take_while(|i| usable(start - i).is_some());
        let before = back.count();
        (before, (start - before..=start + evidence::AFTER).map_while(usable).collect())
    }

    /// The readings around logged meals that are alone and whole.
    fn clean_meals(&self) -> Vec<Vec<f64>> {
        let alone = |i: usize| {
            let apart =
                |a: usize, b: usize, min: i64| match (self.meals_ms.get(a), self.meals_ms.get(b)) {
                    (Some(a), Some(b)) => b - a >= min * MINUTE,
                    _ => true,
                };
            apart(i.wrapping_sub(1), i, CLEAN_BEFORE_MIN) && apart(i, i + 1, CLEAN_AFTER_MIN)
        };
        let readings = |i: usize| {
            let near = self.meals_ms[i] - STEP_MIN * MINUTE / 2;
            let place = self.times.partition_point(|t| *t < near);
            let from = place.checked_sub(evidence::BEFORE)?;
            self.y.get(from..=place + evidence::AFTER)?.iter().copied().collect()
        };
        (0..self.meals_ms.len()).filter(|i| alone(*i)).filter_map(readings).collect()
    }
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

fn in_first_hours(trace: &Trace, at_ms: i64) -> bool {
    let inserted = trace.breaks_ms().iter().copied().filter(|b| *b <= at_ms).max();
    at_ms - inserted.unwrap_or(trace.times_ms()[0]) < FIRST_HOURS_MS
}
