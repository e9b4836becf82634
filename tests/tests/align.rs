//! Pairing and lag on series whose answer is known.

use glycemic_core::align::{How, lag, pair};
use glycemic_core::series::Builder;
use glycemic_core::{Meter, Trace, Unit};

const START: i64 = 1_741_000_000_000;
const MINUTE: i64 = 60_000;

/// Up from 100 to 180 mg/dL in an hour, and down again in an hour: straight lines with their
/// corners on the sensor's grid, so that reading between its readings is exact.
fn blood(minute: f64) -> f64 {
    let place = minute.rem_euclid(120.0);
    100.0 + place.min(120.0 - place) * 80.0 / 60.0
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

/// A sensor that is early has a lag below 0.
#[test]
fn a_known_lag_is_found() {
    for late in [-10.0, 0.0, 5.0, 15.0] {
        let found = lag(&meter(), &sensor(late), 0.95).unwrap();
        assert_eq!(found.value, Some(late), "{found:?}");
        assert!(found.low.unwrap() <= late && late <= found.high.unwrap(), "{late}: {found:?}");
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
