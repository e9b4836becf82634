//! The modal day: percentile curves by local time of day. Method and sources:
//! `glycemic_core::panel::modal_day`.

use glycemic_core::error::require_within;
use glycemic_core::panel::modal_day::{ModalOptions, Smoothing, modal_day};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pointers::{handle, place, slice};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// At a clock time count the readings in the bin of one step round it; the width is 0.
pub const GLYC_SMOOTHING_NONE: u32 = 1;
/// At a clock time count the readings in a window, all alike; the width is that of the window.
pub const GLYC_SMOOTHING_WINDOW: u32 = 2;
/// At a clock time count the readings by a kernel; the width is its reach either way.
pub const GLYC_SMOOTHING_LOCAL: u32 = 3;

fn smoothing_from(smoothing: u32, width_min: f64) -> Result<Smoothing, Failure> {
    let (least, most) = if smoothing == GLYC_SMOOTHING_NONE { (0.0, 0.0) } else { (1.0, 720.0) };
    let smoothing = match smoothing {
        GLYC_SMOOTHING_NONE => Smoothing::None,
        GLYC_SMOOTHING_WINDOW => Smoothing::Window { minutes: width_min },
        GLYC_SMOOTHING_LOCAL => Smoothing::Local { bandwidth_min: width_min },
        _ => return Err(unknown_choice("smoothing", smoothing, "1 to 3 (GLYC_SMOOTHING_*)")),
    };
    require_within("width_min", width_min, least, most)?;
    Ok(smoothing)
}

/// Percentile curves of a trace by local time of day, all days laid over one another.
///
/// `trace` (in): made with a clock; borrowed for the call.
/// `step_min` (in): minutes between the points, a divisor of 1440; 15 is usual.
/// `smoothing` (in): one of `GLYC_SMOOTHING_*`; local is usual.
/// `width_min` (in): minutes, from 1 to 720, 30 is usual; 0 with `GLYC_SMOOTHING_NONE`.
/// `percentiles` (in): `n_percentiles` numbers from 0 to 100, rising; borrowed for the call. NULL
/// and 0 for 5, 25, 50, 75 and 95.
/// `table_out` (out): a row for each step from midnight on: `minute_of_day`, `days`, `n` (i64), a
/// column such as `p05_mg_dl` (f64) for each percentile, `reason` (text: a word for why some are
/// missing); free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (no clock), `UNKNOWN_CHOICE` (step or smoothing), `NOT_FINITE`,
/// `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_modal_day(
    trace: *const GlycTrace,
    step_min: u32,
    smoothing: u32,
    width_min: f64,
    percentiles: *const f64,
    n_percentiles: usize,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; both turn NULL away.
        let (trace, percentiles) =
            unsafe { (handle("trace", trace)?, slice("percentiles", percentiles, n_percentiles)?) };
        let out = place("table_out", table_out)?;
        let mut options = ModalOptions::default();
        options.step_min = step_min;
        options.smoothing = smoothing_from(smoothing, width_min)?;
        if !percentiles.is_empty() {
            options.percentiles = percentiles.to_vec();
        }
        let day = modal_day(trace.trace.view(), &options)?;
        let table = day.map_err(|reason| Failure::from(&reason))?.table()?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}
