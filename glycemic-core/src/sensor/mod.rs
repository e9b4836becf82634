//! What the sensor itself did: whether it was steady, drifted, stepped, and whether setting it by the
//! meter would help.
//!
//! Everything against the meter is agreement with *this* meter, whose own bias is not known. What is
//! said without a meter rests on the trace alone, and could be the person.

pub mod accounts;
pub mod accounts_tables;
pub mod alarms;
mod by_day;
mod candidates;
mod counting;
pub mod differences;
pub mod drift;
pub mod drop_outs;
pub mod first_day;
pub mod flat;
mod lives;
pub mod noise;
pub mod pressure;
pub mod rate;
pub mod recalibrated;
pub mod recalibration;
pub mod steps;
pub mod tables;
mod wear;
pub mod worn;

pub use candidates::{Correction, Kind, Tried};
pub use differences::{Differences, LeftOut, Pairing, differences};
pub use drift::{Drift, drift, fasting_drift};
pub use first_day::{FirstDay, first_day};
pub use recalibrated::{Applied, Recalibrated};
pub use recalibration::{Accuracy, OfSensor, Recalibration, recalibrate};
pub use steps::{Step, steps};
pub use worn::{Worn, sensors};
