//! Bringing two series together in time: pairs, and the shift between them.

pub mod clock_error;
pub mod delay;
pub mod lag;
mod matching;
pub mod pair;
pub mod scale;
pub mod sensitivity;
mod smoothed;
pub mod wear;

pub use clock_error::{ClockError, clock_error, shifted};
pub use delay::{delay, first_order_lag};
pub use lag::{Shift, clock_offset, lag};
pub use pair::{How, Outside, Pairs, Unpaired, bursts, pair};
pub use scale::{Bursts, PairOptions, pair_with};
pub use sensitivity::{PairingSensitivity, pairing_sensitivity};
pub use wear::{EventKind, WearEvent};
