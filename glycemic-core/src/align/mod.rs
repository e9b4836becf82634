//! Bringing two series together in time: pairs, and the shift between them.

pub mod lag;
pub mod pair;
pub mod scale;
pub mod sensitivity;
pub mod wear;

pub use lag::{Shift, clock_offset, lag};
pub use pair::{How, Outside, Pairs, Unpaired, bursts, pair};
pub use scale::{Bursts, PairOptions, pair_with};
pub use sensitivity::{PairingSensitivity, pairing_sensitivity};
pub use wear::{EventKind, WearEvent};
