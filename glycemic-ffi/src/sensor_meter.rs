//! The sensor against the meter: first day, drift, steps. Method and sources:
//! `glycemic_core::sensor`.
//!
//! Agreement with a meter is not agreement with blood: its own bias is not known. Each function
//! tells the sensors of a trace apart where the trace knows them (`glyc_trace_with_wear`).

use glycemic_core::Meter;
use glycemic_core::sensor::tables::{
    drift_table, fasting_drift_table, first_day_hours_table, first_day_table, steps_table,
};
use glycemic_core::sensor::{Pairing, drift, fasting_drift, first_day, steps};

use crate::agreement_tables::give_made;
use crate::align::GlycMeter;
use crate::diary::{GlycDiary, meals_or_none, starts};
use crate::error::{GlycError, GlycStatus};
use crate::pointers::handle;
use crate::table::{GlycTable, give_more};
use crate::trace::GlycTrace;
use crate::wear::GlycWear;

fn pairing(lag_min: f64) -> Pairing {
    Pairing { lag_min, ..Pairing::default() }
}

/// By how much each sensor moves away from the meter with each day of wear.
///
/// Pairs of a sensor's first 24 hours, and those taken while it changed by more than 2 mg/dL a
/// minute, are left out.
///
/// `meter`, `trace` (in): borrowed for the call.
/// `lag_min` (in): the sensor is read so many minutes later than the meter's stamp, -1440 to 1440;
/// 0 unless a lag is known from elsewhere.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
/// `inserted_ms`, `first_ms`, `last_ms`, `pairs`, `days`, `drift_mg_dl_day`, `drift_pct_day` with
/// their ends (`drift_low_mg_dl_day`, ...), `reason` (too few days are data, not an error).
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter` and `trace` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_drift(
    meter: *const GlycMeter,
    trace: *const GlycTrace,
    lag_min: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (meter, trace) = (handle("meter", meter)?, handle("trace", trace)?);
            Ok(drift_table(&drift(&meter.meter, &trace.trace, pairing(lag_min), level)?)?)
        })
    }
}

/// The change of each sensor's own fasting level with each day: no drift against blood, since the
/// person may have changed. Needs the trace's clock.
///
/// `trace` (in): borrowed for the call.
/// `diary` (in): whose meals end a fast; NULL without one.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
/// `inserted_ms`, `first_ms`, `last_ms`, `mornings`, `fasting_drift_mg_dl_day` with its ends,
/// `reason`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_fasting_drift(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let meals = starts(meals_or_none(diary));
            Ok(fasting_drift_table(&fasting_drift(&trace.trace, &meals, level)?)?)
        })
    }
}

/// By how much sensor less meter changed where a sensor was swapped, or set by its wearer.
///
/// `meter`, `trace`, `wear` (in): borrowed for the call; steps are looked for at the "inserted" and
/// "calibrated" events after the first reading.
/// `lag_min`, `level` (in): as for `glyc_sensor_drift`.
/// `table_out` (out): a row for each such event; free it with `glyc_table_free`. Columns `time_ms`,
/// `event`, `sensor`, `pairs_before`, `pairs_after`, `difference_mg_dl` (after less before) with
/// its ends and `difference_reason`, and `overnight_mg_dl` (the jump of the sensor's own nights;
/// could be the person) with its ends and `overnight_reason`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter`, `trace` and `wear` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_steps(
    meter: *const GlycMeter,
    trace: *const GlycTrace,
    wear: *const GlycWear,
    lag_min: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (meter, trace) = (handle("meter", meter)?, handle("trace", trace)?);
            let events = &handle("wear", wear)?.events;
            let found = steps(&meter.meter, &trace.trace, events, pairing(lag_min), level)?;
            Ok(steps_table(&found)?)
        })
    }
}

/// The first day of each sensor: from which hour it is as steady as later, and how much more it
/// moved than on later days.
///
/// `meter` (in): NULL without one; the hour is then missing with a reason.
/// `trace` (in): borrowed for the call.
/// `diary` (in): whose meals explain movement; NULL without one.
/// `lag_min`, `level` (in): as for `glyc_sensor_drift`.
/// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
/// `inserted_ms`, `first_ms`, `last_ms`, `steady_from_h`, `movement_0_12_ratio`,
/// `movement_12_24_ratio`, each with its ends and reason, `mean_mg_dl`, `left_out_h`,
/// `mean_without_mg_dl` (the mean without those hours).
/// `hours_out` (out): NULL, or where to put the pairs by hours since insertion: `sensor`, `from_h`,
/// `to_h`, `pairs`, `mean_mg_dl`, `sd_mg_dl` of sensor less meter; free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter`, `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_sensor_first_day(
    meter: *const GlycMeter,
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    lag_min: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    hours_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let none = Meter::default();
            let meter = meter.as_ref().map_or(&none, |m| &m.meter);
            let meals = starts(meals_or_none(diary));
            let found = first_day(meter, &trace.trace, &meals, pairing(lag_min), level)?;
            let (table, hours) = (first_day_table(&found)?, first_day_hours_table(&found)?);
            // Nothing after this line fails.
            give_more(hours_out, hours);
            Ok(table)
        })
    }
}
