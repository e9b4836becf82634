//! Is there enough data, and how much more would it take? Method and sources:
//! `glycemic_core::panel::sufficiency`.

use glycemic_core::panel::sufficiency::{
    Local, Sufficiency, days_needed, days_needed_for, sufficiency,
};
use glycemic_core::{Reason, Table};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::panel::measure_from;
use crate::pointers::{give, handle, place, take};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// Figure of `glyc_sufficiency_figure`: readings, inside the reporting period if there is one.
pub const GLYC_SUFFICIENCY_N: u32 = 1;
/// Figure of `glyc_sufficiency_figure`: days of 24 h.
pub const GLYC_SUFFICIENCY_DAYS: u32 = 2;
/// Figure of `glyc_sufficiency_figure`: readings over what these days could hold, percent.
pub const GLYC_SUFFICIENCY_ACTIVE_PCT: u32 = 3;
/// Figure of `glyc_sufficiency_figure`: 1 if there are 14 days, else 0.
pub const GLYC_SUFFICIENCY_ENOUGH_DAYS: u32 = 4;
/// Figure of `glyc_sufficiency_figure`: 1 if 70 % are active, else 0.
pub const GLYC_SUFFICIENCY_ENOUGH_ACTIVE: u32 = 5;
/// Figure of `glyc_sufficiency_figure`: longest stretch without readings, minutes; 0 without a gap.
pub const GLYC_SUFFICIENCY_LONGEST_GAP_MIN: u32 = 6;
/// Figure of `glyc_sufficiency_figure`: when it begins, UTC ms; not estimable without a gap.
pub const GLYC_SUFFICIENCY_LONGEST_GAP_FROM_MS: u32 = 7;
/// Figure of `glyc_sufficiency_figure`: local days with a reading; needs a clock.
pub const GLYC_SUFFICIENCY_DAYS_TOUCHED: u32 = 8;
/// Figure of `glyc_sufficiency_figure`: local days with 70 % of what they could hold; needs a clock.
pub const GLYC_SUFFICIENCY_FULL_DAYS: u32 = 9;

/// How much data there is.
pub struct GlycSufficiency {
    sufficiency: Sufficiency,
}

impl GlycSufficiency {
    fn local(&self) -> Result<&Local, Failure> {
        self.sufficiency.local.as_ref().map_err(Failure::from)
    }

    fn figure(&self, which: u32) -> Result<f64, Failure> {
        let s = &self.sufficiency;
        Ok(match which {
            GLYC_SUFFICIENCY_N => s.n as f64,
            GLYC_SUFFICIENCY_DAYS => s.days,
            GLYC_SUFFICIENCY_ACTIVE_PCT => s.active_pct,
            GLYC_SUFFICIENCY_ENOUGH_DAYS => f64::from(u8::from(s.enough_days)),
            GLYC_SUFFICIENCY_ENOUGH_ACTIVE => f64::from(u8::from(s.enough_active)),
            GLYC_SUFFICIENCY_LONGEST_GAP_MIN => s.longest_gap_min,
            GLYC_SUFFICIENCY_LONGEST_GAP_FROM_MS => {
                let none = || Failure::from(&Reason::plain("no_gap", "there is no gap"));
                s.longest_gap_from_ms.ok_or_else(none)? as f64
            }
            GLYC_SUFFICIENCY_DAYS_TOUCHED => self.local()?.days_touched as f64,
            GLYC_SUFFICIENCY_FULL_DAYS => self.local()?.full_days as f64,
            _ => return Err(unknown_choice("which", which, "1 to 9 (GLYC_SUFFICIENCY_*)")),
        })
    }

    /// A row for each hour of the local day.
    fn hours(&self) -> Result<Table, Failure> {
        let local = self.local()?;
        let readings = local.readings_by_hour.iter().map(|&n| Some(n as i64)).collect();
        let is_in = |list: &[usize]| (0..24).map(|hour| list.contains(&hour)).collect();
        let mut table = Table::new();
        table.push_i64("hour", (0..24).map(Some).collect())?;
        table.push_i64("readings", readings)?;
        table.push_bool("unseen", is_in(&local.hours_unseen))?;
        table.push_bool("thin", is_in(&local.hours_thin))?;
        Ok(table)
    }
}

/// How much data a trace holds, by the consensus of 14 days and 70 % active time.
///
/// `trace` (in): borrowed for the call.
/// `period_ms` (in): NULL, or two instants, the reporting period: from the first on and before
/// the second, UTC ms. Without it, from first to last reading and one interval.
/// `sufficiency_out` (out): the new object; free it with `glyc_sufficiency_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE` (a period that does not end after it begins, or lies outside 1970 to
/// 2100), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sufficiency_new(
    trace: *const GlycTrace,
    period_ms: *const i64,
    sufficiency_out: *mut *mut GlycSufficiency,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = unsafe { handle("trace", trace)? };
        // SAFETY: NULL or two instants by the contract above.
        let period = unsafe { period_ms.cast::<[i64; 2]>().as_ref() }.map(|p| (p[0], p[1]));
        let out = place("sufficiency_out", sufficiency_out)?;
        let sufficiency = sufficiency(trace.trace.view(), period)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycSufficiency { sufficiency })) };
        Ok(())
    })
}

/// A figure of how much data there is.
///
/// `which` (in): one of `GLYC_SUFFICIENCY_*`, which says the unit.
/// `figure_out` (out): the figure; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (no clock, or no gap), `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `sufficiency` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sufficiency_figure(
    sufficiency: *const GlycSufficiency,
    which: u32,
    figure_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let sufficiency = unsafe { handle("sufficiency", sufficiency)? };
        let out = place("figure_out", figure_out)?;
        let figure = sufficiency.figure(which)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(figure) };
        Ok(())
    })
}

/// Readings by hour of the local day.
///
/// `table_out` (out): 24 rows: `hour`, `readings` (i64), `unseen` (bool: none), `thin` (bool: some,
/// but fewer than a third of the mean hour's); free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (no clock), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `sufficiency` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sufficiency_hours(
    sufficiency: *const GlycSufficiency,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let sufficiency = unsafe { handle("sufficiency", sufficiency)? };
        let out = place("table_out", table_out)?;
        let table = sufficiency.hours()?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// Frees the object; nothing for NULL. Since 0.1.
///
/// # Safety
/// `sufficiency` is NULL or was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_sufficiency_free(sufficiency: *mut GlycSufficiency) {
    // SAFETY: by the contract above.
    unsafe { take(sufficiency) };
}

/// Days needed to know a measure to a given width, from how much the full local days of a trace
/// differ; for means, shares and mean risks only.
///
/// `trace` (in): made with a clock; borrowed for the call.
/// `measure_id` (in): one of `GLYC_MEASURE_*`.
/// `half_width` (in): wanted width either way, in `glyc_measure_unit`; over 0.
/// `level` (in): confidence level, from 0.5 to 0.9999.
/// `days_out` (out): the number of days; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (no clock, fewer than seven full days, days that don't differ, not a
/// mean, or over a hundred years), `UNKNOWN_CHOICE`, `NOT_FINITE`, `OUT_OF_RANGE`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_days_needed(
    trace: *const GlycTrace,
    measure_id: u32,
    half_width: f64,
    level: f64,
    days_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = unsafe { handle("trace", trace)? };
        let out = place("days_out", days_out)?;
        let id = measure_from(measure_id)?;
        let days = days_needed_for(trace.trace.view(), id, half_width, level)?;
        let days = days.map_err(|reason| Failure::from(&reason))?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(days) };
        Ok(())
    })
}

/// The fewest days at which the mean of independent day values is known to a given width.
///
/// `sd` (in): standard deviation between days, 0 or more.
/// `half_width` (in): wanted width either way, in the unit of `sd`; over 0.
/// `level` (in): confidence level, from 0.5 to 0.9999.
/// `days_out` (out): the number of days, 2 or more; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (over a hundred years), `NOT_FINITE`, `OUT_OF_RANGE`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write one item to.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_days_needed(
    sd: f64,
    half_width: f64,
    level: f64,
    days_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("days_out", days_out)?;
        let far = || Reason::plain("out_of_reach", "a hundred years of such days are too few");
        let days = days_needed(sd, half_width, level)?.ok_or_else(|| Failure::from(&far()))?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(days) };
        Ok(())
    })
}
