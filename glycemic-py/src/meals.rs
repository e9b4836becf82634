//! What each meal did.

use std::sync::Arc;

use glycemic_core::clock::LocalClock;
use glycemic_core::meals::{self, Activity, Meal, Responses, Targets, Window};
use glycemic_core::{Table, Trace};
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyDict, PyTuple};

use crate::convert::{self, amounts, texts};
use crate::error::{compute, guard, raise, to_py};
use crate::series::PyTrace;
use crate::table::PyTable;

/// Responses to meals, a row for each eating occasion.
///
/// ``r["rise_mg_dl"]`` is a NumPy array; ``pandas.DataFrame`` comes from `to_pandas`, and
/// libraries that speak Arrow take the object as it is. For education, coaching and research;
/// not a medical device.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Responses")]
pub(crate) struct PyResponses {
    pub(crate) inner: Responses,
    table: PyTable,
    pub(crate) origin: Origin,
}

/// What the responses were made from: pickles make them again.
pub(crate) struct Origin {
    pub(crate) trace: Arc<Trace>,
    pub(crate) meals: Vec<Meal>,
    pub(crate) activity: Vec<Activity>,
    pub(crate) seed: u64,
}

pub(crate) fn compute_responses(
    py: Python<'_>,
    origin: Origin,
    targets: Targets,
    window: Window,
) -> PyResult<PyResponses> {
    let (inner, table): (Responses, Table) = compute(py, || {
        let (meals, activity) = (&origin.meals, &origin.activity);
        let r = meals::responses(&origin.trace, meals, activity, targets, window, origin.seed)?;
        let table = r.table()?;
        Ok((r, table))
    })?;
    let zoned = !origin.trace.clock().is_some_and(LocalClock::is_floating);
    Ok(PyResponses { inner, table: PyTable::new(table, zoned), origin })
}

impl PyResponses {
    /// Whether times are instants.
    pub(crate) fn zoned(&self) -> bool {
        self.table.zoned
    }
}

#[pymethods]
impl PyResponses {
    /// The rows as a table.
    #[getter]
    fn table(&self) -> PyTable {
        PyTable::new(self.table.inner.clone(), self.table.zoned)
    }

    /// Names of the columns.
    #[getter]
    fn column_names(&self) -> Vec<&str> {
        self.table.column_names()
    }

    /// Noise and floor from windows without food: windows, sd_mg_dl, autocorrelation,
    /// median_rise_mg_dl, floor_rise_mg_dl (a smaller rise can't be told from no food); or a dict
    /// with the reason.
    #[getter]
    fn noise<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        match &self.inner.noise {
            Ok(n) => {
                dict.set_item("windows", n.windows)?;
                dict.set_item("sd_mg_dl", n.sd_mg_dl)?;
                dict.set_item("autocorrelation", n.autocorrelation)?;
                dict.set_item("median_rise_mg_dl", n.median_rise_mg_dl)?;
                dict.set_item("floor_rise_mg_dl", n.floor_rise_mg_dl)?;
            }
            Err(reason) => {
                dict.set_item("reason", &reason.text)?;
                dict.set_item("code", &reason.code)?;
                dict.set_item("had", reason.had)?;
                dict.set_item("needed", reason.needed)?;
            }
        }
        Ok(dict)
    }

    /// Meals that the trace suggests and the diary lacks, as from `meals.unlogged`.
    #[getter]
    fn suspected(&self, py: Python<'_>) -> PyResult<PyTable> {
        let table = compute(py, || meals::suspected_table(&self.inner.suspected))?;
        Ok(PyTable::new(table, self.zoned()))
    }

    /// The smallest rise that can be told from no food, mg/dL; None without windows without food.
    #[getter]
    fn smallest_rise_mg_dl(&self) -> Option<f64> {
        self.inner.smallest_rise_mg_dl()
    }

    /// The targets given: rise_mg_dl and peak_mg_dl, or None.
    #[getter]
    fn targets<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("rise_mg_dl", self.inner.targets.rise_mg_dl)?;
        dict.set_item("peak_mg_dl", self.inner.targets.peak_mg_dl)?;
        Ok(dict)
    }

    fn __len__(&self) -> usize {
        self.table.__len__()
    }

    fn __contains__(&self, name: &str) -> bool {
        self.table.__contains__(name)
    }

    fn __getitem__(&self, py: Python<'_>, name: &str) -> PyResult<Py<PyAny>> {
        self.table.__getitem__(py, name)
    }

    /// The columns as lists; missing items are None.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        self.table.to_dict(py)
    }

    /// A pandas frame; columns of instants become datetimes.
    fn to_pandas<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.table.to_pandas(py)
    }

    /// The schema as an Arrow C capsule.
    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        self.table.__arrow_c_schema__(py)
    }

    /// The rows as an Arrow C stream capsule.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        self.table.__arrow_c_stream__(py, requested_schema)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyResponses>().is_ok_and(|o| o.get().inner == self.inner)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let (py, this) = (slf.py(), slf.get());
        let make = py.import("glycemic._glycemic")?.getattr("_responses")?;
        let diary = (&this.origin.meals, &this.origin.activity, this.inner.targets);
        let diary = serde_json::to_string(&diary)
            .map_err(|e| raise(&e.to_string(), "pickle", "state", None))?;
        let trace = PyTrace::from(Trace::clone(&this.origin.trace));
        let window = (this.inner.window.before_min, this.inner.window.after_min);
        Ok((make, (trace, diary, window, this.origin.seed).into_pyobject(py)?))
    }

    fn __repr__(&self) -> String {
        let n = self.inner.rows.len();
        let clean = (0..n).filter(|i| self.inner.is_clean(*i)).count();
        format!("Responses({n} meals, {clean} clean)")
    }
}

/// Responses from what their pickle holds.
#[pyfunction]
fn _responses(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    diary: &str,
    window: (f64, f64),
    seed: u64,
) -> PyResult<PyResponses> {
    guard(|| {
        let (meals, activity, targets): (Vec<Meal>, Vec<Activity>, Targets) =
            serde_json::from_str(diary)
                .map_err(|e| raise(&e.to_string(), "pickle", "state", None))?;
        let origin = Origin { trace: Arc::clone(&trace.get().inner), meals, activity, seed };
        let window = Window { before_min: window.0, after_min: window.1 };
        compute_responses(py, origin, targets, window)
    })
}

/// The column of times, called `first` or `first` with `_ms`.
pub(crate) fn time_column<'py>(
    columns: &Bound<'py, PyDict>,
    name: &str,
    frame: &str,
) -> PyResult<Bound<'py, PyAny>> {
    match columns.get_item(format!("{name}_ms"))? {
        Some(found) if !columns.contains(name)? => Ok(found),
        _ => convert::column(columns, name, frame),
    }
}

pub(crate) fn read_meals(
    frame: &Bound<'_, PyAny>,
    clock: Option<&LocalClock>,
) -> PyResult<Vec<Meal>> {
    if frame.len().is_ok_and(|n| n == 0) {
        return Ok(Vec::new());
    }
    let columns = convert::columns(frame, "meals")?;
    let times = convert::stamps(&time_column(&columns, "time", "meals")?, "time")?;
    let times = convert::on_clock(times, clock, "time")?;
    let n = times.len();
    let grams = |name: &'static str| -> PyResult<Vec<Option<f64>>> {
        match columns.get_item(name)? {
            Some(column) => same(amounts(&column, name)?, n, name),
            None => Ok(vec![None; n]),
        }
    };
    let words = |name: &'static str| -> PyResult<Vec<Option<String>>> {
        match columns.get_item(name)? {
            Some(column) => same(texts(&column)?, n, name),
            None => Ok(vec![None; n]),
        }
    };
    let ends = match columns.get_item("end")?.or(columns.get_item("end_ms")?) {
        Some(column) => same(convert::some_on_clock(&column, clock, "end")?, n, "end")?,
        None => vec![None; n],
    };
    let (carbs, low, high) = (grams("carbs_g")?, grams("carbs_low_g")?, grams("carbs_high_g")?);
    let (fiber, protein, fat) = (grams("fiber_g")?, grams("protein_g")?, grams("fat_g")?);
    let (confidence, label, tags) = (words("confidence")?, words("label")?, words("tags")?);
    let split = |t: &Option<String>| -> Vec<String> {
        let words = t.iter().flat_map(|t| t.split(';'));
        words.map(|w| w.trim().to_string()).filter(|w| !w.is_empty()).collect()
    };
    let meal = |i: usize| Meal {
        time_ms: times[i],
        end_ms: ends[i],
        carbs_g: carbs[i],
        carbs_low_g: low[i],
        carbs_high_g: high[i],
        fiber_g: fiber[i],
        protein_g: protein[i],
        fat_g: fat[i],
        confidence: confidence[i].clone(),
        label: label[i].clone(),
        tags: split(&tags[i]),
    };
    Ok((0..n).map(meal).collect())
}

pub(crate) fn same<T>(items: Vec<T>, n: usize, name: &'static str) -> PyResult<Vec<T>> {
    glycemic_core::error::require_same_len(name, n, items.len()).map_err(to_py)?;
    Ok(items)
}

pub(crate) fn read_activity(
    frame: Option<&Bound<'_, PyAny>>,
    clock: Option<&LocalClock>,
) -> PyResult<Vec<Activity>> {
    let Some(frame) = frame else { return Ok(Vec::new()) };
    if frame.len().is_ok_and(|n| n == 0) {
        return Ok(Vec::new());
    }
    let columns = convert::columns(frame, "activity")?;
    let starts = convert::stamps(&time_column(&columns, "start", "activity")?, "start")?;
    let starts = convert::on_clock(starts, clock, "start")?;
    let n = starts.len();
    let minutes = amounts(&convert::column(&columns, "minutes", "activity")?, "minutes")?;
    let minutes = same(minutes, n, "minutes")?;
    let kinds = same(texts(&convert::column(&columns, "kind", "activity")?)?, n, "kind")?;
    let efforts = match columns.get_item("effort")? {
        Some(column) => same(texts(&column)?, n, "effort")?,
        None => vec![None; n],
    };
    let one = |i: usize| {
        let value = f64::NAN;
        let missing = glycemic_core::Error::NotFinite { name: "minutes", index: Some(i), value };
        Ok(Activity {
            start_ms: starts[i],
            minutes: minutes[i].ok_or_else(|| to_py(missing))?,
            kind: kinds[i].clone().unwrap_or_default(),
            effort: efforts[i].clone(),
        })
    };
    (0..n).map(one).collect()
}

fn read_targets(targets: Option<&Bound<'_, PyDict>>) -> PyResult<Targets> {
    let mut out = Targets::default();
    let Some(targets) = targets else { return Ok(out) };
    for (name, value) in targets {
        match name.extract::<String>()?.as_str() {
            "rise_mg_dl" => out.rise_mg_dl = value.extract()?,
            "peak_mg_dl" => out.peak_mg_dl = value.extract()?,
            other => {
                let choices = "rise_mg_dl, peak_mg_dl";
                let got = other.to_string();
                return Err(to_py(glycemic_core::Error::UnknownChoice {
                    name: "targets",
                    got,
                    choices,
                }));
            }
        }
    }
    Ok(out)
}

/// What each meal did: baseline, peak, rise, time to peak, areas, recovery.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals : frame, dict of columns, or list of dicts
///     `time` (as for `Trace`; naive times are on the trace's clock) or `time_ms`; and, each of
///     them optional, `end`, `carbs_g`, `carbs_low_g`, `carbs_high_g`, `fiber_g`, `protein_g`,
///     `fat_g` (grams, missing allowed), `confidence`, `label`, `tags` (text with semicolons).
/// targets : dict, optional
///     `rise_mg_dl` and `peak_mg_dl` of the person's own; there is no default.
/// activity : frame, optional
///     `start`, `minutes`, `kind` (such as ``walk``) and `effort`.
/// before_min, after_min : float
///     Minutes before the start for the baseline (5 to 120) and after it for the response (60 to
///     480).
/// seed : int
///     Key of the noise draws.
///
/// Returns
/// -------
/// Responses
///     A row for each meal in order of time; mg/dL, minutes from the meal's start, mg/dL times
///     minutes. `flags` says what confounds a row or why something is missing.
///
/// Raises
/// ------
/// GlycemicError
///     For a missing column, a negative amount, or a window outside its range.
///
/// Notes
/// -----
/// Rise is *as displayed*; `rise_noise_aware_mg_dl` takes off what noise adds to a maximum.
/// Source: Matthews et al., BMJ 1990; 300: 230-235. For education, coaching and research; not a
/// medical device, not for dosing insulin or any treatment decision.
///
/// Examples
/// --------
/// >>> minutes = np.arange(-60, 181, 5)
/// >>> start = np.datetime64("2025-03-14T12:00", "ms")
/// >>> glucose = 90 + np.interp(minutes, [0, 60, 120], [0, 50, 0])
/// >>> tr = gly.Trace(start + minutes.astype("timedelta64[m]"), glucose)
/// >>> r = gly.meals.responses(tr, {"time": [start], "carbs_g": [45], "fiber_g": [5]})
/// >>> r["baseline_mg_dl"][0], r["rise_mg_dl"][0], r["time_to_peak_min"][0], r["net_carbs_g"][0]
/// (np.float64(90.0), np.float64(50.0), np.float64(60.0), np.float64(40.0))
#[pyfunction]
#[pyo3(signature = (trace, meals, targets=None, activity=None, before_min=30.0, after_min=180.0, seed=1))]
#[allow(clippy::too_many_arguments, reason = "the diary has several parts")]
fn responses(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: &Bound<'_, PyAny>,
    targets: Option<&Bound<'_, PyDict>>,
    activity: Option<&Bound<'_, PyAny>>,
    before_min: f64,
    after_min: f64,
    seed: u64,
) -> PyResult<PyResponses> {
    guard(|| {
        let trace = Arc::clone(&trace.get().inner);
        let meals = read_meals(meals, trace.clock())?;
        let activity = read_activity(activity, trace.clock())?;
        let targets = read_targets(targets)?;
        let origin = Origin { trace, meals, activity, seed };
        compute_responses(py, origin, targets, Window { before_min, after_min })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyResponses>()?;
    m.add_function(wrap_pyfunction!(_responses, m)?)?;
    let room = PyModule::new(m.py(), "glycemic.meals")?;
    room.setattr("__doc__", "What each meal did: eating occasions, windows, responses.")?;
    room.add_function(wrap_pyfunction!(responses, &room)?)?;
    crate::meals_tools::register(m, &room)?;
    m.add("meals", room)
}
