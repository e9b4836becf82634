//! Limits by kind and time of day, meals that do not fit, equivalent loads, the person's own foods.

use glycemic_core::clock::LocalClock;
use glycemic_core::meals::Responses;
use glycemic_core::tolerance::misfits::possible_reasons;
use glycemic_core::tolerance::model::{fit_meals, points};
use glycemic_core::tolerance::{Options, portions as core_portions, search, tables, tagged};
use pyo3::prelude::*;

use crate::convert::{amounts, texts};
use crate::error::{compute, guard};
use crate::meals::PyResponses;
use crate::table::PyTable;

/// The minute of the local day, where the trace's clock says it.
fn minute_of(clock: Option<&LocalClock>) -> impl Fn(i64) -> Option<f64> + Copy + '_ {
    move |ms| Some(clock?.minute_of_day(ms))
}

fn choices(rise_mg_dl: f64, level: f64) -> Options {
    Options { level, ..Options::new(rise_mg_dl) }
}

fn answer(
    py: Python<'_>,
    r: &PyResponses,
    make: impl FnOnce(
        &Responses,
        Option<&LocalClock>,
    ) -> Result<glycemic_core::Table, glycemic_core::Error>
    + Send,
) -> PyResult<PyTable> {
    guard(|| {
        let clock = r.origin.trace.clock();
        let table = compute(py, || make(&r.inner, clock))?;
        Ok(PyTable::new(table, r.zoned()))
    })
}

/// Mean limits for each kind of food and each part of the day.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`; kinds of food are looked for in the diary's tags.
/// rise_mg_dl : float
///     The target, mg/dL over the baseline; there is no default.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     `by` ("kind" or "time"), `sort`, `meals`, `limit_g` with `low_g` and `high_g` in grams, and
///     `reason` where one is missing. Breakfast ends at 10:30, midday at 16:00. No row where only
///     one sort was eaten.
///
/// Raises
/// ------
/// GlycemicError
///     For a target or level out of range.
///
/// Notes
/// -----
/// Slopes of sorts with few meals are drawn towards the common one. Source: Lane and Nelder,
/// Biometrics 1982; 38: 613-621. For education, coaching and research; not a medical device, no
/// advice to eat less.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> t = gly.tolerance.limits_by_sort(gly.meals.responses(tr, []), 30)
/// >>> t.column_names[:3], len(t)
/// (['by', 'sort', 'meals'], 0)
#[pyfunction]
#[pyo3(signature = (r, rise_mg_dl, level=0.95))]
fn limits_by_sort(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    rise_mg_dl: f64,
    level: f64,
) -> PyResult<PyTable> {
    answer(py, r.get(), |r, clock| {
        let p = points(r, minute_of(clock));
        let options = p.told(choices(rise_mg_dl, level));
        tables::limits_by_sort(&fit_meals(&p.meals, &p.mix, options)?, level)
    })
}

/// Meals that rose more than their diary grams give, at a stated false-discovery rate.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`; meals tagged ``eating-out`` are tested but not fitted.
/// rise_mg_dl : float
///     The target of the fit, mg/dL; what is listed does not depend on it.
/// rate : float
///     The false-discovery rate, 0.001 to 0.5: of the meals listed about this share is there by chance.
///
/// Returns
/// -------
/// Table
///     A row for each meal tested: `time_ms`, `label`, `diary_net_carbs_g`, `expected_rise_mg_dl`,
///     `excess_mg_dl`, `chance`, `false_discovery_rate` (the least at which it is listed), `listed`,
///     `possible_reasons`. None of the reasons is shown to be it: repeat the meal to know.
///
/// Raises
/// ------
/// GlycemicError
///     For a target or rate out of range.
///
/// Notes
/// -----
/// Source: Benjamini and Hochberg, JRSS B 1995; 57: 289-300. A meal "behaved like" more, it is not
/// shown to have contained it. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> len(gly.tolerance.misfits(gly.meals.responses(tr, []), 30))
/// 0
#[pyfunction]
#[pyo3(signature = (r, rise_mg_dl, rate=0.10))]
fn misfits(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    rise_mg_dl: f64,
    rate: f64,
) -> PyResult<PyTable> {
    const DAY_MS: i64 = 86_400_000;
    let first = r.get().origin.trace.times_ms().first().copied().unwrap_or(0);
    answer(py, r.get(), |r, clock| {
        let found = search::search(r, minute_of(clock), Options::new(rise_mg_dl), rate)?;
        let why = |i: usize| possible_reasons(r, i, false, r.rows[i].time_ms - first < DAY_MS);
        search::table(r, &found.tested(), rate, why)
    })
}

/// What the meals with a tag behaved like, in grams.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`.
/// rise_mg_dl : float
///     The target of the fit, mg/dL; loads do not depend on it.
/// tag : str
///     Which meals; they are left out of the fit they are set against.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     A row for each clean meal with grams: `time_ms`, `label`, `diary_net_carbs_g`, `rise_mg_dl`;
///     `equivalent_g` with its ends, each meal alone; `shrunken_g` with its ends, drawn towards the
///     group, to be read where a meal is picked because it is extreme; and reasons.
///
/// Raises
/// ------
/// GlycemicError
///     For a target or level out of range.
///
/// Notes
/// -----
/// A meal "behaved like about X g", never "contained". For education, coaching and research; not a
/// medical device.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> len(gly.tolerance.equivalent_loads(gly.meals.responses(tr, []), 30))
/// 0
#[pyfunction]
#[pyo3(signature = (r, rise_mg_dl, tag="eating-out", level=0.95))]
fn equivalent_loads(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    rise_mg_dl: f64,
    tag: &str,
    level: f64,
) -> PyResult<PyTable> {
    answer(py, r.get(), |r, _| {
        let found = tagged::loads(r, tag, |_| None, choices(rise_mg_dl, level))?;
        tagged::table(r, &found)
    })
}

/// The safe grams in the person's own foods: "about half your usual bowl".
///
/// Parameters
/// ----------
/// labels : array_like of str
///     What was eaten, a label for each time.
/// net_carbs_g : array_like
///     Its net carbohydrate, g; times without are left out.
/// safe_g : float, optional
///     Safe grams, such as ``fit.safe_g(0.8).value``.
///
/// Returns
/// -------
/// Table
///     A row for each label eaten at least twice: `label`, `times`, `usual_g` (median) and
///     `safe_share` (safe over usual grams, at most 1).
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths or negative grams.
///
/// Examples
/// --------
/// >>> t = gly.tolerance.portions(["porridge", "porridge"], [50, 60], safe_g=27.5)
/// >>> t["usual_g"].tolist(), t["safe_share"].tolist()
/// ([55.0], [0.5])
#[pyfunction]
#[pyo3(signature = (labels, net_carbs_g, safe_g=None))]
fn portions(
    py: Python<'_>,
    labels: &Bound<'_, PyAny>,
    net_carbs_g: &Bound<'_, PyAny>,
    safe_g: Option<f64>,
) -> PyResult<PyTable> {
    guard(|| {
        let (labels, grams) = (texts(labels)?, amounts(net_carbs_g, "net_carbs_g")?);
        let table = compute(py, || {
            glycemic_core::error::require_same_len("net_carbs_g", labels.len(), grams.len())?;
            if let Some(g) = safe_g {
                glycemic_core::error::require_within("safe_g", g, 0.0, 1000.0)?;
            }
            let pairs = labels.iter().zip(&grams);
            let eaten: Vec<(&str, f64)> =
                pairs.filter_map(|(l, g)| Some((l.as_deref()?, (*g)?))).collect();
            tables::own_foods(&core_portions(&eaten, safe_g))
        })?;
        Ok(PyTable::new(table, true))
    })
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(limits_by_sort, room)?)?;
    room.add_function(wrap_pyfunction!(misfits, room)?)?;
    room.add_function(wrap_pyfunction!(equivalent_loads, room)?)?;
    room.add_function(wrap_pyfunction!(portions, room)?)
}
