//! Agreement of paired numbers: a device's values against a reference's. Knows no traces.

pub mod accountability;
pub mod accuracy;
pub mod against_published;
mod as_table;
pub mod band;
pub mod bland_altman;
pub mod changes;
pub mod concordance;
pub mod concurrence;
pub mod design;
pub mod expected_difference;
pub mod grid;
mod grid_lines;
pub mod icc;
mod icgm;
pub mod limits;
pub mod lines;
mod meters;
mod mover;
pub mod passing_bablok;
pub mod precision;
pub mod risk_grid;
pub mod rule;
pub mod standards;
pub mod standards_table;
pub mod summary;
pub mod trend;
pub mod within;

pub use accountability::{Flow, LevelRate, Repeatability, SensorSpread};
pub use accuracy::{AccuracyRow, accuracy_table};
pub use against_published::{Compared, Equivalence, PublishedCell, against_published};
pub use band::Band;
pub use bland_altman::{BlandAltman, bland_altman};
pub use changes::{Change, ChangeOptions, Changes, changes};
pub use concordance::{Concordance, concordance};
pub use concurrence::{Concurrence, Shown, concurrence};
pub use design::{Design, Requirement};
pub use expected_difference::{ExpectedDifference, Stated, expected_difference};
pub use grid::{ErrorGrid, Grid, Zone, error_grid, grid_polygons};
pub use icc::{Intraclass, icc};
pub use limits::{Limits, limits};
pub use lines::{MethodLine, deming, weighted_deming};
pub use passing_bablok::{PassingBablok, passing_bablok};
pub use precision::{PairedPrecision, paired_precision};
pub use risk_grid::{RiskGrid, RiskMatrix, risk_grid};
pub use rule::{By, Rule};
pub use standards::Verdict;
pub use summary::{Summary, summary};
pub use trend::{Trend, trend};
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
