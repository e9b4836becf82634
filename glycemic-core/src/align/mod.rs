//! Bringing two series together in time: pairs, and the shift between them.

pub mod lag;
pub mod pair;

pub use lag::{Shift, clock_offset, lag};
pub use pair::{How, Pairs, Unpaired, pair};
