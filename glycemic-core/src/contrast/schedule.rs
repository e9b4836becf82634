//! A randomised schedule: when to do the one and when the other.
//!
//! # Method
//! Pairs of the same meal of the day on two days running, one with and one without. Which comes
//! first is drawn from a deck with as many of either order, for each meal of the day apart; the
//! odd one, if there is one, is drawn alone. The first days may be kept free (and the display
//! masked) so that what is watched settles. Same wish and seed, same schedule.
//!
//! # Source
//! Block-randomised pairs: Kravitz RL, Duan N (eds). Design and implementation of N-of-1 trials,
//! AHRQ 13(14)-EHC122, 2014, from memory. What to report: Vohra S et al. BMJ 2015; 350: h1738.

use crate::error::{Error, require_within};
use crate::stats::random::Random;
use crate::table::Table;

/// What a schedule is made from.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Wish {
    /// Days of wear, 2 to 365.
    pub days: usize,
    /// Days at the start without a task, on which the display may be masked.
    #[cfg_attr(feature = "serde", serde(default))]
    pub masked_days: usize,
    /// Meals of the day that take part, at least one: a part of the day (see [`slot_hours`]) or
    /// any tag that the diary gives the meal.
    pub slots: Vec<String>,
    /// Pairs, 2 or more.
    pub pairs: usize,
    /// What is done in one meal of a pair: the id of an exposure, such as `walk_after`.
    pub with: String,
    /// What is done in the other: such as `no_walk`, or the id of another exposure.
    pub without: String,
    /// Key of the draw.
    pub seed: u64,
}

/// One meal of the schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Sitting {
    /// Day of wear, from 1.
    pub day: usize,
    /// Meal of the day.
    pub slot: String,
    /// Pair, from 1.
    pub pair: usize,
    /// Whether this meal has the exposure.
    pub exposed: bool,
}

/// What a report of such a trial has to say, as codes, by CENT 2015 (Vohra 2015, BMJ 350: h1738;
/// numbers of the items from memory).
pub const REPORT_ITEMS: &[(&str, &str)] = &[
    ("title_n_of_1", "the title says that it is a trial of one person (1a)"),
    (
        "question_before_data",
        "the question and the primary outcome, dated before the data (2b, 6a)",
    ),
    ("periods", "number and length of periods, run-in and wash-out (3a)"),
    ("eligibility", "who the person is, and why this question (4a)"),
    ("interventions", "what is done in each period (5)"),
    ("sample_size", "how the number of pairs was chosen (7a)"),
    ("sequence", "how the order was drawn, in which blocks, with which seed (8a, 8b)"),
    ("blinding", "who knew what: a person can't be blind to a walk (11a)"),
    ("analysis", "the analysis, and how carry-over and period are looked at (12a, 12b)"),
    ("each_period", "the outcome of every period, also of those left out (13a, 17a)"),
    ("harms", "what went wrong (19)"),
    ("limits", "what the result does not say beyond this person and sensor (20, 21)"),
];

/// Hours of the local day in which a meal of this name is looked for: from, and up to; `None` for
/// a name that is no part of the day.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::schedule::slot_hours;
/// assert_eq!(slot_hours("lunch"), Some((11.0, 16.0)));
/// assert_eq!(slot_hours("pasta"), None);
/// ```
pub fn slot_hours(slot: &str) -> Option<(f64, f64)> {
    match slot {
        "morning" | "breakfast" => Some((0.0, 11.0)),
        "midday" | "lunch" => Some((11.0, 16.0)),
        "evening" | "dinner" => Some((16.0, 24.0)),
        _ => None,
    }
}

/// Draws a schedule.
///
/// # Errors
/// Too few days for the pairs, no slot, or a number out of range.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::schedule::{Wish, schedule};
/// let wish = Wish { days: 14, masked_days: 2, slots: vec!["lunch".into()], pairs: 6,
///     with: "walk_after".into(), without: "no_walk".into(), seed: 7 };
/// let s = schedule(&wish)?;
/// assert_eq!(s.len(), 12);
/// // Three of six pairs begin with a walk.
/// assert_eq!(s.chunks(2).filter(|pair| pair[0].exposed).count(), 3);
/// assert!(s.iter().all(|x| x.day > 2));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn schedule(wish: &Wish) -> Result<Vec<Sitting>, Error> {
    require_within("days", wish.days as f64, 2.0, 365.0)?;
    require_within("masked_days", wish.masked_days as f64, 0.0, wish.days as f64 - 2.0)?;
    if wish.slots.is_empty() {
        return Err(Error::TooFewValues { measure: "a schedule (slots)", needed: 1, got: 0 });
    }
    let places = (wish.days - wish.masked_days) / 2 * wish.slots.len();
    require_within("pairs", wish.pairs as f64, 2.0, places as f64)?;
    let mut all = Vec::with_capacity(2 * wish.pairs);
    for (at, slot) in wish.slots.iter().enumerate() {
        let own: Vec<usize> = (at..wish.pairs).step_by(wish.slots.len()).collect();
        for (block, (pair, with_first)) in
            own.iter().zip(orders(own.len(), wish.seed, at)).enumerate()
        {
            for second in [false, true] {
                all.push(Sitting {
                    day: wish.masked_days + 2 * block + 1 + usize::from(second),
                    slot: slot.clone(),
                    pair: pair + 1,
                    exposed: with_first != second,
                });
            }
        }
    }
    all.sort_by_key(|s| (s.pair, s.day));
    Ok(all)
}

/// Half of each order, in random order.
fn orders(pairs: usize, seed: u64, slot: usize) -> Vec<bool> {
    let mut random = Random::keyed(seed, slot as u64, 0);
    let mut orders: Vec<bool> = (0..pairs).map(|i| i % 2 == 0).collect();
    if pairs % 2 == 1
        && let Some(last) = orders.last_mut()
    {
        *last = random.below(2) == 0;
    }
    random.permute(&mut orders);
    orders
}

/// The schedule as a table: day, slot, pair, condition, exposed (1 or 0); masked days come first, alone.
///
/// # Errors
/// None that a schedule should cause.
pub fn table(wish: &Wish, sittings: &[Sitting]) -> Result<Table, Error> {
    let mut by_day: Vec<&Sitting> = sittings.iter().collect();
    by_day.sort_by_key(|s| (s.day, s.pair));
    let masked = wish.masked_days;
    let days = (1..=masked).chain(by_day.iter().map(|s| s.day));
    let free = || std::iter::repeat_n(None, masked);
    let mut t = Table::new();
    t.push_i64("day", days.map(|d| Some(d as i64)).collect())?;
    t.push_text("slot", free().chain(by_day.iter().map(|s| Some(s.slot.clone()))).collect())?;
    t.push_i64(
        "pair",
        std::iter::repeat_n(None, masked)
            .chain(by_day.iter().map(|s| Some(s.pair as i64)))
            .collect(),
    )?;
    let word =
        |s: &&Sitting| Some(if s.exposed { wish.with.clone() } else { wish.without.clone() });
    let masked_word = std::iter::repeat_n(Some("masked".to_string()), masked);
    t.push_text("condition", masked_word.chain(by_day.iter().map(word)).collect())?;
    let exposed = by_day.iter().map(|s| Some(i64::from(s.exposed)));
    t.push_i64("exposed", std::iter::repeat_n(None, masked).chain(exposed).collect())?;
    Ok(t)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wish(pairs: usize, slots: &[&str], seed: u64) -> Wish {
        Wish {
            days: 14,
            masked_days: 1,
            slots: slots.iter().map(|s| s.to_string()).collect(),
            pairs,
            with: "walk".into(),
            without: "none".into(),
            seed,
        }
    }

    #[test]
    fn pairs_share_a_slot_and_stand_on_two_days_running() {
        let s = schedule(&wish(11, &["lunch", "dinner"], 3)).unwrap();
        assert_eq!(s.len(), 22);
        for pair in s.chunks(2) {
            assert_eq!((pair[0].pair, &pair[0].slot), (pair[1].pair, &pair[1].slot));
            assert_eq!(pair[0].day + 1, pair[1].day);
            assert_ne!(pair[0].exposed, pair[1].exposed);
        }
        let mut places: Vec<(usize, String)> = s.iter().map(|x| (x.day, x.slot.clone())).collect();
        places.sort();
        places.dedup();
        assert_eq!(places.len(), 22);
        assert!(s.iter().all(|x| (2..=14).contains(&x.day)));
        let t = table(&wish(11, &["lunch", "dinner"], 3), &s).unwrap();
        assert_eq!(t.rows(), 23);
    }

    /// Over many seeds either order comes first equally often: 2000 × 0.5 ± 4 SE.
    #[test]
    fn the_order_is_random_and_balanced() {
        let mut first = 0;
        for seed in 0..2000 {
            let s = schedule(&wish(5, &["lunch"], seed)).unwrap();
            let with_first = s.chunks(2).filter(|p| p[0].exposed).count();
            assert!((2..=3).contains(&with_first));
            first += usize::from(s[0].exposed);
        }
        assert!((first as f64 - 1000.0).abs() < 4.0 * 500f64.sqrt(), "{first}");
        assert_eq!(schedule(&wish(5, &["lunch"], 9)), schedule(&wish(5, &["lunch"], 9)));
        assert!(schedule(&wish(7, &["lunch"], 1)).is_err() && schedule(&wish(5, &[], 1)).is_err());
    }
}
