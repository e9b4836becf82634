//! `Estimate`: the only shape of an estimate.

use glycemic_core::{Estimate, Reason};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

/// An estimate with its interval, or the reason why it can't be told.
///
/// For education, coaching and research; not a medical device.
///
/// Attributes
/// ----------
/// value : float or None
///     The best single number.
/// low, high : float or None
///     Ends of the interval; one alone may be None when the interval is open there.
/// level : float
///     Confidence level of the interval.
/// method : str
///     How value and interval were made.
/// n, needed : int
///     How many independent pieces it rests on, and how many it takes at the least.
/// reason : str or None
///     Why the value or an end is missing.
/// reason_code : str or None
///     The same as a stable word.
/// had, reason_needed : float or None
///     What there was and what it takes, where counting is the reason.
#[pyclass(frozen, eq, module = "glycemic._glycemic", name = "Estimate")]
#[derive(Clone, PartialEq)]
pub(crate) struct PyEstimate {
    pub(crate) inner: Estimate,
}

impl From<Estimate> for PyEstimate {
    fn from(inner: Estimate) -> PyEstimate {
        PyEstimate { inner }
    }
}

#[pymethods]
impl PyEstimate {
    #[new]
    #[pyo3(signature = (value=None, low=None, high=None, level=0.95, method="", n=0, needed=0,
                        reason=None, reason_code=None, had=None, reason_needed=None))]
    #[allow(clippy::too_many_arguments, reason = "one for each field")]
    fn new(
        value: Option<f64>,
        low: Option<f64>,
        high: Option<f64>,
        level: f64,
        method: &str,
        n: usize,
        needed: usize,
        reason: Option<String>,
        reason_code: Option<String>,
        had: Option<f64>,
        reason_needed: Option<f64>,
    ) -> PyEstimate {
        let reason = reason.map(|text| Reason {
            code: reason_code.unwrap_or_default(),
            had,
            needed: reason_needed,
            text,
        });
        let method = method.to_string();
        PyEstimate { inner: Estimate { value, low, high, level, method, n, needed, reason } }
    }

    #[getter]
    fn value(&self) -> Option<f64> {
        self.inner.value
    }

    /// The value, where it is a span of time: a lag or a clock offset.
    #[getter]
    fn minutes(&self) -> Option<f64> {
        self.inner.value
    }

    #[getter]
    fn low(&self) -> Option<f64> {
        self.inner.low
    }

    #[getter]
    fn high(&self) -> Option<f64> {
        self.inner.high
    }

    #[getter]
    fn level(&self) -> f64 {
        self.inner.level
    }

    #[getter]
    fn method(&self) -> &str {
        &self.inner.method
    }

    #[getter]
    fn n(&self) -> usize {
        self.inner.n
    }

    #[getter]
    fn needed(&self) -> usize {
        self.inner.needed
    }

    /// Whether there is a value.
    #[getter]
    fn estimable(&self) -> bool {
        self.inner.estimable()
    }

    #[getter]
    fn reason(&self) -> Option<&str> {
        self.inner.reason.as_ref().map(|r| r.text.as_str())
    }

    #[getter]
    fn reason_code(&self) -> Option<&str> {
        self.inner.reason.as_ref().map(|r| r.code.as_str())
    }

    #[getter]
    fn had(&self) -> Option<f64> {
        self.inner.reason.as_ref().and_then(|r| r.had)
    }

    #[getter]
    fn reason_needed(&self) -> Option<f64> {
        self.inner.reason.as_ref().and_then(|r| r.needed)
    }

    /// Value, low, high, level, method, n, needed and reason (None, or code, had, needed, text).
    pub(crate) fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("value", self.inner.value)?;
        dict.set_item("low", self.inner.low)?;
        dict.set_item("high", self.inner.high)?;
        dict.set_item("level", self.inner.level)?;
        dict.set_item("method", &self.inner.method)?;
        dict.set_item("n", self.inner.n)?;
        dict.set_item("needed", self.inner.needed)?;
        dict.set_item("reason", None::<bool>)?;
        if let Some(reason) = &self.inner.reason {
            let inside = PyDict::new(py);
            inside.set_item("code", &reason.code)?;
            inside.set_item("had", reason.had)?;
            inside.set_item("needed", reason.needed)?;
            inside.set_item("text", &reason.text)?;
            dict.set_item("reason", inside)?;
        }
        Ok(dict)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let names = [
            "value",
            "low",
            "high",
            "level",
            "method",
            "n",
            "needed",
            "reason",
            "reason_code",
            "had",
            "reason_needed",
        ];
        let state = names.map(|n| slf.getattr(n)).into_iter().collect::<PyResult<Vec<_>>>()?;
        Ok((slf.get_type().into_any(), PyTuple::new(slf.py(), state)?))
    }

    pub(crate) fn __repr__(&self) -> String {
        let e = &self.inner;
        let end = |x: Option<f64>| x.map_or("open".to_string(), |v| format!("{v:.4}"));
        match (e.value, &e.reason) {
            (Some(v), None) => {
                format!("Estimate({v:.4}, {} to {}, level={})", end(e.low), end(e.high), e.level)
            }
            (Some(v), Some(r)) => {
                format!("Estimate({v:.4}, {} to {}: {})", end(e.low), end(e.high), r.text)
            }
            (None, Some(r)) => format!("Estimate(not estimable: {})", r.text),
            (None, None) => "Estimate(not estimable)".to_string(),
        }
    }
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyEstimate>()
}
