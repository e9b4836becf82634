use super::*;

/// n pairs of which `k` are exactly on the limit (inside) and the rest just over it.
fn on_and_over(reference: f64, limit: f64, k: usize, n: usize) -> (Vec<f64>, Vec<f64>) {
    let off = |i: usize| if i < k { limit } else { limit + 1e-6 };
    (vec![reference; n], (0..n).map(|i| reference + off(i)).collect())
}

type Check = fn(&[f64], &[f64], Option<&[i64]>, f64) -> Result<Vec<Row>, Error>;

/// Each share at the limit, one pair under it, and one over it, at each end of its switch:
/// function, row, reference, width of the limit there, share, pairs it needs.
#[test]
fn meters_at_under_and_over_each_limit() {
    let cases: [(Check, usize, f64, f64, usize, usize); 12] = [
        (iso15197_2013, 0, 99.9, 15.0, 190, 200),
        (iso15197_2013, 0, 100.0, 15.0, 190, 200),
        (iso15197_2013, 0, 200.0, 30.0, 190, 200),
        (iso15197_2003, 0, 74.9, 15.0, 190, 200),
        (iso15197_2003, 0, 75.0, 15.0, 190, 200),
        (iso15197_2003, 0, 300.0, 60.0, 190, 200),
        (fda_self_monitoring, 0, 40.0, 6.0, 380, 400),
        (fda_self_monitoring, 1, 200.0, 40.0, 396, 400),
        (fda_point_of_care, 0, 74.9, 12.0, 380, 400),
        (fda_point_of_care, 0, 75.0, 9.0, 380, 400),
        (fda_point_of_care, 1, 74.9, 15.0, 392, 400),
        (fda_point_of_care, 1, 75.0, 11.25, 392, 400),
    ];
    for (check, row, reference, limit, k, n) in cases {
        for (count, verdict) in [
            (k, Verdict::NumericalLimitsMet),
            (k - 1, Verdict::NumericalLimitsNotMet),
            (k + 1, Verdict::NumericalLimitsMet),
        ] {
            let (r, m) = on_and_over(reference, limit, count, n);
            let got = &check(&r, &m, None, 0.95).unwrap()[row];
            assert_eq!((got.count, got.verdict), (count, verdict), "{} {reference}", got.standard);
            assert_eq!(got.pairs_more, Some(0));
        }
        let (r, m) = on_and_over(reference, limit, 10, 10);
        assert_eq!(check(&r, &m, None, 0.95).unwrap()[row].verdict, Verdict::TooFew);
    }
}

/// 594 of 600 in A and B pass, 593 do not (99 % of 600 is 594).
#[test]
fn consensus_grid_at_its_limit() {
    for (good, verdict) in
        [(594, Verdict::NumericalLimitsMet), (593, Verdict::NumericalLimitsNotMet)]
    {
        let m: Vec<f64> = (0..600).map(|i| if i < good { 100.0 } else { 215.0 }).collect();
        let rows = iso15197_2013(&[100.0; 600], &m, None, 0.95).unwrap();
        assert_eq!((rows[1].count, rows[1].verdict), (good, verdict));
    }
}

/// Limit in percent, (n, count), and the smallest n when all are within.
type Smallest = (f64, &'static [(usize, usize)], usize);
/// Smallest counts whose one-sided exact bound passes, computed with scipy 1.17.1.
const SMALLEST: [Smallest; 6] = [
    (70.0, &[(100, 78), (200, 152), (300, 224), (500, 368), (1000, 725), (2000, 1435)], 9),
    (80.0, &[(100, 87), (200, 170), (300, 252), (500, 416), (1000, 822), (2000, 1630)], 14),
    (85.0, &[(100, 92), (200, 179), (300, 266), (500, 439), (1000, 869), (2000, 1727)], 19),
    (87.0, &[(100, 93), (200, 183), (300, 271), (500, 448), (1000, 888), (2000, 1766)], 22),
    (98.0, &[(200, 200), (300, 299), (500, 496), (1000, 988), (2000, 1971)], 149),
    (99.0, &[(300, 300), (500, 499), (1000, 996), (2000, 1988)], 299),
];

/// Items by limit: reading and width of the tolerance at a reference.
fn item(letter: &str) -> (f64, f64, f64) {
    match letter {
        "A" => (40.0, 15.0, 85.0),
        "B" => (120.0, 18.0, 70.0),
        "C" => (200.0, 30.0, 80.0),
        "D" => (20.0, 40.0, 98.0),
        "E" => (100.0, 40.0, 99.0),
        "F" => (200.0, 80.0, 99.0),
        _ => (100.0, 20.0, 87.0),
    }
}

#[test]
fn bounds_at_and_under_the_smallest_count() {
    for letter in ["A", "B", "C", "D", "E", "F", "G"] {
        let (reference, width, limit) = item(letter);
        let row = |k, n| {
            let (r, m) = on_and_over(reference, width, k, n);
            let rows = icgm(&r, &m, None, None, 0.95).unwrap();
            rows.into_iter().find(|row| row.item == letter).unwrap()
        };
        let (_, counts, fewest) = SMALLEST.iter().find(|s| s.0 == limit).unwrap();
        for &(n, k) in *counts {
            let at = row(k, n);
            assert_eq!((at.verdict, at.count), (Verdict::NumericalLimitsMet, k), "{letter} {n}");
            let under = row(k - 1, n);
            assert_eq!(under.verdict, Verdict::NumericalLimitsNotMet, "{letter} {n}");
            assert!(under.bound_pct.unwrap() <= limit && at.bound_pct.unwrap() > limit);
        }
        assert_eq!(row(*fewest, *fewest).verdict, Verdict::NumericalLimitsMet, "{letter}");
        let short = row(fewest - 1, fewest - 1);
        assert_eq!((short.verdict, short.pairs_more), (Verdict::TooFew, Some(1)), "{letter}");
        // At a share below the limit no number of pairs helps.
        assert_eq!(row(0, 400).pairs_more, None);
    }
}

/// Strata are by the device's value: 69.9 is low, 70 and 180 are in the middle, 180.1 is high.
#[test]
fn strata_by_the_device() {
    let n = |reading: f64, letter: &str| {
        let rows = icgm(&[100.0], &[reading], None, None, 0.95).unwrap();
        rows.iter().find(|r| r.item == letter).unwrap().n
    };
    assert_eq!([n(69.9, "A"), n(69.9, "B"), n(69.9, "C")], [1, 0, 0]);
    assert_eq!([n(70.0, "D"), n(70.0, "E"), n(180.0, "E"), n(180.0, "F")], [0, 1, 1, 0]);
    assert_eq!([n(180.1, "C"), n(180.1, "B"), n(180.1, "G")], [1, 0, 1]);
    let rows = icgm(&[100.0], &[100.0], None, None, 0.95).unwrap();
    assert_eq!((rows.len(), rows[0].percent, rows[0].verdict), (9, None, Verdict::TooFew));
    assert_eq!(rows[0].pairs_more, Some(19));
}

#[test]
fn not_a_single_offence() {
    let verdict = |r: f64, m: f64, letter: &str| {
        let rows = icgm(&[r], &[m], None, None, 0.95).unwrap();
        rows.iter().find(|row| row.item == letter).unwrap().verdict
    };
    assert_eq!(verdict(180.0, 69.0, "H"), Verdict::NumericalLimitsMet);
    assert_eq!(verdict(180.1, 69.0, "H"), Verdict::NumericalLimitsNotMet);
    assert_eq!(verdict(180.1, 70.0, "H"), Verdict::TooFew);
    assert_eq!(verdict(70.0, 181.0, "I"), Verdict::NumericalLimitsMet);
    assert_eq!(verdict(69.9, 181.0, "I"), Verdict::NumericalLimitsNotMet);
}

/// One of 100 is 1 %, two are more; a true rate of exactly -2 or a shown one of exactly +1 does
/// not count.
#[test]
fn rates_at_their_limits() {
    let verdict = |wrong: usize, n: usize, truth: f64, shown: f64, letter: &str| {
        let device: Vec<f64> = (0..n).map(|i| if i < wrong { shown } else { truth }).collect();
        let truths = vec![truth; n];
        let rates = Some(Rates { reference: &truths, measured: &device });
        let pairs = vec![100.0; n];
        let rows = icgm(&pairs, &pairs, rates, None, 0.95).unwrap();
        rows.into_iter().find(|row| row.item == letter).unwrap().verdict
    };
    for (letter, sign) in [("J", 1.0), ("K", -1.0)] {
        let v = |wrong, n, truth: f64, shown: f64| {
            verdict(wrong, n, sign * truth, sign * shown, letter)
        };
        assert_eq!(v(1, 100, -2.1, 1.1), Verdict::NumericalLimitsMet);
        assert_eq!(v(2, 100, -2.1, 1.1), Verdict::NumericalLimitsNotMet);
        assert_eq!(v(2, 100, -2.1, 1.0), Verdict::NumericalLimitsMet);
        assert_eq!(v(2, 100, -2.0, 1.1), Verdict::TooFew);
        assert_eq!(v(0, 99, -2.1, 1.1), Verdict::TooFew);
    }
    let short = Some(Rates { reference: &[1.0], measured: &[] });
    assert_eq!(icgm(&[1.0], &[1.0], short, None, 0.95).unwrap_err().code(), "length_mismatch");
}

/// Pairs that come in clusters carry less: the bound falls.
#[test]
fn clusters_lower_the_bound() {
    let (r, m) = on_and_over(120.0, 18.0, 180, 200);
    let cluster: Vec<i64> = (0..200).map(|i| i / 20).collect();
    let bound = |cluster: Option<&[i64]>| icgm(&r, &m, None, cluster, 0.95).unwrap()[1].bound_pct;
    assert!(bound(Some(&cluster)) < bound(None));
}

#[test]
fn what_is_from_memory_says_so() {
    let rows = icgm(&[100.0], &[100.0], None, None, 0.95).unwrap();
    assert!(rows.iter().all(|r| (r.status == Status::Confirmed) == (r.item == "A")));
    assert!(rows.iter().all(|r| r.status == Status::Confirmed || r.note.contains("memory")));
}
