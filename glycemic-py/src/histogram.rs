//! `Histogram`: readings counted by level, in any order.

use glycemic_core::error::require_all_finite;
use glycemic_core::panel::{Histogram, Options};
use glycemic_core::series::Censor;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple, PyType};

use crate::convert;
use crate::error::{guard, raise, to_py};
use crate::panel::named;
use crate::panel_options;
use crate::series::{PyTrace, state, unstate};

/// Counts of readings by level: any order, constant memory, and an exact merge.
///
/// Parts of a trace, of a wear or of a cohort can be counted apart and joined; the measures have
/// the same bits however the whole was cut.
///
/// Parameters
/// ----------
/// unit : {"mg/dL", "mmol/L"}
///     Unit of the readings, which lie on whole mg/dL or tenths of mmol/L up to 2000 mg/dL.
///
/// Attributes
/// ----------
/// unit : str
/// n : int
///     Number of readings.
/// censored : tuple of int
///     Readings that stood at the sensor's lower and upper limit.
///
/// Raises
/// ------
/// GlycemicError
///     For another unit.
///
/// Notes
/// -----
/// For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> night, day = gly.Histogram(), gly.Histogram()
/// >>> night.extend([90, 95])
/// >>> day.push(115)
/// >>> (night | day).measures()["mean_mg_dl"], night.n
/// (100.0, 2)
#[pyclass(module = "glycemic._glycemic", name = "Histogram")]
pub(crate) struct PyHistogram {
    inner: Histogram,
}

#[pymethods]
impl PyHistogram {
    #[new]
    #[pyo3(signature = (unit="mg/dL"))]
    fn new(unit: &str) -> PyResult<PyHistogram> {
        Ok(PyHistogram { inner: Histogram::new(unit.parse().map_err(to_py)?) })
    }

    #[getter]
    fn unit(&self) -> &'static str {
        self.inner.unit().code()
    }

    #[getter]
    fn n(&self) -> u64 {
        self.inner.n()
    }

    #[getter]
    fn censored(&self) -> (u64, u64) {
        self.inner.censored()
    }

    fn __len__(&self) -> usize {
        self.inner.n() as usize
    }

    /// Counts a reading.
    ///
    /// Parameters
    /// ----------
    /// glucose : float
    ///     In the histogram's unit.
    /// censored : {0, -1, 1}
    ///     -1 when the sensor showed "below `glucose`", its lower limit; 1 for its upper.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     Code ``off_grid`` when it is not a whole number of the unit's steps.
    #[pyo3(signature = (glucose, censored=0))]
    fn push(&mut self, glucose: f64, censored: i8) -> PyResult<()> {
        guard(|| {
            let mg_dl = self.inner.unit().to_mg_dl(glucose);
            let censor = match censored {
                0 => Censor::None,
                -1 => Censor::Low,
                1 => Censor::High,
                _ => {
                    let message = format!("censored must be -1, 0 or 1, got {censored}");
                    return Err(raise(&message, "unknown_choice", "censored", None));
                }
            };
            self.inner.push_censored(mg_dl, censor).map_err(to_py)
        })
    }

    /// Counts many readings: all of them, or none when one is refused.
    ///
    /// Parameters
    /// ----------
    /// glucose : array_like, shape (n,), or Trace
    ///     In the histogram's unit. A trace brings its readings at the sensor's limits along.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     Code ``off_grid`` or ``not_finite``, with the `index` of the first; or when the trace
    ///     was measured in the other unit.
    ///
    /// Examples
    /// --------
    /// >>> h = gly.Histogram("mmol/L")
    /// >>> h.extend([5.5, 5.8, 6.1])
    /// >>> try:
    /// ...     h.extend([5.5, 5.85])
    /// ... except gly.GlycemicError as error:
    /// ...     print(error.code, error.index, h.n)
    /// off_grid 1 3
    fn extend(&mut self, glucose: &Bound<'_, PyAny>) -> PyResult<()> {
        guard(|| {
            if let Ok(trace) = glucose.cast::<PyTrace>() {
                return self.inner.extend_trace(trace.get().inner.view()).map_err(to_py);
            }
            let values = convert::floats(glucose, "glucose")?;
            require_all_finite("glucose", &values).map_err(to_py)?;
            let unit = self.inner.unit();
            let mg_dl: Vec<f64> = values.into_iter().map(|g| unit.to_mg_dl(g)).collect();
            self.inner.extend(&mg_dl).map_err(to_py)
        })
    }

    /// Adds the counts of another; ``a | b`` makes a new one.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     When the other is of the other unit: the standard limits are no exact equivalents.
    fn merge(slf: &Bound<'_, Self>, other: &Bound<'_, PyHistogram>) -> PyResult<()> {
        guard(|| {
            // A copy first: the other may be this one.
            let other = other.borrow().inner.clone();
            slf.borrow_mut().inner.merge(&other).map_err(to_py)
        })
    }

    fn __or__(&self, other: &Bound<'_, PyHistogram>) -> PyResult<PyHistogram> {
        guard(|| {
            let mut inner = self.inner.clone();
            inner.merge(&other.borrow().inner).map_err(to_py)?;
            Ok(PyHistogram { inner })
        })
    }

    fn __ior__(slf: &Bound<'_, Self>, other: &Bound<'_, PyHistogram>) -> PyResult<()> {
        PyHistogram::merge(slf, other)
    }

    /// Every measure that needs no more than a histogram, by name; missing ones are None.
    ///
    /// Parameters
    /// ----------
    /// m_reference_mg_dl, grade, risk_constants
    ///     As for `panel`.
    ///
    /// Returns
    /// -------
    /// dict of str to float or None
    ///     `reasons` says why one is missing. Equal to those of `panel` bit for bit.
    #[pyo3(signature = (*, m_reference_mg_dl=120.0, grade="mean", risk_constants="mg_dl"))]
    fn measures<'py>(
        &self,
        py: Python<'py>,
        m_reference_mg_dl: f64,
        grade: &str,
        risk_constants: &str,
    ) -> PyResult<Bound<'py, PyDict>> {
        guard(|| {
            let options = panel_options::of_readings(m_reference_mg_dl, grade, risk_constants)?;
            Ok(named(py, &self.inner.measures(&options).map_err(to_py)?)?.0)
        })
    }

    /// Why a measure is missing, by name.
    #[getter]
    fn reasons<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        guard(|| Ok(named(py, &self.inner.measures(&Options::default()).map_err(to_py)?)?.1))
    }

    /// `unit`, `levels` (steps of the unit and readings, rising), `censored_low`, `censored_high`.
    ///
    /// Examples
    /// --------
    /// >>> h = gly.Histogram("mmol/L")
    /// >>> h.extend([5.5, 5.5, 6.1])
    /// >>> h.to_dict()["levels"]
    /// [[55, 2], [61, 1]]
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        py.import("json")?.call_method1("loads", (state(&self.inner)?,))
    }

    /// A histogram from what `to_dict` gives.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     When it is not that.
    ///
    /// Examples
    /// --------
    /// >>> gly.Histogram.from_dict({"unit": "mg/dL", "levels": [[90, 2]], "censored_low": 0, "censored_high": 0}).n
    /// 2
    #[classmethod]
    fn from_dict(_class: &Bound<'_, PyType>, data: &Bound<'_, PyAny>) -> PyResult<PyHistogram> {
        guard(|| {
            let text: String =
                data.py().import("json")?.call_method1("dumps", (data,))?.extract()?;
            let inner = serde_json::from_str(&text);
            let inner = inner.map_err(|e| raise(&e.to_string(), "histogram", "data", None))?;
            Ok(PyHistogram { inner })
        })
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyHistogram>().is_ok_and(|o| {
            // Not mutably borrowed here, so it can only fail while another thread changes it.
            o.try_borrow().is_ok_and(|o| o.inner == self.inner)
        })
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let make = slf.py().import("glycemic._glycemic")?.getattr("_histogram")?;
        Ok((make, (state(&slf.borrow().inner)?,).into_pyobject(slf.py())?))
    }

    fn __repr__(&self) -> String {
        format!("Histogram({} readings, {})", self.inner.n(), self.unit())
    }
}

/// A histogram from what its pickle holds.
#[pyfunction]
fn _histogram(state: &str) -> PyResult<PyHistogram> {
    guard(|| Ok(PyHistogram { inner: unstate(state)? }))
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyHistogram>()?;
    m.add_function(wrap_pyfunction!(_histogram, m)?)
}
