use super::*;

fn labels(words: &[&str]) -> Vec<String> {
    words.iter().map(ToString::to_string).collect()
}

/// Six pairs by hand: two groups and two bands, with both margins.
#[test]
fn groups_by_bands_with_margins() {
    let r = [50.0, 100.0, 200.0, 60.0, 100.0, 100.0];
    let m = [55.0, 110.0, 180.0, 60.0, 125.0, 100.0];
    let groups = labels(&["day 1", "day 1", "day 1", "day 2", "day 2", "day 2"]);
    let bands = Band::between(&[70.0]).unwrap();
    let options = Options { bands: &bands, groups: Some(&groups), ..Options::default() };
    let rows = accuracy_table(&r, &m, &options).unwrap();
    let n: Vec<usize> = rows.iter().map(|r| r.n).collect();
    assert_eq!(n, [6, 2, 4, 3, 1, 2, 3, 1, 2]);
    let mard = |k: usize| rows[k].summary.as_ref().unwrap().mard_pct.value.unwrap();
    assert!((mard(0) - 55.0 / 6.0).abs() < 1e-12);
    assert!((mard(3) - 10.0).abs() < 1e-12 && (mard(8) - 12.5).abs() < 1e-12);
    assert_eq!(rows[3].group.as_deref(), Some("day 1"));
    // 25 of 100 is outside 20/20 and inside 30/30.
    assert_eq!((rows[8].within[1].count, rows[8].within[2].count), (1, 2));
    assert_eq!(rows[0].summary.as_ref().unwrap().sd_mg_dl.map(|v| v.round()), Some(15.0));
}

/// By the device's value the same pairs fall into other bands.
#[test]
fn bands_by_the_measured_value() {
    let bands = Band::between(&[70.0]).unwrap();
    let count = |band_by| {
        let options = Options { bands: &bands, band_by, ..Options::default() };
        accuracy_table(&[69.0, 75.0], &[72.0, 70.0], &options).unwrap()[1].n
    };
    assert_eq!((count(By::Reference), count(By::Measured)), (1, 1));
    let options = Options { bands: &bands, band_by: By::Measured, ..Options::default() };
    let rows = accuracy_table(&[69.0, 75.0], &[72.0, 70.0], &options).unwrap();
    assert_eq!(rows[1].summary.as_ref().unwrap().bias_mg_dl.value, Some(-5.0));
}

/// All pairs within, in three clusters: the exact interval of 3 of 3, not of 30 of 30.
#[test]
fn clusters_at_100_percent_are_conservative() {
    let r = vec![100.0; 30];
    let cluster: Vec<i64> = (0..30).map(|i| i % 3).collect();
    let options = Options { cluster: Some(&cluster), ..Options::default() };
    let share = &accuracy_table(&r, &r, &options).unwrap()[0].within[0];
    assert_eq!((share.count, share.n, share.n_effective), (30, 30, 3.0));
    // 0.025^(1/3).
    assert!((share.low - 0.292_401_774).abs() < 1e-8);
    assert!(share.method.contains("conservative"));
}

#[test]
fn as_a_table_with_missing_cells() {
    let bands = Band::between(&[70.0]).unwrap();
    let options = Options { bands: &bands, ..Options::default() };
    let rows = accuracy_table(&[100.0, 110.0], &[100.0, 121.0], &options).unwrap();
    let table = to_table(&rows, options.rules).unwrap();
    assert_eq!(table.rows(), 3);
    assert_eq!(table.numbers("mard_pct").unwrap(), [Some(5.0), None, Some(5.0)]);
    assert_eq!(table.numbers("within_1_pct").unwrap(), [Some(100.0), None, Some(100.0)]);
    // Two pairs have no interval.
    assert_eq!(table.numbers("mard_low_pct").unwrap(), [None, None, None]);
}

#[test]
fn refuses_what_does_not_fit() {
    let groups = labels(&["a"]);
    let options = Options { groups: Some(&groups), ..Options::default() };
    let e = accuracy_table(&[1.0, 2.0], &[1.0, 2.0], &options).unwrap_err();
    assert_eq!((e.code(), e.argument()), ("length_mismatch", Some("groups")));
    let rules = [Rule { mg_dl: -1.0, ..Rule::same(1.0, 0.0) }];
    let options = Options { rules: &rules, ..Options::default() };
    assert!(accuracy_table(&[1.0], &[1.0], &options).is_err());
    assert!(accuracy_table(&[], &[], &Options::default()).is_err());
}
