//! The panel: where glucose sits.

use std::sync::Arc;

use glycemic_core::panel::{self, Blood, Id, MEASURES, Panel};
use glycemic_core::{Estimate, Table, Trace};
use pyo3::exceptions::PyAttributeError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::convert;
use crate::error::{compute, guard, to_py};
use crate::estimate::PyEstimate;
use crate::series::PyTrace;
use crate::table::PyTable;

/// Measures of one trace, an attribute each: ``p.mean_mg_dl``, ``p.in_range_pct``, ...
///
/// A measure that can't be told is None, and `reasons` says why. `glycemic.measures()` lists all
/// with unit, definition and source. For education, coaching and research; not a medical device,
/// not for dosing insulin or any treatment decision.
///
/// Attributes
/// ----------
/// reasons : dict of str to str
///     Why a measure is missing.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Panel")]
pub(crate) struct PyPanel {
    inner: Panel,
    trace: Arc<Trace>,
    meals_ms: Vec<i64>,
}

/// Counts are whole numbers in Python.
fn value<'py>(py: Python<'py>, panel: &Panel, id: Id) -> PyResult<Bound<'py, PyAny>> {
    match panel.get(id) {
        None => Ok(py.None().into_bound(py)),
        Some(v) if matches!(id, Id::N | Id::CensoredLow | Id::CensoredHigh) => {
            Ok((v as i64).into_pyobject(py)?.into_any())
        }
        Some(v) => Ok(v.into_pyobject(py)?.into_any()),
    }
}

#[pymethods]
impl PyPanel {
    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        match Id::from_name(name) {
            Some(id) => value(py, &self.inner, id),
            None => Err(PyAttributeError::new_err(format!("Panel has no measure {name}"))),
        }
    }

    fn __dir__(slf: &Bound<'_, Self>) -> PyResult<Vec<String>> {
        let object = slf.py().import("builtins")?.getattr("object")?;
        let mut names: Vec<String> = object.call_method1("__dir__", (slf,))?.extract()?;
        names.extend(MEASURES.iter().map(|m| m.name.to_string()));
        Ok(names)
    }

    #[getter]
    fn reasons<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for m in MEASURES {
            if let Some(reason) = self.inner.reason(m.id) {
                dict.set_item(m.name, &reason.text)?;
            }
        }
        Ok(dict)
    }

    /// Every measure by name; missing ones are None.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for m in MEASURES {
            dict.set_item(m.name, value(py, &self.inner, m.id)?)?;
        }
        Ok(dict)
    }

    /// Intervals of the measures.
    ///
    /// Parameters
    /// ----------
    /// level : float
    ///     Confidence level, from 0.5 to 0.999.
    /// resamples, seed : int, optional
    ///     For measures whose interval is resampled.
    /// blood : tuple of float, optional
    ///     (bias_mg_dl, se_mg_dl): the mean difference sensor - meter and its standard error.
    ///     Then the intervals are in blood, of the measures that are a level only.
    ///
    /// Returns
    /// -------
    /// dict of str to Estimate
    ///     As this sensor reads, without `blood`: day-to-day variation only.
    ///
    /// Notes
    /// -----
    /// Needs seven local days. Source: jackknife over days, Efron and Tibshirani, An Introduction
    /// to the Bootstrap (1993), chapter 11. For education, coaching and research; not a medical
    /// device.
    #[pyo3(signature = (level=0.95, resamples=None, seed=1, blood=None))]
    fn intervals<'py>(
        &self,
        py: Python<'py>,
        level: f64,
        resamples: Option<usize>,
        seed: u64,
        blood: Option<(f64, f64)>,
    ) -> PyResult<Bound<'py, PyDict>> {
        let _ = (resamples, seed);
        guard(|| {
            let found: Vec<(Id, Estimate)> = compute(py, || {
                glycemic_core::error::require_within("level", level, 0.5, 0.999)?;
                let view = self.trace.view();
                let Some((bias_mg_dl, se_mg_dl)) = blood else {
                    return Ok(panel::intervals(view, &self.meals_ms, level));
                };
                glycemic_core::error::require_within("blood", bias_mg_dl, -500.0, 500.0)?;
                glycemic_core::error::require_within("blood", se_mg_dl, 0.0, 500.0)?;
                let meter_bias_sd_pct = panel::intervals::METER_BIAS_SD_PCT;
                let blood = Blood { bias_mg_dl, se_mg_dl, meter_bias_sd_pct };
                Ok(panel::intervals_in_blood(view, &self.meals_ms, blood, level))
            })?;
            let dict = PyDict::new(py);
            for (id, estimate) in found {
                dict.set_item(id.measure().name, PyEstimate::from(estimate).into_pyobject(py)?)?;
            }
            Ok(dict)
        })
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyPanel>().is_ok_and(|o| o.get().inner == self.inner)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let py = slf.py();
        let this = slf.get();
        let trace = PyTrace::from(Trace::clone(&this.trace));
        let make = py.import("glycemic")?.getattr("panel")?;
        Ok((make, (trace, this.meals_ms.clone()).into_pyobject(py)?))
    }

    fn __repr__(&self) -> String {
        let show = |id: Id| self.inner.get(id).map_or("-".to_string(), |v| format!("{v:.1}"));
        format!(
            "Panel({} readings, {} days, mean {} mg/dL, CV {} %, in range {} %)",
            show(Id::N).trim_end_matches(".0"),
            show(Id::Days),
            show(Id::MeanMgDl),
            show(Id::CvPct),
            show(Id::InRangePct)
        )
    }
}

/// Where glucose sits: the measures of one trace.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals : array_like of times, optional
///     When meals were logged; finds the first of each day for the fasting level.
///
/// Returns
/// -------
/// Panel
///     An attribute for each measure; mg/dL, percent of readings, minutes.
///
/// Notes
/// -----
/// For education, coaching and research; not a medical device, not for dosing insulin or any
/// treatment decision. `glycemic.measures()` names the source of each measure.
///
/// Examples
/// --------
/// >>> times = ["2025-03-14T07:30Z", "2025-03-14T07:35Z", "2025-03-14T07:40Z", "2025-03-14T07:45Z"]
/// >>> p = gly.panel(gly.Trace(times, [69, 70, 180, 181]))
/// >>> p.mean_mg_dl, p.in_range_pct, p.fasting_mg_dl
/// (125.0, 50.0, None)
/// >>> p.reasons["fasting_mg_dl"]
/// 'needs local time, and no zone or local clock was given'
#[pyfunction]
#[pyo3(name = "panel", signature = (trace, meals=None))]
fn panel_of(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPanel> {
    guard(|| {
        let trace = Arc::clone(&trace.get().inner);
        let meals_ms = match meals {
            None => Vec::new(),
            Some(meals) => {
                convert::on_clock(convert::stamps(meals, "meals")?, trace.clock(), "meals")?
            }
        };
        let inner = compute(py, || Ok(panel::panel(trace.view(), &meals_ms)))?;
        Ok(PyPanel { inner, trace, meals_ms })
    })
}

/// The registry of measures: a row each, with number, name, unit, definition and source.
///
/// Returns
/// -------
/// Table
///     Columns `id`, `name`, `unit`, `what`, `source`.
///
/// Examples
/// --------
/// >>> gly.measures()["name"][6]
/// 'mean_mg_dl'
#[pyfunction]
fn measures() -> PyResult<PyTable> {
    guard(|| {
        let mut table = Table::new();
        let text = |f: fn(&panel::Measure) -> &'static str| {
            MEASURES.iter().map(|m| Some(f(m).to_string())).collect::<Vec<_>>()
        };
        table
            .push_i64("id", MEASURES.iter().map(|m| Some(m.id as i64)).collect())
            .map_err(to_py)?;
        table.push_text("name", text(|m| m.name)).map_err(to_py)?;
        table.push_text("unit", text(|m| m.unit)).map_err(to_py)?;
        table.push_text("what", text(|m| m.what)).map_err(to_py)?;
        table.push_text("source", text(|m| m.source)).map_err(to_py)?;
        Ok(PyTable::new(table, true))
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyPanel>()?;
    m.add_function(wrap_pyfunction!(panel_of, m)?)?;
    m.add_function(wrap_pyfunction!(measures, m)?)
}
