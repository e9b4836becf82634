//! Nights made by hand: plateaus, slow lows, meters, gaps.

use super::*;
use crate::clock::LocalClock;
use crate::series::{Builder, Censor};
use crate::stats::random::Random;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000; // 2025-03-04T00:00Z
const STEP: i64 = 300_000;

/// Two nights at 95 mg/dL with a noise of 1.5, less what `off` takes away at a minute.
fn trace(off: impl Fn(f64) -> f64) -> Trace {
    let mut random = Random::keyed(11, 0, 0);
    let times: Vec<i64> = (0..576).map(|i| START + i * STEP).collect();
    let values: Vec<f64> = (0..576)
        .map(|i| (95.0 + 1.5 * random.normal() - off(5.0 * f64::from(i))).round())
        .collect();
    built(&times, &values, &vec![Censor::None; 576])
}

fn built(times: &[i64], values: &[f64], censor: &[Censor]) -> Trace {
    let clock = Some(LocalClock::fixed(0));
    Builder::new(Unit::MgDl).clock(clock).build_censored(times, values, censor).unwrap()
}

/// 30 mg/dL off from 02:00 to 02:45, edges of ten minutes.
fn plateau(minute: f64) -> f64 {
    30.0 * ((minute - 120.0) / 10.0).min((165.0 - minute) / 10.0).clamp(0.0, 1.0)
}

/// A low of 35 mg/dL that comes and goes at 1 mg/dL per minute, below for half an hour.
fn slow(minute: f64) -> f64 {
    (minute - 120.0).min(220.0 - minute).clamp(0.0, 35.0)
}

fn look(t: &Trace, meter: Option<&Meter>) -> PressureLows {
    pressure_lows(t, &[], &[], meter, &PressureOptions::default()).unwrap()
}

#[test]
fn a_plateau_is_found_where_it_is() {
    let found = look(&trace(plateau), None);
    assert_eq!(found.at_least(0.5).count(), 1, "{:?}", found.dips);
    let dip = found.at_least(0.5).next().unwrap();
    assert!((dip.start_ms - START - 120 * MINUTE).abs() <= 10 * MINUTE);
    assert!((dip.end_ms - START - 165 * MINUTE).abs() <= 10 * MINUTE);
    assert!(dip.depth_mg_dl.covers(30.0), "{:?}", dip.depth_mg_dl);
    assert!(dip.probability > 0.95 && dip.faster_than_glucose && dip.reads_low);
    assert_eq!((dip.night, dip.after_meal_min, dip.activity_near), (Some(true), None, false));
    assert!(found.noise_assumed && found.reason.is_none());
    assert_eq!(found.table().unwrap().rows(), found.dips.len());
}

/// What resting glucose can do, 1 mg/dL per minute, is not called pressure.
#[test]
fn a_slow_low_is_left_alone() {
    let found = look(&trace(slow), None);
    assert_eq!(found.at_least(0.5).count(), 0, "{:?}", found.dips);
    assert_eq!(look(&trace(|_| 0.0), None).dips, []);
}

#[test]
fn the_meter_speaks_for_either_side() {
    let t = trace(|m| 0.6 * plateau(m));
    let with = |glucose: Option<f64>| {
        let meter = glucose.map(|g| {
            Meter::new(&[START + 145 * MINUTE], &[g], &[String::new()], Unit::MgDl).unwrap()
        });
        let options = PressureOptions { least_probability: 0.0, ..PressureOptions::default() };
        let found = pressure_lows(&t, &[], &[], meter.as_ref(), &options).unwrap();
        // A low that the meter confirmed is never called pressure, however probable it was.
        let low = |d: &&Dip| d.meter.is_some_and(|m| m.says == Says::TrueLow);
        let lows = found.dips.iter().filter(low).count();
        assert_eq!(found.at_least(0.0).count(), found.dips.len() - lows);
        assert_eq!(lows > 0, glucose == Some(62.0));
        let near = |d: &&Dip| (d.start_ms - START - 120 * MINUTE).abs() <= 15 * MINUTE;
        found.dips.iter().find(near).cloned().unwrap()
    };
    let silent = with(None).probability;
    let (high, low) = (with(Some(108.0)), with(Some(62.0)));
    assert!(high.probability > silent && low.probability < silent, "{high:?} {low:?}");
    assert_eq!(high.meter.map(|m| (m.says, m.minutes_away)), Some((Says::Pressure, 0.0)));
    assert_eq!(low.meter.map(|m| m.says), Some(Says::TrueLow));
}

/// Nothing is looked for beside a gap, and the days looked at say so.
#[test]
fn beside_a_gap_nothing_is_looked_for() {
    let whole = trace(plateau);
    let kept = |i: &usize| !(38..50).contains(i);
    let places: Vec<usize> = (0..576).filter(kept).collect();
    let times: Vec<i64> = places.iter().map(|i| whole.times_ms()[*i]).collect();
    let values: Vec<f64> = places.iter().map(|i| whole.glucose_mg_dl()[*i]).collect();
    let cut = built(&times, &values, &vec![Censor::None; times.len()]);
    let (all, less) = (look(&whole, None), look(&cut, None));
    assert_eq!(less.at_least(0.3).count(), 0, "{:?}", less.dips);
    assert!(less.looked_at_days < all.looked_at_days);
    // A window of 45 + 45 + 45 min fits at 576 - 27 places.
    assert!((all.looked_at_days - 549.0 * 5.0 / 1440.0).abs() < 1e-9);
}

#[test]
fn readings_at_the_limit_are_no_dip() {
    let t = trace(|m| if (120.0..165.0).contains(&m) { 55.0 } else { 0.0 });
    let values: Vec<f64> = t.glucose_mg_dl().iter().map(|v| v.max(50.0)).collect();
    let censor: Vec<Censor> =
        values.iter().map(|v| if *v <= 50.0 { Censor::Low } else { Censor::None }).collect();
    let found = look(&built(t.times_ms(), &values, &censor), None);
    assert_eq!(found.at_least(0.3).count(), 0, "{:?}", found.dips);
}

#[test]
fn what_can_not_be_told_says_why() {
    let times: Vec<i64> = (0..200).map(|i| START + i * 900_000).collect();
    let sparse = built(&times, &[100.0; 200], &[Censor::None; 200]);
    let reason = look(&sparse, None).reason.unwrap();
    assert_eq!(reason.code, "readings_too_far_apart");
    let short = built(&times[..1], &[100.0], &[Censor::None]);
    assert!(look(&short, None).dips.is_empty() && look(&short, None).reason.is_some());
    for bad in [
        PressureOptions { per_night: f64::NAN, ..PressureOptions::default() },
        PressureOptions { least_probability: 1.5, ..PressureOptions::default() },
        PressureOptions { level: 0.0, ..PressureOptions::default() },
    ] {
        assert!(pressure_lows(&sparse, &[], &[], None, &bad).is_err());
    }
}

/// The second panel lacks the dip's readings and nothing else.
#[test]
fn the_panel_with_and_without() {
    let t = trace(plateau);
    let found = look(&t, None);
    let both = beside(&t, &found, 0.5, &[], 0.95).unwrap();
    let dip = found.at_least(0.5).next().unwrap();
    assert_eq!((both.dips, both.readings), (1, (dip.minutes / 5.0) as usize + 1));
    let below = t.glucose_mg_dl().iter().filter(|v| **v < 70.0).count();
    let (id, with, without) = &both.rows[1];
    assert_eq!(id.measure().name, "below_70_pct");
    assert!((with.value.unwrap() - 100.0 * below as f64 / 576.0).abs() < 1e-9);
    assert_eq!(without.value, Some(0.0));
    assert_eq!(both.table().unwrap().rows(), BESIDE.len());
    assert!(beside(&t, &found, f64::NAN, &[], 0.95).is_err());
    assert!(CAUTION.contains("can't be excluded without a meter reading"));
}
