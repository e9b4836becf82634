//! First-day instability: from which hour on is a new sensor steady?
//!
//! # Method
//! *By the meter.* Through sensor less meter from 48 h after insertion on goes a straight line; the
//! differences of the first 48 h, less that line and divided by their prediction error, should be
//! standard normal once the sensor is steady, and spread at least twice as much before. The hour at which
//! the spread changes is that of greatest likelihood; its interval holds every hour that a likelihood ratio
//! doesn't refuse. The hour of a change is no regular parameter: twice the ratio is below x with chance
//! (1 - exp(-x/2))², for small changes; for great ones the interval holds the hour more often than it
//! says. Between two pairs nothing is seen, so an end reaches to the next pair.
//!
//! *By the trace.* Movement is the SD of readings in blocks of two hours without a meal, over 12 hours;
//! it is compared with the same hours of later days, in logarithms, Student's t for one day against n
//! others. It needs no meter, and an unusual day can't be told from an unsteady sensor.
//!
//! Nothing is taken out: the mean stands beside that without these hours.
//!
//! # Units
//! Hours since insertion (since the first reading, where nobody knows of it), mg/dL.
//!
//! # Source
//! Likelihood ratio of a change: Hansen BE. Econometrica 2000; 68: 575-603 (from memory). The blocks, and 48 h after which a sensor is taken as steady: conventions of this library.

use super::by_day::coefficients;
use super::differences::{Differences, Pairing, differences};
use super::worn::{Worn, sensors};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::series::{Meter, Trace};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;

const HOUR_MS: i64 = 3_600_000;
/// Hours after which a sensor is taken as steady.
const REACH_H: f64 = 48.0;
/// Pairs needed before and after it.
const MIN_EARLY: usize = 4;
const MIN_LATER: usize = 8;
/// A sensor is unsteady while its differences spread so many times as later ones, or more.
const UNSTEADY: f64 = 2.0;
/// Hours of a block, and of a stretch of movement.
const BLOCK_H: i64 = 2;
const STRETCH_H: i64 = 12;
/// Hours after a meal that are not quiet.
const MEAL_H: i64 = 3;
/// Later days needed.
const MIN_DAYS: usize = 5;

const BY_METER: &str = "change in spread of sensor - meter, greatest likelihood, profile interval";
const BY_TRACE: &str = "movement against the same hours of later days, Student's t on days; no meter: \
                        could be the day";

/// Sensor less meter over some hours since insertion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hours {
    /// From this hour.
    pub from_h: f64,
    /// Up to and not including this hour.
    pub to_h: f64,
    /// Pairs.
    pub pairs: usize,
    /// Mean difference, mg/dL; `None` without pairs.
    pub mean_mg_dl: Option<f64>,
    /// SD of differences, n-1, mg/dL; `None` for fewer than two pairs.
    pub sd_mg_dl: Option<f64>,
}

/// Movement of the trace in some hours since insertion.
#[derive(Clone, Debug, PartialEq)]
pub struct Movement {
    /// From this hour.
    pub from_h: f64,
    /// Up to this hour.
    pub to_h: f64,
    /// How many times the movement of later days at the same hours.
    pub ratio: Estimate,
}

/// What was found of the first day of one sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct FirstDay {
    /// Which sensor.
    pub sensor: Worn,
    /// By the meter: the hour from which it is steady. 0: as steady from the start as later.
    pub steady_from_h: Estimate,
    /// The pairs, by hours.
    pub hours: Vec<Hours>,
    /// By the trace: 0 to 12 and 12 to 24 hours.
    pub movement: Vec<Movement>,
    /// Mean of all its readings, mg/dL.
    pub mean_mg_dl: f64,
    /// Hours left out of the next: those before it is steady where the pairs show that it was not, or 24.
    pub left_out_h: f64,
    /// Mean of the others, mg/dL; `None` when there are none.
    pub mean_without_mg_dl: Option<f64>,
}

/// The first day of each sensor of `trace`.
///
/// `meals_ms`: when meals began, UTC ms; without them movement after meals counts too. Of `pairing`
/// the first hours are not used: here all pairs are.
///
/// # Errors
/// A level outside 0.5 to 0.999, and as [`differences`].
///
/// # Example
/// ```
/// use glycemic_core::{sensor::{Pairing, first_day}, series::{Builder, Meter}, Unit};
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> = (0..8 * 288).map(|i| start + i * 300_000).collect();
/// let sensor: Vec<f64> = (0..8 * 288).map(|i| if i < 288 { 108.0 } else { 100.0 }).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &sensor)?;
/// let found = &first_day(&Meter::default(), &trace, &[], Pairing::default(), 0.95)?[0];
/// assert_eq!((found.mean_mg_dl, found.mean_without_mg_dl), (101.0, Some(100.0)));
/// assert_eq!(found.steady_from_h.reason.as_ref().unwrap().code, "too_few_early_pairs");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn first_day(
    meter: &Meter,
    trace: &Trace,
    meals_ms: &[i64],
    pairing: Pairing,
    level: f64,
) -> Result<Vec<FirstDay>, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let all = differences(meter, trace, Pairing { settled_from_h: 0.0, ..pairing })?;
    let mut found = Vec::new();
    for (place, sensor) in sensors(trace).into_iter().enumerate() {
        let own = all.filtered(|i| all.sensor[i] == place);
        let steady_from_h = steady_from(&own, level);
        let view = trace.window(sensor.first_ms, sensor.last_ms);
        let surely = steady_from_h.low.is_some_and(|low| low > 0.0);
        let left_out_h = steady_from_h.value.filter(|_| surely).unwrap_or(24.0);
        let start = sensor.start_ms() + (left_out_h * HOUR_MS as f64) as i64;
        let later = view.times_ms().partition_point(|&t| t < start);
        let mean = |values: &[f64]| moments::mean(values);
        found.push(FirstDay {
            sensor,
            steady_from_h,
            hours: by_hours(&own),
            movement: [0, STRETCH_H]
                .map(|from| movement(trace, sensor, meals_ms, from, level))
                .to_vec(),
            mean_mg_dl: mean(view.glucose_mg_dl()).unwrap_or(0.0),
            left_out_h,
            mean_without_mg_dl: mean(&view.glucose_mg_dl()[later..]),
        });
    }
    Ok(found)
}

fn by_hours(pairs: &Differences) -> Vec<Hours> {
    let edges = [0.0, 6.0, 12.0, 24.0, REACH_H, f64::INFINITY];
    let difference = pairs.difference_mg_dl();
    let row = |edge: &[f64]| {
        let (from_h, to_h) = (edge[0], edge[1]);
        let within = |days: f64| (from_h..to_h).contains(&(days * 24.0));
        let values: Vec<f64> = (0..pairs.len())
            .filter(|&i| within(pairs.wear_days[i]))
            .map(|i| difference[i])
            .collect();
        let (mean_mg_dl, sd_mg_dl) = (moments::mean(&values), moments::sd(&values));
        Hours { from_h, to_h, pairs: values.len(), mean_mg_dl, sd_mg_dl }
    };
    edges.windows(2).map(row).collect()
}

/// The hour from which `pairs`, in order of time, spread as later ones do.
pub(super) fn steady_from(pairs: &Differences, level: f64) -> Estimate {
    let hours: Vec<f64> = pairs.wear_days.iter().map(|d| d * 24.0).collect();
    let early = hours.iter().filter(|h| **h < REACH_H).count();
    let later = pairs.filtered(|i| hours[i] >= REACH_H);
    let missing = |reason, n, needed| Estimate::missing(level, BY_METER, n, needed, reason);
    if early < MIN_EARLY {
        let what = "pairs in the first 48 hours";
        let reason = Reason::count("too_few_early_pairs", what, early, MIN_EARLY);
        return missing(reason, early, MIN_EARLY);
    }
    if later.len() < MIN_LATER {
        let what = "pairs after the first 48 hours";
        let reason = Reason::count("too_few_later_pairs", what, later.len(), MIN_LATER);
        return missing(reason, later.len(), MIN_LATER);
    }
    let Some(scores) = scores(pairs, &later, early) else {
        let text = "sensor - meter doesn't vary after the first 48 hours";
        return missing(Reason::plain("no_spread", text), early, MIN_EARLY);
    };
    // Before the k-th pair: unsteady.
    let gain = |k: usize| {
        let squares: f64 = scores[..k].iter().map(|z| z * z).sum();
        let spread = (squares / k.max(1) as f64).max(UNSTEADY * UNSTEADY);
        0.5 * squares * (1.0 - 1.0 / spread) - 0.5 * k as f64 * libm::log(spread)
    };
    let gains: Vec<f64> = (0..=early).map(gain).collect();
    let best = (0..=early).fold(0, |best, k| if gains[k] > gains[best] { k } else { best });
    let reach = -libm::log(1.0 - level.sqrt());
    let kept = |k: &usize| gains[best] - gains[*k] <= reach;
    let before = |k: usize| if k == 0 { 0.0 } else { hours[k - 1] };
    let after = |k: usize| if k == 0 { 0.0 } else { hours.get(k).copied().unwrap_or(REACH_H) };
    let low = (0..=early).find(kept).map_or(0.0, before);
    let high = (0..=early).rev().find(kept).map_or(REACH_H, after);
    if low <= 0.0 && high >= REACH_H {
        return missing(any_hour_fits(&hours[..early], reach), early, needed_to_tell(reach).1);
    }
    let value = 0.5 * (before(best) + after(best));
    Estimate::new(value, low, high, level, BY_METER, early).needing(MIN_EARLY)
}

/// Pairs that tell an unsteady sensor, all taken while it was unsteady, and pairs that tell a steady
/// one, by what each adds to the log likelihood ratio in the mean; `reach`: what refuses an hour.
fn needed_to_tell(reach: f64) -> (usize, usize) {
    let (square, log) = (UNSTEADY * UNSTEADY, libm::log(UNSTEADY));
    let unsteady = 0.5 * (square - 1.0) - log;
    let steady = log - 0.5 * (1.0 - 1.0 / square);
    ((reach / unsteady).ceil() as usize, (reach / steady).ceil() as usize)
}

/// Why the pairs at `hours`, all before [`REACH_H`], say nothing.
fn any_hour_fits(hours: &[f64], reach: f64) -> Reason {
    let (unsteady, steady) = needed_to_tell(reach);
    let first = hours.iter().filter(|h| **h < 12.0).count();
    let text = format!(
        "no hour is refused by the {} pairs of the first 48 hours, {first} of them in the first 12; \
         it takes about {steady} to show a steady sensor, and about {unsteady} taken while it is \
         unsteady to show one whose differences spread twice as much as later",
        hours.len()
    );
    let (had, needed) = (Some(hours.len() as f64), Some(steady as f64));
    Reason { had, needed, ..Reason::plain("any_hour_fits", &text) }
}

/// Differences of the first `early` pairs off the line of the later ones, in prediction errors.
fn scores(pairs: &Differences, later: &Differences, early: usize) -> Option<Vec<f64>> {
    let x = &later.wear_days;
    let y = later.difference_mg_dl();
    let middle = moments::mean(x)?;
    let centred: Vec<f64> = x.iter().map(|x| x - middle).collect();
    let c = coefficients(&[&vec![1.0; x.len()], &centred], &y)?;
    let squares: f64 = y
        .iter()
        .zip(&centred)
        .map(|(y, x)| y - c[0] - c[1] * x)
        .map(|residual| residual * residual)
        .sum();
    let sxx: f64 = centred.iter().map(|x| x * x).sum();
    let n = x.len() as f64;
    let variance = squares / (n - 2.0);
    let difference = pairs.difference_mg_dl();
    let score = |i: usize| {
        let x = pairs.wear_days[i] - middle;
        let error = (variance * (1.0 + 1.0 / n + x * x / sxx)).sqrt();
        (difference[i] - c[0] - c[1] * x) / error
    };
    (variance > 0.0).then(|| (0..early).map(score).collect())
}

/// Movement over twelve hours from hour `from` on.
fn movement(trace: &Trace, sensor: Worn, meals_ms: &[i64], from: i64, level: f64) -> Movement {
    let blocks: Vec<i64> = (0..STRETCH_H / BLOCK_H).map(|b| from + b * BLOCK_H).collect();
    let spread = |hour: i64| block(trace, sensor, meals_ms, hour);
    let first: Vec<Option<f64>> = blocks.iter().map(|&hour| spread(hour)).collect();
    let days = (sensor.last_ms - sensor.start_ms()) / (24 * HOUR_MS);
    // Later days: the logarithm of the first day's movement over theirs, in blocks that both have.
    let mut ratios = Vec::new();
    for day in (REACH_H as i64 / 24)..=days {
        let (mut here, mut there) = (0.0, 0.0);
        for (hour, first) in blocks.iter().zip(&first) {
            if let Some((a, b)) = first.zip(spread(hour + 24 * day)) {
                here += a;
                there += b;
            }
        }
        if here > 0.0 && there > 0.0 {
            ratios.push(libm::log(here / there));
        }
    }
    let n = ratios.len();
    let ratio = match (moments::mean(&ratios), moments::sd(&ratios)) {
        (Some(mean), Some(sd)) if n >= MIN_DAYS => {
            let half = t_two_sided(level, n as f64 - 1.0) * sd * (1.0 + 1.0 / n as f64).sqrt();
            let e = |x: f64| libm::exp(x);
            Estimate::new(e(mean), e(mean - half), e(mean + half), level, BY_TRACE, n)
                .needing(MIN_DAYS)
        }
        _ => {
            let what = "later days with readings at these hours, away from meals";
            let reason = Reason::count("too_few_days", what, n, MIN_DAYS);
            Estimate::missing(level, BY_TRACE, n, MIN_DAYS, reason)
        }
    };
    Movement { from_h: from as f64, to_h: (from + STRETCH_H) as f64, ratio }
}

/// SD of the readings of two hours from `hour` after insertion on; `None` near a meal, or with fewer
/// than half of the readings that they can hold.
fn block(trace: &Trace, sensor: Worn, meals_ms: &[i64], hour: i64) -> Option<f64> {
    let from = sensor.start_ms() + hour * HOUR_MS;
    let to = from + BLOCK_H * HOUR_MS - 1;
    if to > sensor.last_ms || meals_ms.iter().any(|m| (from - MEAL_H * HOUR_MS..=to).contains(m)) {
        return None;
    }
    let values = trace.window(from, to);
    let full = BLOCK_H * HOUR_MS / trace.nominal_ms().max(1);
    (2 * values.len() as i64 >= full).then(|| moments::sd(values.glucose_mg_dl()))?
}

#[cfg(test)]
#[path = "first_day_tests.rs"]
mod tests;
