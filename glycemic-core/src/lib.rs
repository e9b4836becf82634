//! Analytics for glucose-sensor data: traces, meals, agreement, carbohydrate tolerance, and the
//! review of a two-week sensor trial. Every estimate carries an interval, every formula names
//! its source, and "can't tell from this data, because" is an answer.
//!
//! Inside, glucose is mg/dL, an instant is UTC milliseconds since 1970, a span is minutes in
//! public names, carbohydrate is grams.
//!
//! # Care
//! For education, coaching and research. Not a medical device; not for dosing insulin or any
//! treatment decision. A reading that disagrees with how someone feels is checked with a meter.
//! Local rules and licensed care come first.
//!
//! # Features
//! `tz` (IANA zone names), `io` (CSV and JSON: trials on disk, reviews), `parallel`, `simulate`,
//! `serde`, `ndarray`. Each is additive; the crate builds with none.

// ground
pub mod error;
pub mod estimate;
pub mod table;
pub mod units;
// numerics
pub mod area;
pub mod interpolate;
pub mod stats;
// series
pub mod clock;
pub mod series;
// measures
pub mod agreement;
pub mod align;
pub mod meals;
pub mod panel;
// inference
pub mod contrast;
pub mod sensor;
pub mod tolerance;
// whole
pub mod cohort;
#[cfg(feature = "io")]
pub mod review;
#[cfg(feature = "io")]
pub mod trial;

// apart: knows no estimator
#[cfg(feature = "simulate")]
pub mod simulate;

pub use error::{Error, Problem};
pub use estimate::{Estimate, Reason};
pub use panel::Panel;
pub use series::{Cleaning, Meter, Trace, TraceView};
pub use table::Table;
pub use units::Unit;
