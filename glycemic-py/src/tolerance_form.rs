//! The saturating form beside the straight line.

use glycemic_core::tolerance::Saturating;
use pyo3::prelude::*;

use crate::estimate::PyEstimate;
use crate::record::record;

record! {
    /// Rises that grow less and less with grams, weighed beside the straight line by how well each
    /// tells a meal that was left out. For education, coaching and research; not a medical device.
    PySaturating as "Saturating" {
        /// The rise is a + b times grams to this power.
        power: f64,
        /// Grams at which its mean rise meets the target.
        limit: Py<PyEstimate>,
        /// The same by the straight line.
        straight_limit: Py<PyEstimate>,
        /// Root mean square error of meals left out, mg/dL.
        left_out_mg_dl: f64,
        /// The same by the straight line.
        straight_left_out_mg_dl: f64,
        /// Weight of this form against the straight one, 0 to 1; that of the straight one is the
        /// rest.
        weight: f64,
        /// Whether it tells meals left out better by more than one standard error.
        preferred: bool,
    }
}

impl PySaturating {
    pub(crate) fn made(
        py: Python<'_>,
        found: Saturating,
        straight: PyEstimate,
    ) -> PyResult<PySaturating> {
        Ok(PySaturating {
            power: found.power,
            limit: Py::new(py, PyEstimate::from(found.limit_g))?,
            straight_limit: Py::new(py, straight)?,
            left_out_mg_dl: found.left_out_mg_dl,
            straight_left_out_mg_dl: found.straight_left_out_mg_dl,
            weight: found.weight,
            preferred: found.preferred,
        })
    }
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PySaturating>()
}
