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

use crate::cleaning::{PyCleaning, PyCoverage, PyGap, PyRejected};
use crate::convert::{self, array};
use crate::error::{compute, guard, raise, to_py};
use crate::panel_options;
use crate::panel_parts::{self, PyDaysNeeded, PyEpisodeSummary, PySufficiency};
use crate::table::{PyTable, readings};

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

    /// What the wearer's clock showed at each reading, as datetime64[ms]; None without a zone.
    ///
    /// Where the clock is put back, local times run twice.
    #[getter]
    fn local_times<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let Some(clock) = self.inner.clock() else { return Ok(None) };
        let local = array(py, &panel_parts::local_ms(&self.inner, clock))?;
        local.into_bound(py).call_method1("view", ("datetime64[ms]",)).map(Some)
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

    /// Shares of readings in ranges of your own.
    ///
    /// Parameters
    /// ----------
    /// ranges : list of (low, high)
    ///     Both ends count; each is rounded to the step the readings have. Ranges may overlap.
    /// unit : {"mg/dL", "mmol/L"}
    ///     Unit of the ranges.
    ///
    /// Returns
    /// -------
    /// list of float
    ///     Percent of readings, a share for each range.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     Without a range, or for one whose `low` is not below `high` (`index` says which).
    ///
    /// Examples
    /// --------
    /// >>> times = ["2025-03-14T07:30Z", "2025-03-14T07:35Z", "2025-03-14T07:40Z", "2025-03-14T07:45Z"]
    /// >>> gly.Trace(times, [69, 70, 180, 181]).shares([(70, 180), (70, 140)])
    /// [50.0, 25.0]
    #[pyo3(signature = (ranges, unit="mg/dL"))]
    fn shares(&self, py: Python<'_>, ranges: Vec<(f64, f64)>, unit: &str) -> PyResult<Vec<f64>> {
        guard(|| panel_parts::shares(py, &self.inner, ranges, unit))
    }

    /// Episodes of low or high glucose.
    ///
    /// Parameters
    /// ----------
    /// rule : str or list of str
    ///     One or more of ``low`` (below 70 mg/dL for 15 min), ``very_low`` (below 54),
    ///     ``prolonged_very_low`` and ``extended_low`` (120 min below 54 and 70), ``high`` (above
    ///     180), ``very_high`` (above 250), ``extended_high`` (above 250 for more than 90 of 120
    ///     min).
    /// episode_length : {"count_times_interval", "span"}
    ///     Whether three readings 5 min apart last 15 min or 10 min.
    ///
    /// Returns
    /// -------
    /// Table
    ///     A row each: `rule`, `start_ms`, `end_ms`, `minutes`, `extreme_mg_dl`, `level_mg_dl`,
    ///     `nocturnal` (starts from 00:00 on and before 06:00; missing without a zone), `cut`
    ///     (touches a gap or an end: it lasted at least so long), `sensor_change`, and
    ///     `start_min`, the minute of the local day.
    ///
    /// Notes
    /// -----
    /// A low at night is possibly pressure on the sensor; a true low can't be excluded without a
    /// meter reading. Source: Danne et al., Diabetes Care 2017; 40: 1631-1640; Battelino et al.,
    /// Lancet Diabetes Endocrinol 2023; 11: 42-57 (from memory).
    ///
    /// Examples
    /// --------
    /// >>> times = 1741000000000 + 300000 * np.arange(9)
    /// >>> found = gly.Trace(times, [80, 75, 69, 60, 66, 71, 80, 90, 95]).episodes("low")
    /// >>> len(found), found["minutes"].tolist(), found["extreme_mg_dl"].tolist()
    /// (1, [15.0], [60.0])
    #[pyo3(signature = (rule, episode_length="count_times_interval"))]
    fn episodes(
        &self,
        py: Python<'_>,
        rule: &Bound<'_, PyAny>,
        episode_length: &str,
    ) -> PyResult<PyTable> {
        guard(|| {
            let table = panel_parts::episodes_of(py, &self.inner, rule, episode_length)?;
            Ok(PyTable::new(table, self.zoned()))
        })
    }

    /// How often episodes come by one rule, and how long they last.
    ///
    /// Parameters
    /// ----------
    /// rule, episode_length
    ///     As for `episodes`, one rule.
    ///
    /// Returns
    /// -------
    /// EpisodeSummary
    ///
    /// Examples
    /// --------
    /// >>> times = 1741000000000 + 300000 * np.arange(2016)
    /// >>> s = gly.Trace(times, [60] * 6 + [100] * 2010).episode_summary("low")
    /// >>> s.n, s.cut, s.per_week, s.mean_minutes
    /// (1, 1, 1.0, None)
    #[pyo3(signature = (rule, episode_length="count_times_interval"))]
    fn episode_summary(
        &self,
        py: Python<'_>,
        rule: &str,
        episode_length: &str,
    ) -> PyResult<PyEpisodeSummary> {
        guard(|| panel_parts::episode_summary(py, &self.inner, rule, episode_length))
    }

    /// Whether there is enough data, by the consensus of 14 days and 70 % active time.
    ///
    /// Parameters
    /// ----------
    /// reporting_period : tuple of two times, optional
    ///     Start (included) and end (excluded). Default: from the first to the last reading.
    ///
    /// Returns
    /// -------
    /// Sufficiency
    ///
    /// Notes
    /// -----
    /// Source: Battelino et al., Diabetes Care 2019; 42: 1593-1603.
    ///
    /// Examples
    /// --------
    /// >>> times = 1741000000000 + 300000 * np.arange(14 * 288)
    /// >>> s = gly.Trace(times, np.full(14 * 288, 100)).sufficiency()
    /// >>> s.days, s.enough_days, s.enough_active, s.full_days
    /// (14.0, True, True, None)
    #[pyo3(signature = (reporting_period=None))]
    fn sufficiency(
        &self,
        py: Python<'_>,
        reporting_period: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<PySufficiency> {
        guard(|| {
            let period = panel_options::period(reporting_period, self.inner.clock())?;
            panel_parts::sufficiency_of(py, &self.inner, period)
        })
    }

    /// How many days it would take to know a measure well enough.
    ///
    /// Parameters
    /// ----------
    /// measure : str
    ///     A mean or a share, such as ``mean_mg_dl``: one whose day values average to the whole.
    /// half_width : float
    ///     How close it is to be known, either way, in its unit.
    /// level : float
    ///     Confidence level, from 0.5 to 0.9999.
    ///
    /// Returns
    /// -------
    /// DaysNeeded
    ///     `days`, or None with a `reason`: another measure, fewer than seven full local days,
    ///     or days that don't differ.
    ///
    /// Notes
    /// -----
    /// The fewest days at which Student's interval of a mean of day values is no wider, with the
    /// spread between the full days seen. Days are taken as independent; days that go together
    /// need more. For education, coaching and research; not a medical device.
    ///
    /// Examples
    /// --------
    /// >>> times = 1741046400000 + 3600000 * np.arange(240)
    /// >>> tr = gly.Trace(times, 100 + np.arange(240) // 24 % 2 * 10, zone="UTC")
    /// >>> tr.days_needed("mean_mg_dl", 3).days
    /// 15
    #[pyo3(signature = (measure, half_width, level=0.95))]
    fn days_needed(
        &self,
        py: Python<'_>,
        measure: &str,
        half_width: f64,
        level: f64,
    ) -> PyResult<PyDaysNeeded> {
        guard(|| panel_parts::days_needed(py, &self.inner, measure, half_width, level))
    }

    /// Percentiles of glucose by local time of day, all days laid over one another.
    ///
    /// Parameters
    /// ----------
    /// step_min : int
    ///     Minutes between the points; a divisor of 1440.
    /// percentiles : sequence of float
    ///     From 0 to 100, rising.
    /// smoothing : {"local", "window", "none"}
    ///     Which readings count at a point: those nearer than `width_min` by the tricube of their
    ///     distance, those in a window `width_min` wide all alike, or those in the step's bin.
    /// width_min : float
    ///     From 1 to 720; not used by ``none``.
    ///
    /// Returns
    /// -------
    /// Table
    ///     `minute_of_day`, `days` and `n` behind each point, a column such as `p05_mg_dl` for
    ///     each percentile, and `reason` where some are missing: those below 10 or above 90 need
    ///     five days.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For options outside these, and without local time (code ``no_zone``).
    ///
    /// Notes
    /// -----
    /// Source: Mazze et al., Diabetes Care 1987; 10: 111-117 (idea); Battelino et al. 2019
    /// (percentiles); Yu and Jones, J Am Stat Assoc 1998; 93: 228-237 (kernel); from memory.
    ///
    /// Examples
    /// --------
    /// >>> times = 1741046400000 + 3600000 * np.arange(144)
    /// >>> tr = gly.Trace(times, 100 + np.arange(144) // 24 * 10, zone="UTC")
    /// >>> day = tr.modal_day(step_min=60)
    /// >>> [day[name].tolist()[8] for name in ("minute_of_day", "days", "p50_mg_dl")]
    /// [480, 6, 125.0]
    #[pyo3(signature = (step_min=15, percentiles=vec![5.0, 25.0, 50.0, 75.0, 95.0],
                        smoothing="local", width_min=30.0),
           text_signature = "($self, step_min=15, percentiles=(5.0, 25.0, 50.0, 75.0, 95.0), \
                             smoothing='local', width_min=30.0)")]
    fn modal_day(
        &self,
        py: Python<'_>,
        step_min: u32,
        percentiles: Vec<f64>,
        smoothing: &str,
        width_min: f64,
    ) -> PyResult<PyTable> {
        guard(|| {
            let trace = &self.inner;
            let day =
                panel_parts::modal_day_of(py, trace, step_min, percentiles, smoothing, width_min)?;
            Ok(PyTable::new(day, self.zoned()))
        })
    }

    /// The measures of parts of the trace.
    ///
    /// Parameters
    /// ----------
    /// parts : {"day", "week_part"} or list of (name, from_min, to_min)
    ///     Local days; Monday to Friday and the weekend; or blocks of the local day in minutes,
    ///     which may overlap and wrap midnight, such as ``[("night", 0, 360)]``.
    ///
    /// Returns
    /// -------
    /// Table
    ///     A row for each part: `part`, `n`, `local_days`, `censored_low`, `censored_high`, and
    ///     the measures that don't depend on order; missing where there are too few readings.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For another word, a block outside the day, no block, or without local time (code
    ///     ``no_zone``).
    ///
    /// Examples
    /// --------
    /// >>> times = 1741046400000 + 3600000 * np.arange(48)
    /// >>> tr = gly.Trace(times, np.repeat([100, 120], 24), zone="UTC")
    /// >>> tr.by("day")["part"].tolist(), tr.by("day")["mean_mg_dl"].tolist()
    /// (['2025-03-04', '2025-03-05'], [100.0, 120.0])
    /// >>> tr.by([("night", 0, 360)])["n"].tolist()
    /// [12]
    fn by(&self, py: Python<'_>, parts: &Bound<'_, PyAny>) -> PyResult<PyTable> {
        guard(|| Ok(PyTable::new(panel_parts::parts(py, &self.inner, parts)?, self.zoned())))
    }

    /// Each local day by quarter hours, as pictures of days need it.
    ///
    /// Returns
    /// -------
    /// Table
    ///     `day` (a date), `minute_of_day`, `readings`, and their `low_mg_dl` and `high_mg_dl`;
    ///     no row where there is no reading, and none without local time.
    fn strips(&self, py: Python<'_>) -> PyResult<PyTable> {
        guard(|| {
            let table = compute(py, || glycemic_core::review::enough::strips(self.inner.view()))?;
            Ok(PyTable::new(table, self.zoned()))
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
    m.add_function(wrap_pyfunction!(_trace, m)?)
}
