//! Straight lines between two methods that both err.

use glycemic_core::agreement::{self, MethodLine};
use pyo3::prelude::*;

use crate::agreement_words::estimate;
use crate::convert::floats;
use crate::error::{compute, guard};
use crate::estimate::PyEstimate;
use crate::record::record;

record! {
    /// A line y = intercept + slope x. For education, coaching and research; not a medical
    /// device.
    PyMethodLine as "MethodLine" {
        /// Pairs.
        n: usize,
        /// Slope, an Estimate.
        slope: Py<PyEstimate>,
        /// Intercept in the unit of the values, an Estimate.
        intercept: Py<PyEstimate>,
        /// Standard error of the slope; None where there is none.
        slope_se: Option<f64>,
        /// Standard error of the intercept; None where there is none.
        intercept_se: Option<f64>,
    }
}

record! {
    /// A line from the ranks of all slopes. For education, coaching and research; not a medical
    /// device.
    PyPassingBablok as "PassingBablok" {
        /// Pairs.
        n: usize,
        /// Slope, an Estimate.
        slope: Py<PyEstimate>,
        /// Intercept in the unit of the values, an Estimate.
        intercept: Py<PyEstimate>,
        /// Slopes used.
        slopes: usize,
        /// Slopes below -1, by which the median is shifted.
        shift: usize,
        /// Largest cumulative sum of the scores; None when all points lie on one side.
        cusum: Option<f64>,
        /// p value of linearity; a small one speaks against a straight line.
        linearity_p: Option<f64>,
    }
}

type Fit = fn(&[f64], &[f64], f64, f64) -> Result<MethodLine, glycemic_core::Error>;

fn fitted(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    variance_ratio: f64,
    level: f64,
    fit: Fit,
) -> PyResult<PyMethodLine> {
    guard(|| {
        let (x, y) = (floats(x, "x")?, floats(y, "y")?);
        let found = compute(py, || fit(&x, &y, variance_ratio, level))?;
        Ok(PyMethodLine {
            n: found.n,
            slope: estimate(py, found.slope)?,
            intercept: estimate(py, found.intercept)?,
            slope_se: found.slope_se,
            intercept_se: found.intercept_se,
        })
    })
}

/// Deming's line between two methods that both err by constant amounts.
///
/// Parameters
/// ----------
/// x, y : array_like, shape (n,)
///     Values of the two methods in one unit; n of at least 4.
/// variance_ratio : float
///     Var(error of y) / Var(error of x); some texts use the inverse.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// MethodLine
///     `slope` and `intercept` are Estimates, with jackknife intervals, pairs taken as
///     independent. A line that can't be told is an estimate with a reason.
///
/// Raises
/// ------
/// GlycemicError
///     For fewer than four pairs, different lengths, NaN, a ratio outside 1e-6 to 1e6.
///
/// Notes
/// -----
/// Source: Deming, Statistical adjustment of data (1943); Linnet, Stat Med 1990; 9: 1463-1473.
/// For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> line = gly.agreement.deming([1, 2, 3, 4], [3, 5, 7, 9])
/// >>> round(line.slope.value, 9), round(line.intercept.value, 9)
/// (2.0, 1.0)
#[pyfunction]
#[pyo3(signature = (x, y, variance_ratio=1.0, level=0.95))]
fn deming(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    variance_ratio: f64,
    level: f64,
) -> PyResult<PyMethodLine> {
    fitted(py, x, y, variance_ratio, level, agreement::deming)
}

/// Deming's line between two methods whose errors grow with the level.
///
/// Parameters
/// ----------
/// x, y : array_like, shape (n,)
///     Positive values of the two methods in one unit; n of at least 4.
/// variance_ratio : float
///     Var(error of y) / Var(error of x) at any one level.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// MethodLine
///
/// Raises
/// ------
/// GlycemicError
///     As `deming`, and for values that are not positive.
///
/// Notes
/// -----
/// Source: Linnet, Clin Chem 1993; 39: 424-432 (formulas from memory). For education, coaching
/// and research; not a medical device.
///
/// Examples
/// --------
/// >>> line = gly.agreement.weighted_deming([1, 2, 3, 4], [3, 5, 7, 9])
/// >>> round(line.slope.value, 9)
/// 2.0
#[pyfunction]
#[pyo3(signature = (x, y, variance_ratio=1.0, level=0.95))]
fn weighted_deming(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    variance_ratio: f64,
    level: f64,
) -> PyResult<PyMethodLine> {
    fitted(py, x, y, variance_ratio, level, agreement::weighted_deming)
}

/// A straight line between two methods from the ranks of all slopes.
///
/// Parameters
/// ----------
/// x, y : array_like, shape (n,)
///     Values of the two methods in one unit; n from 5 to 5,000.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// PassingBablok
///     `slope` and `intercept` are Estimates; `linearity_p` tests whether a line fits.
///
/// Raises
/// ------
/// GlycemicError
///     For fewer or more pairs, different lengths, NaN, a level outside 0.5-0.999.
///
/// Notes
/// -----
/// Source: Passing and Bablok, J Clin Chem Clin Biochem 1983; 21: 709-720. For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> p = gly.agreement.passing_bablok([1, 2, 3, 4, 5], [1, 4, 7, 10, 13])
/// >>> p.slope.value, p.intercept.value
/// (3.0, -2.0)
#[pyfunction]
#[pyo3(signature = (x, y, level=0.95))]
fn passing_bablok(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    level: f64,
) -> PyResult<PyPassingBablok> {
    guard(|| {
        let (x, y) = (floats(x, "x")?, floats(y, "y")?);
        let found = compute(py, || agreement::passing_bablok(&x, &y, level))?;
        Ok(PyPassingBablok {
            n: found.line.n,
            slope: estimate(py, found.line.slope)?,
            intercept: estimate(py, found.line.intercept)?,
            slopes: found.slopes,
            shift: found.shift,
            cusum: found.cusum,
            linearity_p: found.linearity_p,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyMethodLine>()?;
    m.add_class::<PyPassingBablok>()?;
    room.add_function(wrap_pyfunction!(deming, room)?)?;
    room.add_function(wrap_pyfunction!(weighted_deming, room)?)?;
    room.add_function(wrap_pyfunction!(passing_bablok, room)?)
}
