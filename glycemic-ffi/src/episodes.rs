//! Episodes of low and high glucose. Method and sources: `glycemic_core::panel::episodes`.

use glycemic_core::panel::episodes::{Hold, Rule, Side, table};
use glycemic_core::units::Limit;

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::options::episode_length_from;
use crate::pointers::{handle, place};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// Episodes below 70 mg/dL (3.9 mmol/L) for 15 minutes.
pub const GLYC_EPISODES_LOW: u32 = 1;
/// Episodes below 54 mg/dL (3.0 mmol/L) for 15 minutes, until 70 mg/dL (3.9 mmol/L).
pub const GLYC_EPISODES_VERY_LOW: u32 = 2;
/// Episodes below 54 mg/dL (3.0 mmol/L) for 120 minutes in a row.
pub const GLYC_EPISODES_PROLONGED_VERY_LOW: u32 = 3;
/// Episodes below 70 mg/dL (3.9 mmol/L) for 120 minutes in a row.
pub const GLYC_EPISODES_EXTENDED_LOW: u32 = 4;
/// Episodes above 180 mg/dL (10.0 mmol/L) for 15 minutes.
pub const GLYC_EPISODES_HIGH: u32 = 5;
/// Episodes above 250 mg/dL (13.9 mmol/L) for 15 minutes, until 180 mg/dL (10.0 mmol/L).
pub const GLYC_EPISODES_VERY_HIGH: u32 = 6;
/// Episodes above 250 mg/dL (13.9 mmol/L) for more than 90 of 120 minutes.
pub const GLYC_EPISODES_EXTENDED_HIGH: u32 = 7;
/// Episodes by each published rule, one rule after the other.
pub const GLYC_EPISODES_ALL: u32 = 8;

/// An episode lies below its level.
pub const GLYC_SIDE_BELOW: u32 = 1;
/// An episode lies above its level.
pub const GLYC_SIDE_ABOVE: u32 = 2;

fn rules_from(rule: u32) -> Result<Vec<Rule>, Failure> {
    Ok(match rule {
        GLYC_EPISODES_LOW => vec![Rule::LOW],
        GLYC_EPISODES_VERY_LOW => vec![Rule::VERY_LOW],
        GLYC_EPISODES_PROLONGED_VERY_LOW => vec![Rule::PROLONGED_VERY_LOW],
        GLYC_EPISODES_EXTENDED_LOW => vec![Rule::EXTENDED_LOW],
        GLYC_EPISODES_HIGH => vec![Rule::HIGH],
        GLYC_EPISODES_VERY_HIGH => vec![Rule::VERY_HIGH],
        GLYC_EPISODES_EXTENDED_HIGH => vec![Rule::EXTENDED_HIGH],
        GLYC_EPISODES_ALL => Rule::ALL.to_vec(),
        _ => return Err(unknown_choice("rule", rule, "1 to 8 (GLYC_EPISODES_*)")),
    })
}

pub(crate) fn side_from(side: u32) -> Result<Side, Failure> {
    match side {
        GLYC_SIDE_BELOW => Ok(Side::Below),
        GLYC_SIDE_ABOVE => Ok(Side::Above),
        _ => Err(unknown_choice("side", side, "1 (below), 2 (above)")),
    }
}

/// The episodes of a trace by a published rule.
///
/// `trace` (in): borrowed for the call.
/// `rule` (in): one of `GLYC_EPISODES_*`.
/// `episode_length` (in): one of `GLYC_EPISODE_LENGTH_*`.
/// `table_out` (out): a row each, in order: `rule` (text), `start_ms` and `end_ms` (i64, UTC ms),
/// `minutes`, `extreme_mg_dl`, `level_mg_dl` (f64), `nocturnal` (bool, missing without a clock),
/// `cut` (bool: it touches a gap or an end, so it lasted at least so long), `sensor_change`
/// (bool); free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_episodes(
    trace: *const GlycTrace,
    rule: u32,
    episode_length: u32,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = unsafe { handle("trace", trace)? };
        let out = place("table_out", table_out)?;
        let length = episode_length_from(episode_length)?;
        let rules: Vec<Rule> = rules_from(rule)?.into_iter().map(|r| r.counted(length)).collect();
        let found = table(trace.trace.view(), &rules)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(found)) };
        Ok(())
    })
}

/// The episodes of a trace beyond a level of the caller's own; the column `rule` says `custom`.
///
/// `trace` (in): borrowed for the call.
/// `side` (in): one of `GLYC_SIDE_*`.
/// `level_mg_dl` (in): the level, from 10 to 2000; not part of the episode itself.
/// `recovery_mg_dl` (in): glucose is back when it is at this limit or on the other side of it; not
/// on the episode's side of the level.
/// `hold_min` (in): minutes in a row that start an episode, from 0.1 to a week; 15 is usual.
/// `recovery_min` (in): minutes in a row back that end it, from 0.1 to a week; 15 is usual.
/// `episode_length`, `table_out`, `error`: as for `glyc_episodes`. For a trace measured in mmol/L
/// both limits are rounded to tenths of mmol/L.
///
/// Statuses: `UNKNOWN_CHOICE`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_episodes_beyond(
    trace: *const GlycTrace,
    side: u32,
    level_mg_dl: f64,
    recovery_mg_dl: f64,
    hold_min: f64,
    recovery_min: f64,
    episode_length: u32,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = unsafe { handle("trace", trace)? };
        let out = place("table_out", table_out)?;
        let rule = Rule {
            name: "custom",
            side: side_from(side)?,
            level: Limit::custom_mg_dl(level_mg_dl),
            recovery: Limit::custom_mg_dl(recovery_mg_dl),
            hold: Hold::InARow(hold_min),
            recovery_min,
            length: episode_length_from(episode_length)?,
        };
        let found = table(trace.trace.view(), &[rule])?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(found)) };
        Ok(())
    })
}
