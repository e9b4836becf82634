//! What a meter says of a sensor: drift, steps, first day.

use std::sync::Arc;

use glycemic_core::sensor::{self, Pairing, tables};
use glycemic_core::{Error, Meter, Table, Trace};
use pyo3::prelude::*;

use crate::align::check_clocks;
use crate::error::{compute, guard};
use crate::meals::read_meals;
use crate::meter::PyMeter;
use crate::series::PyTrace;
use crate::table::PyTable;
use crate::wear::read_wear;

/// Pairs with a lag that is known.
fn pairing(lag_min: f64) -> Pairing {
    Pairing { lag_min, ..Pairing::default() }
}

/// When the meals of a frame began.
fn meal_times(meals: Option<&Bound<'_, PyAny>>, sensor: &PyTrace) -> PyResult<Vec<i64>> {
    let Some(meals) = meals else { return Ok(Vec::new()) };
    Ok(read_meals(meals, sensor.inner.clock())?.iter().map(|m| m.time_ms).collect())
}

fn answer(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    make: impl FnOnce(&Meter, &Trace) -> Result<Table, Error> + Send,
) -> PyResult<PyTable> {
    let (meter, sensor) = (meter.get(), sensor.get());
    check_clocks(meter, sensor)?;
    let (inner, trace) = (Arc::clone(&meter.inner), Arc::clone(&sensor.inner));
    let table = compute(py, || make(&inner, &trace))?;
    Ok(PyTable::new(table, sensor.zoned()))
}

/// By how much each sensor moves away from the meter with each day of wear.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
///     With its changes of sensor (`Trace.with_breaks`; `Trial.sensor` has them).
/// lag_min : float
///     The sensor is read that much later, minutes.
/// level : float
///     Confidence level of the intervals, 0.5-0.999.
///
/// Returns
/// -------
/// Table
///     A row for each sensor, counted from 1: `inserted_ms`, `first_ms`, `last_ms`, `pairs`, `days`
///     with pairs, `drift_mg_dl_day` and `drift_pct_day` with their ends (`drift_low_mg_dl_day`,
///     ...), and `reason` where there is none. Pairs of a sensor's first 24 hours, and those taken
///     while it moved faster than 2 mg/dL per minute, are left out.
///
/// Raises
/// ------
/// GlycemicError
///     For a lag outside -1440 to 1440, a level out of range, or clocks that don't match.
///
/// Notes
/// -----
/// Source: least squares, intervals by leaving out days (Efron and Tibshirani, An introduction to
/// the bootstrap, 1993, chapter 11). Agreement with this meter, whose own drift is not known. For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> start = 1_741_046_400_000
/// >>> i = np.arange(10 * 288)
/// >>> sensor = gly.Trace(start + i * 300_000, 100 + i // 288)
/// >>> meter = gly.Meter(start + np.arange(10) * 86_400_000 + 30_000_000, [100] * 10)
/// >>> t = gly.sensor.drift(meter, sensor)
/// >>> t["drift_mg_dl_day"].round(6).tolist(), t["days"].tolist()
/// ([1.0], [9])
#[pyfunction]
#[pyo3(signature = (meter, sensor, lag_min=0.0, level=0.95))]
fn drift(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    lag_min: f64,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        answer(py, meter, sensor, |meter, trace| {
            tables::drift_table(&sensor::drift(meter, trace, pairing(lag_min), level)?)
        })
    })
}

/// Change of each sensor's own fasting level from morning to morning, without a meter.
///
/// Parameters
/// ----------
/// sensor : Trace
///     With a local clock.
/// meals : frame, optional
///     The diary, as for `meals.responses`.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     A row for each sensor: `mornings`, `fasting_drift_mg_dl_day` with its ends, `reason`. No
///     drift against blood: that the person's fasting glucose changed can't be excluded.
///
/// Raises
/// ------
/// GlycemicError
///     For a level out of range, or a missing column.
///
/// Notes
/// -----
/// Source: as for `drift`. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.sensor.fasting_drift(gly.Trace([1_741_046_400_000], [100]))
/// >>> t["reason"].tolist()
/// ['needs local time, and no zone or local clock was given']
#[pyfunction]
#[pyo3(signature = (sensor, meals=None, level=0.95))]
fn fasting_drift(
    py: Python<'_>,
    sensor: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let meals = meal_times(meals, sensor.get())?;
        let trace = Arc::clone(&sensor.get().inner);
        let table = compute(py, || {
            tables::fasting_drift_table(&sensor::fasting_drift(&trace, &meals, level)?)
        })?;
        Ok(PyTable::new(table, sensor.get().zoned()))
    })
}

/// What changed where a sensor was swapped, or set by its wearer.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
///     With its changes of sensor.
/// wear : frame
///     `time` (as for `Trace`) or `time_ms`, `event` ("inserted", "removed", "calibrated",
///     "failed", "alarm", "other") and, if there is one, `sensor`; `Trial.wear` is one.
/// lag_min, level : float
///     As for `drift`.
///
/// Returns
/// -------
/// Table
///     A row for each swap or calibration: `time_ms`, `event`, `sensor`, `pairs_before`,
///     `pairs_after`, `difference_mg_dl` (sensor - meter after less before), `overnight_mg_dl` (the
///     sensor's own nights, which could be the person), each with ends and a reason.
///
/// Raises
/// ------
/// GlycemicError
///     As for `drift`, and for a missing column or an unknown event.
///
/// Notes
/// -----
/// Source: Welch, Biometrika 1947; 34: 28-35 (from memory). A drift before or after the event is
/// part of the difference. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> start = 1_741_046_400_000
/// >>> i = np.arange(10 * 288)
/// >>> swap = start + 5 * 86_400_000
/// >>> sensor = gly.Trace(start + i * 300_000, np.where(i < 5 * 288, 100, 110))
/// >>> meter = gly.Meter(start + np.arange(10) * 86_400_000 + 30_000_000, [100] * 10)
/// >>> wear = {"time": [swap], "event": ["inserted"]}
/// >>> gly.sensor.steps(meter, sensor.with_breaks([swap]), wear)["difference_mg_dl"].tolist()
/// [10.0]
#[pyfunction]
#[pyo3(signature = (meter, sensor, wear, lag_min=0.0, level=0.95))]
fn steps(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    wear: &Bound<'_, PyAny>,
    lag_min: f64,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let events = read_wear(Some(wear), sensor.get().inner.clock())?;
        answer(py, meter, sensor, |meter, trace| {
            let found = sensor::steps(meter, trace, &events, pairing(lag_min), level)?;
            tables::steps_table(&found)
        })
    })
}

/// From which hour on each sensor is steady.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
///     With its changes of sensor.
/// meals : frame, optional
///     The diary, as for `meals.responses`; without it movement after meals counts too.
/// lag_min, level : float
///     As for `drift`.
///
/// Returns
/// -------
/// Table
///     A row for each sensor: `steady_from_h` by the meter (hours since insertion),
///     `movement_0_12_ratio` and `movement_12_24_ratio` by the trace (times the movement of later
///     days, which could be the day), each with ends and a reason; `mean_mg_dl`, and
///     `mean_without_mg_dl` without the first `left_out_h` hours. Nothing is taken out.
///
/// Raises
/// ------
/// GlycemicError
///     As for `drift`, and for a missing column.
///
/// Notes
/// -----
/// Source: Hansen, Econometrica 2000; 68: 575-603 (likelihood ratio of a change, from memory). For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> i = np.arange(8 * 288)
/// >>> sensor = gly.Trace(1_741_046_400_000 + i * 300_000, np.where(i < 288, 108, 100))
/// >>> t = gly.sensor.first_day(gly.Meter([], []), sensor)
/// >>> t["mean_mg_dl"].tolist(), t["mean_without_mg_dl"].tolist()
/// ([101.0], [100.0])
#[pyfunction]
#[pyo3(signature = (meter, sensor, meals=None, lag_min=0.0, level=0.95))]
fn first_day(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    lag_min: f64,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let meals = meal_times(meals, sensor.get())?;
        answer(py, meter, sensor, |meter, trace| {
            let found = sensor::first_day(meter, trace, &meals, pairing(lag_min), level)?;
            tables::first_day_table(&found)
        })
    })
}

/// Sensor - meter by hours since insertion: 0 to 6, 12, 24, 48, and later.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
///     With its changes of sensor.
/// lag_min : float
///     As for `drift`.
///
/// Returns
/// -------
/// Table
///     A row for each sensor and stretch of hours: `sensor`, `from_h`, `to_h` (missing in the
///     last), `pairs`, `mean_mg_dl`, `sd_mg_dl`.
///
/// Raises
/// ------
/// GlycemicError
///     As for `drift`.
///
/// Examples
/// --------
/// >>> sensor = gly.Trace([1_741_046_400_000], [110])
/// >>> t = gly.sensor.first_day_hours(gly.Meter([1_741_046_400_000], [100]), sensor)
/// >>> t["pairs"].tolist(), t["mean_mg_dl"].tolist()[0]
/// ([1, 0, 0, 0, 0], 10.0)
#[pyfunction]
#[pyo3(signature = (meter, sensor, lag_min=0.0))]
fn first_day_hours(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    lag_min: f64,
) -> PyResult<PyTable> {
    guard(|| {
        answer(py, meter, sensor, |meter, trace| {
            // The level is of intervals, of which these rows have none.
            let found = sensor::first_day(meter, trace, &[], pairing(lag_min), 0.95)?;
            tables::first_day_hours_table(&found)
        })
    })
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(drift, room)?)?;
    room.add_function(wrap_pyfunction!(fasting_drift, room)?)?;
    room.add_function(wrap_pyfunction!(steps, room)?)?;
    room.add_function(wrap_pyfunction!(first_day, room)?)?;
    room.add_function(wrap_pyfunction!(first_day_hours, room)?)
}
