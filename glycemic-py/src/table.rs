//! `Table`: the only shape of a many-row result.

use glycemic_core::Table;
use glycemic_core::table::{Column, Items};
use pyo3::exceptions::PyKeyError;
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyDict, PyList, PyTuple};

use crate::arrow;
use crate::convert::array;
use crate::error::{guard, to_py};

/// Named columns of one length.
///
/// Speaks Arrow: ``pyarrow.table(t)``, ``polars.DataFrame(t)`` and other libraries that know
/// ``__arrow_c_stream__`` take it as it is. ``t["name"]`` is a NumPy array.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Table")]
pub(crate) struct PyTable {
    pub(crate) inner: Table,
    /// Whether times are instants; else they are local times whose zone nobody gave.
    pub(crate) zoned: bool,
}

/// A column as a NumPy array: missing numbers are NaN, missing text None.
pub(crate) fn column_array(py: Python<'_>, column: &Column) -> PyResult<Py<PyAny>> {
    let whole = column.valid.iter().all(|v| *v);
    match &column.items {
        Items::F64(v) if whole => array(py, v),
        Items::I64(v) if whole => array(py, v),
        Items::Bool(v) if whole => array(py, v),
        Items::F64(v) => array(py, &masked(v, &column.valid)),
        Items::I64(v) => {
            array(py, &masked(&v.iter().map(|x| *x as f64).collect::<Vec<_>>(), &column.valid))
        }
        Items::Bool(v) => {
            let numbers: Vec<f64> = v.iter().map(|x| f64::from(u8::from(*x))).collect();
            array(py, &masked(&numbers, &column.valid))
        }
        Items::Text(v) => {
            let items: Vec<Option<&str>> =
                v.iter().zip(&column.valid).map(|(t, ok)| ok.then_some(t.as_str())).collect();
            let kind = PyDict::new(py);
            kind.set_item("dtype", "object")?;
            Ok(py.import("numpy")?.call_method("array", (items,), Some(&kind))?.unbind())
        }
        _ => Ok(py.None()),
    }
}

fn masked(values: &[f64], valid: &[bool]) -> Vec<f64> {
    values.iter().zip(valid).map(|(v, ok)| if *ok { *v } else { f64::NAN }).collect()
}

fn column_list<'py>(py: Python<'py>, column: &Column) -> PyResult<Bound<'py, PyList>> {
    let keep = |i: usize| column.valid[i];
    let n = column.valid.len();
    match &column.items {
        Items::F64(v) => PyList::new(py, (0..n).map(|i| keep(i).then_some(v[i]))),
        Items::I64(v) => PyList::new(py, (0..n).map(|i| keep(i).then_some(v[i]))),
        Items::Bool(v) => PyList::new(py, (0..n).map(|i| keep(i).then_some(v[i]))),
        Items::Text(v) => PyList::new(py, (0..n).map(|i| keep(i).then_some(&v[i]))),
        _ => Ok(PyList::empty(py)),
    }
}

impl PyTable {
    pub(crate) fn new(inner: Table, zoned: bool) -> PyTable {
        PyTable { inner, zoned }
    }

    fn kind(column: &Column) -> &'static str {
        match &column.items {
            Items::F64(_) => "f64",
            Items::I64(_) => "i64",
            Items::Bool(_) => "bool",
            _ => "text",
        }
    }
}

#[pymethods]
impl PyTable {
    /// Names of the columns.
    #[getter]
    pub(crate) fn column_names(&self) -> Vec<&str> {
        self.inner.columns().iter().map(|c| c.name.as_str()).collect()
    }

    pub(crate) fn __len__(&self) -> usize {
        self.inner.rows()
    }

    pub(crate) fn __contains__(&self, name: &str) -> bool {
        self.inner.column(name).is_some()
    }

    pub(crate) fn __getitem__(&self, py: Python<'_>, name: &str) -> PyResult<Py<PyAny>> {
        match self.inner.column(name) {
            Some(column) => column_array(py, column),
            None => Err(PyKeyError::new_err(name.to_string())),
        }
    }

    /// The columns as lists; missing items are None.
    pub(crate) fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for column in self.inner.columns() {
            dict.set_item(&column.name, column_list(py, column)?)?;
        }
        Ok(dict)
    }

    /// A pandas frame; columns of instants become datetimes.
    pub(crate) fn to_pandas<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let pandas = py.import("pandas")?;
        let dict = PyDict::new(py);
        for column in self.inner.columns() {
            let values = match &column.items {
                Items::I64(v) if arrow::is_time(&column.name) => {
                    let item = |i: usize| if column.valid[i] { v[i] } else { i64::MIN };
                    let ms: Vec<i64> = (0..v.len()).map(item).collect();
                    let times = array(py, &ms)?.into_bound(py).call_method0("copy")?;
                    let times = times.call_method1("view", ("datetime64[ms]",))?;
                    let times = pandas.call_method1("DatetimeIndex", (times,))?;
                    let zone = self.zoned.then_some("UTC");
                    times.call_method1("tz_localize", (zone,))?
                }
                _ => column_array(py, column)?.into_bound(py).call_method0("copy")?,
            };
            dict.set_item(&column.name, values)?;
        }
        pandas.call_method1("DataFrame", (dict,))
    }

    /// The schema as an Arrow C capsule.
    pub(crate) fn __arrow_c_schema__<'py>(
        &self,
        py: Python<'py>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        PyCapsule::new_with_value(py, arrow::schema(&self.inner, self.zoned), c"arrow_schema")
    }

    /// The table as an Arrow C stream capsule of one batch; a requested schema is not followed.
    #[pyo3(signature = (requested_schema=None))]
    pub(crate) fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        let _ = requested_schema;
        let stream = arrow::stream(self.inner.clone(), self.zoned);
        PyCapsule::new_with_value(py, stream, c"arrow_array_stream")
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        // Placeholders of missing items may be NaN, which equals nothing: compare what is there.
        let Ok(other) = other.cast::<PyTable>() else { return false };
        let other = other.get();
        let same = |a: &Column, b: &Column| {
            a.name == b.name
                && a.valid == b.valid
                && match (&a.items, &b.items) {
                    (Items::F64(x), Items::F64(y)) => {
                        (0..x.len()).all(|i| !a.valid[i] || x[i] == y[i])
                    }
                    (x, y) => x == y,
                }
        };
        let (a, b) = (self.inner.columns(), other.inner.columns());
        self.zoned == other.zoned && a.len() == b.len() && a.iter().zip(b).all(|(x, y)| same(x, y))
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let py = slf.py();
        let table = slf.get();
        let kinds: Vec<&str> = table.inner.columns().iter().map(PyTable::kind).collect();
        let make = py.import("glycemic._glycemic")?.getattr("_table")?;
        let state = (table.to_dict(py)?, kinds, table.zoned).into_pyobject(py)?;
        Ok((make, state))
    }

    fn __repr__(&self) -> String {
        format!("Table({} rows: {})", self.inner.rows(), self.column_names().join(", "))
    }
}

/// A table from columns as lists, their kinds, and whether times are instants; for pickles.
#[pyfunction]
fn _table(columns: &Bound<'_, PyDict>, kinds: Vec<String>, zoned: bool) -> PyResult<PyTable> {
    guard(|| {
        let mut inner = Table::new();
        for ((name, values), kind) in columns.iter().zip(&kinds) {
            let name: String = name.extract()?;
            match kind.as_str() {
                "f64" => inner.push_f64(&name, values.extract()?),
                "i64" => inner.push_i64(&name, values.extract()?),
                "bool" => inner.push_bool(&name, values.extract()?),
                _ => inner.push_text(&name, values.extract()?),
            }
            .map_err(to_py)?;
        }
        Ok(PyTable { inner, zoned })
    })
}

/// A table of a frame's columns of times and glucose.
pub(crate) fn readings(
    times_ms: &[i64],
    glucose: Vec<Option<f64>>,
    zoned: bool,
) -> PyResult<PyTable> {
    let mut inner = Table::new();
    inner.push_i64("time_ms", times_ms.iter().map(|t| Some(*t)).collect()).map_err(to_py)?;
    inner.push_f64("glucose_mg_dl", glucose).map_err(to_py)?;
    Ok(PyTable { inner, zoned })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_function(wrap_pyfunction!(_table, m)?)?;
    m.add_class::<PyTable>()
}
