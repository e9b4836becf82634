//! One person's trial, read from a folder.

use std::sync::Arc;

use glycemic_core::Table;
use glycemic_core::clock::LocalClock;
use glycemic_core::meals::Window;
use glycemic_core::review::{Options, next_plan};
use glycemic_core::trial::Trial;
use pyo3::prelude::*;
use pyo3::types::{PyAny, PyDict, PyList, PyTuple, PyType};

use crate::error::{compute, guard, problem_list, raise, to_py};
use crate::meals::{Origin, PyResponses, compute_responses};
use crate::meter::PyMeter;
use crate::review::{PyReview, review};
use crate::series::{PyTrace, state, unstate};
use crate::table::PyTable;

/// One person's trial: sensor, meter, diary and targets. Made by `Trial.read`.
///
/// For education, coaching and research; not a medical device.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Trial")]
pub(crate) struct PyTrial {
    pub(crate) inner: Arc<Trial>,
    sensor: Arc<glycemic_core::Trace>,
}

impl From<Trial> for PyTrial {
    fn from(inner: Trial) -> PyTrial {
        let sensor = Arc::new(inner.sensor.clone());
        PyTrial { inner: Arc::new(inner), sensor }
    }
}

impl PyTrial {
    fn table(
        &self,
        fill: impl FnOnce(&mut Table) -> Result<(), glycemic_core::Error>,
    ) -> PyResult<PyTable> {
        let mut table = Table::new();
        fill(&mut table).map_err(to_py)?;
        let zoned = !self.sensor.clock().is_some_and(LocalClock::is_floating);
        Ok(PyTable::new(table, zoned))
    }
}

#[pymethods]
impl PyTrial {
    /// Reads a folder: ``trial.json`` and plain tables, of which only ``sensor.csv`` is needed.
    ///
    /// Parameters
    /// ----------
    /// folder : path
    /// on_bad_rows : {"stop", "skip"}
    ///     Whether rows that can't be used stop the read, all of them in one error, or are left
    ///     out and listed in `problems`.
    ///
    /// Returns
    /// -------
    /// Trial
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     With `file`, `line`, `column` of the first bad row, and `problems` with all.
    #[classmethod]
    #[pyo3(signature = (folder, on_bad_rows="stop"))]
    fn read(
        _class: &Bound<'_, PyType>,
        py: Python<'_>,
        folder: std::path::PathBuf,
        on_bad_rows: &str,
    ) -> PyResult<PyTrial> {
        guard(|| {
            let on_bad_rows = on_bad_rows.parse().map_err(to_py)?;
            compute(py, || Trial::read(&folder, on_bad_rows)).map(PyTrial::from)
        })
    }

    /// The sensor.
    #[getter]
    fn sensor(&self) -> PyTrace {
        PyTrace::shared(Arc::clone(&self.sensor))
    }

    /// The finger-stick meter; empty without one.
    #[getter]
    fn meter(&self) -> PyMeter {
        let clock = self.sensor.clock().cloned();
        PyMeter { inner: Arc::new(self.inner.meter.clone()), clock }
    }

    /// The diary's meals, in order of time.
    #[getter]
    fn meals(&self) -> PyResult<PyTable> {
        let m = &self.inner.meals;
        self.table(|t| {
            t.push_i64("time_ms", m.iter().map(|m| Some(m.time_ms)).collect())?;
            t.push_i64("end_ms", m.iter().map(|m| m.end_ms).collect())?;
            t.push_f64("carbs_g", m.iter().map(|m| m.carbs_g).collect())?;
            t.push_f64("carbs_low_g", m.iter().map(|m| m.carbs_low_g).collect())?;
            t.push_f64("carbs_high_g", m.iter().map(|m| m.carbs_high_g).collect())?;
            t.push_f64("fiber_g", m.iter().map(|m| m.fiber_g).collect())?;
            t.push_f64("net_carbs_g", m.iter().map(|m| m.net_carbs_g()).collect())?;
            t.push_f64("protein_g", m.iter().map(|m| m.protein_g).collect())?;
            t.push_f64("fat_g", m.iter().map(|m| m.fat_g).collect())?;
            t.push_text("confidence", m.iter().map(|m| m.confidence.clone()).collect())?;
            t.push_text("label", m.iter().map(|m| m.label.clone()).collect())?;
            t.push_text("tags", m.iter().map(|m| Some(m.tags.join(";"))).collect())
        })
    }

    /// Walks and exercise.
    #[getter]
    fn activity(&self) -> PyResult<PyTable> {
        let a = &self.inner.activity;
        self.table(|t| {
            t.push_i64("start_ms", a.iter().map(|a| Some(a.start_ms)).collect())?;
            t.push_f64("minutes", a.iter().map(|a| Some(a.minutes)).collect())?;
            t.push_text("kind", a.iter().map(|a| Some(a.kind.clone())).collect())?;
            t.push_text("effort", a.iter().map(|a| a.effort.clone()).collect())
        })
    }

    /// Nights and other sleep.
    #[getter]
    fn sleep(&self) -> PyResult<PyTable> {
        let s = &self.inner.sleep;
        self.table(|t| {
            t.push_i64("start_ms", s.iter().map(|s| Some(s.start_ms)).collect())?;
            t.push_i64("end_ms", s.iter().map(|s| Some(s.end_ms)).collect())?;
            t.push_text("quality", s.iter().map(|s| s.quality.clone()).collect())
        })
    }

    /// Symptoms, stress and the rest.
    #[getter]
    fn notes(&self) -> PyResult<PyTable> {
        let n = &self.inner.notes;
        self.table(|t| {
            t.push_i64("time_ms", n.iter().map(|n| Some(n.time_ms)).collect())?;
            t.push_text("kind", n.iter().map(|n| Some(n.kind.clone())).collect())?;
            t.push_text("severity", n.iter().map(|n| n.severity.clone()).collect())?;
            t.push_text("text", n.iter().map(|n| n.text.clone()).collect())
        })
    }

    /// What happened to the sensor.
    #[getter]
    fn wear(&self) -> PyResult<PyTable> {
        let w = &self.inner.wear;
        self.table(|t| {
            t.push_i64("time_ms", w.iter().map(|w| Some(w.time_ms)).collect())?;
            t.push_text("event", w.iter().map(|w| Some(w.event.clone())).collect())?;
            t.push_text("sensor", w.iter().map(|w| w.sensor.clone()).collect())?;
            t.push_text("site", w.iter().map(|w| w.site.clone()).collect())?;
            t.push_text("value", w.iter().map(|w| w.value.clone()).collect())
        })
    }

    /// The person's own targets: rise_mg_dl and peak_mg_dl, or None.
    #[getter]
    fn targets<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("rise_mg_dl", self.inner.targets.rise_mg_dl)?;
        dict.set_item("peak_mg_dl", self.inner.targets.peak_mg_dl)?;
        Ok(dict)
    }

    /// A name or code for the person.
    #[getter]
    fn person(&self) -> Option<String> {
        self.inner.config.person.clone()
    }

    /// Rows left out, when the read was told to skip them: file, line, column, code, message.
    #[getter]
    fn problems<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        problem_list(py, &self.inner.problems)
    }

    /// Optional tables that the folder does not have.
    #[getter]
    fn absent(&self) -> Vec<String> {
        self.inner.absent.clone()
    }

    /// The responses to all meals, with everything the diary knows; 30 minutes before to 180
    /// after.
    #[pyo3(signature = (seed=1))]
    fn responses(&self, py: Python<'_>, seed: u64) -> PyResult<PyResponses> {
        guard(|| {
            let origin = Origin {
                trace: Arc::clone(&self.sensor),
                meals: self.inner.meals.clone(),
                activity: self.inner.activity.clone(),
                seed,
            };
            let window = Window { before_min: 30.0, after_min: 180.0 };
            compute_responses(py, origin, self.inner.targets, window)
        })
    }

    /// The ten answers, as data.
    ///
    /// Parameters
    /// ----------
    /// level : float
    ///     Confidence level of the intervals.
    /// seed : int
    ///     Key of the random streams.
    /// progress : callable, optional
    ///     Called with the number of each answer when it is done; returning False cancels.
    ///
    /// Returns
    /// -------
    /// Review
    ///     For education, coaching and research; not a medical device, not for dosing insulin or
    ///     any treatment decision.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For an option out of range; with code ``cancelled`` when `progress` said so.
    #[pyo3(signature = (level=0.95, seed=1, progress=None))]
    fn review(
        &self,
        py: Python<'_>,
        level: f64,
        seed: u64,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<PyReview> {
        guard(|| review(py, &self.inner, level, seed, progress.as_ref()))
    }

    /// A plan for the next wear: a walk after the meal or none, in randomised pairs.
    ///
    /// Parameters
    /// ----------
    /// level : float
    ///     Level of the interval that is to see the effect.
    /// seed : int
    ///     Key of the draw; same data and seed, same schedule.
    ///
    /// Returns
    /// -------
    /// dict
    ///     What to store under ``plan`` in ``trial.json`` of the next wear, with its `date`, before it
    ///     begins; the review then answers it apart from what is explored.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     With the reason's code where the data can't say how many pairs it takes.
    #[pyo3(signature = (level=0.95, seed=1))]
    fn next_plan<'py>(
        &self,
        py: Python<'py>,
        level: f64,
        seed: u64,
    ) -> PyResult<Bound<'py, PyAny>> {
        guard(|| {
            let options = Options { level, seed };
            let told =
                compute(py, || next_plan(&self.inner, &self.inner.responses(seed)?, options))?;
            let plan = told.map_err(|reason| raise(&reason.text, &reason.code, "trial", None))?;
            py.import("json")?.call_method1("loads", (plan.to_json(),))
        })
    }

    /// All of it as plain data.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("person", self.person())?;
        dict.set_item("targets", self.targets(py)?)?;
        for (name, part) in [
            ("meals", self.meals()?),
            ("activity", self.activity()?),
            ("sleep", self.sleep()?),
            ("notes", self.notes()?),
            ("wear", self.wear()?),
        ] {
            dict.set_item(name, part.to_dict(py)?)?;
        }
        let series = [
            ("sensor", Bound::new(py, self.sensor())?.into_any()),
            ("meter", Bound::new(py, self.meter())?.into_any()),
        ];
        for (name, part) in series {
            dict.set_item(name, part.call_method0("to_dict")?)?;
        }
        dict.set_item("problems", self.problems(py)?)?;
        dict.set_item("absent", self.absent())?;
        Ok(dict)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyTrial>().is_ok_and(|o| o.get().inner == self.inner)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let make = slf.py().import("glycemic._glycemic")?.getattr("_trial")?;
        Ok((make, (state(&*slf.get().inner)?,).into_pyobject(slf.py())?))
    }

    fn __repr__(&self) -> String {
        let (n, meals) = (self.sensor.len(), self.inner.meals.len());
        format!("Trial({n} readings, {} meter readings, {meals} meals)", self.inner.meter.len())
    }
}

/// A trial from what its pickle holds.
#[pyfunction]
fn _trial(state: &str) -> PyResult<PyTrial> {
    guard(|| unstate::<Trial>(state).map(PyTrial::from))
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyTrial>()?;
    m.add_function(wrap_pyfunction!(_trial, m)?)
}
