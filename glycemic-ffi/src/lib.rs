//! The C ABI. Each file converts, calls the core, and converts back; the header is
//! `include/glycemic.h`, made from these files and compared with them by the tests.

// The header follows this order.
pub mod error;
mod pointers;

pub mod estimate;

pub mod clock;
pub mod trace;

pub mod table;

pub mod gaps;
pub mod shares;
pub mod sufficiency;

pub mod area;

pub mod options;
pub mod panel;

pub mod blocks;
pub mod episodes;
pub mod modal_day;
pub mod population;

mod bytes;
mod measured;

pub mod histogram;
pub mod stream;

pub mod agreement;
pub mod agreement_changes;
pub mod agreement_tables;
pub mod align;

pub mod diary;
pub mod meals;
pub mod tolerance;
pub mod tolerance_beside;
pub mod tolerance_form;

pub mod wear;

pub mod alarms;
pub mod pressure;
pub mod recalibration;
pub mod sensor_meter;
pub mod sensor_trace;
pub mod survival;

pub mod pairs;

pub mod accounts;

pub mod contrast;
pub mod contrast_carried;

use std::ffi::c_char;

/// Version of the ABI that this header describes.
pub const GLYC_ABI_VERSION: u32 = 1;

/// Version of the ABI that the loaded library has; compare it with `GLYC_ABI_VERSION` at start.
///
/// It changes only when a program built against an older header would misbehave.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_abi_version() -> u32 {
    GLYC_ABI_VERSION
}

/// Version of the library, such as "0.1.0"; borrowed, valid for ever.
#[unsafe(no_mangle)]
pub extern "C" fn glyc_version() -> *const c_char {
    concat!(env!("CARGO_PKG_VERSION"), "\0").as_ptr().cast()
}

/// Panics, to test that the caller sees a status.
///
/// # Safety
/// `error` is NULL or valid to write one pointer to.
#[cfg(feature = "panic-check")]
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_panic_check(error: *mut *mut error::GlycError) -> error::GlycStatus {
    error::guard(error, || panic!("a planted panic"))
}

/// What every handle must be: readable from any number of threads.
const fn shared<T: Send + Sync>() {}
const _: () = {
    shared::<error::GlycError>();
    shared::<clock::GlycClock>();
    shared::<trace::GlycTrace>();
    shared::<panel::GlycPanel>();
    shared::<panel::GlycIntervals>();
    shared::<options::GlycPanelOptions>();
    shared::<table::GlycTable>();
    shared::<sufficiency::GlycSufficiency>();
    shared::<histogram::GlycHistogram>();
    shared::<stream::GlycStream>();
    shared::<align::GlycMeter>();
    shared::<diary::GlycDiary>();
    shared::<meals::GlycResponses>();
    shared::<tolerance::GlycFit>();
    shared::<wear::GlycWear>();
    shared::<recalibration::GlycRecalibration>();
    shared::<pairs::GlycPairOptions>();
};
