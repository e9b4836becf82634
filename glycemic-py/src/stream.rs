//! `Stream`: the panel of readings that come one by one.

use glycemic_core::Error;
use glycemic_core::panel::{Pushed, Stream};
use glycemic_core::units::Unit;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyInt, PyList, PyTuple};

use crate::convert;
use crate::error::{guard, raise, to_py};
use crate::panel::named;
use crate::series::{state, unstate};

/// Readings of one sensor as they come, in bounded memory.
///
/// Keeps what the measures need: those of a histogram and those of order (MAGE, MODD, CONGA, MAG,
/// lability, ...). Measures by local day need the whole trace. For the same readings and nominal
/// interval they equal those of `panel` bit for bit, whatever the order of late readings.
///
/// Parameters
/// ----------
/// unit : {"mg/dL", "mmol/L"}
///     Unit of the readings, which lie on whole mg/dL or tenths of mmol/L.
/// nominal_min : float
///     Minutes between readings as a rule, from a second to an hour.
/// zone : str or ZoneInfo or timezone or list of (int, int), optional
///     As for `Trace`; naive times are read on it. Without it times need an offset.
///
/// Attributes
/// ----------
/// unit : str
/// nominal_interval_min : float
/// zone : str or None
/// reasons : dict of str to str
///     Why a measure is missing.
///
/// Raises
/// ------
/// GlycemicError
///     For another unit, an unknown zone, or an interval outside that.
///
/// Notes
/// -----
/// For education, coaching and research; not a medical device. A live reading that disagrees
/// with how someone feels is checked with a meter.
///
/// Examples
/// --------
/// >>> s = gly.Stream("mg/dL", 5)
/// >>> s.push("2025-03-14T07:30Z", 100), s.push("2025-03-14T07:40Z", 105), s.push("2025-03-14T07:35Z", 110)
/// ('added', 'added', 'inserted')
/// >>> s.measures()["mag_mg_dl_h"]
/// 90.0
#[pyclass(module = "glycemic._glycemic", name = "Stream")]
pub(crate) struct PyStream {
    inner: Stream,
    unit: Unit,
    nominal_min: f64,
}

/// What a pickle holds.
#[derive(serde::Serialize, serde::Deserialize)]
struct Stored {
    stream: Stream,
    unit: Unit,
    nominal_min: f64,
}

impl PyStream {
    fn instants(&self, times: &Bound<'_, PyAny>, argument: &str) -> PyResult<Vec<i64>> {
        convert::on_clock(convert::stamps(times, argument)?, self.inner.clock(), argument)
    }

    /// One time; whole milliseconds, as apps have them, need no detour.
    fn instant(&self, time: &Bound<'_, PyAny>) -> PyResult<i64> {
        if time.is_exact_instance_of::<PyInt>() {
            return time.extract();
        }
        let one = self.instants(PyList::new(time.py(), [time])?.as_any(), "time")?;
        one.first().copied().ok_or_else(|| raise("there is no time", "missing_time", "time", None))
    }

    fn state(&self) -> PyResult<String> {
        let (unit, nominal_min) = (self.unit, self.nominal_min);
        state(&Stored { stream: self.inner.clone(), unit, nominal_min })
    }
}

/// The core's error about one reading as one about item `index` of a column.
fn at(error: Error, index: usize) -> Error {
    let place = Some(index);
    match error {
        Error::OffGrid { name, value, unit, .. } => {
            Error::OffGrid { name, index: place, value, unit }
        }
        Error::NotFinite { name, value, .. } => Error::NotFinite { name, index: place, value },
        Error::OutOfRange { name, value, low, high, .. } => {
            Error::OutOfRange { name, index: place, value, low, high }
        }
        Error::ImplausibleTime { value, why, .. } => Error::ImplausibleTime { index, value, why },
        Error::UnorderedTime { .. } => Error::UnorderedTime { index },
        other => other,
    }
}

#[pymethods]
impl PyStream {
    #[new]
    #[pyo3(signature = (unit="mg/dL", nominal_min=5.0, zone=None))]
    fn new(unit: &str, nominal_min: f64, zone: Option<&Bound<'_, PyAny>>) -> PyResult<PyStream> {
        guard(|| {
            let unit: Unit = unit.parse().map_err(to_py)?;
            let inner = Stream::new(unit, nominal_min, convert::zone(zone)?).map_err(to_py)?;
            Ok(PyStream { inner, unit, nominal_min })
        })
    }

    #[getter]
    fn unit(&self) -> &'static str {
        self.unit.code()
    }

    #[getter]
    fn nominal_interval_min(&self) -> f64 {
        self.nominal_min
    }

    #[getter]
    fn zone(&self) -> Option<&str> {
        self.inner.clock().map(glycemic_core::clock::LocalClock::name)
    }

    fn __len__(&self) -> usize {
        self.inner.len()
    }

    /// Takes in a reading.
    ///
    /// Parameters
    /// ----------
    /// time : datetime64, datetime, str or int
    ///     As for `Trace`.
    /// glucose : float
    ///     In the stream's unit.
    ///
    /// Returns
    /// -------
    /// {"added", "inserted"}
    ///     Whether it is the latest, or came late and was put in its place.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For a time that is there already or 25 h older than the latest, and for glucose that
    ///     is not finite or off the unit's steps (``off_grid``). The stream stays as it was.
    fn push(&mut self, time: &Bound<'_, PyAny>, glucose: f64) -> PyResult<&'static str> {
        guard(|| {
            let mg_dl = self.unit.to_mg_dl(glucose);
            let time_ms = self.instant(time)?;
            Ok(match self.inner.push(time_ms, mg_dl).map_err(to_py)? {
                Pushed::Added => "added",
                _ => "inserted",
            })
        })
    }

    /// Takes in many readings: all of them, or none when one is refused.
    ///
    /// Parameters
    /// ----------
    /// times : array_like, shape (n,)
    /// glucose : array_like, shape (n,)
    ///     In the stream's unit.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     As for `push`, with the `index` of the first that is refused; for different lengths.
    ///
    /// Examples
    /// --------
    /// >>> s = gly.Stream("mg/dL", 5)
    /// >>> try:
    /// ...     s.extend(["2025-03-14T07:30Z", "2025-03-14T07:35Z"], [100, 100.5])
    /// ... except gly.GlycemicError as error:
    /// ...     print(error.code, error.index, len(s))
    /// off_grid 1 0
    fn extend(&mut self, times: &Bound<'_, PyAny>, glucose: &Bound<'_, PyAny>) -> PyResult<()> {
        guard(|| {
            let times = self.instants(times, "times")?;
            let glucose = convert::floats(glucose, "glucose")?;
            glycemic_core::error::require_same_len("glucose", times.len(), glucose.len())
                .map_err(to_py)?;
            let mut grown = self.inner.clone();
            for (i, (&time_ms, &g)) in times.iter().zip(&glucose).enumerate() {
                grown.push(time_ms, self.unit.to_mg_dl(g)).map_err(|e| to_py(at(e, i)))?;
            }
            self.inner = grown;
            Ok(())
        })
    }

    /// Joins a stream that begins after this one ends; the whole is as if there had been one.
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For another unit, nominal interval or zone, or when it does not begin later. The
    ///     stream stays as it was.
    fn join(slf: &Bound<'_, Self>, later: &Bound<'_, PyStream>) -> PyResult<()> {
        guard(|| {
            let later = later.borrow().inner.clone();
            slf.borrow_mut().inner.join(&later).map_err(to_py)
        })
    }

    /// Every measure that needs no local day, by name; missing ones are None.
    ///
    /// Returns
    /// -------
    /// dict of str to float or None
    ///     By the default options of `panel`. `reasons` says why one is missing.
    fn measures<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        guard(|| Ok(named(py, &self.inner.measures())?.0))
    }

    #[getter]
    fn reasons<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        guard(|| Ok(named(py, &self.inner.measures())?.1))
    }

    /// Unit, nominal interval, zone, number of readings and the measures.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("unit", self.unit())?;
        dict.set_item("nominal_interval_min", self.nominal_min)?;
        dict.set_item("zone", self.zone())?;
        dict.set_item("n", self.inner.len())?;
        dict.set_item("measures", self.measures(py)?)?;
        Ok(dict)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> PyResult<bool> {
        let Ok(other) = other.cast::<PyStream>() else { return Ok(false) };
        // By what is stored: where a search goes on is no part of what a stream holds.
        Ok(self.state()? == other.try_borrow()?.state()?)
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let make = slf.py().import("glycemic._glycemic")?.getattr("_stream")?;
        Ok((make, (slf.borrow().state()?,).into_pyobject(slf.py())?))
    }

    fn __repr__(&self) -> String {
        let zone = self.zone().unwrap_or("no zone");
        let (n, step) = (self.inner.len(), self.nominal_min);
        format!("Stream({n} readings, every {step} min, {}, {zone})", self.unit())
    }
}

/// A stream from what its pickle holds.
#[pyfunction]
fn _stream(state: &str) -> PyResult<PyStream> {
    guard(|| {
        let Stored { stream, unit, nominal_min } = unstate(state)?;
        Ok(PyStream { inner: stream, unit, nominal_min })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyStream>()?;
    m.add_function(wrap_pyfunction!(_stream, m)?)
}
