//! What happened to the sensors, row by row. Meaning of the events: `glycemic_core::align`.

use std::ffi::c_char;

use glycemic_core::align::{EventKind, WearEvent};

use crate::diary::{instant, some_text};
use crate::error::{GlycError, GlycStatus, guard};
use crate::pointers::{give, handle, handle_mut, place, take, text};
use crate::trace::GlycTrace;

/// Events of the sensors of one person; rows may come in any order.
pub struct GlycWear {
    pub(crate) events: Vec<WearEvent>,
}

/// The events behind a handle; none for NULL.
///
/// # Safety
/// `wear` is NULL or valid to read for as long as the result is used.
pub(crate) unsafe fn events_or_none<'a>(wear: *const GlycWear) -> &'a [WearEvent] {
    // SAFETY: NULL or valid by the contract.
    unsafe { wear.as_ref() }.map_or(&[], |w| &w.events)
}

/// A wear without events.
///
/// `wear_out` (out): the new wear; free it with `glyc_wear_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_wear_new(
    wear_out: *mut *mut GlycWear,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("wear_out", wear_out)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycWear { events: Vec::new() })) };
        Ok(())
    })
}

/// Adds an event.
///
/// `wear` (in, out): changed; nothing is added when the call fails.
/// `time_ms` (in): when, UTC milliseconds since 1970, in the years 1990 to 2099.
/// `event` (in): "inserted", "removed", "calibrated" (by its wearer), "failed", "alarm" or "other".
/// `sensor` (in): NULL, or the sensor's name; copied.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `wear` is NULL or was not freed and is used by nobody else meanwhile; each text is NULL or ends
/// with a zero.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_wear_add(
    wear: *mut GlycWear,
    time_ms: i64,
    event: *const c_char,
    sensor: *const c_char,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (wear, event, sensor) = unsafe {
            (handle_mut("wear", wear)?, text("event", event)?, some_text("sensor", sensor)?)
        };
        let time_ms = instant("time_ms", time_ms)?;
        let (kind, sensor) = (event.parse::<EventKind>()?, sensor.map(str::to_string));
        wear.events.push(WearEvent { time_ms, kind, sensor });
        Ok(())
    })
}

/// Number of events; 0 for NULL. Since 0.1.
///
/// # Safety
/// `wear` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_wear_len(wear: *const GlycWear) -> usize {
    // SAFETY: NULL or valid by the contract.
    unsafe { events_or_none(wear) }.len()
}

/// The same trace that knows where another sensor took over: at each "inserted" event after its
/// first reading. Nothing is then joined across these, and drift, steps, first day and
/// recalibration tell the sensors apart.
///
/// `trace`, `wear` (in): borrowed for the call; `trace` stays as it is.
/// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` and `wear` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_with_wear(
    trace: *const GlycTrace,
    wear: *const GlycWear,
    trace_out: *mut *mut GlycTrace,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (trace, wear) = unsafe { (&handle("trace", trace)?.trace, handle("wear", wear)?) };
        let out = place("trace_out", trace_out)?;
        let first = trace.times_ms().first().copied().unwrap_or(i64::MAX);
        let later = |e: &&WearEvent| e.kind == EventKind::Inserted && e.time_ms > first;
        let breaks = wear.events.iter().filter(later).map(|e| e.time_ms).collect();
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycTrace::from(trace.clone().with_breaks(breaks)))) };
        Ok(())
    })
}

/// Frees a wear; nothing for NULL. Since 0.1.
///
/// # Safety
/// `wear` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_wear_free(wear: *mut GlycWear) {
    // SAFETY: by the contract.
    unsafe { take(wear) };
}
