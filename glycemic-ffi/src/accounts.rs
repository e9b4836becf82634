//! The accounts of a study of sensors. Method and sources: `glycemic_core::sensor::accounts`.
//!
//! One person's sensor against a home meter can't pass a device standard.

use std::ffi::c_char;

use glycemic_core::agreement::Band;
use glycemic_core::agreement::accountability::{RequiredShare, flow_table, level_rate_table};
use glycemic_core::error::require_within;
use glycemic_core::sensor::accounts::{
    AccountOptions, Accounts, End, SensorRecord, Worn, accounts,
};
use glycemic_core::sensor::accounts_tables::accuracy_by_group;
use glycemic_core::{Error, Meter, Table, Trace};

use crate::agreement_tables::give_made;
use crate::align::GlycMeter;
use crate::diary::{instant, some_text};
use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pairs::{GlycPairOptions, options_or_default};
use crate::pointers::{give, handle, handle_mut, place, slice, take, text};
use crate::table::GlycTable;
use crate::trace::GlycTrace;

/// From sensors inserted to pairs analysed: `unit`, `step` ("had", "left_out", "left"), `reason`,
/// `n`.
pub const GLYC_ACCOUNTS_FLOW: u32 = 1;
/// A row for each sensor: `sensor`, `person`, `lot`, `site`, `days`, `end`, `cause`, `readings`,
/// `expected`, `capture_pct`, `pairs`, `outside`, `mard_pct`, `bias_mg_dl`.
pub const GLYC_ACCOUNTS_SENSORS: u32 = 2;
/// One row: `capture_pct`, `median_mard_pct`, `best`, `best_mard_pct`, `worst`, `worst_mard_pct`,
/// `reason` (why sensors can't be ranked).
pub const GLYC_ACCOUNTS_SUMMARY: u32 = 3;
/// Estimates `lasts` (share that lasts the stated length), `repeat_sd_mg_dl`, `repeat_cv_pct` (the
/// meter's readings within bursts).
pub const GLYC_ACCOUNTS_ESTIMATES: u32 = 4;
/// How long sensors last, in days; columns as for `glyc_survival`.
pub const GLYC_ACCOUNTS_SURVIVAL: u32 = 5;
/// Incidence of each cause of failure: `cause`, `time` (days), `incidence`, `se`, `low`, `high`.
pub const GLYC_ACCOUNTS_INCIDENCE: u32 = 6;
/// Accuracy of all pairs, then by third of the wear; columns as for `glyc_agreement_accuracy`.
pub const GLYC_ACCOUNTS_BY_PART: u32 = 7;
/// The same by lot.
pub const GLYC_ACCOUNTS_BY_LOT: u32 = 8;
/// The same by site.
pub const GLYC_ACCOUNTS_BY_SITE: u32 = 9;
/// Pairs by level and rate, then what is asked: `level_mg_dl`, `rate_mg_dl_min`, `n`, `pct`,
/// `required_pct`, `met`.
pub const GLYC_ACCOUNTS_LEVEL_RATE: u32 = 10;
/// A row for each pair analysed: `person`, `sensor`, `wear_day`, `part`, `reference_mg_dl`,
/// `measured_mg_dl`, `rate_mg_dl_min`, `cluster`.
pub const GLYC_ACCOUNTS_PAIRS: u32 = 11;

/// Persons with their meters, and the sensors they wore.
pub struct GlycStudy {
    persons: Vec<(String, Meter)>,
    sensors: Vec<Kept>,
    required: Vec<RequiredShare>,
}

impl GlycStudy {
    fn worn<'a>(&'a self, kept: &'a Kept) -> Worn<'a> {
        Worn {
            record: &kept.record,
            trace: kept.trace.as_ref(),
            // A sensor is only added for a person that is there, and none is taken away.
            meter: &self.persons[kept.person].1,
            calibrated_ms: &kept.calibrated_ms,
        }
    }
}

struct Kept {
    record: SensorRecord,
    /// Place among the persons.
    person: usize,
    trace: Option<Trace>,
    calibrated_ms: Vec<i64>,
}

/// What became of a study.
pub struct GlycAccounts {
    found: Accounts,
}

/// A study without persons.
///
/// `study_out` (out): the new study; free it with `glyc_study_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_study_new(
    study_out: *mut *mut GlycStudy,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("study_out", study_out)?;
        let study = GlycStudy { persons: Vec::new(), sensors: Vec::new(), required: Vec::new() };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(study)) };
        Ok(())
    })
}

/// Adds a person and their meter, which is what sensors are set beside.
///
/// `study` (in, out): changed; nothing is added when the call fails.
/// `person` (in): a name, none twice; copied.
/// `meter` (in): all of this person's readings; copied. Those outside a wear don't count for it.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE` (a name that came twice), `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `study` is NULL or was not freed and is used by nobody else meanwhile; `meter` is NULL or was
/// not freed; `person` is NULL or ends with a zero.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_study_add_person(
    study: *mut GlycStudy,
    person: *const c_char,
    meter: *const GlycMeter,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (study, person, meter) = unsafe {
            (handle_mut("study", study)?, text("person", person)?, handle("meter", meter)?)
        };
        if study.persons.iter().any(|p| p.0 == person) {
            return Err(not_among("person", person, "names that differ"));
        }
        study.persons.push((person.to_string(), meter.meter.clone()));
        Ok(())
    })
}

fn not_among(name: &'static str, got: &str, choices: &'static str) -> Failure {
    Error::UnknownChoice { name, got: got.to_string(), choices }.into()
}

fn end_from(word: &str, cause: Option<&str>) -> Result<End, Failure> {
    let why = cause.unwrap_or("unknown").to_string();
    match word {
        "completed" => Ok(End::Completed),
        "stopped" => Ok(End::Stopped(why)),
        "failed" => Ok(End::Failed(why)),
        "worn" => Ok(End::Worn),
        _ => Err(not_among("end", word, "completed, stopped, failed, worn")),
    }
}

/// Adds a sensor that a person wore.
///
/// `study` (in, out): changed; nothing is added when the call fails.
/// `person` (in): who wore it, added before; `sensor` (in): its name; copied.
/// `lot`, `site` (in): NULL where not known; copied.
/// `inserted_ms`, `ended_ms` (in): UTC milliseconds since 1970, in the years 1990 to 2099; the end
/// after the insertion.
/// `end` (in): "completed" (as long as it was meant to last), "stopped" (for a reason that is none
/// of the sensor's), "failed", or "worn" (still is).
/// `cause` (in): why it stopped or failed; NULL where not known; copied.
/// `length_days` (in): how long it is meant to last, 0.01 to 400; NaN where not stated.
/// `trace` (in): its readings; copied; NULL where there is none.
/// `calibrated_ms` (in): `n_calibrated` instants of calibrations by the user; copied.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE` (also a person that was not added), `NOT_UTF8`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `study` is NULL or was not freed and is used by nobody else meanwhile; `trace` is NULL or was
/// not freed; each text is NULL or ends with a zero; `calibrated_ms` is NULL or valid to read
/// `n_calibrated` items.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "a row of the study")]
pub unsafe extern "C" fn glyc_study_add_sensor(
    study: *mut GlycStudy,
    person: *const c_char,
    sensor: *const c_char,
    lot: *const c_char,
    site: *const c_char,
    inserted_ms: i64,
    ended_ms: i64,
    end: *const c_char,
    cause: *const c_char,
    length_days: f64,
    trace: *const GlycTrace,
    calibrated_ms: *const i64,
    n_calibrated: usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let study = unsafe { handle_mut("study", study)? };
        // SAFETY: as above.
        let (name, sensor, end, cause) = unsafe {
            let (name, sensor) = (text("person", person)?, text("sensor", sensor)?);
            (name, sensor, text("end", end)?, some_text("cause", cause)?)
        };
        // SAFETY: as above.
        let (lot, site, calibrated) = unsafe {
            let (lot, site) = (some_text("lot", lot)?, some_text("site", site)?);
            (lot, site, slice("calibrated_ms", calibrated_ms, n_calibrated)?)
        };
        let unknown = || not_among("person", name, "persons that were added");
        let person = study.persons.iter().position(|p| p.0 == name).ok_or_else(unknown)?;
        let length_days = Some(length_days).filter(|d| !d.is_nan());
        require_within("length_days", length_days.unwrap_or(1.0), 0.01, 400.0)?;
        let inserted_ms = instant("inserted_ms", inserted_ms)?;
        let ended_ms = instant("ended_ms", ended_ms)?;
        require_within("ended_ms", ended_ms as f64, inserted_ms as f64 + 1.0, f64::MAX)?;
        let record = SensorRecord {
            sensor: sensor.to_string(),
            person: name.to_string(),
            lot: lot.map(str::to_string),
            site: site.map(str::to_string),
            inserted_ms,
            ended_ms,
            end: end_from(end, cause)?,
            length_days,
        };
        // SAFETY: as above.
        let trace = unsafe { trace.as_ref() }.map(|t| t.trace.clone());
        study.sensors.push(Kept { record, person, trace, calibrated_ms: calibrated.to_vec() });
        Ok(())
    })
}

/// Adds a share of pairs that a protocol asks for.
///
/// `study` (in, out): changed; nothing is added when the call fails.
/// `level_from`, `level_below` (in): mg/dL; NaN for an open end.
/// `rate_from`, `rate_below` (in): mg/dL per minute; NaN for an open end. Two open ends also hold
/// pairs whose rate is not known.
/// `pct` (in): at least so many percent of all pairs, 0 to 100.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `study` is NULL or was not freed and is used by nobody else meanwhile; `error` is NULL or valid
/// to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_study_require(
    study: *mut GlycStudy,
    level_from: f64,
    level_below: f64,
    rate_from: f64,
    rate_below: f64,
    pct: f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let study = unsafe { handle_mut("study", study)? };
        require_within("pct", pct, 0.0, 100.0)?;
        let some = |v: f64| Some(v).filter(|v| !v.is_nan());
        let band = |low: f64, high: f64| Band {
            low: some(low),
            low_inside: !low.is_nan(),
            high: some(high),
            high_inside: false,
        };
        let (level, rate) = (band(level_from, level_below), band(rate_from, rate_below));
        study.required.push(RequiredShare { level, rate, pct });
        Ok(())
    })
}

/// From sensors inserted to pairs analysed, how long sensors lasted, how accurate each was, and
/// where the pairs lie. No sensor and no pair are answers with a reason.
///
/// `study` (in): borrowed for the call.
/// `options` (in): rules of pairing; NULL for the defaults.
/// `warm_up_min` (in): time from insertion in which no reading is expected, 0 to 2880 minutes.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `accounts_out` (out): the accounts; free them with `glyc_accounts_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1. May take more than 100 ms for many
/// sensors.
///
/// # Safety
/// `study` and `options` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_study_accounts(
    study: *const GlycStudy,
    options: *const GlycPairOptions,
    warm_up_min: f64,
    level: f64,
    accounts_out: *mut *mut GlycAccounts,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (study, pairing) = unsafe { (handle("study", study)?, options_or_default(options)) };
        let out = place("accounts_out", accounts_out)?;
        let worn: Vec<Worn<'_>> = study.sensors.iter().map(|kept| study.worn(kept)).collect();
        let required = study.required.clone();
        let found = accounts(&worn, &AccountOptions { pairing, warm_up_min, required, level })?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycAccounts { found })) };
        Ok(())
    })
}

/// One of the tables of the accounts.
///
/// `accounts` (in): borrowed for the call.
/// `which` (in): one of `GLYC_ACCOUNTS_*`, which say the columns.
/// `table_out` (out): the table; free it with `glyc_table_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `accounts` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_accounts_table(
    accounts: *const GlycAccounts,
    which: u32,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe { give_made(table_out, error, || one(&handle("accounts", accounts)?.found, which)) }
}

fn one(found: &Accounts, which: u32) -> Result<Table, Failure> {
    Ok(match which {
        GLYC_ACCOUNTS_FLOW => flow_table(&found.flows)?,
        GLYC_ACCOUNTS_SENSORS => found.sensor_table()?,
        GLYC_ACCOUNTS_SUMMARY => found.summary_table()?,
        GLYC_ACCOUNTS_ESTIMATES => Table::of_estimates(&[
            ("lasts", "1", &found.lasts),
            ("repeat_sd_mg_dl", "mg/dL", &found.repeatability.sd_mg_dl),
            ("repeat_cv_pct", "%", &found.repeatability.cv_pct),
        ])?,
        GLYC_ACCOUNTS_SURVIVAL => found.survival_table()?,
        GLYC_ACCOUNTS_INCIDENCE => found.incidence_table()?,
        GLYC_ACCOUNTS_BY_PART => accuracy_by_group(&found.by_part)?,
        GLYC_ACCOUNTS_BY_LOT => accuracy_by_group(&found.by_lot)?,
        GLYC_ACCOUNTS_BY_SITE => accuracy_by_group(&found.by_site)?,
        GLYC_ACCOUNTS_LEVEL_RATE => level_rate_table(&found.level_rate)?,
        GLYC_ACCOUNTS_PAIRS => found.pairs_table()?,
        _ => return Err(unknown_choice("which", which, "1 to 11 (GLYC_ACCOUNTS_*)")),
    })
}

/// Frees accounts; nothing for NULL. Since 0.1.
///
/// # Safety
/// `accounts` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_accounts_free(accounts: *mut GlycAccounts) {
    // SAFETY: by the contract.
    unsafe { take(accounts) };
}

/// Frees a study; nothing for NULL. Since 0.1.
///
/// # Safety
/// `study` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_study_free(study: *mut GlycStudy) {
    // SAFETY: by the contract.
    unsafe { take(study) };
}
