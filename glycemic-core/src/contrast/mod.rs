//! What changes a response, by how much, and what this trial could have seen.

pub mod compare;
pub use compare::{Contrast, compare};
