//! One person's trial on disk: a folder of plain tables and a `trial.json` that says what is where.

mod columns;
pub mod config;
pub mod files;
pub mod plan;
pub mod read;
pub mod records;
pub mod rows;
pub mod time;

pub use config::Config;
pub use plan::Plan;
pub use read::{OnBadRows, Trial};
pub use records::{Note, Sleep, Wear};
