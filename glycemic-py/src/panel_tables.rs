//! The registry of measures, and a panel beside published values, as tables.

use glycemic_core::panel::{self, Id, MEASURES, Panel, Population, normals, outside_population};
use glycemic_core::{Error, Table};
use pyo3::prelude::*;

use crate::error::{guard, to_py};
use crate::table::PyTable;

/// A row for each published value, and for each measure that does not carry over.
pub(crate) fn beside_normals(p: &Panel) -> Result<Table, Error> {
    let outside = |id: Id| outside_population(id, Population::WithoutDiabetes);
    let mut rows = Vec::new();
    for m in MEASURES {
        let published = normals(m.id);
        rows.extend(published.iter().map(|n| (m, Some(n))));
        if published.is_empty() && outside(m.id).is_some() {
            rows.push((m, None));
        }
    }
    type Row = (&'static panel::Measure, Option<&'static panel::Normal>);
    let number = |f: fn(&panel::Normal) -> Option<f64>| {
        rows.iter().map(|r: &Row| r.1.and_then(f)).collect::<Vec<_>>()
    };
    let text = |f: fn(&panel::Normal) -> &'static str| {
        rows.iter().map(|r: &Row| r.1.map(|n| f(n).to_string())).collect::<Vec<_>>()
    };
    let mut t = Table::new();
    t.push_text("measure", rows.iter().map(|r| Some(r.0.name.to_string())).collect())?;
    t.push_text("unit", rows.iter().map(|r| Some(r.0.unit.to_string())).collect())?;
    t.push_f64("value", rows.iter().map(|r| p.get(r.0.id)).collect())?;
    t.push_f64("centre", number(|n| n.centre))?;
    t.push_f64("low", number(|n| Some(n.low)))?;
    t.push_f64("high", number(|n| Some(n.high)))?;
    t.push_text("what", text(|n| n.what))?;
    t.push_text("source", text(|n| n.source))?;
    t.push_text("status", text(|n| n.status))?;
    t.push_text("outside", rows.iter().map(|r| outside(r.0.id).map(String::from)).collect())?;
    Ok(t)
}

/// The registry of measures: a row each, with number, name, unit, definition and source.
///
/// Returns
/// -------
/// Table
///     Columns `id`, `name`, `unit`, `what`, `source`.
///
/// Examples
/// --------
/// >>> gly.measures()["name"][6]
/// 'mean_mg_dl'
#[pyfunction]
fn measures() -> PyResult<PyTable> {
    guard(|| {
        let mut table = Table::new();
        let text = |f: fn(&panel::Measure) -> &'static str| {
            MEASURES.iter().map(|m| Some(f(m).to_string())).collect::<Vec<_>>()
        };
        table
            .push_i64("id", MEASURES.iter().map(|m| Some(m.id as i64)).collect())
            .map_err(to_py)?;
        table.push_text("name", text(|m| m.name)).map_err(to_py)?;
        table.push_text("unit", text(|m| m.unit)).map_err(to_py)?;
        table.push_text("what", text(|m| m.what)).map_err(to_py)?;
        table.push_text("source", text(|m| m.source)).map_err(to_py)?;
        Ok(PyTable::new(table, true))
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_function(wrap_pyfunction!(measures, m)?)
}
