//! What each meal did. Method and sources: `glycemic_core::meals`.

use glycemic_core::Reason;
use glycemic_core::clock::LocalClock;
use glycemic_core::meals::{Responses, Targets, Window, responses, suspected_table};

use crate::diary::GlycDiary;
use crate::error::{GlycError, GlycStatus, guard};
use crate::pointers::{give, handle, place, take};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// Responses to the meals of a diary.
pub struct GlycResponses {
    pub(crate) responses: Responses,
    /// The trace's clock, for the time of day of a meal.
    pub(crate) clock: Option<LocalClock>,
    /// When the trace begins.
    pub(crate) first_ms: i64,
}

/// What each meal of a diary did: baseline, peak, rise, areas, recovery.
///
/// `trace`, `diary` (in): borrowed for the call.
/// `rise_mg_dl`, `peak_mg_dl` (in): the person's own targets; NaN where there is none.
/// `before_min` (in): minutes before the start for the baseline, 5 to 120, such as 30.
/// `after_min` (in): minutes of the response, 60 to 480, such as 180.
/// `seed` (in): key of the noise draws.
/// `responses_out` (out): the responses; free them with `glyc_responses_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1. May take more than 100 ms for long traces.
///
/// # Safety
/// `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_responses_new(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    rise_mg_dl: f64,
    peak_mg_dl: f64,
    before_min: f64,
    after_min: f64,
    seed: u64,
    responses_out: *mut *mut GlycResponses,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (trace, diary) = unsafe { (handle("trace", trace)?, handle("diary", diary)?) };
        let out = place("responses_out", responses_out)?;
        let some = |v: f64| Some(v).filter(|v| !v.is_nan());
        let (rise_mg_dl, peak_mg_dl) = (some(rise_mg_dl), some(peak_mg_dl));
        let targets = Targets { rise_mg_dl, peak_mg_dl, ..Targets::default() };
        let window = Window { before_min, after_min };
        let found = responses(&trace.trace, &diary.meals, &diary.activity, targets, window, seed)?;
        let made = GlycResponses {
            responses: found,
            clock: trace.trace.clock().cloned(),
            first_ms: trace.trace.times_ms().first().copied().unwrap_or(0),
        };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(made)) };
        Ok(())
    })
}

/// A row for each eating occasion, in order of time.
///
/// `table_out` (out): the table; free it with `glyc_table_free`. Columns carry their unit, such as
/// `rise_mg_dl` (as displayed), `rise_noise_aware_mg_dl`, `time_to_peak_min`, `net_carbs_g`;
/// `clean` says whether the meal stands alone, `flags` what confounds it.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `responses` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_table(
    responses: *const GlycResponses,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let responses = unsafe { handle("responses", responses)? };
        let out = place("table_out", table_out)?;
        let table = responses.responses.table()?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// Meals that the trace suggests and the diary lacks: offered, never assumed.
///
/// `table_out` (out): the table; free it with `glyc_table_free`. Columns `onset_ms`, `size_mg_dl`,
/// `probability`, `first_hours`, `activity_near`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_responses_table`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_suspected(
    responses: *const GlycResponses,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let responses = unsafe { handle("responses", responses)? };
        let out = place("table_out", table_out)?;
        let table = suspected_table(&responses.responses.suspected)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// The smallest rise that can be told from no food on this sensor and person, mg/dL.
///
/// `rise_out` (out): the rise; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (too few windows without food), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_responses_table`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_smallest_rise(
    responses: *const GlycResponses,
    rise_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let r = unsafe { &handle("responses", responses)?.responses };
        let out = place("rise_out", rise_out)?;
        if let Err(reason) = &r.noise {
            return Err(reason.into());
        }
        let none = || Reason::plain("no_noise", "the noise of this sensor could not be told");
        let rise = r.smallest_rise_mg_dl().ok_or_else(none);
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(rise.map_err(|reason| crate::error::Failure::from(&reason))?) };
        Ok(())
    })
}

/// Frees responses; nothing for NULL. Since 0.1.
///
/// # Safety
/// `responses` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_free(responses: *mut GlycResponses) {
    // SAFETY: by the contract.
    unsafe { take(responses) };
}
