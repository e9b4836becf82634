//! A panel beside published targets. Method and sources: `glycemic_core::panel::population`.

use glycemic_core::panel::{Population, assess};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::panel::GlycPanel;
use crate::pointers::{handle, place};
use crate::table::{GlycTable, give_table};
use crate::trace::GlycTrace;

/// Population: adults without diabetes.
pub const GLYC_POPULATION_WITHOUT_DIABETES: u32 = 1;
/// Population: adults with type 1 diabetes.
pub const GLYC_POPULATION_TYPE1: u32 = 2;
/// Population: adults with type 2 diabetes.
pub const GLYC_POPULATION_TYPE2: u32 = 3;
/// Population: pregnancy with type 1 diabetes.
pub const GLYC_POPULATION_PREGNANCY: u32 = 4;
/// Population: older people, or people at high risk, with type 1 or type 2 diabetes.
pub const GLYC_POPULATION_OLDER: u32 = 5;

fn population_from(population: u32) -> Result<Population, Failure> {
    match population {
        GLYC_POPULATION_WITHOUT_DIABETES => Ok(Population::WithoutDiabetes),
        GLYC_POPULATION_TYPE1 => Ok(Population::Type1),
        GLYC_POPULATION_TYPE2 => Ok(Population::Type2),
        GLYC_POPULATION_PREGNANCY => Ok(Population::Pregnancy),
        GLYC_POPULATION_OLDER => Ok(Population::Older),
        _ => Err(unknown_choice("population", population, "1 to 5 (GLYC_POPULATION_*)")),
    }
}

/// A panel beside the published targets of a population, a row for each target.
///
/// `panel` (in): borrowed for the call.
/// `trace` (in): the readings of the panel, for the ranges that only pregnancy has; NULL without
/// them (those rows then have no value). Borrowed for the call.
/// `population` (in): one of `GLYC_POPULATION_*`.
/// `table_out` (out): `measure` (text), `value`, `target` (f64), `bound` (text: `above`, `below`,
/// `at_most`, `none_set`), `met` (bool, missing without a value or a target), `source`, `status`
/// (text); free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `panel` and `trace` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_assess(
    panel: *const GlycPanel,
    trace: *const GlycTrace,
    population: u32,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let panel = unsafe { handle("panel", panel)? };
        // SAFETY: as above; NULL becomes `None`.
        let view = unsafe { trace.as_ref() }.map(|t| t.trace.view());
        let out = place("table_out", table_out)?;
        let table = assess(&panel.panel, view, population_from(population)?)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give_table(table)) };
        Ok(())
    })
}
