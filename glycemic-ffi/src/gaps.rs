//! Where a trace has no readings, and where another sensor took over. Method:
//! `glycemic_core::series`.

use std::ptr;

use glycemic_core::Table;

use crate::error::{GlycError, GlycStatus, guard};
use crate::pointers::{give, handle, place, slice};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// The gaps of a trace, in order: intervals longer than three nominal intervals, or in which
/// another sensor took over.
///
/// `trace` (in): borrowed for the call.
/// `table_out` (out): `from_ms` and `to_ms` (i64: last reading before, first after, UTC ms),
/// `minutes` (f64), `sensor_change` (bool); free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_gaps(
    trace: *const GlycTrace,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = unsafe { handle("trace", trace)? };
        let out = place("table_out", table_out)?;
        let gaps = trace.trace.gaps();
        let mut table = Table::new();
        table.push_i64("from_ms", gaps.iter().map(|g| Some(g.from_ms)).collect())?;
        table.push_i64("to_ms", gaps.iter().map(|g| Some(g.to_ms)).collect())?;
        table.push_f64("minutes", gaps.iter().map(|g| Some(g.minutes)).collect())?;
        table.push_bool("sensor_change", gaps.iter().map(|g| g.sensor_change).collect())?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// The same trace with the instants at which another sensor took over; nothing is joined across
/// them.
///
/// `trace` (in): borrowed for the call and copied; its own breaks are replaced.
/// `breaks_ms` (in): `len` instants, UTC ms, in any order: the first reading at or after one is of
/// another sensor. NULL and 0 for none. Copied.
/// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_with_breaks(
    trace: *const GlycTrace,
    breaks_ms: *const i64,
    len: usize,
    trace_out: *mut *mut GlycTrace,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; both turn NULL away.
        let (trace, breaks) =
            unsafe { (handle("trace", trace)?, slice("breaks_ms", breaks_ms, len)?) };
        let out = place("trace_out", trace_out)?;
        let trace = trace.trace.clone().with_breaks(breaks.to_vec());
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycTrace::from(trace))) };
        Ok(())
    })
}

/// Number of instants at which another sensor took over; 0 for NULL. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_breaks_len(trace: *const GlycTrace) -> usize {
    // SAFETY: NULL or valid by the contract above.
    unsafe { trace.as_ref() }.map_or(0, |t| t.trace.breaks_ms().len())
}

/// Instants at which another sensor took over, UTC milliseconds, `glyc_trace_breaks_len` of
/// them, rising strictly; borrowed from `trace`. NULL for NULL. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_breaks_ms(trace: *const GlycTrace) -> *const i64 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { trace.as_ref() }.map_or(ptr::null(), |t| t.trace.breaks_ms().as_ptr())
}
