//! What counts as a day: local days, the two ends of a wear joined.
//!
//! # Method
//! A wear seldom begins at midnight. A first day of afternoon and evening and a last one of night
//! and morning differ from whole days by the time of day they hold, not by what day it was; left out
//! one by one they would look like great day-to-day variation. When together they could hold no
//! more readings than one whole day, they count as one, the first. A convention of this library.

use super::jackknife::Join;
use crate::panel::ordered::days::Day;

/// How days are counted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Units {
    joined: bool,
    /// Number of days so counted.
    pub(crate) count: usize,
}

impl Units {
    pub(crate) fn of_days(days: &[Day], nominal_ms: i64) -> Units {
        let joined = match days {
            [first, _, .., last] => {
                first.range.len() + last.range.len() <= first.possible(nominal_ms) + 1
            }
            _ => false,
        };
        Units { joined, count: days.len() - usize::from(joined) }
    }

    /// One value a day, with the last joined to the first where they count as one.
    pub(crate) fn of<S, T: Join>(self, days: &[S], value: impl FnMut(&S) -> T) -> Vec<T> {
        self.join(days.iter().map(value).collect())
    }

    /// The same of values that are there.
    pub(crate) fn join<T: Join>(self, mut values: Vec<T>) -> Vec<T> {
        if self.joined
            && let Some(last) = values.pop()
            && let Some(first) = values.first_mut()
        {
            first.join(&last);
        }
        values
    }
}
