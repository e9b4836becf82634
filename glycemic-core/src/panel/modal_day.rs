//! The modal day: percentile curves by local time of day, all days laid over one another.
//!
//! # Method
//! At each clock time the percentiles are those of the readings near it, and near runs round
//! midnight. [`Smoothing`] names what near means: the bin round the clock time, a wider window,
//! or a kernel that weighs a reading by the tricube (1 - |u|³)³ of its distance u in bandwidths.
//! The percentiles of weighted readings: each value stands at the middle of its weight, with the
//! first value at 0 and the last at 1 and straight lines between. For equal weights this is
//! definition 7 of Hyndman and Fan. All curves come from one set of weights, so they can't cross.
//!
//! A doubled hour counts twice; in a missing hour there is one day fewer.
//!
//! # Units
//! Minutes of the local day, mg/dL.
//!
//! # Source
//! Idea: Mazze et al., Diabetes Care 1987; 10:111-117; curves at 5, 25, 50, 75 and 95: Battelino
//! et al., Diabetes Care 2019; 42:1593-1603, all from memory. The papers print no smoothing.
//! Quantiles by kernel weights: Yu and Jones, J Am Stat Assoc 1998; 93:228-237, from memory.
//! Tricube: Cleveland, J Am Stat Assoc 1979; 74:829-836. Percentiles: Hyndman and Fan, Am Stat
//! 1996; 50:361-365; their form for weights is a convention of this library.

use super::local;
use crate::clock::DAY_MS;
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::TraceView;
use crate::table::Table;

const DAY_MIN: f64 = 1440.0;
/// Days behind a point under which percentiles below 10 or above 90 are not given: a common
/// caution, from memory.
pub const MIN_DAYS_OUTER: usize = 5;

/// Which readings count at a clock time, and how much.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Smoothing {
    /// Those in the bin of one step round the clock time: each reading counts at one point.
    None,
    /// Those at most half of `minutes` away, all alike.
    Window {
        /// Width of the window.
        minutes: f64,
    },
    /// Those nearer than the bandwidth, by the tricube of their distance.
    Local {
        /// Distance in minutes at which a reading no longer counts.
        bandwidth_min: f64,
    },
}

/// How a modal day is made.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct ModalOptions {
    /// Minutes between the points; divides 1440.
    pub step_min: u32,
    /// Percentiles, from 0 to 100, rising.
    pub percentiles: Vec<f64>,
    /// Which readings count at a point.
    pub smoothing: Smoothing,
}

impl Default for ModalOptions {
    /// Every 15 minutes; 5, 25, 50, 75, 95; a kernel of 30 minutes either way.
    fn default() -> ModalOptions {
        ModalOptions {
            step_min: 15,
            percentiles: vec![5.0, 25.0, 50.0, 75.0, 95.0],
            smoothing: Smoothing::Local { bandwidth_min: 30.0 },
        }
    }
}

/// One clock time of the modal day.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Minute of the local day.
    pub minute: u32,
    /// Readings that count here.
    pub n: usize,
    /// Local days they come from.
    pub days: usize,
    /// The percentiles in mg/dL.
    pub values_mg_dl: Vec<Option<f64>>,
    /// Why some are missing.
    pub reason: Option<Reason>,
}

/// Percentile curves by local time of day.
#[derive(Clone, Debug, PartialEq)]
pub struct ModalDay {
    /// The percentiles that were asked for.
    pub percentiles: Vec<f64>,
    /// A point for each step of the day, from midnight on.
    pub points: Vec<Point>,
}

/// The modal day of a stretch of a trace.
///
/// # Errors
/// A step that does not divide a day; no percentile, or percentiles outside 0 to 100 or not
/// rising; a window or bandwidth that is not finite, under a minute or over half a day. Inside, a
/// [`Reason`] when no local time is known.
///
/// # Example
/// ```
/// use glycemic_core::panel::modal_day::{ModalOptions, modal_day};
/// use glycemic_core::{clock::LocalClock, series::Builder, Unit};
/// // Hourly for six days, each day 10 mg/dL higher: the median lies between days three and four.
/// let times: Vec<i64> = (0..144).map(|i| 1_741_046_400_000 + i * 3_600_000).collect();
/// let glucose: Vec<f64> = (0..144).map(|i| 100.0 + f64::from(i / 24 * 10)).collect();
/// let clock = Some(LocalClock::fixed(0));
/// let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose)?;
/// let mut options = ModalOptions::default();
/// options.step_min = 60;
/// let day = modal_day(trace.view(), &options)?.unwrap();
/// assert_eq!((day.points[8].days, day.points[8].values_mg_dl[2]), (6, Some(125.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn modal_day(
    view: TraceView<'_>,
    options: &ModalOptions,
) -> Result<Result<ModalDay, Reason>, Error> {
    check(options)?;
    let readings = match Reading::all(view) {
        Ok(readings) => readings,
        Err(reason) => return Ok(Err(reason)),
    };
    let half = match options.smoothing {
        Smoothing::None => f64::from(options.step_min) / 2.0,
        Smoothing::Window { minutes } => minutes / 2.0,
        Smoothing::Local { bandwidth_min } => bandwidth_min,
    };
    let mut near = Vec::new();
    let mut days = Vec::new();
    let points = (0..1440 / options.step_min).map(|i| {
        let minute = i * options.step_min;
        near.clear();
        days.clear();
        each_near(&readings, f64::from(minute), half, |distance, day, glucose| {
            let weight = weight(options.smoothing, distance, half);
            if weight > 0.0 {
                near.push((glucose, weight));
                days.push(day);
            }
        });
        days.sort_unstable();
        days.dedup();
        point(minute, &mut near, days.len(), &options.percentiles)
    });
    let points = points.collect();
    Ok(Ok(ModalDay { percentiles: options.percentiles.clone(), points }))
}

impl ModalDay {
    /// As a table: `minute_of_day`, `days`, `n`, a column such as `p05_mg_dl` for each
    /// percentile, and `reason`, the code of why some are missing.
    ///
    /// # Errors
    /// None for what [`modal_day`] made.
    pub fn table(&self) -> Result<Table, Error> {
        let mut table = Table::new();
        let counts = |f: fn(&Point) -> i64| self.points.iter().map(|p| Some(f(p))).collect();
        table.push_i64("minute_of_day", counts(|p| i64::from(p.minute)))?;
        table.push_i64("days", counts(|p| p.days as i64))?;
        table.push_i64("n", counts(|p| p.n as i64))?;
        for (k, p) in self.percentiles.iter().enumerate() {
            let values = self.points.iter().map(|q| q.values_mg_dl.get(k).copied().flatten());
            table.push_f64(&column_name(*p), values.collect())?;
        }
        let codes = self.points.iter().map(|p| p.reason.as_ref().map(|r| r.code.clone()));
        table.push_text("reason", codes.collect())?;
        Ok(table)
    }
}

/// `p05_mg_dl`; `p02_5_mg_dl` for 2.5.
fn column_name(percentile: f64) -> String {
    let pad = if percentile < 10.0 { "0" } else { "" };
    format!("p{pad}{}_mg_dl", percentile.to_string().replace('.', "_"))
}

fn check(options: &ModalOptions) -> Result<(), Error> {
    if options.step_min == 0 || 1440 % options.step_min != 0 {
        return Err(Error::UnknownChoice {
            name: "step_min",
            got: options.step_min.to_string(),
            choices: "the divisors of 1440",
        });
    }
    if options.percentiles.is_empty() {
        return Err(Error::TooFewValues { measure: "a modal day's curves", needed: 1, got: 0 });
    }
    crate::error::require_all_finite("percentiles", &options.percentiles)?;
    let mut low = -f64::MIN_POSITIVE;
    for (i, &value) in options.percentiles.iter().enumerate() {
        if value <= low || value > 100.0 {
            let (index, low) = (Some(i), low.max(0.0));
            return Err(Error::OutOfRange { name: "percentiles", index, value, low, high: 100.0 });
        }
        low = value;
    }
    match options.smoothing {
        Smoothing::None => Ok(()),
        Smoothing::Window { minutes } => require_within("minutes", minutes, 1.0, 720.0),
        Smoothing::Local { bandwidth_min } => {
            require_within("bandwidth_min", bandwidth_min, 1.0, 720.0)
        }
    }
}

/// A reading on the clock.
#[derive(Clone, Copy)]
struct Reading {
    minute: f64,
    day: i64,
    glucose: f64,
}

impl Reading {
    /// All readings, sorted by minute of the day.
    fn all(view: TraceView<'_>) -> Result<Vec<Reading>, Reason> {
        let clock = local::clock(view)?;
        let mut all: Vec<Reading> = view
            .times_ms()
            .iter()
            .zip(view.glucose_mg_dl())
            .map(|(&t, &glucose)| {
                let local = clock.local_ms(t);
                let minute = local.rem_euclid(DAY_MS) as f64 / 60_000.0;
                Reading { minute, day: local.div_euclid(DAY_MS), glucose }
            })
            .collect();
        all.sort_by(|a, b| a.minute.total_cmp(&b.minute));
        Ok(all)
    }
}

/// Calls `each` with the distance (minutes, negative before), the local day of the clock time it
/// is near to, and the glucose of every reading at most `half` from `point`, round midnight.
fn each_near(readings: &[Reading], point: f64, half: f64, mut each: impl FnMut(f64, i64, f64)) {
    // Near 00:00, 23:50 is ten minutes before it and belongs to the day that then begins.
    for (shift, days) in [(-DAY_MIN, 1), (0.0, 0), (DAY_MIN, -1)] {
        let from = readings.partition_point(|r| r.minute + shift < point - half);
        for r in &readings[from..] {
            let distance = r.minute + shift - point;
            if distance > half {
                break;
            }
            each(distance, r.day + days, r.glucose);
        }
    }
}

fn weight(smoothing: Smoothing, distance: f64, half: f64) -> f64 {
    match smoothing {
        // Half-open, so that a reading on the border of two bins counts once.
        Smoothing::None => f64::from(u8::from(distance < half)),
        Smoothing::Window { .. } => 1.0,
        Smoothing::Local { .. } => {
            let u = distance.abs() / half;
            let rest = (1.0 - u * u * u).max(0.0);
            rest * rest * rest
        }
    }
}

fn point(minute: u32, near: &mut [(f64, f64)], days: usize, percentiles: &[f64]) -> Point {
    // By value and then weight, so that the answer hangs on no other order.
    near.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let places = places(near);
    let outer = |p: f64| !(10.0..=90.0).contains(&p);
    let few = days < MIN_DAYS_OUTER;
    let values_mg_dl: Vec<Option<f64>> = percentiles
        .iter()
        .map(|&p| if outer(p) && few { None } else { at(near, &places, p / 100.0) })
        .collect();
    let reason = values_mg_dl.contains(&None).then(|| {
        if near.is_empty() {
            Reason::count("too_few_readings", "reading near this clock time", 0, 1)
        } else {
            let what = "days for percentiles below 10 or above 90";
            Reason::count("too_few_days", what, days, MIN_DAYS_OUTER)
        }
    });
    Point { minute, n: near.len(), days, values_mg_dl, reason }
}

/// Where each weighted value stands from 0 to 1: the middle of its weight, stretched so that the
/// first is at 0 and the last at 1.
fn places(near: &[(f64, f64)]) -> Vec<f64> {
    let mut places = Vec::with_capacity(near.len());
    let mut at = 0.0;
    for (i, &(_, weight)) in near.iter().enumerate() {
        if i > 0 {
            at += (near[i - 1].1 + weight) / 2.0;
        }
        places.push(at);
    }
    places.iter_mut().for_each(|p| *p /= if at > 0.0 { at } else { 1.0 });
    places
}

/// The value at share `p`, on straight lines between the places.
fn at(near: &[(f64, f64)], places: &[f64], p: f64) -> Option<f64> {
    let after = places.partition_point(|&q| q <= p);
    let below = after.checked_sub(1)?;
    let low = near.get(below)?.0;
    match near.get(after) {
        Some(&(high, _)) => {
            let part = (p - places[below]) / (places[after] - places[below]);
            Some(low + part * (high - low))
        }
        None => Some(low),
    }
}
