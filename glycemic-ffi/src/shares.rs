//! Shares of readings in ranges of the caller's own. Method: `glycemic_core::panel::shares`.

use glycemic_core::panel::shares_in;

use crate::error::{GlycError, GlycStatus, guard};
use crate::pointers::{handle, place, slice};
use crate::trace::GlycTrace;

/// Shares of a trace's readings in ranges, in percent, by reading; both ends count.
///
/// `trace` (in): borrowed for the call.
/// `low_mg_dl`, `high_mg_dl` (in): `len` limits each, 1 or more, each rounded to the step of the
/// unit that the trace was measured in (whole mg/dL, tenths of mmol/L). Ranges may overlap.
/// `shares_out` (out): room for `len` shares, written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE` (a lower limit that is not below its
/// upper; the error has the index), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid for the items
/// named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_shares(
    trace: *const GlycTrace,
    low_mg_dl: *const f64,
    high_mg_dl: *const f64,
    len: usize,
    shares_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; all turn NULL away.
        let (trace, low, high) = unsafe {
            let trace = &handle("trace", trace)?.trace;
            (trace, slice("low_mg_dl", low_mg_dl, len)?, slice("high_mg_dl", high_mg_dl, len)?)
        };
        let out = place("shares_out", shares_out)?;
        let ranges: Vec<(f64, f64)> = low.iter().copied().zip(high.iter().copied()).collect();
        let shares = shares_in(trace.glucose_mg_dl(), trace.unit(), &ranges)?;
        // SAFETY: not NULL, so valid for `len` items, one for each range.
        unsafe { shares.as_ptr().copy_to_nonoverlapping(out.as_ptr(), shares.len()) };
        Ok(())
    })
}
