//! Agreement of changes: what a meal did by the meter against what it did by the sensor. Method and
//! sources: `glycemic_core::agreement::changes`.

use glycemic_core::Table;
use glycemic_core::agreement::changes::{ChangeOptions, changes};

use crate::agreement_tables::give_made;
use crate::error::{GlycError, GlycStatus};
use crate::pointers::slice;
use crate::table::{GlycTable, give_more};

/// Bias, limits of agreement and slope of the changes that meals made, from pairs of meter and
/// sensor: of each meal the pair nearest to its start (45 minutes before to 5 after) and the one
/// nearest to 90 minutes after it (30 to 150). A slope below 1 may be a late sensor.
///
/// `times_ms`, `meter_mg_dl`, `sensor_mg_dl` (in): `len` pairs; borrowed for the call.
/// `day` (in): each pair's local day, the unit of the intervals.
/// `meals_ms` (in): when `n_meals` meals began, UTC milliseconds, in any order.
/// `meter_sd_mg_dl` (in): SD of repeated readings of the meter, 0 to 100; NaN where unknown (the
/// slope is then Deming's with equal errors).
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): estimates `bias_mg_dl`, `lower_mg_dl`, `upper_mg_dl`, `slope`; free it with
/// `glyc_table_free`. Too few changes are a reason in it.
/// `changes_out` (out): NULL, or where to put a row for each change: `meal`, `before`, `after`
/// (counted from 0 as given), `meter_mg_dl`, `sensor_mg_dl`, `difference_mg_dl`, `day`; free it
/// with `glyc_table_free`.
/// `skipped_out` (out): NULL, or where to put the other meals: `meal`, `why`; free it with
/// `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "columns, in the order of the core")]
pub unsafe extern "C" fn glyc_agreement_changes(
    times_ms: *const i64,
    meter_mg_dl: *const f64,
    sensor_mg_dl: *const f64,
    day: *const i64,
    len: usize,
    meals_ms: *const i64,
    n_meals: usize,
    meter_sd_mg_dl: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    changes_out: *mut *mut GlycTable,
    skipped_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (times, day) = (slice("times_ms", times_ms, len)?, slice("day", day, len)?);
            let meter = slice("meter_mg_dl", meter_mg_dl, len)?;
            let sensor = slice("sensor_mg_dl", sensor_mg_dl, len)?;
            let meals = slice("meals_ms", meals_ms, n_meals)?;
            let meter_sd_mg_dl = Some(meter_sd_mg_dl).filter(|sd| !sd.is_nan());
            let options = ChangeOptions { meter_sd_mg_dl, level, ..ChangeOptions::default() };
            let found = changes(times, meter, sensor, day, meals, &options)?;
            let table = Table::of_estimates(&[
                ("bias_mg_dl", "mg/dL", &found.bias_mg_dl),
                ("lower_mg_dl", "mg/dL", &found.lower_mg_dl),
                ("upper_mg_dl", "mg/dL", &found.upper_mg_dl),
                ("slope", "1", &found.slope),
            ])?;
            let rows = found.to_table()?;
            let mut skipped = Table::new();
            let of = &found.skipped;
            skipped.push_i64("meal", of.iter().map(|s| Some(s.0 as i64)).collect())?;
            skipped.push_text("why", of.iter().map(|s| Some(s.1.to_string())).collect())?;
            // Nothing after this line fails.
            give_more(changes_out, rows);
            give_more(skipped_out, skipped);
            Ok(table)
        })
    }
}
