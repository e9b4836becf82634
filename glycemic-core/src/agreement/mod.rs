//! Agreement of paired numbers: a device's values against a reference's. Knows no traces.

pub mod bland_altman;
pub mod criteria;
pub mod summary;
pub mod within;

pub use bland_altman::{BlandAltman, bland_altman};
pub use criteria::{Criterion, Verdict, iso15197};
pub use summary::{Summary, summary};
pub use within::{Share, within};

use crate::error::{self, Error};

/// Checks two columns of pairs: same length, finite, positive reference.
pub(crate) fn check_pairs(reference: &[f64], measured: &[f64]) -> Result<(), Error> {
    error::require_same_len("measured", reference.len(), measured.len())?;
    error::require_all_finite("reference", reference)?;
    error::require_all_finite("measured", measured)?;
    match reference.iter().position(|&r| r <= 0.0) {
        Some(index) => Err(Error::OutOfRange {
            name: "reference",
            index: Some(index),
            value: reference[index],
            low: f64::MIN_POSITIVE,
            high: f64::MAX,
        }),
        None => Ok(()),
    }
}
