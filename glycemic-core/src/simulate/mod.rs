//! One adult's two-week sensor trial, simulated with known truth.
//!
//! # Method
//! A physiological meal model turns meals, walks and days into blood glucose; a sensor model adds
//! lag, gain, offset, drift, first-day wobble, noise, pressure lows, drop-outs, a change of sensor
//! and the usual trouble in a file; a meter with its own bias and clock samples the blood. Because
//! everything is known, the right answer to each question is known too. This room knows no
//! estimator. A second, structurally different meal model stands behind the same interface, so
//! that an estimator can meet a world it was not made for.
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
//! Ther* 18 (2016): 264-272 (pressure lows, drop-outs). Reynolds AN et al. *Diabetologia* 59 (2016):
//! 2572-2578 (walks). Second meal model: Bergman RN et al. *Am J Physiol* 236 (1979): E667; Hovorka
//! R et al. *Physiol Meas* 25 (2004): 905-920.
//!
//! # Example
//! ```
//! use glycemic_core::simulate::{Scenario, trial};
//! let simulated = trial(&Scenario::DEMO, 1);
//! assert_eq!(simulated.truth.lag_minus_clock_min, simulated.truth.best_shift_min - 12.0);
//! ```

mod diary;
mod eating;
mod effects;
mod folder;
mod food;
mod json;
mod levels;
mod live;
mod low;
mod meter;
mod minimal;
mod model;
mod named;
mod noise;
mod peaks;
mod person;
mod population;
mod pressure;
mod random;
mod readings;
mod rises;
mod rows;
mod scenario;
mod sensor;
mod tables;
mod trial;
mod truth;
mod written;

pub use diary::Confidence;
pub use effects::{DayEffects, day_effects};
pub use levels::{Both, Levels, LongRun, long_run};
pub use model::{OralMeal, oral_meal};
pub use peaks::safe_under_peak;
pub use person::{HEALTHY, Kind, OTHER_WORLD, Person, RESISTANT, World};
pub use population::{Class, person};
pub use pressure::PressureLow;
pub use readings::DropOut;
pub use rises::{Limits, RiseCurve, WalkEffect, rise_curve, truth_limit};
pub use rows::{ActivityRow, MealRow, MeterRow, NoteRow, SensorRow, SleepRow, WearRow};
pub use scenario::{Behaviour, Meter, Noise, Reported, Scenario, Sensor, Swap};
pub use trial::{Simulated, full_trial, trial};
pub use truth::{AdaptiveCut, EatenOut, TrueLow, TrueMeal, TrueSwap, Truth};

#[cfg(test)]
mod devices_tests;
#[cfg(test)]
mod diary_tests;
#[cfg(test)]
mod physiology_tests;
#[cfg(test)]
mod tests;
