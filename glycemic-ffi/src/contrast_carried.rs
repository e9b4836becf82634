//! A schedule carried out. Method and sources: `glycemic_core::contrast::carried`.

use std::ffi::c_char;

use glycemic_core::Reason;
use glycemic_core::contrast::{Diary, carried_out};

use crate::agreement_tables::give_made;
use crate::contrast::wish_from;
use crate::diary::GlycDiary;
use crate::error::{Failure, GlycError, GlycStatus};
use crate::meals::GlycResponses;
use crate::pointers::{handle, text};
use crate::table::{GlycTable, give_more};

/// Matches a schedule, drawn anew, with the diary, and compares its pairs of meals.
///
/// What was done is read from the diary by the clock, never from glucose. Only the comparison as
/// assigned rests on the draw; pairs without a deviation stand beside it, not in its place.
///
/// `responses`, `diary` (in): borrowed for the call; the diary is the one that the responses are
/// from. It holds no sleep and no notes: exposures that need these are `exposure_unknown`.
/// `first_day` (in): the local calendar day that is day 1, counted in days from 1970-01-01
/// on, up to the year 2099.
/// `days`, `masked_days`, `slots`, `n_slots`, `pairs`, `with`, `without`, `seed` (in): what the
/// schedule was drawn from, as for `glyc_contrast_schedule`.
/// `outcome` (in): "rise", "peak", "area" or "recovery".
/// `level` (in): confidence level, 0.5 to 0.999.
/// `answers_out` (out): a row each for `as_assigned`, `per_protocol`, `carry_over`, `period`; free
/// it with `glyc_table_free`. Columns `what`, `outcome`, `unit`, `pairs`, `value` (with less
/// without), `low`, `high`, `p_value`, `p_signs`, `reason`.
/// `sittings_out` (out): NULL, or where to put a row for each meal of the schedule; free it with
/// `glyc_table_free`. Columns `pair`, `day`, `slot`, `assigned`, `seen`, `time_ms`, `outcome`,
/// `deviations` ("no_meal", "no_reading", "not_as_assigned", "exposure_unknown", "earlier_meal",
/// parted by semicolons).
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (the responses' trace had no clock), `TOO_FEW_VALUES`, `OUT_OF_RANGE`,
/// `UNKNOWN_CHOICE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `responses` and `diary` are NULL or were not freed; `slots` is NULL or valid for `n_slots` texts;
/// each text is NULL or ends with a zero; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "a wish, in the order of the core")]
pub unsafe extern "C" fn glyc_contrast_carried_out(
    responses: *const GlycResponses,
    diary: *const GlycDiary,
    first_day: i64,
    days: usize,
    masked_days: usize,
    slots: *const *const c_char,
    n_slots: usize,
    pairs: usize,
    with: *const c_char,
    without: *const c_char,
    seed: u64,
    outcome: *const c_char,
    level: f64,
    answers_out: *mut *mut GlycTable,
    sittings_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(answers_out, error, || {
            let (r, diary) = (handle("responses", responses)?, handle("diary", diary)?);
            let slots = (slots, n_slots);
            let wish = wish_from(days, masked_days, slots, pairs, (with, without), seed)?;
            let outcome = text("outcome", outcome)?.parse()?;
            let no_zone = || Reason::plain("no_zone", "days are local, and the trace has no clock");
            let clock = r.clock.clone().ok_or_else(|| Failure::from(&no_zone()))?;
            let diary =
                Diary { activity: &diary.activity, nights: Vec::new(), notes: Vec::new(), clock };
            let out = carried_out(&wish, first_day, &r.responses, &diary, outcome, level)?;
            let (answers, sittings) = (out.answers_table()?, out.sittings_table(&r.responses)?);
            // Nothing after this line fails.
            give_more(sittings_out, sittings);
            Ok(answers)
        })
    }
}
