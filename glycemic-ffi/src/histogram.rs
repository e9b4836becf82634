//! Counts of readings by level: any order, constant memory, exact merge. Method:
//! `glycemic_core::panel::histogram`.

use std::ffi::c_char;
use std::ptr;
use std::sync::OnceLock;

use glycemic_core::Error;
use glycemic_core::error::{require_all_finite, require_finite};
use glycemic_core::panel::grid::max_code;
use glycemic_core::panel::{Histogram, Options};
use glycemic_core::series::Censor;

use crate::bytes::{Kind, hand_out, pack, unpack};
use crate::error::{Failure, GlycError, GlycStatus, calm, guard};
use crate::estimate::{Missing, write_counts};
use crate::measured::Measured;
use crate::options::{GlycPanelOptions, options_or_default};
use crate::pointers::{give, handle, handle_mut, place, slice, take};
use crate::trace::{GlycTrace, censor_from, to_mg_dl, unit_from, unit_number};

const BEYOND: &str = "needs the readings in time, which a histogram does not keep";

/// Counts of readings by level, which change as readings are pushed.
pub struct GlycHistogram {
    histogram: Histogram,
    options: Options,
    /// Made at the first question after a change.
    measured: OnceLock<Measured>,
}

impl GlycHistogram {
    fn new(histogram: Histogram, options: Options) -> GlycHistogram {
        GlycHistogram { histogram, options, measured: OnceLock::new() }
    }

    /// The counts, to change them: what was measured no longer holds.
    fn change(&mut self) -> &mut Histogram {
        self.measured.take();
        &mut self.histogram
    }

    fn measured(&self) -> &Measured {
        self.measured.get_or_init(|| {
            // The options were checked when they were set.
            let found = self.histogram.measures(&self.options).unwrap_or_default();
            Measured::new(found, BEYOND)
        })
    }

    fn push(&mut self, glucose: f64, censor: Censor) -> Result<(), Failure> {
        require_finite("glucose", glucose)?;
        let mg_dl = to_mg_dl(self.histogram.unit(), glucose);
        Ok(self.change().push_censored(mg_dl, censor)?)
    }
}

/// Why a measure is missing.
///
/// # Safety
/// `histogram` is NULL or was not freed.
unsafe fn missing<'a>(histogram: *const GlycHistogram, measure_id: u32) -> Option<&'a Missing> {
    // SAFETY: NULL or valid by the contract.
    let histogram = unsafe { histogram.as_ref() }?;
    calm(|| histogram.measured().missing(measure_id))?
}

/// An empty histogram.
///
/// `unit` (in): one of `GLYC_UNIT_*`, the unit that the sensor showed.
/// `options` (in): copied; NULL for the defaults. A histogram heeds the M reference, GRADE and the
/// constants of the risk function.
/// `histogram_out` (out): the new histogram; free it with `glyc_histogram_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_new(
    unit: u32,
    options: *const GlycPanelOptions,
    histogram_out: *mut *mut GlycHistogram,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let options = unsafe { options_or_default(options) };
        let out = place("histogram_out", histogram_out)?;
        let histogram = GlycHistogram::new(Histogram::new(unit_from(unit)?), options);
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(histogram)) };
        Ok(())
    })
}

/// A copy of a histogram.
///
/// `histogram_out` (out): the copy; free it with `glyc_histogram_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_clone(
    histogram: *const GlycHistogram,
    histogram_out: *mut *mut GlycHistogram,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let from = unsafe { handle("histogram", histogram)? };
        let out = place("histogram_out", histogram_out)?;
        let copy = GlycHistogram::new(from.histogram.clone(), from.options.clone());
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(copy)) };
        Ok(())
    })
}

/// The unit of a histogram, one of `GLYC_UNIT_*`; 0 for NULL. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_unit(histogram: *const GlycHistogram) -> u32 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { histogram.as_ref() }.map_or(0, |h| unit_number(h.histogram.unit()))
}

/// Number of readings; 0 for NULL. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_n(histogram: *const GlycHistogram) -> u64 {
    // SAFETY: NULL or valid by the contract above.
    unsafe { histogram.as_ref() }.map_or(0, |h| h.histogram.n())
}

/// Counts a reading.
///
/// `glucose` (in): in the histogram's unit, as `glyc_trace_new` takes it.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OFF_GRID` (not whole mg/dL or tenths of mmol/L, not positive, or over 2000 mg/dL),
/// `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_push(
    histogram: *mut GlycHistogram,
    glucose: f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        unsafe { handle_mut("histogram", histogram)? }.push(glucose, Censor::None)
    })
}

/// Counts a reading that may stand at a limit of the sensor.
///
/// `glucose` (in): as for `glyc_histogram_push`; that limit, if it stands at one.
/// `censor` (in): one of `GLYC_CENSOR_*`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: as for `glyc_histogram_push`; `OUT_OF_RANGE` for an unknown `censor`. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_push_censored(
    histogram: *mut GlycHistogram,
    glucose: f64,
    censor: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let histogram = unsafe { handle_mut("histogram", histogram)? };
        histogram.push(glucose, censor_from(None, censor)?)
    })
}

/// Counts a reading as the device shows it, as a whole number.
///
/// `code` (in): whole mg/dL, or tenths of mmol/L (78 is 7.8); from 1 to 2000 or 1110.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_push_code(
    histogram: *mut GlycHistogram,
    code: u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let histogram = unsafe { handle_mut("histogram", histogram)? };
        let (value, high) = (f64::from(code), f64::from(max_code(histogram.histogram.unit())));
        let beyond = |_| Error::OutOfRange { name: "code", index: None, value, low: 1.0, high };
        let code = u16::try_from(code).map_err(beyond)?;
        Ok(histogram.change().push_code(code)?)
    })
}

/// Counts readings; all of them, or none if one can't be counted.
///
/// `glucose` (in): `len` values as for `glyc_histogram_push`; borrowed for the call.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: as for `glyc_histogram_push`; the error has the index of the first bad one. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_extend(
    histogram: *mut GlycHistogram,
    glucose: *const f64,
    len: usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; both turn NULL away.
        let (histogram, glucose) =
            unsafe { (handle_mut("histogram", histogram)?, slice("glucose", glucose, len)?) };
        require_all_finite("glucose", glucose)?;
        let unit = histogram.histogram.unit();
        let mg_dl: Vec<f64> = glucose.iter().map(|&g| to_mg_dl(unit, g)).collect();
        Ok(histogram.change().extend(&mg_dl)?)
    })
}

/// Counts the readings of a trace, with those at the sensor's limits; all or none.
///
/// `trace` (in): borrowed for the call.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OFF_GRID` (with the index), `UNKNOWN_CHOICE` (a trace measured in the other unit),
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` and `trace` are NULL or were not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_extend_trace(
    histogram: *mut GlycHistogram,
    trace: *const GlycTrace,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (histogram, trace) =
            unsafe { (handle_mut("histogram", histogram)?, handle("trace", trace)?) };
        Ok(histogram.change().extend_trace(trace.trace.view())?)
    })
}

/// Adds the counts of another histogram.
///
/// `histogram` (in, out): the one that grows; its options stay.
/// `other` (in): borrowed for the call; may be the same one.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE` (the other unit: its counts can't be carried over),
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` and `other` are NULL or were not freed; `error` is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_merge(
    histogram: *mut GlycHistogram,
    other: *const GlycHistogram,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // Copied, since both may be the same one. SAFETY: NULL or valid by the contract above.
        let other = unsafe { handle("other", other)? }.histogram.clone();
        // SAFETY: as above; nothing else is borrowed by now.
        let histogram = unsafe { handle_mut("histogram", histogram)? };
        Ok(histogram.change().merge(&other)?)
    })
}

/// The value of a measure that needs no more than the readings in any order.
///
/// `measure_id` (in): one of `GLYC_MEASURE_*`.
/// `value_out` (out): the value, in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (the error holds the reason, and so does `glyc_histogram_reason`; its
/// code is "not_computed" for a measure that needs the times), `UNKNOWN_CHOICE`,
/// `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_value(
    histogram: *const GlycHistogram,
    measure_id: u32,
    value_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let histogram = unsafe { handle("histogram", histogram)? };
        let out = place("value_out", value_out)?;
        let value = histogram.measured().value(measure_id)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(value) };
        Ok(())
    })
}

/// Why a measure is missing, one sentence for people (UTF-8); NULL if it is not, and for NULL or
/// an unknown id. Borrowed from `histogram` until it changes. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_reason(
    histogram: *const GlycHistogram,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: by the contract above.
    unsafe { missing(histogram, measure_id) }.map_or(ptr::null(), |m| m.text.as_ptr())
}

/// Why a measure is missing, a stable word for programs; NULL as for `glyc_histogram_reason`.
/// Borrowed from `histogram` until it changes. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_reason_code(
    histogram: *const GlycHistogram,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: by the contract above.
    unsafe { missing(histogram, measure_id) }.map_or(ptr::null(), |m| m.code.as_ptr())
}

/// Whether the reason counts something; if so, how many there were and how many it takes is
/// written to `had_out` and `needed_out` (each NULL if not wanted). Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_reason_counts(
    histogram: *const GlycHistogram,
    measure_id: u32,
    had_out: *mut f64,
    needed_out: *mut f64,
) -> bool {
    // SAFETY: by the contract above.
    unsafe { write_counts(missing(histogram, measure_id), had_out, needed_out) }
}

/// Writes a histogram as bytes, to be kept and read by `glyc_histogram_load`; its options are not
/// among them.
///
/// `buffer` (out): room for `size` bytes; NULL and 0 to learn how many are needed.
/// `needed_out` (out): number of bytes; may be NULL if `buffer` is not.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE` (`size` is too small; nothing is written), `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_save(
    histogram: *const GlycHistogram,
    buffer: *mut u8,
    size: usize,
    needed_out: *mut usize,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let histogram = unsafe { handle("histogram", histogram)? };
        let bytes = to_bytes(&histogram.histogram)?;
        // SAFETY: by the contract above.
        unsafe { hand_out(&bytes, buffer, size, needed_out) }
    })
}

/// Reads a histogram that `glyc_histogram_save` wrote.
///
/// `bytes` (in): `len` bytes; borrowed for the call.
/// `options`, `histogram_out`: as for `glyc_histogram_new`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `BAD_BYTES`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `options` is NULL or was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_load(
    bytes: *const u8,
    len: usize,
    options: *const GlycPanelOptions,
    histogram_out: *mut *mut GlycHistogram,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; `slice` turns NULL away.
        let bytes = unsafe { slice("bytes", bytes, len)? };
        // SAFETY: NULL or valid by the contract above.
        let options = unsafe { options_or_default(options) };
        let out = place("histogram_out", histogram_out)?;
        let histogram = GlycHistogram::new(from_bytes(bytes)?, options);
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(histogram)) };
        Ok(())
    })
}

pub(crate) fn to_bytes(histogram: &Histogram) -> Result<Vec<u8>, Failure> {
    let body = serde_json::to_vec(histogram).map_err(|e| Failure::Bytes(e.to_string()))?;
    Ok(pack(Kind::Histogram, &body))
}

pub(crate) fn from_bytes(bytes: &[u8]) -> Result<Histogram, Failure> {
    let body = unpack(Kind::Histogram, bytes)?;
    serde_json::from_slice(body).map_err(|e| Failure::Bytes(e.to_string()))
}

/// Frees a histogram; nothing for NULL. Since 0.1.
///
/// # Safety
/// `histogram` is NULL or was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_histogram_free(histogram: *mut GlycHistogram) {
    // SAFETY: by the contract above.
    unsafe { take(histogram) };
}
