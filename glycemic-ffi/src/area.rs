//! Area under a curve. Method and source: `glycemic_core::area`.

use glycemic_core::area::{self, Rule};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pointers::{place, slice};

/// Rule of an incremental area: the part below the baseline is dropped.
pub const GLYC_RULE_POSITIVE: u32 = 1;
/// Rule of an incremental area: the part below the baseline is subtracted.
pub const GLYC_RULE_NET: u32 = 2;
/// Rule of an incremental area: as positive, but only until the curve first returns.
pub const GLYC_RULE_UNTIL_RETURN: u32 = 3;

fn rule_from(rule: u32) -> Result<Rule, Failure> {
    match rule {
        GLYC_RULE_POSITIVE => Ok(Rule::Positive),
        GLYC_RULE_NET => Ok(Rule::Net),
        GLYC_RULE_UNTIL_RETURN => Ok(Rule::UntilReturn),
        _ => Err(unknown_choice("rule", rule, "1 (positive), 2 (net), 3 (until return)")),
    }
}

/// Area of a curve measured from zero.
///
/// `minutes`, `values` (in): `len` items each, 2 or more; borrowed for the call.
/// `area_out` (out): in the unit of `values` times minutes; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `UNORDERED_TIME`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_area_total(
    minutes: *const f64,
    values: *const f64,
    len: usize,
    area_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let (minutes, values) =
            unsafe { (slice("minutes", minutes, len)?, slice("values", values, len)?) };
        let out = place("area_out", area_out)?;
        let area = area::total(minutes, values)?;
        // SAFETY: not NULL, so valid; written, not read, since C may not have set it.
        unsafe { out.write(area) };
        Ok(())
    })
}

/// Area of a curve measured from a baseline.
///
/// `minutes`, `values` (in): `len` items each, 2 or more; borrowed for the call.
/// `baseline` (in): the level that counts as zero; NULL for the first value.
/// `rule` (in): one of `GLYC_RULE_*`.
/// `area_out` (out): in the unit of `values` times minutes; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `UNORDERED_TIME`, `NOT_FINITE` (also a NaN baseline),
/// `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_area_incremental(
    minutes: *const f64,
    values: *const f64,
    len: usize,
    baseline: *const f64,
    rule: u32,
    area_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let (minutes, values) =
            unsafe { (slice("minutes", minutes, len)?, slice("values", values, len)?) };
        // SAFETY: as above; NULL becomes `None`.
        let baseline = unsafe { baseline.as_ref() }.copied();
        let out = place("area_out", area_out)?;
        let area = area::incremental(minutes, values, baseline, rule_from(rule)?)?;
        // SAFETY: not NULL, so valid; written, not read, since C may not have set it.
        unsafe { out.write(area) };
        Ok(())
    })
}
