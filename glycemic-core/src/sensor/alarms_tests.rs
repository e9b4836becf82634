//! Traces whose alarms can be counted by hand.

use super::*;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000; // 2025-03-04T00:00Z
const STEP: i64 = 300_000;

fn trace(unit: Unit, values: &[f64], zone: bool) -> Trace {
    let times: Vec<i64> = (0..values.len() as i64).map(|i| START + i * STEP).collect();
    Builder::new(unit).clock(zone.then(|| LocalClock::fixed(0))).build(&times, values).unwrap()
}

fn places(all: &Alarms) -> Vec<i64> {
    all.alarms.iter().map(|a| (a.time_ms - START) / STEP).collect()
}

fn run(t: &Trace, levels: &[Level], rearm: Rearm) -> Alarms {
    alarms(t, levels, rearm, None, 0.0, &[], 0.95).unwrap()
}

#[test]
fn the_rule_of_arming_decides() {
    let mut values = vec![100.0; 40];
    values[5..20].fill(65.0);
    values[10] = 71.0;
    values[12] = 75.0;
    let t = trace(Unit::MgDl, &values, true);
    let low = [Level::low()];
    assert_eq!(places(&run(&t, &low, Rearm::Back { mg_dl: 0.0 })), [5, 11, 13]);
    assert_eq!(places(&run(&t, &low, Rearm::Back { mg_dl: 5.0 })), [5, 13]);
    assert_eq!(places(&run(&t, &low, Rearm::Back { mg_dl: 20.0 })), [5]);
    // Every half hour while it lasts.
    assert_eq!(places(&run(&t, &low, Rearm::Snooze { minutes: 30.0 })), [5, 11, 17]);
}

/// 70 mg/dL is no low, 3.8 mmol/L (68.5 mg/dL) is, 3.9 is not; 10.0 mmol/L is no high.
#[test]
fn classified_in_the_unit_of_the_reading() {
    let both = [Level::low(), Level::high()];
    let mg = trace(Unit::MgDl, &[100.0, 70.0, 69.0, 100.0, 180.0, 181.0], true);
    assert_eq!(places(&run(&mg, &both, Rearm::default())), [2, 5]);
    let mmol = trace(Unit::MmolL, &[5.5, 3.9, 3.8, 5.5, 10.0, 10.1], true);
    assert_eq!(places(&run(&mmol, &both, Rearm::default())), [2, 5]);
}

/// Ten days with a low at 03:00 and a high at 13:00 each.
#[test]
fn rates_hours_and_nights() {
    let mut values = vec![110.0; 2880];
    for day in 0..10 {
        values[day * 288 + 36] = 60.0;
        values[day * 288 + 156] = 200.0;
    }
    let t = trace(Unit::MgDl, &values, true);
    let all = run(&t, &[Level::low(), Level::high()], Rearm::default());
    let [low, high] = &all.levels[..] else { panic!("{:?}", all.levels) };
    assert_eq!((low.n, low.per_day.value, low.per_night.value), (10, Some(1.0), Some(1.0)));
    assert_eq!((high.n, high.per_day.value, high.per_night.value), (10, Some(1.0), Some(0.0)));
    assert_eq!(low.by_hour.clone().unwrap()[3], 10);
    assert_eq!(high.by_hour.clone().unwrap()[13], 10);
    // Garwood (1936): ten events, 4.795 to 18.390.
    assert!((low.per_day.low.unwrap() - 0.4795).abs() < 1e-4);
    assert!((low.per_day.high.unwrap() - 1.8390).abs() < 1e-4);
    assert_eq!(low.confirmed_pct.reason.as_ref().unwrap().code, "nobody_checked");
    let floating = run(&trace(Unit::MgDl, &values, false), &[Level::low()], Rearm::default());
    assert_eq!(floating.levels[0].per_night.reason.as_ref().unwrap().code, "no_zone");
    assert!(floating.levels[0].by_hour.is_err() && floating.levels[0].per_day.estimable());
}

#[test]
fn the_meter_and_the_notes() {
    let mut values = vec![110.0; 288];
    for place in [20, 60, 100, 140] {
        values[place] = 60.0;
    }
    let t = trace(Unit::MgDl, &values, true);
    let at = |place: i64, minutes: i64| START + place * STEP + minutes * 60_000;
    // Twelve minutes ahead: 14 min late as written is 2 min late, 28 is 16.
    let times = [at(20, 14), at(60, 28), at(100, 0), at(140, 30)];
    let meter =
        Meter::new(&times, &[62.0, 60.0, 95.0, 60.0], &vec![String::new(); 4], Unit::MgDl).unwrap();
    let noted = |time_ms: i64| WearEvent { time_ms, kind: EventKind::Alarm, sensor: None };
    let notes = [noted(at(20, 3)), noted(at(20, 1)), noted(at(200, 0)), noted(at(140, -15))];
    let low = [Level::low()];
    let all = alarms(&t, &low, Rearm::default(), Some(&meter), 12.0, &notes, 0.95).unwrap();
    let said: Vec<Checked> = all.alarms.iter().map(|a| a.checked).collect();
    use Checked::*;
    assert_eq!(said, [Confirmed, Nobody, Contradicted, Nobody]);
    let written: Vec<Option<i64>> = all.alarms.iter().map(|a| a.noted_ms).collect();
    assert_eq!(written, [Some(at(20, 1)), None, None, Some(at(140, -15))]);
    assert_eq!(all.noted_only_ms, [at(20, 3), at(200, 0)]);
    let s = &all.levels[0];
    assert_eq!((s.confirmed, s.contradicted, s.nobody_checked, s.noted), (1, 1, 2, 2));
    // One of two: Clopper and Pearson, 1.26 to 98.74 %.
    assert_eq!(s.confirmed_pct.value, Some(50.0));
    assert!((s.confirmed_pct.low.unwrap() - 1.258).abs() < 1e-3);
    assert_eq!(all.table().unwrap().rows(), 4);
}

#[test]
fn bad_options_are_refused_and_nothing_advises_silence() {
    let t = trace(Unit::MgDl, &[100.0; 3], true);
    let back = Rearm::Back { mg_dl: f64::NAN };
    assert!(alarms(&t, &[Level::low()], back, None, 0.0, &[], 0.95).is_err());
    assert!(alarms(&t, &[], Rearm::default(), None, 0.0, &[], 0.95).is_err());
    let odd = Level { limit: Limit { mg_dl: -1.0, mmol_l: 3.0 }, ..Level::low() };
    assert!(alarms(&t, &[odd], Rearm::default(), None, 0.0, &[], 0.95).is_err());
    assert!(CAUTION.contains("no reason to switch one off"));
}
