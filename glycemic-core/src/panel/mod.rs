//! Where glucose sits: one object with what the field reports about a trace.

pub mod compute;
pub mod intervals;
pub mod local;
pub mod registry;

pub use compute::{Panel, panel};
pub use intervals::{Blood, intervals, intervals_in_blood};
pub use registry::{Id, MEASURES, Measure, Needs};
