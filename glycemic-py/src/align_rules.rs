//! Pairing by stated rules, and how much the figures hang on them.

use glycemic_core::align::{self, PairOptions};
use pyo3::prelude::*;

use crate::align::{PyPairs, check_clocks, columns};
use crate::error::{compute, guard, to_py};
use crate::meter::PyMeter;
use crate::record::record;
use crate::sensor_trace::{table, words};
use crate::series::PyTrace;
use crate::table::PyTable;
use crate::wear::read_wear;

record! {
    /// Figures of agreement over a stated set of pairing rules. For education, coaching and
    /// research; not a medical device.
    PyPairingSensitivity as "PairingSensitivity" {
        /// A row for each set of rules: the rules, n, figures with their ends, verdicts.
        table: Py<PyTable>,
        /// For each figure and choice: the figure by the rules asked for, lowest and highest over
        /// all rules, and how far the choice alone moves it.
        spread: Py<PyTable>,
        /// Verdicts that are not the same by all rules: iso, bias, share_95.
        verdicts_that_change: Vec<String>,
        /// Why there is no spread.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }
}

/// Rules of pairing from what Python gives.
#[allow(clippy::too_many_arguments, reason = "each is a rule")]
pub(crate) fn pairing_rules(
    window_min: f64,
    how: &str,
    lag_min: f64,
    bursts: &str,
    once: bool,
    calibrations_in: bool,
    calibration_min: f64,
    sensor_range_mg_dl: Option<(f64, f64)>,
    meter_range_mg_dl: Option<(f64, f64)>,
) -> PyResult<PairOptions> {
    Ok(PairOptions {
        window_min,
        how: how.parse().map_err(to_py)?,
        lag_min,
        bursts: bursts.parse().map_err(to_py)?,
        once,
        calibrations_in,
        calibration_min,
        sensor_range_mg_dl,
        meter_range_mg_dl,
        ..PairOptions::default()
    })
}

/// Pairs a meter's readings with a sensor's by stated rules, and counts all that is left out.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
/// wear : frame, optional
///     `time` (as for `Trace`) or `time_ms`, `event` ("inserted", "removed", "calibrated",
///     "failed", "alarm", "other") and, if there is one, `sensor`; `Trial.wear` is one. Without it
///     no sensor and no day of wear is known.
/// window_min : float
///     How far a sensor reading may be, minutes, 0.1 to 60.
/// how : {"nearest", "interpolate"}
/// lag_min : float
///     The sensor is read that much later, minutes, -1440 to 1440.
/// bursts : {"averaged", "first", "each"}
///     What becomes of meter readings within two minutes of the one before.
/// once : bool
///     Whether a sensor reading is used for one meter reading only.
/// calibrations_in : bool
///     Whether readings about a user's calibration count as pairs.
/// calibration_min : float
///     How long before a calibration a meter reading is left out, minutes, 0 to 240.
/// sensor_range, meter_range : tuple of float, optional
///     Lowest and highest value that the device reports, mg/dL; pairs outside are kept apart.
///
/// Returns
/// -------
/// Pairs
///
/// Raises
/// ------
/// GlycemicError
///     For an option out of range, an unknown word, a missing column, or clocks that don't match.
///
/// Notes
/// -----
/// Source: nearest within 5 minutes, each value used once: CLSI POCT05 (from memory).
///
/// Examples
/// --------
/// >>> start = 1_741_000_200_000
/// >>> sensor = gly.Trace(start + np.arange(12) * 300_000, [100] * 12)
/// >>> meter = gly.Meter([start + 1_260_000, start + 2_400_000], [104, 98])
/// >>> wear = {"time_ms": [start, start + 2_520_000], "event": ["inserted", "calibrated"]}
/// >>> pairs = gly.align.pair_by_rules(meter, sensor, wear)
/// >>> len(pairs), pairs.wear_day.tolist(), pairs.unpaired[0].why
/// (1, [1.0], 'calibration')
#[pyfunction]
#[pyo3(signature = (meter, sensor, wear=None, window_min=5.0, how="nearest", lag_min=0.0,
                    bursts="averaged", once=true, calibrations_in=false, calibration_min=15.0,
                    sensor_range=None, meter_range=None))]
#[allow(clippy::too_many_arguments, reason = "each is a rule")]
fn pair_by_rules(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    wear: Option<&Bound<'_, PyAny>>,
    window_min: f64,
    how: &str,
    lag_min: f64,
    bursts: &str,
    once: bool,
    calibrations_in: bool,
    calibration_min: f64,
    sensor_range: Option<(f64, f64)>,
    meter_range: Option<(f64, f64)>,
) -> PyResult<PyPairs> {
    guard(|| {
        let (meter, sensor) = (meter.get(), sensor.get());
        check_clocks(meter, sensor)?;
        let events = read_wear(wear, sensor.inner.clock())?;
        let options = pairing_rules(
            window_min,
            how,
            lag_min,
            bursts,
            once,
            calibrations_in,
            calibration_min,
            sensor_range,
            meter_range,
        )?;
        let pairs =
            compute(py, || align::pair_with(&meter.inner, &sensor.inner, &events, &options))?;
        columns(py, pairs, sensor.zoned())
    })
}

/// Figures of agreement by every set of pairing rules: window, how, lag, bursts, calibrations.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
/// wear : frame, optional
///     As for `pair_by_rules`.
/// estimated_lag_min : float, optional
///     A lag to read the sensor by, such as that of `lag`; varied only when given.
/// window_min, how, lag_min
///     The rules asked for, as for `pair_by_rules`.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// PairingSensitivity
///     With fewer than five pairs a row has a reason in place of figures.
///
/// Raises
/// ------
/// GlycemicError
///     As for `pair_by_rules`, and for a level out of range.
///
/// Notes
/// -----
/// Source: as for `pair_by_rules` and `agreement.summary`. For education, coaching and research;
/// not a medical device.
///
/// Examples
/// --------
/// >>> start = 1_741_000_200_000
/// >>> sensor = gly.Trace(start + np.arange(2000) * 300_000, [110] * 2000)
/// >>> meter = gly.Meter(start + 3_600_000 + np.arange(20) * 28_800_000, [100] * 20)
/// >>> found = gly.align.sensitivity(meter, sensor)
/// >>> len(found.table), found.spread["lowest"].tolist()[0], found.verdicts_that_change
/// (8, 10.0, [])
#[pyfunction]
#[pyo3(signature = (meter, sensor, wear=None, estimated_lag_min=None, window_min=5.0,
                    how="nearest", lag_min=0.0, level=0.95))]
#[allow(clippy::too_many_arguments, reason = "each is a rule")]
fn sensitivity(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    wear: Option<&Bound<'_, PyAny>>,
    estimated_lag_min: Option<f64>,
    window_min: f64,
    how: &str,
    lag_min: f64,
    level: f64,
) -> PyResult<PyPairingSensitivity> {
    guard(|| {
        let (meter, sensor) = (meter.get(), sensor.get());
        check_clocks(meter, sensor)?;
        let events = read_wear(wear, sensor.inner.clock())?;
        let how = how.parse().map_err(to_py)?;
        let base = PairOptions { window_min, how, lag_min, ..PairOptions::default() };
        let (found, rows, spread) = compute(py, || {
            let (m, s) = (&meter.inner, &sensor.inner);
            let found = align::pairing_sensitivity(m, s, &events, estimated_lag_min, &base, level)?;
            let (rows, spread) = (found.to_table()?, found.spread_table()?);
            Ok((found, rows, spread))
        })?;
        let (reason, reason_code) = words(found.reason.as_ref());
        let changing = found.verdicts_that_change.iter();
        Ok(PyPairingSensitivity {
            table: table(py, rows, sensor)?,
            spread: table(py, spread, sensor)?,
            verdicts_that_change: changing.map(|v| v.to_string()).collect(),
            reason,
            reason_code,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyPairingSensitivity>()?;
    room.add_function(wrap_pyfunction!(pair_by_rules, room)?)?;
    room.add_function(wrap_pyfunction!(sensitivity, room)?)
}
