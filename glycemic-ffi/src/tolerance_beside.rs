//! What went with the rise beside grams, and limits in blood. Methods and sources:
//! `glycemic_core::tolerance::{terms, blood}`.

use glycemic_core::tolerance::{blood, terms};

use crate::agreement_tables::give_made;
use crate::align::GlycMeter;
use crate::error::{GlycError, GlycStatus};
use crate::meals::GlycResponses;
use crate::pointers::handle;
use crate::table::GlycTable;
use crate::trace::GlycTrace;

/// What went with the rise beside grams: a walk, fibre, protein, fat, glucose before the meal, each
/// alone. None of them is shown to be a cause.
///
/// `responses` (in): borrowed for the call.
/// `nominal_min` (in): minutes between two readings of the sensor, 0.5 to 60, such as 5.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each `term`; free it with `glyc_table_free`. Columns `per` (what the
/// effect is for), `meals`, `went_with_mg_dl` with `low_mg_dl` and `high_mg_dl`, root mean square
/// errors of meals left out with the term (`left_out_mg_dl`) and without it
/// (`left_out_without_mg_dl`), and `reason` where it can't be told.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `responses` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_responses_beside_grams(
    responses: *const GlycResponses,
    nominal_min: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let r = handle("responses", responses)?;
            Ok(terms::table(&terms::terms(&r.responses, nominal_min, level)?)?)
        })
    }
}

/// Safe grams and mean limit for the rise in blood, by a meter's changes over meals.
///
/// At the mean limit about half of such meals go over. Not for dosing; no advice to eat less.
///
/// `responses`, `meter`, `trace` (in): borrowed for the call; the trace is the one that the
/// responses are from.
/// `rise_mg_dl` (in): the target, mg/dL of rise in blood.
/// `probability` (in): of the safe grams, 0.5 to 0.99, such as 0.8.
/// `meter_bias_sd_pct` (in): standard deviation of what isn't known of the meter's own bias, 0 to 50
/// percent, such as 6.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): rows `gain` (sensor's rise for one of the meter's), `safe_g`, `limit_g`; free
/// it with `glyc_table_free`. Columns `name`, `unit`, `value`, `low`, `high`, `level`, `n`,
/// `needed`, `method`, `reason_code`, `reason`; eight meals with both readings are needed.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `responses`, `meter` and `trace` are NULL or were not freed; the others are NULL or valid to
/// write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "in the order of the core")]
pub unsafe extern "C" fn glyc_responses_limits_in_blood(
    responses: *const GlycResponses,
    meter: *const GlycMeter,
    trace: *const GlycTrace,
    rise_mg_dl: f64,
    probability: f64,
    meter_bias_sd_pct: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let r = &handle("responses", responses)?.responses;
            let (meter, sensor) = (&handle("meter", meter)?.meter, &handle("trace", trace)?.trace);
            let found = blood::limits_of_responses(
                r,
                meter,
                sensor,
                rise_mg_dl,
                probability,
                meter_bias_sd_pct,
                level,
            )?;
            Ok(found.to_table()?)
        })
    }
}
