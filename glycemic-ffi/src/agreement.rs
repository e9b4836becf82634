//! Agreement of paired numbers. Method and source: `glycemic_core::agreement`.

use glycemic_core::Estimate;
use glycemic_core::agreement;

use crate::error::{GlycError, GlycStatus, guard};
use crate::estimate::GlycEstimate;
use crate::pointers::{place, slice};

/// Share of pairs within `mg_dl` below the switch point and within `pct` percent at or above it.
///
/// `reference`, `measured` (in): `len` items each, 1 or more, mg/dL; borrowed for the call.
/// `cluster` (in): each pair's cluster (for one person the local day); NULL for independent pairs.
/// `mg_dl`, `pct`, `switch_mg_dl` (in): the limits, such as 15, 15 and 100.
/// `level` (in): confidence level, from 0.5 to 0.999.
/// `share_out` (out): the share from 0 to 1 with its exact interval; `n` is the number of pairs.
/// `count_out` (out): NULL, or where to put how many pairs lie within.
/// `n_effective_out` (out): NULL, or where to put the effective number of independent pairs.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_agreement_within(
    reference: *const f64,
    measured: *const f64,
    cluster: *const i64,
    len: usize,
    mg_dl: f64,
    pct: f64,
    switch_mg_dl: f64,
    level: f64,
    share_out: *mut GlycEstimate,
    count_out: *mut usize,
    n_effective_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let (reference, measured) =
            unsafe { (slice("reference", reference, len)?, slice("measured", measured, len)?) };
        let cluster = match cluster.is_null() {
            true => None,
            // SAFETY: as above.
            false => Some(unsafe { slice("cluster", cluster, len)? }),
        };
        let out = place("share_out", share_out)?;
        let s = agreement::within(reference, measured, mg_dl, pct, switch_mg_dl, cluster, level)?;
        let share = Estimate::new(s.fraction, s.low, s.high, s.level, &s.method, s.n);
        // SAFETY: each is not NULL where it is written, so valid.
        unsafe {
            out.write(GlycEstimate::from(&share));
            if !count_out.is_null() {
                count_out.write(s.count);
            }
            if !n_effective_out.is_null() {
                n_effective_out.write(s.n_effective);
            }
        }
        Ok(())
    })
}
