//! The response to a meal, against curves whose answer is worked out by hand.

use glycemic_core::meals::{Activity, Meal, Response, Targets, Window, responses};
use glycemic_core::series::Builder;
use glycemic_core::{Trace, Unit};

const START: i64 = 1_741_000_000_000;
const MINUTE: i64 = 60_000;
const WINDOW: Window = Window { before_min: 30.0, after_min: 180.0 };

/// Readings every five minutes from three hours before the meal to `until` minutes after it.
fn trace(until: i64, glucose: impl Fn(i64) -> f64) -> Trace {
    let minutes: Vec<i64> = (-36..=until / 5).map(|i| i * 5).collect();
    let times: Vec<i64> = minutes.iter().map(|m| START + m * MINUTE).collect();
    let values: Vec<f64> = minutes.iter().map(|&m| glucose(m)).collect();
    Builder::new(Unit::MgDl).build(&times, &values).unwrap()
}

fn meal_at(minute: i64) -> Meal {
    Meal { time_ms: START + minute * MINUTE, ..Meal::default() }
}

fn response(trace: &Trace, others: &[i64], activity: &[Activity]) -> Response {
    let mut meals: Vec<Meal> = others.iter().map(|&m| meal_at(m)).collect();
    meals.push(meal_at(0));
    let all = responses(trace, &meals, activity, Targets::default(), WINDOW, 1).unwrap();
    all.rows.iter().find(|r| r.time_ms == START).unwrap().clone()
}

/// From 100 up by 1 mg/dL a minute to 160 at one hour, and down the same way by two hours.
fn hill(minute: i64) -> f64 {
    100.0 + (60 - (minute - 60).abs()).max(0) as f64
}

#[test]
fn a_triangle() {
    let r = response(&trace(240, hill), &[], &[]);
    assert_eq!(r.baseline_mg_dl, Some(100.0));
    assert_eq!(
        (r.peak_mg_dl, r.rise_mg_dl, r.time_to_peak_min),
        (Some(160.0), Some(60.0), Some(60.0))
    );
    assert_eq!((r.at_60_min_mg_dl, r.at_120_min_mg_dl), (Some(160.0), Some(100.0)));
    // 60 mg/dL high, 120 min wide.
    for area in [r.iauc_positive_mg_dl_min, r.iauc_net_mg_dl_min, r.iauc_until_return_mg_dl_min] {
        assert!((area.unwrap() - 3600.0).abs() < 1e-9);
    }
    assert_eq!(r.undershoot_mg_dl, Some(0.0));
    assert_eq!(r.seen_min, 180.0);
    assert!(r.flags.is_empty(), "{:?}", r.flags);
}

/// 110 mg/dL, exactly 10 above the baseline, at 110 min, and no more from there on.
#[test]
fn recovery_is_within_ten() {
    let r = response(&trace(240, hill), &[], &[]);
    assert_eq!((r.recovery_min, r.recovery_censored_min), (Some(110.0), None));
}

/// Back for 10 minutes only, above again at 120, then back to stay from 125.
#[test]
fn recovery_must_last() {
    let again = |m: i64| if m == 120 { 111.0 } else { hill(m) };
    assert_eq!(response(&trace(240, again), &[], &[]).recovery_min, Some(125.0));
}

/// Never back: looked for until the end of the window.
#[test]
fn recovery_not_seen() {
    let stays = |m: i64| hill(m.min(90));
    let r = response(&trace(240, stays), &[], &[]);
    assert_eq!((r.recovery_min, r.recovery_censored_min), (None, Some(180.0)));
}

/// A fall to 80 after the hill: 20 below, and the net area loses what lies below.
#[test]
fn undershoot() {
    // Down 20 mg/dL from 120 to 140 min, and back by 160: a triangle of 20 × 40 / 2.
    let dips = |m: i64| hill(m) - (20 - (m - 140).abs()).max(0) as f64;
    let r = response(&trace(240, dips), &[], &[]);
    assert_eq!(r.undershoot_mg_dl, Some(20.0));
    assert!((r.iauc_positive_mg_dl_min.unwrap() - 3600.0).abs() < 1e-9);
    assert!((r.iauc_net_mg_dl_min.unwrap() - 3200.0).abs() < 1e-9);
    assert!((r.iauc_until_return_mg_dl_min.unwrap() - 3600.0).abs() < 1e-9);
}

#[test]
fn what_confounds_is_flagged() {
    let flat = trace(240, |_| 100.0);
    let walk = |minute: i64, minutes: f64| Activity {
        start_ms: START + minute * MINUTE,
        minutes,
        kind: "walk".into(),
        effort: None,
    };
    let has = |r: &Response, flag: &str| r.flags.contains(&flag);
    assert!(has(&response(&flat, &[-179], &[]), "previous_meal_under_3h"));
    assert!(!has(&response(&flat, &[-180], &[]), "previous_meal_under_3h"));
    assert!(has(&response(&flat, &[179], &[]), "next_meal_in_window"));
    assert!(!has(&response(&flat, &[180], &[]), "next_meal_in_window"));
    assert!(has(&response(&flat, &[], &[walk(30, 15.0)]), "exercise_in_window"));
    assert!(has(&response(&flat, &[], &[walk(-10, 15.0)]), "exercise_in_window"));
    assert!(!has(&response(&flat, &[], &[walk(-20, 15.0)]), "exercise_in_window"));
    assert!(has(&response(&trace(100, hill), &[], &[]), "window_cut"));
    let drifts = |m: i64| if m <= 0 { 100.0 + 0.6 * (m + 180) as f64 } else { 208.0 };
    assert!(has(&response(&trace(240, drifts), &[], &[]), "baseline_unsteady"));
}

/// Under an hour seen there is no rise; outside the wear there is nothing.
#[test]
fn too_little_is_no_answer() {
    let short = response(&trace(55, hill), &[], &[]);
    assert_eq!((short.rise_mg_dl, short.seen_min), (None, 55.0));
    let next = response(&trace(240, hill), &[30], &[]);
    assert_eq!((next.rise_mg_dl, next.iauc_positive_mg_dl_min), (None, None));
    let meals = [meal_at(600)];
    let away = responses(&trace(240, hill), &meals, &[], Targets::default(), WINDOW, 1).unwrap();
    assert_eq!(away.rows[0].flags, ["outside_wear"]);
    assert_eq!(away.rows[0].baseline_mg_dl, None);
}
