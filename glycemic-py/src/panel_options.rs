//! The choices for a panel as keyword arguments, as a dict, and in pickles.

use glycemic_core::clock::LocalClock;
use glycemic_core::panel::Options;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::convert;
use crate::error::{raise, to_py};

/// The choices that a histogram knows.
pub(crate) fn of_readings(
    m_reference_mg_dl: f64,
    grade: &str,
    risk_constants: &str,
) -> PyResult<Options> {
    let grade = grade.parse().map_err(to_py)?;
    let risk_constants = risk_constants.parse().map_err(to_py)?;
    let options = Options { m_reference_mg_dl, grade, risk_constants, ..Options::default() };
    options.check().map_err(to_py)?;
    Ok(options)
}

/// A reporting period: two times, the end not included.
pub(crate) fn period(
    given: Option<&Bound<'_, PyAny>>,
    clock: Option<&LocalClock>,
) -> PyResult<Option<(i64, i64)>> {
    let Some(given) = given else { return Ok(None) };
    stretch(given, clock, "reporting_period").map(Some)
}

/// Two times, the end not included.
pub(crate) fn stretch(
    given: &Bound<'_, PyAny>,
    clock: Option<&LocalClock>,
    name: &'static str,
) -> PyResult<(i64, i64)> {
    let shape = || raise(&format!("{name} must be (start, end)"), "shape", name, None);
    // A tuple of times of different kinds is not a column; a list is read one by one.
    let list = given.py().get_type::<pyo3::types::PyList>().call1((given,));
    let times = list.map_err(|_| shape())?;
    match convert::on_clock(convert::stamps(&times, name)?, clock, name)?[..] {
        [from, to] if from < to => Ok((from, to)),
        [_, _] => {
            let message = format!("{name} must end after it starts");
            Err(raise(&message, "out_of_range", name, Some(1)))
        }
        _ => Err(shape()),
    }
}

/// The choices by the names of the keyword arguments.
pub(crate) fn dict<'py>(py: Python<'py>, options: &Options) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    dict.set_item("m_reference_mg_dl", options.m_reference_mg_dl)?;
    dict.set_item("grade", options.grade.name())?;
    dict.set_item("risk_constants", options.risk_constants.name())?;
    dict.set_item("mage_sd", options.mage_sd.name())?;
    dict.set_item("modd_pairs", options.modd_pairs.name())?;
    dict.set_item("episode_length", options.episode_length.name())?;
    dict.set_item("lability", options.lability.name())?;
    dict.set_item("reporting_period", options.reporting_period_ms)?;
    Ok(dict)
}

/// ``, grade=median`` and so on: the choices that are not the default.
pub(crate) fn told(py: Python<'_>, options: &Options) -> PyResult<String> {
    let (given, usual) = (dict(py, options)?, dict(py, &Options::default())?);
    let mut out = String::new();
    for (name, value) in given {
        if !value.eq(usual.get_item(&name)?)? {
            out.push_str(&format!(", {name}={}", value.str()?));
        }
    }
    Ok(out)
}
