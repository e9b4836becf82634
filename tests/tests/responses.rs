//! The table of responses to many meals: flags, walks, targets, and two sensors, on traces made
//! by hand whose answers are known. Shapes of one curve are in `meals.rs`.

use glycemic_core::meals::response::FLAGS;
use glycemic_core::meals::{Activity, Meal, Response, Responses, Targets, Window, responses};
use glycemic_core::series::{Builder, Censor};
use glycemic_core::{Trace, Unit};

const START: i64 = 1_741_000_000_000;
const MINUTE: i64 = 60_000;
const WINDOW: Window = Window { before_min: 30.0, after_min: 180.0 };

/// Readings at these minutes from `START`.
fn trace(minutes: impl Iterator<Item = i64>, glucose: impl Fn(i64) -> f64) -> Trace {
    let minutes: Vec<i64> = minutes.collect();
    let times: Vec<i64> = minutes.iter().map(|m| START + m * MINUTE).collect();
    let values: Vec<f64> = minutes.iter().map(|&m| glucose(m)).collect();
    Builder::new(Unit::MgDl).build(&times, &values).unwrap()
}

/// Every five minutes, from three hours before to four hours after.
fn grid() -> impl Iterator<Item = i64> {
    (-36..=48).map(|i| i * 5)
}

fn meal_at(minute: i64) -> Meal {
    Meal { time_ms: START + minute * MINUTE, ..Meal::default() }
}

fn walk(minute: i64, minutes: f64) -> Activity {
    Activity { start_ms: START + minute * MINUTE, minutes, kind: "walk".into(), effort: None }
}

fn all(trace: &Trace, meals: &[i64], activity: &[Activity], targets: Targets) -> Responses {
    let meals: Vec<Meal> = meals.iter().map(|&m| meal_at(m)).collect();
    responses(trace, &meals, activity, targets, WINDOW, 1).unwrap()
}

/// The response to one meal at minute 0.
fn one(trace: &Trace) -> Response {
    all(trace, &[0], &[], Targets::default()).rows.remove(0)
}

/// 100 up to 150 at 50 min and down to 90 at 110 min, there until 130, back to 100 at 140.
fn wave(minute: i64) -> f64 {
    match minute {
        ..=0 => 100.0,
        1..=50 => 100.0 + minute as f64,
        51..=110 => 200.0 - minute as f64,
        111..=130 => 90.0,
        131..=140 => (minute - 40) as f64,
        _ => 100.0,
    }
}

/// Above: two triangles of height 50 and width 50. Below: 10 × 10 / 2 on both sides of 10 × 20.
#[test]
fn a_wave_with_everything() {
    let r = one(&trace(grid(), wave));
    assert_eq!((r.baseline_mg_dl, r.peak_mg_dl), (Some(100.0), Some(150.0)));
    assert_eq!((r.rise_mg_dl, r.time_to_peak_min), (Some(50.0), Some(50.0)));
    assert_eq!((r.at_60_min_mg_dl, r.at_120_min_mg_dl), (Some(140.0), Some(90.0)));
    assert_eq!((r.recovery_min, r.recovery_censored_min), (Some(90.0), None));
    assert_eq!(r.undershoot_mg_dl, Some(10.0));
    assert!((r.iauc_positive_mg_dl_min.unwrap() - 2500.0).abs() < 1e-9);
    assert!((r.iauc_net_mg_dl_min.unwrap() - 2200.0).abs() < 1e-9);
    assert!((r.iauc_until_return_mg_dl_min.unwrap() - 2500.0).abs() < 1e-9);
    assert_eq!(r.flags, Vec::<&str>::new());
    // No windows without food in seven hours: no noise, and no rise freed of it.
    assert_eq!((r.rise_noise_aware_mg_dl, r.rise_noise_sd_mg_dl), (None, None));
}

/// A second hill above the baseline counts by the positive rule, not until the first return.
#[test]
fn the_three_areas_differ() {
    let twice = |m: i64| {
        let hill = |top: i64| (20 - (m - top).abs()).max(0) as f64;
        100.0 + hill(30) - hill(70) + hill(110)
    };
    let r = one(&trace(grid(), twice));
    // Each triangle is 20 high and 40 wide.
    assert!((r.iauc_positive_mg_dl_min.unwrap() - 800.0).abs() < 1e-9);
    assert!((r.iauc_net_mg_dl_min.unwrap() - 400.0).abs() < 1e-9);
    assert!((r.iauc_until_return_mg_dl_min.unwrap() - 400.0).abs() < 1e-9);
}

/// Still 30 above the baseline when the window ends: looked for over 180 minutes.
#[test]
fn recovery_beyond_the_window_is_censored() {
    let slow =
        |m: i64| if m <= 60 { 100.0 + m.max(0) as f64 } else { 160.0 - (m - 60) as f64 / 4.0 };
    let r = one(&trace(grid(), slow));
    assert_eq!((r.recovery_min, r.recovery_censored_min), (None, Some(180.0)));
    assert_eq!(r.undershoot_mg_dl, Some(0.0));
    // Cut by the next meal at 100 min, it is looked for until then.
    let r = &all(&trace(grid(), slow), &[0, 100], &[], Targets::default()).rows[0];
    assert_eq!((r.recovery_min, r.recovery_censored_min), (None, Some(100.0)));
    assert_eq!((r.seen_min, r.at_120_min_mg_dl), (100.0, None));
}

/// Readings lost from 30 to 60 min: the peak may have been there, and there is no area.
#[test]
fn a_gap_where_the_peak_may_be() {
    let lost = |from: i64, to: i64| grid().filter(move |m| !(from..=to).contains(m));
    let r = one(&trace(lost(30, 60), wave));
    assert!(r.flags.contains(&"gap_at_peak"));
    assert_eq!(r.iauc_positive_mg_dl_min, None);
    // The hour lies in the gap of 40 minutes, which nothing bridges.
    assert_eq!((r.at_60_min_mg_dl, r.at_120_min_mg_dl), (None, Some(90.0)));
    // Two readings lost make an interval of three nominal ones: no gap.
    let r = one(&trace(lost(30, 35), wave));
    assert_eq!(r.flags, Vec::<&str>::new());
    assert!(r.iauc_positive_mg_dl_min.is_some());
    // A gap after two hours is not at the peak.
    let r = one(&trace(lost(150, 170), wave));
    assert!(!r.flags.contains(&"gap_at_peak"));
    assert_eq!(r.iauc_positive_mg_dl_min, None);
}

/// A drift of 15 mg/dL over the half hour is steady, 18 is not.
#[test]
fn an_unsteady_baseline() {
    let drifting =
        |total: f64| move |m: i64| if m <= 0 { 120.0 + total * m as f64 / 30.0 } else { 120.0 };
    assert!(one(&trace(grid(), drifting(18.0))).flags.contains(&"baseline_unsteady"));
    assert!(one(&trace(grid(), drifting(-18.0))).flags.contains(&"baseline_unsteady"));
    assert!(!one(&trace(grid(), drifting(14.0))).flags.contains(&"baseline_unsteady"));
}

/// The trace begins ten minutes before the meal with two readings and one at its start.
#[test]
fn a_baseline_needs_three_readings() {
    let from = |first: i64| grid().filter(move |m| *m >= first);
    let r = one(&trace(from(-5), wave));
    assert_eq!(r.flags, ["no_baseline"]);
    assert_eq!((r.baseline_mg_dl, r.rise_mg_dl, r.peak_mg_dl), (None, None, None));
    assert_eq!(one(&trace(from(-10), wave)).baseline_mg_dl, Some(100.0));
}

#[test]
fn a_reading_at_the_limit() {
    let times: Vec<i64> = grid().map(|m| START + m * MINUTE).collect();
    let values: Vec<f64> = grid().map(wave).collect();
    let censor: Vec<Censor> =
        grid().map(|m| if m == 50 { Censor::High } else { Censor::None }).collect();
    let t = Builder::new(Unit::MgDl).build_censored(&times, &values, &censor).unwrap();
    assert_eq!(one(&t).flags, ["sensor_limit"]);
}

/// A sensor change anywhere from the baseline to the end of the window: no rise is taken across.
#[test]
fn two_sensors_are_never_joined() {
    for (minute, spoils) in [(-29, true), (-40, false), (20, true), (180, true), (181, false)] {
        let t = trace(grid(), wave).with_breaks(vec![START + minute * MINUTE]);
        let r = one(&t);
        assert_eq!(r.flags.contains(&"sensor_change"), spoils, "{minute}");
        assert_eq!(r.rise_mg_dl.is_none(), spoils, "{minute}");
        assert_eq!(r.baseline_mg_dl.is_none(), spoils, "{minute}");
        let many = all(&t, &[0], &[], Targets::default());
        assert_eq!(many.is_clean(0), !spoils, "{minute}");
    }
}

/// What makes a row unfit for the dose-response, and what doesn't.
#[test]
fn clean_is_alone_in_the_window() {
    let t = trace(grid(), wave);
    let clean = |meals: &[i64], activity: &[Activity]| {
        let r = all(&t, meals, activity, Targets::default());
        let at = r.rows.iter().position(|row| row.time_ms == START).unwrap();
        r.is_clean(at)
    };
    assert!(clean(&[0], &[]));
    // The next meal after two hours leaves the peak alone.
    assert!(clean(&[0, 120], &[]));
    assert!(!clean(&[0, 110], &[]));
    assert!(!clean(&[-100, 0], &[]));
    assert!(!clean(&[0], &[walk(20, 15.0)]));
    assert!(clean(&[0], &[walk(200, 15.0)]));
}

/// Walks that begin in the two hours after: their minutes, and when the first begins.
#[test]
fn walks_after_a_meal() {
    let t = trace(grid(), wave);
    let found = |activity: &[Activity]| all(&t, &[0], activity, Targets::default()).walks[0];
    assert_eq!(found(&[]), None);
    assert_eq!(found(&[walk(-10, 20.0)]), None);
    assert_eq!(found(&[walk(119, 10.0), walk(15, 20.0)]), Some((30.0, 15.0)));
    assert_eq!(found(&[walk(120, 10.0)]), None);
    assert_eq!(found(&[Activity { kind: "exercise".into(), ..walk(15, 20.0) }]), None);
}

/// The rise is 50 and the peak 150: over means above, not at.
#[test]
fn over_a_target() {
    let t = trace(grid(), wave);
    let over = |rise_mg_dl, peak_mg_dl| {
        all(&t, &[0], &[], Targets { rise_mg_dl, peak_mg_dl, ..Targets::default() }).over_target(0)
    };
    assert_eq!(over(None, None), None);
    assert_eq!(over(Some(50.0), None), Some(false));
    assert_eq!(over(Some(49.0), None), Some(true));
    assert_eq!(over(Some(60.0), Some(149.0)), Some(true));
    assert_eq!(over(Some(60.0), Some(150.0)), Some(false));
    for bad in [f64::NAN, 0.0, 1e4] {
        let targets = Targets { rise_mg_dl: Some(bad), ..Targets::default() };
        assert!(responses(&t, &[meal_at(0)], &[], targets, WINDOW, 1).is_err(), "{bad}");
    }
}

/// White noise of SD 2 on a flat trace over a day with two meals: the noise is found, a rise as
/// displayed is above 0 though there was none, and the noise-aware one lies nearer to 0.
#[test]
fn noise_is_found_and_taken_off() {
    let minutes = (0..4 * 288).map(|i| i * 5);
    // Sum of twelve uniform draws less six is near to normal; a fixed generator.
    let mut state = 1_u64;
    let mut normal = || {
        let mut sum = -6.0;
        for _ in 0..12 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (state >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    };
    let values: Vec<f64> = minutes.clone().map(|_| (120.0 + 2.0 * normal()).round()).collect();
    let times: Vec<i64> = minutes.map(|m| START + m * MINUTE).collect();
    let t = Builder::new(Unit::MgDl).build(&times, &values).unwrap();
    let meals: Vec<i64> = (1..12).map(|i| i * 480).collect();
    let r = all(&t, &meals, &[], Targets::default());
    let noise = r.noise.as_ref().unwrap();
    // Between meals eight hours apart one window without food fits: ten of them, each an SD of
    // 42 readings with a standard error of 11 %, and rounding adds 1/12 to the variance.
    assert_eq!(noise.windows, 10);
    assert!((noise.sd_mg_dl - 2.02).abs() < 0.5, "{noise:?}");
    assert!(noise.autocorrelation < 0.2, "{noise:?}");
    let mean = |f: &dyn Fn(usize) -> f64| (0..11).map(f).sum::<f64>() / 11.0;
    let shown = mean(&|i| r.rows[i].rise_mg_dl.unwrap());
    let aware = mean(&|i| r.rows[i].rise_noise_aware_mg_dl.unwrap());
    // The expected maximum of 36 normal values is 2.1 SD.
    assert!((shown - 4.3).abs() < 1.5, "{shown}");
    assert!(aware.abs() < shown / 2.0, "{aware}");
    assert!(noise.floor_rise_mg_dl >= noise.median_rise_mg_dl);
}

/// Rows stand in order of time, however the meals came; every flag is documented.
#[test]
fn the_table() {
    let t = trace(grid(), wave);
    let r = all(&t, &[400, 100, 0], &[walk(10, 15.0)], Targets::default());
    let times: Vec<i64> = r.rows.iter().map(|row| (row.time_ms - START) / MINUTE).collect();
    assert_eq!(times, [0, 100, 400]);
    for flag in r.rows.iter().flat_map(|row| &row.flags) {
        assert!(FLAGS.iter().any(|f| f.0 == *flag), "{flag}");
    }
    let json = r.table().unwrap().to_json();
    assert!(!json.to_string().contains("NaN"));
}
