//! What changes a response, and by how much.

use glycemic_core::contrast::{self, Contrast};
use pyo3::prelude::*;

use crate::convert::{self, floats};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::record::record;

record! {
    /// An adjusted difference; it *went with* the exposure, and only a randomised one was caused
    /// by it. For education, coaching and research; not a medical device.
    PyContrast as "Contrast" {
        /// Outcome with the exposure less without it; None when it can't be told.
        difference: Option<f64>,
        /// Lower end of its interval.
        low: Option<f64>,
        /// Upper end of its interval.
        high: Option<f64>,
        /// The same as an Estimate.
        estimate: Py<PyEstimate>,
        /// Two-sided p value.
        p_value: Option<f64>,
        /// Rows used.
        n: usize,
        /// Rows with the exposure.
        n_exposed: usize,
        /// Rows left out because something in them was missing.
        n_missing: usize,
        /// The effect that such a trial sees with a power of 80 %.
        smallest_visible: Option<f64>,
        /// Residual standard deviation.
        residual_sd: Option<f64>,
    }

    /// Whether there is a difference to give.
    #[getter]
    fn estimable(&self) -> bool {
        self.difference.is_some()
    }

    /// Why not.
    #[getter]
    fn reason(&self) -> Option<String> {
        self.estimate.get().inner.reason.as_ref().map(|r| r.text.clone())
    }
}

/// Difference in an outcome with and without an exposure, adjusted for other columns.
///
/// Parameters
/// ----------
/// r : Responses or frame
///     Rows with the named columns; rows where one of them is missing are left out and counted.
///     Filter in your own frame for rows that are comparable.
/// by : str
///     The exposure: a column of true and false, or 0 and 1.
/// outcome : str
///     The column compared.
/// adjust : list of str
///     Columns of numbers to adjust for.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Contrast
///     In the unit of the outcome. Not estimable with fewer than four rows on a side.
///
/// Raises
/// ------
/// GlycemicError
///     For a missing column, or an exposure that is not 0 or 1.
///
/// Notes
/// -----
/// Source: Draper and Smith, Applied Regression Analysis (1998), chapter 14; smallest visible
/// effect: Bloom, Evaluation Review 1995; 19: 547-556. For education, coaching and research; not
/// a medical device.
///
/// Examples
/// --------
/// >>> rows = {"walk": [0, 0, 0, 0, 1, 1, 1, 1], "rise_mg_dl": [29, 31, 30, 30, 24, 26, 25, 25]}
/// >>> c = gly.contrast.compare(rows, by="walk", adjust=[])
/// >>> round(c.difference, 9), c.n, c.n_exposed
/// (-5.0, 8, 4)
#[pyfunction]
#[pyo3(signature = (r, by, outcome="rise_mg_dl", adjust=vec!["net_carbs_g".to_string()], level=0.95),
       text_signature = "(r, by, outcome='rise_mg_dl', adjust=['net_carbs_g'], level=0.95)")]
fn compare(
    py: Python<'_>,
    r: &Bound<'_, PyAny>,
    by: &str,
    outcome: &str,
    adjust: Vec<String>,
    level: f64,
) -> PyResult<PyContrast> {
    guard(|| {
        let columns = convert::columns(r, "r")?;
        let read = |name: &str| floats(&convert::column(&columns, name, "r")?, name);
        let (exposed, values) = (read(by)?, read(outcome)?);
        let adjust: Vec<Vec<f64>> = adjust.iter().map(|a| read(a)).collect::<PyResult<_>>()?;
        for column in adjust.iter().chain([&values]) {
            glycemic_core::error::require_same_len("column", exposed.len(), column.len())
                .map_err(to_py)?;
        }
        if let Some(index) = exposed.iter().position(|v| !(v.is_nan() || *v == 0.0 || *v == 1.0)) {
            let message = format!("{by} must be true or false, or 0 or 1, at index {index}");
            return Err(raise(&message, "out_of_range", by, Some(index)));
        }
        let whole = |i: &usize| {
            let i = *i;
            !exposed[i].is_nan() && !values[i].is_nan() && adjust.iter().all(|a| !a[i].is_nan())
        };
        let rows: Vec<usize> = (0..exposed.len()).filter(whole).collect();
        let take = |column: &[f64]| rows.iter().map(|&i| column[i]).collect::<Vec<f64>>();
        let with: Vec<bool> = rows.iter().map(|&i| exposed[i] == 1.0).collect();
        let (values, adjust) = (take(&values), adjust.iter().map(|a| take(a)).collect::<Vec<_>>());
        let c: Contrast = compute(py, || contrast::compare(&values, &with, &adjust, level))?;
        Ok(PyContrast {
            difference: c.difference.value,
            low: c.difference.low,
            high: c.difference.high,
            estimate: Py::new(py, PyEstimate::from(c.difference))?,
            p_value: c.p_value,
            n: c.n,
            n_exposed: c.n_exposed,
            n_missing: exposed.len() - rows.len(),
            smallest_visible: c.smallest_visible,
            residual_sd: c.residual_sd,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyContrast>()?;
    let room = PyModule::new(m.py(), "glycemic.contrast")?;
    room.setattr("__doc__", "What changes a response, and what this trial could have seen.")?;
    room.add_function(wrap_pyfunction!(compare, &room)?)?;
    crate::contrast_helps::register(&room)?;
    crate::contrast_plan::register(m, &room)?;
    crate::contrast_carried::register(m, &room)?;
    m.add("contrast", room)
}
