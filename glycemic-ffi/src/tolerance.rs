//! Grams of net carbohydrate that meet a target. Method and sources: `glycemic_core::tolerance`.
//!
//! Diary grams as this person logs them, as this sensor reads; nothing is claimed outside the
//! doses eaten. For education, coaching and research; not a medical device, not for dosing insulin
//! or any treatment decision, and no advice to eat less.

use std::ffi::c_char;

use glycemic_core::error::require_finite;
use glycemic_core::tolerance::misfits::possible_reasons;
use glycemic_core::tolerance::model::{fit_meals, points};
use glycemic_core::tolerance::{Fit, Options, fit, glucose_before, search, tables, tagged};
use glycemic_core::{Estimate, Reason};

use crate::error::{Failure, GlycError, GlycStatus, guard};
use crate::estimate::GlycEstimate;
use crate::meals::GlycResponses;
use crate::pointers::{give, handle, place, slice, take, text};
use crate::table::{GlycTable, give_table};

/// A fitted line of rise on grams, with the answers it gives.
pub struct GlycFit {
    pub(crate) fit: Fit,
    /// Glucose before each meal, where the fit is of responses.
    before_mg_dl: Vec<f64>,
}

impl GlycResponses {
    fn minute_of(&self) -> impl Fn(i64) -> Option<f64> + Copy + '_ {
        move |ms| Some(self.clock.as_ref()?.minute_of_day(ms))
    }
}

/// Writes an estimate that has a value or a bound; else its reason is the error.
///
/// # Safety
/// `out` is NULL or valid to write.
unsafe fn answer(out: *mut GlycEstimate, estimate: &Estimate) -> Result<(), Failure> {
    let out = place("estimate_out", out)?;
    if estimate.value.or(estimate.low).or(estimate.high).is_none() {
        let plain = || Reason::plain("not_estimable", "there is no value");
        return Err((&estimate.reason.clone().unwrap_or_else(plain)).into());
    }
    // SAFETY: not NULL, so valid by the contract.
    unsafe { out.write(GlycEstimate::from(estimate)) };
    Ok(())
}

/// Fits rises to grams of net carbohydrate: one line, no kinds of food.
///
/// `grams`, `rises_mg_dl` (in): `len` items each; borrowed for the call.
/// `rise_mg_dl` (in): the target, mg/dL over the baseline, 1 to 400; there is no default.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `noise_sd_mg_dl` (in): SD that the sensor's noise gives these rises; 0 where unknown.
/// `fit_out` (out): the fit; free it with `glyc_fit_free`. Too few meals or doses are an answer:
/// the getters then say `NOT_ESTIMABLE` with the reason.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_fit_new(
    grams: *const f64,
    rises_mg_dl: *const f64,
    len: usize,
    rise_mg_dl: f64,
    level: f64,
    noise_sd_mg_dl: f64,
    fit_out: *mut *mut GlycFit,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (grams, rises) =
            unsafe { (slice("grams", grams, len)?, slice("rises_mg_dl", rises_mg_dl, len)?) };
        let out = place("fit_out", fit_out)?;
        let options = Options { level, noise_sd_mg_dl, ..Options::new(rise_mg_dl) };
        let made = GlycFit { fit: fit(grams, rises, options)?, before_mg_dl: Vec::new() };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(made)) };
        Ok(())
    })
}

/// Fits the clean meals with grams of a diary: slopes by kind of food, averaged over the person's
/// own mix; meals tagged "eating-out" are left out.
///
/// `responses` (in): borrowed for the call.
/// `rise_mg_dl`, `level`, `fit_out`, `error`: as for `glyc_fit_new`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `responses` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_of_responses(
    responses: *const GlycResponses,
    rise_mg_dl: f64,
    level: f64,
    fit_out: *mut *mut GlycFit,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let responses = unsafe { handle("responses", responses)? };
        let out = place("fit_out", fit_out)?;
        // The time of day is left out, as in the review: it made the interval no better.
        let p = points(&responses.responses, |_| None);
        let options = p.told(Options { level, ..Options::new(rise_mg_dl) });
        let before_mg_dl = glucose_before(&responses.responses);
        let made = GlycFit { fit: fit_meals(&p.meals, &p.mix, options)?.fit, before_mg_dl };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(made)) };
        Ok(())
    })
}

/// Grams at which the mean rise meets the target; about half of such meals go over.
///
/// `estimate_out` (out): grams with their interval; an end outside the doses eaten is open, and
/// where the value is, the end that is there is a bound. Written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (the error holds the reason), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `fit` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_limit(
    fit: *const GlycFit,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        unsafe { answer(estimate_out, &handle("fit", fit)?.fit.limit_g) }
    })
}

/// Safe grams: a new meal stays under the target with this probability.
///
/// `probability` (in): 0.5 to 0.99, such as 0.8.
/// `estimate_out`, `error`: as for `glyc_fit_limit`.
///
/// Statuses: `NOT_ESTIMABLE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_fit_limit`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_safe(
    fit: *const GlycFit,
    probability: f64,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let fit = unsafe { handle("fit", fit)? };
        let estimate = fit.fit.safe_g(probability)?;
        // SAFETY: as above.
        unsafe { answer(estimate_out, &estimate) }
    })
}

/// The same for the target and a peak together, at the person's own glucose before meals.
///
/// `peak_mg_dl` (in): 1 to 1000.
/// `before_mg_dl` (in): mean glucose before each meal given to `glyc_fit_new`, `len` of them in that
/// order, borrowed for the call; NULL and 0 for a fit of responses, which knows them.
/// The rest: as for `glyc_fit_safe`.
///
/// Statuses: `NOT_ESTIMABLE`, `NOT_FINITE`, `OUT_OF_RANGE`, `LENGTH_MISMATCH`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_fit_limit`; `before_mg_dl` is NULL or valid for `len` items.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_safe_under_peak(
    fit: *const GlycFit,
    probability: f64,
    peak_mg_dl: f64,
    before_mg_dl: *const f64,
    len: usize,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (fit, given) =
            unsafe { (handle("fit", fit)?, slice("before_mg_dl", before_mg_dl, len)?) };
        let before = if before_mg_dl.is_null() { fit.before_mg_dl.as_slice() } else { given };
        let estimate = fit.fit.safe_under_peak_g(probability, peak_mg_dl, before)?;
        // SAFETY: as above.
        unsafe { answer(estimate_out, &estimate) }
    })
}

/// Mean rise at `grams`, mg/dL; only inside the doses eaten.
///
/// `estimate_out`, `error`: as for `glyc_fit_limit`.
///
/// Statuses: `NOT_ESTIMABLE`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_fit_limit`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_predict(
    fit: *const GlycFit,
    grams: f64,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        require_finite("grams", grams)?;
        // SAFETY: NULL or valid by the contract above.
        unsafe { answer(estimate_out, &handle("fit", fit)?.fit.predict(grams)) }
    })
}

/// Grams that would have gone with this rise on average: "behaved like about X g", never
/// "contained". Not for a meal that was picked because its rise was extreme.
///
/// `estimate_out`, `error`: as for `glyc_fit_limit`.
///
/// Statuses: `NOT_ESTIMABLE`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_fit_limit`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_equivalent_load(
    fit: *const GlycFit,
    rise_mg_dl: f64,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        require_finite("rise_mg_dl", rise_mg_dl)?;
        // SAFETY: NULL or valid by the contract above.
        unsafe { answer(estimate_out, &handle("fit", fit)?.fit.equivalent_load(rise_mg_dl)) }
    })
}

/// Meals used by a fit; 0 for NULL. Since 0.1.
///
/// # Safety
/// `fit` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_meals(fit: *const GlycFit) -> usize {
    // SAFETY: NULL or valid by the contract.
    unsafe { fit.as_ref() }.map_or(0, |f| f.fit.n)
}

/// Frees a fit; nothing for NULL. Since 0.1.
///
/// # Safety
/// `fit` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_fit_free(fit: *mut GlycFit) {
    // SAFETY: by the contract.
    unsafe { take(fit) };
}

/// Mean limits for each kind of food and part of the day.
///
/// `responses` (in): borrowed for the call; parts of the day need the trace's clock.
/// `rise_mg_dl`, `level` (in): as for `glyc_fit_new`.
/// `table_out` (out): the table; free it with `glyc_table_free`. Columns `by`, `sort`, `meals`,
/// `limit_g`, `low_g`, `high_g`, `reason`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `responses` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_limits_by_sort(
    responses: *const GlycResponses,
    rise_mg_dl: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let r = unsafe { handle("responses", responses)? };
        let out = place("table_out", table_out)?;
        let p = points(&r.responses, r.minute_of());
        let options = p.told(Options { level, ..Options::new(rise_mg_dl) });
        let table = tables::limits_by_sort(&fit_meals(&p.meals, &p.mix, options)?, level)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// Meals that rose more than their diary grams give, at a false-discovery rate.
///
/// `rate` (in): 0.001 to 0.5, such as 0.1: about this share of the meals listed is there by chance.
/// `table_out` (out): a row for each meal tested; free it with `glyc_table_free`. `listed` says
/// which do not fit; none of `possible_reasons` is shown to be it.
/// The rest: as for `glyc_responses_limits_by_sort`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_responses_limits_by_sort`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_misfits(
    responses: *const GlycResponses,
    rise_mg_dl: f64,
    rate: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    const DAY_MS: i64 = 86_400_000;
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let handle = unsafe { handle("responses", responses)? };
        let out = place("table_out", table_out)?;
        let r = &handle.responses;
        let found = search::search(r, handle.minute_of(), Options::new(rise_mg_dl), rate)?;
        let first_day = |i: usize| r.rows[i].time_ms - handle.first_ms < DAY_MS;
        let why = |i: usize| possible_reasons(r, i, false, first_day(i));
        let table = search::table(r, &found.tested(), rate, why)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// What the meals with a tag behaved like, in grams; they are left out of the fit.
///
/// `tag` (in): such as "eating-out".
/// `table_out` (out): the table; free it with `glyc_table_free`. `equivalent_g` is each meal alone,
/// `shrunken_g` is drawn towards the group: read that for a meal picked because it is extreme.
/// The rest: as for `glyc_responses_limits_by_sort`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_responses_limits_by_sort`; `tag` is NULL or ends with a zero.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_equivalent_loads(
    responses: *const GlycResponses,
    rise_mg_dl: f64,
    tag: *const c_char,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (r, tag) = unsafe { (&handle("responses", responses)?.responses, text("tag", tag)?) };
        let out = place("table_out", table_out)?;
        let options = Options { level, ..Options::new(rise_mg_dl) };
        let table = tagged::table(r, &tagged::loads(r, tag, |_| None, options)?)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}
