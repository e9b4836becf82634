//! A form that saturates beside the straight line. Method and sources:
//! `glycemic_core::tolerance::saturating`.

use glycemic_core::{Reason, Table};

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
/// `table_out` (out): the estimates `limit_g` (saturating) and `straight_limit_g`, grams at which
/// the mean rise meets the target, and beside them `power` (of grams), `left_out_mg_dl` (root mean
/// square error of meals left out), `weight` (both add up to 1) and `preferred` (better by more
/// than one standard error; ties go to the straight line); free it with `glyc_table_free`.
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
            let straight = &fit.limit_g;
            let no_line = || Reason::plain("no_line", "there is no line");
            let why = || Failure::from(&straight.reason.clone().unwrap_or_else(no_line));
            let found = fit.saturating()?.ok_or_else(why)?;
            let mut t = Table::of_estimates(&[
                ("limit_g", "g", &found.limit_g),
                ("straight_limit_g", "g", straight),
            ])?;
            t.push_f64("power", vec![Some(found.power), Some(1.0)])?;
            let left_out = [found.left_out_mg_dl, found.straight_left_out_mg_dl];
            t.push_f64("left_out_mg_dl", left_out.map(Some).to_vec())?;
            t.push_f64("weight", vec![Some(found.weight), Some(1.0 - found.weight)])?;
            t.push_bool("preferred", vec![found.preferred, !found.preferred])?;
            Ok(t)
        })
    }
}
