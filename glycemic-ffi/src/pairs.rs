//! Pairs of meter and sensor by stated rules, and how much hangs on the rules. Method and sources:
//! `glycemic_core::align`.

use glycemic_core::align::{Bursts, Outside, PairOptions, Pairs, pair_with, pairing_sensitivity};
use glycemic_core::{Error, Table};

use crate::agreement_tables::give_made;
use crate::align::{GlycMeter, how_from, left_over};
use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::pointers::{give, handle, handle_mut, place, put, take};
use crate::table::{GlycTable, give_more};
use crate::trace::GlycTrace;
use crate::wear::{GlycWear, events_or_none};

/// Meter readings in quick succession: their mean is one value (default).
pub const GLYC_BURSTS_AVERAGED: u32 = 1;
/// Meter readings in quick succession: the first counts, the rest are left out.
pub const GLYC_BURSTS_FIRST: u32 = 2;
/// Meter readings in quick succession: each stands for itself.
pub const GLYC_BURSTS_EACH: u32 = 3;

/// Rules of pairing; the defaults until a setter is called: the nearest reading within 5 minutes,
/// no lag, each sensor reading used once, bursts of 2 minutes averaged, readings from 15 minutes
/// before a calibration left out, no limits of range.
pub struct GlycPairOptions {
    options: PairOptions,
}

/// The rules behind a handle; the defaults for NULL.
///
/// # Safety
/// `options` is NULL or valid to read.
pub(crate) unsafe fn options_or_default(options: *const GlycPairOptions) -> PairOptions {
    // SAFETY: NULL or valid by the contract.
    unsafe { options.as_ref() }.map(|o| o.options.clone()).unwrap_or_default()
}

/// Changes rules by `set` if what comes of it can be meant.
///
/// # Safety
/// `options` is NULL or was not freed; `error` is NULL or valid to write.
unsafe fn change(
    options: *mut GlycPairOptions,
    error: *mut *mut GlycError,
    set: impl FnOnce(&mut PairOptions) -> Result<(), Failure>,
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

/// New rules, all at their defaults.
///
/// `options_out` (out): the new rules; free them with `glyc_pair_options_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_pair_options_new(
    options_out: *mut *mut GlycPairOptions,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("options_out", options_out)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycPairOptions { options: PairOptions::default() })) };
        Ok(())
    })
}

/// Sets how the sensor is read.
///
/// `options` (in, out): changed; left as it was when the call fails.
/// `window_min` (in): how far a sensor reading may be, 0.1 to 60 minutes.
/// `how` (in): one of `GLYC_HOW_*`.
/// `lag_min` (in): the sensor is read so much later, -1440 to 1440 minutes.
/// `once` (in): whether a sensor reading is used for one meter reading only.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed and is used by nobody else meanwhile; `error` is NULL or valid to
/// write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_pair_options_set_reading(
    options: *mut GlycPairOptions,
    window_min: f64,
    how: u32,
    lag_min: f64,
    once: bool,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        change(options, error, |o| {
            (o.window_min, o.how, o.lag_min, o.once) = (window_min, how_from(how)?, lag_min, once);
            Ok(())
        })
    }
}

/// Sets what becomes of meter readings in quick succession.
///
/// `options`, `error`: as for `glyc_pair_options_set_reading`.
/// `bursts` (in): one of `GLYC_BURSTS_*`.
/// `burst_min` (in): readings no further apart are one burst, 0 to 15 minutes.
///
/// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_pair_options_set_reading`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_pair_options_set_bursts(
    options: *mut GlycPairOptions,
    bursts: u32,
    burst_min: f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        change(options, error, |o| {
            o.bursts = match bursts {
                GLYC_BURSTS_AVERAGED => Bursts::Averaged,
                GLYC_BURSTS_FIRST => Bursts::First,
                GLYC_BURSTS_EACH => Bursts::Each,
                _ => {
                    let choices = "1 (averaged), 2 (first), 3 (each)";
                    return Err(unknown_choice("bursts", bursts, choices));
                }
            };
            o.burst_min = burst_min;
            Ok(())
        })
    }
}

/// Sets what becomes of readings about a calibration by the wearer.
///
/// `options`, `error`: as for `glyc_pair_options_set_reading`.
/// `in_pairs` (in): whether they count.
/// `before_min` (in): else a meter reading so long before one is left out, 0 to 240 minutes.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_pair_options_set_reading`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_pair_options_set_calibrations(
    options: *mut GlycPairOptions,
    in_pairs: bool,
    before_min: f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        change(options, error, |o| {
            (o.calibrations_in, o.calibration_min) = (in_pairs, before_min);
            Ok(())
        })
    }
}

/// Sets the lowest and highest value that the devices report, mg/dL; a pair beyond is kept apart.
///
/// `options`, `error`: as for `glyc_pair_options_set_reading`.
/// `sensor_low`, `sensor_high`, `meter_low`, `meter_high` (in): 0 to 2000, both inside; two NaN for
/// a device whose range isn't known.
///
/// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_pair_options_set_reading`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_pair_options_set_ranges(
    options: *mut GlycPairOptions,
    sensor_low: f64,
    sensor_high: f64,
    meter_low: f64,
    meter_high: f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    let known =
        |low: f64, high: f64| Some((low, high)).filter(|_| !(low.is_nan() && high.is_nan()));
    // SAFETY: by the contract above.
    unsafe {
        change(options, error, |o| {
            o.sensor_range_mg_dl = known(sensor_low, sensor_high);
            o.meter_range_mg_dl = known(meter_low, meter_high);
            Ok(())
        })
    }
}

/// Frees rules; nothing for NULL. Since 0.1.
///
/// # Safety
/// `options` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_pair_options_free(options: *mut GlycPairOptions) {
    // SAFETY: by the contract.
    unsafe { take(options) };
}

fn pair_table(pairs: &Pairs) -> Result<Table, Error> {
    let number = |v: &[f64]| v.iter().map(|x| Some(*x)).collect::<Vec<_>>();
    let whole = |v: &[i64]| v.iter().map(|x| Some(*x)).collect::<Vec<_>>();
    let mut t = Table::new();
    t.push_i64("time_ms", whole(&pairs.times_ms))?;
    t.push_f64("reference_mg_dl", number(&pairs.reference_mg_dl))?;
    t.push_f64("measured_mg_dl", number(&pairs.measured_mg_dl))?;
    t.push_f64("rate_mg_dl_min", pairs.rate_mg_dl_min.clone())?;
    t.push_i64("readings", pairs.readings.iter().map(|n| Some(*n as i64)).collect())?;
    t.push_f64("away_min", number(&pairs.away_min))?;
    t.push_text("sensor", pairs.sensor.clone())?;
    t.push_i64("wear_day", pairs.wear_day.clone())?;
    t.push_f64("local_hour", pairs.local_hour.clone())?;
    t.push_i64("day", whole(&pairs.day))?;
    Ok(t)
}

fn outside_table(outside: &[Outside]) -> Result<Table, Error> {
    let number = |f: fn(&Outside) -> f64| outside.iter().map(|o| Some(f(o))).collect::<Vec<_>>();
    let mut t = Table::new();
    t.push_i64("time_ms", outside.iter().map(|o| Some(o.time_ms)).collect())?;
    t.push_f64("reference_mg_dl", number(|o| o.reference_mg_dl))?;
    t.push_f64("measured_mg_dl", number(|o| o.measured_mg_dl))?;
    t.push_text("why", outside.iter().map(|o| Some(o.why.to_string())).collect())?;
    Ok(t)
}

/// Pairs the meter's readings with the sensor's by stated rules; all that is left out is told.
///
/// `meter`, `sensor` (in): borrowed for the call.
/// `wear` (in): whose events tell sensors, wear days and calibrations; NULL without one.
/// `options` (in): NULL for the defaults.
/// `pairs_out` (out): a row for each pair: `time_ms`, `reference_mg_dl`, `measured_mg_dl`,
/// `rate_mg_dl_min`, `readings`, `away_min`, `sensor`, `wear_day`, `local_hour`, `day` (a cluster
/// for the agreement functions); free it with `glyc_table_free`.
/// `unpaired_out` (out): NULL, or where to put meter readings without a pair: `time_ms`,
/// `glucose_mg_dl`, `why`; free it with `glyc_table_free`.
/// `outside_out` (out): NULL, or where to put pairs outside the range of a device: `time_ms`,
/// `reference_mg_dl`, `measured_mg_dl`, `why`; free it with `glyc_table_free`.
/// `left_in_bursts_out` (out): NULL, or where to put how many readings were left out because only
/// the first of a burst counts.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `meter`, `sensor`, `wear` and `options` are NULL or were not freed; the others are NULL or valid
/// to write.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "what is left out is told apart")]
pub unsafe extern "C" fn glyc_pairs_by_rules(
    meter: *const GlycMeter,
    sensor: *const GlycTrace,
    wear: *const GlycWear,
    options: *const GlycPairOptions,
    pairs_out: *mut *mut GlycTable,
    unpaired_out: *mut *mut GlycTable,
    outside_out: *mut *mut GlycTable,
    left_in_bursts_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (meter, sensor, events, options) = unsafe {
            let (meter, sensor) = (handle("meter", meter)?, handle("sensor", sensor)?);
            (&meter.meter, &sensor.trace, events_or_none(wear), options_or_default(options))
        };
        let out = place("pairs_out", pairs_out)?;
        let pairs = pair_with(meter, sensor, events, &options)?;
        let (table, left) = (pair_table(&pairs)?, left_over(&pairs.unpaired)?);
        let outside = outside_table(&pairs.outside)?;
        // SAFETY: NULL is turned away or passed over, so each is valid to write.
        unsafe {
            give_more(unpaired_out, left);
            give_more(outside_out, outside);
            put(left_in_bursts_out, pairs.left_in_bursts);
            give_more(out.as_ptr(), table);
        }
        Ok(())
    })
}

/// The figures of agreement by each of a set of rules (windows of 2.5 to 15 minutes, nearest or
/// interpolated, with and without the lag, bursts averaged or first, calibrations out or in), to see
/// how much hangs on the choice.
///
/// `meter`, `sensor`, `wear`, `options` (in): as for `glyc_pairs_by_rules`; the options give what the
/// set does not vary.
/// `lag_min` (in): a lag to read the sensor by, such as that of `glyc_lag`; NaN for none.
/// `level` (in): confidence level, 0.5 to 0.999.
/// `table_out` (out): a row for each set of rules; free it with `glyc_table_free`. The rules, `n`,
/// `mard_pct`, `bias_mg_dl`, `within_15_pct` and `within_20_pct` with their ends, `iso_verdict`,
/// `bias_verdict`, `share_95_verdict`, `reason`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (too few pairs by the widest rules), `OUT_OF_RANGE`, `NULL_ARGUMENT`.
/// Since 0.1.
///
/// # Safety
/// As for `glyc_pairs_by_rules`.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "one scalar each, in the order of the core")]
pub unsafe extern "C" fn glyc_pairing_sensitivity(
    meter: *const GlycMeter,
    sensor: *const GlycTrace,
    wear: *const GlycWear,
    options: *const GlycPairOptions,
    lag_min: f64,
    level: f64,
    table_out: *mut *mut GlycTable,
    error: *mut *mut GlycError,
) -> GlycStatus {
    // SAFETY: by the contract above.
    unsafe {
        give_made(table_out, error, || {
            let (meter, sensor) = (handle("meter", meter)?, handle("sensor", sensor)?);
            let (events, base) = (events_or_none(wear), options_or_default(options));
            let lag = Some(lag_min).filter(|l| !l.is_nan());
            let (meter, sensor) = (&meter.meter, &sensor.trace);
            let found = pairing_sensitivity(meter, sensor, events, lag, &base, level)?;
            match &found.reason {
                Some(reason) => Err(reason.into()),
                None => Ok(found.to_table()?),
            }
        })
    }
}
