//! What a sensor does over its wear.

pub mod accounts;
mod counting;
mod lives;
