//! Where glucose sits: one object with what the field reports about a trace.

pub mod blocks;
pub mod compare;
pub mod compute;
mod count;
mod episode_pass;
pub mod episodes;
pub mod grid;
pub mod histogram;
pub mod intervals;
pub mod local;
pub mod modal_day;
pub mod normals;
pub mod options;
pub mod order_free;
pub mod ordered;
pub mod population;
pub mod registry;
pub mod risk;
pub mod shares;
pub mod stream;
pub mod sufficiency;

#[cfg(test)]
mod blocks_tests;
#[cfg(test)]
mod episodes_tests;
#[cfg(test)]
mod modal_day_tests;
#[cfg(test)]
mod sufficiency_tests;

pub use compare::compare;
pub use compute::{Panel, panel, panel_only, panel_with};
pub use histogram::Histogram;
pub use intervals::{Blood, METER_BIAS_SD_PCT, intervals, intervals_in_blood};
pub use normals::{Normal, normals, outside_population};
pub use options::{EpisodeLength, GradeRule, Lability, MageSd, ModdPairs, Options, RiskConstants};
pub use order_free::{Valued, order_free};
pub use population::{Bound, Population, Target, assess, targets};
pub use registry::{Id, MEASURES, Measure, Needs};
pub use shares::shares_in;
pub use stream::{Pushed, Stream};
