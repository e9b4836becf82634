//! Errors of the core as `GlycemicError`, and a wall that no panic passes.

use std::any::Any;
use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};

use glycemic_core::Error;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

/// What a `GlycemicError` says beside its message.
#[derive(Default)]
pub(crate) struct Place<'a> {
    pub(crate) code: &'a str,
    pub(crate) argument: Option<&'a str>,
    pub(crate) index: Option<usize>,
    pub(crate) file: Option<&'a str>,
    pub(crate) line: Option<u64>,
    pub(crate) column: Option<&'a str>,
}

/// A `GlycemicError` with what finds the bad item.
pub(crate) fn raise(message: &str, code: &str, argument: &str, index: Option<usize>) -> PyErr {
    let place = Place { code, argument: Some(argument), index, ..Place::default() };
    Python::attach(|py| make(py, message, place, &[])).unwrap_or_else(|e| e)
}

/// The core's error as Python's.
pub(crate) fn to_py(error: Error) -> PyErr {
    let problems = match &error {
        Error::BadRows { problems } => problems.as_slice(),
        _ => &[],
    };
    let place = Place {
        code: error.code(),
        argument: error.argument(),
        index: error.index(),
        file: error.file(),
        line: error.line(),
        column: error.column(),
    };
    Python::attach(|py| make(py, &error.to_string(), place, problems)).unwrap_or_else(|e| e)
}

fn make(
    py: Python<'_>,
    message: &str,
    place: Place<'_>,
    problems: &[glycemic_core::Problem],
) -> PyResult<PyErr> {
    let class = py.import("glycemic._error")?.getattr("GlycemicError")?;
    let fields = PyDict::new(py);
    fields.set_item("code", place.code)?;
    fields.set_item("argument", place.argument)?;
    fields.set_item("index", place.index)?;
    fields.set_item("file", place.file)?;
    fields.set_item("line", place.line)?;
    fields.set_item("column", place.column)?;
    fields.set_item("problems", problem_list(py, problems)?)?;
    Ok(PyErr::from_value(class.call((message,), Some(&fields))?))
}

/// Problems as a list of dicts.
pub(crate) fn problem_list<'py>(
    py: Python<'py>,
    problems: &[glycemic_core::Problem],
) -> PyResult<Bound<'py, PyList>> {
    let list = PyList::empty(py);
    for problem in problems {
        let row = PyDict::new(py);
        row.set_item("file", &problem.file)?;
        row.set_item("line", problem.line)?;
        row.set_item("column", &problem.column)?;
        row.set_item("code", &problem.code)?;
        row.set_item("message", &problem.message)?;
        list.append(row)?;
    }
    Ok(list)
}

thread_local! {
    static WHERE: RefCell<String> = const { RefCell::new(String::new()) };
}

/// A panic prints nothing; where it happened goes into the error.
pub(crate) fn quiet_panics() {
    std::panic::set_hook(Box::new(|info| {
        let place = info.location().map(|l| format!("{}:{}", l.file(), l.line()));
        WHERE.with(|w| *w.borrow_mut() = place.unwrap_or_default());
    }));
}

/// Runs an entry point; a panic inside becomes a `GlycemicError` with code `internal`.
pub(crate) fn guard<T>(entry: impl FnOnce() -> PyResult<T>) -> PyResult<T> {
    catch_unwind(AssertUnwindSafe(entry)).unwrap_or_else(|payload| Err(internal(payload.as_ref())))
}

fn internal(payload: &(dyn Any + Send)) -> PyErr {
    let what = payload
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| payload.downcast_ref::<&str>().copied())
        .unwrap_or("no message");
    let place = WHERE.with(|w| w.borrow().clone());
    let message = format!("internal error, please report it: {what} ({place})");
    let place = Place { code: "internal", ..Place::default() };
    Python::attach(|py| make(py, &message, place, &[])).unwrap_or_else(|e| e)
}

/// Computes with the interpreter free for other threads.
pub(crate) fn compute<T: Send>(
    py: Python<'_>,
    work: impl FnOnce() -> Result<T, Error> + Send,
) -> PyResult<T> {
    py.detach(work).map_err(to_py)
}

/// Panics inside, to show what becomes of it.
#[pyfunction]
pub(crate) fn _panic(py: Python<'_>) -> PyResult<()> {
    guard(|| {
        compute(py, || {
            std::panic::panic_any("asked to panic");
        })
    })
}
