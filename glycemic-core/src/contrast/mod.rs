//! What changes a response, by how much, and what this trial could have seen.

pub mod carried;
pub mod change;
pub mod compare;
pub mod design;
pub mod effect;
pub mod exposure;
pub mod helps;
#[cfg(test)]
mod made;
pub mod outcome;
pub mod paired;
pub mod planning;
pub mod schedule;
pub mod symptoms;
pub mod tables;

pub use carried::{CarriedOut, Sat, carried_out};
pub use compare::{Contrast, compare};
pub use effect::{Effect, by_days, by_meals};
pub use exposure::{Diary, Exposure, Night, Noted, exposure, exposures};
pub use helps::{Asking, Finding, Verdict, what_helps};
pub use outcome::Outcome;
pub use paired::{Pair, Paired, paired};
pub use planning::Aim;
pub use symptoms::{AtSymptoms, at_symptoms};
