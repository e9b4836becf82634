//! What the trace alone says of its sensor: flat-lines, drop-outs, capture, noise. Method and
//! sources: `glycemic_core::sensor`.

use glycemic_core::sensor::drop_outs::drop_outs;
use glycemic_core::sensor::flat::{FlatOptions, flat_lines};
use glycemic_core::sensor::noise;
use glycemic_core::sensor::tables::wear_table;

use crate::agreement_tables::give_made;
use crate::diary::{GlycDiary, meals_or_none};
use crate::error::{GlycError, GlycStatus};
use crate::estimate::GlycEstimate;
use crate::pointers::{handle, put};
use crate::table::GlycTable;
use crate::trace::GlycTrace;
use crate::wear::{GlycWear, events_or_none};

/// The hours after the first reading, of which these tables don't speak.
const FIRST_HOURS: f64 = 12.0;

/// Readings that stay the same for longer than this sensor's noise allows. Nothing is removed.
///
/// `trace` (in): borrowed for the call.
/// `diary` (in): whose meals are kept out of the noise; NULL without one.
/// `within_one_step` (in): whether values within one step of the display count as the same.
/// `chance` (in): runs expected by chance in the whole trace, 1e-9 to 1, such as 0.01.
/// `table_out` (out): a row for each flat-line; free it with `glyc_table_free`. Columns `start_ms`,
/// `end_ms`, `minutes`, `readings`, `value_mg_dl`, `by_chance`.
/// `threshold_out` (out): NULL, or where to put the fewest readings in a row that count.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (so little noise that any run may be chance), `OUT_OF_RANGE`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_flat_lines(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    within_one_step: bool,
    chance: f64,
    table_out: *mut *mut GlycTable,
    threshold_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let options = FlatOptions { within_one_step, chance };
            let found = flat_lines(&trace.trace, meals_or_none(diary), &options)?;
            if let Some(reason) = &found.reason {
                return Err(reason.into());
            }
            let table = found.table()?;
            if let Some(threshold) = found.threshold_readings {
                put(threshold_out, threshold);
            }
            Ok(table)
        })
    }
}

/// When readings failed to come: each interval of more than one and a half nominal intervals
/// between two readings of one sensor.
///
/// `trace` (in): borrowed for the call.
/// `wear` (in): NULL without one; sensors are then told apart by the trace.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each drop-out; free it with `glyc_table_free`. Columns `sensor`,
/// `wear_day`, `from_ms`, `to_ms`, `minutes`, `lost` (readings), `hour` (local; needs the trace's
/// clock).
/// `per_day_out` (out): NULL, or where to put drop-outs in a day; without a value under 3 days.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` and `wear` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_drop_outs(
    trace: *const GlycTrace,
    wear: *const GlycWear,
    level: f64,
    table_out: *mut *mut GlycTable,
    per_day_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let found = drop_outs(&trace.trace, events_or_none(wear), FIRST_HOURS, level)?;
            let table = found.table()?;
            put(per_day_out, GlycEstimate::from(&found.per_day));
            Ok(table)
        })
    }
}

/// Data capture: readings over what the time could hold, from a sensor's first reading to its end.
///
/// `trace`, `wear` (in): as for `glyc_sensor_drop_outs`.
/// `table_out` (out): a row for each sensor, in which `wear_day` is missing, then one for each of
/// its wear days; free it with `glyc_table_free`. Columns `sensor`, `wear_day`, `readings`,
/// `expected`, `capture_pct`, `longest_min` (the longest interval without a reading).
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_sensor_drop_outs`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_capture(
    trace: *const GlycTrace,
    wear: *const GlycWear,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    const LEVEL: f64 = 0.95; // the table has no interval
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let found = drop_outs(&trace.trace, events_or_none(wear), FIRST_HOURS, LEVEL)?;
            Ok(found.capture_table()?)
        })
    }
}

/// How each sensor was worn.
///
/// `trace`, `wear` (in): as for `glyc_sensor_drop_outs`.
/// `first_hours` (in): length of the first part that is looked at apart, 1 to 48 hours, such as 12.
/// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
/// `days`, `wait_min` (from insertion to the first reading), `first_hours_lost_pct`, `failed`
/// (whether an event says so).
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_sensor_drop_outs`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_wear(
    trace: *const GlycTrace,
    wear: *const GlycWear,
    first_hours: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    const LEVEL: f64 = 0.95; // the table has no interval
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let found = drop_outs(&trace.trace, events_or_none(wear), first_hours, LEVEL)?;
            Ok(wear_table(&found)?)
        })
    }
}

/// How far a reading stands from the middle of those 15 minutes before and after it (root mean
/// square), by wear day. Readings at least four hours after a meal; without meals those from 00:00
/// to 06:00 local time, or all where there is no local time either.
///
/// `trace` (in): borrowed for the call.
/// `diary`, `wear` (in): NULL without one.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each wear day; free it with `glyc_table_free`. Columns `sensor`,
/// `wear_day`, `jitter_mg_dl`, `jitter_low_mg_dl`, `jitter_high_mg_dl`, `stretches`, `reason`.
/// `jitter_out` (out): NULL, or where to put that of the whole wear, mg/dL; without a value where
/// too few stretches of three hours are quiet.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace`, `diary` and `wear` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sensor_noise(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    wear: *const GlycWear,
    level: f64,
    table_out: *mut *mut GlycTable,
    jitter_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = handle("trace", trace)?;
            let (meals, events) = (meals_or_none(diary), events_or_none(wear));
            let found = noise::level(&trace.trace, meals, events, level)?;
            let table = found.table()?;
            put(jitter_out, GlycEstimate::from(&found.jitter_mg_dl));
            Ok(table)
        })
    }
}
