//! Dips that may be pressure on the sensor. Method and sources: `glycemic_core::sensor::pressure`.
//!
//! Possibly pressure; a true low can't be excluded without a meter reading.

use glycemic_core::sensor::pressure::{PressureLows, PressureOptions, beside, pressure_lows};

use crate::agreement_tables::give_made;
use crate::align::GlycMeter;
use crate::diary::{GlycDiary, meals_or_none, starts};
use crate::error::{Failure, GlycError, GlycStatus};
use crate::pointers::handle;
use crate::table::GlycTable;
use crate::trace::GlycTrace;

/// The dips; that nothing could be looked for is a failure with its reason.
///
/// # Safety
/// Each handle is NULL or valid to read.
unsafe fn looked_for(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    meter: *const GlycMeter,
    options: PressureOptions,
) -> Result<PressureLows, Failure> {
    // SAFETY: by the contract.
    let (trace, meals, meter) =
        unsafe { (&handle("trace", trace)?.trace, meals_or_none(diary), meter.as_ref()) };
    // SAFETY: as above.
    let activity = unsafe { diary.as_ref() }.map_or(&[][..], |d| &d.activity);
    let found = pressure_lows(trace, meals, activity, meter.map(|m| &m.meter), &options)?;
    match &found.reason {
        Some(reason) => Err(reason.into()),
        None => Ok(found),
    }
}

/// Dips that are possibly pressure; a true low can't be excluded without a meter reading. They are
/// found and weighed, never removed.
///
/// `trace` (in): borrowed for the call; nights need its clock.
/// `diary` (in): whose meals and activity let glucose move faster; NULL without one.
/// `meter` (in): whose readings inside a dip are weighed; NULL without one.
/// `meter_ahead_min` (in): minutes by which the meter's clock is ahead of the sensor's, -1440 to
/// 1440.
/// `least_probability` (in): only dips at least so probably pressure, 0 to 1, such as 0.05.
/// `level` (in): confidence level of the depth, 0.5 to 0.999.
/// `table_out` (out): a row for each dip, in order of time; free it with `glyc_table_free`. Columns
/// `start_ms`, `end_ms`, `minutes`, `probability`, `depth_mg_dl` with its ends, `fall_mg_dl_min`,
/// `recovery_mg_dl_min`, `faster_than_glucose`, `lowest_mg_dl`, `reads_low`, `night`,
/// `meter_mg_dl`, `meter_says` and more.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (readings more than 10 minutes apart, or no stretch without a gap that
/// is long enough), `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1. May take more than 100 ms.
///
/// # Safety
/// `trace`, `diary` and `meter` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_sensor_pressure_lows(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    meter: *const GlycMeter,
    meter_ahead_min: f64,
    least_probability: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let options =
        PressureOptions { least_probability, meter_ahead_min, level, ..PressureOptions::default() };
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || Ok(looked_for(trace, diary, meter, options)?.table()?))
    }
}

/// Measures of all readings beside those without the dips that are at least so probably pressure.
/// Which of the two is right can't be told from the sensor alone.
///
/// `probability` (in): from which on a dip is left out, 0 to 1, such as 0.5.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row each for the mean, shares below 70 and below 54 mg/dL and in range;
/// free it with `glyc_table_free`. Columns `measure`, `with`, `with_low`, `with_high`, `without`,
/// `without_low`, `without_high`.
/// The rest: as for `glyc_sensor_pressure_lows`.
///
/// Statuses: as for `glyc_sensor_pressure_lows`. Since 0.1. May take more than 100 ms.
///
/// # Safety
/// As for `glyc_sensor_pressure_lows`.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_sensor_without_pressure(
    trace: *const GlycTrace,
    diary: *const GlycDiary,
    meter: *const GlycMeter,
    meter_ahead_min: f64,
    probability: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let plain = PressureOptions::default();
    let below = (0.0..plain.least_probability).contains(&probability);
    let least_probability = if below { probability } else { plain.least_probability };
    let options = PressureOptions { least_probability, meter_ahead_min, level, ..plain };
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let found = looked_for(trace, diary, meter, options)?;
            let meals = starts(meals_or_none(diary));
            let trace = &handle("trace", trace)?.trace;
            Ok(beside(trace, &found, probability, &meals, level)?.table()?)
        })
    }
}
