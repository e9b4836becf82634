//! The only shape of a many-row result: named columns of one length, each item valid or not.

use crate::error::{Error, require_same_len};
use crate::estimate::Estimate;

/// The items of a column.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Items {
    /// Floating-point numbers.
    F64(Vec<f64>),
    /// Whole numbers; instants are UTC milliseconds since 1970.
    I64(Vec<i64>),
    /// True or false.
    Bool(Vec<bool>),
    /// Text.
    Text(Vec<String>),
}

impl Items {
    /// Number of items.
    pub fn len(&self) -> usize {
        match self {
            Items::F64(v) => v.len(),
            Items::I64(v) => v.len(),
            Items::Bool(v) => v.len(),
            Items::Text(v) => v.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// A named column.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Name, which carries the unit.
    pub name: String,
    /// The items; where `valid` is false an item is a placeholder.
    pub items: Items,
    /// Which items are there.
    pub valid: Vec<bool>,
}

/// Named columns of one length.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Table {
    columns: Vec<Column>,
}

impl Table {
    /// A table without columns.
    pub fn new() -> Table {
        Table::default()
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, |c| c.items.len())
    }

    /// All columns, in order.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// The column called `name`.
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.name == name)
    }

    /// Adds a column; its length must be that of the others.
    pub fn push(&mut self, name: &str, items: Items, valid: Vec<bool>) -> Result<(), Error> {
        require_same_len("valid", items.len(), valid.len())?;
        if !self.columns.is_empty() {
            require_same_len("column", self.rows(), items.len())?;
        }
        self.columns.push(Column { name: name.to_string(), items, valid });
        Ok(())
    }

    /// Adds numbers, some of them missing.
    pub fn push_f64(&mut self, name: &str, items: Vec<Option<f64>>) -> Result<(), Error> {
        let valid = items.iter().map(Option::is_some).collect();
        self.push(
            name,
            Items::F64(items.into_iter().map(|v| v.unwrap_or(f64::NAN)).collect()),
            valid,
        )
    }

    /// Adds whole numbers, some of them missing.
    pub fn push_i64(&mut self, name: &str, items: Vec<Option<i64>>) -> Result<(), Error> {
        let valid = items.iter().map(Option::is_some).collect();
        self.push(name, Items::I64(items.into_iter().map(|v| v.unwrap_or(0)).collect()), valid)
    }

    /// Adds true or false.
    pub fn push_bool(&mut self, name: &str, items: Vec<bool>) -> Result<(), Error> {
        let valid = vec![true; items.len()];
        self.push(name, Items::Bool(items), valid)
    }

    /// Adds text, some of it missing.
    pub fn push_text(&mut self, name: &str, items: Vec<Option<String>>) -> Result<(), Error> {
        let valid = items.iter().map(Option::is_some).collect();
        self.push(
            name,
            Items::Text(items.into_iter().map(Option::unwrap_or_default).collect()),
            valid,
        )
    }

    /// A row for each estimate: name, unit, value with its interval, level, n, method and reason.
    ///
    /// # Errors
    /// None: the columns have one length.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::{Estimate, Table};
    /// let e = Estimate::new(8.0, 6.0, 10.0, 0.95, "mean", 20);
    /// let t = Table::of_estimates(&[("bias_mg_dl", "mg/dL", &e)])?;
    /// assert_eq!(t.numbers("low").unwrap(), [Some(6.0)]);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn of_estimates(rows: &[(&str, &str, &Estimate)]) -> Result<Table, Error> {
        let number =
            |f: &dyn Fn(&Estimate) -> Option<f64>| rows.iter().map(|r| f(r.2)).collect::<Vec<_>>();
        let reason = |f: &dyn Fn(&crate::estimate::Reason) -> String| {
            rows.iter().map(|r| r.2.reason.as_ref().map(f)).collect::<Vec<_>>()
        };
        let mut t = Table::new();
        t.push_text("name", rows.iter().map(|r| Some(r.0.to_string())).collect())?;
        t.push_text("unit", rows.iter().map(|r| Some(r.1.to_string())).collect())?;
        t.push_f64("value", number(&|e| e.value))?;
        t.push_f64("low", number(&|e| e.low))?;
        t.push_f64("high", number(&|e| e.high))?;
        t.push_f64("level", number(&|e| Some(e.level)))?;
        t.push_i64("n", rows.iter().map(|r| Some(r.2.n as i64)).collect())?;
        t.push_i64("needed", rows.iter().map(|r| Some(r.2.needed as i64)).collect())?;
        t.push_text("method", rows.iter().map(|r| Some(r.2.method.clone())).collect())?;
        t.push_text("reason_code", reason(&|r| r.code.clone()))?;
        t.push_text("reason", reason(&|r| r.text.clone()))?;
        Ok(t)
    }

    /// The numbers of a column with missing items as `None`; whole numbers are converted.
    pub fn numbers(&self, name: &str) -> Option<Vec<Option<f64>>> {
        let column = self.column(name)?;
        let item = |i: usize| match &column.items {
            Items::F64(v) => Some(v[i]),
            Items::I64(v) => Some(v[i] as f64),
            Items::Bool(v) => Some(if v[i] { 1.0 } else { 0.0 }),
            Items::Text(_) => None,
        };
        Some((0..self.rows()).map(|i| if column.valid[i] { item(i) } else { None }).collect())
    }
}

#[cfg(feature = "io")]
impl Table {
    /// The table as a JSON object of columns; missing items are null.
    pub fn to_json(&self) -> serde_json::Value {
        let mut object = serde_json::Map::new();
        for column in &self.columns {
            let item = |i: usize| -> serde_json::Value {
                if !column.valid[i] {
                    return serde_json::Value::Null;
                }
                match &column.items {
                    Items::F64(v) => v[i].into(),
                    Items::I64(v) => v[i].into(),
                    Items::Bool(v) => v[i].into(),
                    Items::Text(v) => v[i].clone().into(),
                }
            };
            object.insert(column.name.clone(), (0..column.valid.len()).map(item).collect());
        }
        object.into()
    }
}
