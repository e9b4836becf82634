//! What the trace alone says of a sensor: dips that may be pressure, flat-lines.

use std::sync::Arc;

use glycemic_core::estimate::Reason;
use glycemic_core::meals::{Activity, Meal};
use glycemic_core::sensor::flat::{self, FlatOptions};
use glycemic_core::sensor::pressure::{self, CAUTION, PressureOptions};
use glycemic_core::{Meter, Trace};
use pyo3::prelude::*;

use crate::align::check_clocks;
use crate::error::{compute, guard};
use crate::meals::{read_activity, read_meals};
use crate::meter::PyMeter;
use crate::record::record;
use crate::sensor_readings;
use crate::series::PyTrace;
use crate::table::PyTable;

record! {
    /// Dips that may be pressure on the sensor. For education, coaching and research; not a
    /// medical device.
    PyPressureLows as "PressureLows" {
        /// A row for each dip, in order of time.
        table: Py<PyTable>,
        /// What may be said of any of them.
        caution: String,
        /// Days of 24 h in which a dip could have been found.
        looked_at_days: f64,
        /// SD of the sensor's noise that was reckoned with, mg/dL.
        noise_sd_mg_dl: f64,
        /// Whether that noise is assumed, for want of windows without food.
        noise_assumed: bool,
        /// Why nothing could be looked for.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }

    fn __len__(&self) -> usize {
        self.table.get().inner.rows()
    }
}

record! {
    /// Readings that stay the same for longer than chance allows. For education, coaching and
    /// research; not a medical device.
    PyFlatLines as "FlatLines" {
        /// A row for each flat-line, in order of time.
        table: Py<PyTable>,
        /// Fewest readings in a row that count; None with a reason.
        threshold_readings: Option<usize>,
        /// Minutes from first to last reading of such a run.
        threshold_min: Option<f64>,
        /// Longest run seen, in readings.
        longest_readings: usize,
        /// SD of the noise that was reckoned with, mg/dL.
        noise_sd_mg_dl: f64,
        /// Whether that noise is assumed, for want of windows without food.
        noise_assumed: bool,
        /// Why there is no threshold.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }

    fn __len__(&self) -> usize {
        self.table.get().inner.rows()
    }
}

/// A table of the core as a field of a record.
pub(crate) fn table(
    py: Python<'_>,
    inner: glycemic_core::Table,
    trace: &PyTrace,
) -> PyResult<Py<PyTable>> {
    Py::new(py, PyTable::new(inner, trace.zoned()))
}

/// A reason as its sentence and its word.
pub(crate) fn words(reason: Option<&Reason>) -> (Option<String>, Option<String>) {
    (reason.map(|r| r.text.clone()), reason.map(|r| r.code.clone()))
}

/// A trace with what was noted beside it.
pub(crate) struct Beside {
    pub(crate) trace: Arc<Trace>,
    pub(crate) meals: Vec<Meal>,
    pub(crate) activity: Vec<Activity>,
    pub(crate) meter: Option<Arc<Meter>>,
}

impl Beside {
    pub(crate) fn read(
        trace: &PyTrace,
        meals: Option<&Bound<'_, PyAny>>,
        activity: Option<&Bound<'_, PyAny>>,
        meter: Option<&Bound<'_, PyMeter>>,
    ) -> PyResult<Beside> {
        if let Some(meter) = meter {
            check_clocks(meter.get(), trace)?;
        }
        let clock = trace.inner.clock();
        Ok(Beside {
            meals: meals.map_or_else(|| Ok(Vec::new()), |m| read_meals(m, clock))?,
            activity: read_activity(activity, clock)?,
            meter: meter.map(|m| Arc::clone(&m.get().inner)),
            trace: Arc::clone(&trace.inner),
        })
    }
}

/// Dips that are possibly pressure; a true low can't be excluded without a meter reading.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals, activity : frame, optional
///     The diary, as for `meals.responses`.
/// meter : Meter, optional
/// least_probability : float
///     Only dips at least so probably pressure are given.
/// least_depth_mg_dl : float
///     Smallest depth given, mg/dL.
/// per_night, per_day : float
///     Pressure lows expected in a night (00:00-06:00), and in the rest of a day.
/// meter_ahead_min : float
///     Minutes by which the meter's clock is ahead of the sensor's.
/// level : float
///     Confidence level of the depth.
///
/// Returns
/// -------
/// PressureLows
///     Its `table` has `start_ms`, `end_ms`, `minutes`, `probability`, `depth_mg_dl` with its ends,
///     `fall_mg_dl_min`, `recovery_mg_dl_min`, `faster_than_glucose`, `lowest_mg_dl`, `reads_low`,
///     `night`, `after_meal_min`, `activity_near`, `first_hours`, `meter_mg_dl`, `meter_says` and
///     more. Nothing is removed from the trace.
///
/// Raises
/// ------
/// GlycemicError
///     For an option out of range, a missing column, or clocks that don't match.
///
/// Notes
/// -----
/// Source: Facchinetti et al., Diabetes Technol Ther 2016; 18: 264-272 (length, depth); Mensh et al.,
/// J Diabetes Sci Technol 2013; 7: 863-870 (from memory). For education, coaching and research; not
/// a medical device.
///
/// Examples
/// --------
/// >>> i = np.arange(96)
/// >>> glucose = np.where((i >= 36) & (i < 44), 65, 95) + np.tile([0, 1, 0, -1], 24)
/// >>> night = gly.Trace(1_741_046_400_000 + i * 300_000, glucose, zone="UTC")
/// >>> found = gly.sensor.pressure_lows(night)
/// >>> len(found), found.table["probability"][0] > 0.9, found.table["night"].tolist()
/// (1, np.True_, [True])
/// >>> found.caution
/// "possibly pressure; a true low can't be excluded without a meter reading"
#[pyfunction]
#[pyo3(signature = (trace, meals=None, activity=None, meter=None, least_probability=0.05,
                    least_depth_mg_dl=10.0, per_night=0.3, per_day=0.1, meter_ahead_min=0.0,
                    level=0.95))]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn pressure_lows(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    activity: Option<&Bound<'_, PyAny>>,
    meter: Option<&Bound<'_, PyMeter>>,
    least_probability: f64,
    least_depth_mg_dl: f64,
    per_night: f64,
    per_day: f64,
    meter_ahead_min: f64,
    level: f64,
) -> PyResult<PyPressureLows> {
    guard(|| {
        let b = Beside::read(trace.get(), meals, activity, meter)?;
        let options = PressureOptions {
            per_night,
            per_day,
            least_probability,
            least_depth_mg_dl,
            meter_ahead_min,
            level,
        };
        let (found, rows) = compute(py, || {
            let meter = b.meter.as_deref();
            let found = pressure::pressure_lows(&b.trace, &b.meals, &b.activity, meter, &options)?;
            let rows = found.table()?;
            Ok((found, rows))
        })?;
        let (reason, reason_code) = words(found.reason.as_ref());
        Ok(PyPressureLows {
            table: table(py, rows, trace.get())?,
            caution: CAUTION.to_string(),
            looked_at_days: found.looked_at_days,
            noise_sd_mg_dl: found.noise_sd_mg_dl,
            noise_assumed: found.noise_assumed,
            reason,
            reason_code,
        })
    })
}

/// Measures of the panel with all readings, and without the dips that are probably pressure.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals, activity : frame, optional
/// meter : Meter, optional
///     As for `pressure_lows`.
/// probability : float
///     From this probability on a dip is left out in the second, 0 to 1.
/// meter_ahead_min : float
///     As for `pressure_lows`.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// Table
///     A row for each measure: `measure`, `with`, `with_low`, `with_high`, `without`,
///     `without_low`, `without_high`. Which of the two is right can't be told from the sensor alone.
///
/// Raises
/// ------
/// GlycemicError
///     As for `pressure_lows`.
///
/// Notes
/// -----
/// Source: as for `pressure_lows`. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> i = np.arange(100)
/// >>> glucose = np.where((i >= 36) & (i < 46), 60, 100) + np.tile([0, 1, 0, -1], 25)
/// >>> night = gly.Trace(1_741_046_400_000 + i * 300_000, glucose, zone="UTC")
/// >>> t = gly.sensor.without_pressure(night)
/// >>> t["measure"].tolist()[1], t["with"].tolist()[1], t["without"].tolist()[1]
/// ('below_70_pct', 10.0, 0.0)
#[pyfunction]
#[pyo3(signature = (trace, meals=None, activity=None, meter=None, probability=0.5,
                    meter_ahead_min=0.0, level=0.95))]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn without_pressure(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    activity: Option<&Bound<'_, PyAny>>,
    meter: Option<&Bound<'_, PyMeter>>,
    probability: f64,
    meter_ahead_min: f64,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let b = Beside::read(trace.get(), meals, activity, meter)?;
        let options = PressureOptions { meter_ahead_min, level, ..PressureOptions::default() };
        let both = compute(py, || {
            let meter = b.meter.as_deref();
            let found = pressure::pressure_lows(&b.trace, &b.meals, &b.activity, meter, &options)?;
            let times: Vec<i64> = b.meals.iter().map(|m| m.time_ms).collect();
            pressure::beside(&b.trace, &found, probability, &times, level)?.table()
        })?;
        Ok(PyTable::new(both, trace.get().zoned()))
    })
}

/// Flat-lines: readings that stay the same for longer than chance allows.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals : frame, optional
///     The diary, as for `meals.responses`; the sensor's noise is told from times without food.
/// within_one_step : bool
///     Whether values within one step of each other count as the same.
/// chance : float
///     Runs expected by chance in the whole trace at the threshold, 1e-9 to 1.
///
/// Returns
/// -------
/// FlatLines
///     Its `table` has `start_ms`, `end_ms`, `minutes`, `readings`, `value_mg_dl`, `by_chance`.
///
/// Raises
/// ------
/// GlycemicError
///     For a chance out of range, or a missing column.
///
/// Notes
/// -----
/// Source: Feller, An introduction to probability theory, vol. 1, 1968, chapter XIII (from memory).
/// For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> i = np.arange(576)
/// >>> glucose = np.where((i >= 200) & (i < 225), 104, 100 + (i * 7) % 11)
/// >>> found = gly.sensor.flat_lines(gly.Trace(1_741_000_000_000 + i * 300_000, glucose))
/// >>> found.table["minutes"].tolist(), found.longest_readings
/// ([120.0], 25)
#[pyfunction]
#[pyo3(signature = (trace, meals=None, within_one_step=false, chance=0.01))]
fn flat_lines(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    within_one_step: bool,
    chance: f64,
) -> PyResult<PyFlatLines> {
    guard(|| {
        let b = Beside::read(trace.get(), meals, None, None)?;
        let options = FlatOptions { within_one_step, chance };
        let (found, rows) = compute(py, || {
            let found = flat::flat_lines(&b.trace, &b.meals, &options)?;
            let rows = found.table()?;
            Ok((found, rows))
        })?;
        let (reason, reason_code) = words(found.reason.as_ref());
        Ok(PyFlatLines {
            table: table(py, rows, trace.get())?,
            threshold_readings: found.threshold_readings,
            threshold_min: found.threshold_min,
            longest_readings: found.longest_readings,
            noise_sd_mg_dl: found.noise_sd_mg_dl,
            noise_assumed: found.noise_assumed,
            reason,
            reason_code,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyPressureLows>()?;
    m.add_class::<PyFlatLines>()?;
    room.add_function(wrap_pyfunction!(pressure_lows, room)?)?;
    room.add_function(wrap_pyfunction!(without_pressure, room)?)?;
    room.add_function(wrap_pyfunction!(flat_lines, room)?)?;
    sensor_readings::register(m, room)
}
