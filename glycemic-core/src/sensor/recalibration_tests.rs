use super::super::candidates::{choose, fitted, left_out_days};
use super::*;
use crate::series::{Builder, Censor};
use crate::stats::random::Random;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000;
const DAY: i64 = 86_400_000;

/// Ten pairs on five days; sensor = 1.2 meter - 8, give or take 2.
fn ten() -> Differences {
    let reference_mg_dl = vec![80.0, 95.0, 100.0, 110.0, 120.0, 135.0, 150.0, 160.0, 90.0, 105.0];
    let off = [1.0, -2.0, 0.0, 2.0, -1.0, 1.0, -1.0, 0.0, 2.0, -2.0];
    let measured = reference_mg_dl.iter().zip(off).map(|(r, e)| 1.2 * r - 8.0 + e);
    Differences {
        times_ms: (0..10).map(|i| START + i * DAY / 2).collect(),
        measured_mg_dl: measured.collect(),
        wear_days: (0..10).map(|i| f64::from(i) / 2.0).collect(),
        rate_mg_dl_min: vec![0.0; 10],
        sensor: vec![0; 10],
        day: (0..10).map(|i| i / 2).collect(),
        reference_mg_dl,
        left_out: LeftOut::default(),
    }
}

/// numpy 2.4.6: `lstsq` of sensor on meter for each kind, without each day in turn, and the root mean
/// square of (sensor - offset) / gain - meter on that day:
/// ```python
/// for g in range(5):
///     k = day != g; o, s = fit(ref[k], meas[k]); er[~k] = (meas[~k] - o) / s - ref[~k]
/// np.sqrt((er**2).mean())
/// ```
#[test]
fn left_out_errors_as_numpy_has_them() {
    let pairs = ten();
    let (kind, tried) = choose(&pairs);
    let error = |kind: Kind| tried.iter().find(|t| t.kind == kind).unwrap().error_mg_dl.unwrap();
    assert!((error(Kind::None) - 15.713_051_899_615_174).abs() < 1e-9);
    assert!((error(Kind::Offset) - 6.120_151_141_924_519).abs() < 1e-9);
    assert!((error(Kind::Gain) - 2.131_317_417_526_182).abs() < 1e-9);
    assert!((error(Kind::Both) - 1.256_230_929_772_449_7).abs() < 1e-9);
    assert_ne!(kind, Kind::None);
    let both = fitted(Kind::Both, &pairs).unwrap();
    assert!(
        (both.gain - 1.191_231_57).abs() < 1e-7 && (both.offset_mg_dl + 6.996_014_35).abs() < 1e-7
    );
    let gain = fitted(Kind::Gain, &pairs).unwrap();
    assert!((gain.gain - 1.132_920_837_124_658_9).abs() < 1e-12);
}

#[test]
fn a_gain_needs_a_span_of_meter_values() {
    let narrow = ten().filtered(|i| (90.0..=145.0).contains(&ten().reference_mg_dl[i]));
    let (_, tried) = choose(&narrow);
    let gain = tried.iter().find(|t| t.kind == Kind::Gain).unwrap();
    let reason = gain.reason.clone().unwrap();
    assert_eq!((reason.code.as_str(), reason.had), ("narrow_meter_values", Some(45.0)));
}

/// Noise alone: in 300 sets of 30 pairs on ten days, SD 6, at most 30 are set (one in ten).
#[test]
fn leaving_it_wins_ties() {
    let set = (0..300).filter(|&k| {
        let mut random = Random::keyed(12, 0, k);
        let reference: Vec<f64> = (0..30).map(|_| 80.0 + 80.0 * random.uniform()).collect();
        let pairs = Differences {
            times_ms: (0..30).map(|i| START + i * DAY / 3).collect(),
            measured_mg_dl: reference.iter().map(|r| r + 6.0 * random.normal()).collect(),
            wear_days: (0..30).map(|i| f64::from(i) / 3.0).collect(),
            rate_mg_dl_min: vec![0.0; 30],
            sensor: vec![0; 30],
            day: (0..30).map(|i| i / 3).collect(),
            reference_mg_dl: reference,
            left_out: LeftOut::default(),
        };
        choose(&pairs).0 != Kind::None
    });
    let set = set.count();
    assert!(set <= 30, "{set}");
}

/// The day that is predicted is not among those the prediction rests on.
#[test]
fn left_out_days_are_left_out() {
    let mut pairs = ten();
    let before = left_out_days(&pairs, |rest| fitted(Kind::Offset, rest)).unwrap();
    pairs.reference_mg_dl[0] += 1000.0;
    let after = left_out_days(&pairs, |rest| fitted(Kind::Offset, rest)).unwrap();
    assert_eq!((before[0], before[1]), (after[0], after[1]));
    assert_ne!(before[2], after[2]);
}

fn trace(unit: Unit, days: i64, mg_dl: impl Fn(i64) -> f64) -> Trace {
    let times: Vec<i64> = (0..days * 288).map(|i| START + i * 300_000).collect();
    let shown = |t: &i64| (unit.from_mg_dl(mg_dl((t - START) / 300_000)) / unit.step()).round();
    let per_unit = (1.0 / unit.step()).round();
    let values: Vec<f64> = times.iter().map(|t| shown(t) / per_unit).collect();
    Builder::new(unit).build(&times, &values).unwrap()
}

fn meter(days: i64, value: impl Fn(usize) -> f64) -> Meter {
    let times: Vec<i64> = (0..3 * days).map(|k| START + k * DAY / 3 + 3_600_000).collect();
    let values: Vec<f64> = (0..times.len()).map(value).collect();
    Meter::new(&times, &values, &vec![String::new(); times.len()], Unit::MgDl).unwrap()
}

/// 15 mg/dL too high, in tenths of mmol/L: every reading stays on a tenth, unit and breaks stay.
#[test]
fn the_step_of_the_source_is_kept() {
    let sensor =
        trace(Unit::MmolL, 10, |i| 115.0 + (i % 288) as f64 / 10.0).with_breaks(vec![START]);
    let meter = meter(10, |k| {
        let i = sensor.times_ms().iter().position(|t| *t == START + k as i64 * DAY / 3 + 3_600_000);
        sensor.glucose_mg_dl()[i.unwrap()] - 15.0 + (k % 3) as f64 - 1.0
    });
    let found = recalibrate(&meter, &sensor, Pairing::default(), 6.0, 0.95).unwrap();
    assert_eq!(found.sensors[0].kind, Kind::Offset);
    let set = found.apply(&sensor).unwrap();
    assert_eq!((set.trace.unit(), set.trace.breaks_ms()), (Unit::MmolL, sensor.breaks_ms()));
    for g in set.trace.glucose_mg_dl() {
        let tenths = Unit::MmolL.from_mg_dl(*g) * 10.0;
        assert!((tenths - tenths.round()).abs() < 1e-9);
    }
    // Half a tenth is 0.9 mg/dL.
    assert!((set.mean_change_mg_dl + 15.0).abs() < 0.91, "{}", set.mean_change_mg_dl);
    assert_eq!((set.applied.len(), set.applied[0].readings), (1, 2880));
    assert_eq!(set.applied[0].pairs_ms.len(), 27);
    let of = |a: &Option<Accuracy>| a.as_ref().unwrap().bias_mg_dl.value.unwrap();
    let one = &found.sensors[0];
    assert!((of(&one.before) - 15.0).abs() < 1e-9 && of(&one.after).abs() < 0.2);
}

/// Readings at a limit stay there, and none comes out as 0 or less.
#[test]
fn limits_stay_and_readings_stay_positive() {
    let times: Vec<i64> = (0..10 * 288).map(|i| START + i * 300_000).collect();
    let mut values = vec![150.0; times.len()];
    let mut censor = vec![Censor::None; times.len()];
    (values[1000], censor[1000], values[1001]) = (40.0, Censor::Low, 45.0);
    let sensor = Builder::new(Unit::MgDl).build_censored(&times, &values, &censor).unwrap();
    let meter = meter(10, |k| 100.0 + (k % 3) as f64 - 1.0);
    let found = recalibrate(&meter, &sensor, Pairing::default(), 6.0, 0.95).unwrap();
    let set = found.apply(&sensor).unwrap();
    let g = set.trace.glucose_mg_dl();
    assert_eq!((g[0], g[1000], g[1001]), (100.0, 40.0, 1.0));
    assert_eq!((set.clipped, set.left_at_limit), (1, 1));
    assert_eq!(set.trace.cleaning().censored_low, 1);
}

/// The arm in blood by hand: 10 mg/dL with an arm of a, and 6 % of 100 mg/dL at z 1.96.
#[test]
fn the_meters_bias_is_in_the_interval_in_blood() {
    let pairs = ten().filtered(|i| ten().reference_mg_dl[i] == 100.0);
    let e = in_blood(&Estimate::new(10.0, 7.0, 13.0, 0.95, "", 9), &pairs, 6.0);
    let arm = (9.0 + (1.959_963_985 * 6.0_f64) * (1.959_963_985 * 6.0)).sqrt();
    assert!(
        (e.low.unwrap() - (10.0 - arm)).abs() < 1e-6
            && (e.high.unwrap() - (10.0 + arm)).abs() < 1e-6
    );
    assert_eq!(e.value, Some(10.0));
}

/// A meter known to read 10 % high is taken down to blood first.
#[test]
fn a_known_bias_of_the_meter_is_taken_off() {
    let sensor = trace(Unit::MgDl, 10, |_| 100.0);
    let meter = meter(10, |_| 110.0);
    let pairing = Pairing { meter_bias_pct: 10.0, ..Pairing::default() };
    let found = recalibrate(&meter, &sensor, pairing, 6.0, 0.95).unwrap();
    assert!(found.sensors[0].offset_mg_dl.value.unwrap().abs() < 1e-9);
    assert_eq!(found.sensors[0].reason.as_ref().unwrap().code, "leave_it");
    assert_eq!(found.apply(&sensor).unwrap().trace, sensor);
}

/// The second sensor has too few pairs and is left as it is, with the count.
#[test]
fn each_sensor_needs_its_own_pairs() {
    let sensor = trace(Unit::MgDl, 10, |_| 130.0).with_breaks(vec![START, START + 8 * DAY]);
    let meter = meter(10, |k| 100.0 + (k % 3) as f64 - 1.0);
    let found = recalibrate(&meter, &sensor, Pairing::default(), 6.0, 0.95).unwrap();
    assert_eq!((found.sensors[0].kind, found.sensors[1].kind), (Kind::Offset, Kind::None));
    let reason = found.sensors[1].reason.clone().unwrap();
    assert_eq!(
        (reason.code.as_str(), reason.had, reason.needed),
        ("too_few_pairs", Some(3.0), Some(8.0))
    );
    let set = found.apply(&sensor).unwrap().trace;
    assert_eq!((set.glucose_mg_dl()[0], set.glucose_mg_dl()[2879]), (100.0, 130.0));
    let none = recalibrate(&Meter::default(), &sensor, Pairing::default(), 6.0, 0.95).unwrap();
    assert!(none.sensors.iter().all(|s| s.kind == Kind::None && s.before.is_none()));
    assert!(recalibrate(&meter, &sensor, Pairing::default(), f64::NAN, 0.95).is_err());
    assert!(recalibrate(&meter, &sensor, Pairing::default(), 6.0, 1.0).is_err());
}
