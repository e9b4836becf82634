//! Readings that failed to come, how noisy those that came are, and the alarms they would sound.

use glycemic_core::panel::episodes::Side;
use glycemic_core::sensor::alarms::{self as sounded, CAUTION, Level, Rearm};
use glycemic_core::sensor::{drop_outs as lost, noise as noisy, tables};
use glycemic_core::units::Limit;
use pyo3::prelude::*;

use crate::agreement_words::{choice, estimate};
use crate::error::{compute, guard};
use crate::estimate::PyEstimate;
use crate::meter::PyMeter;
use crate::record::record;
use crate::sensor_trace::{Beside, table, words};
use crate::series::PyTrace;
use crate::table::PyTable;
use crate::wear::read_wear;

record! {
    /// When readings failed to come. For education, coaching and research; not a medical device.
    PyDropOuts as "DropOuts" {
        /// A row for each drop-out, in order of time.
        table: Py<PyTable>,
        /// Data capture of each sensor (no wear day), then of each of its wear days.
        capture: Py<PyTable>,
        /// A row for each sensor: days, wait, loss in the first hours, whether it failed.
        sensors: Py<PyTable>,
        /// Drop-outs in a day, an Estimate.
        per_day: Py<PyEstimate>,
        /// Drop-outs up to 20, 60 and 180 minutes, and longer.
        by_length: Vec<usize>,
        /// Readings lost by the local hour in which the drop-out begins; None without a zone.
        lost_by_hour: Option<Vec<usize>>,
        /// Sensors noted as failed.
        failed: usize,
    }

    fn __len__(&self) -> usize {
        self.table.get().inner.rows()
    }
}

record! {
    /// How noisy a sensor is. For education, coaching and research; not a medical device.
    PySensorNoise as "SensorNoise" {
        /// A row for each wear day.
        table: Py<PyTable>,
        /// Jitter of the whole wear, mg/dL, an Estimate.
        jitter_mg_dl: Py<PyEstimate>,
        /// Which readings it is from: after_meals, nights or all.
        readings: String,
        /// Noise in windows without food, SD in mg/dL; None with a reason.
        sd_mg_dl: Option<f64>,
        /// A smaller rise can't be told from no food, mg/dL.
        floor_rise_mg_dl: Option<f64>,
        /// Windows without food.
        windows: Option<usize>,
        /// Why that noise can't be told.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }
}

record! {
    /// Alarms that levels would sound. For education, coaching and research; not a medical device.
    PyAlarms as "Alarms" {
        /// A row for each alarm, in order of time.
        table: Py<PyTable>,
        /// A row for each level.
        levels: Py<PyTable>,
        /// Alarms that were noted without one worked out near them, UTC milliseconds.
        noted_only_ms: Vec<i64>,
        /// What goes with every count here.
        caution: String,
    }

    fn __len__(&self) -> usize {
        self.table.get().inner.rows()
    }
}

/// Drop-outs and data capture.
///
/// Parameters
/// ----------
/// trace : Trace
/// wear : frame, optional
///     As for `steps`; without it sensors run from change to change of the trace.
/// first_hours : float
///     Hours after the first reading whose loss is told apart, 1 to 48.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// DropOuts
///     Its `table` has `sensor`, `wear_day`, `from_ms`, `to_ms`, `minutes`, `lost`, `hour`; its
///     `capture` has `sensor`, `wear_day`, `readings`, `expected`, `capture_pct`, `longest_min`.
///
/// Raises
/// ------
/// GlycemicError
///     For an option out of range, a missing column or an unknown event.
///
/// Notes
/// -----
/// Source: Battelino et al., Diabetes Care 2019; 42: 1593-1603 (readings over expected). For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> i = np.array([k for k in range(288) if not 100 <= k < 106])
/// >>> trace = gly.Trace(1_741_046_400_000 + i * 300_000, [100] * 282)
/// >>> found = gly.sensor.drop_outs(trace)
/// >>> found.table["minutes"].tolist(), found.table["lost"].tolist()
/// ([35.0], [6])
/// >>> found.capture["capture_pct"].round(1).tolist()[0]
/// 97.9
#[pyfunction]
#[pyo3(signature = (trace, wear=None, first_hours=12.0, level=0.95))]
fn drop_outs(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    wear: Option<&Bound<'_, PyAny>>,
    first_hours: f64,
    level: f64,
) -> PyResult<PyDropOuts> {
    guard(|| {
        let trace = trace.get();
        let events = read_wear(wear, trace.inner.clock())?;
        let (found, rows, capture, sensors) = compute(py, || {
            let found = lost::drop_outs(&trace.inner, &events, first_hours, level)?;
            let (rows, capture) = (found.table()?, found.capture_table()?);
            let sensors = tables::wear_table(&found)?;
            Ok((found, rows, capture, sensors))
        })?;
        Ok(PyDropOuts {
            table: table(py, rows, trace)?,
            capture: table(py, capture, trace)?,
            sensors: table(py, sensors, trace)?,
            per_day: estimate(py, found.per_day)?,
            by_length: found.by_length.to_vec(),
            lost_by_hour: found.lost_by_hour.ok().map(|hours| hours.to_vec()),
            failed: found.failed,
        })
    })
}

/// How noisy a sensor is, over the wear and by wear day.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals : frame, optional
///     The diary, as for `meals.responses`.
/// wear : frame, optional
///     As for `steps`.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// SensorNoise
///     Its `table` has `sensor`, `wear_day`, `jitter_mg_dl` with its ends, `stretches`, `reason`.
///
/// Raises
/// ------
/// GlycemicError
///     For a level out of range, a missing column or an unknown event.
///
/// Notes
/// -----
/// Jitter is how far a quarter of an hour stands from the middle of its neighbours: quick noise, not
/// slow drift. A convention of this library. For education, coaching and research; not a medical
/// device.
///
/// Examples
/// --------
/// >>> i = np.arange(288)
/// >>> trace = gly.Trace(1_741_000_000_000 + i * 300_000, np.where(i // 3 % 2 == 0, 104, 100))
/// >>> found = gly.sensor.noise(trace)
/// >>> round(found.jitter_mg_dl.value, 6), found.readings, found.reason_code
/// (4.0, 'all', 'too_few_windows')
#[pyfunction]
#[pyo3(signature = (trace, meals=None, wear=None, level=0.95))]
fn noise(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: Option<&Bound<'_, PyAny>>,
    wear: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PySensorNoise> {
    guard(|| {
        let trace = trace.get();
        let b = Beside::read(trace, meals, None, None)?;
        let events = read_wear(wear, trace.inner.clock())?;
        let (found, rows) = compute(py, || {
            let found = noisy::level(&b.trace, &b.meals, &events, level)?;
            let rows = found.table()?;
            Ok((found, rows))
        })?;
        let (reason, reason_code) = words(found.noise.as_ref().err());
        let noise = found.noise.as_ref().ok();
        Ok(PySensorNoise {
            table: table(py, rows, trace)?,
            jitter_mg_dl: estimate(py, found.jitter_mg_dl)?,
            readings: found.from,
            sd_mg_dl: noise.map(|n| n.sd_mg_dl),
            floor_rise_mg_dl: noise.map(|n| n.floor_rise_mg_dl),
            windows: noise.map(|n| n.windows),
            reason,
            reason_code,
        })
    })
}

/// The levels of a list, or below 70 and above 180 mg/dL.
fn read_levels(levels: Option<Vec<(String, String, f64)>>) -> PyResult<Vec<Level>> {
    let Some(levels) = levels else { return Ok(vec![Level::low(), Level::high()]) };
    let sides = [("below", Side::Below), ("above", Side::Above)];
    let level = |(name, side, mg_dl): (String, String, f64)| {
        let side = choice("levels", &side, &sides, "below, above")?;
        Ok(Level { name, side, limit: Limit::custom_mg_dl(mg_dl) })
    };
    levels.into_iter().map(level).collect()
}

/// The alarms that levels would sound, what a meter says of them, and which were noted.
///
/// Parameters
/// ----------
/// trace : Trace
/// levels : list of (name, "below" or "above", mg_dl), optional
///     Without it ("low", "below", 70) and ("high", "above", 180).
/// meter : Meter, optional
///     A reading within 15 minutes confirms or contradicts an alarm.
/// wear : frame, optional
///     As for `steps`; its "alarm" events are alarms that were noted.
/// back_mg_dl : float
///     An alarm is armed again when a reading is back by so much, 0 to 100 mg/dL.
/// snooze_min : float, optional
///     In place of it: so many minutes after it sounded, 1 to 1440.
/// meter_ahead_min : float
///     Minutes by which the meter's clock is ahead of the sensor's.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Alarms
///     Its `table` has `level`, `time_ms`, `glucose_mg_dl`, `hour`, `night`, `checked` (confirmed,
///     contradicted, nobody_checked), `meter_mg_dl`, `noted_ms`; its `levels` have counts, rates per
///     day and night with their ends, and the share confirmed. These counts are no reason to switch
///     an alarm off.
///
/// Raises
/// ------
/// GlycemicError
///     For no level, an unknown side, an option out of range, or clocks that don't match.
///
/// Notes
/// -----
/// Source: counts; intervals by days, and exact for shares (Clopper and Pearson, Biometrika 1934; 26:
/// 404-413). For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> i = np.arange(8)
/// >>> trace = gly.Trace(1_741_000_000_000 + i * 300_000, [80, 69, 72, 68, 75, 66, 80, 90])
/// >>> found = gly.sensor.alarms(trace)
/// >>> found.table["glucose_mg_dl"].tolist(), found.table["checked"].tolist()
/// ([69.0, 66.0], ['nobody_checked', 'nobody_checked'])
#[pyfunction]
#[pyo3(signature = (trace, levels=None, meter=None, wear=None, back_mg_dl=5.0, snooze_min=None,
                    meter_ahead_min=0.0, level=0.95))]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn alarms(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    levels: Option<Vec<(String, String, f64)>>,
    meter: Option<&Bound<'_, PyMeter>>,
    wear: Option<&Bound<'_, PyAny>>,
    back_mg_dl: f64,
    snooze_min: Option<f64>,
    meter_ahead_min: f64,
    level: f64,
) -> PyResult<PyAlarms> {
    guard(|| {
        let trace = trace.get();
        let b = Beside::read(trace, None, None, meter)?;
        let events = read_wear(wear, trace.inner.clock())?;
        let levels = read_levels(levels)?;
        let back = Rearm::Back { mg_dl: back_mg_dl };
        let rearm = snooze_min.map_or(back, |minutes| Rearm::Snooze { minutes });
        let (found, rows, by_level) = compute(py, || {
            let meter = b.meter.as_deref();
            let found =
                sounded::alarms(&b.trace, &levels, rearm, meter, meter_ahead_min, &events, level)?;
            let (rows, by_level) = (found.table()?, tables::alarm_levels_table(&found.levels)?);
            Ok((found, rows, by_level))
        })?;
        Ok(PyAlarms {
            table: table(py, rows, trace)?,
            levels: table(py, by_level, trace)?,
            noted_only_ms: found.noted_only_ms,
            caution: CAUTION.to_string(),
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyDropOuts>()?;
    m.add_class::<PySensorNoise>()?;
    m.add_class::<PyAlarms>()?;
    room.add_function(wrap_pyfunction!(drop_outs, room)?)?;
    room.add_function(wrap_pyfunction!(noise, room)?)?;
    room.add_function(wrap_pyfunction!(alarms, room)?)
}
