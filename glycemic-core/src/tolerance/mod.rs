//! How many grams of net carbohydrate per meal this person can eat and stay under a rise.

mod answers;
pub mod blood;
mod doses;
pub mod equivalent;
pub mod fit;
mod layout;
pub mod misfits;
pub mod model;
mod peak;
mod pooling;
pub mod portions;
pub mod saturating;
pub mod search;
mod spread;
pub mod tables;
pub mod tagged;
pub mod terms;

pub use fit::{Fit, Options, fit};
pub use misfits::{Misfit, Misfits, misfits};
pub use model::{MealPoint, Model, fit_meals};
pub use peak::glucose_before;
pub use portions::{Portion, portions};
pub use saturating::Saturating;
