//! What each meal did: eating occasions, windows, responses.

pub mod meal;
pub mod noise;
pub mod response;
pub mod responses;

pub use meal::{Activity, Meal, Targets};
pub use noise::{Noise, noise};
pub use response::{Response, Window};
pub use responses::{Responses, responses};
