//! The sensor's trace. Method: `glycemic_core::series`.

use glycemic_core::series::{Builder, Censor, Coverage};
use glycemic_core::{Error, Trace, Unit};

use crate::clock::GlycClock;
use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::estimate::GlycReading;
use crate::pointers::{give, handle, place, slice, take};

/// Unit: milligrams per decilitre.
pub const GLYC_UNIT_MG_DL: u32 = 1;
/// Unit: millimoles per litre.
pub const GLYC_UNIT_MMOL_L: u32 = 2;

/// A reading that is a value.
pub const GLYC_CENSOR_NONE: u32 = 0;
/// A reading at or below the lower limit of the sensor; its glucose is that limit.
pub const GLYC_CENSOR_LOW: u32 = 1;
/// A reading at or above the upper limit of the sensor; its glucose is that limit.
pub const GLYC_CENSOR_HIGH: u32 = 2;

/// Count of `glyc_trace_cleaning`: readings given.
pub const GLYC_CLEANING_GIVEN: u32 = 1;
/// Count of `glyc_trace_cleaning`: readings kept.
pub const GLYC_CLEANING_KEPT: u32 = 2;
/// Count of `glyc_trace_cleaning`: readings that were sorted into place.
pub const GLYC_CLEANING_SORTED: u32 = 3;
/// Count of `glyc_trace_cleaning`: repeats, same instant and same value.
pub const GLYC_CLEANING_DUPLICATES: u32 = 4;
/// Count of `glyc_trace_cleaning`: readings at an instant that already had another value.
pub const GLYC_CLEANING_CONFLICTS: u32 = 5;
/// Count of `glyc_trace_cleaning`: readings without a value.
pub const GLYC_CLEANING_MISSING: u32 = 6;
/// Count of `glyc_trace_cleaning`: readings at the lower limit of the sensor.
pub const GLYC_CLEANING_CENSORED_LOW: u32 = 7;
/// Count of `glyc_trace_cleaning`: readings at the upper limit of the sensor.
pub const GLYC_CLEANING_CENSORED_HIGH: u32 = 8;

/// Kind of a reading that was set aside: it had no value.
pub const GLYC_REJECTED_MISSING: u32 = 1;
/// Kind of a reading that was set aside: its instant already had another value.
pub const GLYC_REJECTED_CONFLICT: u32 = 2;
/// Kind of a reading that was set aside: for a reason this header has no number for.
pub const GLYC_REJECTED_OTHER: u32 = 3;

/// Figure of `glyc_trace_coverage`: readings.
pub const GLYC_COVERAGE_N: u32 = 1;
/// Figure of `glyc_trace_coverage`: readings that the span could hold.
pub const GLYC_COVERAGE_POSSIBLE: u32 = 2;
/// Figure of `glyc_trace_coverage`: share of the possible readings, percent, at most 100.
pub const GLYC_COVERAGE_ACTIVE_PCT: u32 = 3;
/// Figure of `glyc_trace_coverage`: span from first to last reading, days of 24 h.
pub const GLYC_COVERAGE_DAYS: u32 = 4;
/// Figure of `glyc_trace_coverage`: median step, minutes.
pub const GLYC_COVERAGE_NOMINAL_INTERVAL_MIN: u32 = 5;
/// Figure of `glyc_trace_coverage`: number of gaps, each longer than three nominal intervals.
pub const GLYC_COVERAGE_GAPS: u32 = 6;
/// Figure of `glyc_trace_coverage`: the longest gap, minutes; 0 if there is none.
pub const GLYC_COVERAGE_LONGEST_GAP_MIN: u32 = 7;

/// A sensor's readings over time, cleaned: times rise strictly, glucose is mg/dL.
pub struct GlycTrace {
    pub(crate) trace: Trace,
    coverage: Coverage,
}

impl From<Trace> for GlycTrace {
    fn from(trace: Trace) -> GlycTrace {
        GlycTrace { coverage: trace.coverage(), trace }
    }
}

pub(crate) fn unit_from(unit: u32) -> Result<Unit, Failure> {
    match unit {
        GLYC_UNIT_MG_DL => Ok(Unit::MgDl),
        GLYC_UNIT_MMOL_L => Ok(Unit::MmolL),
        _ => Err(unknown_choice("unit", unit, "1 (mg/dL), 2 (mmol/L)")),
    }
}

/// A unit by its number in the header; 0 for one that it has no number for.
pub(crate) fn unit_number(unit: Unit) -> u32 {
    match unit {
        Unit::MgDl => GLYC_UNIT_MG_DL,
        Unit::MmolL => GLYC_UNIT_MMOL_L,
        _ => 0,
    }
}

/// A reading in mg/dL, put on the step of its unit as a trace does.
pub(crate) fn to_mg_dl(unit: Unit, glucose: f64) -> f64 {
    unit.to_mg_dl(unit.snap(glucose))
}

pub(crate) fn censor_from(index: Option<usize>, censor: u32) -> Result<Censor, Failure> {
    match censor {
        GLYC_CENSOR_NONE => Ok(Censor::None),
        GLYC_CENSOR_LOW => Ok(Censor::Low),
        GLYC_CENSOR_HIGH => Ok(Censor::High),
        _ => {
            let (name, value) = ("censor", f64::from(censor));
            Err(Error::OutOfRange { name, index, value, low: 0.0, high: 2.0 }.into())
        }
    }
}

/// Makes a trace from two arrays: sorts, drops repeats, sets aside what has no value, and reports
/// all of it (`glyc_trace_cleaning`, `glyc_trace_rejected`).
///
/// `times_ms` (in): `len` instants, UTC milliseconds since 1970, in any order; copied.
/// `glucose` (in): `len` values in `unit`; NaN stands for a missing value; copied.
/// `unit` (in): one of `GLYC_UNIT_*`, the unit that the sensor showed.
/// `clock` (in): local time, copied; NULL if unknown (fasting and overnight are then missing).
/// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE` (infinite), `OUT_OF_RANGE` (not positive, or over
/// 2000 mg/dL), `IMPLAUSIBLE_TIME`, `IMPLAUSIBLE_UNIT`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_new(
    times_ms: *const i64,
    glucose: *const f64,
    len: usize,
    unit: u32,
    clock: *const GlycClock,
    trace_out: *mut *mut GlycTrace,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let (times, glucose) =
            unsafe { (slice("times_ms", times_ms, len)?, slice("glucose", glucose, len)?) };
        // SAFETY: as above; NULL becomes `None`.
        let clock = unsafe { clock.as_ref() }.map(|c| c.clock.clone());
        let out = place("trace_out", trace_out)?;
        let trace = Builder::new(unit_from(unit)?).clock(clock).build(times, glucose)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycTrace::from(trace))) };
        Ok(())
    })
}

/// Makes a trace from readings, some of which may stand at a limit of the sensor.
///
/// `readings` (in): `len` readings in any order, glucose in `unit`, NaN for a missing value; copied.
/// `unit`, `clock`, `trace_out`, `error`: as for `glyc_trace_new`.
///
/// Statuses: as for `glyc_trace_new`; `OUT_OF_RANGE` also for an unknown `censor`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_from_readings(
    readings: *const GlycReading,
    len: usize,
    unit: u32,
    clock: *const GlycClock,
    trace_out: *mut *mut GlycTrace,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let readings = unsafe { slice("readings", readings, len)? };
        // SAFETY: as above; NULL becomes `None`.
        let clock = unsafe { clock.as_ref() }.map(|c| c.clock.clone());
        let out = place("trace_out", trace_out)?;
        let times: Vec<i64> = readings.iter().map(|r| r.time_ms).collect();
        let glucose: Vec<f64> = readings.iter().map(|r| r.glucose).collect();
        let censor = readings
            .iter()
            .enumerate()
            .map(|(i, r)| censor_from(Some(i), r.censor))
            .collect::<Result<Vec<Censor>, Failure>>()?;
        let builder = Builder::new(unit_from(unit)?).clock(clock);
        let trace = builder.build_censored(&times, &glucose, &censor)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycTrace::from(trace))) };
        Ok(())
    })
}

/// Number of readings kept; 0 for NULL. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_len(trace: *const GlycTrace) -> usize {
    // SAFETY: NULL or valid by the contract above.
    unsafe { trace.as_ref() }.map_or(0, |t| t.trace.len())
}

/// Times of the readings, UTC milliseconds, `glyc_trace_len` of them, rising strictly; borrowed
/// from `trace`. NULL for NULL. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_times_ms(trace: *const GlycTrace) -> *const i64 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { trace.as_ref() }.map_or(std::ptr::null(), |t| t.trace.times_ms().as_ptr())
}

/// Glucose of the readings in mg/dL, `glyc_trace_len` of them; borrowed from `trace`. NULL for
/// NULL. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_glucose_mg_dl(trace: *const GlycTrace) -> *const f64 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { trace.as_ref() }.map_or(std::ptr::null(), |t| t.trace.glucose_mg_dl().as_ptr())
}

/// One reading of a trace, glucose in mg/dL.
///
/// `position` (in): counted from 0, less than `glyc_trace_len`.
/// `reading_out` (out): the reading; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_reading(
    trace: *const GlycTrace,
    position: usize,
    reading_out: *mut GlycReading,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let trace = &unsafe { handle("trace", trace)? }.trace;
        let out = place("reading_out", reading_out)?;
        let censor = trace.view().censor().get(position).ok_or(beyond(position, trace.len()))?;
        let reading = GlycReading {
            time_ms: trace.times_ms()[position],
            glucose: trace.glucose_mg_dl()[position],
            censor: match censor {
                Censor::Low => GLYC_CENSOR_LOW,
                Censor::High => GLYC_CENSOR_HIGH,
                _ => GLYC_CENSOR_NONE,
            },
            reserved: 0,
        };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(reading) };
        Ok(())
    })
}

fn beyond(position: usize, len: usize) -> Failure {
    let (value, high) = (position as f64, len as f64 - 1.0);
    Error::OutOfRange { name: "position", index: None, value, low: 0.0, high }.into()
}

/// A count of what making the trace found and did.
///
/// `which` (in): one of `GLYC_CLEANING_*`.
/// `count_out` (out): the count; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_cleaning(
    trace: *const GlycTrace,
    which: u32,
    count_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let c = unsafe { handle("trace", trace)? }.trace.cleaning();
        let out = place("count_out", count_out)?;
        let count = match which {
            GLYC_CLEANING_GIVEN => c.given,
            GLYC_CLEANING_KEPT => c.kept,
            GLYC_CLEANING_SORTED => c.sorted,
            GLYC_CLEANING_DUPLICATES => c.duplicates,
            GLYC_CLEANING_CONFLICTS => c.conflicts,
            GLYC_CLEANING_MISSING => c.missing,
            GLYC_CLEANING_CENSORED_LOW => c.censored_low,
            GLYC_CLEANING_CENSORED_HIGH => c.censored_high,
            _ => return Err(unknown_choice("which", which, "1 to 8 (GLYC_CLEANING_*)")),
        };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(count) };
        Ok(())
    })
}

/// Number of readings set aside (without a value, or in conflict); 0 for NULL. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_rejected_len(trace: *const GlycTrace) -> usize {
    // SAFETY: NULL or valid by the contract above.
    unsafe { trace.as_ref() }.map_or(0, |t| t.trace.cleaning().rejected.len())
}

/// One reading that was set aside.
///
/// `position` (in): counted from 0, less than `glyc_trace_rejected_len`.
/// `index_out` (out): its place in the arrays the trace was made from, counted from 0.
/// `kind_out` (out): one of `GLYC_REJECTED_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_rejected(
    trace: *const GlycTrace,
    position: usize,
    index_out: *mut usize,
    kind_out: *mut u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let rejected = &unsafe { handle("trace", trace)? }.trace.cleaning().rejected;
        let (index, kind) = (place("index_out", index_out)?, place("kind_out", kind_out)?);
        let one = rejected.get(position).ok_or(beyond(position, rejected.len()))?;
        let number = match one.why.as_str() {
            "missing" => GLYC_REJECTED_MISSING,
            "conflict" => GLYC_REJECTED_CONFLICT,
            _ => GLYC_REJECTED_OTHER,
        };
        // SAFETY: neither is NULL, so both are valid to write.
        unsafe {
            index.write(one.index);
            kind.write(number);
        }
        Ok(())
    })
}

/// A figure of how complete a trace is.
///
/// `which` (in): one of `GLYC_COVERAGE_*`, which says the unit.
/// `figure_out` (out): the figure; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_coverage(
    trace: *const GlycTrace,
    which: u32,
    figure_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let c = &unsafe { handle("trace", trace)? }.coverage;
        let out = place("figure_out", figure_out)?;
        let figure = match which {
            GLYC_COVERAGE_N => c.n as f64,
            GLYC_COVERAGE_POSSIBLE => c.possible as f64,
            GLYC_COVERAGE_ACTIVE_PCT => c.active_pct,
            GLYC_COVERAGE_DAYS => c.days,
            GLYC_COVERAGE_NOMINAL_INTERVAL_MIN => c.nominal_interval_min,
            GLYC_COVERAGE_GAPS => c.gaps as f64,
            GLYC_COVERAGE_LONGEST_GAP_MIN => c.longest_gap_min,
            _ => return Err(unknown_choice("which", which, "1 to 7 (GLYC_COVERAGE_*)")),
        };
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(figure) };
        Ok(())
    })
}

/// Frees a trace; nothing for NULL. What was borrowed from it is gone too. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_trace_free(trace: *mut GlycTrace) {
    // SAFETY: by the contract above.
    unsafe { take(trace) };
}
