//! Result objects: named read-only attributes, a dict, and a pickle.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyFloat, PyList, PyTuple};

/// An object as plain data: dicts, lists, numbers, text; NaN becomes `None`.
pub(crate) fn plain<'py>(value: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let py = value.py();
    if value.hasattr("to_dict")? {
        return value.call_method0("to_dict");
    }
    if value.hasattr("tolist")? {
        return plain(&value.call_method0("tolist")?);
    }
    if let Ok(number) = value.cast::<PyFloat>() {
        return Ok(if number.extract::<f64>()?.is_nan() {
            py.None().into_bound(py)
        } else {
            value.clone()
        });
    }
    if let Ok(dict) = value.cast::<PyDict>() {
        let out = PyDict::new(py);
        for (key, item) in dict {
            out.set_item(key, plain(&item)?)?;
        }
        return Ok(out.into_any());
    }
    if value.cast::<PyList>().is_ok() || value.cast::<PyTuple>().is_ok() {
        let out = PyList::empty(py);
        for item in value.try_iter()? {
            out.append(plain(&item?)?)?;
        }
        return Ok(out.into_any());
    }
    Ok(value.clone())
}

/// `Name(field=value, ...)`, long values cut.
pub(crate) fn describe(name: &str, fields: &[(&str, Bound<'_, PyAny>)]) -> PyResult<String> {
    let mut parts = Vec::new();
    for (field, value) in fields {
        let text = value.repr()?.to_string();
        let text: String = if text.chars().count() > 60 {
            text.chars().take(57).chain("...".chars()).collect()
        } else {
            text
        };
        parts.push(format!("{field}={text}"));
    }
    Ok(format!("{name}({})", parts.join(", ")))
}

/// A frozen Python class from named fields, with `to_dict`, equality, repr and pickling.
macro_rules! record {
    (
        $(#[$meta:meta])*
        $name:ident as $python:literal {
            $($(#[$field_meta:meta])* $field:ident : $type:ty,)*
        }
        $($extra:tt)*
    ) => {
        $(#[$meta])*
        #[pyo3::pyclass(frozen, get_all, module = "glycemic._glycemic", name = $python)]
        pub(crate) struct $name { $($(#[$field_meta])* pub(crate) $field: $type,)* }

        impl $name {
            fn fields<'py>(
                slf: &pyo3::Bound<'py, Self>,
            ) -> pyo3::PyResult<Vec<(&'static str, pyo3::Bound<'py, pyo3::PyAny>)>> {
                use pyo3::prelude::*;
                Ok(vec![$((stringify!($field), slf.getattr(stringify!($field))?),)*])
            }
        }

        #[pyo3::pymethods]
        impl $name {
            #[new]
            #[allow(clippy::too_many_arguments, reason = "one for each field")]
            fn new($($field: $type,)*) -> Self {
                Self { $($field,)* }
            }

            /// All fields as plain data: dicts, lists, numbers, text; missing is None.
            fn to_dict<'py>(
                slf: &pyo3::Bound<'py, Self>,
            ) -> pyo3::PyResult<pyo3::Bound<'py, pyo3::types::PyDict>> {
                use pyo3::prelude::*;
                let dict = pyo3::types::PyDict::new(slf.py());
                for (name, value) in Self::fields(slf)? {
                    dict.set_item(name, $crate::record::plain(&value)?)?;
                }
                Ok(dict)
            }

            fn __reduce__<'py>(
                slf: &pyo3::Bound<'py, Self>,
            ) -> pyo3::PyResult<(
                pyo3::Bound<'py, pyo3::types::PyType>,
                pyo3::Bound<'py, pyo3::types::PyTuple>,
            )> {
                use pyo3::prelude::*;
                let values = Self::fields(slf)?.into_iter().map(|f| f.1);
                let state = pyo3::types::PyTuple::new(slf.py(), values.collect::<Vec<_>>())?;
                Ok((slf.get_type(), state))
            }

            fn __repr__(slf: &pyo3::Bound<'_, Self>) -> pyo3::PyResult<String> {
                $crate::record::describe($python, &Self::fields(slf)?)
            }

            fn __eq__(
                slf: &pyo3::Bound<'_, Self>,
                other: &pyo3::Bound<'_, pyo3::PyAny>,
            ) -> pyo3::PyResult<bool> {
                use pyo3::prelude::*;
                match other.cast::<Self>() {
                    Ok(other) => Self::to_dict(slf)?.eq(Self::to_dict(other)?),
                    Err(_) => Ok(false),
                }
            }

            $($extra)*
        }
    };
}
pub(crate) use record;
