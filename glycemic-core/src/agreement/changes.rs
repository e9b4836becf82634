//! Agreement of changes: what a meal did by the meter against what it did by the sensor.
//!
//! # Method
//! Of the pairs from `before_from_min` to `before_to_min` about a meal's start the one nearest to
//! the start is the first; of those from `after_from_min` to `after_to_min` the one nearest to
//! the middle of that span is the second. Meals are served in order of time and each pair is used
//! once. Both devices' changes are second less first. Bias and limits of agreement: as for
//! levels, with days as clusters. Slope of the sensor's change on the meter's: with the meter's
//! repeatability s its error variance in a change is 2 s², and the slope is the covariance over the
//! meter's variance less that (moments, known error variance); without it Deming's with a ratio
//! of error variances. Its interval leaves out a day at a time (jackknife, Student's t on days
//! less one). The sensor's lag is in its changes: a slope below 1 may be a late sensor.
//!
//! # Units
//! mg/dL; times in UTC milliseconds.
//!
//! # Source
//! Bland and Altman 1999, see [`bland_altman`](super::bland_altman()). Fuller WA. Measurement
//! error models, 1987, section 1.2 (known error variance). Deming 1943, see
//! [`lines`](super::lines). Efron and Tibshirani, An introduction to the bootstrap, 1993, chapter
//! 11 (jackknife; groups as in Wolter, Introduction to variance estimation, 1985, chapter 4, from
//! memory). The spans about a meal are a choice of this library.

use std::collections::BTreeSet;

use super::bland_altman::bland_altman;
use super::lines::ordinary;
use super::summary::mean_estimate;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;
use crate::table::Table;

const MINUTE: f64 = 60_000.0;
/// Fewest changes for an estimate, and fewest days for an interval.
const MIN_CHANGES: usize = 5;
const MIN_DAYS: usize = 3;

/// Choices for [`changes`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChangeOptions {
    /// The first pair, minutes from the meal's start: from.
    pub before_from_min: f64,
    /// To.
    pub before_to_min: f64,
    /// The second pair, minutes from the meal's start: from.
    pub after_from_min: f64,
    /// To.
    pub after_to_min: f64,
    /// SD of repeated readings of the meter, mg/dL; `None` for Deming's line.
    pub meter_sd_mg_dl: Option<f64>,
    /// Without it: Var(error of sensor) / Var(error of meter).
    pub variance_ratio: f64,
    /// Confidence level.
    pub level: f64,
}

impl Default for ChangeOptions {
    fn default() -> Self {
        ChangeOptions {
            before_from_min: -45.0,
            before_to_min: 5.0,
            after_from_min: 30.0,
            after_to_min: 150.0,
            meter_sd_mg_dl: None,
            variance_ratio: 1.0,
            level: 0.95,
        }
    }
}

/// One meal's change by both devices.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// The meal, counted from 0 as given.
    pub meal: usize,
    /// The pair before, counted from 0 as given.
    pub before: usize,
    /// The pair after.
    pub after: usize,
    /// By the meter, mg/dL.
    pub meter_mg_dl: f64,
    /// By the sensor, mg/dL.
    pub sensor_mg_dl: f64,
    /// The day of the pair before.
    pub day: i64,
}

/// Agreement of changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Changes {
    /// Meals given.
    pub meals: usize,
    /// The meals that have both pairs, in order of time.
    pub rows: Vec<Change>,
    /// The other meals, and why: `no_pair_before` or `no_pair_after`.
    pub skipped: Vec<(usize, &'static str)>,
    /// Mean of sensor's change less meter's, mg/dL.
    pub bias_mg_dl: Estimate,
    /// SD of those differences, mg/dL; `None` with too few.
    pub sd_mg_dl: Option<f64>,
    /// Lower limit of agreement, mg/dL.
    pub lower_mg_dl: Estimate,
    /// Upper limit of agreement, mg/dL.
    pub upper_mg_dl: Estimate,
    /// mg/dL by the sensor for one by the meter.
    pub slope: Estimate,
}

/// The changes of m meals from n pairs; `day` gives each pair's local day, the unit of intervals.
///
/// # Errors
/// Different lengths, NaN, spans that fall or overlap, a repeatability outside 0-100, a ratio
/// outside 1e-6 to 1e6, a level outside 0.5-0.999. Too few changes are no error but a reason.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::changes::{ChangeOptions, changes};
/// // Five meals on five days: up 60 by the meter, 50 by the sensor.
/// let (day_ms, hour_ms) = (86_400_000, 3_600_000);
/// let (mut times, mut meter, mut sensor, mut day) = (vec![], vec![], vec![], vec![]);
/// for d in 0..5 {
///     times.extend([d * day_ms, d * day_ms + hour_ms]);
///     meter.extend([100.0, 160.0]);
///     sensor.extend([105.0, 155.0]);
///     day.extend([d, d]);
/// }
/// let meals: Vec<i64> = (0..5).map(|d| d * day_ms).collect();
/// let found = changes(&times, &meter, &sensor, &day, &meals, &ChangeOptions::default())?;
/// assert_eq!(found.bias_mg_dl.value, Some(-10.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn changes(
    times_ms: &[i64],
    meter_mg_dl: &[f64],
    sensor_mg_dl: &[f64],
    day: &[i64],
    meals_ms: &[i64],
    options: &ChangeOptions,
) -> Result<Changes, Error> {
    let n = times_ms.len();
    require_same_len("meter_mg_dl", n, meter_mg_dl.len())?;
    require_same_len("sensor_mg_dl", n, sensor_mg_dl.len())?;
    require_same_len("day", n, day.len())?;
    require_all_finite("meter_mg_dl", meter_mg_dl)?;
    require_all_finite("sensor_mg_dl", sensor_mg_dl)?;
    check(options)?;
    let (chosen, skipped) = choose(times_ms, meals_ms, options);
    let change = |(meal, before, after): (usize, usize, usize)| Change {
        meal,
        before,
        after,
        meter_mg_dl: meter_mg_dl[after] - meter_mg_dl[before],
        sensor_mg_dl: sensor_mg_dl[after] - sensor_mg_dl[before],
        day: day[before],
    };
    let rows: Vec<Change> = chosen.into_iter().map(change).collect();
    estimates(meals_ms.len(), rows, skipped, options)
}

fn check(o: &ChangeOptions) -> Result<(), Error> {
    require_within("before_from_min", o.before_from_min, -1440.0, 1440.0)?;
    require_within("before_to_min", o.before_to_min, o.before_from_min, 1440.0)?;
    require_within("after_from_min", o.after_from_min, o.before_to_min, 1440.0)?;
    require_within("after_to_min", o.after_to_min, o.after_from_min, 1440.0)?;
    require_within("meter_sd_mg_dl", o.meter_sd_mg_dl.unwrap_or(0.0), 0.0, 100.0)?;
    require_within("variance_ratio", o.variance_ratio, 1e-6, 1e6)?;
    require_within("level", o.level, 0.5, 0.999)
}

type Chosen = (Vec<(usize, usize, usize)>, Vec<(usize, &'static str)>);

/// (meal, pair before, pair after) of the meals that have both, and the other meals.
fn choose(times_ms: &[i64], meals_ms: &[i64], o: &ChangeOptions) -> Chosen {
    let mut order: Vec<usize> = (0..meals_ms.len()).collect();
    order.sort_by_key(|&m| meals_ms[m]);
    let mut free: BTreeSet<usize> = (0..times_ms.len()).collect();
    let (mut chosen, mut skipped) = (Vec::new(), Vec::new());
    for meal in order {
        let minutes = |i: usize| times_ms[i].saturating_sub(meals_ms[meal]) as f64 / MINUTE;
        let nearest = |from: f64, to: f64, target: f64, taken: Option<usize>| {
            let inside = |i: &usize| (from..=to).contains(&minutes(*i)) && Some(*i) != taken;
            let away = |i: usize| (minutes(i) - target).abs();
            free.iter().copied().filter(inside).min_by(|&a, &b| away(a).total_cmp(&away(b)))
        };
        let Some(before) = nearest(o.before_from_min, o.before_to_min, 0.0, None) else {
            skipped.push((meal, "no_pair_before"));
            continue;
        };
        let middle = 0.5 * (o.after_from_min + o.after_to_min);
        let Some(after) = nearest(o.after_from_min, o.after_to_min, middle, Some(before)) else {
            skipped.push((meal, "no_pair_after"));
            continue;
        };
        free.remove(&before);
        free.remove(&after);
        chosen.push((meal, before, after));
    }
    (chosen, skipped)
}

fn estimates(
    meals: usize,
    rows: Vec<Change>,
    skipped: Vec<(usize, &'static str)>,
    o: &ChangeOptions,
) -> Result<Changes, Error> {
    let n = rows.len();
    if n < MIN_CHANGES {
        let what = "meals with a pair before and a pair after";
        let reason = Reason::count("too_few_changes", what, n, MIN_CHANGES);
        let none = Estimate::missing(o.level, "agreement of changes", n, MIN_CHANGES, reason);
        return Ok(Changes {
            meals,
            rows,
            skipped,
            bias_mg_dl: none.clone(),
            sd_mg_dl: None,
            lower_mg_dl: none.clone(),
            upper_mg_dl: none.clone(),
            slope: none,
        });
    }
    let x: Vec<f64> = rows.iter().map(|r| r.meter_mg_dl).collect();
    let y: Vec<f64> = rows.iter().map(|r| r.sensor_mg_dl).collect();
    let day: Vec<i64> = rows.iter().map(|r| r.day).collect();
    let difference: Vec<f64> = y.iter().zip(&x).map(|(y, x)| y - x).collect();
    let bias_mg_dl = mean_estimate(&difference, &day, o.level).0;
    // A day with several changes makes them alike; with one change a day they are independent.
    let days: BTreeSet<i64> = day.iter().copied().collect();
    let several = days.len() < n && days.len() >= MIN_DAYS;
    let mut limits = bland_altman(&x, &y, several.then_some(&day[..]), o.level)?;
    if days.len() < MIN_DAYS {
        let reason = Reason::count("too_few_days", "days with changes", days.len(), MIN_DAYS);
        for end in [&mut limits.lower, &mut limits.upper] {
            (end.low, end.high, end.reason) = (None, None, Some(reason.clone()));
        }
    }
    let slope = slope(&x, &y, &day, o);
    Ok(Changes {
        meals,
        rows,
        skipped,
        bias_mg_dl,
        sd_mg_dl: Some(limits.sd),
        lower_mg_dl: limits.lower,
        upper_mg_dl: limits.upper,
        slope,
    })
}

/// The slope with its interval by leaving out days.
fn slope(x: &[f64], y: &[f64], day: &[i64], o: &ChangeOptions) -> Estimate {
    let method = match o.meter_sd_mg_dl {
        Some(sd) => format!("known error of the meter (SD {sd} mg/dL), jackknife over days"),
        None => {
            format!("Deming, ratio of error variances {}, jackknife over days", o.variance_ratio)
        }
    };
    let (n, level) = (x.len(), o.level);
    let missing = |reason| Estimate::missing(level, &method, n, MIN_CHANGES, reason);
    let Some(value) = fit(x, y, o) else {
        let text = "the meter's changes don't differ by more than its own error";
        return missing(Reason::plain("no_line", text));
    };
    let bare = |reason| Estimate { value: Some(value), ..missing(reason) };
    let days: BTreeSet<i64> = day.iter().copied().collect();
    let g = days.len();
    if g < MIN_DAYS {
        return bare(Reason::count("too_few_days", "days with changes", g, MIN_DAYS));
    }
    let without = |left: i64| {
        let keep = |v: &[f64]| -> Vec<f64> {
            v.iter().zip(day).filter(|(_, d)| **d != left).map(|(v, _)| *v).collect()
        };
        fit(&keep(x), &keep(y), o)
    };
    let left: Option<Vec<f64>> = days.iter().map(|&d| without(d)).collect();
    let Some(left) = left else {
        return bare(Reason::plain("no_jackknife", "one day less leaves no line"));
    };
    let mean = moments::mean(&left).unwrap_or(value);
    let squares: f64 = left.iter().map(|b| (b - mean) * (b - mean)).sum();
    let se = ((g as f64 - 1.0) / g as f64 * squares).sqrt();
    let half = t_two_sided(level, g as f64 - 1.0) * se;
    Estimate::new(value, value - half, value + half, level, &method, n).needing(MIN_CHANGES)
}

fn fit(x: &[f64], y: &[f64], o: &ChangeOptions) -> Option<f64> {
    let Some(sd) = o.meter_sd_mg_dl else {
        return ordinary(x, y, o.variance_ratio).map(|line| line.0);
    };
    let (mx, my) = (moments::mean(x)?, moments::mean(y)?);
    let freedom = x.len() as f64 - 1.0;
    let both: f64 = x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum();
    let spread = moments::variance(x)? - 2.0 * sd * sd;
    (spread > 0.0).then(|| both / freedom / spread)
}

impl Changes {
    /// A row for each change: meal, before, after, meter_mg_dl, sensor_mg_dl, difference_mg_dl, day.
    ///
    /// # Errors
    /// None that a result should cause.
    pub fn to_table(&self) -> Result<Table, Error> {
        let mut table = Table::new();
        let whole = |f: fn(&Change) -> i64| self.rows.iter().map(|r| Some(f(r))).collect();
        let number = |f: fn(&Change) -> f64| self.rows.iter().map(|r| Some(f(r))).collect();
        table.push_i64("meal", whole(|r| r.meal as i64))?;
        table.push_i64("before", whole(|r| r.before as i64))?;
        table.push_i64("after", whole(|r| r.after as i64))?;
        table.push_f64("meter_mg_dl", number(|r| r.meter_mg_dl))?;
        table.push_f64("sensor_mg_dl", number(|r| r.sensor_mg_dl))?;
        table.push_f64("difference_mg_dl", number(|r| r.sensor_mg_dl - r.meter_mg_dl))?;
        table.push_i64("day", whole(|r| r.day))?;
        Ok(table)
    }
}

#[cfg(test)]
#[path = "changes_tests.rs"]
mod tests;
