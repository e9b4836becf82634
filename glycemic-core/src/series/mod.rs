//! A person's glucose over time, checked once and then trusted.

#[cfg(feature = "ndarray")]
pub mod arrays;
pub mod build;
pub mod cleaning;
pub mod coverage;
pub mod meter;
pub mod trace;

pub use build::Builder;
pub use cleaning::{Censor, Cleaning, Rejected};
pub use coverage::{Coverage, Gap};
pub use meter::Meter;
pub use trace::{Trace, TraceView};
