//! Measures by part of a trace: local days, weekdays and weekends, blocks of the local day.
//! Method and sources: `glycemic_core::panel::blocks`.

use std::ffi::c_char;

use glycemic_core::TraceView;
use glycemic_core::panel::blocks::{Block, By, table_by};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pointers::{handle, place, slice, text};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// By local day; `part` is a date such as 2025-03-14.
pub const GLYC_BY_DAY: u32 = 1;
/// Monday to Friday, and Saturday and Sunday; `part` is `weekday` or `weekend`.
pub const GLYC_BY_WEEK_PART: u32 = 2;
/// 00:00-06:00 and 06:00-24:00; `part` is `night` or `day`.
pub const GLYC_BY_NIGHT_AND_DAY: u32 = 3;

fn by_from(by: u32) -> Result<By, Failure> {
    match by {
        GLYC_BY_DAY => Ok(By::Day),
        GLYC_BY_WEEK_PART => Ok(By::WeekPart),
        GLYC_BY_NIGHT_AND_DAY => Ok(By::Block(vec![Block::night(), Block::day()])),
        _ => Err(unknown_choice("by", by, "1 (day), 2 (week part), 3 (night and day)")),
    }
}

fn made(view: TraceView<'_>, by: &By) -> Result<*mut GlycTable, Failure> {
    let table = table_by(view, by)?.map_err(|reason| Failure::from(&reason))?;
    Ok(give_table(table))
}

/// The measures that don't depend on order, for each part of a trace.
///
/// `trace` (in): made with a clock; borrowed for the call.
/// `by` (in): one of `GLYC_BY_*`.
/// `table_out` (out): a row for each part: `part` (text), `n`, `local_days`, `censored_low`,
/// `censored_high` (i64), then a column (f64) for each measure, called as `glyc_measure_name` has
/// it, missing where a part has too few readings; free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (no clock), `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_by(
    trace: *const GlycTrace,
    by: u32,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = unsafe { handle("trace", trace)? };
        let out = place("table_out", table_out)?;
        let table = made(trace.trace.view(), &by_from(by)?)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(table) };
        Ok(())
    })
}

/// The measures that don't depend on order, for blocks of the local day of the caller's own.
///
/// `trace` (in): made with a clock; borrowed for the call.
/// `names` (in): `len` names, 1 or more, each ended by a zero; borrowed for the call.
/// `from_min` (in): `len` minutes of the local day at which each block begins, from 0 to 1439.
/// `to_min` (in): `len` minutes before which each ends, from 0 to 1440; when it is not after
/// `from_min`, the block wraps midnight and belongs to the day on which it began.
/// `table_out`, `error`: as for `glyc_panel_by`; `part` is the name.
///
/// Statuses: `NOT_ESTIMABLE` (no clock), `TOO_FEW_VALUES`, `OUT_OF_RANGE`, `NOT_UTF8`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_by_block(
    trace: *const GlycTrace,
    names: *const *const c_char,
    from_min: *const u32,
    to_min: *const u32,
    len: usize,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; all turn NULL away.
        let (trace, names, from, to) = unsafe {
            let trace = handle("trace", trace)?;
            let (from, to) = (slice("from_min", from_min, len)?, slice("to_min", to_min, len)?);
            (trace, slice("names", names, len)?, from, to)
        };
        let out = place("table_out", table_out)?;
        let block = |((&name, &from), &to): ((&*const c_char, &u32), &u32)| {
            // SAFETY: NULL or ended by a zero by the contract above.
            let name = unsafe { text("names", name)? };
            Ok(Block::new(name, from, to)?)
        };
        let blocks: Result<Vec<Block>, Failure> =
            names.iter().zip(from).zip(to).map(block).collect();
        let table = made(trace.trace.view(), &By::Block(blocks?))?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(table) };
        Ok(())
    })
}
