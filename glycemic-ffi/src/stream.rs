//! Readings of one sensor as they come, in bounded memory. Method: `glycemic_core::panel::stream`.

use std::ffi::c_char;
use std::ptr;
use std::sync::OnceLock;

use glycemic_core::panel::{Pushed, Stream};
use glycemic_core::{Error, Unit};

use crate::bytes::{Kind, hand_out, pack, unpack};
use crate::clock::GlycClock;
use crate::error::{Failure, GlycError, GlycStatus, calm, guard};
use crate::estimate::{Missing, write_counts};
use crate::measured::Measured;
use crate::pointers::{give, handle, handle_mut, place, put, slice, take};
use crate::trace::{to_mg_dl, unit_from, unit_number};

/// A pushed reading is the latest.
pub const GLYC_PUSHED_ADDED: u32 = 1;
/// A pushed reading came late and was put in its place.
pub const GLYC_PUSHED_INSERTED: u32 = 2;

const BEYOND: &str = "needs the whole trace, which a stream does not keep";

/// Readings of one sensor as they come.
pub struct GlycStream {
    stream: Stream,
    unit: Unit,
    /// Made at the first question after a change.
    measured: OnceLock<Measured>,
}

impl GlycStream {
    fn new(stream: Stream, unit: Unit) -> GlycStream {
        GlycStream { stream, unit, measured: OnceLock::new() }
    }

    /// The stream, to change it: what was measured no longer holds.
    fn change(&mut self) -> &mut Stream {
        self.measured.take();
        &mut self.stream
    }

    fn measured(&self) -> &Measured {
        self.measured.get_or_init(|| Measured::new(self.stream.measures(), BEYOND))
    }

    /// Takes in all readings, or none; how many were added and inserted.
    fn extend(&mut self, times_ms: &[i64], glucose: &[f64]) -> Result<(usize, usize), Failure> {
        let mut grown = self.stream.clone();
        let (mut added, mut inserted) = (0, 0);
        for (i, (&time_ms, &g)) in times_ms.iter().zip(glucose).enumerate() {
            match grown.push(time_ms, to_mg_dl(self.unit, g)).map_err(|e| at(i, e))? {
                Pushed::Added => added += 1,
                _ => inserted += 1,
            }
        }
        *self.change() = grown;
        Ok((added, inserted))
    }
}

/// An error of one reading as that of item `i`.
fn at(i: usize, error: Error) -> Error {
    let index = Some(i);
    match error {
        Error::NotFinite { name, value, .. } => Error::NotFinite { name, index, value },
        Error::OutOfRange { name, value, low, high, .. } => {
            Error::OutOfRange { name, index, value, low, high }
        }
        Error::OffGrid { name, value, unit, .. } => Error::OffGrid { name, index, value, unit },
        Error::ImplausibleTime { value, why, .. } => {
            Error::ImplausibleTime { index: i, value, why }
        }
        Error::UnorderedTime { .. } => Error::UnorderedTime { index: i },
        other => other,
    }
}

/// Why a measure is missing.
///
/// # Safety
/// `stream` is NULL or was not freed.
unsafe fn missing<'a>(stream: *const GlycStream, measure_id: u32) -> Option<&'a Missing> {
    // SAFETY: NULL or valid by the contract.
    let stream = unsafe { stream.as_ref() }?;
    calm(|| stream.measured().missing(measure_id))?
}

/// An empty stream.
///
/// `unit` (in): one of `GLYC_UNIT_*`, the unit that the sensor shows.
/// `nominal_min` (in): minutes between readings as a rule, from a second to an hour.
/// `clock` (in): local time, copied; NULL if unknown. Only streams with the same clock are joined.
/// `stream_out` (out): the new stream; free it with `glyc_stream_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `clock` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_new(
    unit: u32,
    nominal_min: f64,
    clock: *const GlycClock,
    stream_out: *mut *mut GlycStream,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; NULL becomes `None`.
        let clock = unsafe { clock.as_ref() }.map(|c| c.clock.clone());
        let out = place("stream_out", stream_out)?;
        let unit = unit_from(unit)?;
        let stream = GlycStream::new(Stream::new(unit, nominal_min, clock)?, unit);
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(stream)) };
        Ok(())
    })
}

/// The unit of a stream, one of `GLYC_UNIT_*`; 0 for NULL. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_unit(stream: *const GlycStream) -> u32 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { stream.as_ref() }.map_or(0, |s| unit_number(s.unit))
}

/// Number of readings; 0 for NULL. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_n(stream: *const GlycStream) -> u64 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { stream.as_ref() }.map_or(0, |s| s.stream.len() as u64)
}

/// Takes in a reading; a late one is put in its place if it is less than 25 h older than the
/// latest. On an error the stream stays as it was.
///
/// `time_ms` (in): UTC milliseconds since 1970.
/// `glucose` (in): in the stream's unit, as `glyc_trace_new` takes it.
/// `pushed_out` (out): NULL, or where to put one of `GLYC_PUSHED_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNORDERED_TIME` (there is a reading at that instant), `OUT_OF_RANGE` (too late, or
/// glucose not positive or over 2000 mg/dL), `IMPLAUSIBLE_TIME`, `OFF_GRID` (not whole mg/dL or
/// tenths of mmol/L: such readings need a trace), `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_push(
    stream: *mut GlycStream,
    time_ms: i64,
    glucose: f64,
    pushed_out: *mut u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let stream = unsafe { handle_mut("stream", stream)? };
        let mg_dl = to_mg_dl(stream.unit, glucose);
        let pushed = match stream.change().push(time_ms, mg_dl)? {
            Pushed::Added => GLYC_PUSHED_ADDED,
            _ => GLYC_PUSHED_INSERTED,
        };
        // SAFETY: by the contract above.
        unsafe { put(pushed_out, pushed) };
        Ok(())
    })
}

/// Takes in readings, in any order within 25 h; all of them, or none if one can't be taken.
///
/// `times_ms`, `glucose` (in): `len` items each, as for `glyc_stream_push`; borrowed for the call.
/// `added_out`, `inserted_out` (out): NULL, or where to put how many came in order and late.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: as for `glyc_stream_push`; the error has the index of the first bad one. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_extend(
    stream: *mut GlycStream,
    times_ms: *const i64,
    glucose: *const f64,
    len: usize,
    added_out: *mut usize,
    inserted_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let (times, glucose) =
            unsafe { (slice("times_ms", times_ms, len)?, slice("glucose", glucose, len)?) };
        // SAFETY: NULL or valid by the contract above.
        let stream = unsafe { handle_mut("stream", stream)? };
        let (added, inserted) = stream.extend(times, glucose)?;
        // SAFETY: by the contract above.
        unsafe {
            put(added_out, added);
            put(inserted_out, inserted);
        }
        Ok(())
    })
}

/// Joins a stream that begins after this one ends. On an error this one stays as it was.
///
/// `stream` (in, out): the one that grows.
/// `later` (in): borrowed for the call.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE` (another unit or clock), `OUT_OF_RANGE` (another nominal interval,
/// or its first reading is not later than the last one here), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `stream` and `later` are NULL or were not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_join(
    stream: *mut GlycStream,
    later: *const GlycStream,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // Copied, since both may be the same one. SAFETY: NULL or valid by the contract above.
        let later = unsafe { handle("later", later)? }.stream.clone();
        // SAFETY: as above; nothing else is borrowed by now.
        let stream = unsafe { handle_mut("stream", stream)? };
        Ok(stream.change().join(&later)?)
    })
}

/// The value of a measure, by the default options; it needs no local day.
///
/// `measure_id` (in): one of `GLYC_MEASURE_*`.
/// `value_out` (out): the value, in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// The first question after a change computes every measure, those after it look them up.
///
/// Statuses: `NOT_ESTIMABLE` (the error holds the reason, and so does `glyc_stream_reason`; its code
/// is "not_computed" for a measure that needs the whole trace), `UNKNOWN_CHOICE`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_value(
    stream: *const GlycStream,
    measure_id: u32,
    value_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let stream = unsafe { handle("stream", stream)? };
        let out = place("value_out", value_out)?;
        let value = stream.measured().value(measure_id)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(value) };
        Ok(())
    })
}

/// Why a measure is missing, one sentence for people (UTF-8); NULL if it is not, and for NULL or
/// an unknown id. Borrowed from `stream` until it changes. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_reason(
    stream: *const GlycStream,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: by the contract above.
    unsafe { missing(stream, measure_id) }.map_or(ptr::null(), |m| m.text.as_ptr())
}

/// Why a measure is missing, a stable word for programs; NULL as for `glyc_stream_reason`.
/// Borrowed from `stream` until it changes. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_reason_code(
    stream: *const GlycStream,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: by the contract above.
    unsafe { missing(stream, measure_id) }.map_or(ptr::null(), |m| m.code.as_ptr())
}

/// Whether the reason counts something; if so, how many there were and how many it takes is
/// written to `had_out` and `needed_out` (each NULL if not wanted). Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_reason_counts(
    stream: *const GlycStream,
    measure_id: u32,
    had_out: *mut f64,
    needed_out: *mut f64,
) -> bool {
    // SAFETY: by the contract above.
    unsafe { write_counts(missing(stream, measure_id), had_out, needed_out) }
}

/// Writes a stream as bytes, to be kept and read by `glyc_stream_load`, its clock included.
///
/// `buffer` (out): room for `size` bytes; NULL and 0 to learn how many are needed.
/// `needed_out` (out): number of bytes; may be NULL if `buffer` is not.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE` (`size` is too small; nothing is written), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_save(
    stream: *const GlycStream,
    buffer: *mut u8,
    size: usize,
    needed_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let stream = unsafe { handle("stream", stream)? };
        let bytes = to_bytes(&stream.stream)?;
        // SAFETY: by the contract above.
        unsafe { hand_out(&bytes, buffer, size, needed_out) }
    })
}

/// Reads a stream that `glyc_stream_save` wrote. Only from where you keep your own: the checksum
/// finds accidents, not forgery.
///
/// `bytes` (in): `len` bytes; borrowed for the call.
/// `stream_out` (out): the new stream; free it with `glyc_stream_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `BAD_BYTES`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_load(
    bytes: *const u8,
    len: usize,
    stream_out: *mut *mut GlycStream,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let bytes = unsafe { slice("bytes", bytes, len)? };
        let out = place("stream_out", stream_out)?;
        let (stream, unit) = from_bytes(bytes)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycStream::new(stream, unit))) };
        Ok(())
    })
}

pub(crate) fn to_bytes(stream: &Stream) -> Result<Vec<u8>, Failure> {
    let body = serde_json::to_vec(stream).map_err(|e| Failure::Bytes(e.to_string()))?;
    Ok(pack(Kind::Stream, &body))
}

pub(crate) fn from_bytes(bytes: &[u8]) -> Result<(Stream, Unit), Failure> {
    let wrong = |e: serde_json::Error| Failure::Bytes(e.to_string());
    let body = unpack(Kind::Stream, bytes)?;
    let stream = serde_json::from_slice(body).map_err(wrong)?;
    // The core does not say a stream's unit; its stored form does.
    let stored: serde_json::Value = serde_json::from_slice(body).map_err(wrong)?;
    let unit = serde_json::from_value(stored["unit"].clone()).map_err(wrong)?;
    Ok((stream, unit))
}

/// Frees a stream; nothing for NULL. Since 0.1.
///
/// # Safety
/// `stream` is NULL or was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_stream_free(stream: *mut GlycStream) {
    // SAFETY: by the contract above.
    unsafe { take(stream) };
}
