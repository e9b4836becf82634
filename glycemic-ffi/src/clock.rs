//! Local time as data. Method: `glycemic_core::clock`.

use std::ffi::c_char;

use glycemic_core::clock::LocalClock;
use glycemic_core::error::require_within;

use crate::error::{GlycError, GlycStatus, guard};
use crate::pointers::{give, handle, place, slice, take, text};

/// Offsets from UTC, and from when each holds.
pub struct GlycClock {
    pub(crate) clock: LocalClock,
}

/// A clock with one offset for ever.
///
/// `offset_min` (in): minutes east of UTC, from -1080 to 1080.
/// `clock_out` (out): the new clock; free it with `glyc_clock_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write one item to.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_clock_fixed(
    offset_min: i32,
    clock_out: *mut *mut GlycClock,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("clock_out", clock_out)?;
        require_within("offset_min", offset_min.into(), -1080.0, 1080.0)?;
        let clock = LocalClock::fixed(offset_min);
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycClock { clock })) };
        Ok(())
    })
}

/// A clock from steps, for instance those that the platform's own time zone data gives.
///
/// `from_utc_ms` (in): `len` instants, UTC ms, rising strictly; the first offset also holds before.
/// `offset_min` (in): `len` offsets, minutes east of UTC, from -1080 to 1080.
/// `clock_out` (out): the new clock; free it with `glyc_clock_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `UNORDERED_TIME`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_clock_from_steps(
    from_utc_ms: *const i64,
    offset_min: *const i32,
    len: usize,
    clock_out: *mut *mut GlycClock,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let (from, offsets) = unsafe {
            (slice("from_utc_ms", from_utc_ms, len)?, slice("offset_min", offset_min, len)?)
        };
        let out = place("clock_out", clock_out)?;
        let steps: Vec<(i64, i32)> = from.iter().copied().zip(offsets.iter().copied()).collect();
        let clock = LocalClock::from_steps("steps", &steps)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycClock { clock })) };
        Ok(())
    })
}

/// A clock for a name of the IANA time zone database, such as "Europe/Lisbon".
///
/// `zone` (in): the name, ended by a zero.
/// `clock_out` (out): the new clock; free it with `glyc_clock_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_ZONE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `zone` is NULL or ends with a zero; the other pointers are NULL or valid to write one item to.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_clock_from_zone(
    zone: *const c_char,
    clock_out: *mut *mut GlycClock,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or ended by a zero by the contract above.
        let zone = unsafe { text("zone", zone)? };
        let out = place("clock_out", clock_out)?;
        let clock = LocalClock::from_zone(zone)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycClock { clock })) };
        Ok(())
    })
}

/// Offset from UTC at an instant.
///
/// `utc_ms` (in): UTC milliseconds since 1970.
/// `offset_min_out` (out): minutes east of UTC; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `clock` is NULL or a clock that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_clock_offset_min(
    clock: *const GlycClock,
    utc_ms: i64,
    offset_min_out: *mut i32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let clock = unsafe { handle("clock", clock)? };
        let out = place("offset_min_out", offset_min_out)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(clock.clock.offset_min(utc_ms)) };
        Ok(())
    })
}

/// Frees a clock; nothing for NULL. Traces made with it keep their own copy. Since 0.1.
///
/// # Safety
/// `clock` is NULL or a clock that was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_clock_free(clock: *mut GlycClock) {
    // SAFETY: by the contract above.
    unsafe { take(clock) };
}
