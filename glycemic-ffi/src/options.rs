//! Choices for a panel where publications disagree. Method and sources:
//! `glycemic_core::panel::options`.

use glycemic_core::panel::{
    EpisodeLength, GradeRule, Lability, MageSd, ModdPairs, Options, RiskConstants,
};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pointers::{give, handle_mut, place, take};

/// GRADE is the mean over readings (default).
pub const GLYC_GRADE_MEAN: u32 = 1;
/// GRADE is the median over readings.
pub const GLYC_GRADE_MEDIAN: u32 = 2;

/// The risk function takes the constants printed for mg/dL (default).
pub const GLYC_RISK_CONSTANTS_MG_DL: u32 = 1;
/// The risk function takes the constants printed for mmol/L.
pub const GLYC_RISK_CONSTANTS_MMOL_L: u32 = 2;

/// An excursion of MAGE exceeds the SD of all readings (default).
pub const GLYC_MAGE_SD_WHOLE_TRACE: u32 = 1;
/// An excursion of MAGE exceeds the mean of the SDs of the local days.
pub const GLYC_MAGE_SD_MEAN_OF_DAYS: u32 = 2;

/// All pairs of readings 24 h apart count in MODD (default).
pub const GLYC_MODD_PAIRS_ALL: u32 = 1;
/// Pairs whose earlier reading lies in the first, partial local day don't count in MODD.
pub const GLYC_MODD_PAIRS_WHOLE_DAYS_ONLY: u32 = 2;

/// Readings in a row last as long as their number times the nominal interval (default).
pub const GLYC_EPISODE_LENGTH_COUNT_TIMES_INTERVAL: u32 = 1;
/// Readings in a row last from the first to the last.
pub const GLYC_EPISODE_LENGTH_SPAN: u32 = 2;

/// The lability index is a sum over a week (default).
pub const GLYC_LABILITY_WEEKLY_SUM: u32 = 1;
/// The lability index is a mean over pairs.
pub const GLYC_LABILITY_MEAN_PER_PAIR: u32 = 2;

/// Choices for a panel; the defaults until a setter is called.
pub struct GlycPanelOptions {
    pub(crate) options: Options,
}

/// The choices behind a handle; the defaults for NULL.
///
/// # Safety
/// `options` is NULL or valid to read.
pub(crate) unsafe fn options_or_default(options: *const GlycPanelOptions) -> Options {
    // SAFETY: NULL or valid by the contract.
    unsafe { options.as_ref() }.map(|o| o.options.clone()).unwrap_or_default()
}

pub(crate) fn episode_length_from(length: u32) -> Result<EpisodeLength, Failure> {
    match length {
        GLYC_EPISODE_LENGTH_COUNT_TIMES_INTERVAL => Ok(EpisodeLength::CountTimesInterval),
        GLYC_EPISODE_LENGTH_SPAN => Ok(EpisodeLength::Span),
        _ => Err(unknown_choice("episode_length", length, "1 (count times interval), 2 (span)")),
    }
}

/// Changes options by `set` if what comes of it can be meant.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
unsafe fn change(
    options: *mut GlycPanelOptions,
    error: *mut *mut GlycError,
    set: impl FnOnce(&mut Options) -> Result<(), Failure>,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract.
        let options = unsafe { handle_mut("options", options)? };
        let mut changed = options.options.clone();
        set(&mut changed)?;
        changed.check()?;
        options.options = changed;
        Ok(())
    })
}

/// New options, all at their defaults.
///
/// `options_out` (out): the new options; free them with `glyc_panel_options_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write one item to.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_new(
    options_out: *mut *mut GlycPanelOptions,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("options_out", options_out)?;
        let options = Options::default();
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycPanelOptions { options })) };
        Ok(())
    })
}

/// Sets the level at which the M-value is 0.
///
/// `m_reference_mg_dl` (in): from 20 to 600 mg/dL; the default is 120.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_m_reference_mg_dl(
    options: *mut GlycPanelOptions,
    m_reference_mg_dl: f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.m_reference_mg_dl = m_reference_mg_dl;
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets how GRADE sums up the readings.
///
/// `grade` (in): one of `GLYC_GRADE_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_grade(
    options: *mut GlycPanelOptions,
    grade: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.grade = match grade {
            GLYC_GRADE_MEAN => GradeRule::Mean,
            GLYC_GRADE_MEDIAN => GradeRule::Median,
            _ => return Err(unknown_choice("grade", grade, "1 (mean), 2 (median)")),
        };
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets which printed constants the risk function takes; results differ by about 0.1 %.
///
/// `risk_constants` (in): one of `GLYC_RISK_CONSTANTS_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_risk_constants(
    options: *mut GlycPanelOptions,
    risk_constants: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.risk_constants = match risk_constants {
            GLYC_RISK_CONSTANTS_MG_DL => RiskConstants::MgDl,
            GLYC_RISK_CONSTANTS_MMOL_L => RiskConstants::MmolL,
            _ => {
                let choices = "1 (mg/dL), 2 (mmol/L)";
                return Err(unknown_choice("risk_constants", risk_constants, choices));
            }
        };
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets the SD that an excursion must exceed to count in MAGE.
///
/// `mage_sd` (in): one of `GLYC_MAGE_SD_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_mage_sd(
    options: *mut GlycPanelOptions,
    mage_sd: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.mage_sd = match mage_sd {
            GLYC_MAGE_SD_WHOLE_TRACE => MageSd::WholeTrace,
            GLYC_MAGE_SD_MEAN_OF_DAYS => MageSd::MeanOfDays,
            _ => {
                let choices = "1 (whole trace), 2 (mean of days)";
                return Err(unknown_choice("mage_sd", mage_sd, choices));
            }
        };
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets which pairs of readings 24 h apart count in MODD.
///
/// `modd_pairs` (in): one of `GLYC_MODD_PAIRS_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_modd_pairs(
    options: *mut GlycPanelOptions,
    modd_pairs: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.modd_pairs = match modd_pairs {
            GLYC_MODD_PAIRS_ALL => ModdPairs::All,
            GLYC_MODD_PAIRS_WHOLE_DAYS_ONLY => ModdPairs::WholeDaysOnly,
            _ => {
                let choices = "1 (all), 2 (whole days only)";
                return Err(unknown_choice("modd_pairs", modd_pairs, choices));
            }
        };
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets how long readings in a row last, for the measures that count episodes.
///
/// `episode_length` (in): one of `GLYC_EPISODE_LENGTH_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_episode_length(
    options: *mut GlycPanelOptions,
    episode_length: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.episode_length = episode_length_from(episode_length)?;
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets what the lability index is.
///
/// `lability` (in): one of `GLYC_LABILITY_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_lability(
    options: *mut GlycPanelOptions,
    lability: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.lability = match lability {
            GLYC_LABILITY_WEEKLY_SUM => Lability::WeeklySum,
            GLYC_LABILITY_MEAN_PER_PAIR => Lability::MeanPerPair,
            _ => {
                let choices = "1 (weekly sum), 2 (mean per pair)";
                return Err(unknown_choice("lability", lability, choices));
            }
        };
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Sets the period that `GLYC_MEASURE_ACTIVE_PCT` is a share of; without it, from the first to
/// the last reading.
///
/// `from_ms`, `to_ms` (in): from this instant on and before that one, UTC milliseconds.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE` (it does not end after its start), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_set_reporting_period(
    options: *mut GlycPanelOptions,
    from_ms: i64,
    to_ms: i64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let set = |o: &mut Options| {
        o.reporting_period_ms = Some((from_ms, to_ms));
        Ok(())
    };
    // SAFETY: by the contract above.
    unsafe { change(options, error, set) }
}

/// Frees options; nothing for NULL. Panels and histograms made with them keep their own copy.
/// Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_options_free(options: *mut GlycPanelOptions) {
    // SAFETY: by the contract above.
    unsafe { take(options) };
}
