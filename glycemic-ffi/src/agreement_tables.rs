//! Agreement of paired numbers, answered as tables. Method and sources: `glycemic_core::agreement`.
//!
//! Tables of estimates have a row each: `name`, `unit`, `value`, `low`, `high`, `level`, `n`,
//! `needed`, `method`, `reason_code`, `reason`.

use glycemic_core::agreement::standards::{
    fda_point_of_care, fda_self_monitoring, icgm, iso15197_2003, iso15197_2013,
};
use glycemic_core::agreement::standards_table;
use glycemic_core::agreement::{
    Band, Grid, accuracy, concordance, deming, error_grid, limits, passing_bablok, summary,
    weighted_deming,
};
use glycemic_core::{Table, Unit};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pointers::{place, slice};
use crate::table::{GlycTable, give_table};

/// Error grid: Clarke 1987. Vertices from memory, unconfirmed.
pub const GLYC_GRID_CLARKE: u32 = 1;
/// Error grid: consensus 2000, type 1 diabetes. Vertices from memory, unconfirmed.
pub const GLYC_GRID_CONSENSUS_TYPE1: u32 = 2;
/// Error grid: consensus 2000, type 2 diabetes. Vertices from memory, unconfirmed.
pub const GLYC_GRID_CONSENSUS_TYPE2: u32 = 3;

/// Line of `glyc_agreement_line`: Deming, jackknife.
pub const GLYC_LINE_DEMING: u32 = 1;
/// Line of `glyc_agreement_line`: Deming for a constant coefficient of variation, jackknife.
pub const GLYC_LINE_WEIGHTED_DEMING: u32 = 2;
/// Line of `glyc_agreement_line`: Passing and Bablok 1983; the ratio of variances is not used.
pub const GLYC_LINE_PASSING_BABLOK: u32 = 3;

/// Criteria of `glyc_agreement_standard`: ISO 15197:2013.
pub const GLYC_STANDARD_ISO15197_2013: u32 = 1;
/// Criteria of `glyc_agreement_standard`: ISO 15197:2003.
pub const GLYC_STANDARD_ISO15197_2003: u32 = 2;
/// Criteria of `glyc_agreement_standard`: FDA guidance for self-monitoring meters.
pub const GLYC_STANDARD_FDA_SELF_MONITORING: u32 = 3;
/// Criteria of `glyc_agreement_standard`: FDA guidance for point-of-care meters.
pub const GLYC_STANDARD_FDA_POINT_OF_CARE: u32 = 4;
/// Criteria of `glyc_agreement_standard`: special controls for integrated monitors, without rates.
pub const GLYC_STANDARD_ICGM: u32 = 5;

/// Two columns of one length, and their clusters, which may be NULL.
struct Columns<'a> {
    reference: &'a [f64],
    measured: &'a [f64],
    cluster: Option<&'a [i64]>,
}

/// # Safety
/// Each pointer is NULL or valid to read `len` items.
unsafe fn columns<'a>(
    reference: *const f64,
    measured: *const f64,
    cluster: *const i64,
    len: usize,
) -> Result<Columns<'a>, Failure> {
    // SAFETY: NULL or valid by the contract; `slice` turns NULL away.
    unsafe {
        let cluster = if cluster.is_null() { None } else { Some(slice("cluster", cluster, len)?) };
        let (reference, measured) =
            (slice("reference", reference, len)?, slice("measured", measured, len)?);
        Ok(Columns { reference, measured, cluster })
    }
}

/// Gives the table that `make` makes.
///
/// # Safety
/// `error` and `table_out` are NULL or valid to write.
pub(crate) unsafe fn give_made(
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
    make: impl FnOnce() -> Result<Table, Failure>,
) -> GlycStatus {
    guard(error, || {
        let out = place("table_out", table_out)?;
        let table = make()?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}

/// Relative difference, bias and spread of pairs.
///
/// `reference`, `measured` (in): `len` items each, 1 or more, mg/dL; borrowed for the call.
/// `cluster` (in): each pair's cluster (for one person the local day); NULL for independent pairs.
/// `level` (in): confidence level, from 0.5 to 0.999.
/// `table_out` (out): estimates `mard_pct`, `median_ard_pct`, `bias_mg_dl`, `bias_pct`,
/// `sd_mg_dl`; free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_agreement_summary(
    reference: *const f64,
    measured: *const f64,
    cluster: *const i64,
    len: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let c = columns(reference, measured, cluster, len)?;
            Ok(summary(c.reference, c.measured, c.cluster, level)?.table()?)
        })
    }
}

/// Bias and limits of agreement with their intervals: independent pairs, or with `subject`
/// repeated measures whose true value varies (Bland and Altman 1999).
///
/// `subject` (in): which pairs belong together; NULL for independent pairs.
/// `table_out` (out): estimates `bias`, `lower`, `upper`, mg/dL, limits at 1.96 SD.
/// The rest: as for `glyc_agreement_summary`; two pairs or more.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_agreement_limits(
    reference: *const f64,
    measured: *const f64,
    subject: *const i64,
    len: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let c = columns(reference, measured, subject, len)?;
            let options = limits::Options { subject: c.cluster, level, ..Default::default() };
            Ok(limits::limits(c.reference, c.measured, &options)?.table()?)
        })
    }
}

/// A line through pairs with errors on both sides.
///
/// `x`, `y` (in): `len` items each; borrowed for the call.
/// `method` (in): one of `GLYC_LINE_*`.
/// `variance_ratio` (in): variance of y's errors over that of x's, for Deming, such as 1.
/// `level` (in): confidence level.
/// `table_out` (out): estimates `slope` and `intercept`; free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_agreement_line(
    x: *const f64,
    y: *const f64,
    len: usize,
    method: u32,
    variance_ratio: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (x, y) = (slice("x", x, len)?, slice("y", y, len)?);
            let line = match method {
                GLYC_LINE_DEMING => deming(x, y, variance_ratio, level)?,
                GLYC_LINE_WEIGHTED_DEMING => weighted_deming(x, y, variance_ratio, level)?,
                GLYC_LINE_PASSING_BABLOK => passing_bablok(x, y, level)?.line,
                _ => return Err(unknown_choice("method", method, "1 to 3 (GLYC_LINE_*)")),
            };
            Ok(line.table()?)
        })
    }
}

/// Lin's concordance, as a table with one estimate, `concordance`.
///
/// The arguments: as for `glyc_agreement_line`; three pairs or more.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_agreement_concordance(
    x: *const f64,
    y: *const f64,
    len: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            Ok(concordance(slice("x", x, len)?, slice("y", y, len)?, level)?.table()?)
        })
    }
}

fn grid_from(grid: u32) -> Result<Grid, Failure> {
    match grid {
        GLYC_GRID_CLARKE => Ok(Grid::Clarke),
        GLYC_GRID_CONSENSUS_TYPE1 => Ok(Grid::ConsensusType1),
        GLYC_GRID_CONSENSUS_TYPE2 => Ok(Grid::ConsensusType2),
        _ => Err(unknown_choice("grid", grid, "1 to 3 (GLYC_GRID_*)")),
    }
}

/// Pairs in the zones of an error grid.
///
/// `reference`, `measured` (in): `len` items each, 1 or more, mg/dL; borrowed for the call.
/// `grid` (in): one of `GLYC_GRID_*`.
/// `zones_out` (out): NULL, or room for `len` letters, "A" to "E", a pair each; written only on
/// `GLYC_STATUS_OK`.
/// `table_out` (out): a row for each zone: `zone`, `pairs`, `percent`; free it with
/// `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_agreement_error_grid(
    reference: *const f64,
    measured: *const f64,
    len: usize,
    grid: u32,
    zones_out: *mut u8,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let c = columns(reference, measured, std::ptr::null(), len)?;
            let found = error_grid(c.reference, c.measured, Unit::MgDl, grid_from(grid)?)?;
            let table = found.table()?;
            if !zones_out.is_null() {
                for (i, zone) in found.zones.iter().enumerate() {
                    zones_out.add(i).write(zone.letter().as_bytes()[0]);
                }
            }
            Ok(table)
        })
    }
}

/// Relative difference, bias and shares within 15, 20, 30 and 40 (mg/dL below 100, else percent)
/// for all pairs and by consensus bands of the reference.
///
/// The arguments: as for `glyc_agreement_summary`.
/// `table_out` (out): a row for each band, all pairs first; free it with `glyc_table_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_agreement_accuracy(
    reference: *const f64,
    measured: *const f64,
    cluster: *const i64,
    len: usize,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let c = columns(reference, measured, cluster, len)?;
            let bands = Band::CONSENSUS;
            let options = accuracy::Options {
                bands: &bands,
                cluster: c.cluster,
                level,
                ..Default::default()
            };
            let rows = accuracy::accuracy_table(c.reference, c.measured, &options)?;
            Ok(accuracy::to_table(&rows, options.rules)?)
        })
    }
}

/// The numerical limits of a published standard, a row for each criterion.
///
/// One person's sensor against a home meter can't pass a device standard: a verdict speaks of the
/// numbers only ("numerical_limits_met", "numerical_limits_not_met", "too_few"). Limits known from
/// memory have the `status` "unconfirmed".
///
/// `standard` (in): one of `GLYC_STANDARD_*`.
/// The rest: as for `glyc_agreement_summary`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_agreement_standard(
    reference: *const f64,
    measured: *const f64,
    cluster: *const i64,
    len: usize,
    standard: u32,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let Columns { reference: r, measured: m, cluster: c } =
                columns(reference, measured, cluster, len)?;
            let rows = match standard {
                GLYC_STANDARD_ISO15197_2013 => iso15197_2013(r, m, c, level),
                GLYC_STANDARD_ISO15197_2003 => iso15197_2003(r, m, c, level),
                GLYC_STANDARD_FDA_SELF_MONITORING => fda_self_monitoring(r, m, c, level),
                GLYC_STANDARD_FDA_POINT_OF_CARE => fda_point_of_care(r, m, c, level),
                GLYC_STANDARD_ICGM => icgm(r, m, None, c, level),
                _ => {
                    let choices = "1 to 5 (GLYC_STANDARD_*)";
                    return Err(unknown_choice("standard", standard, choices));
                }
            };
            Ok(standards_table::to_table(&rows?)?)
        })
    }
}
