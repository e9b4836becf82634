//! How many grams of net carbohydrate per meal this person can eat and stay under a rise.
pub mod fit;
pub use fit::{Fit, Options, fit};
