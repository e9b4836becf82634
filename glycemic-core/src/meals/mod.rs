//! What each meal did: eating occasions, windows, responses.

mod aware;
mod covariance;
mod curve;
mod evidence;
pub mod index;
mod matched;
pub mod meal;
pub mod noise;
pub mod occasion;
mod onset;
pub mod recovery;
pub mod response;
pub mod responses;
pub mod shift;
pub mod targets;
pub mod unlogged;
mod unlogged_odds;

pub use meal::{Activity, EATEN_OUT, GramErrors, Meal, Targets};
pub use noise::{Noise, noise};
pub use occasion::occasions;
pub use response::{Response, Window};
pub use responses::{Options, Responses, responses, responses_with};
pub use unlogged::{Suspected, UnloggedOptions, suspected_table, unlogged};
