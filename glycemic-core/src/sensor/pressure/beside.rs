//! The panel with the dips and without them, side by side.
//!
//! # Method
//! Readings from a dip's start to its end, both ends included, are left out in the second; nothing
//! is filled in. Which of the two is right can't be told from the sensor alone.

use super::PressureLows;
use crate::error::{Error, require_within};
use crate::estimate::Estimate;
use crate::panel::{Id, intervals};
use crate::series::{Builder, Trace};
use crate::table::Table;

/// The measures that are set side by side.
pub const BESIDE: [Id; 4] = [Id::MeanMgDl, Id::Below70Pct, Id::VeryLowPct, Id::InRangePct];

/// The panel with and without the dips that are probably pressure.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// From this probability on a dip is left out in the second.
    pub probability: f64,
    /// Dips left out.
    pub dips: usize,
    /// Readings left out.
    pub readings: usize,
    /// Each measure of [`BESIDE`]: with all readings, and without the dips.
    pub rows: Vec<(Id, Estimate, Estimate)>,
}

/// Sets the panel of all readings beside that without the dips that are at least so probably
/// pressure.
///
/// # Errors
/// A probability outside 0 to 1, or a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// use glycemic_core::sensor::pressure::{PressureOptions, beside, pressure_lows};
/// use glycemic_core::{Unit, clock::LocalClock, series::Builder};
/// let times: Vec<i64> = (0..100).map(|i| 1_741_046_400_000 + i * 300_000).collect();
/// let wave = |i: i32| [0.0, 1.0, 0.0, -1.0][i as usize % 4];
/// let glucose: Vec<f64> =
///     (0..100).map(|i| wave(i) + if (36..46).contains(&i) { 60.0 } else { 100.0 }).collect();
/// let trace = Builder::new(Unit::MgDl).clock(Some(LocalClock::fixed(0))).build(&times, &glucose)?;
/// let found = pressure_lows(&trace, &[], &[], None, &PressureOptions::default())?;
/// let both = beside(&trace, &found, 0.5, &[], 0.95)?;
/// let (_, with, without) = &both.rows[1]; // below 70 mg/dL
/// assert_eq!((with.value, without.value), (Some(10.0), Some(0.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn beside(
    trace: &Trace,
    found: &PressureLows,
    probability: f64,
    meals_ms: &[i64],
    level: f64,
) -> Result<Beside, Error> {
    require_within("probability", probability, 0.0, 1.0)?;
    require_within("level", level, 0.5, 0.999)?;
    let dips: Vec<(i64, i64)> =
        found.at_least(probability).map(|d| (d.start_ms, d.end_ms)).collect();
    let outside = |t: i64| !dips.iter().any(|d| (d.0..=d.1).contains(&t));
    let kept: Vec<usize> = (0..trace.len()).filter(|i| outside(trace.times_ms()[*i])).collect();
    let with = intervals(trace.view(), meals_ms, level);
    let without = match kept.len() {
        n if n == trace.len() || n == 0 => with.clone(),
        _ => intervals(part(trace, &kept)?.view(), meals_ms, level),
    };
    let one = |all: &[(Id, Estimate)], id: Id| {
        all.iter().find(|e| e.0 == id).map_or_else(Estimate::default, |e| e.1.clone())
    };
    let rows = BESIDE.map(|id| (id, one(&with, id), one(&without, id))).to_vec();
    Ok(Beside { probability, dips: dips.len(), readings: trace.len() - kept.len(), rows })
}

/// The readings at these places as a trace of their own.
fn part(trace: &Trace, kept: &[usize]) -> Result<Trace, Error> {
    let unit = trace.unit();
    let times: Vec<i64> = kept.iter().map(|i| trace.times_ms()[*i]).collect();
    let view = trace.view();
    let values: Vec<f64> = kept.iter().map(|i| unit.from_mg_dl(view.glucose_mg_dl()[*i])).collect();
    let censor: Vec<_> = kept.iter().map(|i| view.censor()[*i]).collect();
    let builder = Builder::new(unit).clock(trace.clock().cloned());
    let out = builder.build_censored(&times, &values, &censor)?;
    Ok(out.with_breaks(trace.breaks_ms().to_vec()))
}

impl Beside {
    /// A row for each measure: `measure`, then value, low and high `with` and `without` the dips.
    ///
    /// # Errors
    /// None that the rows can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let name = |r: &(Id, Estimate, Estimate)| Some(r.0.measure().name.to_string());
        let mut t = Table::new();
        t.push_text("measure", self.rows.iter().map(name).collect())?;
        for (word, second) in [("with", false), ("without", true)] {
            let pick = |f: fn(&Estimate) -> Option<f64>| {
                self.rows.iter().map(|r| f(if second { &r.2 } else { &r.1 })).collect()
            };
            t.push_f64(word, pick(|e| e.value))?;
            t.push_f64(&format!("{word}_low"), pick(|e| e.low))?;
            t.push_f64(&format!("{word}_high"), pick(|e| e.high))?;
        }
        Ok(t)
    }
}
