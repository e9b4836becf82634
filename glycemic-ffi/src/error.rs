//! Statuses, errors, and the guard that stands at every border.

use std::any::Any;
use std::ffi::{CString, c_char};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::ptr;

use glycemic_core::{Error, Reason};

use crate::pointers::{c_text, take};

/// What a call came to. A number is never reused.
#[repr(i32)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GlycStatus {
    /// Done; the results are written.
    Ok = 0,
    /// A pointer that must not be NULL is.
    NullArgument = 1,
    /// A fault inside the library. Please report it.
    Panic = 2,
    /// It can't be told from this data; the error says why.
    NotEstimable = 3,
    /// A text is not UTF-8.
    NotUtf8 = 4,
    /// An error that this version of the header has no number for; see `glyc_error_code`.
    Other = 5,
    /// A measure is defined only for more values than there are.
    TooFewValues = 10,
    /// Two arrays that belong together differ in length.
    LengthMismatch = 11,
    /// Times must rise strictly.
    UnorderedTime = 12,
    /// An argument, or an item of it, is NaN or infinite.
    NotFinite = 13,
    /// An argument, or an item of it, is outside what it can be.
    OutOfRange = 14,
    /// A number or word that is not one of the choices.
    UnknownChoice = 15,
    /// The values look as if they were in another unit.
    ImplausibleUnit = 16,
    /// A time that can't be an instant in the plausible span of years.
    ImplausibleTime = 17,
    /// A local time that occurs twice or never in its zone.
    LocalTime = 18,
    /// A zone name that the time zone database does not have.
    UnknownZone = 19,
    /// A named column is missing.
    MissingColumn = 20,
    /// A file or folder can't be read or written.
    File = 21,
    /// Rows of a file that can't be used.
    BadRows = 22,
    /// The caller asked to stop.
    Cancelled = 23,
    /// A reading that is not a whole number of its unit's steps (1 mg/dL, 0.1 mmol/L).
    OffGrid = 24,
    /// Bytes that are cut short, changed, of another kind or of a later layout.
    BadBytes = 25,
}

/// What went wrong, and where.
pub struct GlycError {
    status: GlycStatus,
    code: CString,
    message: CString,
    argument: Option<CString>,
    index: Option<usize>,
    file: Option<CString>,
    line: Option<u64>,
    column: Option<CString>,
}

/// Why a body stopped.
pub(crate) enum Failure {
    Core(Error),
    NotEstimable { code: CString, text: CString },
    Null(&'static str),
    Text(&'static str),
    Bytes(String),
    Panic(String),
}

impl From<Error> for Failure {
    fn from(error: Error) -> Failure {
        Failure::Core(error)
    }
}

impl From<&Reason> for Failure {
    fn from(reason: &Reason) -> Failure {
        Failure::NotEstimable { code: c_text(&reason.code), text: c_text(&reason.text) }
    }
}

/// A choice that came in as a number and is none of those there are.
pub(crate) fn unknown_choice(name: &'static str, got: u32, choices: &'static str) -> Failure {
    Error::UnknownChoice { name, got: got.to_string(), choices }.into()
}

fn status_of(code: &str) -> GlycStatus {
    match code {
        "too_few_values" => GlycStatus::TooFewValues,
        "length_mismatch" => GlycStatus::LengthMismatch,
        "unordered_time" => GlycStatus::UnorderedTime,
        "not_finite" => GlycStatus::NotFinite,
        "out_of_range" => GlycStatus::OutOfRange,
        "unknown_choice" => GlycStatus::UnknownChoice,
        "implausible_unit" => GlycStatus::ImplausibleUnit,
        "implausible_time" => GlycStatus::ImplausibleTime,
        "local_time" => GlycStatus::LocalTime,
        "unknown_zone" => GlycStatus::UnknownZone,
        "missing_column" => GlycStatus::MissingColumn,
        "file" => GlycStatus::File,
        "bad_rows" => GlycStatus::BadRows,
        "cancelled" => GlycStatus::Cancelled,
        "off_grid" => GlycStatus::OffGrid,
        _ => GlycStatus::Other,
    }
}

impl From<Failure> for GlycError {
    fn from(failure: Failure) -> GlycError {
        let plain = |status, code: &str, message: &str, argument: Option<&str>| GlycError {
            status,
            code: c_text(code),
            message: c_text(message),
            argument: argument.map(c_text),
            index: None,
            file: None,
            line: None,
            column: None,
        };
        match failure {
            Failure::Core(e) => GlycError {
                index: e.index(),
                file: e.file().map(c_text),
                line: e.line(),
                column: e.column().map(c_text),
                ..plain(status_of(e.code()), e.code(), &e.to_string(), e.argument())
            },
            Failure::NotEstimable { code, text } => {
                GlycError { code, message: text, ..plain(GlycStatus::NotEstimable, "", "", None) }
            }
            Failure::Null(name) => {
                let message = format!("{name} must not be NULL");
                plain(GlycStatus::NullArgument, "null_argument", &message, Some(name))
            }
            Failure::Text(name) => {
                let message = format!("{name} must be UTF-8");
                plain(GlycStatus::NotUtf8, "not_utf8", &message, Some(name))
            }
            Failure::Bytes(why) => {
                let message = format!("bytes can't be read: {why}");
                plain(GlycStatus::BadBytes, "bad_bytes", &message, Some("bytes"))
            }
            Failure::Panic(message) => {
                let message = format!("a fault inside the library: {message}");
                plain(GlycStatus::Panic, "panic", &message, None)
            }
        }
    }
}

/// Runs `body`, turns an error or a panic into a status, and fills `error`.
///
/// `error` is NULL or valid to write one pointer to, by the contract of every caller.
pub(crate) fn guard(
    error: *mut *mut GlycError,
    body: impl FnOnce() -> Result<(), Failure>,
) -> GlycStatus {
    let result = catch_unwind(AssertUnwindSafe(body));
    let failure = match result {
        Ok(Ok(())) => None,
        Ok(Err(failure)) => Some(failure),
        Err(payload) => Some(Failure::Panic(panic_message(payload))),
    };
    let found = failure.map(GlycError::from);
    let status = found.as_ref().map_or(GlycStatus::Ok, |e| e.status);
    if !error.is_null() {
        let object = found.map_or(ptr::null_mut(), crate::pointers::give);
        // SAFETY: not NULL, so valid to write by the contract of every caller.
        unsafe { error.write(object) };
    }
    status
}

/// What `body` gives; `None` should it panic. For getters that have no status to return.
pub(crate) fn calm<T>(body: impl FnOnce() -> T) -> Option<T> {
    match catch_unwind(AssertUnwindSafe(body)) {
        Ok(value) => Some(value),
        Err(payload) => {
            panic_message(payload);
            None
        }
    }
}

fn panic_message(payload: Box<dyn Any + Send>) -> String {
    let text = payload
        .downcast_ref::<&str>()
        .map(|s| s.to_string())
        .or_else(|| payload.downcast_ref::<String>().cloned())
        .unwrap_or_default();
    // A payload whose drop panics must not cross either.
    let _ = catch_unwind(AssertUnwindSafe(move || drop(payload)));
    text
}

fn borrowed(text: Option<&CString>) -> *const c_char {
    text.map_or(ptr::null(), |t| t.as_ptr())
}

/// The status that came with an error; `GLYC_STATUS_OK` for NULL. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_status(error: *const GlycError) -> GlycStatus {
    // SAFETY: NULL or valid by the contract above.
    unsafe { error.as_ref() }.map_or(GlycStatus::Ok, |e| e.status)
}

/// A stable word for programs, such as "not_finite"; with `GLYC_STATUS_NOT_ESTIMABLE` the word
/// of the reason, such as "no_zone". Borrowed from `error`; NULL for NULL. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_code(error: *const GlycError) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    borrowed(unsafe { error.as_ref() }.map(|e| &e.code))
}

/// A sentence for people (UTF-8). Borrowed from `error`; NULL for NULL. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_message(error: *const GlycError) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    borrowed(unsafe { error.as_ref() }.map(|e| &e.message))
}

/// The argument at fault, or NULL if no single one is. Borrowed from `error`. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_argument(error: *const GlycError) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    borrowed(unsafe { error.as_ref() }.and_then(|e| e.argument.as_ref()))
}

/// Whether one item is at fault; if so its position, counted from 0, is written to `index_out`
/// (NULL if not wanted). Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed; `index_out` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_index(error: *const GlycError, index_out: *mut usize) -> bool {
    // SAFETY: NULL or valid by the contract above.
    let index = unsafe { error.as_ref() }.and_then(|e| e.index);
    if let (Some(index), false) = (index, index_out.is_null()) {
        // SAFETY: not NULL, so valid to write.
        unsafe { index_out.write(index) };
    }
    index.is_some()
}

/// The file at fault, or NULL if none is. Borrowed from `error`. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_file(error: *const GlycError) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    borrowed(unsafe { error.as_ref() }.and_then(|e| e.file.as_ref()))
}

/// Whether a line of a file is at fault; if so its number, counted from 1, is written to
/// `line_out` (NULL if not wanted). Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed; `line_out` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_line(error: *const GlycError, line_out: *mut u64) -> bool {
    // SAFETY: NULL or valid by the contract above.
    let line = unsafe { error.as_ref() }.and_then(|e| e.line);
    if let (Some(line), false) = (line, line_out.is_null()) {
        // SAFETY: not NULL, so valid to write.
        unsafe { line_out.write(line) };
    }
    line.is_some()
}

/// The column of a file at fault, or NULL if none is. Borrowed from `error`. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_column(error: *const GlycError) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    borrowed(unsafe { error.as_ref() }.and_then(|e| e.column.as_ref()))
}

/// Frees an error; nothing for NULL. Since 0.1.
///
/// # Safety
/// `error` is NULL or an error that was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_error_free(error: *mut GlycError) {
    // SAFETY: by the contract above.
    unsafe { take(error) };
}
