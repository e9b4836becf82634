//! What the sensor itself did: the room, and setting a sensor by a meter.

use std::sync::Arc;

use glycemic_core::sensor::recalibrated::CAUTION;
use glycemic_core::sensor::{self, Pairing, Recalibration, tables};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::align::check_clocks;
use crate::error::{compute, guard, to_py};
use crate::meter::PyMeter;
use crate::record::plain;
use crate::series::{PyTrace, state, unstate};
use crate::table::PyTable;
use crate::{sensor_accounts, sensor_lives, sensor_meter, sensor_trace};

/// Whether to set the sensors of a trace by a meter, and by how much. Made by `sensor.recalibrate`.
///
/// Nothing is set until `apply` is called. For education, coaching and research; not a medical
/// device.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Recalibration")]
pub(crate) struct PyRecalibration {
    inner: Arc<Recalibration>,
    zoned: bool,
}

#[pymethods]
impl PyRecalibration {
    /// A row for each sensor: what to set (`kind`, `set_gain`, `set_offset_mg_dl`,
    /// `set_drift_mg_dl_day`), the mean difference from the meter (`offset_mg_dl`) and from blood
    /// (`offset_in_blood_mg_dl`) with their ends, `before_` and `after_` `bias_mg_dl`, `mard_pct`,
    /// `within_20_pct` with theirs, and `reason` where it is left as it is. `after` is from left-out
    /// days.
    #[getter]
    fn table(&self) -> PyResult<PyTable> {
        let table = tables::recalibration_table(&self.inner).map_err(to_py)?;
        Ok(PyTable::new(table, self.zoned))
    }

    /// How each kind did on left-out days: `sensor`, `kind`, `chosen`, `error_mg_dl`,
    /// `above_best_mg2_dl2` with its standard error, `reason`.
    #[getter]
    fn tried(&self) -> PyResult<PyTable> {
        Ok(PyTable::new(tables::tried_table(&self.inner).map_err(to_py)?, self.zoned))
    }

    /// Meter readings that were not used: `unpaired`, `fast`, `unsettled`.
    #[getter]
    fn left_out<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("unpaired", self.inner.left_out.unpaired)?;
        dict.set_item("fast", self.inner.left_out.fast)?;
        dict.set_item("unsettled", self.inner.left_out.unsettled)?;
        Ok(dict)
    }

    /// What `apply` does, a line for each sensor, and what was taken for granted.
    #[getter]
    fn provenance(&self) -> Vec<String> {
        self.inner.provenance()
    }

    /// What goes with every trace that was set.
    #[getter]
    fn caution(&self) -> &'static str {
        CAUTION
    }

    /// The trace set by what was found; the trace itself stays as it is.
    ///
    /// Parameters
    /// ----------
    /// trace : Trace
    ///     The one this was found for.
    ///
    /// Returns
    /// -------
    /// Trace
    ///     Rounded to the step of its unit; readings at a limit of the device stay there. Its
    ///     history is `provenance` and `applied`.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For a trace whose middle value would no longer be that of a living person.
    ///
    /// Examples
    /// --------
    /// >>> trace = gly.Trace([1_741_046_400_000], [100])
    /// >>> found = gly.sensor.recalibrate(gly.Meter([], []), trace)
    /// >>> found.apply(trace) == trace
    /// True
    fn apply(&self, py: Python<'_>, trace: &Bound<'_, PyTrace>) -> PyResult<PyTrace> {
        guard(|| {
            let trace = &trace.get().inner;
            Ok(PyTrace::from(compute(py, || self.inner.apply(trace))?.trace))
        })
    }

    /// What `apply` does to a trace, as data.
    ///
    /// Parameters
    /// ----------
    /// trace : Trace
    ///
    /// Returns
    /// -------
    /// Table
    ///     A row for each sensor that is set: `inserted_ms`, `first_ms`, `last_ms`, `kind`, `gain`,
    ///     `offset_mg_dl`, `drift_mg_dl_day`, `pairs`, `readings`.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     As `apply`.
    fn applied(&self, py: Python<'_>, trace: &Bound<'_, PyTrace>) -> PyResult<PyTable> {
        guard(|| {
            let trace = &trace.get().inner;
            let table = compute(py, || tables::applied_table(&self.inner.apply(trace)?))?;
            Ok(PyTable::new(table, self.zoned))
        })
    }

    /// All of it as plain data.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(slf.py());
        for name in ["table", "tried", "left_out", "provenance"] {
            dict.set_item(name, plain(&slf.getattr(name)?)?)?;
        }
        Ok(dict)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other
            .cast::<PyRecalibration>()
            .is_ok_and(|o| o.get().inner == self.inner && o.get().zoned == self.zoned)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let make = slf.py().import("glycemic._glycemic")?.getattr("_recalibration")?;
        let found = (state(&*slf.get().inner)?, slf.get().zoned);
        Ok((make, found.into_pyobject(slf.py())?))
    }

    fn __repr__(&self) -> String {
        let kinds: Vec<&str> = self.inner.sensors.iter().map(|s| s.kind.name()).collect();
        format!("Recalibration({})", kinds.join(", "))
    }
}

/// A recalibration from what its pickle holds.
#[pyfunction]
fn _recalibration(state: &str, zoned: bool) -> PyResult<PyRecalibration> {
    guard(|| Ok(PyRecalibration { inner: Arc::new(unstate(state)?), zoned }))
}

/// Whether to set each sensor by the meter, and by how much; nothing is set here.
///
/// Parameters
/// ----------
/// meter : Meter
/// sensor : Trace
///     With its changes of sensor (`Trace.with_breaks`; `Trial.sensor` has them).
/// lag_min, lag_se_min : float
///     The sensor is read that much later, minutes, and the standard error of that where it was
///     estimated (0 to 60).
/// meter_bias_pct : float
///     What is known of the meter's bias, percent of blood, -50 to 50.
/// meter_bias_sd_pct : float
///     Standard deviation of what is not known of it, percent, 0 to 50.
/// level : float
///     Confidence level, 0.5-0.999.
///
/// Returns
/// -------
/// Recalibration
///     With eight pairs on five days a sensor may be set by an offset, a gain, both or a drifting
///     offset, whichever predicts left-out days best; leaving it as it is wins ties.
///
/// Raises
/// ------
/// GlycemicError
///     For an option out of range, or clocks that don't match.
///
/// Notes
/// -----
/// Source: Freckmann et al., J Diabetes Sci Technol 2012; 6: 1060-1075 (meter bias); Breiman et al.,
/// Classification and regression trees, 1984 (one standard error, from memory). Agreement with this
/// meter is not agreement with blood; the device keeps showing what it shows. For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> start = 1_741_046_400_000
/// >>> sensor = gly.Trace(start + np.arange(10 * 288) * 300_000, [115] * 2880)
/// >>> meter = gly.Meter(start + np.arange(20) * 43_200_000 + 21_000_000, [99, 100, 101, 100] * 5)
/// >>> found = gly.sensor.recalibrate(meter, sensor)
/// >>> found.table["kind"].tolist(), found.apply(sensor).glucose_mg_dl.tolist()[0]
/// (['offset'], 100.0)
#[pyfunction]
#[pyo3(signature = (meter, sensor, lag_min=0.0, lag_se_min=0.0, meter_bias_pct=0.0,
                    meter_bias_sd_pct=6.0, level=0.95))]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn recalibrate(
    py: Python<'_>,
    meter: &Bound<'_, PyMeter>,
    sensor: &Bound<'_, PyTrace>,
    lag_min: f64,
    lag_se_min: f64,
    meter_bias_pct: f64,
    meter_bias_sd_pct: f64,
    level: f64,
) -> PyResult<PyRecalibration> {
    guard(|| {
        let (meter, sensor) = (meter.get(), sensor.get());
        check_clocks(meter, sensor)?;
        let pairing = Pairing { lag_min, lag_se_min, meter_bias_pct, ..Pairing::default() };
        let found = compute(py, || {
            sensor::recalibrate(&meter.inner, &sensor.inner, pairing, meter_bias_sd_pct, level)
        })?;
        Ok(PyRecalibration { inner: Arc::new(found), zoned: sensor.zoned() })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyRecalibration>()?;
    m.add_function(wrap_pyfunction!(_recalibration, m)?)?;
    let room = PyModule::new(m.py(), "glycemic.sensor")?;
    room.setattr("__doc__", "What the sensor itself did, and whether to set it by a meter.")?;
    room.add_function(wrap_pyfunction!(recalibrate, &room)?)?;
    sensor_meter::register(&room)?;
    sensor_trace::register(m, &room)?;
    sensor_lives::register(&room)?;
    sensor_accounts::register(m, &room)?;
    m.add("sensor", room)
}
