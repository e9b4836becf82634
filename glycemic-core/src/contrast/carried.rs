//! A schedule carried out: what became of each meal, and what the pairs say.
//!
//! # Method
//! Each sitting is matched with a meal of its day: one that bears the slot as a tag, else the
//! first main meal (not a snack) in the slot's hours ([`slot_hours`]) that no slot claims by tag.
//! What was really done is read from the diary by the clock (see
//! [`exposure`](super::exposure())), never from glucose. *As assigned*: every pair whose two
//! meals have an outcome, by what the draw said, whatever was done; only this comparison rests on
//! the draw. *Per protocol*: pairs without a deviation on either side; who keeps to a schedule
//! may differ from who doesn't, so it stands beside, not in place. Both by [`paired`], with
//! carry-over and period.
//!
//! # Source
//! By what was assigned: Hollis S, Campbell F. BMJ 1999; 319: 670-674. One person's trials: Vohra
//! S et al. BMJ 2015; 350: h1738. Both from memory.

use super::design::{Balance, balance};
use super::exposure::{Diary, exposure};
use super::outcome::Outcome;
use super::paired::{Pair, Paired, paired};
use super::schedule::{Sitting, Wish, schedule, slot_hours};
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::meals::Responses;
use crate::table::Table;

/// Minutes of the window that must have been seen.
const SEEN_MIN: f64 = 115.0;
/// Flags that leave no outcome to compare.
const UNREAD: [&str; 4] = ["gap_at_peak", "no_baseline", "sensor_change", "outside_wear"];

/// What may have gone otherwise than the schedule said.
pub const DEVIATIONS: &[(&str, &str)] = &[
    ("no_meal", "the diary has no such meal that day"),
    ("no_reading", "the sensor did not see the meal's first two hours, peak and baseline"),
    ("not_as_assigned", "the diary shows another condition than the one assigned"),
    ("exposure_unknown", "the diary can't show whether it was done"),
    ("earlier_meal", "another meal started less than three hours before"),
];

/// What became of one meal of a schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Sat {
    /// As drawn.
    pub sitting: Sitting,
    /// Its row among the responses.
    pub meal: Option<usize>,
    /// Its outcome, where it was seen.
    pub outcome: Option<f64>,
    /// With the exposure, without, or neither, as the diary has it.
    pub seen: Option<bool>,
    /// Codes of [`DEVIATIONS`]; empty where all went as drawn.
    pub deviations: Vec<&'static str>,
}

/// A schedule carried out.
#[derive(Clone, Debug, PartialEq)]
pub struct CarriedOut {
    /// What was compared.
    pub outcome: Outcome,
    /// Every sitting, by pair and day.
    pub sittings: Vec<Sat>,
    /// Pairs drawn.
    pub pairs: usize,
    /// Pairs with both outcomes, by what was assigned.
    pub as_assigned: Paired,
    /// Pairs without a deviation.
    pub per_protocol: Paired,
    /// Grams, hour and kinds with and without, in the meals compared as assigned.
    pub balance: Vec<Balance>,
}

/// First and last day number that is taken for one: 1970 and 2099.
const FIRST_DAYS: (f64, f64) = (0.0, 47_482.0);

/// Matches the schedule of `wish`, drawn anew, with the diary; day 1 is the local day number
/// `first_day` (see [`LocalClock::day`](crate::clock::LocalClock::day)).
///
/// # Errors
/// A wish that no schedule can be drawn from, a first day outside 1970 to 2099, a level outside 0.5
/// to 0.999.
///
/// # Example
/// ```
/// # use glycemic_core::clock::LocalClock;
/// # use glycemic_core::contrast::{Diary, Outcome, carried_out, schedule::Wish};
/// # use glycemic_core::meals::{Targets, Window, responses};
/// # use glycemic_core::{Unit, series::Builder};
/// # let times: Vec<i64> = (0..288).map(|i| 1_741_046_400_000 + i * 300_000).collect();
/// # let trace = Builder::new(Unit::MgDl).build(&times, &vec![100.0; 288])?;
/// # let window = Window { before_min: 30.0, after_min: 180.0 };
/// // A diary without a meal: every sitting went otherwise, and nothing can be compared.
/// let meals = responses(&trace, &[], &[], Targets::default(), window, 1)?;
/// let clock = LocalClock::fixed(0);
/// let first_day = clock.day(trace.times_ms()[0]);
/// let diary = Diary { activity: &[], nights: vec![], notes: vec![], clock };
/// let wish = Wish { days: 14, masked_days: 2, slots: vec!["lunch".into()], pairs: 6,
///     with: "walk_after".into(), without: "no_walk".into(), seed: 7 };
/// let out = carried_out(&wish, first_day, &meals, &diary, Outcome::Rise, 0.95)?;
/// assert!(out.sittings.iter().all(|s| s.deviations == ["no_meal"]));
/// assert_eq!(out.reason().unwrap().code, "too_few_pairs");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn carried_out(
    wish: &Wish,
    first_day: i64,
    meals: &Responses,
    diary: &Diary<'_>,
    outcome: Outcome,
    level: f64,
) -> Result<CarriedOut, Error> {
    require_within("first_day", first_day as f64, FIRST_DAYS.0, FIRST_DAYS.1)?;
    let own = exposure(meals, diary, &wish.with);
    let other = exposure(meals, diary, &wish.without);
    let done = |i: usize, day: i64| {
        let with = own.as_ref()?.of(i, day);
        match other.as_ref().map(|o| o.of(i, day)) {
            // Two things are compared: neither may stand for the other.
            Some(without) => match (with, without) {
                (Some(true), Some(true)) => None,
                (Some(true), _) => Some(true),
                (_, Some(true)) => Some(false),
                _ => None,
            },
            None => with,
        }
    };
    let one = |sitting: Sitting| {
        let day = first_day + sitting.day as i64 - 1;
        let meal = find(meals, diary, wish, &sitting.slot, day);
        let result = meal.filter(|&i| read(meals, i)).and_then(|i| outcome.of(meals, i));
        let seen = meal.and_then(|i| done(i, day));
        let mut deviations = Vec::new();
        match meal {
            None => deviations.push("no_meal"),
            Some(i) => {
                if result.is_none() {
                    deviations.push("no_reading");
                }
                if own.is_none() {
                    deviations.push("exposure_unknown");
                } else if seen != Some(sitting.exposed) {
                    deviations.push("not_as_assigned");
                }
                if meals.rows[i].flags.contains(&"previous_meal_under_3h") {
                    deviations.push("earlier_meal");
                }
            }
        }
        Sat { sitting, meal, outcome: result, seen, deviations }
    };
    let sittings: Vec<Sat> = schedule(wish)?.into_iter().map(one).collect();
    let as_assigned = paired(&pairs(&sittings, |_| true), level)?;
    let per_protocol = paired(&pairs(&sittings, |s| s.deviations.is_empty()), level)?;
    let compared = whole(&sittings, |_| true).into_iter().flatten();
    let (rows, exposed): (Vec<usize>, Vec<bool>) =
        compared.filter_map(|s| s.meal.map(|i| (i, s.sitting.exposed))).unzip();
    let balance = balance(meals, &rows, &exposed, &diary.clock);
    Ok(CarriedOut { outcome, sittings, pairs: wish.pairs, as_assigned, per_protocol, balance })
}

fn find(meals: &Responses, diary: &Diary<'_>, wish: &Wish, slot: &str, day: i64) -> Option<usize> {
    let tagged = |i: usize, name: &str| meals.meals[i].tags.iter().any(|t| t == name);
    let today: Vec<usize> = (0..meals.meals.len())
        .filter(|&i| diary.clock.day(meals.meals[i].time_ms) == day)
        .collect();
    let by_tag = today.iter().copied().find(|&i| tagged(i, slot));
    by_tag.or_else(|| {
        let (from, to) = slot_hours(slot)?;
        today.into_iter().find(|&i| {
            let hour = diary.clock.minute_of_day(meals.meals[i].time_ms) / 60.0;
            let claimed = tagged(i, "snack") || wish.slots.iter().any(|s| tagged(i, s));
            (from..to).contains(&hour) && !claimed
        })
    })
}

fn read(meals: &Responses, i: usize) -> bool {
    let row = &meals.rows[i];
    row.seen_min >= SEEN_MIN && !UNREAD.iter().any(|f| row.flags.contains(f))
}

/// Both sittings of the pairs that have both outcomes and of which `counts` holds.
fn whole(sittings: &[Sat], counts: impl Fn(&Sat) -> bool) -> Vec<&[Sat]> {
    let complete =
        |pair: &&[Sat]| pair.len() == 2 && pair.iter().all(|s| s.outcome.is_some() && counts(s));
    sittings.chunk_by(|a, b| a.sitting.pair == b.sitting.pair).filter(complete).collect()
}

fn pairs(sittings: &[Sat], counts: impl Fn(&Sat) -> bool) -> Vec<Pair> {
    let one = |pair: &[Sat]| {
        let (first, second) = (pair[0].outcome?, pair[1].outcome?);
        let with_first = pair[0].sitting.exposed;
        let (with, without) = if with_first { (first, second) } else { (second, first) };
        Some(Pair { with, without, with_first })
    };
    whole(sittings, counts).into_iter().filter_map(one).collect()
}

impl CarriedOut {
    /// Why no comparison as assigned can be told, if it can't.
    pub fn reason(&self) -> Option<&Reason> {
        self.as_assigned.difference.reason.as_ref()
    }

    /// The comparison as assigned at another level.
    ///
    /// # Errors
    /// A level outside 0.5 to 0.999.
    pub fn as_assigned_at(&self, level: f64) -> Result<Paired, Error> {
        paired(&pairs(&self.sittings, |_| true), level)
    }

    /// A row per sitting: pair, day, slot, assigned, seen, meal's time, outcome, deviations.
    ///
    /// # Errors
    /// None that a schedule should cause.
    pub fn sittings_table(&self, meals: &Responses) -> Result<Table, Error> {
        let all = &self.sittings;
        let mut t = Table::new();
        let whole = |f: &dyn Fn(&Sat) -> Option<i64>| all.iter().map(f).collect::<Vec<_>>();
        let text = |f: &dyn Fn(&Sat) -> Option<String>| all.iter().map(f).collect::<Vec<_>>();
        let word = |exposed: bool| if exposed { "with" } else { "without" }.to_string();
        t.push_i64("pair", whole(&|s| Some(s.sitting.pair as i64)))?;
        t.push_i64("day", whole(&|s| Some(s.sitting.day as i64)))?;
        t.push_text("slot", text(&|s| Some(s.sitting.slot.clone())))?;
        t.push_text("assigned", text(&|s| Some(word(s.sitting.exposed))))?;
        t.push_text("seen", text(&|s| s.seen.map(word)))?;
        t.push_i64("time_ms", whole(&|s| s.meal.map(|i| meals.meals[i].time_ms)))?;
        t.push_f64("outcome", all.iter().map(|s| s.outcome).collect())?;
        t.push_text("deviations", text(&|s| Some(s.deviations.join(";"))))?;
        Ok(t)
    }

    /// A row each for what was assigned, for what was kept to, for carry-over and for period.
    ///
    /// # Errors
    /// None that a schedule should cause.
    pub fn answers_table(&self) -> Result<Table, Error> {
        let (a, p) = (&self.as_assigned, &self.per_protocol);
        let rows = [
            ("as_assigned", &a.difference, a.p_value, a.p_signs),
            ("per_protocol", &p.difference, p.p_value, p.p_signs),
            ("carry_over", &a.carry_over, None, None),
            ("period", &a.period, None, None),
        ];
        let mut t = Table::new();
        let reason = |e: &crate::Estimate| e.reason.as_ref().map(|r| r.text.clone());
        t.push_text("what", rows.iter().map(|r| Some(r.0.to_string())).collect())?;
        t.push_text("outcome", rows.iter().map(|_| Some(self.outcome.id().into())).collect())?;
        t.push_text("unit", rows.iter().map(|_| Some(self.outcome.unit().into())).collect())?;
        t.push_i64("pairs", rows.iter().map(|r| Some(r.1.n as i64)).collect())?;
        t.push_f64("value", rows.iter().map(|r| r.1.value).collect())?;
        t.push_f64("low", rows.iter().map(|r| r.1.low).collect())?;
        t.push_f64("high", rows.iter().map(|r| r.1.high).collect())?;
        t.push_f64("p_value", rows.iter().map(|r| r.2).collect())?;
        t.push_f64("p_signs", rows.iter().map(|r| r.3).collect())?;
        t.push_text("reason", rows.iter().map(|r| reason(r.1)).collect())?;
        Ok(t)
    }
}

#[cfg(test)]
#[path = "carried_tests.rs"]
mod tests;
