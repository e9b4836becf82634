//! What went with a difference, and what to test next. Method and sources:
//! `glycemic_core::contrast`.
//!
//! An observed difference "went with" the exposure; only a randomised one was caused by it.

use std::ffi::c_char;

use glycemic_core::contrast::schedule::{Wish, schedule, table};
use glycemic_core::contrast::{Aim, Pair, compare, paired};
use glycemic_core::{Error, Table};

use crate::agreement_tables::give_made;
use crate::error::{Failure, GlycError, GlycStatus, guard};
use crate::pointers::{place, slice, text};
use crate::table::GlycTable;

/// `k` columns of `n` numbers each that lie one after the other.
///
/// # Safety
/// `items` is NULL or valid to read `n` times `k` numbers.
unsafe fn column_major(
    name: &'static str,
    items: *const f64,
    n: usize,
    k: usize,
) -> Result<Vec<Vec<f64>>, Failure> {
    // SAFETY: by the contract; `slice` turns a length that can't be away.
    let all = unsafe { slice(name, items, n.saturating_mul(k))? };
    Ok(all.chunks(n.max(1)).map(<[f64]>::to_vec).collect())
}

/// The difference in an outcome with and without an exposure, adjusted for other columns by least
/// squares. It went with the exposure; it is not shown to be caused by it.
///
/// `outcome` (in): `n` numbers, such as rises in mg/dL; borrowed for the call.
/// `exposed` (in): whether each had the exposure, such as a walk after the meal.
/// `adjust` (in): `k` columns of `n` numbers, one column after the other; NULL with a `k` of 0.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): one estimate, `difference` (with less without), and beside it `p_value`,
/// `smallest_visible` (the effect that such a trial sees with a power of 80 %), `residual_sd`,
/// `rows`, `exposed`; free it with `glyc_table_free`. Under 4 on a side, or an exposure that can't
/// be told from the columns, is a reason in it.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "columns, in the order of the core")]
pub unsafe extern "C" fn glyc_contrast_compare(
    outcome: *const f64,
    exposed: *const bool,
    adjust: *const f64,
    n: usize,
    k: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (outcome, exposed) = (slice("outcome", outcome, n)?, slice("exposed", exposed, n)?);
            let adjust = column_major("adjust", adjust, n, k)?;
            let c = compare(outcome, exposed, &adjust, level)?;
            let mut t = Table::of_estimates(&[("difference", "", &c.difference)])?;
            t.push_f64("p_value", vec![c.p_value])?;
            t.push_f64("smallest_visible", vec![c.smallest_visible])?;
            t.push_f64("residual_sd", vec![c.residual_sd])?;
            t.push_i64("rows", vec![Some(c.n as i64)])?;
            t.push_i64("exposed", vec![Some(c.n_exposed as i64)])?;
            Ok(t)
        })
    }
}

/// The analysis that goes with a schedule of pairs.
///
/// `with`, `without` (in): the outcomes of `n` pairs of meals; borrowed for the call.
/// `with_first` (in): whether the meal with the exposure came first.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): estimates `difference` (with less without), `carry_over` (sum of pairs that
/// began with the exposure less sum of the others), `period` (second meal less first), and for the
/// difference `p_value` (Student's t) and `p_signs` (exact test of signs, which rests on the draw
/// alone); free it with `glyc_table_free`. Too few pairs are a reason in it.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_contrast_paired(
    with: *const f64,
    without: *const f64,
    with_first: *const bool,
    n: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (with, without) = (slice("with", with, n)?, slice("without", without, n)?);
            let first = slice("with_first", with_first, n)?;
            let pair = |i: usize| Pair { with: with[i], without: without[i], with_first: first[i] };
            let pairs: Vec<Pair> = (0..n).map(pair).collect();
            let p = paired(&pairs, level)?;
            let mut t = Table::of_estimates(&[
                ("difference", "", &p.difference),
                ("carry_over", "", &p.carry_over),
                ("period", "", &p.period),
            ])?;
            t.push_f64("p_value", vec![p.p_value, None, None])?;
            t.push_f64("p_signs", vec![p.p_signs, None, None])?;
            Ok(t)
        })
    }
}

/// How many repeats it takes to see an effect.
///
/// `effect` (in): the effect, in the unit of the outcome; not 0.
/// `sd` (in): standard deviation of single meals at the same grams, over 0.
/// `power` (in): chance to see it, 0.5 to 0.999, such as 0.8.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `in_pairs` (in): whether meals with and without are compared pair by pair, or as two groups.
/// `repeats_out` (out): pairs, or meals on each side; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE` (also where it would take over 100,000), `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_contrast_repeats(
    effect: f64,
    sd: f64,
    power: f64,
    level: f64,
    in_pairs: bool,
    repeats_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("repeats_out", repeats_out)?;
        let aim = Aim { effect, sd, power, level };
        let repeats = if in_pairs { aim.pairs()? } else { aim.each()? };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(repeats) };
        Ok(())
    })
}

/// What a schedule is drawn from; a slot that came twice is an error.
///
/// # Safety
/// `slots` is NULL or valid for as many texts as stand beside it; each text is NULL or ends with a
/// zero.
pub(crate) unsafe fn wish_from(
    days: usize,
    masked_days: usize,
    slots: (*const *const c_char, usize),
    pairs: usize,
    conditions: (*const c_char, *const c_char),
    seed: u64,
) -> Result<Wish, Failure> {
    let mut names: Vec<String> = Vec::new();
    // SAFETY: by the contract above.
    let (with, without) = unsafe {
        for &slot in slice("slots", slots.0, slots.1)? {
            let name = text("slots", slot)?.to_string();
            if names.contains(&name) {
                let (name, got) = ("slots", name);
                let choices = "meals that differ";
                return Err(Error::UnknownChoice { name, got, choices }.into());
            }
            names.push(name);
        }
        (text("with", conditions.0)?.to_string(), text("without", conditions.1)?.to_string())
    };
    Ok(Wish { days, masked_days, slots: names, pairs, with, without, seed })
}

/// A randomised schedule: pairs of the same meal on two days running, one with and one without, as
/// many of either order as can be. Same arguments, same schedule.
///
/// `days` (in): days of wear, 2 to 365.
/// `masked_days` (in): days at the start without a task, on which the display may be masked.
/// `slots` (in): `n_slots` meals of the day that take part, such as "lunch", each once; copied.
/// `pairs` (in): 2 or more, as many as the days hold.
/// `with`, `without` (in): what is done in either meal of a pair, such as "walk_after".
/// `seed` (in): key of the draw.
/// `table_out` (out): a row for each masked day, then for each meal, by day; free it with
/// `glyc_table_free`. Columns `day`, `slot`, `pair` (both missing on masked days), `condition`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE` (a slot that came twice),
/// `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `slots` is NULL or valid for `n_slots` texts; each text is NULL or ends with a zero; the others
/// are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "a wish, in the order of the core")]
pub unsafe extern "C" fn glyc_contrast_schedule(
    days: usize,
    masked_days: usize,
    slots: *const *const c_char,
    n_slots: usize,
    pairs: usize,
    with: *const c_char,
    without: *const c_char,
    seed: u64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let slots = (slots, n_slots);
            let wish = wish_from(days, masked_days, slots, pairs, (with, without), seed)?;
            Ok(table(&wish, &schedule(&wish)?)?)
        })
    }
}
