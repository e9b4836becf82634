//! The review of a trial: data, and its renderers.

use std::sync::Arc;

use glycemic_core::Error;
use glycemic_core::review::{self, Options, Review};
use glycemic_core::trial::Trial;
use pyo3::exceptions::PyKeyError;
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::error::{guard, to_py};
use crate::estimate::PyEstimate;
use crate::table::PyTable;
use crate::trial::PyTrial;

/// The ten answers about one trial, as data. Made by `Trial.review`.
///
/// For education, coaching and research; not a medical device, not for dosing insulin or any
/// treatment decision. A reading that disagrees with how someone feels is checked with a meter.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Review")]
pub(crate) struct PyReview {
    inner: Review,
    trial: Arc<Trial>,
}

/// Reviews; between answers Python's signals are looked at and `progress` is called.
pub(crate) fn review(
    py: Python<'_>,
    trial: &Arc<Trial>,
    level: f64,
    seed: u64,
    progress: Option<&Py<PyAny>>,
) -> PyResult<PyReview> {
    let options = Options { level, seed };
    let mut raised: Option<PyErr> = None;
    let mut tell = |n: usize| {
        Python::attach(|py| {
            let go = py.check_signals().and_then(|()| match progress {
                None => Ok(true),
                Some(f) => Ok(!f.bind(py).call1((n,))?.is(pyo3::types::PyBool::new(py, false))),
            });
            go.unwrap_or_else(|error| {
                raised = Some(error);
                false
            })
        })
    };
    let found: Result<Review, Error> = py.detach(|| review::review(trial, options, &mut tell));
    match (found, raised) {
        (Ok(inner), _) => Ok(PyReview { inner, trial: Arc::clone(trial) }),
        (Err(_), Some(error)) => Err(error),
        (Err(error), None) => Err(to_py(error)),
    }
}

#[pymethods]
impl PyReview {
    /// Ids of the questions, in order.
    #[getter]
    fn questions(&self) -> Vec<&'static str> {
        self.inner.answers.iter().map(|a| a.id).collect()
    }

    /// Codes of the cautions that concern this trial.
    #[getter]
    fn cautions(&self) -> Vec<&'static str> {
        self.inner.cautions.clone()
    }

    /// The estimate of a figure, such as ``limit_g``.
    ///
    /// Raises
    /// ------
    /// KeyError
    ///     If no answer has a figure with this id.
    fn estimate(&self, figure: &str) -> PyResult<PyEstimate> {
        let found = self.inner.estimate(figure).cloned();
        found.map(PyEstimate::from).ok_or_else(|| PyKeyError::new_err(figure.to_string()))
    }

    /// A table of an answer, such as ``("data", "gaps")``.
    ///
    /// Raises
    /// ------
    /// KeyError
    ///     If the question has no such table.
    fn table(&self, question: &str, name: &str) -> PyResult<PyTable> {
        let answer = self.inner.answer(question);
        let found = answer.and_then(|a| a.tables.iter().find(|t| t.0 == name));
        let zoned = self.trial.config.zone.is_some();
        match found {
            Some((_, table)) => Ok(PyTable::new(table.clone(), zoned)),
            None => Err(PyKeyError::new_err(format!("{question}: {name}"))),
        }
    }

    /// The whole review as plain data, schema ``glycemic.review/1``.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        py.import("json")?.call_method1("loads", (self.to_json(py)?,))
    }

    /// The same as JSON text.
    fn to_json(&self, py: Python<'_>) -> PyResult<String> {
        guard(|| Ok(py.detach(|| self.inner.to_json())))
    }

    /// A methods paragraph.
    fn methods(&self) -> PyResult<String> {
        guard(|| Ok(self.inner.methods()))
    }

    /// One sentence for each answer, in the order of the questions.
    fn sentences(&self) -> PyResult<Vec<String>> {
        guard(|| Ok(self.inner.sentences()))
    }

    /// The ten answers, a line each, and the cautions.
    fn text(&self) -> PyResult<String> {
        guard(|| Ok(self.inner.text()))
    }

    /// Writes it to a file by its ending: ``.json``, ``.txt``, or ``.html``.
    ///
    /// Parameters
    /// ----------
    /// path : path
    ///
    /// Notes
    /// -----
    /// The page needs the extra ``page``.
    fn save(slf: &Bound<'_, Self>, path: std::path::PathBuf) -> PyResult<()> {
        slf.py().import("glycemic._show")?.call_method1("save", (slf, path)).map(drop)
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("glycemic._show")?.call_method1("notebook", (slf,))
    }

    /// The trial it is about.
    #[getter]
    fn trial(&self) -> PyTrial {
        PyTrial::from(Trial::clone(&self.trial))
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyReview>().is_ok_and(|o| o.get().inner.to_json() == self.inner.to_json())
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let (py, this) = (slf.py(), slf.get());
        let make = py.import("glycemic._glycemic")?.getattr("_review")?;
        let o = this.inner.options;
        Ok((make, (this.trial(), o.level, o.seed).into_pyobject(py)?))
    }

    fn __repr__(&self) -> String {
        let told = self.inner.answers.iter();
        let parts: Vec<String> = told.map(|a| format!("{}: {}", a.id, a.status.code())).collect();
        format!("Review({})", parts.join(", "))
    }
}

/// A review made again; for pickles.
#[pyfunction]
fn _review(
    py: Python<'_>,
    trial: &Bound<'_, PyTrial>,
    level: f64,
    seed: u64,
) -> PyResult<PyReview> {
    guard(|| review(py, &trial.get().inner, level, seed, None))
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyReview>()?;
    m.add_function(wrap_pyfunction!(_review, m)?)
}
