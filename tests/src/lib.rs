//! Support code for the tests package.

/// The Rust example of the README compiles.
#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
pub struct Readme;
