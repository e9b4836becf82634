//! The public structs, frozen for ever, and what a handle keeps of a missing value.

use std::ffi::CString;

use glycemic_core::{Estimate, Reason};

use crate::error::Failure;
use crate::pointers::{c_text, put};

/// Bit of `glyc_estimate.present`: there is a value.
pub const GLYC_PRESENT_VALUE: u32 = 1;
/// Bit of `glyc_estimate.present`: the interval has a lower end.
pub const GLYC_PRESENT_LOW: u32 = 2;
/// Bit of `glyc_estimate.present`: the interval has an upper end.
pub const GLYC_PRESENT_HIGH: u32 = 4;

/// A number with its interval. Frozen: 56 bytes, the same in every version.
#[repr(C)]
#[derive(Clone, Copy, Debug)]
pub struct GlycEstimate {
    /// The best single number; NaN unless `present` has `GLYC_PRESENT_VALUE`.
    pub value: f64,
    /// Lower end of the interval; NaN unless `present` has `GLYC_PRESENT_LOW`.
    pub low: f64,
    /// Upper end of the interval; NaN unless `present` has `GLYC_PRESENT_HIGH`.
    pub high: f64,
    /// Confidence level of the interval, such as 0.95.
    pub level: f64,
    /// How many independent pieces it rests on (days, meals, pairs).
    pub n: u64,
    /// How many such pieces it takes at the least; 0 if no number is set.
    pub needed: u64,
    /// Which of value, low and high are there: `GLYC_PRESENT_*` added up. Look before reading.
    pub present: u32,
    /// Always 0.
    pub reserved: u32,
}

/// One reading. Frozen: 24 bytes, the same in every version.
#[repr(C)]
#[derive(Clone, Copy, Debug)]
pub struct GlycReading {
    /// When, UTC milliseconds since 1970.
    pub time_ms: i64,
    /// Glucose, in the unit that the function names.
    pub glucose: f64,
    /// One of `GLYC_CENSOR_*`.
    pub censor: u32,
    /// Set it to 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<GlycEstimate>() == 56 && size_of::<GlycReading>() == 24);

impl From<&Estimate> for GlycEstimate {
    fn from(e: &Estimate) -> GlycEstimate {
        let bit = |there: Option<f64>, bit: u32| if there.is_some() { bit } else { 0 };
        GlycEstimate {
            value: e.value.unwrap_or(f64::NAN),
            low: e.low.unwrap_or(f64::NAN),
            high: e.high.unwrap_or(f64::NAN),
            level: e.level,
            n: e.n as u64,
            needed: e.needed as u64,
            present: bit(e.value, GLYC_PRESENT_VALUE)
                + bit(e.low, GLYC_PRESENT_LOW)
                + bit(e.high, GLYC_PRESENT_HIGH),
            reserved: 0,
        }
    }
}

/// Why something is missing, ready for C.
pub(crate) struct Missing {
    pub(crate) code: CString,
    pub(crate) text: CString,
    pub(crate) counts: Option<(f64, f64)>,
}

impl From<&Reason> for Missing {
    fn from(reason: &Reason) -> Missing {
        Missing {
            code: c_text(&reason.code),
            text: c_text(&reason.text),
            counts: reason.had.zip(reason.needed),
        }
    }
}

/// Writes the counts of a reason, if it has some, and says whether it has.
///
/// # Safety
/// `had_out` and `needed_out` are each NULL or valid to write.
pub(crate) unsafe fn write_counts(
    missing: Option<&Missing>,
    had_out: *mut f64,
    needed_out: *mut f64,
) -> bool {
    let Some((had, needed)) = missing.and_then(|m| m.counts) else { return false };
    // SAFETY: by the contract.
    unsafe {
        put(had_out, had);
        put(needed_out, needed);
    }
    true
}

impl From<&Missing> for Failure {
    fn from(missing: &Missing) -> Failure {
        Failure::NotEstimable { code: missing.code.clone(), text: missing.text.clone() }
    }
}
