use super::*;
use crate::contrast::made::{DAY, FIRST, at, diary, meal, responses};
use crate::meals::Meal;
use crate::stats::binomial::clopper_pearson;
use crate::stats::random::Random;

fn wish(pairs: usize, slots: &[&str], seed: u64) -> Wish {
    Wish {
        days: 14,
        masked_days: 2,
        slots: slots.iter().map(|s| s.to_string()).collect(),
        pairs,
        with: "walk_after".into(),
        without: "no_walk".into(),
        seed,
    }
}

const HOURS: [(f64, &[&str]); 4] = [(8.0, &[]), (11.2, &["snack"]), (13.0, &[]), (19.0, &[])];

/// The slot of a main meal of [`HOURS`].
fn slot(m: &Meal) -> Option<&'static str> {
    match m.time_ms.rem_euclid(DAY) / 3_600_000 {
        13 => Some("lunch"),
        19 => Some("dinner"),
        _ => None,
    }
}

/// Two weeks of meals whose rise is `rise(sitting)`, 30 where none is assigned; those assigned a
/// walk have one.
fn kept_to(wish: &Wish, mut rise: impl FnMut(&Sitting) -> f64) -> Responses {
    let drawn = schedule(wish).unwrap();
    let own = |m: &Meal| {
        let day = (m.time_ms.div_euclid(DAY) - FIRST) as usize + 1;
        let slot = slot(m)?;
        drawn.iter().find(|s| s.day == day && s.slot == slot)
    };
    let mut all = Vec::new();
    for day in 0..14 {
        for (hour, tags) in HOURS {
            let mut made = meal(at(day, hour), tags, 30.0);
            if let Some(s) = own(&made.0) {
                made.1.rise_mg_dl = Some(rise(s));
            }
            all.push(made);
        }
    }
    responses(all, |m| own(m).filter(|s| s.exposed).map(|_| (15.0, 20.0)))
}

fn carried(wish: &Wish, meals: &Responses) -> CarriedOut {
    carried_out(wish, FIRST, meals, &diary(&[], vec![], &[]), Outcome::Rise, 0.95).unwrap()
}

/// 8 less with a walk, 3 more in the second meal of a pair: differences of -11 and -5, four of
/// each, since the orders are balanced. Student's t with 7 degrees of freedom is 2.364624 at 95 %
/// (any table), the spread 3 √(8/7): ± 2.364624 × 3 / √7.
#[test]
fn a_known_effect_comes_back() {
    let wish = wish(8, &["lunch", "dinner"], 5);
    let first_day = |s: &Sitting| {
        let drawn = schedule(&wish).unwrap();
        drawn.iter().filter(|o| o.pair == s.pair).map(|o| o.day).min() == Some(s.day)
    };
    let meals = kept_to(&wish, |s| {
        30.0 - if s.exposed { 8.0 } else { 0.0 } + if first_day(s) { 0.0 } else { 3.0 }
    });
    let out = carried(&wish, &meals);
    assert!(out.sittings.iter().all(|s| s.deviations.is_empty()), "{:?}", out.sittings);
    let d = &out.as_assigned.difference;
    assert!((d.value.unwrap() + 8.0).abs() < 1e-9 && d.n == 8);
    let half = 2.364_624 * 3.0 / 7f64.sqrt();
    assert!((d.high.unwrap() + 8.0 - half).abs() < 1e-5, "{d:?}");
    assert_eq!(out.per_protocol, out.as_assigned);
    assert!((out.as_assigned.period.value.unwrap() - 3.0).abs() < 1e-9);
    assert!(out.as_assigned.carry_over.value.unwrap().abs() < 1e-9);
    assert_eq!(out.balance[0].with, 40.0);
    assert_eq!(out.sittings_table(&meals).unwrap().rows(), 16);
    let wider = out.as_assigned_at(0.99).unwrap().difference;
    assert!(wider.high > d.high);
}

/// Over 600 draws the 90 % interval holds the effect about as often as it says.
#[test]
fn the_interval_covers() {
    let mut held = 0;
    for seed in 0..600 {
        let wish = wish(6, &["lunch"], seed);
        let mut random = Random::keyed(seed, 3, 0);
        let meals =
            kept_to(&wish, |s| 30.0 - if s.exposed { 10.0 } else { 0.0 } + 9.0 * random.normal());
        let out = carried(&wish, &meals).as_assigned_at(0.9).unwrap();
        held += usize::from(out.difference.covers(-10.0));
    }
    let (low, high) = clopper_pearson(held, 600, 0.998).unwrap();
    assert!(low <= 0.9 && high >= 0.9, "{held}");
}

#[test]
fn deviations_have_their_reasons() {
    let wish = wish(6, &["lunch"], 1);
    let mut meals = kept_to(&wish, |s| if s.exposed { 20.0 } else { 30.0 + s.day as f64 });
    // The draw's sittings by pair: the row of each.
    let rows: Vec<usize> = carried(&wish, &meals).sittings.iter().flat_map(|s| s.meal).collect();
    let with = |pair: usize| {
        let own = schedule(&wish).unwrap();
        rows[own.iter().position(|s| s.pair == pair && s.exposed).unwrap()]
    };
    meals.walks[with(1)] = None;
    meals.rows[with(2)].flags.push("gap_at_peak");
    meals.rows[with(3)].flags.push("previous_meal_under_3h");
    meals.meals[with(4)].tags.push("snack".into());
    let out = carried(&wish, &meals);
    let codes = |pair: usize| {
        out.sittings.iter().find(|s| s.sitting.pair == pair && s.sitting.exposed).unwrap()
    };
    assert_eq!(codes(1).deviations, ["not_as_assigned"]);
    assert_eq!(codes(2).deviations, ["no_reading"]);
    assert_eq!(codes(3).deviations, ["earlier_meal"]);
    assert_eq!(codes(4).deviations, ["no_meal"]);
    assert!(codes(5).deviations.is_empty());
    for code in out.sittings.iter().flat_map(|s| &s.deviations) {
        assert!(DEVIATIONS.iter().any(|d| d.0 == *code), "{code}");
    }
    // As assigned: without pairs 2 and 4. Per protocol: pairs 5 and 6 are too few.
    assert_eq!(out.as_assigned.difference.n, 4);
    let reason = out.per_protocol.difference.reason.unwrap();
    assert_eq!((reason.code.as_str(), reason.had), ("too_few_pairs", Some(2.0)));
}

#[test]
fn a_slot_may_be_a_tag_and_the_diary_may_not_know() {
    let mut wish = wish(6, &["curry"], 2);
    let mut meals = kept_to(&wish, |_| 30.0);
    assert_eq!(carried(&wish, &meals).sittings[0].deviations, ["no_meal"]);
    for i in 0..meals.meals.len() {
        // Late at night, where no part of the day would look.
        if meals.meals[i].time_ms.rem_euclid(DAY) == 19 * 3_600_000 {
            meals.meals[i].tags.push("curry".into());
        }
    }
    assert!(carried(&wish, &meals).sittings.iter().all(|s| s.meal.is_some()));
    // What is claimed by tag is no dinner.
    wish.slots.push("dinner".into());
    let out = carried(&wish, &meals);
    assert!(out.sittings.iter().all(|s| (s.sitting.slot == "curry") == s.meal.is_some()));
    wish.slots.pop();
    wish.with = "humming".into();
    let out = carried(&wish, &meals);
    assert!(out.sittings.iter().all(|s| s.deviations == ["exposure_unknown"]));
    // A tag that no meal bears was never done.
    wish.with = "tag:vinegar".into();
    let kept = carried(&wish, &meals).sittings.into_iter().filter(|s| s.deviations.is_empty());
    assert_eq!(kept.count(), 6);
}

/// Early against late walks: no walk at all is neither.
#[test]
fn two_conditions_may_be_compared() {
    let mut wish = wish(6, &["lunch"], 3);
    wish.with = "walk_within_30_min".into();
    wish.without = "walk_later_than_30_min".into();
    let mut meals = kept_to(&wish, |_| 30.0);
    let without = carried(&wish, &meals);
    assert!(without.sittings.iter().all(|s| s.deviations.is_empty() == s.sitting.exposed));
    assert_eq!(without.sittings.iter().filter(|s| s.seen.is_none()).count(), 6);
    for s in without.sittings.iter().filter(|s| !s.sitting.exposed) {
        meals.walks[s.meal.unwrap()] = Some((15.0, 60.0));
    }
    assert!(carried(&wish, &meals).sittings.iter().all(|s| s.deviations.is_empty()));
}
