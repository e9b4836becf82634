//! Steps: by how much sensor less meter changed where a sensor was swapped or set by its wearer.
//!
//! # Method
//! At each insertion after the first and at each calibration by the wearer, pairs after (up to the next
//! such event) are compared with pairs before (back to the one before it): mean difference sensor -
//! meter after less before, with the interval by leaving out days (`by_day`). Beside it stands the jump
//! of the sensor's own overnight level (00:00-06:00), mean of nights after less before, Welch's t on
//! nights; it needs no meter, and that the person's nights changed can't be excluded. A drift before
//! or after the event is part of the difference.
//!
//! # Units
//! mg/dL.
//!
//! # Source
//! Welch BL. Biometrika 1947; 34: 28-35 (from memory).

use super::by_day::fit;
use super::differences::{Differences, Pairing, differences};
use crate::align::{EventKind, WearEvent};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::panel::local::nights;
use crate::series::{Meter, Trace};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;

/// Days with pairs, and nights, needed on each side.
const MIN_DAYS: usize = 3;
/// Readings that a night must hold, as a share of what six hours can hold.
const NIGHT_SHARE: f64 = 0.5;

const AGAINST_METER: &str =
    "mean of sensor - meter after less before, interval by leaving out days";
const OVERNIGHT: &str = "mean of the sensor's nights after less before, Welch's t on nights; no meter: \
                         could be the person";

/// What changed at one event.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// When, UTC ms, and what it was.
    pub at: WearEvent,
    /// Pairs before and after.
    pub pairs: (usize, usize),
    /// Sensor less meter after, less the same before, mg/dL.
    pub difference_mg_dl: Estimate,
    /// Overnight level of the sensor after less before, mg/dL; could be the person.
    pub overnight_mg_dl: Estimate,
}

/// The step at each swap or calibration among `events`, in order of time.
///
/// An insertion before the first reading is no step, nor is a removal. With the default `pairing`,
/// pairs of a new sensor's first 24 hours are left out where the trace knows of the insertion
/// ([`Trace::with_breaks`]).
///
/// # Errors
/// A level outside 0.5 to 0.999, and as [`differences`].
///
/// # Example
/// ```
/// use glycemic_core::align::{EventKind, WearEvent};
/// use glycemic_core::sensor::{Pairing, steps};
/// use glycemic_core::{series::{Builder, Meter}, Unit};
/// // The second sensor reads 10 mg/dL more.
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> = (0..10 * 288).map(|i| start + i * 300_000).collect();
/// let sensor: Vec<f64> = (0..10 * 288).map(|i| if i < 5 * 288 { 100.0 } else { 110.0 }).collect();
/// let swap = WearEvent { time_ms: times[5 * 288], kind: EventKind::Inserted, sensor: None };
/// let trace = Builder::new(Unit::MgDl).build(&times, &sensor)?.with_breaks(vec![swap.time_ms]);
/// let pricked: Vec<i64> = (0..10).map(|d| times[d * 288 + 100]).collect();
/// let meter = Meter::new(&pricked, &[100.0; 10], &vec![String::new(); 10], Unit::MgDl)?;
/// let found = steps(&meter, &trace, &[swap], Pairing::default(), 0.95)?;
/// assert_eq!(found[0].difference_mg_dl.value, Some(10.0));
/// // Nights are local, and nobody gave a clock.
/// assert_eq!(found[0].overnight_mg_dl.reason.as_ref().unwrap().code, "no_zone");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn steps(
    meter: &Meter,
    trace: &Trace,
    events: &[WearEvent],
    pairing: Pairing,
    level: f64,
) -> Result<Vec<Step>, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let all = differences(meter, trace, pairing)?;
    let nights = nightly(trace);
    let first = trace.times_ms().first().copied().unwrap_or(i64::MAX);
    let is_step = |e: &&WearEvent| {
        e.time_ms > first && matches!(e.kind, EventKind::Inserted | EventKind::Calibrated)
    };
    let mut events: Vec<WearEvent> = events.iter().filter(is_step).cloned().collect();
    events.sort_by_key(|e| e.time_ms);
    events.dedup_by_key(|e| e.time_ms);
    let edge = |i: usize| events.get(i).map(|e| e.time_ms);
    let step = |(i, at): (usize, &WearEvent)| {
        let from = i.checked_sub(1).and_then(edge).unwrap_or(i64::MIN);
        let to = edge(i + 1).unwrap_or(i64::MAX);
        let near = all.filtered(|i| (from..to).contains(&all.times_ms[i]));
        let after = near.times_ms.iter().filter(|t| **t >= at.time_ms).count();
        Step {
            at: at.clone(),
            pairs: (near.len() - after, after),
            difference_mg_dl: difference(&near, at.time_ms, level),
            overnight_mg_dl: overnight(&nights, (from, at.time_ms, to), level),
        }
    };
    Ok(events.iter().enumerate().map(step).collect())
}

/// Mean difference from `at` on less that before.
fn difference(near: &Differences, at: i64, level: f64) -> Estimate {
    let days = |late: bool| near.filtered(|i| (near.times_ms[i] >= at) == late).days();
    let fewest = days(false).min(days(true));
    let missing = |reason| Estimate::missing(level, AGAINST_METER, fewest, MIN_DAYS, reason);
    if fewest < MIN_DAYS {
        let what = "days with pairs on each side";
        return missing(Reason::count("too_few_days", what, fewest, MIN_DAYS));
    }
    let late: Vec<f64> = near.times_ms.iter().map(|t| f64::from(u8::from(*t >= at))).collect();
    match fit(&[&vec![1.0; late.len()], &late], &near.difference_mg_dl(), &near.day) {
        Some(fitted) => fitted.estimate(&[0.0, 1.0], level, AGAINST_METER, 2 * MIN_DAYS - 1),
        None => missing(Reason::plain("no_spread", "all pairs lie on one side")),
    }
}

/// Of each night with enough readings: its first reading, its last, their mean.
fn nightly(trace: &Trace) -> Result<Vec<(i64, i64, f64)>, Reason> {
    let (view, clock) = (trace.view(), trace.clock());
    let enough = NIGHT_SHARE * 6.0 * 3_600_000.0 / trace.nominal_ms().max(1) as f64;
    let night = |(day, values): (i64, Vec<f64>)| {
        let start = clock.map_or(0, |c| c.day_start(day));
        let mean = moments::mean(&values).filter(|_| values.len() as f64 >= enough)?;
        Some((start, start + 6 * 3_600_000, mean))
    };
    Ok(nights(view)?.into_iter().filter_map(night).collect())
}

fn overnight(
    nights: &Result<Vec<(i64, i64, f64)>, Reason>,
    (from, at, to): (i64, i64, i64),
    level: f64,
) -> Estimate {
    let missing = |n, reason| Estimate::missing(level, OVERNIGHT, n, MIN_DAYS, reason);
    let nights = match nights {
        Ok(nights) => nights,
        Err(reason) => return missing(0, reason.clone()),
    };
    // A night in which it happened belongs to neither side.
    let within = |low: i64, high: i64| -> Vec<f64> {
        nights.iter().filter(|n| n.0 >= low && n.1 <= high).map(|n| n.2).collect()
    };
    let (before, after) = (within(from, at), within(at, to));
    let fewest = before.len().min(after.len());
    let spread = |v: &[f64]| Some((moments::mean(v)?, moments::variance(v)? / v.len() as f64));
    let (Some((a, va)), Some((b, vb)), true) =
        (spread(&before), spread(&after), fewest >= MIN_DAYS)
    else {
        let what = "nights with readings on each side";
        return missing(fewest, Reason::count("too_few_nights", what, fewest, MIN_DAYS));
    };
    let freedom = |v: f64, n: usize| v * v / (n as f64 - 1.0);
    let below = freedom(va, before.len()) + freedom(vb, after.len());
    let freedom = if below > 0.0 { (va + vb) * (va + vb) / below } else { fewest as f64 - 1.0 };
    let half = t_two_sided(level, freedom) * (va + vb).sqrt();
    let n = before.len() + after.len();
    Estimate::new(b - a, b - a - half, b - a + half, level, OVERNIGHT, n).needing(2 * MIN_DAYS)
}

#[cfg(test)]
#[path = "steps_tests.rs"]
mod tests;
