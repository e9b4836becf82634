use super::*;

/// Closed form: 10 duplicates 3 apart have variance 4.5 on 10 degrees of freedom; the interval
/// divides 45 by the quantiles of chi-squared, 20.483 and 3.247 (printed tables, 97.5 and 2.5 %).
#[test]
fn duplicates() {
    let bursts = vec![vec![100.0, 103.0]; 10];
    let found = repeatability(&bursts, 0.95).unwrap();
    assert_eq!((found.bursts, found.freedom), (10, 10));
    assert!((found.sd_mg_dl.value.unwrap() - 4.5_f64.sqrt()).abs() < 1e-12);
    assert!((found.sd_mg_dl.low.unwrap() - (45.0_f64 / 20.483).sqrt()).abs() < 1e-4);
    assert!((found.sd_mg_dl.high.unwrap() - (45.0_f64 / 3.247).sqrt()).abs() < 1e-3);
    assert!((found.cv_pct.value.unwrap() - 100.0 * 4.5_f64.sqrt() / 101.5).abs() < 1e-12);
    let none = repeatability(&[vec![100.0]], 0.95).unwrap();
    assert_eq!((none.bursts, none.sd_mg_dl.reason.unwrap().code), (0, "no_bursts".to_string()));
    assert!(repeatability(&[vec![0.0, 1.0]], 0.95).is_err());
    assert!(repeatability(&[vec![f64::NAN, 1.0]], 0.95).is_err());
}

#[test]
fn one_pair_a_sensor_is_a_reason() {
    let names: Vec<String> = ["a", "b", "c"].map(String::from).to_vec();
    let found = by_sensor(&[100.0; 3], &[110.0; 3], &names).unwrap();
    assert_eq!((found.ranked, found.best.as_ref(), found.median_pct), (0, None, None));
    assert!(found.sensors.iter().all(|s| s.mard_pct.is_none() && s.reason.is_some()));
    assert_eq!(found.to_table().unwrap().rows(), 3);
    let empty = by_sensor(&[], &[], &[]).unwrap();
    assert_eq!(empty.reason.unwrap().code, "too_few_sensors");
}

/// Every pair falls into one row of the grid; 7.5 % of 40 is 3 pairs.
#[test]
fn the_grid_holds_each_pair_once() {
    let reference: Vec<f64> = (0..40).map(|i| 40.0 + 7.0 * f64::from(i)).collect();
    let rate: Vec<Option<f64>> =
        (0..40).map(|i| (i % 4 > 0).then_some(f64::from(i) * 0.15 - 3.0)).collect();
    let asked = |edge: f64| RequiredShare {
        level: Band { low: None, low_inside: false, high: Some(edge), high_inside: false },
        rate: Band::ALL,
        pct: 7.5,
    };
    // 40, 47 and 54 are below 55; two of them are below 54.
    let rows =
        level_by_rate(&reference, &rate, &Band::CONSENSUS, &[asked(55.0), asked(54.0)]).unwrap();
    assert_eq!(rows[..30].iter().map(|r| r.n).sum::<usize>(), 40);
    assert_eq!((rows[30].met, rows[31].met), (Some(true), Some(false)));
    let unknown: usize = rows.iter().filter(|r| r.rate.is_none()).map(|r| r.n).sum();
    assert_eq!(unknown, 10);
    assert_eq!(level_rate_table(&rows).unwrap().rows(), 32);
    let none = level_by_rate(&[], &[], &Band::CONSENSUS, &[asked(55.0)]).unwrap();
    assert!(none.iter().all(|r| r.pct.is_none() && r.met.is_none()));
    for (rate, held) in [(-2.1, 0), (-2.0, 1), (-1.0, 2), (1.0, 2), (2.0, 3), (2.1, 4)] {
        assert!(RATE_BANDS.iter().position(|b| b.holds(rate)) == Some(held), "{rate}");
    }
}

#[test]
fn a_flow_that_does_not_add_up_is_seen() {
    let flow = |left| Flow {
        unit: "readings".into(),
        had: 10,
        left_out: vec![("a".into(), 2), ("b".into(), 0)],
        left,
    };
    assert!(flow(8).adds_up() && !flow(7).adds_up());
    assert_eq!(flow_table(&[flow(8)]).unwrap().rows(), 4);
}
