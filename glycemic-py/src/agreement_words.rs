//! Words that stand for choices of the agreement calls, and what those calls share.

use glycemic_core::agreement::{By, Share};
use glycemic_core::{Error, Estimate};
use pyo3::prelude::*;

use crate::convert::floats;
use crate::error::{raise, to_py};
use crate::estimate::PyEstimate;

/// An estimate as Python's.
pub(crate) fn estimate(py: Python<'_>, found: Estimate) -> PyResult<Py<PyEstimate>> {
    Py::new(py, PyEstimate::from(found))
}

/// A word among those that are known, as what it stands for.
pub(crate) fn choice<T: Copy>(
    name: &'static str,
    got: &str,
    known: &[(&str, T)],
    choices: &'static str,
) -> PyResult<T> {
    known
        .iter()
        .find(|k| k.0 == got)
        .map(|k| k.1)
        .ok_or_else(|| to_py(Error::UnknownChoice { name, got: got.to_string(), choices }))
}

/// Whose value decides.
pub(crate) fn by(name: &'static str, got: &str) -> PyResult<By> {
    let known = [("reference", By::Reference), ("measured", By::Measured)];
    choice(name, got, &known, "reference, measured")
}

/// Reference and measured values.
pub(crate) fn pairs(
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
) -> PyResult<(Vec<f64>, Vec<f64>)> {
    Ok((floats(reference, "reference")?, floats(measured, "measured")?))
}

/// A table of numbers, row after row, and the number of its columns.
pub(crate) fn matrix(values: &Bound<'_, PyAny>, argument: &str) -> PyResult<(Vec<f64>, usize)> {
    let array = values.py().import("numpy")?.call_method1("asarray", (values,));
    // NumPy makes no array of rows that differ in length.
    let shape: Vec<usize> = match &array {
        Ok(array) => array.getattr("shape")?.extract()?,
        Err(_) => Vec::new(),
    };
    match (array, shape.as_slice()) {
        (Ok(array), &[_, width]) => Ok((floats(&array.call_method0("ravel")?, argument)?, width)),
        _ => {
            let message = format!("{argument} must have two dimensions and rows of one length");
            Err(raise(&message, "shape", argument, None))
        }
    }
}

/// A share's number in percent, as a cell of a table.
pub(crate) fn percent(share: Option<&Share>, of: fn(&Share) -> f64) -> Option<f64> {
    share.map(|s| 100.0 * of(s))
}
