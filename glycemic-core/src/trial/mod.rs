//! One person's trial on disk: a folder of plain tables and a `trial.json` that says what is where.

pub mod config;
pub mod files;
pub mod read;
pub mod rows;
pub mod time;

pub use config::Config;
pub use read::{Note, OnBadRows, Sleep, Trial, Wear};
