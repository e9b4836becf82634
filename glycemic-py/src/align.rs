//! Pairs of meter and sensor, and the shift between them.

use glycemic_core::align::{self, Pairs};
use glycemic_core::clock::LocalClock;
use pyo3::prelude::*;

use crate::convert::{array, array_of_some};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::meter::PyMeter;
use crate::record::record;
use crate::series::PyTrace;
use crate::table::PyTable;

record! {
    /// A meter reading without a pair.
    PyUnpaired as "Unpaired" {
        /// Time of the meter reading, UTC milliseconds.
        time_ms: i64,
        /// Its value, mg/dL.
        glucose_mg_dl: f64,
        /// outside_wear, no_reading_near, sensor_at_limit, calibration or sensor_reading_used.
        why: String,
    }
}

record! {
    /// Paired values, in order of time; columns are read-only NumPy arrays.
    PyPairs as "Pairs" {
        /// Times on the meter's clock, UTC milliseconds.
        times_ms: Py<PyAny>,
        /// The meter, mg/dL; the mean of a burst.
        reference_mg_dl: Py<PyAny>,
        /// The sensor, mg/dL.
        measured_mg_dl: Py<PyAny>,
        /// Rate of change by the sensor, mg/dL per minute; NaN where it can't be told.
        rate_mg_dl_min: Py<PyAny>,
        /// Number of the local day (UTC without a zone): a cluster for `agreement`.
        day: Py<PyAny>,
        /// Meter readings in each pair.
        readings: Vec<usize>,
        /// What was noted about the meter reading.
        context: Vec<String>,
        /// Meter readings without a pair, and why.
        unpaired: Vec<Py<PyUnpaired>>,
        /// SD of readings within bursts, mg/dL, pooled; None without bursts.
        repeat_sd_mg_dl: Option<f64>,
        /// Which sensor, where events say; else None.
        sensor: Vec<Option<String>>,
        /// Day of wear of that sensor, from 1; NaN where its insertion isn't known.
        wear_day: Py<PyAny>,
        /// Local hour, 0 to below 24, with its fraction; NaN without a zone.
        local_hour: Py<PyAny>,
        /// Minutes from the meter's time (and the lag) to the nearer sensor reading used.
        away_min: Py<PyAny>,
        /// Pairs outside the range of a device: a Table with what each showed.
        outside: Py<PyTable>,
        /// Meter readings left out because only the first of a burst counts.
        left_in_bursts: usize,
    }

    fn __len__(&self) -> usize {
        self.readings.len()
    }
}

/// Refuses a pair of series of which one has local times of an unknown zone and one has not.
pub(crate) fn check_clocks(meter: &PyMeter, sensor: &PyTrace) -> PyResult<()> {
    let meter_zoned = !meter.clock.as_ref().is_some_and(LocalClock::is_floating);
    if meter_zoned == sensor.zoned() {
        return Ok(());
    }
    let message = "one of meter and sensor has local times without a zone, the other has not: give \
                   both a zone";
    Err(raise(message, "mixed_times", "zone", None))
}

/// Pairs a meter's readings with a sensor's.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
/// window_min : float
///     How far a sensor reading may be from the meter's time, minutes.
/// how : {"nearest", "interpolate"}
/// lag_min : float
///     The sensor is read that much later, minutes.
///
/// Returns
/// -------
/// Pairs
///     Meter readings within two minutes of the one before are one pair, their mean.
///
/// Raises
/// ------
/// GlycemicError
///     For a window outside 0.1 to 60, a lag outside -1440 to 1440, or clocks that don't match.
///
/// Examples
/// --------
/// >>> sensor = gly.Trace(["2025-03-14T07:30Z", "2025-03-14T07:35Z"], [100, 110])
/// >>> meter = gly.Meter(["2025-03-14T07:31Z"], [96])
/// >>> pairs = gly.align.pair(meter, sensor)
/// >>> pairs.reference_mg_dl.tolist(), pairs.measured_mg_dl.tolist()
/// ([96.0], [100.0])
#[pyfunction]
#[pyo3(signature = (meter, sensor, window_min=5.0, how="nearest", lag_min=0.0))]
fn pair(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    window_min: f64,
    how: &str,
    lag_min: f64,
) -> PyResult<PyPairs> {
    guard(|| {
        let (meter, sensor) = (meter.get(), sensor.get());
        check_clocks(meter, sensor)?;
        let how = how.parse().map_err(to_py)?;
        let pairs =
            compute(py, || align::pair(&meter.inner, &sensor.inner, window_min, how, lag_min))?;
        columns(py, pairs, sensor.zoned())
    })
}

/// Pairs as Python's.
pub(crate) fn columns(py: Python<'_>, pairs: Pairs, zoned: bool) -> PyResult<PyPairs> {
    let outside = PyTable::new(pairs.outside_table().map_err(to_py)?, zoned);
    let wear_day: Vec<Option<f64>> = pairs.wear_day.iter().map(|d| d.map(|d| d as f64)).collect();
    let unpaired = pairs.unpaired.iter().map(|u| {
        let (time_ms, glucose_mg_dl, why) = (u.time_ms, u.glucose_mg_dl, u.why.to_string());
        Py::new(py, PyUnpaired { time_ms, glucose_mg_dl, why })
    });
    Ok(PyPairs {
        times_ms: array(py, &pairs.times_ms)?,
        reference_mg_dl: array(py, &pairs.reference_mg_dl)?,
        measured_mg_dl: array(py, &pairs.measured_mg_dl)?,
        rate_mg_dl_min: array_of_some(py, &pairs.rate_mg_dl_min)?,
        day: array(py, &pairs.day)?,
        wear_day: array_of_some(py, &wear_day)?,
        local_hour: array_of_some(py, &pairs.local_hour)?,
        away_min: array(py, &pairs.away_min)?,
        outside: Py::new(py, outside)?,
        left_in_bursts: pairs.left_in_bursts,
        sensor: pairs.sensor,
        unpaired: unpaired.collect::<PyResult<_>>()?,
        readings: pairs.readings,
        context: pairs.context,
        repeat_sd_mg_dl: pairs.repeat_sd_mg_dl,
    })
}

/// How much later the sensor shows what the meter showed.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Estimate
///     `minutes`, positive when the sensor is later, less what the meter's clock is ahead. Not
///     estimable with too few meter readings, too little movement at them, or a clock that looks wrong
///     by hours (see `clock_error`).
///
/// Notes
/// -----
/// Source: Fabris and Kovatchev (eds), Glucose Monitoring Devices (2020), p. 244. For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> sensor = gly.Trace(["2025-03-14T07:30Z", "2025-03-14T07:35Z"], [100, 110])
/// >>> lag = gly.align.lag(gly.Meter(["2025-03-14T07:31Z"], [96]), sensor)
/// >>> lag.minutes, lag.estimable, lag.reason_code
/// (None, False, 'too_few_moving_pairs')
#[pyfunction]
#[pyo3(signature = (meter, sensor, level=0.95))]
fn lag(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    level: f64,
) -> PyResult<PyEstimate> {
    guard(|| {
        let (meter, sensor) = (meter.get(), sensor.get());
        check_clocks(meter, sensor)?;
        compute(py, || align::lag(&meter.inner, &sensor.inner, level)).map(PyEstimate::from)
    })
}

/// How much the meter's clock is ahead of the sensor's.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
/// lag_prior_min : tuple of float, optional
///     (lag, its standard error) in minutes, known from elsewhere, each from 0 to 60. Without it
///     clock and lag are one sum, and the answer says so.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Estimate
///     `minutes`. For education, coaching and research; not a medical device.
#[pyfunction]
#[pyo3(signature = (meter, sensor, lag_prior_min=None, level=0.95))]
fn clock_offset(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    lag_prior_min: Option<(f64, f64)>,
    level: f64,
) -> PyResult<PyEstimate> {
    guard(|| {
        let (meter, sensor) = (meter.get(), sensor.get());
        check_clocks(meter, sensor)?;
        compute(py, || align::clock_offset(&meter.inner, &sensor.inner, lag_prior_min, level))
            .map(PyEstimate::from)
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyPairs>()?;
    m.add_class::<PyUnpaired>()?;
    let room = PyModule::new(m.py(), "glycemic.align")?;
    room.setattr("__doc__", "Bringing two series together in time: pairs, and the shift.")?;
    room.add_function(wrap_pyfunction!(pair, &room)?)?;
    room.add_function(wrap_pyfunction!(lag, &room)?)?;
    room.add_function(wrap_pyfunction!(clock_offset, &room)?)?;
    crate::align_clock::register(m, &room)?;
    crate::align_rules::register(m, &room)?;
    m.add("align", room)
}
