//! The panel of one trace, its intervals, and the registry of measures. Method and sources:
//! `glycemic_core::panel`.

use std::ffi::c_char;
use std::ptr;

use glycemic_core::error::require_within;
use glycemic_core::panel::{self, Id, MEASURES};
use glycemic_core::{Estimate, Panel};

use crate::error::{Failure, GlycError, GlycStatus, guard, unknown_choice};
use crate::estimate::{GlycEstimate, Missing, write_counts};
use crate::options::{GlycPanelOptions, options_or_default};
use crate::pointers::{c_text, give, handle, place, slice, take, text};
use crate::trace::GlycTrace;

/// Values of all measures of one trace; a missing one has a reason.
pub struct GlycPanel {
    pub(crate) panel: Panel,
    /// In the order of the registry.
    missing: Vec<Option<Missing>>,
}

/// Intervals of all measures of one trace, as this sensor reads.
pub struct GlycIntervals {
    /// In the order of the registry.
    rows: Vec<Interval>,
}

struct Interval {
    id: Id,
    estimate: GlycEstimate,
    missing: Option<Missing>,
    method: std::ffi::CString,
}

pub(crate) fn measure_from(measure_id: u32) -> Result<Id, Failure> {
    Id::from_number(measure_id).ok_or_else(|| {
        unknown_choice("measure_id", measure_id, "the ids in the header (GLYC_MEASURE_*)")
    })
}

pub(crate) fn position(measure_id: u32) -> Option<usize> {
    MEASURES.iter().position(|m| m.id as u32 == measure_id)
}

/// Computes every measure of a trace.
///
/// `trace` (in): borrowed for the call.
/// `meals_ms` (in): `n_meals` instants of logged meals, UTC ms, to find each day's first; NULL and
/// 0 without a diary (fasting is then 06:00-07:00 local). Borrowed for the call.
/// `panel_out` (out): the new panel; free it with `glyc_panel_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_new(
    trace: *const GlycTrace,
    meals_ms: *const i64,
    n_meals: usize,
    panel_out: *mut *mut GlycPanel,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; both turn NULL away.
        let (trace, meals) =
            unsafe { (handle("trace", trace)?, slice("meals_ms", meals_ms, n_meals)?) };
        let out = place("panel_out", panel_out)?;
        let panel = panel::panel(trace.trace.view(), meals);
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycPanel::from(panel))) };
        Ok(())
    })
}

/// Computes every measure of a trace with choices of the caller's own.
///
/// `trace`, `meals_ms`, `n_meals` (in): as for `glyc_panel_new`.
/// `options` (in): borrowed for the call; NULL for the defaults.
/// `panel_out` (out): the new panel; free it with `glyc_panel_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` and `options` are NULL or were not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_new_with(
    trace: *const GlycTrace,
    meals_ms: *const i64,
    n_meals: usize,
    options: *const GlycPanelOptions,
    panel_out: *mut *mut GlycPanel,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; both turn NULL away.
        let (trace, meals) =
            unsafe { (handle("trace", trace)?, slice("meals_ms", meals_ms, n_meals)?) };
        // SAFETY: NULL or valid by the contract above.
        let options = unsafe { options_or_default(options) };
        let out = place("panel_out", panel_out)?;
        let panel = panel::panel_with(trace.trace.view(), meals, &options)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycPanel::from(panel))) };
        Ok(())
    })
}

/// The value of a measure.
///
/// `measure_id` (in): one of `GLYC_MEASURE_*`.
/// `value_out` (out): the value, in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE` (the error holds the reason, and so does `glyc_panel_reason`),
/// `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `panel` is NULL or a panel that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_value(
    panel: *const GlycPanel,
    measure_id: u32,
    value_out: *mut f64,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let panel = unsafe { handle("panel", panel)? };
        let out = place("value_out", value_out)?;
        let id = measure_from(measure_id)?;
        let value = panel.panel.get(id).ok_or_else(|| not_estimable(panel.missing(measure_id)))?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(value) };
        Ok(())
    })
}

impl From<Panel> for GlycPanel {
    fn from(panel: Panel) -> GlycPanel {
        let missing = MEASURES.iter().map(|m| panel.reason(m.id).map(Missing::from)).collect();
        GlycPanel { panel, missing }
    }
}

impl GlycPanel {
    fn missing(&self, measure_id: u32) -> Option<&Missing> {
        self.missing.get(position(measure_id)?)?.as_ref()
    }
}

impl GlycIntervals {
    fn row(&self, measure_id: u32) -> Option<&Interval> {
        self.rows.iter().find(|r| r.id as u32 == measure_id)
    }
}

pub(crate) fn not_estimable(missing: Option<&Missing>) -> Failure {
    match missing {
        Some(missing) => missing.into(),
        None => Failure::NotEstimable {
            code: c_text("not_computed"),
            text: c_text("there was nothing to compute it from"),
        },
    }
}

/// Why a measure is missing, one sentence for people (UTF-8); NULL if it is not, and for NULL or
/// an unknown id. Borrowed from `panel`. Since 0.1.
///
/// # Safety
/// `panel` is NULL or a panel that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_reason(
    panel: *const GlycPanel,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    let missing = unsafe { panel.as_ref() }.and_then(|p| p.missing(measure_id));
    missing.map_or(ptr::null(), |m| m.text.as_ptr())
}

/// Why a measure is missing, a stable word for programs such as "no_zone"; NULL as for
/// `glyc_panel_reason`. Borrowed from `panel`. Since 0.1.
///
/// # Safety
/// `panel` is NULL or a panel that was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_reason_code(
    panel: *const GlycPanel,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    let missing = unsafe { panel.as_ref() }.and_then(|p| p.missing(measure_id));
    missing.map_or(ptr::null(), |m| m.code.as_ptr())
}

/// Whether the reason counts something; if so, how many there were and how many it takes is
/// written to `had_out` and `needed_out` (each NULL if not wanted). Since 0.1.
///
/// # Safety
/// `panel` is NULL or a panel that was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_reason_counts(
    panel: *const GlycPanel,
    measure_id: u32,
    had_out: *mut f64,
    needed_out: *mut f64,
) -> bool {
    // SAFETY: NULL or valid by the contract above.
    let missing = unsafe { panel.as_ref() }.and_then(|p| p.missing(measure_id));
    // SAFETY: each NULL or valid by the contract above.
    unsafe { write_counts(missing, had_out, needed_out) }
}

/// Frees a panel; nothing for NULL. Since 0.1.
///
/// # Safety
/// `panel` is NULL or a panel that was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panel_free(panel: *mut GlycPanel) {
    // SAFETY: by the contract above.
    unsafe { take(panel) };
}

/// Computes the interval of every measure of a trace, as this sensor reads: day-to-day variation
/// only, not the sensor's own error.
///
/// `trace`, `meals_ms`, `n_meals` (in): as for `glyc_panel_new`.
/// `level` (in): confidence level, from 0.5 to 0.999.
/// `intervals_out` (out): the new intervals; free them with `glyc_intervals_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_intervals_new(
    trace: *const GlycTrace,
    meals_ms: *const i64,
    n_meals: usize,
    level: f64,
    intervals_out: *mut *mut GlycIntervals,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above; both turn NULL away.
        let (trace, meals) =
            unsafe { (handle("trace", trace)?, slice("meals_ms", meals_ms, n_meals)?) };
        let out = place("intervals_out", intervals_out)?;
        require_within("level", level, 0.5, 0.999)?;
        let row = |(id, e): &(Id, Estimate)| Interval {
            id: *id,
            estimate: e.into(),
            missing: e.reason.as_ref().map(Missing::from),
            method: c_text(&e.method),
        };
        let rows = panel::intervals(trace.trace.view(), meals, level).iter().map(row).collect();
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycIntervals { rows })) };
        Ok(())
    })
}

/// The interval of a measure. It may lack an end, or both, while the value is there:
/// `glyc_estimate.present` says so and `glyc_intervals_reason` says why.
///
/// `measure_id` (in): one of `GLYC_MEASURE_*`.
/// `estimate_out` (out): in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NOT_ESTIMABLE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `intervals` is NULL or was not freed; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_intervals_estimate(
    intervals: *const GlycIntervals,
    measure_id: u32,
    estimate_out: *mut GlycEstimate,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let intervals = unsafe { handle("intervals", intervals)? };
        let out = place("estimate_out", estimate_out)?;
        measure_from(measure_id)?;
        let row = intervals.row(measure_id).ok_or_else(|| not_estimable(None))?;
        if row.estimate.present == 0 {
            return Err(not_estimable(row.missing.as_ref()));
        }
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(row.estimate) };
        Ok(())
    })
}

/// Why the value or an end of the interval is missing, one sentence for people (UTF-8); NULL if
/// nothing is, and for NULL or an unknown id. Borrowed from `intervals`. Since 0.1.
///
/// # Safety
/// `intervals` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_intervals_reason(
    intervals: *const GlycIntervals,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    let row = unsafe { intervals.as_ref() }.and_then(|i| i.row(measure_id));
    row.and_then(|r| r.missing.as_ref()).map_or(ptr::null(), |m| m.text.as_ptr())
}

/// How the value and its interval were made, in a few words (UTF-8); NULL for NULL or an unknown
/// id. Borrowed from `intervals`. Since 0.1.
///
/// # Safety
/// `intervals` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_intervals_method(
    intervals: *const GlycIntervals,
    measure_id: u32,
) -> *const c_char {
    // SAFETY: NULL or valid by the contract above.
    let row = unsafe { intervals.as_ref() }.and_then(|i| i.row(measure_id));
    row.map_or(ptr::null(), |r| r.method.as_ptr())
}

/// Frees intervals; nothing for NULL. Since 0.1.
///
/// # Safety
/// `intervals` is NULL or was not freed, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_intervals_free(intervals: *mut GlycIntervals) {
    // SAFETY: by the contract above.
    unsafe { take(intervals) };
}

const NAME: u8 = 0;
const UNIT: u8 = 1;
const WHAT: u8 = 2;
const SOURCE: u8 = 3;

const fn field(position: usize, which: u8) -> &'static [u8] {
    let m = &MEASURES[position];
    match which {
        NAME => m.name.as_bytes(),
        UNIT => m.unit.as_bytes(),
        WHAT => m.what.as_bytes(),
        _ => m.source.as_bytes(),
    }
}

/// Where the text of a measure starts in its table: each earlier one and its zero.
const fn start(position: usize, which: u8) -> usize {
    let (mut at, mut i) = (0, 0);
    while i < position {
        at += field(i, which).len() + 1;
        i += 1;
    }
    at
}

/// The texts of all measures, each ended by a zero, laid end to end when this is compiled.
const fn table<const N: usize>(which: u8) -> [u8; N] {
    let (mut out, mut at, mut i) = ([0_u8; N], 0, 0);
    while i < MEASURES.len() {
        let text = field(i, which);
        let mut j = 0;
        while j < text.len() {
            assert!(text[j] != 0);
            out[at + j] = text[j];
            j += 1;
        }
        at += text.len() + 1;
        i += 1;
    }
    out
}

static NAMES: [u8; start(MEASURES.len(), NAME)] = table(NAME);
static UNITS: [u8; start(MEASURES.len(), UNIT)] = table(UNIT);
static WHATS: [u8; start(MEASURES.len(), WHAT)] = table(WHAT);
static SOURCES: [u8; start(MEASURES.len(), SOURCE)] = table(SOURCE);

fn measure_text(measure_id: u32, table: &'static [u8], which: u8) -> *const c_char {
    let found = position(measure_id).map(|p| &table[start(p, which)..]);
    found.map_or(ptr::null(), |text| text.as_ptr().cast())
}

/// Number of measures in this version of the library. Since 0.1.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_measure_count() -> usize {
    MEASURES.len()
}

/// The id of a measure by its place, counted from 0 and less than `glyc_measure_count`; 0, which
/// is no measure, beyond. Since 0.1.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_measure_id_at(position: usize) -> u32 {
    MEASURES.get(position).map_or(0, |m| m.id as u32)
}

/// The id of a measure by its name.
///
/// `name` (in): such as "mean_mg_dl", ended by a zero.
/// `measure_id_out` (out): one of `GLYC_MEASURE_*`; written only on `GLYC_STATUS_OK`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `UNKNOWN_CHOICE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `name` is NULL or ends with a zero; the others are NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_measure_id_from_name(
    name: *const c_char,
    measure_id_out: *mut u32,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or ended by a zero by the contract above.
        let name = unsafe { text("name", name)? };
        let out = place("measure_id_out", measure_id_out)?;
        let id = Id::from_name(name).ok_or_else(|| glycemic_core::Error::UnknownChoice {
            name: "name",
            got: name.to_string(),
            choices: "the names that glyc_measure_name gives",
        })?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(id as u32) };
        Ok(())
    })
}

/// Name of a measure, such as "mean_mg_dl"; NULL for an unknown id. Valid for ever. Since 0.1.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_measure_name(measure_id: u32) -> *const c_char {
    measure_text(measure_id, &NAMES, NAME)
}

/// Unit of a measure, a UCUM code ("1" for a count); NULL for an unknown id. Valid for ever.
/// Since 0.1.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_measure_unit(measure_id: u32) -> *const c_char {
    measure_text(measure_id, &UNITS, UNIT)
}

/// What a measure is, in a few words (UTF-8); NULL for an unknown id. Valid for ever. Since 0.1.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_measure_what(measure_id: u32) -> *const c_char {
    measure_text(measure_id, &WHATS, WHAT)
}

/// Where a measure is published (UTF-8); NULL for an unknown id. Valid for ever. Since 0.1.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_measure_source(measure_id: u32) -> *const c_char {
    measure_text(measure_id, &SOURCES, SOURCE)
}
