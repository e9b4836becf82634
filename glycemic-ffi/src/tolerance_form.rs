//! A form that saturates beside the straight line. Method and sources:
//! `glycemic_core::tolerance::saturating`.

use glycemic_core::Reason;
use glycemic_core::tolerance::tables;

use crate::agreement_tables::give_made;
use crate::error::{Failure, GlycError, GlycStatus};
use crate::pointers::handle;
use crate::table::GlycTable;
use crate::tolerance::GlycFit;

/// Rises that grow less and less with grams, weighed beside the straight line by how well each tells
/// a meal that was left out. A check of how far the limit hangs on the form: the headline stays
/// with the straight line.
///
/// `fit` (in): borrowed for the call.
/// `table_out` (out): a row for each `form`, "straight" and "saturating": `power` (of grams),
/// `limit_g` with `low_g` and `high_g` (grams at which the mean rise meets the target), root mean
/// square error of meals left out (`left_out_mg_dl`), `weight` (both add up to 1), `preferred`
/// (better by more than one standard error; ties go to the straight line), `reason`; free it with
/// `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (no line; the error holds the reason), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `fit` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_saturating(
    fit: *const GlycFit,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let fit = &handle("fit", fit)?.fit;
            let t = tables::forms(fit)?;
            let no_line = || Reason::plain("no_line", "there is no line");
            let why = || Failure::from(&fit.limit_g.reason.clone().unwrap_or_else(no_line));
            if t.rows() == 0 { Err(why()) } else { Ok(t) }
        })
    }
}
