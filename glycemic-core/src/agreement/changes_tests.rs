use super::*;
use crate::stats::random::Random;

const HOUR: i64 = 3_600_000;
const DAY: i64 = 24 * HOUR;

/// Days with `meals` meals each, six hours apart, and pairs at the start and 90 minutes later.
struct Made {
    times: Vec<i64>,
    meter: Vec<f64>,
    sensor: Vec<f64>,
    day: Vec<i64>,
    meals: Vec<i64>,
}

impl Made {
    fn changes(&self, options: &ChangeOptions) -> Changes {
        changes(&self.times, &self.meter, &self.sensor, &self.day, &self.meals, options).unwrap()
    }
}

/// True rises from 20 to 80; sensor shows `slope` of them; errors of each reading.
fn made(days: i64, slope: f64, meter_sd: f64, sensor_sd: f64, random: &mut Random) -> Made {
    let (mut times, mut meter, mut sensor, mut day, mut meals) =
        (vec![], vec![], vec![], vec![], vec![]);
    for d in 0..days {
        for m in 0..3 {
            let start = d * DAY + m * 6 * HOUR;
            let rise = 20.0 + 60.0 * random.uniform();
            for (at, part) in [(0, 0.0), (3 * HOUR / 2, 1.0)] {
                times.push(start + at);
                meter.push(100.0 + part * rise + meter_sd * random.normal());
                sensor.push(100.0 + part * slope * rise + sensor_sd * random.normal());
                day.push(d);
            }
            meals.push(start);
        }
    }
    Made { times, meter, sensor, day, meals }
}

#[test]
fn without_errors_the_slope_is_exact_by_both_ways() {
    let data = made(4, 0.8, 0.0, 0.0, &mut Random::keyed(3, 0, 0));
    for meter_sd_mg_dl in [None, Some(0.0)] {
        let found = data.changes(&ChangeOptions { meter_sd_mg_dl, ..ChangeOptions::default() });
        assert_eq!((found.rows.len(), found.skipped.len(), found.slope.n), (12, 0, 12));
        assert!((found.slope.value.unwrap() - 0.8).abs() < 1e-9, "{:?}", found.slope);
        assert!(found.slope.high.unwrap() - found.slope.low.unwrap() < 1e-6);
        let mean = found.rows.iter().map(|r| -0.2 * r.meter_mg_dl).sum::<f64>() / 12.0;
        assert!((found.bias_mg_dl.value.unwrap() - mean).abs() < 1e-9);
    }
}

/// With the meter's error left out of account (SD 0) it is the least-squares slope; with s it is
/// that slope times Var / (Var - 2 s²): Fuller 1987, equation 1.2.3, from memory.
#[test]
fn known_error_corrects_attenuation() {
    let data = made(6, 1.0, 10.0, 5.0, &mut Random::keyed(5, 0, 0));
    let with = |sd| ChangeOptions { meter_sd_mg_dl: Some(sd), ..ChangeOptions::default() };
    let (plain, mended) = (data.changes(&with(0.0)), data.changes(&with(10.0)));
    let x: Vec<f64> = plain.rows.iter().map(|r| r.meter_mg_dl).collect();
    let y: Vec<f64> = plain.rows.iter().map(|r| r.sensor_mg_dl).collect();
    let least = moments::slope(&x, &y).unwrap();
    assert!((plain.slope.value.unwrap() - least).abs() < 1e-12);
    let variance = moments::variance(&x).unwrap();
    let expected = least * variance / (variance - 200.0);
    assert!((mended.slope.value.unwrap() - expected).abs() < 1e-12);
    // An error larger than all that is seen leaves nothing to tell a slope from.
    let lost = data.changes(&with(90.0)).slope;
    assert_eq!((lost.value, lost.reason.unwrap().code), (None, "no_line".to_string()));
}

/// Bias, slope and its interval over 500 made trials of 10 days, meter SD 5, sensor SD 8, slope
/// 0.9, at 90 %: four standard errors of a share of 0.9 are 0.054. Bias is -0.1 of the mean rise.
#[test]
fn intervals_cover() {
    let (mut slope, mut bias) = (0, 0);
    for k in 0..500 {
        let data = made(10, 0.9, 5.0, 8.0, &mut Random::keyed(17, 0, k));
        let meter_sd_mg_dl = Some(5.0);
        let found =
            data.changes(&ChangeOptions { meter_sd_mg_dl, level: 0.90, ..Default::default() });
        slope += usize::from(found.slope.covers(0.9));
        bias += usize::from(found.bias_mg_dl.covers(-5.0));
    }
    for hits in [slope, bias] {
        assert!((423..=477).contains(&hits), "slope {slope}, bias {bias} of 500");
    }
}

#[test]
fn the_rule_of_choice() {
    let minute = |m: i64| m * 60_000;
    // The nearest before, inside both ends; after, the nearest to 90 minutes.
    let times: Vec<i64> = [-46, -45, 5, 6, 29, 30, 80, 101, 150, 151].map(minute).to_vec();
    let values: Vec<f64> = (0..10).map(|i| 100.0 + f64::from(i)).collect();
    let one = |meals: &[i64]| {
        changes(&times, &values, &values, &[0; 10], meals, &ChangeOptions::default()).unwrap()
    };
    let found = one(&[0]);
    assert_eq!((found.rows[0].before, found.rows[0].after), (2, 6));
    assert_eq!(found.rows[0].meter_mg_dl, 4.0);
    // A second meal at 96 would take the pair at 80 or 101 as its first; 80 is used already.
    let found = one(&[minute(96), 0]);
    assert_eq!(found.rows[0].meal, 1);
    assert_eq!(found.skipped, []);
    assert_eq!((found.rows[1].before, found.rows[1].after), (7, 9));
    assert_eq!(one(&[minute(1000)]).skipped, [(0, "no_pair_before")]);
    assert_eq!(one(&[minute(150)]).skipped, [(0, "no_pair_after")]);
}

#[test]
fn few_or_none_are_reasons() {
    let none = changes(&[], &[], &[], &[], &[], &ChangeOptions::default()).unwrap();
    assert_eq!(none.slope.reason.unwrap().had, Some(0.0));
    let data = made(1, 1.0, 1.0, 1.0, &mut Random::keyed(1, 0, 0));
    let few = data.changes(&ChangeOptions::default());
    assert_eq!((few.rows.len(), few.bias_mg_dl.value), (3, None));
    // Two days with three each: values, but no intervals.
    let data = made(2, 1.0, 1.0, 1.0, &mut Random::keyed(1, 0, 0));
    let two = data.changes(&ChangeOptions::default());
    assert!(two.slope.value.is_some() && two.slope.low.is_none());
    assert_eq!(two.slope.reason.unwrap().code, "too_few_days");
    assert_eq!(two.bias_mg_dl.reason.unwrap().code, "too_few_clusters");
    assert!(two.lower_mg_dl.value.is_some() && two.lower_mg_dl.low.is_none());
    let bad = |options: ChangeOptions| changes(&[], &[], &[], &[], &[], &options).is_err();
    assert!(bad(ChangeOptions { after_from_min: 0.0, ..ChangeOptions::default() }));
    assert!(bad(ChangeOptions { meter_sd_mg_dl: Some(f64::NAN), ..ChangeOptions::default() }));
    assert!(changes(&[1], &[1.0], &[1.0], &[], &[], &ChangeOptions::default()).is_err());
    assert_eq!(data.changes(&ChangeOptions::default()).to_table().unwrap().rows(), 6);
}
