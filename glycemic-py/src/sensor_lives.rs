//! How long sensors last.

use glycemic_core::error::require_same_len;
use glycemic_core::stats::survival::{cumulative_incidence, incidence_table, kaplan_meier};
use pyo3::prelude::*;

use crate::convert::{codes, floats};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::table::PyTable;

/// Times, and which of them end in a failure.
fn lives(times: &Bound<'_, PyAny>, failed: &Bound<'_, PyAny>) -> PyResult<(Vec<f64>, Vec<bool>)> {
    let (times, failed) = (floats(times, "times")?, floats(failed, "failed")?);
    require_same_len("failed", times.len(), failed.len()).map_err(to_py)?;
    if let Some(index) = failed.iter().position(|v| *v != 0.0 && *v != 1.0) {
        let message = format!("failed must be true or false, or 0 or 1, at index {index}");
        return Err(raise(&message, "out_of_range", "failed", Some(index)));
    }
    Ok((times, failed.iter().map(|v| *v == 1.0).collect()))
}

/// How long things last when some are still going: the Kaplan-Meier curve.
///
/// Parameters
/// ----------
/// times : array_like, shape (n,)
///     How long each was watched, in any unit, 0 or more.
/// failed : array_like of bool, shape (n,)
///     Whether it failed then; else it was still going.
/// level : float
///     Confidence level, 0.5-0.999.
///
/// Returns
/// -------
/// Table
///     A row for each failure time: `time`, `at_risk`, `failed`, `censored`, `survival`, `se`,
///     `low`, `high`. Several sensors of one person are not quite independent.
///
/// Raises
/// ------
/// GlycemicError
///     For no time, different lengths, NaN, negative times, or a level out of range.
///
/// Notes
/// -----
/// Source: Kaplan and Meier, J Am Stat Assoc 1958; 53: 457-481; log-log interval, Kalbfleisch and
/// Prentice 2002, section 1.4 (from memory). For education, coaching and research.
///
/// Examples
/// --------
/// >>> gly.sensor.survival([4, 8, 10, 14], [True, True, False, False])["survival"].tolist()
/// [0.75, 0.5]
#[pyfunction]
#[pyo3(signature = (times, failed, level=0.95))]
fn survival(
    py: Python<'_>,
    times: &Bound<'_, PyAny>,
    failed: &Bound<'_, PyAny>,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let (times, failed) = lives(times, failed)?;
        let table = compute(py, || kaplan_meier(&times, &failed, level)?.to_table())?;
        Ok(PyTable::new(table, true))
    })
}

/// The share that lasts a given time, or the median time.
///
/// Parameters
/// ----------
/// times, failed : array_like, shape (n,)
///     As for `survival`.
/// at : float, optional
///     The time; without it the median.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Estimate
///     A share from 0 to 1, or a time; not estimable beyond what was watched.
///
/// Raises
/// ------
/// GlycemicError
///     As for `survival`, and for a negative time.
///
/// Notes
/// -----
/// Source: as for `survival`; median: Brookmeyer and Crowley, Biometrics 1982; 38: 29-41 (from
/// memory). For education, coaching and research.
///
/// Examples
/// --------
/// >>> gly.sensor.lasts([4, 8, 10, 14], [True, True, False, False], at=9).value
/// 0.5
/// >>> gly.sensor.lasts([4, 8, 10, 14], [True, False, False, False]).estimable
/// False
#[pyfunction]
#[pyo3(signature = (times, failed, at=None, level=0.95))]
fn lasts(
    py: Python<'_>,
    times: &Bound<'_, PyAny>,
    failed: &Bound<'_, PyAny>,
    at: Option<f64>,
    level: f64,
) -> PyResult<PyEstimate> {
    guard(|| {
        let (times, failed) = lives(times, failed)?;
        let found = compute(py, || {
            let curve = kaplan_meier(&times, &failed, level)?;
            at.map_or_else(|| Ok(curve.median()), |at| curve.at(at))
        })?;
        Ok(PyEstimate::from(found))
    })
}

/// Incidence of each cause of failure when there are several.
///
/// Parameters
/// ----------
/// times : array_like, shape (n,)
///     How long each was watched.
/// cause : array_like of int, shape (n,)
///     Which cause ended it, from 1; 0 where it was still going.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     By cause, a row for each failure time of any: `cause`, `time`, `incidence`, `se`, `low`,
///     `high`. At each time incidences and survival add up to 1.
///
/// Raises
/// ------
/// GlycemicError
///     As for `survival`, and for a negative cause.
///
/// Notes
/// -----
/// Source: Aalen and Johansen, Scand J Stat 1978; 5: 141-150. For education, coaching and research.
///
/// Examples
/// --------
/// >>> t = gly.sensor.incidence([1, 2, 3, 4], [1, 2, 0, 1])
/// >>> t["cause"].tolist(), t["incidence"].tolist()
/// ([1, 1, 1, 2, 2, 2], [0.25, 0.25, 0.75, 0.0, 0.25, 0.25])
#[pyfunction]
#[pyo3(signature = (times, cause, level=0.95))]
fn incidence(
    py: Python<'_>,
    times: &Bound<'_, PyAny>,
    cause: &Bound<'_, PyAny>,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let (times, cause) = (floats(times, "times")?, codes(Some(cause))?.unwrap_or_default());
        let whole = |(index, c): (usize, &i64)| {
            u32::try_from(*c).map_err(|_| {
                let message = format!("cause must be 0 or more, got {c} at index {index}");
                raise(&message, "out_of_range", "cause", Some(index))
            })
        };
        let cause: Vec<u32> = cause.iter().enumerate().map(whole).collect::<PyResult<_>>()?;
        let rows = compute(py, || incidence_table(&cumulative_incidence(&times, &cause, level)?))?;
        Ok(PyTable::new(rows, true))
    })
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(survival, room)?)?;
    room.add_function(wrap_pyfunction!(lasts, room)?)?;
    room.add_function(wrap_pyfunction!(incidence, room)?)
}
