//! The panel: where glucose sits.

use std::sync::Arc;

use glycemic_core::panel::{self, Blood, Id, MEASURES, Options, Panel, Population, Valued};
use glycemic_core::{Estimate, Reason, Trace};
use pyo3::exceptions::PyAttributeError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::convert;
use crate::error::{compute, guard, to_py};
use crate::estimate::PyEstimate;
use crate::panel_options;
use crate::panel_tables::beside_normals;
use crate::series::{PyTrace, state, unstate};
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
/// options : dict
///     The choices it was made with; ``gly.panel(trace, **p.options)`` makes it again.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Panel")]
pub(crate) struct PyPanel {
    inner: Panel,
    trace: Arc<Trace>,
    meals_ms: Vec<i64>,
    options: Options,
}

/// A measure as Python has it: counts of readings are whole numbers.
pub(crate) fn number<'py>(
    py: Python<'py>,
    id: Id,
    value: Option<f64>,
) -> PyResult<Bound<'py, PyAny>> {
    match value {
        None => Ok(py.None().into_bound(py)),
        Some(v) if matches!(id, Id::N | Id::CensoredLow | Id::CensoredHigh) => {
            Ok((v as i64).into_pyobject(py)?.into_any())
        }
        Some(v) => Ok(v.into_pyobject(py)?.into_any()),
    }
}

/// Measures with their values by name, and why some have none: those of an accumulator.
pub(crate) fn named<'py>(
    py: Python<'py>,
    all: &[Valued],
) -> PyResult<(Bound<'py, PyDict>, Bound<'py, PyDict>)> {
    let (values, reasons) = (PyDict::new(py), PyDict::new(py));
    // In the order of the registry, as in a panel.
    for m in MEASURES {
        if let Some((id, value)) = all.iter().find(|v| v.0 == m.id) {
            values.set_item(m.name, number(py, *id, value.as_ref().ok().copied())?)?;
            if let Err(reason) = value {
                reasons.set_item(m.name, &reason.text)?;
            }
        }
    }
    Ok((values, reasons))
}

impl PyPanel {
    /// An interval, unless it is of another convention than the panel's value.
    fn of_these_options(&self, id: Id, estimate: Estimate) -> Estimate {
        if self.options == Options::default() || estimate.value == self.inner.get(id) {
            return estimate;
        }
        let text = "intervals are made by the default options only";
        let reason = Reason::plain("other_options", text);
        let Estimate { level, method, n, needed, .. } = estimate;
        let missing = Estimate::missing(level, &method, n, needed, reason);
        Estimate { value: self.inner.get(id), ..missing }
    }
}

#[pymethods]
impl PyPanel {
    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        match Id::from_name(name) {
            Some(id) => number(py, id, self.inner.get(id)),
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

    #[getter]
    fn options<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        panel_options::dict(py, &self.options)
    }

    /// Every measure by name; missing ones are None.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for m in MEASURES {
            dict.set_item(m.name, number(py, m.id, self.inner.get(m.id))?)?;
        }
        Ok(dict)
    }

    /// The panel beside the published targets of a population.
    ///
    /// Parameters
    /// ----------
    /// population : {"without_diabetes", "type1", "type2", "pregnancy", "older"}
    ///     Whose glucose it is. Pregnancy is that with type 1 diabetes and has ranges of its own,
    ///     63-140 mg/dL (3.5-7.8 mmol/L); older people are those with diabetes.
    ///
    /// Returns
    /// -------
    /// Table
    ///     A row for each target: `measure`, `value` and `target` (percent), `bound` (``above``,
    ///     ``below``, ``at_most``, or ``none_set`` where the source sets none), `met` (missing
    ///     without a value or a target), `source`, and `status`, how sure this library is of the
    ///     number.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For another word.
    ///
    /// Notes
    /// -----
    /// Source: Battelino et al., Diabetes Care 2019; 42: 1593-1603. A target is no verdict on a
    /// person. For education, coaching and research; not a medical device.
    ///
    /// Examples
    /// --------
    /// >>> times = ["2025-03-14T07:30Z", "2025-03-14T07:35Z", "2025-03-14T07:40Z", "2025-03-14T07:45Z"]
    /// >>> t = gly.panel(gly.Trace(times, [65, 100, 110, 120])).assess("type2")
    /// >>> [t[name].tolist()[0] for name in ("measure", "value", "bound", "target", "met")]
    /// ['in_range_pct', 75.0, 'above', 70.0, True]
    fn assess(&self, py: Python<'_>, population: &str) -> PyResult<PyTable> {
        guard(|| {
            let population: Population = population.parse().map_err(to_py)?;
            let table =
                compute(py, || panel::assess(&self.inner, Some(self.trace.view()), population))?;
            Ok(PyTable::new(table, true))
        })
    }

    /// The panel beside published values of people without diabetes.
    ///
    /// Returns
    /// -------
    /// Table
    ///     A row for each published value: `measure`, `unit`, the trace's `value`, then `centre`,
    ///     `low` and `high` as published, `what` these are, `source` and `status`. A measure that
    ///     does not carry over to people without diabetes says why in `outside`; without a
    ///     published value it has a row of its own.
    ///
    /// Notes
    /// -----
    /// Sources differ in people, sensors and what they print; the ranges are no limits of health.
    /// For education, coaching and research; not a medical device.
    ///
    /// Examples
    /// --------
    /// >>> times = ["2025-03-14T07:30Z", "2025-03-14T07:35Z", "2025-03-14T07:40Z"]
    /// >>> t = gly.panel(gly.Trace(times, [90, 100, 110])).beside_normals()
    /// >>> [t.to_dict()[name][2] for name in ("measure", "value", "centre", "low", "high", "what")]
    /// ['sd_mg_dl', 10.0, None, 10.0, 26.0, 'range']
    fn beside_normals(&self) -> PyResult<PyTable> {
        guard(|| Ok(PyTable::new(beside_normals(&self.inner).map_err(to_py)?, true)))
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
    /// Needs seven local days. A measure that other options than the default have changed has no
    /// interval. Source: jackknife over days, Efron and Tibshirani, An Introduction to the
    /// Bootstrap (1993), chapter 11. For education, coaching and research; not a medical device.
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
                    let all = panel::intervals(view, &self.meals_ms, level).into_iter();
                    return Ok(all.map(|(id, e)| (id, self.of_these_options(id, e))).collect());
                };
                glycemic_core::error::require_within("blood", bias_mg_dl, -500.0, 500.0)?;
                glycemic_core::error::require_within("blood", se_mg_dl, 0.0, 500.0)?;
                let blood = Blood { bias_mg_dl, se_mg_dl, ..Blood::default() };
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
        other
            .cast::<PyPanel>()
            .is_ok_and(|o| o.get().inner == self.inner && o.get().options == self.options)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let py = slf.py();
        let this = slf.get();
        let trace = PyTrace::shared(Arc::clone(&this.trace));
        let make = py.import("glycemic._glycemic")?.getattr("_panel")?;
        let parts = (trace, this.meals_ms.clone(), state(&this.options)?);
        Ok((make, parts.into_pyobject(py)?))
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let show = |id: Id| self.inner.get(id).map_or("-".to_string(), |v| format!("{v:.1}"));
        Ok(format!(
            "Panel({} readings, {} days, mean {} mg/dL, CV {} %, in range {} %{})",
            show(Id::N).trim_end_matches(".0"),
            show(Id::Days),
            show(Id::MeanMgDl),
            show(Id::CvPct),
            show(Id::InRangePct),
            panel_options::told(py, &self.options)?
        ))
    }
}

/// Where glucose sits: the measures of one trace.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals : array_like of times, optional
///     When meals were logged; finds the first of each day for the fasting level.
/// m_reference_mg_dl : float
///     Level at which the M-value is 0: 120 (Schlichtkrull 1965); later papers take 80 to 131.
/// grade : {"mean", "median"}
///     How GRADE sums up the readings: Hill 2007, abstract, or Hill 2011, table.
/// risk_constants : {"mg_dl", "mmol_l"}
///     Which printed constants the risk function takes (Kovatchev 1997); they differ by 0.1 %.
/// mage_sd : {"whole_trace", "mean_of_days"}
///     The SD that an excursion must exceed to count in MAGE.
/// modd_pairs : {"all", "whole_days_only"}
///     Whether pairs count whose earlier reading lies in the first, partial local day.
/// episode_length : {"count_times_interval", "span"}
///     Whether three readings 5 min apart last 15 min or 10 min.
/// lability : {"weekly_sum", "mean_per_pair"}
///     Whether the lability index is a sum over a week (Ryan 2004) or a mean.
/// reporting_period : tuple of two times, optional
///     Start (included) and end (excluded) of what `active_pct` is a share of. Default: from
///     the first to the last reading.
///
/// Returns
/// -------
/// Panel
///
/// Raises
/// ------
/// GlycemicError
///     For a reference outside 20 to 600 mg/dL, another word, or a period that does not end
///     after it starts.
///
/// Notes
/// -----
/// For education, coaching and research; not a medical device, not for dosing insulin or any
/// treatment decision. `glycemic.measures()` names the source of each measure.
///
/// Examples
/// --------
/// >>> times = ["2025-03-14T07:30Z", "2025-03-14T07:35Z", "2025-03-14T07:40Z", "2025-03-14T07:45Z"]
/// >>> tr = gly.Trace(times, [69, 70, 180, 181])
/// >>> p = gly.panel(tr)
/// >>> p.mean_mg_dl, p.in_range_pct, p.fasting_mg_dl
/// (125.0, 50.0, None)
/// >>> p.reasons["fasting_mg_dl"]
/// 'needs local time, and no zone or local clock was given'
/// >>> gly.panel(gly.Trace(times, [80, 80, 80, 80]), m_reference_mg_dl=80).m_value
/// 0.0
#[pyfunction]
#[pyo3(name = "panel", signature = (trace, meals=None, *, m_reference_mg_dl=120.0, grade="mean",
    risk_constants="mg_dl", mage_sd="whole_trace", modd_pairs="all",
    episode_length="count_times_interval", lability="weekly_sum", reporting_period=None))]
#[allow(clippy::too_many_arguments, reason = "one for each choice")]
fn panel_of(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    m_reference_mg_dl: f64,
    grade: &str,
    risk_constants: &str,
    mage_sd: &str,
    modd_pairs: &str,
    episode_length: &str,
    lability: &str,
    reporting_period: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPanel> {
    guard(|| {
        let trace = Arc::clone(&trace.get().inner);
        let options = Options {
            mage_sd: mage_sd.parse().map_err(to_py)?,
            modd_pairs: modd_pairs.parse().map_err(to_py)?,
            episode_length: episode_length.parse().map_err(to_py)?,
            lability: lability.parse().map_err(to_py)?,
            reporting_period_ms: panel_options::period(reporting_period, trace.clock())?,
            ..panel_options::of_readings(m_reference_mg_dl, grade, risk_constants)?
        };
        let meals_ms = match meals {
            None => Vec::new(),
            Some(meals) => {
                convert::on_clock(convert::stamps(meals, "meals")?, trace.clock(), "meals")?
            }
        };
        make(py, trace, meals_ms, options)
    })
}

fn make(
    py: Python<'_>,
    trace: Arc<Trace>,
    meals_ms: Vec<i64>,
    options: Options,
) -> PyResult<PyPanel> {
    let inner = compute(py, || panel::panel_with(trace.view(), &meals_ms, &options))?;
    Ok(PyPanel { inner, trace, meals_ms, options })
}

/// A panel made again from what its pickle holds.
#[pyfunction]
fn _panel(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals_ms: Vec<i64>,
    options: &str,
) -> PyResult<PyPanel> {
    guard(|| make(py, Arc::clone(&trace.get().inner), meals_ms, unstate(options)?))
}

/// Two periods of one person: each measure in the second less in the first.
///
/// Parameters
/// ----------
/// trace : Trace
///     With a zone: days are local ones.
/// period_a, period_b : tuple of two times
///     Start and end (not included) of each; they must not overlap.
/// meals : array_like of times, optional
///     As for `panel`.
/// level : float
///     Confidence level, from 0.5 to 0.999.
///
/// Returns
/// -------
/// dict of str to Estimate
///     Differences in the measure's own unit (shares in points); where there is none, the reason.
///
/// Raises
/// ------
/// GlycemicError
///     Periods that overlap or end before they start, or a level out of range.
///
/// Notes
/// -----
/// An observed difference went with the period; it was not caused by it. Intervals by leaving out
/// days: Zou and Donner, Stat Med 2008; 27: 1693-1702, with Welch's degrees of freedom. For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> hours = np.datetime64("2025-03-03T00:00", "ms") + np.arange(28 * 24) * np.timedelta64(1, "h")
/// >>> glucose = 100 + 10 * (np.arange(28 * 24) // 24 % 2) + 20 * (np.arange(28 * 24) >= 336)
/// >>> tr = gly.Trace(hours, glucose, zone="UTC")
/// >>> start, middle, end = hours[0], hours[14 * 24], hours[-1] + np.timedelta64(1, "h")
/// >>> found = gly.compare_periods(tr, (start, middle), (middle, end))
/// >>> found["mean_mg_dl"].value
/// 20.0
#[pyfunction]
#[pyo3(signature = (trace, period_a, period_b, meals=None, level=0.95))]
fn compare_periods<'py>(
    py: Python<'py>,
    trace: &Bound<'_, PyTrace>,
    period_a: &Bound<'_, PyAny>,
    period_b: &Bound<'_, PyAny>,
    meals: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<Bound<'py, PyDict>> {
    guard(|| {
        let trace = Arc::clone(&trace.get().inner);
        let a = panel_options::stretch(period_a, trace.clock(), "period_a")?;
        let b = panel_options::stretch(period_b, trace.clock(), "period_b")?;
        let meals_ms = match meals {
            None => Vec::new(),
            Some(meals) => {
                convert::on_clock(convert::stamps(meals, "meals")?, trace.clock(), "meals")?
            }
        };
        let found = compute(py, || panel::compare(trace.view(), a, b, &meals_ms, level))?;
        let dict = PyDict::new(py);
        for (id, estimate) in found {
            dict.set_item(id.measure().name, PyEstimate::from(estimate).into_pyobject(py)?)?;
        }
        Ok(dict)
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyPanel>()?;
    m.add_function(wrap_pyfunction!(panel_of, m)?)?;
    m.add_function(wrap_pyfunction!(compare_periods, m)?)?;
    m.add_function(wrap_pyfunction!(_panel, m)?)
}
