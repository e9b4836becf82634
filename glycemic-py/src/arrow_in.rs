//! Columns of other libraries by the Arrow C interfaces, read where they lie.
//!
//! # Source
//! The Arrow C data and C stream interfaces and the columnar format,
//! <https://arrow.apache.org/docs/format/CDataInterface.html>. A structure is moved out of its
//! capsule by clearing `release` there, and released when it is dropped here. Buffers that don't
//! lie on a multiple of their items' size are copied.

use std::borrow::Cow;
use std::ffi::{CStr, c_char, c_void};
use std::mem::MaybeUninit;
use std::ptr;

use pyo3::prelude::*;
use pyo3::types::PyCapsule;

use crate::arrow::{ArrowArray, ArrowArrayStream, ArrowSchema};
use crate::arrow_text::{Text, Texts};
use crate::error::raise;
use crate::numbers::{Bits, Numbers, Piece, Values};

/// A column or a table taken over from another library; given back when dropped.
pub(crate) struct Imported {
    schema: ArrowSchema,
    arrays: Vec<ArrowArray>,
}

/// One column of it: its type, and the arrays with the rows that count.
pub(crate) struct ArrowColumn<'a> {
    schema: &'a ArrowSchema,
    pieces: Vec<Slice<'a>>,
    argument: &'a str,
}

/// Rows of an array.
#[derive(Clone, Copy)]
pub(crate) struct Slice<'a> {
    array: &'a ArrowArray,
    pub(crate) offset: usize,
    pub(crate) len: usize,
}

fn wrong(argument: &str, what: &str) -> PyErr {
    raise(&format!("{argument}: {what}"), "arrow", argument, None)
}

/// Moves a structure out of its capsule.
///
/// # Safety
/// A capsule called `name` must hold a `T`, and `release` must clear the field of that name.
unsafe fn take<T>(
    capsule: &Bound<'_, PyAny>,
    name: &CStr,
    release: impl FnOnce(&mut T),
) -> PyResult<T> {
    let pointer = capsule.cast::<PyCapsule>()?.pointer_checked(Some(name))?.cast::<T>();
    // SAFETY: the capsule's name says what it holds. Cleared there, it is ours alone.
    unsafe {
        let taken = pointer.read();
        release(&mut *pointer.as_ptr());
        Ok(taken)
    }
}

impl Imported {
    /// Takes what `__arrow_c_array__` or `__arrow_c_stream__` gives.
    pub(crate) fn new(value: &Bound<'_, PyAny>, argument: &str) -> PyResult<Imported> {
        if value.hasattr("__arrow_c_array__")? {
            let (schema, array): (Bound<'_, PyAny>, Bound<'_, PyAny>) =
                value.call_method0("__arrow_c_array__")?.extract()?;
            // SAFETY: capsules of the Arrow PyCapsule interface.
            let schema =
                unsafe { take(&schema, c"arrow_schema", |s: &mut ArrowSchema| s.release = None)? };
            // SAFETY: as above.
            let array =
                unsafe { take(&array, c"arrow_array", |a: &mut ArrowArray| a.release = None)? };
            return Imported { schema, arrays: vec![array] }.alive(argument);
        }
        let capsule = value.call_method0("__arrow_c_stream__")?;
        // SAFETY: as above.
        let stream = unsafe {
            take(&capsule, c"arrow_array_stream", |s: &mut ArrowArrayStream| s.release = None)?
        };
        drain(stream, argument)?.alive(argument)
    }

    fn alive(self, argument: &str) -> PyResult<Imported> {
        let released =
            self.schema.release.is_none() || self.arrays.iter().any(|a| a.release.is_none());
        if released {
            Err(wrong(argument, "its Arrow data were released before"))
        } else {
            Ok(self)
        }
    }

    /// The only column, or the column called `name` of a table.
    pub(crate) fn column<'a>(
        &'a self,
        name: Option<&str>,
        argument: &'a str,
    ) -> PyResult<ArrowColumn<'a>> {
        let Some(name) = name else {
            let whole = |a| slice(a, 0, None, argument);
            let pieces = self.arrays.iter().map(whole).collect::<PyResult<_>>()?;
            return Ok(ArrowColumn { schema: &self.schema, pieces, argument });
        };
        let fields = children(self.schema.children, self.schema.n_children, argument)?;
        if format(&self.schema) != "+s" {
            return Err(wrong(argument, "it is a column, not a table"));
        }
        let Some(k) = fields.iter().position(|f| text(f.name) == name) else {
            let found: Vec<String> = fields.iter().map(|f| text(f.name).into_owned()).collect();
            return Err(crate::error::to_py(glycemic_core::Error::MissingColumn {
                file: "data".to_string(),
                column: name.to_string(),
                found: found.join(", "),
            }));
        };
        let mut pieces = Vec::new();
        for batch in &self.arrays {
            let rows = slice(batch, 0, None, argument)?;
            if rows.valid(argument)?.is_some_and(|v| (0..rows.len).any(|i| !v.get(i))) {
                return Err(wrong(argument, "whole rows of the table are null"));
            }
            let columns = children(batch.children, batch.n_children, argument)?;
            let column = columns.get(k).ok_or_else(|| wrong(argument, "a batch lacks a column"))?;
            pieces.push(slice(column, rows.offset, Some(rows.len), argument)?);
        }
        Ok(ArrowColumn { schema: fields[k], pieces, argument })
    }
}

/// Reads a stream to its end.
fn drain(mut stream: ArrowArrayStream, argument: &str) -> PyResult<Imported> {
    let (Some(get_schema), Some(get_next)) = (stream.get_schema, stream.get_next) else {
        return Err(wrong(argument, "its Arrow stream was released before"));
    };
    let mut schema = MaybeUninit::<ArrowSchema>::uninit();
    // SAFETY: a live stream; on 0 it has written the schema.
    let schema = unsafe {
        if get_schema(&mut stream, schema.as_mut_ptr()) != 0 {
            return Err(failed(&mut stream, argument));
        }
        schema.assume_init()
    };
    let mut arrays = Vec::new();
    loop {
        let mut array = MaybeUninit::<ArrowArray>::uninit();
        // SAFETY: as above.
        let array = unsafe {
            if get_next(&mut stream, array.as_mut_ptr()) != 0 {
                return Err(failed(&mut stream, argument));
            }
            array.assume_init()
        };
        if array.release.is_none() {
            return Ok(Imported { schema, arrays });
        }
        arrays.push(array);
    }
}

fn failed(stream: &mut ArrowArrayStream, argument: &str) -> PyErr {
    // SAFETY: a live stream; the text it gives lives until the next call.
    let why = stream.get_last_error.map(|f| text(unsafe { f(stream) }).into_owned());
    wrong(argument, &why.unwrap_or_default())
}

/// A C string of an Arrow structure; empty for NULL.
fn text<'a>(pointer: *const c_char) -> Cow<'a, str> {
    if pointer.is_null() {
        return Cow::Borrowed("");
    }
    // SAFETY: Arrow's names and formats are C strings that live as long as the schema.
    unsafe { CStr::from_ptr(pointer) }.to_string_lossy()
}

fn format(schema: &ArrowSchema) -> Cow<'_, str> {
    text(schema.format)
}

fn children<'a, T>(at: *mut *mut T, count: i64, argument: &str) -> PyResult<Vec<&'a T>> {
    let count = usize::try_from(count).map_err(|_| wrong(argument, "a negative count"))?;
    if count > 0 && at.is_null() {
        return Err(wrong(argument, "a table without columns"));
    }
    // SAFETY: Arrow says there are `count` pointers, which live as long as their parent.
    let child = |k| unsafe { (*at.add(k)).as_ref() };
    (0..count).map(|k| child(k).ok_or_else(|| wrong(argument, "a column is NULL"))).collect()
}

/// The rows of an array: all, or `len` from `from` on.
fn slice<'a>(
    array: &'a ArrowArray,
    from: usize,
    len: Option<usize>,
    argument: &str,
) -> PyResult<Slice<'a>> {
    let sized = |n: i64| usize::try_from(n).map_err(|_| wrong(argument, "a negative length"));
    let (length, offset) = (sized(array.length)?, sized(array.offset)?);
    let len = len.unwrap_or(length);
    if from.checked_add(len).is_none_or(|end| end > length) {
        return Err(wrong(argument, "a column is shorter than its table"));
    }
    let offset = offset.checked_add(from).filter(|o| o.checked_add(len).is_some());
    let offset = offset.ok_or_else(|| wrong(argument, "an offset past all memory"))?;
    Ok(Slice { array, offset, len })
}

impl<'a> Slice<'a> {
    /// The address of a buffer; NULL only if there are no rows or nothing is missing.
    pub(crate) fn buffer(&self, k: usize, argument: &str) -> PyResult<*const c_void> {
        let count = usize::try_from(self.array.n_buffers).unwrap_or(0);
        if k >= count || self.array.buffers.is_null() {
            return Err(wrong(argument, "an array lacks a buffer"));
        }
        // SAFETY: Arrow says there are `count` addresses.
        Ok(unsafe { *self.array.buffers.add(k) })
    }

    pub(crate) fn buffers(&self) -> usize {
        usize::try_from(self.array.n_buffers).unwrap_or(0)
    }

    /// Which rows are there; `None` if all are.
    pub(crate) fn valid(&self, argument: &str) -> PyResult<Option<Bits<'a>>> {
        let pointer = self.buffer(0, argument)?;
        if pointer.is_null() || self.array.null_count == 0 || self.len == 0 {
            return Ok(None);
        }
        let bytes = (self.offset + self.len).div_ceil(8);
        // SAFETY: Arrow's validity buffer has a bit for each item up to here.
        let bytes = unsafe { std::slice::from_raw_parts(pointer.cast::<u8>(), bytes) };
        Ok(Some(Bits { bytes, offset: self.offset }))
    }

    /// Items of a buffer from the first row on, `more` beyond the last; copied if misaligned.
    pub(crate) fn items<T: Copy>(
        &self,
        k: usize,
        more: usize,
        argument: &str,
    ) -> PyResult<Cow<'a, [T]>> {
        let pointer = self.buffer(k, argument)?.cast::<T>();
        if self.len == 0 {
            return Ok(Cow::Borrowed(&[]));
        }
        if pointer.is_null() {
            return Err(wrong(argument, "a buffer is NULL"));
        }
        let len = self.len + more;
        if pointer.is_aligned() {
            // SAFETY: Arrow's buffer holds offset + len (+ more) items of this type.
            let items = unsafe { std::slice::from_raw_parts(pointer.add(self.offset), len) };
            return Ok(Cow::Borrowed(items));
        }
        let bytes = pointer.cast::<u8>();
        let size = size_of::<T>();
        // SAFETY: as above; read without regard to alignment.
        let item =
            |i: usize| unsafe { ptr::read_unaligned(bytes.add((self.offset + i) * size).cast()) };
        Ok(Cow::Owned((0..len).map(item).collect()))
    }
}

impl<'a> ArrowColumn<'a> {
    /// The type, as Arrow writes it: `g`, `tsm:UTC`, `u`, ...
    pub(crate) fn format(&self) -> Cow<'a, str> {
        format(self.schema)
    }

    pub(crate) fn is_text(&self) -> bool {
        !self.is_coded() && matches!(self.format().as_ref(), "u" | "U" | "vu")
    }

    pub(crate) fn is_coded(&self) -> bool {
        !self.schema.dictionary.is_null()
    }

    pub(crate) fn is_float(&self) -> bool {
        !self.is_coded() && matches!(self.format().as_ref(), "f" | "g")
    }

    fn refuse(&self, what: &str) -> PyErr {
        let kind = self.format();
        let message = format!("{}: a column of Arrow type \"{kind}\" {what}", self.argument);
        raise(&message, "column_type", self.argument, None)
    }

    /// The column as numbers; for a dictionary the codes.
    pub(crate) fn numbers(&self) -> PyResult<Numbers<'a>> {
        let pieces = self.pieces.iter().map(|p| self.piece(p)).collect::<PyResult<_>>()?;
        Ok(Numbers::new(pieces))
    }

    fn piece(&self, rows: &Slice<'a>) -> PyResult<Piece<'a>> {
        let a = self.argument;
        let values = match self.format().as_ref() {
            "c" => Values::I8(rows.items(1, 0, a)?),
            "C" => Values::U8(rows.items(1, 0, a)?),
            "s" => Values::I16(rows.items(1, 0, a)?),
            "S" => Values::U16(rows.items(1, 0, a)?),
            "i" => Values::I32(rows.items(1, 0, a)?),
            "I" => Values::U32(rows.items(1, 0, a)?),
            "l" => Values::I64(rows.items(1, 0, a)?),
            "L" => Values::U64(rows.items(1, 0, a)?),
            "f" => Values::F32(rows.items(1, 0, a)?),
            "g" => Values::F64(rows.items(1, 0, a)?),
            kind if kind.starts_with("ts") => Values::I64(rows.items(1, 0, a)?),
            _ => return Err(self.refuse("can't be read here: give numbers, times or text")),
        };
        Ok(Piece { values, valid: rows.valid(a)? })
    }

    /// The column as text.
    pub(crate) fn texts(&self) -> PyResult<Texts<'a>> {
        let kind = self.format();
        let text = |rows: &Slice<'a>| Text::new(&kind, rows, self.argument);
        let pieces = self.pieces.iter().map(text).collect::<PyResult<_>>()?;
        Ok(Texts { pieces })
    }

    /// The dictionary of each piece, as a column of its own.
    pub(crate) fn dictionaries(&self) -> PyResult<Vec<ArrowColumn<'a>>> {
        // SAFETY: NULL, or a schema that lives as long as its parent.
        let schema = unsafe { self.schema.dictionary.as_ref() };
        let missing = || wrong(self.argument, "a dictionary is missing");
        let schema = schema.ok_or_else(missing)?;
        let one = |rows: &Slice<'a>| {
            // SAFETY: as above.
            let array = unsafe { rows.array.dictionary.as_ref() }.ok_or_else(missing)?;
            let pieces = vec![slice(array, 0, None, self.argument)?];
            Ok(ArrowColumn { schema, pieces, argument: self.argument })
        };
        self.pieces.iter().map(one).collect()
    }

    /// Rows of each piece.
    pub(crate) fn lengths(&self) -> Vec<usize> {
        self.pieces.iter().map(|p| p.len).collect()
    }
}
