use super::*;
use crate::sensor::{Pairing, drift, fasting_drift, first_day, recalibrate, steps};
use crate::series::{Builder, Meter, Trace};
use crate::table::Items;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000;
const DAY: i64 = 86_400_000;

/// Ten days, 15 mg/dL above the meter; a second sensor from day 8 on with three pairs.
fn two_sensors() -> (Meter, Trace) {
    let times: Vec<i64> = (0..10 * 288).map(|i| START + i * 300_000).collect();
    let sensor = Builder::new(Unit::MgDl).build(&times, &vec![115.0; times.len()]).unwrap();
    let pricked: Vec<i64> = (0..30).map(|k| START + k * DAY / 3 + 3_600_000).collect();
    let shown: Vec<f64> = (0..30).map(|k| 100.0 + f64::from(k % 3) - 1.0).collect();
    let meter = Meter::new(&pricked, &shown, &vec![String::new(); 30], Unit::MgDl).unwrap();
    (meter, sensor.with_breaks(vec![START, START + 8 * DAY]))
}

fn texts(t: &Table, name: &str) -> Vec<Option<String>> {
    let column = t.column(name).unwrap();
    let Items::Text(items) = &column.items else { panic!("{name} is no text") };
    items.iter().zip(&column.valid).map(|(item, valid)| valid.then(|| item.clone())).collect()
}

#[test]
fn a_row_for_each_sensor_with_its_reason() {
    let (meter, trace) = two_sensors();
    let found = recalibrate(&meter, &trace, Pairing::default(), 6.0, 0.95).unwrap();
    let t = recalibration_table(&found).unwrap();
    assert_eq!(t.numbers("sensor").unwrap(), [Some(1.0), Some(2.0)]);
    assert_eq!(t.numbers("inserted_ms").unwrap()[1], Some((START + 8 * DAY) as f64));
    assert_eq!(texts(&t, "kind"), [Some("offset".into()), Some("none".into())]);
    let set = t.numbers("set_offset_mg_dl").unwrap();
    assert!((set[0].unwrap() - 15.0).abs() < 1e-9 && set[1] == Some(0.0));
    let reasons = texts(&t, "reason");
    assert_eq!(reasons[0], None);
    assert_eq!(reasons[1].as_deref(), Some("needs at least 8 pairs with the meter, has 3"));
    // Three pairs of one day: agreement is told, the offset is not.
    assert_eq!(t.numbers("offset_mg_dl").unwrap()[1], None);
    assert!(t.numbers("before_bias_mg_dl").unwrap()[1].is_some());
    let applied = applied_table(&found.apply(&trace).unwrap()).unwrap();
    assert_eq!(applied.numbers("readings").unwrap(), [Some(8.0 * 288.0)]);
    let tried = tried_table(&found).unwrap();
    // Five ways for the first sensor, none for the second.
    assert_eq!(tried.numbers("sensor").unwrap(), [Some(1.0); 5]);
    let chosen = tried.numbers("chosen").unwrap();
    assert_eq!(chosen, [Some(0.0), Some(1.0), Some(0.0), Some(0.0), Some(0.0)]);
    assert!(texts(&tried, "reason")[2].as_ref().unwrap().contains("span 60"));
}

#[test]
fn drift_steps_and_first_day() {
    let (meter, trace) = two_sensors();
    let pairing = Pairing::default();
    let t = drift_table(&drift(&meter, &trace, pairing, 0.95).unwrap()).unwrap();
    assert!(t.numbers("drift_mg_dl_day").unwrap()[0].unwrap().abs() < 0.1);
    assert!(t.numbers("drift_low_pct_day").unwrap()[0].is_some());
    assert!(texts(&t, "reason")[1].is_some());
    // No clock: no mornings.
    let t = fasting_drift_table(&fasting_drift(&trace, &[], 0.95).unwrap()).unwrap();
    assert_eq!((t.rows(), t.numbers("fasting_drift_mg_dl_day").unwrap()[0]), (2, None));
    let swap = crate::align::WearEvent {
        time_ms: START + 8 * DAY,
        kind: EventKind::Inserted,
        sensor: Some("B".into()),
    };
    let t = steps_table(&steps(&meter, &trace, &[swap], pairing, 0.95).unwrap()).unwrap();
    assert_eq!(t.numbers("pairs_after").unwrap(), [Some(3.0)]);
    assert_eq!(texts(&t, "sensor"), [Some("B".into())]);
    assert!(texts(&t, "difference_reason")[0].is_some());
    let found = first_day(&meter, &trace, &[], pairing, 0.95).unwrap();
    let t = first_day_table(&found).unwrap();
    assert_eq!(t.numbers("mean_mg_dl").unwrap(), [Some(115.0); 2]);
    assert!(t.column("movement_12_24_high_ratio").is_some());
    let t = first_day_hours_table(&found).unwrap();
    assert_eq!((t.rows(), t.numbers("to_h").unwrap()[4]), (10, None));
    // Pairs at hours 1, 9 and 17.
    assert_eq!(t.numbers("pairs").unwrap()[..2], [Some(1.0), Some(1.0)]);
}

#[test]
fn levels_of_alarms() {
    use crate::sensor::alarms::{Level, Rearm, alarms};
    let (meter, trace) = two_sensors();
    let levels = [Level::low(), Level::high()];
    let found = alarms(&trace, &levels, Rearm::default(), Some(&meter), 0.0, &[], 0.95).unwrap();
    let t = alarm_levels_table(&found.levels).unwrap();
    assert_eq!(texts(&t, "level"), [Some("low".into()), Some("high".into())]);
    assert_eq!(t.numbers("n_per_day").unwrap()[0], Some(0.0));
    // No clock, no nights; no alarm, nothing checked.
    assert!(t.numbers("n_per_night").unwrap()[0].is_none());
    assert!(texts(&t, "confirmed_reason")[0].is_some());
}

#[test]
fn wear_of_sensors() {
    let (_, trace) = two_sensors();
    let found = crate::sensor::drop_outs::drop_outs(&trace, &[], 12.0, 0.95).unwrap();
    let t = wear_table(&found).unwrap();
    assert_eq!(t.rows(), found.sensors.len());
    assert_eq!(t.numbers("wait_min").unwrap()[0], None);
    assert_eq!(t.numbers("first_hours_lost_pct").unwrap()[0], Some(0.0));
}

#[test]
fn no_rows_are_a_table_too() {
    assert_eq!(drift_table(&[]).unwrap().rows(), 0);
    assert_eq!(first_day_hours_table(&[]).unwrap().columns().len(), 6);
}
