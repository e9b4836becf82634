//! `Meter`: finger-stick readings.

use std::sync::Arc;

use glycemic_core::Meter;
use glycemic_core::clock::LocalClock;
use glycemic_core::units::Unit;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple, PyType};

use crate::convert::{self, array};
use crate::error::{compute, guard, to_py};
use crate::series::{pick, state, unstate};

/// Finger-stick readings: any number at one time, each with what was noted about it.
///
/// Parameters
/// ----------
/// times, glucose, unit, zone
///     As for `Trace`; glucose must be numbers, all of them there.
/// context : array_like of str, optional
///     A word for each, such as ``fasting``.
///
/// Examples
/// --------
/// >>> gly.Meter(["2025-03-14T07:30Z"], [5.5], unit="mmol/L").glucose_mg_dl.round(1).tolist()
/// [99.1]
#[pyclass(frozen, module = "glycemic._glycemic", name = "Meter")]
pub(crate) struct PyMeter {
    pub(crate) inner: Arc<Meter>,
    pub(crate) clock: Option<LocalClock>,
}

fn build_meter(
    py: Python<'_>,
    times: &Bound<'_, PyAny>,
    glucose: &Bound<'_, PyAny>,
    unit: &str,
    context: Option<&Bound<'_, PyAny>>,
    zone: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyMeter> {
    let unit: Unit = unit.parse().map_err(to_py)?;
    let zone = convert::zone(zone)?;
    let glucose = convert::floats(glucose, "glucose")?;
    let (times, clock) = convert::located(convert::stamps(times, "times")?, zone)?;
    let context = match context {
        None => vec![String::new(); times.len()],
        Some(words) => convert::texts(words)?.into_iter().map(Option::unwrap_or_default).collect(),
    };
    let inner = compute(py, || Meter::new(&times, &glucose, &context, unit))?;
    Ok(PyMeter { inner: Arc::new(inner), clock })
}

impl PyMeter {
    /// The same clock with other readings.
    pub(crate) fn with_readings(&self, inner: Meter) -> PyMeter {
        PyMeter { inner: Arc::new(inner), clock: self.clock.clone() }
    }
}

#[pymethods]
impl PyMeter {
    #[new]
    #[pyo3(signature = (times, glucose, unit="mg/dL", context=None, zone=None))]
    fn new(
        py: Python<'_>,
        times: &Bound<'_, PyAny>,
        glucose: &Bound<'_, PyAny>,
        unit: &str,
        context: Option<&Bound<'_, PyAny>>,
        zone: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<PyMeter> {
        guard(|| build_meter(py, times, glucose, unit, context, zone))
    }

    /// Meter readings from columns of a frame, as for `Trace.from_frame`.
    #[classmethod]
    #[pyo3(signature = (df, time="time", glucose="glucose", unit="mg/dL", context=None, zone=None))]
    #[allow(clippy::too_many_arguments, reason = "each is a column or an option")]
    fn from_frame(
        _class: &Bound<'_, PyType>,
        py: Python<'_>,
        df: &Bound<'_, PyAny>,
        time: &str,
        glucose: &str,
        unit: &str,
        context: Option<&str>,
        zone: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<PyMeter> {
        guard(|| {
            let (times, values) = pick(df, time, glucose)?;
            let columns = convert::columns(df, "df")?;
            let words = context.map(|c| convert::column(&columns, c, "df")).transpose()?;
            build_meter(py, &times, &values, unit, words.as_ref(), zone)
        })
    }

    fn __len__(&self) -> usize {
        self.inner.len()
    }

    /// Times, UTC milliseconds since 1970 (int64, not falling, read-only).
    #[getter]
    fn times_ms(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        array(py, self.inner.times_ms())
    }

    /// Glucose in mg/dL (float64, read-only).
    #[getter]
    fn glucose_mg_dl(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        array(py, self.inner.glucose_mg_dl())
    }

    /// What was noted about each reading; empty for nothing.
    #[getter]
    fn context(&self) -> Vec<String> {
        self.inner.context().to_vec()
    }

    /// Name of the local clock, as for `Trace`.
    #[getter]
    fn zone(&self) -> Option<&str> {
        self.clock.as_ref().map(LocalClock::name)
    }

    /// The columns as lists.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("zone", self.zone())?;
        dict.set_item("times_ms", self.inner.times_ms())?;
        dict.set_item("glucose_mg_dl", self.inner.glucose_mg_dl())?;
        dict.set_item("context", self.context())?;
        Ok(dict)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other
            .cast::<PyMeter>()
            .is_ok_and(|o| o.get().inner == self.inner && o.get().clock == self.clock)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let make = slf.py().import("glycemic._glycemic")?.getattr("_meter")?;
        let state = (state(&*slf.get().inner)?, state(&slf.get().clock)?);
        Ok((make, state.into_pyobject(slf.py())?))
    }

    fn __repr__(&self) -> String {
        format!("Meter({} readings, {})", self.inner.len(), self.zone().unwrap_or("no zone"))
    }
}

/// Meter readings from what their pickle holds.
#[pyfunction]
fn _meter(state: &str, clock: &str) -> PyResult<PyMeter> {
    guard(|| Ok(PyMeter { inner: Arc::new(unstate(state)?), clock: unstate(clock)? }))
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyMeter>()?;
    m.add_function(wrap_pyfunction!(_meter, m)?)
}
