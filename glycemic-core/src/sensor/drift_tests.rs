use super::*;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::stats::random::Random;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000;
const STEP: i64 = 300_000;

/// Days of five-minute readings by a function of the day since the start.
fn trace(days: i64, glucose: impl Fn(f64) -> f64) -> Trace {
    let times: Vec<i64> = (0..days * 288).map(|i| START + i * STEP).collect();
    let values: Vec<f64> =
        times.iter().map(|t| glucose((t - START) as f64 / 86_400_000.0)).collect();
    let clock = Some(LocalClock::fixed(0));
    Builder::new(Unit::MgDl).clock(clock).build(&times, &values).unwrap()
}

fn meter(times: &[i64], values: &[f64]) -> Meter {
    Meter::new(times, values, &vec![String::new(); times.len()], Unit::MgDl).unwrap()
}

/// A sensor that gains 1 % a day on a meter at 80 and 200 in turn: 1.01 percent points a day by the
/// percent scale whatever the level.
#[test]
fn in_proportion() {
    let times: Vec<i64> =
        (2..12).flat_map(|d| [0, 1].map(|h| START + (d * 288 + h * 24) * STEP)).collect();
    let shown: Vec<f64> = (0..20).map(|i| if i % 2 == 0 { 80.0 } else { 200.0 }).collect();
    let days = |t: i64| (t - START) as f64 / 86_400_000.0;
    let level = |t: i64| times.iter().position(|p| *p == t).map_or(100.0, |i| shown[i]);
    let all: Vec<i64> = (0..13 * 288).map(|i| START + i * STEP).collect();
    let values: Vec<f64> = all.iter().map(|&t| level(t) * (1.0 + 0.01 * days(t))).collect();
    let trace = Builder::new(Unit::MgDl).build(&all, &values).unwrap();
    let slow = Pairing { fastest_mg_dl_min: 100.0, ..Pairing::default() };
    let found = drift(&meter(&times, &shown), &trace, slow, 0.9).unwrap();
    assert!((found[0].pct_day.value.unwrap() - 1.0).abs() < 1e-9, "{found:?}");
    // At 140 on average.
    assert!((found[0].mg_dl_day.value.unwrap() - 1.4).abs() < 0.2);
}

/// Two sensors have a drift each; too few days are said to be.
#[test]
fn each_sensor_has_its_own() {
    let trace = trace(20, |d| 100.0 + if d < 10.0 { d } else { -(d - 10.0) })
        .with_breaks(vec![START, START + 10 * 86_400_000]);
    let times: Vec<i64> = (1..20).map(|d| START + d * 86_400_000 + 3_600_000).collect();
    let found = drift(&meter(&times, &[100.0; 19]), &trace, Pairing::default(), 0.9).unwrap();
    let slopes: Vec<f64> = found.iter().map(|d| d.mg_dl_day.value.unwrap()).collect();
    assert!((slopes[0] - 1.0).abs() < 1e-9 && (slopes[1] + 1.0).abs() < 1e-9, "{slopes:?}");
    let few = drift(&meter(&times[..4], &[100.0; 4]), &trace, Pairing::default(), 0.9).unwrap();
    let reason = few[0].mg_dl_day.reason.clone().unwrap();
    assert_eq!((reason.code.as_str(), reason.had), ("too_few_days", Some(4.0)));
    assert!(drift(&Meter::default(), &trace, Pairing::default(), 1.5).is_err());
    let bad = Pairing { lag_min: f64::NAN, ..Pairing::default() };
    assert!(drift(&Meter::default(), &trace, bad, 0.9).is_err());
}

/// Of 400 intervals at 90 % for a drift of 0.5, with values of a day linked (SD 3 between days, 3 within),
/// 344 to 378 hold it except once in a hundred (binomial 0.90, 0.5 % each side).
#[test]
fn intervals_hold_where_days_are_linked() {
    let mut covered = 0;
    for k in 0..400 {
        let mut random = Random::keyed(11, 0, k);
        let (mut x, mut y, mut day) = (Vec::new(), Vec::new(), Vec::new());
        for d in 1..13_i64 {
            let shared = 3.0 * random.normal();
            for i in 0..1 + d % 4 {
                x.push(d as f64 + 0.2 * i as f64);
                y.push(0.5 * d as f64 + 0.1 * i as f64 + shared + 3.0 * random.normal());
                day.push(d);
            }
        }
        covered += usize::from(sloped(&x, &y, &day, 12.0, 0.9, "").covers(0.5));
    }
    assert!((344..=378).contains(&covered), "{covered}");
}

#[test]
fn fasting_without_a_meter_is_labelled() {
    let rising = trace(10, |d| 90.0 + 2.0 * d);
    let (_, e) = &fasting_drift(&rising, &[], 0.9).unwrap()[0];
    assert!((e.value.unwrap() - 2.0).abs() < 1e-6 && e.method.contains("could be the person"));
    assert!(fasting_drift(&trace(3, |_| 90.0), &[], 0.9).unwrap()[0].1.value.is_none());
}
