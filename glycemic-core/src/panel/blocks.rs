//! Parts of a trace: local days, weekdays and weekends, blocks of the local day.
//!
//! # Method
//! A reading belongs to a part by the local clock. A day has as many hours as the clock gives it
//! (23 or 25 at a change of daylight saving time). Weekends are Saturday and Sunday. A block may
//! wrap midnight: 22:00-06:00 belongs to the day on which it began. A block is not contiguous, so
//! only measures that don't depend on order are made of it.
//!
//! # Source
//! Night 00:00-06:00, day 06:00-24:00: Danne et al., Diabetes Care 2017; 40:1631-1640. Weekends:
//! common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use super::local;
use super::order_free::order_free;
use super::registry::Id;
use crate::clock::{DAY_MS, LocalClock};
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::{Censor, TraceView};
use crate::table::Table;

const MINUTE: i64 = 60_000;

/// A block of the local day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    name: String,
    from_min: u32,
    to_min: u32,
}

impl Block {
    /// The block called `name` from minute `from_min` of the local day on and before `to_min`;
    /// when `to_min` is not after `from_min` it wraps midnight.
    ///
    /// # Errors
    /// `from_min` over 1439, or `to_min` over 1440.
    pub fn new(name: &str, from_min: u32, to_min: u32) -> Result<Block, Error> {
        require_within("from_min", f64::from(from_min), 0.0, 1439.0)?;
        require_within("to_min", f64::from(to_min), 0.0, 1440.0)?;
        Ok(Block { name: name.to_string(), from_min, to_min })
    }

    /// 00:00-06:00 (Danne 2017).
    pub fn night() -> Block {
        Block { name: "night".into(), from_min: 0, to_min: 360 }
    }

    /// 06:00-24:00 (Danne 2017).
    pub fn day() -> Block {
        Block { name: "day".into(), from_min: 360, to_min: 1440 }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The local day to which a local time belongs by this block, if it lies in it.
    fn day_of(&self, local_ms: i64) -> Option<i64> {
        let (day, in_day) = (local_ms.div_euclid(DAY_MS), local_ms.rem_euclid(DAY_MS));
        let from = i64::from(self.from_min) * MINUTE;
        let to = i64::from(self.to_min) * MINUTE;
        if from < to {
            (from <= in_day && in_day < to).then_some(day)
        } else if in_day >= from {
            Some(day)
        } else {
            (in_day < to).then_some(day - 1)
        }
    }
}

/// Readings picked from a trace, in order of time; not contiguous.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Selection {
    /// Times, UTC milliseconds.
    pub times_ms: Vec<i64>,
    /// Glucose in mg/dL.
    pub glucose_mg_dl: Vec<f64>,
    /// Which readings stand at a limit of the sensor.
    pub censor: Vec<Censor>,
    /// Local days they belong to.
    pub local_days: usize,
}

/// The readings of a block of the local day, or why there is no local day.
///
/// # Example
/// ```
/// use glycemic_core::{clock::LocalClock, panel::blocks::{Block, readings_in_block}};
/// use glycemic_core::{series::Builder, Unit};
/// // Hourly from midnight on, two days.
/// let times: Vec<i64> = (0..48).map(|i| 1_741_046_400_000 + i * 3_600_000).collect();
/// let clock = Some(LocalClock::fixed(0));
/// let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &[100.0; 48])?;
/// let night = readings_in_block(trace.view(), &Block::night()).unwrap();
/// assert_eq!((night.times_ms.len(), night.local_days), (12, 2));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn readings_in_block(view: TraceView<'_>, block: &Block) -> Result<Selection, Reason> {
    let clock = local::clock(view)?;
    Ok(select(view, |t| block.day_of(clock.local_ms(t))))
}

/// The local days as contiguous views, in order: (day, readings), day 0 being 1 January 1970.
///
/// Where the clock was put back over midnight, a day comes twice.
pub fn by_day(view: TraceView<'_>) -> Result<Vec<(i64, TraceView<'_>)>, Reason> {
    let clock = local::clock(view)?;
    let days: Vec<i64> = view.times_ms().iter().map(|&t| clock.day(t)).collect();
    let mut at = 0;
    Ok(days
        .chunk_by(|a, b| a == b)
        .map(|same| {
            let from = at;
            at += same.len();
            (same[0], view.slice(from, at))
        })
        .collect())
}

/// How a trace is parted.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum By {
    /// By local day.
    Day,
    /// Monday to Friday, and Saturday and Sunday.
    WeekPart,
    /// By blocks of the local day, which may overlap.
    Block(Vec<Block>),
}

/// The measures that don't depend on order, a row per part: `part` (a date, `weekday`,
/// `weekend`, or the block's name), `n`, `local_days`, `censored_low`, `censored_high`, then
/// columns named as in the registry, missing where a part has too few readings.
///
/// # Errors
/// No block to part by. Inside, a [`Reason`] when no local time is known.
pub fn table_by(view: TraceView<'_>, by: &By) -> Result<Result<Table, Reason>, Error> {
    if let By::Block(blocks) = by
        && blocks.is_empty()
    {
        return Err(Error::TooFewValues { measure: "a table by block", needed: 1, got: 0 });
    }
    match local::clock(view) {
        Ok(clock) => Ok(Ok(table_of(&parts(view, clock, by), view)?)),
        Err(reason) => Ok(Err(reason)),
    }
}

fn parts(view: TraceView<'_>, clock: &LocalClock, by: &By) -> Vec<(String, Selection)> {
    match by {
        By::Day => {
            // Gathered by number: a day may come twice where the clock was put back.
            let mut days: BTreeMap<i64, Selection> = BTreeMap::new();
            for (i, &t) in view.times_ms().iter().enumerate() {
                days.entry(clock.day(t)).or_default().push(view, i);
            }
            days.into_iter().map(|(day, s)| (date(day), Selection { local_days: 1, ..s })).collect()
        }
        By::WeekPart => {
            let part = |weekend: bool| {
                select(view, |t| Some(clock.day(t)).filter(|&day| is_weekend(day) == weekend))
            };
            vec![("weekday".to_string(), part(false)), ("weekend".to_string(), part(true))]
        }
        By::Block(blocks) => {
            let part = |b: &Block| select(view, |t| b.day_of(clock.local_ms(t)));
            blocks.iter().map(|b| (b.name.clone(), part(b))).collect()
        }
    }
}

/// Whether a day is a Saturday or a Sunday; day 0 was a Thursday.
fn is_weekend(day: i64) -> bool {
    (day + 3).rem_euclid(7) >= 5
}

fn date(day: i64) -> String {
    let text = LocalClock::floating().text(day.saturating_mul(DAY_MS));
    text.split(' ').next().unwrap_or_default().to_string()
}

/// The readings for which `day_of` names a day.
fn select(view: TraceView<'_>, day_of: impl Fn(i64) -> Option<i64>) -> Selection {
    let mut out = Selection::default();
    let mut days = BTreeSet::new();
    let mut last = None;
    for (i, &t) in view.times_ms().iter().enumerate() {
        if let Some(day) = day_of(t) {
            out.push(view, i);
            if last != Some(day) {
                days.insert(day);
                last = Some(day);
            }
        }
    }
    Selection { local_days: days.len(), ..out }
}

impl Selection {
    fn push(&mut self, view: TraceView<'_>, i: usize) {
        self.times_ms.push(view.times_ms()[i]);
        self.glucose_mg_dl.push(view.glucose_mg_dl()[i]);
        self.censor.push(view.censor()[i]);
    }

    fn censored(&self, kind: Censor) -> i64 {
        self.censor.iter().filter(|&&c| c == kind).count() as i64
    }
}

fn table_of(parts: &[(String, Selection)], view: TraceView<'_>) -> Result<Table, Error> {
    let unit = view.trace().unit();
    let mut table = Table::new();
    let counts = |f: &dyn Fn(&Selection) -> i64| parts.iter().map(|p| Some(f(&p.1))).collect();
    table.push_text("part", parts.iter().map(|p| Some(p.0.clone())).collect())?;
    table.push_i64("n", counts(&|s| s.times_ms.len() as i64))?;
    table.push_i64("local_days", counts(&|s| s.local_days as i64))?;
    table.push_i64("censored_low", counts(&|s| s.censored(Censor::Low)))?;
    table.push_i64("censored_high", counts(&|s| s.censored(Censor::High)))?;
    let measured: Vec<Vec<(Id, f64)>> =
        parts.iter().map(|p| order_free(&p.1.glucose_mg_dl, unit)).collect();
    // The columns are those of the whole stretch, so they don't hang on which part is short.
    for (id, _) in order_free(view.glucose_mg_dl(), unit) {
        let find = |part: &Vec<(Id, f64)>| part.iter().find(|m| m.0 == id).map(|m| m.1);
        table.push_f64(id.measure().name, measured.iter().map(find).collect())?;
    }
    Ok(table)
}
