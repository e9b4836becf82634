//! Area under a curve.

use glycemic_core::area;
use pyo3::prelude::*;

use crate::convert::floats;
use crate::error::{compute, guard, to_py};

/// Area of a curve measured from zero, by the trapezoidal rule.
///
/// Parameters
/// ----------
/// minutes, values : array_like, shape (n,)
///     At least two points, times rising strictly.
///
/// Returns
/// -------
/// float
///     Area in the unit of `values` times minutes.
///
/// Raises
/// ------
/// GlycemicError
///     If a value is not finite, a time does not rise, or there are fewer than two.
///
/// Examples
/// --------
/// >>> gly.area.total([0, 30, 60], [90, 150, 90])
/// 7200.0
#[pyfunction]
fn total(py: Python<'_>, minutes: &Bound<'_, PyAny>, values: &Bound<'_, PyAny>) -> PyResult<f64> {
    guard(|| {
        let (minutes, values) = (floats(minutes, "minutes")?, floats(values, "values")?);
        compute(py, || area::total(&minutes, &values))
    })
}

/// Area of a curve measured from a baseline, by the trapezoidal rule.
///
/// Parameters
/// ----------
/// minutes, values : array_like, shape (n,)
///     At least two points, times rising strictly.
/// baseline : float, optional
///     The level that counts as zero, in the unit of `values`. Default: the first value.
/// rule : {"positive", "net", "until_return"}
///     What becomes of the part below the baseline: dropped, subtracted, or the area ends where
///     the curve first returns to it.
///
/// Returns
/// -------
/// float
///     Area in the unit of `values` times minutes.
///
/// Raises
/// ------
/// GlycemicError
///     If a value is not finite, a time does not rise, or there are fewer than two.
///
/// Notes
/// -----
/// Source: FAO/WHO, Carbohydrates in human nutrition, FAO Food and Nutrition Paper 66 (1998),
/// chapter 4, for the positive rule; Wolever TMS, Br J Nutr 2004; 91: 295-301 for the others.
///
/// Examples
/// --------
/// >>> gly.area.incremental([0, 30, 60], [90, 150, 90])
/// 1800.0
#[pyfunction]
#[pyo3(signature = (minutes, values, baseline=None, rule="positive"))]
fn incremental(
    py: Python<'_>,
    minutes: &Bound<'_, PyAny>,
    values: &Bound<'_, PyAny>,
    baseline: Option<f64>,
    rule: &str,
) -> PyResult<f64> {
    guard(|| {
        let (minutes, values) = (floats(minutes, "minutes")?, floats(values, "values")?);
        let rule = rule.parse().map_err(to_py)?;
        compute(py, || area::incremental(&minutes, &values, baseline, rule))
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    let area = PyModule::new(m.py(), "glycemic.area")?;
    area.setattr("__doc__", "Area under a curve, by the trapezoidal rule.")?;
    area.add_function(wrap_pyfunction!(total, &area)?)?;
    area.add_function(wrap_pyfunction!(incremental, &area)?)?;
    m.add("area", area)
}
