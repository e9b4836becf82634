//! Would setting the sensor by the meter help, and what becomes of the trace? Method and sources:
//! `glycemic_core::sensor::recalibration`.
//!
//! A recalibrated trace is for looking back: the device keeps showing what it shows, and its alarms
//! stay as they are.

use glycemic_core::sensor::tables::{applied_table, recalibration_table, tried_table};
use glycemic_core::sensor::{Pairing, Recalibration, recalibrate};

use crate::agreement_tables::give_made;
use crate::align::GlycMeter;
use crate::error::{GlycError, GlycStatus, guard};
use crate::pointers::{give, handle, place, put, take};
use crate::table::GlycTable;
use crate::trace::GlycTrace;

/// What was found of the sensors of a trace.
pub struct GlycRecalibration {
    found: Recalibration,
}

/// Whether to set each sensor by the meter, and by how much: nothing, an offset, a gain, both, or a
/// drifting offset, chosen by predicting each day from the others. Leaving it wins ties. Nothing is
/// changed here; see `glyc_recalibration_apply`.
///
/// `meter`, `trace` (in): borrowed for the call.
/// `lag_min` (in): the sensor is read so many minutes later than the meter's stamp, -1440 to 1440.
/// `lag_se_min` (in): standard error of that lag where it was estimated, 0 to 60; else 0.
/// `meter_bias_sd_pct` (in): standard deviation of what isn't known of the meter's own bias,
/// percent, 0 to 50; 6 where nothing better is known (a published range).
/// `level` (in): confidence level, 0.5 to 0.999.
/// `recalibration_out` (out): what was found; free it with `glyc_recalibration_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter` and `trace` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_recalibration_new(
    meter: *const GlycMeter,
    trace: *const GlycTrace,
    lag_min: f64,
    lag_se_min: f64,
    meter_bias_sd_pct: f64,
    level: f64,
    recalibration_out: *mut *mut GlycRecalibration,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (meter, trace) = unsafe { (handle("meter", meter)?, handle("trace", trace)?) };
        let out = place("recalibration_out", recalibration_out)?;
        let pairing = Pairing { lag_min, lag_se_min, ..Pairing::default() };
        let found = recalibrate(&meter.meter, &trace.trace, pairing, meter_bias_sd_pct, level)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycRecalibration { found })) };
        Ok(())
    })
}

/// A row for each sensor.
///
/// `recalibration` (in): borrowed for the call.
/// `table_out` (out): the table; free it with `glyc_table_free`. Columns `sensor`, `inserted_ms`,
/// `first_ms`, `last_ms`, `pairs`, `days`; `kind` ("none", "offset", "gain", "both",
/// "drifting_offset") with `set_gain`, `set_offset_mg_dl`, `set_drift_mg_dl_day`; `offset_mg_dl`
/// (mean of sensor less meter) and `offset_in_blood_mg_dl` (whose interval holds what isn't known
/// of the meter) with their ends; `before_bias_mg_dl`, `before_mard_pct`, `before_within_20_pct`
/// and the same `after_` (to expect of new days, from left-out days); `reason` where it is left.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `recalibration` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_recalibration_table(
    recalibration: *const GlycRecalibration,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            Ok(recalibration_table(&handle("recalibration", recalibration)?.found)?)
        })
    }
}

/// A row for each sensor and each way of setting it that was tried.
///
/// `table_out` (out): the table; free it with `glyc_table_free`. Columns `sensor`, `kind`, `chosen`,
/// `error_mg_dl` (root mean square on left-out days), `above_best_mg2_dl2`,
/// `above_best_se_mg2_dl2`, `reason`. No rows of a sensor with too few pairs.
/// The rest: as for `glyc_recalibration_table`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_recalibration_table`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_recalibration_tried(
    recalibration: *const GlycRecalibration,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            Ok(tried_table(&handle("recalibration", recalibration)?.found)?)
        })
    }
}

/// The trace that was looked at, set by what was found; sensors that are left alone stay.
///
/// `recalibration` (in): borrowed for the call.
/// `trace` (in): the trace that it was found for; borrowed, and stays as it is.
/// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
/// `clipped_out` (out): NULL, or where to put how many readings would have come out below one step
/// of the unit, or above 2000 mg/dL, and were put there.
/// `left_at_limit_out` (out): NULL, or where to put how many stand at a limit of the device and
/// were left there.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `IMPLAUSIBLE_UNIT` (the middle value would no longer be that of a living person),
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `recalibration` and `trace` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_recalibration_apply(
    recalibration: *const GlycRecalibration,
    trace: *const GlycTrace,
    trace_out: *mut *mut GlycTrace,
    clipped_out: *mut usize,
    left_at_limit_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (found, trace) = unsafe {
            (&handle("recalibration", recalibration)?.found, &handle("trace", trace)?.trace)
        };
        let out = place("trace_out", trace_out)?;
        let set = found.apply(trace)?;
        // SAFETY: NULL is turned away, or passed over by `put`.
        unsafe {
            put(clipped_out, set.clipped);
            put(left_at_limit_out, set.left_at_limit);
            out.write(give(GlycTrace::from(set.trace)));
        }
        Ok(())
    })
}

/// What `glyc_recalibration_apply` does to a trace, as data.
///
/// `trace` (in): the trace that it was found for; borrowed, and stays as it is.
/// `table_out` (out): a row for each sensor that is set; free it with `glyc_table_free`. Columns
/// `inserted_ms`, `first_ms`, `last_ms`, `kind`, `gain`, `offset_mg_dl`, `drift_mg_dl_day`,
/// `pairs`, `readings`.
/// The rest: as for `glyc_recalibration_apply`.
///
/// Statuses: `IMPLAUSIBLE_UNIT`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_recalibration_apply`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_recalibration_applied(
    recalibration: *const GlycRecalibration,
    trace: *const GlycTrace,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let found = &handle("recalibration", recalibration)?.found;
            Ok(applied_table(&found.apply(&handle("trace", trace)?.trace)?)?)
        })
    }
}

/// Meter readings that were not used, and why.
///
/// `recalibration` (in): borrowed for the call.
/// `unpaired_out` (out): NULL, or where to put how many had no sensor reading within 5 minutes, or
/// one at a limit of the sensor.
/// `fast_out` (out): NULL, or where to put how many were taken while the sensor changed by more
/// than 2 mg/dL a minute.
/// `unsettled_out` (out): NULL, or where to put how many were taken in a sensor's first 24 hours.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `recalibration` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_recalibration_left_out(
    recalibration: *const GlycRecalibration,
    unpaired_out: *mut usize,
    fast_out: *mut usize,
    unsettled_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let left = unsafe { handle("recalibration", recalibration)?.found.left_out };
        // SAFETY: `put` passes over NULL.
        unsafe {
            put(unpaired_out, left.unpaired);
            put(fast_out, left.fast);
            put(unsettled_out, left.unsettled);
        }
        Ok(())
    })
}

/// Frees what was found; nothing for NULL. Since 0.1.
///
/// # Safety
/// `recalibration` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_recalibration_free(recalibration: *mut GlycRecalibration) {
    // SAFETY: by the contract.
    unsafe { take(recalibration) };
}
