//! Arrow columns of text: with 32-bit or 64-bit offsets, or as views.
//!
//! # Source
//! The Arrow columnar format, <https://arrow.apache.org/docs/format/Columnar.html>.

use std::borrow::Cow;

use pyo3::prelude::*;

use crate::arrow_in::Slice;
use crate::error::raise;
use crate::numbers::Bits;

/// A column of text, in pieces.
pub(crate) struct Texts<'a> {
    pub(crate) pieces: Vec<Text<'a>>,
}

/// One piece; all places in it have been checked.
pub(crate) struct Text<'a> {
    kind: Kind<'a>,
    valid: Option<Bits<'a>>,
    len: usize,
}

enum Kind<'a> {
    Small(Cow<'a, [i32]>, &'a [u8]),
    Large(Cow<'a, [i64]>, &'a [u8]),
    /// Views have no alignment of their own as bytes: 4 of length, then 12 of text or of place.
    Views(Cow<'a, [[u8; 16]]>, Vec<&'a [u8]>),
}

fn wrong(argument: &str) -> PyErr {
    let message = format!("{argument}: an item of text lies outside its buffer");
    raise(&message, "arrow", argument, None)
}

fn word(view: &[u8; 16], at: usize) -> usize {
    let bytes = [view[at], view[at + 1], view[at + 2], view[at + 3]];
    // Negative numbers become too large to be a place.
    usize::try_from(i32::from_le_bytes(bytes)).unwrap_or(usize::MAX)
}

impl<'a> Text<'a> {
    pub(crate) fn new(kind: &str, rows: &Slice<'a>, argument: &str) -> PyResult<Text<'a>> {
        let kind = match kind {
            "u" => {
                let offsets = rows.items::<i32>(1, 1, argument)?;
                let bytes = bytes_up_to(rows, offsets.iter().map(|&o| i64::from(o)), argument)?;
                Kind::Small(offsets, bytes)
            }
            "U" => {
                let offsets = rows.items::<i64>(1, 1, argument)?;
                let bytes = bytes_up_to(rows, offsets.iter().copied(), argument)?;
                Kind::Large(offsets, bytes)
            }
            "vu" => {
                let views = rows.items::<[u8; 16]>(1, 0, argument)?;
                Kind::Views(views, buffers(rows, argument)?)
            }
            other => {
                let message = format!("{argument}: Arrow type \"{other}\" is no text");
                return Err(raise(&message, "column_type", argument, None));
            }
        };
        let text = Text { kind, valid: rows.valid(argument)?, len: rows.len };
        if matches!(text.kind, Kind::Views(..))
            && (0..text.len).any(|i| text.get(i).is_none() && text.there(i))
        {
            return Err(wrong(argument));
        }
        Ok(text)
    }

    fn there(&self, index: usize) -> bool {
        self.valid.is_none_or(|v| v.get(index))
    }

    fn get(&self, index: usize) -> Option<&'a [u8]> {
        if !self.there(index) {
            return None;
        }
        match &self.kind {
            Kind::Small(offsets, bytes) => {
                bytes.get(offsets[index] as usize..offsets[index + 1] as usize)
            }
            Kind::Large(offsets, bytes) => {
                bytes.get(offsets[index] as usize..offsets[index + 1] as usize)
            }
            Kind::Views(views, buffers) => view(views, index, buffers),
        }
    }
}

/// Up to 12 bytes stand in the view itself.
fn view<'a>(views: &Cow<'a, [[u8; 16]]>, index: usize, buffers: &[&'a [u8]]) -> Option<&'a [u8]> {
    let view = &views[index];
    let len = word(view, 0);
    if len > 12 {
        let (buffer, from) = (word(view, 8), word(view, 12));
        return buffers.get(buffer)?.get(from..from.checked_add(len)?);
    }
    match views {
        Cow::Borrowed(views) => views[index].get(4..4 + len),
        // Bytes are never misaligned, so views are never copied.
        Cow::Owned(_) => None,
    }
}

/// The text's bytes, up to the last offset; offsets must rise.
fn bytes_up_to<'a>(
    rows: &Slice<'a>,
    offsets: impl Iterator<Item = i64>,
    argument: &str,
) -> PyResult<&'a [u8]> {
    let mut last = 0;
    for offset in offsets {
        if offset < last {
            return Err(wrong(argument));
        }
        last = offset;
    }
    buffer(rows, 2, last, argument)
}

fn buffer<'a>(rows: &Slice<'a>, k: usize, len: i64, argument: &str) -> PyResult<&'a [u8]> {
    let len = usize::try_from(len).map_err(|_| wrong(argument))?;
    if len == 0 {
        return Ok(&[]);
    }
    let pointer = rows.buffer(k, argument)?.cast::<u8>();
    if pointer.is_null() {
        return Err(wrong(argument));
    }
    // SAFETY: Arrow's buffer holds the bytes up to the last offset, or of the length it states.
    Ok(unsafe { std::slice::from_raw_parts(pointer, len) })
}

/// The buffers that views point into; the last buffer of the array holds their lengths.
fn buffers<'a>(rows: &Slice<'a>, argument: &str) -> PyResult<Vec<&'a [u8]>> {
    let count = rows.buffers().saturating_sub(3);
    if count == 0 || rows.len == 0 {
        return Ok(Vec::new());
    }
    let sizes = rows.buffer(count + 2, argument)?.cast::<i64>();
    if sizes.is_null() {
        return Err(wrong(argument));
    }
    // SAFETY: Arrow's last buffer of a view array holds a length for each of the others.
    let size = |k| unsafe { sizes.add(k).read_unaligned() };
    (0..count).map(|k| buffer(rows, k + 2, size(k), argument)).collect()
}

impl<'a> Texts<'a> {
    /// Every item in turn, as bytes; `None` where missing.
    pub(crate) fn each(&self) -> impl Iterator<Item = Option<&'a [u8]>> {
        self.pieces.iter().flat_map(|piece| (0..piece.len).map(|i| piece.get(i)))
    }
}
