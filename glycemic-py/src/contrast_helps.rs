//! What helps, symptoms, and change during the wear.

use glycemic_core::clock::LocalClock;
use glycemic_core::contrast::{
    self, Asking, Diary, Finding, Night, Noted, Outcome, change, tables,
};
use glycemic_core::meals::Responses;
use glycemic_core::{Error, Estimate};
use pyo3::prelude::*;

use crate::convert::{self, floats, texts};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::meals::{PyResponses, same, time_column};
use crate::table::PyTable;

/// Words of a night's quality that mean a poor one.
const POOR: [&str; 2] = ["poor", "bad"];

/// The clock of the trace that the responses are from.
fn clock_of(r: &PyResponses) -> PyResult<LocalClock> {
    let none = || {
        let why = "days and nights are local, and the trace has no zone";
        raise(why, "no_zone", "r", None)
    };
    r.origin.trace.clock().cloned().ok_or_else(none)
}

fn read_nights(frame: Option<&Bound<'_, PyAny>>, clock: &LocalClock) -> PyResult<Vec<Night>> {
    let Some(frame) = frame else { return Ok(Vec::new()) };
    if frame.len().is_ok_and(|n| n == 0) {
        return Ok(Vec::new());
    }
    let columns = convert::columns(frame, "sleep")?;
    let at = |name: &'static str| -> PyResult<Vec<i64>> {
        let stamps = convert::stamps(&time_column(&columns, name, "sleep")?, name)?;
        convert::on_clock(stamps, Some(clock), name)
    };
    let (starts, ends) = (at("start")?, at("end")?);
    let ends = same(ends, starts.len(), "end")?;
    let quality = match columns.get_item("quality")? {
        Some(column) => same(texts(&column)?, starts.len(), "quality")?,
        None => vec![None; starts.len()],
    };
    let night = |i: usize| Night {
        start_ms: starts[i],
        end_ms: ends[i],
        poor: quality[i].as_deref().map(|word| POOR.contains(&word)),
    };
    Ok((0..starts.len()).map(night).collect())
}

fn read_notes(frame: Option<&Bound<'_, PyAny>>, clock: &LocalClock) -> PyResult<Vec<Noted>> {
    let Some(frame) = frame else { return Ok(Vec::new()) };
    if frame.len().is_ok_and(|n| n == 0) {
        return Ok(Vec::new());
    }
    let columns = convert::columns(frame, "notes")?;
    let times = convert::stamps(&time_column(&columns, "time", "notes")?, "time")?;
    let times = convert::on_clock(times, Some(clock), "time")?;
    let kinds = texts(&convert::column(&columns, "kind", "notes")?)?;
    let kinds = same(kinds, times.len(), "kind")?;
    let note =
        |(time_ms, kind): (i64, Option<String>)| Noted { time_ms, kind: kind.unwrap_or_default() };
    Ok(times.into_iter().zip(kinds).map(note).collect())
}

/// What was asked, and the findings.
fn findings(
    py: Python<'_>,
    r: &PyResponses,
    sleep: Option<&Bound<'_, PyAny>>,
    notes: Option<&Bound<'_, PyAny>>,
    asking: Asking,
) -> PyResult<Vec<Finding>> {
    let diary = diary_of(r, sleep, notes)?;
    compute(py, || contrast::what_helps(&r.inner, &diary, &asking))
}

/// All that the diary holds beside the meals.
pub(crate) fn diary_of<'a>(
    r: &'a PyResponses,
    sleep: Option<&Bound<'_, PyAny>>,
    notes: Option<&Bound<'_, PyAny>>,
) -> PyResult<Diary<'a>> {
    let clock = clock_of(r)?;
    let (nights, notes) = (read_nights(sleep, &clock)?, read_notes(notes, &clock)?);
    Ok(Diary { activity: &r.origin.activity, nights, notes, clock })
}

pub(crate) fn outcome_of(word: &str) -> PyResult<Outcome> {
    word.parse().map_err(to_py)
}

/// An adjusted contrast for every exposure that the diary holds: walks by minutes and delay,
/// exercise by effort, sleep, stress, eating out, medication, alcohol, cycle, any tag.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`, with the activity of the diary, on a trace with local time.
/// sleep : frame, optional
///     `start`, `end`, `quality` ("poor" or "bad" count as poor).
/// notes : frame, optional
///     `time`, `kind` (such as ``stress``).
/// outcome : {"rise", "peak", "area", "recovery"}
/// planned : list of str
///     Ids of exposures that a dated plan named before the data were seen.
/// margin : float, optional
///     A difference within this either way is too small to matter; without it 5 mg/dL for rise and
///     peak and the like of it for the others.
/// level : float
///     Confidence level.
/// seed : int
///     Key of the shuffles.
///
/// Returns
/// -------
/// Table
///     A row for each exposure, planned ones first: `difference` with `low` and `high`, `p_value`;
///     `adjusted_p`, `adjusted_low`, `adjusted_high` allow for the number of questions (Holm within
///     planned, Benjamini and Hochberg within explored) and give the `verdict`; `smallest_visible`;
///     `control_difference` is the same contrast with the exposure one step later.
///
/// Raises
/// ------
/// GlycemicError
///     For a missing column, an unknown outcome, a trace without local time, a number out of range.
///
/// Notes
/// -----
/// A difference *went with* the exposure; only a randomised one was caused by it. Day-level exposures
/// are permuted by day in their runs, trend taken off. Source: see `glycemic_core::contrast`. For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> gly.contrast.what_helps(gly.meals.responses(tr, [])).column_names[:3]
/// ['exposure', 'outcome', 'unit']
#[pyfunction]
#[pyo3(signature = (r, sleep=None, notes=None, outcome="rise", planned=Vec::new(), margin=None, level=0.95, seed=1),
       text_signature = "(r, sleep=None, notes=None, outcome='rise', planned=[], margin=None, level=0.95, seed=1)")]
#[allow(clippy::too_many_arguments, reason = "the diary has several parts")]
fn what_helps(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    sleep: Option<&Bound<'_, PyAny>>,
    notes: Option<&Bound<'_, PyAny>>,
    outcome: &str,
    planned: Vec<String>,
    margin: Option<f64>,
    level: f64,
    seed: u64,
) -> PyResult<PyTable> {
    guard(|| {
        let outcome = outcome_of(outcome)?;
        let margin = margin.unwrap_or(outcome.margin());
        let asking = Asking { outcome, level, seed, margin, planned, ..Asking::rise() };
        let found = findings(py, r.get(), sleep, notes, asking)?;
        let table = compute(py, || tables::findings(&found, outcome))?;
        Ok(PyTable::new(table, r.get().zoned()))
    })
}

/// How alike the meals with and without each exposure are: grams, time of day, kind.
///
/// Parameters
/// ----------
/// r, sleep, notes, outcome
///     As for `what_helps`.
///
/// Returns
/// -------
/// Table
///     `exposure`, `what`, means `with` and `without`, `standardised_difference`.
///
/// Raises
/// ------
/// GlycemicError
///     As `what_helps`.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> gly.contrast.balance(gly.meals.responses(tr, [])).column_names[:2]
/// ['exposure', 'what']
#[pyfunction]
#[pyo3(signature = (r, sleep=None, notes=None, outcome="rise"))]
fn balance(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    sleep: Option<&Bound<'_, PyAny>>,
    notes: Option<&Bound<'_, PyAny>>,
    outcome: &str,
) -> PyResult<PyTable> {
    guard(|| {
        let outcome = outcome_of(outcome)?;
        let asking = Asking { outcome, margin: outcome.margin(), ..Asking::rise() };
        let found = findings(py, r.get(), sleep, notes, asking)?;
        let table = compute(py, || tables::balance(&found))?;
        Ok(PyTable::new(table, r.get().zoned()))
    })
}

/// Glucose at symptoms against the same person's matched times of other days (case-crossover).
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`, on a trace with local time.
/// times : array_like
///     When symptoms were noted, as for `Trace`; notes within two hours are one.
/// level : float
///     Confidence level.
/// seed : int
///     Key of the permutations.
///
/// Returns
/// -------
/// Table
///     A row each for level, slope, time since the meal and the rise before: `at_symptoms`,
///     `difference` with its interval, `p_value`, or `reason`.
///
/// Raises
/// ------
/// GlycemicError
///     For a trace without local time, a missing time, a level out of range.
///
/// Notes
/// -----
/// Source: Maclure, Am J Epidemiol 1991; 133: 144-153. A symptom that disagrees with a reading is
/// checked with a meter.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> len(gly.contrast.at_symptoms(gly.meals.responses(tr, []), []))
/// 4
#[pyfunction]
#[pyo3(signature = (r, times, level=0.95, seed=1))]
fn at_symptoms(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    times: &Bound<'_, PyAny>,
    level: f64,
    seed: u64,
) -> PyResult<PyTable> {
    guard(|| {
        let r = r.get();
        let clock = clock_of(r)?;
        let times = match times.len() {
            Ok(0) => Vec::new(),
            _ => convert::on_clock(convert::stamps(times, "times")?, Some(&clock), "times")?,
        };
        let table = compute(py, || {
            let mut sorted = times;
            sorted.sort_unstable();
            let apart = contrast::symptoms::apart(&sorted);
            let found: &Responses = &r.inner;
            let felt = contrast::at_symptoms(&r.origin.trace, found, &apart, &clock, level, seed)?;
            tables::symptoms(&felt)
        })?;
        Ok(PyTable::new(table, r.zoned()))
    })
}

/// Trend per week of one value a day.
///
/// Parameters
/// ----------
/// day : array_like of int
///     Number of each day, rising.
/// value : array_like
///     Its value, such as a daily mean.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Estimate
///     In the value's unit per week. Not estimable with fewer than seven days.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, NaN, a level out of range.
///
/// Examples
/// --------
/// >>> gly.contrast.trend(range(10), [100 + d for d in range(10)]).value
/// 7.0
#[pyfunction]
#[pyo3(signature = (day, value, level=0.95))]
fn trend(
    py: Python<'_>,
    day: &Bound<'_, PyAny>,
    value: &Bound<'_, PyAny>,
    level: f64,
) -> PyResult<PyEstimate> {
    guard(|| {
        let (days, values) = (floats(day, "day")?, floats(value, "value")?);
        let found: Estimate = compute(py, || {
            glycemic_core::error::require_same_len("value", days.len(), values.len())?;
            glycemic_core::error::require_all_finite("day", &days)?;
            let each: Vec<(i64, f64)> =
                days.iter().zip(&values).map(|(d, v)| (*d as i64, *v)).collect();
            change::trend(&each, level)
        })?;
        Ok(PyEstimate::from(found))
    })
}

/// Adaptive dosing: grams of the next meal after a rise over a target, less after one that was not.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`, on a trace with local time.
/// rise_mg_dl : float
///     The target.
/// level : float
///     Confidence level.
/// seed : int
///     Key of the shuffles.
///
/// Returns
/// -------
/// Estimate
///     Grams; below zero where portions were cut after a high response.
///
/// Raises
/// ------
/// GlycemicError
///     For a trace without local time, or a number out of range.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> gly.contrast.adaptive_dosing(gly.meals.responses(tr, []), 30).estimable
/// False
#[pyfunction]
#[pyo3(signature = (r, rise_mg_dl, level=0.95, seed=1))]
fn adaptive_dosing(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    rise_mg_dl: f64,
    level: f64,
    seed: u64,
) -> PyResult<PyEstimate> {
    guard(|| {
        let r = r.get();
        let clock = clock_of(r)?;
        let found = compute(py, || {
            glycemic_core::error::require_within("rise_mg_dl", rise_mg_dl, 1.0, 1000.0)?;
            glycemic_core::error::require_within("level", level, 0.5, 0.999)?;
            let told = change::adaptive_dosing(&r.inner, &clock, rise_mg_dl, seed)?;
            Ok::<Estimate, Error>(contrast::helps::estimate(&told, level))
        })?;
        Ok(PyEstimate::from(found))
    })
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(what_helps, room)?)?;
    room.add_function(wrap_pyfunction!(balance, room)?)?;
    room.add_function(wrap_pyfunction!(at_symptoms, room)?)?;
    room.add_function(wrap_pyfunction!(trend, room)?)?;
    room.add_function(wrap_pyfunction!(adaptive_dosing, room)?)
}
