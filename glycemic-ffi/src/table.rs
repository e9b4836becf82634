//! Tables: named columns of one length, each item there or missing. Shape: `glycemic_core::table`.

use std::ffi::{CString, c_char};
use std::ptr;

use glycemic_core::table::Items;
use glycemic_core::{Error, Table};

use crate::error::{Failure, GlycError, GlycStatus, guard};
use crate::pointers::{c_text, give, handle, place, take, text};

/// Kind of a column: floating-point numbers, `glyc_table_column_f64`.
pub const GLYC_COLUMN_F64: u32 = 1;
/// Kind of a column: whole numbers, `glyc_table_column_i64`.
pub const GLYC_COLUMN_I64: u32 = 2;
/// Kind of a column: true or false, `glyc_table_column_bool`.
pub const GLYC_COLUMN_BOOL: u32 = 3;
/// Kind of a column: text, `glyc_table_column_text`.
pub const GLYC_COLUMN_TEXT: u32 = 4;

/// A table: columns by name, all of one length.
pub struct GlycTable {
    columns: Vec<Column>,
    rows: usize,
}

struct Column {
    name: CString,
    values: Values,
    valid: Vec<bool>,
}

enum Values {
    F64(Vec<f64>),
    I64(Vec<i64>),
    Bool(Vec<bool>),
    /// The pointers go into the texts beside them, which are never changed.
    Text(Vec<Borrowed>, #[allow(dead_code, reason = "owns what is pointed to")] Vec<CString>),
    /// A kind that this header has no number and no getter for.
    Other,
}

#[repr(transparent)]
struct Borrowed(*const c_char);

// SAFETY: it points to text that is only read, and that its table owns.
unsafe impl Send for Borrowed {}
// SAFETY: as above.
unsafe impl Sync for Borrowed {}

impl From<Table> for GlycTable {
    fn from(table: Table) -> GlycTable {
        let column = |c: &glycemic_core::table::Column| Column {
            name: c_text(&c.name),
            values: Values::from(&c.items),
            valid: c.valid.clone(),
        };
        GlycTable { columns: table.columns().iter().map(column).collect(), rows: table.rows() }
    }
}

impl From<&Items> for Values {
    fn from(items: &Items) -> Values {
        match items {
            Items::F64(v) => Values::F64(v.clone()),
            Items::I64(v) => Values::I64(v.clone()),
            Items::Bool(v) => Values::Bool(v.clone()),
            Items::Text(v) => Values::text(v),
            _ => Values::Other,
        }
    }
}

impl Values {
    fn text(items: &[String]) -> Values {
        let texts: Vec<CString> = items.iter().map(|t| c_text(t)).collect();
        Values::Text(texts.iter().map(|t| Borrowed(t.as_ptr())).collect(), texts)
    }

    fn kind(&self) -> u32 {
        match self {
            Values::F64(_) => GLYC_COLUMN_F64,
            Values::I64(_) => GLYC_COLUMN_I64,
            Values::Bool(_) => GLYC_COLUMN_BOOL,
            Values::Text(..) => GLYC_COLUMN_TEXT,
            Values::Other => 0,
        }
    }
}

/// Hands a table to C.
pub(crate) fn give_table(table: Table) -> *mut GlycTable {
    give(GlycTable::from(table))
}

/// Hands a further table to a caller who wants it.
///
/// # Safety
/// `out` is NULL or valid to write.
pub(crate) unsafe fn give_more(out: *mut *mut GlycTable, table: Table) {
    if !out.is_null() {
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
    }
}

/// Finds a column of the wanted kind and hands out where its items lie.
///
/// # Safety
/// `table` is NULL or was not freed, `name` is NULL or ends with a zero, and the outputs and
/// `error` are NULL or valid to write.
unsafe fn column<T>(
    table: *const GlycTable,
    name: *const c_char,
    pick: impl Fn(&Values) -> Option<*const T>,
    kind: &'static str,
    outs: (*mut *const T, *mut *const bool, *mut usize),
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract.
        let (table, name) = unsafe { (handle("table", table)?, text("name", name)?) };
        let values_out = place("values_out", outs.0)?;
        let valid_out = place("valid_out", outs.1)?;
        let len_out = place("len_out", outs.2)?;
        let unknown = |choices| -> Failure {
            Error::UnknownChoice { name: "name", got: name.to_string(), choices }.into()
        };
        let named = |c: &&Column| c.name.to_bytes() == name.as_bytes();
        let found = table.columns.iter().find(named);
        let found = found.ok_or_else(|| unknown("the names that glyc_table_column_name gives"))?;
        let values = pick(&found.values).ok_or_else(|| unknown(kind))?;
        // SAFETY: none is NULL, so all are valid to write.
        unsafe {
            values_out.write(values);
            valid_out.write(found.valid.as_ptr());
            len_out.write(table.rows);
        }
        Ok(())
    })
}

/// Number of rows; 0 for NULL. Since 0.1.
///
/// # Safety
/// `table` is NULL or a table that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_rows(table: *const GlycTable) -> usize {
    // SAFETY: NULL or valid by the contract above.
    unsafe { table.as_ref() }.map_or(0, |t| t.rows)
}

/// Number of columns; 0 for NULL. Since 0.1.
///
/// # Safety
/// `table` is NULL or a table that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_columns(table: *const GlycTable) -> usize {
    // SAFETY: NULL or valid by the contract above.
    unsafe { table.as_ref() }.map_or(0, |t| t.columns.len())
}

/// Name of a column (UTF-8), which carries its unit, by its place, counted from 0; NULL beyond
/// the last and for NULL. Borrowed from `table`. Since 0.1.
///
/// # Safety
/// `table` is NULL or a table that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_column_name(
    table: *const GlycTable,
    position: usize,
) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    let found = unsafe { table.as_ref() }.and_then(|t| t.columns.get(position));
    found.map_or(ptr::null(), |c| c.name.as_ptr())
}

/// Kind of a column, one of `GLYC_COLUMN_*`, by its place, counted from 0; 0 beyond the last and
/// for NULL. Since 0.1.
///
/// # Safety
/// `table` is NULL or a table that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_column_kind(table: *const GlycTable, position: usize) -> u32 {
    // SAFETY: NULL or valid by the contract above.
    let found = unsafe { table.as_ref() }.and_then(|t| t.columns.get(position));
    found.map_or(0, |c| c.values.kind())
}

/// A column of floating-point numbers.
///
/// `name` (in): name of the column, ended by a zero.
/// `values_out` (out): `len` numbers, borrowed from `table`; NaN where missing.
/// `valid_out` (out): `len` flags, borrowed from `table`: whether the number is there. Look first.
/// `len_out` (out): number of rows.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE` (no such column, or one of another kind), `NOT_UTF8`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `table` is NULL or a table that was not freed; `name` is NULL or ends with a zero; the others
/// are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_column_f64(
    table: *const GlycTable,
    name: *const c_char,
    values_out: *mut *const f64,
    valid_out: *mut *const bool,
    len_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let pick = |values: &Values| match values {
        Values::F64(v) => Some(v.as_ptr()),
        _ => None,
    };
    let kind = "the columns of kind GLYC_COLUMN_F64";
    // SAFETY: by the contract above.
    unsafe { column(table, name, pick, kind, (values_out, valid_out, len_out), error) }
}

/// A column of whole numbers; instants are UTC milliseconds since 1970.
///
/// `name` (in): name of the column, ended by a zero.
/// `values_out` (out): `len` numbers, borrowed from `table`; 0 where missing.
/// `valid_out`, `len_out`, `error`: as for `glyc_table_column_f64`.
///
/// Statuses: as for `glyc_table_column_f64`. Since 0.1.
///
/// # Safety
/// As for `glyc_table_column_f64`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_column_i64(
    table: *const GlycTable,
    name: *const c_char,
    values_out: *mut *const i64,
    valid_out: *mut *const bool,
    len_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let pick = |values: &Values| match values {
        Values::I64(v) => Some(v.as_ptr()),
        _ => None,
    };
    let kind = "the columns of kind GLYC_COLUMN_I64";
    // SAFETY: by the contract above.
    unsafe { column(table, name, pick, kind, (values_out, valid_out, len_out), error) }
}

/// A column of true or false.
///
/// `name` (in): name of the column, ended by a zero.
/// `values_out` (out): `len` flags, borrowed from `table`; false where missing.
/// `valid_out`, `len_out`, `error`: as for `glyc_table_column_f64`.
///
/// Statuses: as for `glyc_table_column_f64`. Since 0.1.
///
/// # Safety
/// As for `glyc_table_column_f64`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_column_bool(
    table: *const GlycTable,
    name: *const c_char,
    values_out: *mut *const bool,
    valid_out: *mut *const bool,
    len_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let pick = |values: &Values| match values {
        Values::Bool(v) => Some(v.as_ptr()),
        _ => None,
    };
    let kind = "the columns of kind GLYC_COLUMN_BOOL";
    // SAFETY: by the contract above.
    unsafe { column(table, name, pick, kind, (values_out, valid_out, len_out), error) }
}

/// A column of text (UTF-8).
///
/// `name` (in): name of the column, ended by a zero.
/// `values_out` (out): `len` texts, each ended by a zero, borrowed from `table`; empty where
/// missing, never NULL.
/// `valid_out`, `len_out`, `error`: as for `glyc_table_column_f64`.
///
/// Statuses: as for `glyc_table_column_f64`. Since 0.1.
///
/// # Safety
/// As for `glyc_table_column_f64`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_column_text(
    table: *const GlycTable,
    name: *const c_char,
    values_out: *mut *const *const c_char,
    valid_out: *mut *const bool,
    len_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let pick = |values: &Values| match values {
        // A transparent wrapper lies in memory as what it wraps.
        Values::Text(pointers, _) => Some(pointers.as_ptr().cast::<*const c_char>()),
        _ => None,
    };
    let kind = "the columns of kind GLYC_COLUMN_TEXT";
    // SAFETY: by the contract above.
    unsafe { column(table, name, pick, kind, (values_out, valid_out, len_out), error) }
}

/// Frees a table; nothing for NULL. What was borrowed from it is gone too. Since 0.1.
///
/// # Safety
/// `table` is NULL or a table that was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_table_free(table: *mut GlycTable) {
    // SAFETY: by the contract above.
    unsafe { take(table) };
}
