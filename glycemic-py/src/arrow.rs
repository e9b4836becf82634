//! A table as an Arrow C stream of one batch.
//!
//! # Source
//! The Arrow C data and C stream interfaces, <https://arrow.apache.org/docs/format/CDataInterface.html>.
//! Whoever takes a structure out of its capsule sets `release` there to NULL; what is left with
//! a `release` when a capsule dies is released here.

use std::ffi::{CStr, CString, c_char, c_int, c_void};
use std::ptr::{null, null_mut};

use glycemic_core::Table;
use glycemic_core::table::{Column, Items};

const NULLABLE: i64 = 2;

#[repr(C)]
pub(crate) struct ArrowSchema {
    pub(crate) format: *const c_char,
    pub(crate) name: *const c_char,
    pub(crate) metadata: *const c_char,
    pub(crate) flags: i64,
    pub(crate) n_children: i64,
    pub(crate) children: *mut *mut ArrowSchema,
    pub(crate) dictionary: *mut ArrowSchema,
    pub(crate) release: Option<unsafe extern "C" fn(*mut ArrowSchema)>,
    pub(crate) private_data: *mut c_void,
}

#[repr(C)]
pub(crate) struct ArrowArray {
    pub(crate) length: i64,
    pub(crate) null_count: i64,
    pub(crate) offset: i64,
    pub(crate) n_buffers: i64,
    pub(crate) n_children: i64,
    pub(crate) buffers: *mut *const c_void,
    pub(crate) children: *mut *mut ArrowArray,
    pub(crate) dictionary: *mut ArrowArray,
    pub(crate) release: Option<unsafe extern "C" fn(*mut ArrowArray)>,
    pub(crate) private_data: *mut c_void,
}

#[repr(C)]
pub(crate) struct ArrowArrayStream {
    pub(crate) get_schema:
        Option<unsafe extern "C" fn(*mut ArrowArrayStream, *mut ArrowSchema) -> c_int>,
    pub(crate) get_next:
        Option<unsafe extern "C" fn(*mut ArrowArrayStream, *mut ArrowArray) -> c_int>,
    pub(crate) get_last_error: Option<unsafe extern "C" fn(*mut ArrowArrayStream) -> *const c_char>,
    pub(crate) release: Option<unsafe extern "C" fn(*mut ArrowArrayStream)>,
    pub(crate) private_data: *mut c_void,
}

// SAFETY: each structure owns all it points to, and nothing in it is bound to a thread.
unsafe impl Send for ArrowSchema {}
// SAFETY: as above.
unsafe impl Send for ArrowArrayStream {}

struct SchemaOwned {
    _format: CString,
    _name: CString,
    children: Vec<*mut ArrowSchema>,
}

/// What an exported array owns. The buffers' addresses don't change when this is moved.
struct ArrayOwned {
    _data: Data,
    _validity: Option<Vec<u8>>,
    buffers: Vec<*const c_void>,
    children: Vec<*mut ArrowArray>,
}

#[allow(dead_code, reason = "kept alive for the pointers into it")]
enum Data {
    None,
    F64(Vec<f64>),
    I64(Vec<i64>),
    Bits(Vec<u8>),
    Text(Vec<i32>, Vec<u8>),
}

struct StreamOwned {
    table: Option<Table>,
    schema: Vec<(String, CString)>,
}

/// The schema of a table. `zoned`: whether times are instants (UTC) or local times.
pub(crate) fn schema(table: &Table, zoned: bool) -> ArrowSchema {
    schema_of(&fields(table, zoned))
}

/// A stream that gives the table as one batch.
pub(crate) fn stream(table: Table, zoned: bool) -> ArrowArrayStream {
    let schema = fields(&table, zoned);
    let owned = Box::new(StreamOwned { table: Some(table), schema });
    ArrowArrayStream {
        get_schema: Some(get_schema),
        get_next: Some(get_next),
        get_last_error: Some(get_last_error),
        release: Some(release_stream),
        private_data: Box::into_raw(owned).cast(),
    }
}

impl Drop for ArrowSchema {
    fn drop(&mut self) {
        if let Some(release) = self.release {
            // SAFETY: not yet released, and `self` is valid.
            unsafe { release(self) }
        }
    }
}

impl Drop for ArrowArrayStream {
    fn drop(&mut self) {
        if let Some(release) = self.release {
            // SAFETY: not yet released, and `self` is valid.
            unsafe { release(self) }
        }
    }
}

/// Whether a column of whole numbers holds instants.
pub(crate) fn is_time(name: &str) -> bool {
    matches!(name, "time_ms" | "start_ms" | "end_ms") || name.ends_with("_time_ms")
}

fn fields(table: &Table, zoned: bool) -> Vec<(String, CString)> {
    let format = |c: &Column| match &c.items {
        Items::F64(_) => c"g",
        Items::I64(_) if is_time(&c.name) && zoned => c"tsm:UTC",
        Items::I64(_) if is_time(&c.name) => c"tsm:",
        Items::I64(_) => c"l",
        Items::Bool(_) => c"b",
        _ => c"u",
    };
    table.columns().iter().map(|c| (c.name.clone(), format(c).to_owned())).collect()
}

fn schema_of(fields: &[(String, CString)]) -> ArrowSchema {
    let children = fields
        .iter()
        .map(|(name, format)| {
            Box::into_raw(Box::new(one_schema(name, format, Vec::new(), NULLABLE)))
        })
        .collect();
    one_schema("", c"+s", children, 0)
}

fn one_schema(
    name: &str,
    format: &CStr,
    children: Vec<*mut ArrowSchema>,
    flags: i64,
) -> ArrowSchema {
    let name = CString::new(name.replace('\0', "")).unwrap_or_default();
    let mut owned = Box::new(SchemaOwned { _format: format.to_owned(), _name: name, children });
    ArrowSchema {
        format: owned._format.as_ptr(),
        name: owned._name.as_ptr(),
        metadata: null(),
        flags,
        n_children: owned.children.len() as i64,
        children: owned.children.as_mut_ptr(),
        dictionary: null_mut(),
        release: Some(release_schema),
        private_data: Box::into_raw(owned).cast(),
    }
}

unsafe extern "C" fn release_schema(schema: *mut ArrowSchema) {
    // SAFETY: the caller hands over a schema that this module made and nobody released.
    let (private, schema) = unsafe { ((*schema).private_data, &mut *schema) };
    // SAFETY: `private_data` came from `Box::into_raw` of this type.
    let owned = unsafe { Box::from_raw(private.cast::<SchemaOwned>()) };
    for &child in &owned.children {
        // SAFETY: from `Box::into_raw`; dropping it releases it unless it was moved out.
        drop(unsafe { Box::from_raw(child) });
    }
    schema.release = None;
    schema.private_data = null_mut();
}

fn bits(items: &[bool]) -> Vec<u8> {
    let mut out = vec![0_u8; items.len().div_ceil(8)];
    for (i, _) in items.iter().enumerate().filter(|(_, on)| **on) {
        out[i / 8] |= 1 << (i % 8);
    }
    out
}

fn column_array(column: Column) -> Result<ArrowArray, c_int> {
    let length = column.valid.len();
    let nulls = column.valid.iter().filter(|v| !**v).count();
    let validity = (nulls > 0).then(|| bits(&column.valid));
    let mut buffers: Vec<*const c_void> =
        vec![validity.as_ref().map_or(null(), |v| v.as_ptr().cast())];
    let data = match column.items {
        Items::F64(v) => Data::F64(v),
        Items::I64(v) => Data::I64(v),
        Items::Bool(v) => Data::Bits(bits(&v)),
        Items::Text(v) => text(&v)?,
        _ => return Err(22),
    };
    match &data {
        Data::F64(v) => buffers.push(v.as_ptr().cast()),
        Data::I64(v) => buffers.push(v.as_ptr().cast()),
        Data::Bits(v) => buffers.push(v.as_ptr().cast()),
        Data::Text(offsets, bytes) => {
            buffers.extend([offsets.as_ptr().cast::<c_void>(), bytes.as_ptr().cast()]);
        }
        Data::None => {}
    }
    let owned = ArrayOwned { _data: data, _validity: validity, buffers, children: Vec::new() };
    Ok(array(length, nulls, owned))
}

/// Text with 32-bit offsets; more than 2 GiB of it is refused with EOVERFLOW.
fn text(items: &[String]) -> Result<Data, c_int> {
    let mut offsets = vec![0_i32];
    let mut bytes = Vec::new();
    for item in items {
        bytes.extend_from_slice(item.as_bytes());
        offsets.push(i32::try_from(bytes.len()).map_err(|_| 75)?);
    }
    Ok(Data::Text(offsets, bytes))
}

fn array(length: usize, nulls: usize, owned: ArrayOwned) -> ArrowArray {
    let mut owned = Box::new(owned);
    ArrowArray {
        length: length as i64,
        null_count: nulls as i64,
        offset: 0,
        n_buffers: owned.buffers.len() as i64,
        n_children: owned.children.len() as i64,
        buffers: owned.buffers.as_mut_ptr(),
        children: owned.children.as_mut_ptr(),
        dictionary: null_mut(),
        release: Some(release_array),
        private_data: Box::into_raw(owned).cast(),
    }
}

impl Drop for ArrowArray {
    fn drop(&mut self) {
        if let Some(release) = self.release {
            // SAFETY: not yet released, and `self` is valid.
            unsafe { release(self) }
        }
    }
}

unsafe extern "C" fn release_array(array: *mut ArrowArray) {
    // SAFETY: the caller hands over an array that this module made and nobody released.
    let (private, array) = unsafe { ((*array).private_data, &mut *array) };
    // SAFETY: `private_data` came from `Box::into_raw` of this type.
    let owned = unsafe { Box::from_raw(private.cast::<ArrayOwned>()) };
    for &child in &owned.children {
        // SAFETY: from `Box::into_raw`; dropping it releases it unless it was moved out.
        drop(unsafe { Box::from_raw(child) });
    }
    array.release = None;
    array.private_data = null_mut();
}

fn batch(table: Table) -> Result<ArrowArray, c_int> {
    let rows = table.rows();
    let columns = table.columns().to_vec();
    let arrays = columns.into_iter().map(column_array).collect::<Result<Vec<_>, _>>()?;
    let children = arrays.into_iter().map(|a| Box::into_raw(Box::new(a))).collect();
    let owned = ArrayOwned { _data: Data::None, _validity: None, buffers: vec![null()], children };
    Ok(array(rows, 0, owned))
}

unsafe extern "C" fn get_schema(stream: *mut ArrowArrayStream, out: *mut ArrowSchema) -> c_int {
    // SAFETY: a live stream of this module; its private data is a `StreamOwned`.
    let owned = unsafe { &*(*stream).private_data.cast::<StreamOwned>() };
    // SAFETY: `out` is the caller's, to be written and not read.
    unsafe { out.write(schema_of(&owned.schema)) };
    0
}

unsafe extern "C" fn get_next(stream: *mut ArrowArrayStream, out: *mut ArrowArray) -> c_int {
    // SAFETY: a live stream of this module; its private data is a `StreamOwned`.
    let owned = unsafe { &mut *(*stream).private_data.cast::<StreamOwned>() };
    let next = match owned.table.take() {
        Some(table) => batch(table),
        None => Ok(ArrowArray {
            length: 0,
            null_count: 0,
            offset: 0,
            n_buffers: 0,
            n_children: 0,
            buffers: null_mut(),
            children: null_mut(),
            dictionary: null_mut(),
            release: None,
            private_data: null_mut(),
        }),
    };
    match next {
        Ok(next) => {
            // SAFETY: `out` is the caller's, to be written and not read.
            unsafe { out.write(next) };
            0
        }
        Err(errno) => errno,
    }
}

unsafe extern "C" fn get_last_error(_: *mut ArrowArrayStream) -> *const c_char {
    c"the table can't be given as Arrow".as_ptr()
}

unsafe extern "C" fn release_stream(stream: *mut ArrowArrayStream) {
    // SAFETY: the caller hands over a stream that this module made and nobody released.
    let (private, stream) = unsafe { ((*stream).private_data, &mut *stream) };
    // SAFETY: `private_data` came from `Box::into_raw` of this type.
    drop(unsafe { Box::from_raw(private.cast::<StreamOwned>()) });
    stream.release = None;
    stream.private_data = null_mut();
}
