//! Gaps planted by hand; every count can be worked out.

use super::*;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000; // 2025-03-04T00:00Z
const STEP: i64 = 300_000;

fn trace(places: impl Iterator<Item = i64>) -> Trace {
    let times: Vec<i64> = places.map(|i| START + i * STEP).collect();
    let clock = Some(LocalClock::fixed(0));
    Builder::new(Unit::MgDl).clock(clock).build(&times, &vec![100.0; times.len()]).unwrap()
}

fn event(time_ms: i64, event: &str, sensor: &str) -> WearEvent {
    WearEvent { time_ms, kind: event.parse().unwrap(), sensor: Some(sensor.into()) }
}

/// Two sensors of two days; the second is inserted at the start of the third day and waits an
/// hour. Lost: one reading at 02:00, 11 from 10:05 on the first day; 40 on the last.
fn two_sensors() -> (Trace, Vec<WearEvent>) {
    let here = |i: &i64| {
        *i != 24 && !(121..132).contains(i) && !(576..588).contains(i) && !(1000..1040).contains(i)
    };
    let t = trace((0..1152).filter(here));
    let events = vec![
        event(START, "inserted", "A"),
        event(START + 570 * STEP, "failed", "A"),
        event(START + 576 * STEP, "removed", "A"),
        event(START + 576 * STEP, "inserted", "B"),
    ];
    (t, events)
}

#[test]
fn everything_planted_is_counted() {
    let (t, events) = two_sensors();
    let found = drop_outs(&t, &events, 12.0, 0.95).unwrap();
    let seen: Vec<(f64, usize, Option<usize>)> =
        found.drop_outs.iter().map(|o| (o.minutes, o.lost, o.hour)).collect();
    assert_eq!(seen, [(10.0, 1, Some(1)), (60.0, 11, Some(10)), (205.0, 40, Some(11))]);
    assert_eq!(found.by_length, [1, 1, 0, 1]);
    let hours = found.lost_by_hour.clone().unwrap();
    assert_eq!((hours[1], hours[10], hours[11], hours.iter().sum::<usize>()), (1, 11, 40, 52));
    assert_eq!(found.failed, 1);
    let [a, b] = &found.sensors[..] else { panic!("{:?}", found.sensors) };
    assert_eq!((a.capture.readings, a.capture.expected, a.failed), (564, 576, true));
    assert_eq!((a.wait_min, b.wait_min), (Some(0.0), Some(60.0)));
    assert_eq!((b.capture.readings, b.capture.expected, b.failed), (524, 564, false));
    assert_eq!(b.capture.capture_pct, Some(100.0 * 524.0 / 564.0));
    // The first 144 readings of A should be there: 12 are not.
    assert!((a.first_hours_lost_pct.unwrap() - 100.0 * 12.0 / 144.0).abs() < 1e-9);
    assert_eq!(b.first_hours_lost_pct, Some(0.0));
    let days: Vec<(usize, usize)> =
        found.by_wear_day.iter().map(|d| (d.readings, d.expected)).collect();
    assert_eq!(days, [(276, 288), (288, 288), (276, 276), (248, 288)]);
    // Three in 3.958 days seen.
    assert!((found.per_day.value.unwrap() - 3.0 / (1140.0 / 288.0)).abs() < 1e-9);
    assert_eq!(found.capture_table().unwrap().rows(), 6);
    assert_eq!(found.table().unwrap().rows(), 3);
}

#[test]
fn the_change_of_sensor_is_no_drop_out_without_events_either() {
    let (t, _) = two_sensors();
    let t = t.with_breaks(vec![START + 576 * STEP]);
    let found = drop_outs(&t, &[], 12.0, 0.95).unwrap();
    assert_eq!(found.drop_outs.len(), 3);
    assert_eq!((found.sensors[1].wait_min, found.failed), (None, 0));
}

#[test]
fn nothing_lost_is_a_bound_and_bad_options_are_refused() {
    let t = trace(0..5 * 288);
    let found = drop_outs(&t, &[], 12.0, 0.95).unwrap();
    assert_eq!((found.per_day.value, found.per_day.low), (Some(0.0), Some(0.0)));
    // exp(-5 x) = 0.025.
    assert!((found.per_day.high.unwrap() - 0.737_776).abs() < 1e-5);
    assert_eq!(found.sensors[0].capture.capture_pct, Some(100.0));
    assert!(drop_outs(&t, &[], f64::NAN, 0.95).is_err());
    assert!(drop_outs(&t, &[], 12.0, 1.0).is_err());
}
