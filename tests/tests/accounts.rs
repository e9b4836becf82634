//! Pairing by rules, how much the rules matter, and the accounts of a study: what is known by
//! hand, and what must hold for any data.

use glycemic_core::agreement::design::{Standard, State, checklist};
use glycemic_core::align::*;
use glycemic_core::clock::LocalClock;
use glycemic_core::sensor::accounts::*;
use glycemic_core::series::{Builder, Censor};
use glycemic_core::stats::survival::{cumulative_incidence, kaplan_meier};
use glycemic_core::table::Items;
use glycemic_core::{Meter, Table, Trace, Unit};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const START: i64 = 1_741_046_400_000; // 2025-03-04T00:00Z
const MINUTE: i64 = 60_000;
const DAY: i64 = 1440 * MINUTE;

fn at(minutes: i64) -> i64 {
    START + minutes * MINUTE
}

/// Readings every five minutes; the value names the reading: 60, 60.1, ... and again.
fn trace(readings: i64) -> Trace {
    let times: Vec<i64> = (0..readings).map(|i| at(5 * i)).collect();
    let values: Vec<f64> = (0..readings).map(|i| 60.0 + (i % 2000) as f64 / 10.0).collect();
    Builder::new(Unit::MgDl).build(&times, &values).unwrap()
}

fn meter(readings: &[(i64, f64)]) -> Meter {
    let times: Vec<i64> = readings.iter().map(|r| at(r.0)).collect();
    let values: Vec<f64> = readings.iter().map(|r| r.1).collect();
    Meter::new(&times, &values, &vec![String::new(); times.len()], Unit::MgDl).unwrap()
}

fn event(minutes: i64, kind: EventKind, sensor: &str) -> WearEvent {
    WearEvent { time_ms: at(minutes), kind, sensor: Some(sensor.to_string()) }
}

fn reasons(pairs: &Pairs) -> Vec<&'static str> {
    pairs.unpaired.iter().map(|u| u.why).collect()
}

/// Readings at 9, 11 and 20: the first two are nearest to the sensor's reading at 10, equally
/// near, and are 2 minutes apart.
#[test]
fn a_sensor_reading_is_used_once() {
    let readings = meter(&[(9, 100.0), (11, 100.0), (20, 100.0)]);
    let each = PairOptions { bursts: Bursts::Each, ..PairOptions::default() };
    let once = pair_with(&readings, &trace(100), &[], &each).unwrap();
    assert_eq!((once.times_ms, once.away_min), (vec![at(9), at(20)], vec![1.0, 0.0]));
    assert_eq!(once.unpaired[0].why, "sensor_reading_used");
    let many = PairOptions { once: false, ..each };
    let many = pair_with(&readings, &trace(100), &[], &many).unwrap();
    assert_eq!(many.measured_mg_dl, [60.2, 60.2, 60.4]);
    // As a burst they are one value at 9 minutes.
    let burst = pair_with(&readings, &trace(100), &[], &PairOptions::default()).unwrap();
    assert_eq!((burst.readings, burst.unpaired.len()), (vec![2, 1], 0));
    let first = PairOptions { bursts: Bursts::First, ..PairOptions::default() };
    let first = pair_with(&readings, &trace(100), &[], &first).unwrap();
    assert_eq!((first.readings, first.left_in_bursts), (vec![1, 1], 1));
}

/// A calibration at 60: readings from 45 to 61 minutes are left out, those at 44 and 62 are not.
#[test]
fn readings_about_a_calibration_are_left_out() {
    let events = [event(60, EventKind::Calibrated, "A")];
    let options = PairOptions::default();
    for (minute, kept) in [(44, true), (45, false), (60, false), (61, false), (62, true)] {
        let readings = meter(&[(20, 90.0), (minute, 91.0)]);
        let pairs = pair_with(&readings, &trace(100), &events, &options).unwrap();
        assert_eq!(pairs.len(), if kept { 2 } else { 1 }, "{minute}");
        assert!(reasons(&pairs).iter().all(|why| *why == "calibration"));
        let inside = PairOptions { calibrations_in: true, ..PairOptions::default() };
        assert_eq!(pair_with(&readings, &trace(100), &events, &inside).unwrap().len(), 2);
    }
}

/// Two sensors, the second from 600 minutes on; local time is an hour ahead of UTC.
#[test]
fn wear_day_sensor_and_local_hour() {
    let times: Vec<i64> = (0..1000).map(|i| at(5 * i)).collect();
    let sensor = Builder::new(Unit::MgDl)
        .clock(Some(LocalClock::fixed(60)))
        .build(&times, &[100.0; 1000])
        .unwrap()
        .with_breaks(vec![at(600)]);
    let events = [
        event(-30, EventKind::Inserted, "A"),
        event(580, EventKind::Removed, "A"),
        event(600, EventKind::Inserted, "B"),
    ];
    let readings = meter(&[(30, 90.0), (590, 90.0), (610, 90.0), (600 + 1440, 90.0)]);
    let pairs = pair_with(&readings, &sensor, &events, &PairOptions::default()).unwrap();
    let name = |s: &str| Some(s.to_string());
    assert_eq!(pairs.sensor, [name("A"), None, name("B"), name("B")]);
    assert_eq!(pairs.wear_day, [Some(1), None, Some(1), Some(2)]);
    assert_eq!(pairs.local_hour[0], Some(1.5));
    // A flat line rises by 0 where it is one sensor's; about the change of sensors none is told.
    assert_eq!(pairs.rate_mg_dl_min, [Some(0.0), Some(0.0), Some(0.0), Some(0.0)]);
    let near = pair_with(&meter(&[(597, 90.0)]), &sensor, &events, &PairOptions::default());
    let near = near.unwrap();
    assert_eq!(near.rate_mg_dl_min, [None]);
    // Without a reading of the old sensor near, the new one's does not stand in.
    let hole: Vec<i64> = (0..1000).filter(|i| !(110..120).contains(i)).map(|i| at(5 * i)).collect();
    let sensor = Builder::new(Unit::MgDl).build(&hole, &vec![100.0; 990]).unwrap();
    let sensor = sensor.with_breaks(vec![at(599)]);
    let alone = pair_with(&meter(&[(597, 90.0)]), &sensor, &[], &PairOptions::default()).unwrap();
    assert_eq!(reasons(&alone), ["no_reading_near"]);
}

#[test]
fn pairs_outside_a_range_are_kept_apart() {
    let options = PairOptions {
        sensor_range_mg_dl: Some((61.0, 200.0)),
        meter_range_mg_dl: Some((20.0, 150.0)),
        ..PairOptions::default()
    };
    // The sensor shows 60.4, 62, 62.4 and 64.
    let readings = meter(&[(20, 70.0), (100, 70.0), (120, 151.0), (200, 150.0)]);
    let pairs = pair_with(&readings, &trace(1000), &[], &options).unwrap();
    assert_eq!(pairs.reference_mg_dl, [70.0, 150.0]);
    let apart: Vec<_> = pairs.outside.iter().map(|o| (o.why, o.measured_mg_dl)).collect();
    assert_eq!(apart, [("sensor_low", 60.4), ("meter_high", 62.4)]);
    // A reading that only says low has no value: the plain call has it without a pair.
    let times: Vec<i64> = (0..10).map(|i| at(5 * i)).collect();
    let mut censor = vec![Censor::None; 10];
    censor[4] = Censor::Low;
    let low = Builder::new(Unit::MgDl).build_censored(&times, &[80.0; 10], &censor).unwrap();
    let pairs = pair_with(&readings, &low, &[], &PairOptions::default()).unwrap();
    assert_eq!(pairs.outside[0].why, "sensor_low");
    let plain = pair(&readings, &low, 5.0, How::Nearest, 0.0).unwrap();
    assert_eq!(plain.unpaired[0].why, "sensor_at_limit");
    assert!(plain.outside.is_empty());
}

/// Up and down by 80 mg/dL in an hour each; the sensor shows it 20 minutes later.
fn late() -> (Meter, Trace) {
    let blood = |minute: f64| {
        let place = minute.rem_euclid(120.0);
        100.0 + place.min(120.0 - place) * 80.0 / 60.0
    };
    let times: Vec<i64> = (0..2016).map(|i| at(5 * i)).collect();
    let values: Vec<f64> = (0..2016).map(|i| blood(f64::from(i) * 5.0 - 20.0)).collect();
    let readings: Vec<(i64, f64)> =
        (0..40).map(|i| 90 + i * 223).map(|m| (m, blood(m as f64))).collect();
    (meter(&readings), Builder::new(Unit::MgDl).build(&times, &values).unwrap())
}

/// Interpolated and read 20 minutes later, the late sensor is exact; read at the meter's time it
/// is off by 20 minutes times 80 / 60 mg/dL where glucose moves steadily.
#[test]
fn the_lag_changes_the_figures_and_the_verdict() {
    let (readings, sensor) = late();
    let base = PairOptions::default();
    let found = pairing_sensitivity(&readings, &sensor, &[], Some(20.0), &base, 0.95).unwrap();
    assert_eq!(found.rows.len(), 4 * 2 * 2);
    let mard = &found.spread[0];
    assert!(mard.lowest < 1e-9 && mard.highest > 5.0, "{mard:?}");
    let effect = |name| mard.by_choice.iter().find(|c| c.0 == name).unwrap().1;
    assert!(effect("lag") > effect("how") && effect("how") > 0.0, "{mard:?}");
    assert_eq!(effect("calibrations"), 0.0);
    assert!(found.verdicts_that_change.contains(&"share_95"), "{found:?}");
    // 40 pairs are too few for the standard by any rule.
    assert!(!found.verdicts_that_change.contains(&"iso"));
    assert_eq!(found.to_table().unwrap().rows(), 16);
    let few = meter(&[(10, 100.0)]);
    let few = pairing_sensitivity(&few, &sensor, &[], None, &base, 0.95).unwrap();
    assert_eq!(few.reason.unwrap().code, "too_few_pairs");
    assert!(few.spread.is_empty() && few.verdicts_that_change.is_empty());
}

fn record(person: usize, sensor: usize, days: f64, end: End) -> SensorRecord {
    SensorRecord {
        sensor: sensor.to_string(),
        person: person.to_string(),
        lot: Some(format!("L{}", sensor % 2)),
        site: None,
        inserted_ms: START,
        ended_ms: START + (days * DAY as f64) as i64,
        end,
        length_days: Some(2.0),
    }
}

#[test]
fn nothing_all_censored_and_one_pair_each() {
    let none = accounts(&[], &AccountOptions::default()).unwrap();
    assert_eq!(none.lasts.reason.as_ref().unwrap().code, "no_sensors");
    assert!(none.by_part.is_empty() && none.survival.is_none() && none.flows[0].had == 0);
    let sensor = trace(576);
    let one = meter(&[(100, 62.0)]);
    let records: Vec<SensorRecord> = (0..3).map(|p| record(p, 0, 2.0, End::Completed)).collect();
    let worn: Vec<Worn<'_>> = records
        .iter()
        .map(|record| Worn { record, trace: Some(&sensor), meter: &one, calibrated_ms: &[] })
        .collect();
    let found = accounts(&worn, &AccountOptions::default()).unwrap();
    // None failed: all last, with the exact bound for three of three.
    assert_eq!(found.lasts.value, Some(1.0));
    let low = found.lasts.low.unwrap();
    assert!((low * low * low - 0.025).abs() < 1e-12);
    assert!(found.causes.is_empty() && found.incidence.is_empty());
    assert_eq!(found.spread.reason.as_ref().unwrap().code, "too_few_sensors");
    assert_eq!(found.by_part[0].n, 3);
    assert_eq!(found.repeatability.sd_mg_dl.value, None);
    assert_eq!(found.sensor_table().unwrap().rows(), 3);
    let rows = checklist(Standard::Icgm, &found.design()).unwrap();
    let state = |what| rows.iter().find(|r| r.what == what).unwrap().state;
    assert_eq!((state("persons"), state("comparator")), (State::Met, State::Unknown));
    // Readings over 576 intervals of 5 minutes.
    assert_eq!((found.sensors[0].expected, found.sensors[0].readings), (Some(576), 576));
    assert_eq!((found.capture_pct(), none.capture_pct()), (Some(100.0), None));
    let mut bad = records[0].clone();
    bad.ended_ms = bad.inserted_ms;
    let bad = Worn { record: &bad, ..worn[0] };
    assert_eq!(accounts(&[worn[0], bad], &AccountOptions::default()).unwrap_err().index(), Some(1));
}

/// Thirds of two days: 16 and 32 hours.
#[test]
fn groups_are_thirds_lots_and_sites() {
    let sensor = trace(600);
    let readings: Vec<(i64, f64)> = (1..48).map(|h| (60 * h + 1, 100.0)).collect();
    let readings = meter(&readings);
    let records = [record(0, 0, 2.0, End::Completed), record(1, 1, 1.0, End::Failed("x".into()))];
    let worn: Vec<Worn<'_>> = records
        .iter()
        .map(|record| Worn { record, trace: Some(&sensor), meter: &readings, calibrated_ms: &[] })
        .collect();
    let found = accounts(&worn, &AccountOptions::default()).unwrap();
    let n = |rows: &[glycemic_core::agreement::AccuracyRow], group: Option<&str>| {
        rows.iter().find(|r| r.group.as_deref() == group).map(|r| r.n)
    };
    // Hours 1-15, 16-31 and 32-47 of the first, 1-15 and 16-23 of the second.
    assert_eq!(n(&found.by_part, None), Some(47 + 23));
    assert_eq!(n(&found.by_part, Some("begin")), Some(30));
    assert_eq!(n(&found.by_part, Some("middle")), Some(16 + 8));
    assert_eq!(n(&found.by_part, Some("end")), Some(16));
    assert_eq!(n(&found.by_lot, Some("L1")), Some(23));
    assert_eq!(n(&found.by_site, Some("unknown")), Some(70));
    assert_eq!(found.lasts.value, Some(0.5));
    assert_eq!((found.causes.len(), found.incidence[0].incidence), (1, 0.5));
    assert_eq!(found.level_rate.iter().map(|r| r.n).sum::<usize>(), 70);
    // The tables that other languages read say the same.
    let pairs = found.pairs_table().unwrap();
    let words = |t: &Table, name: &str| match &t.column(name).unwrap().items {
        Items::Text(words) => words.clone(),
        _ => panic!("{name} is no text"),
    };
    let of = |person: &str| words(&pairs, "person").iter().filter(|p| *p == person).count();
    assert_eq!((pairs.rows(), of("0"), of("1")), (70, 47, 23));
    let incidence = found.incidence_table().unwrap();
    assert_eq!(words(&incidence, "cause"), ["x"]);
    assert_eq!(found.survival_table().unwrap().rows(), 1);
    assert_eq!(found.summary_table().unwrap().rows(), 1);
}

fn options() -> impl Strategy<Value = PairOptions> {
    let range = prop::option::of((60.0..120.0_f64, 120.0..260.0_f64));
    let burst = prop::sample::select(vec![Bursts::Averaged, Bursts::First, Bursts::Each]);
    let how = prop::sample::select(vec![How::Nearest, How::Interpolate]);
    let plain = (0.5..20.0_f64, -30.0..30.0_f64, any::<bool>(), any::<bool>());
    (plain, how, burst, range.clone(), range).prop_map(|(plain, how, bursts, sensor, meter)| {
        PairOptions {
            window_min: plain.0,
            how,
            lag_min: plain.1,
            bursts,
            once: plain.2,
            calibrations_in: plain.3,
            sensor_range_mg_dl: sensor,
            meter_range_mg_dl: meter,
            ..PairOptions::default()
        }
    })
}

fn readings() -> impl Strategy<Value = Vec<(i64, f64)>> {
    prop::collection::vec((-100..3200_i64, 50..300_i64), 0..60)
        .prop_map(|all| all.into_iter().map(|(t, g)| (t, g as f64)).collect())
}

proptest! {
    #![proptest_config(ProptestConfig {
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::with_cases(200)
    })]

    /// Every meter reading ends in a pair or under one reason; a pair lies within the window; a
    /// sensor reading used once gives its value to one pair.
    #[test]
    fn every_meter_reading_is_accounted_for(
        readings in readings(), options in options(), calibrated in 0..3000_i64,
    ) {
        let readings = meter(&readings);
        let events =
            [event(0, EventKind::Inserted, "A"), event(calibrated, EventKind::Calibrated, "A")];
        let pairs = pair_with(&readings, &trace(600), &events, &options).unwrap();
        let unpaired: usize = pairs.unpaired.iter().map(|u| u.readings).sum();
        let outside: usize = pairs.outside.iter().map(|o| o.readings).sum();
        let inside: usize = pairs.readings.iter().sum();
        prop_assert_eq!(inside + unpaired + outside + pairs.left_in_bursts, readings.len());
        prop_assert!(pairs.away_min.iter().all(|a| *a <= options.window_min + 1e-4));
        prop_assert!(pairs.times_ms.windows(2).all(|w| w[0] <= w[1]));
        let columns = [
            pairs.measured_mg_dl.len(), pairs.sensor.len(), pairs.wear_day.len(), pairs.day.len(),
            pairs.local_hour.len(), pairs.rate_mg_dl_min.len(), pairs.context.len(),
        ];
        prop_assert!(columns.iter().all(|n| *n == pairs.len()));
        if options.once && options.how == How::Nearest {
            let mut used: Vec<u64> = pairs.measured_mg_dl.iter().map(|v| v.to_bits()).collect();
            used.sort_unstable();
            used.dedup();
            prop_assert_eq!(used.len(), pairs.len());
        }
    }

    /// Flows add up, their ends are what the sensors and the pairs say, and the steps join.
    #[test]
    fn the_accounts_add_up(
        study in prop::collection::vec(
            (readings(), 0..4_usize, 0.1..2.0_f64, 0..4_usize, any::<bool>()), 0..6,
        ),
        pairing in options(),
    ) {
        let sensor = trace(600);
        let meters: Vec<Meter> = study.iter().map(|s| meter(&s.0)).collect();
        let ends = [
            End::Completed, End::Worn, End::Failed("came off".into()), End::Failed("dead".into()),
        ];
        let records: Vec<SensorRecord> = study
            .iter()
            .enumerate()
            .map(|(k, s)| record(s.1, k, s.2, ends[s.3].clone()))
            .collect();
        let worn: Vec<Worn<'_>> = study
            .iter()
            .zip(&records)
            .zip(&meters)
            .map(|((s, record), meter)| Worn {
                record,
                trace: s.4.then_some(&sensor),
                meter,
                calibrated_ms: &[],
            })
            .collect();
        let options = AccountOptions { pairing, ..AccountOptions::default() };
        let found = accounts(&worn, &options).unwrap();
        prop_assert!(found.flows.iter().all(|f| f.adds_up()), "{:?}", found.flows);
        prop_assert_eq!(found.flows[0].had, study.len());
        prop_assert_eq!(
            found.flows[0].left, found.sensors.iter().filter(|s| s.pairs > 0).count()
        );
        let while_worn: usize = study
            .iter()
            .map(|s| s.0.iter().filter(|r| r.0 >= 0 && at(r.0) <= START + (s.2 * DAY as f64) as i64).count())
            .sum();
        prop_assert_eq!(found.flows[1].had, while_worn);
        prop_assert_eq!(found.flows[1].left, found.flows[2].had);
        let pairs = found.pairs.reference_mg_dl.len();
        prop_assert_eq!(found.flows[2].left, pairs);
        prop_assert_eq!(found.sensors.iter().map(|s| s.pairs).sum::<usize>(), pairs);
        prop_assert_eq!(found.spread.sensors.iter().map(|s| s.n).sum::<usize>(), pairs);
        prop_assert_eq!(found.level_rate.iter().map(|r| r.n).sum::<usize>(), pairs);
        for rows in [&found.by_part, &found.by_lot, &found.by_site] {
            prop_assert_eq!(rows.iter().skip(1).map(|r| r.n).sum::<usize>(), pairs);
        }
    }

    /// Survival falls from 1, its interval holds it, causes and survivors add up to 1, and the
    /// order of the pieces does not matter.
    #[test]
    fn survival_is_a_falling_share(
        lives in prop::collection::vec((0..20_u8, 0..3_u32), 1..40),
    ) {
        let times: Vec<f64> = lives.iter().map(|l| f64::from(l.0)).collect();
        let cause: Vec<u32> = lives.iter().map(|l| l.1).collect();
        let failed: Vec<bool> = cause.iter().map(|c| *c > 0).collect();
        let curve = kaplan_meier(&times, &failed, 0.95).unwrap();
        let mut last = 1.0;
        for step in &curve.steps {
            prop_assert!(step.survival < last && step.survival >= 0.0);
            last = step.survival;
            if let (Some(low), Some(high)) = (step.low, step.high) {
                prop_assert!(0.0 <= low && low <= last && last <= high && high <= 1.0);
            }
        }
        let rows = cumulative_incidence(&times, &cause, 0.95).unwrap();
        for step in &curve.steps {
            let all: f64 = rows.iter().filter(|r| r.time == step.time).map(|r| r.incidence).sum();
            prop_assert!((all + step.survival - 1.0).abs() < 1e-9);
        }
        prop_assert!(rows.iter().all(|r| r.se.is_finite()));
        let turned = |v: &[f64]| v.iter().rev().copied().collect::<Vec<f64>>();
        let back: Vec<bool> = failed.iter().rev().copied().collect();
        prop_assert_eq!(&kaplan_meier(&turned(&times), &back, 0.95).unwrap(), &curve);
        for time in [0.0, 5.0, 19.0, 30.0] {
            let found = curve.at(time).unwrap();
            prop_assert_eq!(found.value.is_none(), found.reason.is_some() && found.value != Some(0.0));
        }
    }
}
