//! Pairing and lag on series whose answer is known.

use glycemic_core::align::{How, clock_error, delay, first_order_lag, lag, pair, shifted};
use glycemic_core::series::Builder;
use glycemic_core::{Meter, Trace, Unit};

const START: i64 = 1_741_000_000_000;
const MINUTE: i64 = 60_000;

/// Every eight hours up from 100 to 180 mg/dL in an hour, and down again in an hour: straight lines
/// with their corners on the sensor's grid, so that reading between its readings is exact.
fn blood(minute: f64) -> f64 {
    let place = minute.rem_euclid(480.0);
    100.0 + place.min(120.0 - place).max(0.0) * 80.0 / 60.0
}

/// A sensor that shows blood `late` minutes later, every five minutes for a week.
fn sensor(late: f64) -> Trace {
    let times: Vec<i64> = (0..2016).map(|i| START + i * 5 * MINUTE).collect();
    let values: Vec<f64> = (0..2016).map(|i| blood(f64::from(i) * 5.0 - late)).collect();
    Builder::new(Unit::MgDl).build(&times, &values).unwrap()
}

fn meter() -> Meter {
    let minutes: Vec<i64> = (0..40).map(|i| 90 + i * 223).collect();
    let times: Vec<i64> = minutes.iter().map(|m| START + m * MINUTE).collect();
    let values: Vec<f64> = minutes.iter().map(|&m| blood(m as f64)).collect();
    let context = vec![String::new(); times.len()];
    Meter::new(&times, &values, &context, Unit::MgDl).unwrap()
}

/// A sensor that is early has a lag below 0. This one is late as a whole, not by a first-order lag,
/// whose bend is allowed for: of a sine as long as a rise and fall (120 min) that is
/// 8 - atan(8 w)/w = 0.4 minutes. Bound: 1, with what smoothing does to the corners.
#[test]
fn a_known_lag_is_found() {
    for late in [-10.0, 0.0, 5.0, 15.0] {
        let found = lag(&meter(), &sensor(late), 0.95).unwrap();
        let error = found.value.unwrap() - late;
        assert!(error.abs() < 1.0, "{late}: {found:?}");
        assert!(found.low.unwrap() < found.high.unwrap(), "{late}: {found:?}");
    }
}

/// Blood by the minute for a week, of which the sensor shows a first-order lag of `tau`.
fn lagging(tau: f64, blood: impl Fn(f64) -> f64) -> Trace {
    let minutes: Vec<f64> = (0..10_080).map(f64::from).collect();
    let values: Vec<f64> = minutes.iter().map(|&m| blood(m)).collect();
    let lagged = first_order_lag(&minutes, &values, tau).unwrap();
    let times: Vec<i64> = (0..2016).map(|i| START + i * 5 * MINUTE).collect();
    let shown: Vec<f64> = lagged.iter().step_by(5).copied().collect();
    Builder::new(Unit::MgDl).build(&times, &shown).unwrap()
}

/// The time constant comes back, and the shift is the one at which the lagged curve, minute by
/// minute, lies nearest to blood. Noiseless; smoothing flattens the meals: bounds 1 and 1.5.
#[test]
fn a_first_order_lag_is_found_both_ways() {
    let meter = after_meals();
    for tau in [4.0, 8.0, 12.0] {
        let sensor = lagging(tau, meals);
        let nearest = best_shift(tau);
        let shift = lag(&meter, &sensor, 0.9).unwrap().value.unwrap();
        assert!((shift - nearest).abs() < 1.0, "{tau}: {shift}, {nearest}");
        let found = delay(&meter, &sensor, 0.0, 0.9).unwrap().value.unwrap();
        assert!((found - tau).abs() < 1.5, "{tau}: {found}");
        // By a clock that is told to be 30 minutes ahead.
        let late = shifted(&meter, -30.0).unwrap();
        let again = delay(&late, &sensor, 30.0, 0.9).unwrap().value.unwrap();
        assert!((again - found).abs() < 1e-9);
    }
}

fn best_shift(tau: f64) -> f64 {
    let minutes: Vec<f64> = (0..10_080).map(f64::from).collect();
    let blood: Vec<f64> = minutes.iter().map(|&m| meals(m)).collect();
    let lagged = first_order_lag(&minutes, &blood, tau).unwrap();
    let sum = |d: &usize| {
        lagged[*d..].iter().zip(&blood[..10_000]).map(|(s, b)| (s - b) * (s - b)).sum::<f64>()
    };
    (0..30).min_by(|a, b| sum(a).total_cmp(&sum(b))).unwrap() as f64
}

/// Flat glucose tells nothing about time, and the reason has the share of noise.
#[test]
fn flat_glucose_has_no_lag() {
    let flat = lagging(8.0, |_| 100.0);
    for found in [lag(&meter(), &flat, 0.9).unwrap(), delay(&meter(), &flat, 0.0, 0.9).unwrap()] {
        assert_eq!(found.value, None);
        let reason = found.reason.unwrap();
        assert_eq!(reason.code, "too_little_movement");
        assert!(reason.text.contains("100 %"), "{}", reason.text);
    }
}

/// Three meals a day whose size and hour change from day to day, so that days can't be taken for
/// one another; quiet nights.
#[allow(clippy::disallowed_methods, reason = "made data: its last bits don't matter")]
fn meals(minute: f64) -> f64 {
    let day = (minute / 1440.0).floor();
    let since = minute.rem_euclid(1440.0) - 600.0 - (day * 37.0) % 50.0;
    let up = |from: f64, size: f64| {
        let t = (since - from).max(0.0) / 45.0;
        size * (0.7 + 0.15 * ((day * 3.0) % 5.0)) * t * (1.0 - t).exp()
    };
    95.0 + up(0.0, 60.0) + up(260.0, 35.0) + up(530.0, 80.0)
}

fn after_meals() -> Meter {
    let minutes: Vec<i64> =
        (1..6).flat_map(|day| [560, 640, 690, 900, 1180, 1220].map(|m| day * 1440 + m)).collect();
    let times: Vec<i64> = minutes.iter().map(|m| START + m * MINUTE).collect();
    let values: Vec<f64> = minutes.iter().map(|&m| meals(m as f64)).collect();
    Meter::new(&times, &values, &vec![String::new(); times.len()], Unit::MgDl).unwrap()
}

/// A clock that is wrong by hours is suggested with its sign, and nothing is shifted unasked:
/// `lag` then has no value and says why; with the meter set back it has.
#[test]
fn a_wrong_hour_is_suggested_not_applied() {
    let sensor = lagging(8.0, meals);
    let right = after_meals();
    assert_eq!(clock_error(&right, &sensor).suggested_hours, None);
    for hours in [-12, -1, 1, 7, 12] {
        let wrong = shifted(&right, -60.0 * hours as f64).unwrap();
        let told = clock_error(&wrong, &sensor);
        assert_eq!(told.suggested_hours, Some(hours), "{:?}", &told.candidates[..3]);
        let sum: f64 = told.candidates.iter().map(|c| c.1).sum();
        assert!((sum - 1.0).abs() < 1e-9);
        let silent = lag(&wrong, &sensor, 0.9).unwrap();
        if hours.abs() > 1 {
            assert_eq!(silent.reason.map(|r| r.code).as_deref(), Some("clock_wrong_by_hours"));
        } else {
            assert!((silent.value.unwrap() + 60.0 * hours as f64 - 7.5).abs() < 3.0);
        }
        let mended = shifted(&wrong, 60.0 * hours as f64).unwrap();
        let (again, at_first) = (lag(&mended, &sensor, 0.9), lag(&right, &sensor, 0.9));
        assert_eq!(again.unwrap(), at_first.unwrap());
    }
}

/// Read later by the lag, the sensor shows what the meter showed.
#[test]
fn pairs_are_read_later_by_the_lag() {
    let pairs = pair(&meter(), &sensor(10.0), 5.0, How::Interpolate, 10.0).unwrap();
    assert_eq!((pairs.len(), pairs.unpaired.len()), (40, 0));
    for (r, m) in pairs.reference_mg_dl.iter().zip(&pairs.measured_mg_dl) {
        assert!((r - m).abs() < 1e-9, "{r} and {m}");
    }
}
