use super::*;
use crate::contrast::made::{FIRST, at, diary, meal, responses};
use crate::contrast::{Asking, Verdict, what_helps};

fn noon_meals(days: i64, rise: impl Fn(i64) -> f64) -> Responses {
    let all = (0..days).map(|d| meal(at(d, 12.0), &[], rise(d))).collect();
    responses(all, |_| None)
}

fn days_with(exposure: &Exposure) -> Vec<i64> {
    match &exposure.by {
        By::Day(days) => days.iter().filter(|d| d.1).map(|d| d.0 - FIRST).collect(),
        By::Meal(_) => panic!("{} is by meal", exposure.id),
    }
}

fn meals_with(exposure: &Exposure) -> Vec<Option<bool>> {
    match &exposure.by {
        By::Meal(own) => own.clone(),
        By::Day(_) => panic!("{} is by day", exposure.id),
    }
}

#[test]
fn notes_come_out_on_their_days_and_meals() {
    let meals = noon_meals(8, |_| 30.0);
    let notes = [
        (at(1, 11.5), "medication"),
        (at(4, 20.0), "medication"),
        (at(2, 21.0), "alcohol"),
        (at(6, 2.0), "alcohol"),
        (at(7, 12.5), "alcohol"),
        (at(3, 7.0), "cycle"),
        (at(4, 7.0), "cycle"),
    ];
    let diary = diary(&[], vec![], &notes);
    let of = |id: &str| exposure(&meals, &diary, id).unwrap();
    assert_eq!(days_with(&of("medication_day")), [1, 4]);
    assert_eq!(days_with(&of("cycle_day")), [3, 4]);
    // From 17:00 to 04:00: the evening of day 2 and the small hours of day 6.
    assert_eq!(days_with(&of("alcohol_evening_before")), [3, 6]);
    // Within an hour of the meal: day 1, not the evening of day 4.
    let with = |id: &str| meals_with(&of(id)).iter().filter(|v| **v == Some(true)).count();
    assert_eq!((with("medication_with_meal"), with("alcohol_with_meal")), (1, 1));
    assert_eq!(of("medication_with_meal").of(1, FIRST + 1), Some(true));
    // What nobody noted is not asked.
    let asked: Vec<String> = exposures(&meals, &diary).into_iter().map(|e| e.id).collect();
    for id in ["medication_day", "medication_with_meal", "cycle_day", "alcohol_evening_before"] {
        assert!(asked.iter().any(|a| a == id), "{id}: {asked:?}");
    }
    assert!(!asked.iter().any(|a| a.starts_with("stress") || a.starts_with("walk")), "{asked:?}");
}

/// Medication takes 20 off on its days, the cycle adds 15, alcohol the evening before 12: told
/// exactly, since nothing else moves the rise, and in words that praise none of it.
#[test]
fn the_outcome_goes_with_the_right_days() {
    let [medication, cycle] = [[1, 4, 5, 8, 11, 15], [2, 6, 9, 13, 17, 18]];
    let evening = [0, 6, 9, 11, 15];
    for (kind, id, on, effect) in [
        ("medication", "medication_day", &medication[..], -20.0),
        ("cycle", "cycle_day", &cycle[..], 15.0),
        ("alcohol", "alcohol_evening_before", &evening[..], 12.0),
    ] {
        let shift = i64::from(kind == "alcohol");
        let notes: Vec<(i64, &str)> = on.iter().map(|&d| (at(d, 19.5), kind)).collect();
        let moved = |d: i64| on.contains(&(d - shift));
        let meals = noon_meals(20, |d| 60.0 + if moved(d) { effect } else { 0.0 });
        let diary = diary(&[], vec![], &notes);
        let found = what_helps(&meals, &diary, &Asking::rise()).unwrap();
        let own = found.iter().find(|f| f.exposure == id).unwrap();
        let told = &own.contrast.difference;
        assert!((told.value.unwrap() - effect).abs() < 1e-9, "{id}: {told:?}");
        assert!(own.contrast.p_value.unwrap() < 0.01 && own.by_day, "{id}");
        let word = if effect < 0.0 { Verdict::LowerWith } else { Verdict::HigherWith };
        assert_eq!(own.verdict, word, "{id}: {:?}", own.adjusted);
    }
}

#[test]
fn walks_by_minutes_and_delay() {
    let walks = [None, Some((10.0, 15.0)), Some((25.0, 45.0)), Some((20.0, 30.0))];
    let all = (0..4).map(|d| meal(at(d, 12.0), &[], 30.0)).collect();
    let meals = responses(all, |m| walks[(m.time_ms / 86_400_000 - FIRST) as usize]);
    let diary = diary(&[], vec![], &[]);
    let of = |id: &str| meals_with(&exposure(&meals, &diary, id).unwrap());
    // A walk of the other sort belongs to neither side.
    let (no, yes) = (Some(false), Some(true));
    assert_eq!(of("walk_after"), [no, yes, yes, yes]);
    assert_eq!(of("walk_within_30_min"), [no, yes, None, yes]);
    assert_eq!(of("walk_later_than_30_min"), [no, None, yes, None]);
    assert_eq!(of("walk_20_min_or_more"), [no, None, yes, yes]);
    assert_eq!(of("walk_under_20_min"), [no, yes, None, None]);
}

/// Vigorous days take 20 off, light ones nothing: told apart, each against days of rest.
#[test]
fn exercise_by_effort() {
    let effort = |d: i64| match d % 5 {
        1 => Some("vigorous"),
        3 if d % 2 == 0 => Some("light"),
        _ => None,
    };
    let one = |d: i64| {
        let effort = effort(d)?.to_string();
        let kind = "running".to_string();
        Some(Activity { start_ms: at(d, 17.0), minutes: 40.0, kind, effort: Some(effort) })
    };
    let activity: Vec<Activity> = (0..28).filter_map(one).collect();
    let hard = |d: i64| effort(d) == Some("vigorous");
    let meals = noon_meals(28, |d| 50.0 - if hard(d) { 20.0 } else { 0.0 });
    let diary = diary(&activity, vec![], &[]);
    let light = exposure(&meals, &diary, "exercise_day:light").unwrap();
    assert_eq!(days_with(&light), [8, 18]);
    // A vigorous day is not a day of rest.
    assert_eq!(light.of(0, FIRST + 1), None);
    let found = what_helps(&meals, &diary, &Asking::rise()).unwrap();
    let told = |id: &str| found.iter().find(|f| f.exposure == id).unwrap();
    let vigorous = told("exercise_day:vigorous");
    assert!((vigorous.contrast.difference.value.unwrap() + 20.0).abs() < 1e-9);
    assert_eq!(vigorous.verdict, Verdict::Helps, "{:?}", vigorous.adjusted);
    let light = told("exercise_day:light").contrast.difference.value.unwrap();
    assert!(light.abs() < 1e-9, "{light}");
}
