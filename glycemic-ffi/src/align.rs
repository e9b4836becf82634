//! Pairs of meter and sensor, lag and clocks. Method and sources: `glycemic_core::align`.

use glycemic_core::align::{How, Unpaired, clock_offset, lag, pair};
use glycemic_core::series::Meter;
use glycemic_core::{Error, Estimate, Reason, Table};

use crate::agreement_tables::give_made;
use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::estimate::GlycEstimate;
use crate::pointers::{give, handle, place, slice, take};
use crate::table::{GlycTable, give_more};
use crate::trace::{GlycTrace, unit_from};

/// The sensor is read at the nearest reading.
pub const GLYC_HOW_NEAREST: u32 = 1;
/// The sensor is read on the straight line between the readings around the meter's time.
pub const GLYC_HOW_INTERPOLATE: u32 = 2;

/// Finger-stick readings, sorted by time; several may share one instant.
pub struct GlycMeter {
    pub(crate) meter: Meter,
}

/// Makes a meter's readings from two arrays.
///
/// `times_ms` (in): `len` instants, UTC milliseconds since 1970, in any order; copied.
/// `glucose` (in): `len` values in `unit`, none missing; copied.
/// `unit` (in): one of `GLYC_UNIT_*`.
/// `meter_out` (out): the readings; free them with `glyc_meter_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `IMPLAUSIBLE_TIME`, `IMPLAUSIBLE_UNIT`,
/// `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid for the items named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_meter_new(
    times_ms: *const i64,
    glucose: *const f64,
    len: usize,
    unit: u32,
    meter_out: *mut *mut GlycMeter,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (times, glucose) =
            unsafe { (slice("times_ms", times_ms, len)?, slice("glucose", glucose, len)?) };
        let out = place("meter_out", meter_out)?;
        let context = vec![String::new(); len];
        let meter = Meter::new(times, glucose, &context, unit_from(unit)?)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycMeter { meter })) };
        Ok(())
    })
}

/// Number of readings; 0 for NULL. Since 0.1.
///
/// # Safety
/// `meter` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_meter_len(meter: *const GlycMeter) -> usize {
    // SAFETY: NULL or valid by the contract.
    unsafe { meter.as_ref() }.map_or(0, |m| m.meter.len())
}

/// Frees a meter's readings; nothing for NULL. Since 0.1.
///
/// # Safety
/// `meter` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_meter_free(meter: *mut GlycMeter) {
    // SAFETY: by the contract.
    unsafe { take(meter) };
}

pub(crate) fn how_from(how: u32) -> Result<How, Failure> {
    match how {
        GLYC_HOW_NEAREST => Ok(How::Nearest),
        GLYC_HOW_INTERPOLATE => Ok(How::Interpolate),
        _ => Err(unknown_choice("how", how, "1 (nearest), 2 (interpolate)")),
    }
}

/// Meter readings without a pair: `time_ms`, `glucose_mg_dl`, `why`.
pub(crate) fn left_over(unpaired: &[Unpaired]) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_i64("time_ms", unpaired.iter().map(|p| Some(p.time_ms)).collect())?;
    t.push_f64("glucose_mg_dl", unpaired.iter().map(|p| Some(p.glucose_mg_dl)).collect())?;
    t.push_text("why", unpaired.iter().map(|p| Some(p.why.to_string())).collect())?;
    Ok(t)
}

/// Pairs the meter's readings with the sensor's; bursts are averaged, nothing is lost silently.
///
/// `meter`, `sensor` (in): borrowed for the call.
/// `window_min` (in): how far a reading may lie from the meter's time, 0.1 to 60 minutes.
/// `how` (in): one of `GLYC_HOW_*`.
/// `lag_min` (in): the sensor is read so much later, -1440 to 1440; 0 for none.
/// `pairs_out` (out): a row for each pair: `time_ms`, `reference_mg_dl`, `measured_mg_dl`,
/// `rate_mg_dl_min` (where it can be told), `readings` (in a burst); free it with `glyc_table_free`.
/// `unpaired_out` (out): NULL, or where to put the others: `time_ms`, `glucose_mg_dl`, `why`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter` and `sensor` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_pairs_new(
    meter: *const GlycMeter,
    sensor: *const GlycTrace,
    window_min: f64,
    how: u32,
    lag_min: f64,
    pairs_out: *mut *mut GlycTable,
    unpaired_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let paired = || {
        let how = how_from(how)?;
        // SAFETY: NULL or valid by the contract above.
        let (meter, sensor) = unsafe { (handle("meter", meter)?, handle("sensor", sensor)?) };
        let pairs = pair(&meter.meter, &sensor.trace, window_min, how, lag_min)?;
        let mut t = Table::new();
        t.push_i64("time_ms", pairs.times_ms.iter().map(|v| Some(*v)).collect())?;
        t.push_f64("reference_mg_dl", pairs.reference_mg_dl.iter().map(|v| Some(*v)).collect())?;
        t.push_f64("measured_mg_dl", pairs.measured_mg_dl.iter().map(|v| Some(*v)).collect())?;
        t.push_f64("rate_mg_dl_min", pairs.rate_mg_dl_min.clone())?;
        t.push_i64("readings", pairs.readings.iter().map(|n| Some(*n as i64)).collect())?;
        let left = left_over(&pairs.unpaired)?;
        // SAFETY: by the contract above; nothing after this line fails.
        unsafe { give_more(unpaired_out, left) };
        Ok(t)
    };
    // SAFETY: by the contract above.
    unsafe { give_made(pairs_out, error, paired) }
}

/// Writes a shift that was told; else its reason is the error.
///
/// # Safety
/// `out` is NULL or valid to write.
unsafe fn shift(out: *mut GlycEstimate, found: &Estimate) -> Result<(), Failure> {
    let out = place("estimate_out", out)?;
    if found.value.is_none() {
        let plain = || Reason::plain("not_estimable", "there is no value");
        return Err((&found.reason.clone().unwrap_or_else(plain)).into());
    }
    // SAFETY: not NULL, so valid by the contract.
    unsafe { out.write(GlycEstimate::from(found)) };
    Ok(())
}

/// How much later the sensor shows what the meter showed, by the meter's stamps, minutes: the lag
/// less what the meter's clock is ahead; the two are one sum. Never applied silently.
///
/// `meter`, `sensor` (in): borrowed for the call.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `estimate_out` (out): minutes with their interval; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (too few pairs while glucose moved), `OUT_OF_RANGE`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter` and `sensor` are NULL or were not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_lag(
    meter: *const GlycMeter,
    sensor: *const GlycTrace,
    level: f64,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (meter, sensor) = unsafe { (handle("meter", meter)?, handle("sensor", sensor)?) };
        let found = lag(&meter.meter, &sensor.trace, level)?;
        // SAFETY: as above.
        unsafe { shift(estimate_out, &found) }
    })
}

/// How much the meter's clock is ahead of the sensor's, minutes, given a lag known from elsewhere.
///
/// `lag_min`, `lag_se_min` (in): the lag and its standard error, 0 to 60 minutes each.
/// The rest: as for `glyc_lag`.
///
/// Statuses: `NOT_ESTIMABLE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_lag`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_clock_offset(
    meter: *const GlycMeter,
    sensor: *const GlycTrace,
    lag_min: f64,
    lag_se_min: f64,
    level: f64,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (meter, sensor) = unsafe { (handle("meter", meter)?, handle("sensor", sensor)?) };
        let prior = Some((lag_min, lag_se_min));
        let found = clock_offset(&meter.meter, &sensor.trace, prior, level)?;
        // SAFETY: as above.
        unsafe { shift(estimate_out, &found) }
    })
}
