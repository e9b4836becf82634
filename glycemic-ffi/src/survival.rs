//! How long things last when some are still going. Method and source:
//! `glycemic_core::stats::survival`.

use glycemic_core::stats::survival::kaplan_meier;

use crate::agreement_tables::give_made;
use crate::error::{GlycError, GlycStatus};
use crate::estimate::GlycEstimate;
use crate::pointers::{put, slice};
use crate::table::GlycTable;

/// Product-limit survival (Kaplan and Meier) of pieces such as sensors.
///
/// `times` (in): how long each of `len` pieces was watched, in any unit, not negative; borrowed.
/// `failed` (in): whether it then failed; false where it was taken off or is still going.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each time at which one failed; free it with `glyc_table_free`.
/// Columns `time`, `at_risk`, `failed`, `censored` (before the next failure), `survival`, `se`,
/// `low`, `high`; the last three are missing once all have failed.
/// `median_out` (out): NULL, or where to put the time by which half have failed; look at `present`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_survival(
    times: *const f64,
    failed: *const bool,
    len: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    median_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (times, failed) = (slice("times", times, len)?, slice("failed", failed, len)?);
            let found = kaplan_meier(times, failed, level)?;
            let table = found.to_table()?;
            put(median_out, GlycEstimate::from(&found.median()));
            Ok(table)
        })
    }
}
