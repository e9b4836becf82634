//! From C's pointers to references and slices; NULL becomes an error that names the argument.

use std::ffi::{CStr, CString, c_char};
use std::ptr::NonNull;

use glycemic_core::Error;

use crate::error::Failure;

/// The `len` items at `items`; NULL stands for an empty array when `len` is 0.
///
/// # Safety
/// `items` is NULL or valid to read `len` items for as long as the result is used.
pub(crate) unsafe fn slice<'a, T>(
    name: &'static str,
    items: *const T,
    len: usize,
) -> Result<&'a [T], Failure> {
    let most = isize::MAX as usize / size_of::<T>().max(1);
    if len > most {
        let (value, high) = (len as f64, most as f64);
        return Err(Error::OutOfRange { name: "len", index: None, value, low: 0.0, high }.into());
    }
    match (items.is_null(), len) {
        (true, 0) => Ok(&[]),
        (true, _) => Err(Failure::Null(name)),
        // SAFETY: not NULL, so valid for `len` items by the contract; the size was checked.
        (false, _) => Ok(unsafe { std::slice::from_raw_parts(items, len) }),
    }
}

/// The object behind a handle.
///
/// # Safety
/// `object` is NULL or valid to read for as long as the result is used.
pub(crate) unsafe fn handle<'a, T>(name: &'static str, object: *const T) -> Result<&'a T, Failure> {
    // SAFETY: NULL or valid by the contract.
    unsafe { object.as_ref() }.ok_or(Failure::Null(name))
}

/// The object behind a handle that is to change.
///
/// # Safety
/// `object` is NULL or valid to read and write, by nobody else, for as long as the result is used.
pub(crate) unsafe fn handle_mut<'a, T>(
    name: &'static str,
    object: *mut T,
) -> Result<&'a mut T, Failure> {
    // SAFETY: NULL or valid by the contract.
    unsafe { object.as_mut() }.ok_or(Failure::Null(name))
}

/// Writes a result that the caller may not want.
///
/// # Safety
/// `out` is NULL or valid to write one item to.
pub(crate) unsafe fn put<T>(out: *mut T, value: T) {
    if !out.is_null() {
        // SAFETY: not NULL, so valid by the contract.
        unsafe { out.write(value) };
    }
}

/// The text at `text`.
///
/// # Safety
/// `text` is NULL or points to bytes that end with a zero, valid for as long as the result.
pub(crate) unsafe fn text<'a>(name: &'static str, text: *const c_char) -> Result<&'a str, Failure> {
    if text.is_null() {
        return Err(Failure::Null(name));
    }
    // SAFETY: not NULL, so it ends with a zero by the contract.
    unsafe { CStr::from_ptr(text) }.to_str().map_err(|_| Failure::Text(name))
}

/// A place for a result, which must not be NULL.
pub(crate) fn place<T>(name: &'static str, out: *mut T) -> Result<NonNull<T>, Failure> {
    NonNull::new(out).ok_or(Failure::Null(name))
}

/// Hands an object to C.
pub(crate) fn give<T>(object: T) -> *mut T {
    Box::into_raw(Box::new(object))
}

/// Takes back what [`give`] made and drops it; nothing for NULL.
///
/// # Safety
/// `object` is NULL or came from [`give`], and is not used again.
pub(crate) unsafe fn take<T>(object: *mut T) {
    if !object.is_null() {
        // SAFETY: made by `Box::into_raw` by the contract.
        drop(unsafe { Box::from_raw(object) });
    }
}

/// Text for C; a zero inside it ends it.
pub(crate) fn c_text(text: &str) -> CString {
    let until = text.split('\0').next().unwrap_or_default();
    CString::new(until).unwrap_or_default()
}
