//! How often stated levels would sound. Method and sources: `glycemic_core::sensor::alarms`.
//!
//! These counts describe alarms and are no reason to switch one off; a reading that disagrees with
//! how someone feels is checked with a meter.

use glycemic_core::Error;
use glycemic_core::panel::episodes::Side;
use glycemic_core::sensor::alarms::{Level, Rearm, alarms};
use glycemic_core::sensor::tables::alarm_levels_table;
use glycemic_core::units::Limit;

use crate::agreement_tables::give_made;
use crate::align::GlycMeter;
use crate::episodes::side_from;
use crate::error::{Failure, GlycError, GlycStatus, unknown_choice};
use crate::pointers::{handle, slice};
use crate::table::{GlycTable, give_more};
use crate::trace::GlycTrace;
use crate::wear::{GlycWear, events_or_none};

/// An alarm is armed again when a reading is back past its level by so many mg/dL.
pub const GLYC_REARM_BACK: u32 = 1;
/// An alarm is armed again so many minutes after it sounded.
pub const GLYC_REARM_SNOOZE: u32 = 2;

fn level_from(limit_mg_dl: f64, side: u32) -> Result<Level, Failure> {
    let side = side_from(side)?;
    let word = if side == Side::Below { "below" } else { "above" };
    let name = format!("{word}_{limit_mg_dl}");
    Ok(Level { name, side, limit: Limit::custom_mg_dl(limit_mg_dl) })
}

/// A level that came twice would count each of its alarms twice.
fn levels_from(limits_mg_dl: &[f64], sides: &[u32]) -> Result<Vec<Level>, Failure> {
    let mut levels: Vec<Level> = Vec::with_capacity(sides.len());
    for (&limit, &side) in limits_mg_dl.iter().zip(sides) {
        let level = level_from(limit, side)?;
        if levels.iter().any(|l| l.name == level.name) {
            let (name, choices) = ("limits_mg_dl", "levels that differ");
            return Err(Error::UnknownChoice { name, got: level.name, choices }.into());
        }
        levels.push(level);
    }
    Ok(levels)
}

fn rearm_from(rearm: u32, by: f64) -> Result<Rearm, Failure> {
    match rearm {
        GLYC_REARM_BACK => Ok(Rearm::Back { mg_dl: by }),
        GLYC_REARM_SNOOZE => Ok(Rearm::Snooze { minutes: by }),
        _ => Err(unknown_choice("rearm", rearm, "1 (back), 2 (snooze)")),
    }
}

/// The alarms that levels would sound, and what a meter reading near each said. Counts of this kind
/// are no reason to switch an alarm off: one that a meter contradicts is not known to be false the
/// next time.
///
/// `trace` (in): borrowed for the call; hours and nights need its clock.
/// `limits_mg_dl` (in): `len` levels, 1 or more, 10 to 2000, no level twice; not part of the alarm.
/// `sides` (in): for each level one of `GLYC_SIDE_*`.
/// `rearm` (in): one of `GLYC_REARM_*`.
/// `rearm_by` (in): 0 to 100 mg/dL, such as 5, or 1 to 1440 minutes.
/// `meter` (in): whose readings at most 15 minutes away confirm or contradict; NULL without one.
/// `meter_ahead_min` (in): minutes by which the meter's clock is ahead of the sensor's, -1440 to
/// 1440.
/// `wear` (in): whose "alarm" events are matched; NULL without one.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each alarm; free it with `glyc_table_free`. Columns `level` (such as
/// "below_70"), `time_ms`, `glucose_mg_dl`, `hour`, `night`, `checked` ("confirmed",
/// "contradicted", "nobody_checked"), `meter_mg_dl`, `noted_ms`.
/// `levels_out` (out): NULL, or where to put a row for each level; free it with `glyc_table_free`.
/// Columns `level`, `n` (alarms), `n_per_day` and `n_per_night` with their ends (`n_low_per_day`,
/// ...) and reasons (`per_day_reason`, ...), `confirmed`, `contradicted`, `nobody_checked`,
/// `confirmed_pct` (of those checked) with its ends and `confirmed_reason`, `noted`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// `trace`, `meter` and `wear` are NULL or were not freed; the arrays are NULL or valid for `len`
/// items, the others NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_sensor_alarms(
    trace: *const GlycTrace,
    limits_mg_dl: *const f64,
    sides: *const u32,
    len: usize,
    rearm: u32,
    rearm_by: f64,
    meter: *const GlycMeter,
    meter_ahead_min: f64,
    wear: *const GlycWear,
    level: f64,
    table_out: *mut *mut GlycTable,
    levels_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let trace = &handle("trace", trace)?.trace;
            let limits = slice("limits_mg_dl", limits_mg_dl, len)?;
            let sides = slice("sides", sides, len)?;
            let levels = levels_from(limits, sides)?;
            let rearm = rearm_from(rearm, rearm_by)?;
            let meter = meter.as_ref().map(|m| &m.meter);
            let events = events_or_none(wear);
            let found = alarms(trace, &levels, rearm, meter, meter_ahead_min, events, level)?;
            let (table, summary) = (found.table()?, alarm_levels_table(&found.levels)?);
            // Nothing after this line fails.
            give_more(levels_out, summary);
            Ok(table)
        })
    }
}
