//! One adult's two-week sensor trial, simulated with known truth.
//!
//! # Method
//! A physiological meal model turns meals, walks and days into blood glucose; a sensor model adds
//! lag, gain, offset, drift, first-day wobble, noise, pressure lows and the usual trouble in a
//! file; a meter with its own bias and clock samples the blood. Because everything is known, the
//! right answer to each question is known too. This room knows no estimator.
//!
//! Equal scenario and seed give equal results on every 64-bit target. Simulated people are not a
//! basis for anyone's treatment.
//!
//! # Units
//! mg/dL, g, minutes; instants in epoch ms UTC.
//!
//! # Source
//! Dalla Man C et al. *IEEE Trans Biomed Eng* 54 (2007): 1740-1749 (meals). Breton M, Kovatchev B.
//! *J Diabetes Sci Technol* 2 (2008): 853-862 (noise). Facchinetti A et al. *Diabetes Technol
//! Ther* 18 (2016): 264-272 (pressure lows). Reynolds AN et al. *Diabetologia* 59 (2016):
//! 2572-2578 (walks).
//!
//! # Example
//! ```
//! use glycemic_core::simulate::{Scenario, trial};
//! let simulated = trial(&Scenario::DEMO, 1);
//! assert_eq!(simulated.truth.lag_minus_clock_min, simulated.truth.best_shift_min - 12.0);
//! ```

mod diary;
mod folder;
mod model;
mod person;
mod random;
mod scenario;
mod sensor;
mod trial;
mod truth;

pub use diary::Confidence;
pub use person::{Kind, Person};
pub use scenario::{Behaviour, Meter, Reported, Scenario, Sensor};
pub use sensor::PressureLow;
pub use trial::{
    ActivityRow, MealRow, MeterRow, NoteRow, SensorRow, Simulated, SleepRow, WearRow, full_trial,
    trial,
};
pub use truth::{
    EatenOut, Limits, LongRun, RiseCurve, TrueMeal, Truth, WalkEffect, long_run, rise_curve,
    truth_limit,
};

#[cfg(test)]
mod tests;
