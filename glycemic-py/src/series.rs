//! `Trace`, and what building it found.

use std::sync::Arc;

use glycemic_core::Trace;
use glycemic_core::clock::LocalClock;
use glycemic_core::series::{self, Builder, Censor};
use glycemic_core::units::Unit;
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyCapsule, PyDict, PyTuple, PyType};

use crate::convert::{self, array};
use crate::error::{compute, guard, raise, to_py};
use crate::record::record;
use crate::table::{PyTable, readings};

record! {
    /// A reading that is not in the trace, and why.
    PyRejected as "Rejected" {
        /// Position in the input, counted from 0.
        index: usize,
        /// Its time, UTC milliseconds.
        time_ms: i64,
        /// Its value in mg/dL, if it had one.
        glucose_mg_dl: Option<f64>,
        /// ``missing`` or ``conflict``.
        why: String,
    }
}

record! {
    /// What building a trace found and did.
    PyCleaning as "Cleaning" {
        /// Readings given.
        given: usize,
        /// Readings kept.
        kept: usize,
        /// Readings that came before an earlier one and were sorted into place.
        sorted: usize,
        /// Repeats of a reading: same instant, same value.
        duplicates: usize,
        /// Readings at an instant that already had another value; the first given was kept.
        conflicts: usize,
        /// Readings without a value.
        missing: usize,
        /// Readings shown as below the sensor's limit.
        censored_low: usize,
        /// Readings shown as above the sensor's limit.
        censored_high: usize,
        /// Every reading set aside, with its place in the input.
        rejected: Vec<Py<PyRejected>>,
    }
}

record! {
    /// A stretch without readings.
    PyGap as "Gap" {
        /// Last reading before it, UTC milliseconds.
        from_ms: i64,
        /// First reading after it, UTC milliseconds.
        to_ms: i64,
        /// Its length in minutes.
        minutes: f64,
        /// Whether another sensor took over in it.
        sensor_change: bool,
    }
}

record! {
    /// How complete a trace is.
    PyCoverage as "Coverage" {
        /// Readings.
        n: usize,
        /// Readings that the span could hold.
        possible: usize,
        /// Share of the possible readings, in percent, at most 100.
        active_pct: f64,
        /// Span from first to last reading, in days of 24 h.
        days: f64,
        /// Nominal interval in minutes.
        nominal_interval_min: f64,
        /// Number of gaps.
        gaps: usize,
        /// The longest gap in minutes; 0 if there is none.
        longest_gap_min: f64,
    }
}

/// A sensor's readings over time, checked once and then trusted.
///
/// Parameters
/// ----------
/// times : array_like, shape (n,)
///     datetime64 (any unit), datetimes, ISO 8601 text, or whole epoch milliseconds; a column of
///     NumPy, pandas, polars or pyarrow, or a list. In any order.
/// glucose : array_like, shape (n,)
///     Numbers in `unit`; NaN or None is missing. Text may say ``LOW``, ``HIGH``, ``<40`` or
///     ``>400``: the reading then stands at that limit (40 and 400 mg/dL, or 2.2 and 22.2
///     mmol/L, where no number is given) and is counted as censored.
/// unit : {"mg/dL", "mmol/L"}
///     Unit of `glucose`. Readings are classified in the unit they were measured in.
/// zone : str or ZoneInfo or timezone or list of (int, int), optional
///     Where the wearer was: an IANA name, or (from_utc_ms, offset_min) steps. Naive times are
///     resolved in it. Without it naive times are kept as written on a floating clock, and times
///     with an offset have no local clock, so that measures of local time have no answer.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, NaT, a local time that occurs twice or never (`index` says which),
///     an implausible instant or value, or a median that only makes sense in the other unit.
///
/// Notes
/// -----
/// Readings are sorted; of readings at one instant the first given is kept. What was done stands
/// in `cleaning`. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(["2025-03-14T07:30", "2025-03-14T07:35"], [100, 104], zone="Europe/Lisbon")
/// >>> len(tr), tr.times_ms.tolist(), tr.glucose_mg_dl.tolist()
/// (2, [1741937400000, 1741937700000], [100.0, 104.0])
#[pyclass(frozen, module = "glycemic._glycemic", name = "Trace")]
pub(crate) struct PyTrace {
    pub(crate) inner: Arc<Trace>,
    times_array: PyOnceLock<Py<PyAny>>,
    glucose_array: PyOnceLock<Py<PyAny>>,
}

impl From<Trace> for PyTrace {
    fn from(inner: Trace) -> PyTrace {
        PyTrace {
            inner: Arc::new(inner),
            times_array: PyOnceLock::new(),
            glucose_array: PyOnceLock::new(),
        }
    }
}

impl PyTrace {
    /// A handle on a trace that is shared.
    pub(crate) fn shared(inner: Arc<Trace>) -> PyTrace {
        PyTrace { inner, times_array: PyOnceLock::new(), glucose_array: PyOnceLock::new() }
    }

    /// Whether times are instants, not local times of an unknown zone.
    pub(crate) fn zoned(&self) -> bool {
        !self.inner.clock().is_some_and(LocalClock::is_floating)
    }

    fn table(&self) -> PyResult<PyTable> {
        let glucose = self.inner.glucose_mg_dl().iter().map(|g| Some(*g)).collect();
        readings(self.inner.times_ms(), glucose, self.zoned())
    }
}

fn build(
    py: Python<'_>,
    times: &Bound<'_, PyAny>,
    glucose: &Bound<'_, PyAny>,
    unit: &str,
    zone: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyTrace> {
    let unit: Unit = unit.parse().map_err(to_py)?;
    let zone = convert::zone(zone)?;
    let (values, censor) = convert::glucose(glucose, unit)?;
    let (times, clock) = convert::located(convert::stamps(times, "times")?, zone)?;
    let builder = Builder::new(unit).clock(clock);
    compute(py, || builder.build_censored(&times, &values, &censor)).map(PyTrace::from)
}

/// Column names of a frame that `from_frame` reads.
pub(crate) fn pick<'py>(
    frame: &Bound<'py, PyAny>,
    time: &str,
    glucose: &str,
) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyAny>)> {
    let columns = convert::columns(frame, "df")?;
    Ok((convert::column(&columns, time, "df")?, convert::column(&columns, glucose, "df")?))
}

#[pymethods]
impl PyTrace {
    #[new]
    #[pyo3(signature = (times, glucose, unit="mg/dL", zone=None))]
    fn new(
        py: Python<'_>,
        times: &Bound<'_, PyAny>,
        glucose: &Bound<'_, PyAny>,
        unit: &str,
        zone: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<PyTrace> {
        guard(|| build(py, times, glucose, unit, zone))
    }

    /// A trace from two columns of a frame: pandas, polars, pyarrow, a dict, or a list of dicts.
    ///
    /// Parameters
    /// ----------
    /// df : frame
    /// time, glucose : str
    ///     Names of the columns.
    /// unit, zone
    ///     As for `Trace`.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     If a column is missing (its name is in `column`), or as for `Trace`.
    ///
    /// Examples
    /// --------
    /// >>> df = {"t": ["2025-03-14T07:30Z", "2025-03-14T07:35Z"], "g": [5.5, 5.8]}
    /// >>> gly.Trace.from_frame(df, time="t", glucose="g", unit="mmol/L").unit
    /// 'mmol/L'
    #[classmethod]
    #[pyo3(signature = (df, time="time", glucose="glucose", unit="mg/dL", zone=None))]
    fn from_frame(
        _class: &Bound<'_, PyType>,
        py: Python<'_>,
        df: &Bound<'_, PyAny>,
        time: &str,
        glucose: &str,
        unit: &str,
        zone: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<PyTrace> {
        guard(|| {
            let (times, glucose) = pick(df, time, glucose)?;
            build(py, &times, &glucose, unit, zone)
        })
    }

    fn __len__(&self) -> usize {
        self.inner.len()
    }

    /// Times of the readings, UTC milliseconds since 1970 (int64, rising, read-only).
    #[getter]
    fn times_ms(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        Ok(self.times_array.get_or_try_init(py, || array(py, self.inner.times_ms()))?.clone_ref(py))
    }

    /// The same as datetime64[ms].
    #[getter]
    fn times<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.times_ms(py)?.into_bound(py).call_method1("view", ("datetime64[ms]",))
    }

    /// Glucose in mg/dL (float64, read-only).
    #[getter]
    fn glucose_mg_dl(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        let make = || array(py, self.inner.glucose_mg_dl());
        Ok(self.glucose_array.get_or_try_init(py, make)?.clone_ref(py))
    }

    /// Which readings stand at a limit of the sensor: -1 the lower, 1 the upper, 0 neither.
    #[getter]
    fn censored<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<i8>> {
        let code = |c: &Censor| match c {
            Censor::Low => -1,
            Censor::High => 1,
            _ => 0,
        };
        PyArray1::from_iter(py, self.inner.view().censor().iter().map(code))
    }

    /// The unit the readings were measured in.
    #[getter]
    fn unit(&self) -> &'static str {
        self.inner.unit().code()
    }

    /// Name of the local clock; ``floating`` for naive times without a zone, None without one.
    #[getter]
    fn zone(&self) -> Option<&str> {
        self.inner.clock().map(LocalClock::name)
    }

    /// The median step between readings, in minutes.
    #[getter]
    fn nominal_interval_min(&self) -> f64 {
        self.inner.nominal_ms() as f64 / 60_000.0
    }

    /// Instants at which another sensor took over, UTC milliseconds.
    #[getter]
    fn breaks_ms(&self) -> Vec<i64> {
        self.inner.breaks_ms().to_vec()
    }

    /// What building the trace found and did.
    #[getter]
    fn cleaning(&self, py: Python<'_>) -> PyResult<PyCleaning> {
        let c = self.inner.cleaning();
        let reject = |r: &series::Rejected| {
            let (index, time_ms, why) = (r.index, r.time_ms, r.why.clone());
            Py::new(py, PyRejected { index, time_ms, glucose_mg_dl: r.glucose_mg_dl, why })
        };
        Ok(PyCleaning {
            given: c.given,
            kept: c.kept,
            sorted: c.sorted,
            duplicates: c.duplicates,
            conflicts: c.conflicts,
            missing: c.missing,
            censored_low: c.censored_low,
            censored_high: c.censored_high,
            rejected: c.rejected.iter().map(reject).collect::<PyResult<_>>()?,
        })
    }

    /// How complete the trace is.
    ///
    /// Returns
    /// -------
    /// Coverage
    ///     Active time is the readings over what the span could hold (Battelino et al., Diabetes
    ///     Care 2019; 42: 1593-1603).
    fn coverage(&self, py: Python<'_>) -> PyResult<PyCoverage> {
        guard(|| {
            let c = compute(py, || Ok(self.inner.coverage()))?;
            Ok(PyCoverage {
                n: c.n,
                possible: c.possible,
                active_pct: c.active_pct,
                days: c.days,
                nominal_interval_min: c.nominal_interval_min,
                gaps: c.gaps,
                longest_gap_min: c.longest_gap_min,
            })
        })
    }

    /// The gaps, in order: intervals longer than three nominal ones, or with a change of sensor.
    fn gaps(&self, py: Python<'_>) -> PyResult<Vec<PyGap>> {
        guard(|| {
            let gaps = compute(py, || Ok(self.inner.gaps()))?;
            let gap = |g: glycemic_core::series::Gap| PyGap {
                from_ms: g.from_ms,
                to_ms: g.to_ms,
                minutes: g.minutes,
                sensor_change: g.sensor_change,
            };
            Ok(gaps.into_iter().map(gap).collect())
        })
    }

    /// Glucose at other times.
    ///
    /// Parameters
    /// ----------
    /// times : array_like, shape (n,)
    ///     As for `Trace`; naive times are read on the trace's own clock.
    /// method : {"linear", "pchip", "previous", "nearest"}
    /// max_gap_min : float
    ///     Longest interval between readings that is crossed, in minutes.
    ///
    /// Returns
    /// -------
    /// ndarray of float64, shape (n,)
    ///     mg/dL; NaN outside the span, across a longer gap, and across a change of sensor.
    ///
    /// Notes
    /// -----
    /// Source of pchip: Fritsch and Butland, SIAM J Sci Stat Comput 1984; 5: 300-304.
    ///
    /// Examples
    /// --------
    /// >>> tr = gly.Trace(["2025-03-14T07:30Z", "2025-03-14T07:35Z"], [100, 110])
    /// >>> tr.at(["2025-03-14T07:32Z", "2025-03-14T09:00Z"]).tolist()
    /// [104.0, nan]
    #[pyo3(signature = (times, method="linear", max_gap_min=15.0))]
    fn at(
        &self,
        py: Python<'_>,
        times: &Bound<'_, PyAny>,
        method: &str,
        max_gap_min: f64,
    ) -> PyResult<Py<PyAny>> {
        guard(|| {
            let stamps = convert::stamps(times, "times")?;
            let times = convert::on_clock(stamps, self.inner.clock(), "times")?;
            let method = method.parse().map_err(to_py)?;
            let found = compute(py, || self.inner.at(&times, method, max_gap_min))?;
            let values: Vec<f64> = found.iter().map(|v| v.unwrap_or(f64::NAN)).collect();
            Ok(PyArray1::from_vec(py, values).into_any().unbind())
        })
    }

    /// Glucose on an even grid from the first reading on.
    ///
    /// Parameters
    /// ----------
    /// step_min : float
    ///     From a second to a day, in minutes.
    /// method, max_gap_min
    ///     As for `at`.
    ///
    /// Returns
    /// -------
    /// Table
    ///     Columns `time_ms` and `glucose_mg_dl`, missing where `at` is.
    ///
    /// Examples
    /// --------
    /// >>> tr = gly.Trace(["2025-03-14T07:30Z", "2025-03-14T07:40Z"], [100, 110])
    /// >>> tr.resample(5)["glucose_mg_dl"].tolist()
    /// [100.0, 105.0, 110.0]
    #[pyo3(signature = (step_min, method="linear", max_gap_min=15.0))]
    fn resample(
        &self,
        py: Python<'_>,
        step_min: f64,
        method: &str,
        max_gap_min: f64,
    ) -> PyResult<PyTable> {
        guard(|| {
            let method = method.parse().map_err(to_py)?;
            let (times, values) =
                compute(py, || self.inner.resample(step_min, method, max_gap_min))?;
            readings(&times, values, self.zoned())
        })
    }

    /// The same trace with the times at which another sensor took over; nothing spans them.
    fn with_breaks(&self, times: &Bound<'_, PyAny>) -> PyResult<PyTrace> {
        guard(|| {
            let stamps = convert::stamps(times, "times")?;
            let times = convert::on_clock(stamps, self.inner.clock(), "times")?;
            Ok(Trace::clone(&self.inner).with_breaks(times).into())
        })
    }

    /// Times, glucose and what is known about them, as plain data.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("unit", self.unit())?;
        dict.set_item("zone", self.zone())?;
        dict.set_item("nominal_interval_min", self.nominal_interval_min())?;
        dict.set_item("breaks_ms", self.breaks_ms())?;
        let cleaning = Bound::new(py, self.cleaning(py)?)?;
        dict.set_item("cleaning", cleaning.call_method0("to_dict")?)?;
        dict.set_item("times_ms", self.inner.times_ms())?;
        dict.set_item("glucose_mg_dl", self.inner.glucose_mg_dl())?;
        Ok(dict)
    }

    /// The schema as an Arrow C capsule.
    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        self.table()?.__arrow_c_schema__(py)
    }

    /// Columns `time_ms` and `glucose_mg_dl` as an Arrow C stream capsule.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        self.table()?.__arrow_c_stream__(py, requested_schema)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyTrace>().is_ok_and(|o| o.get().inner == self.inner)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let make = slf.py().import("glycemic._glycemic")?.getattr("_trace")?;
        Ok((make, (state(&*slf.get().inner)?,).into_pyobject(slf.py())?))
    }

    fn __repr__(&self) -> String {
        let c = self.inner.coverage();
        let zone = self.zone().unwrap_or("no zone");
        format!("Trace({} readings, {:.1} days, {}, {zone})", c.n, c.days, self.unit())
    }
}

/// What a pickle holds: the core's own form as JSON.
pub(crate) fn state(value: &impl serde::Serialize) -> PyResult<String> {
    serde_json::to_string(value).map_err(|e| raise(&e.to_string(), "pickle", "state", None))
}

pub(crate) fn unstate<T: serde::de::DeserializeOwned>(text: &str) -> PyResult<T> {
    serde_json::from_str(text).map_err(|e| raise(&e.to_string(), "pickle", "state", None))
}

/// A trace from what its pickle holds.
#[pyfunction]
fn _trace(state: &str) -> PyResult<PyTrace> {
    guard(|| unstate::<Trace>(state).map(PyTrace::from))
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyTrace>()?;
    m.add_class::<PyCleaning>()?;
    m.add_class::<PyRejected>()?;
    m.add_class::<PyCoverage>()?;
    m.add_class::<PyGap>()?;
    m.add_function(wrap_pyfunction!(_trace, m)?)
}
