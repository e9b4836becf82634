use super::*;
use crate::panel::{GradeRule, panel};
use crate::series::Builder;

fn levels(n: usize) -> Vec<f64> {
    (0..n).map(|i| (40 + (i * i * 7 + i * 31) % 361) as f64).collect()
}

fn of(unit: Unit, mg_dl: &[f64]) -> Histogram {
    let mut h = Histogram::new(unit);
    h.extend(mg_dl).unwrap();
    h
}

/// One by one, as codes, at once, and joined from any parts in any order: the same.
#[test]
fn the_way_it_was_filled_makes_no_difference() {
    let readings = levels(1000);
    let whole = of(Unit::MgDl, &readings);
    let mut single = Histogram::new(Unit::MgDl);
    let mut by_code = Histogram::new(Unit::MgDl);
    for &g in readings.iter().rev() {
        single.push(g).unwrap();
        by_code.push_code(g as u16).unwrap();
    }
    assert_eq!((&single, &by_code), (&whole, &whole));
    for cut in [0, 1, 333, 999, 1000] {
        let (a, b) = readings.split_at(cut);
        let (a, b) = (of(Unit::MgDl, a), of(Unit::MgDl, b));
        let (mut ab, mut ba) = (a.clone(), b.clone());
        ab.merge(&b).unwrap();
        ba.merge(&a).unwrap();
        assert_eq!((&ab, &ba), (&whole, &whole));
    }
    assert_eq!(whole.n(), 1000);
}

/// The panel of a trace has the bits of its histogram.
#[test]
fn a_trace_and_its_histogram_agree() {
    for unit in [Unit::MgDl, Unit::MmolL] {
        let shown: Vec<f64> = match unit {
            Unit::MgDl => levels(500),
            Unit::MmolL => {
                levels(500).iter().map(|g| (g / 18.0156 * 10.0).round() / 10.0).collect()
            }
        };
        let times: Vec<i64> = (0..500).map(|i| 1_741_000_000_000 + i * 300_000).collect();
        let mut censor = vec![Censor::None; 500];
        (censor[3], censor[7], censor[8]) = (Censor::Low, Censor::High, Censor::High);
        let trace = Builder::new(unit).build_censored(&times, &shown, &censor).unwrap();
        let p = panel(trace.view(), &[]);
        let mut h = Histogram::new(unit);
        h.extend_trace(trace.view()).unwrap();
        for (id, value) in h.measures(&Options::default()).unwrap() {
            assert_eq!(p.get(id), value.ok(), "{id:?}");
        }
        assert_eq!(h.censored(), (1, 2));
        let mut single = Histogram::new(unit);
        for (&g, &c) in trace.glucose_mg_dl().iter().zip(trace.view().censor()) {
            single.push_censored(g, c).unwrap();
        }
        assert_eq!(single, h);
    }
}

#[test]
fn what_it_cannot_hold_is_refused_and_not_counted() {
    let mut h = Histogram::new(Unit::MmolL);
    let error = h.push(100.0).unwrap_err();
    assert_eq!(
        (error.code(), error.argument(), error.index()),
        ("off_grid", Some("glucose"), None)
    );
    assert!(error.to_string().contains("tenths of mmol/L"), "{error}");
    assert!(error.to_string().contains("got 5.55"), "{error}");
    let error = h.extend(&[180.156, 100.0, f64::NAN]).unwrap_err();
    assert_eq!((error.code(), error.index()), ("off_grid", Some(1)));
    assert!(h.extend(&[]).is_ok());
    assert_eq!(h.push(f64::NAN).unwrap_err().code(), "off_grid");
    assert_eq!(h.push_censored(100.0, Censor::Low).unwrap_err().code(), "off_grid");
    assert_eq!(h.push_code(0).unwrap_err().code(), "out_of_range");
    assert_eq!(h.push_code(1111).unwrap_err().code(), "out_of_range");
    assert!(h.push_code(1110).is_ok());
    let other = Histogram::new(Unit::MgDl);
    assert_eq!(h.merge(&other).unwrap_err().argument(), Some("unit"));
    let trace = Builder::new(Unit::MgDl).build(&[1_741_000_000_000], &[100.0]).unwrap();
    assert_eq!(h.extend_trace(trace.view()).unwrap_err().argument(), Some("unit"));
    assert_eq!((h.n(), h.censored()), (1, (0, 0)));
}

#[test]
fn options_are_checked_and_heard() {
    let h = of(Unit::MgDl, &[54.0, 70.0, 140.0]);
    let bad = Options { m_reference_mg_dl: f64::NAN, ..Options::default() };
    assert_eq!(h.measures(&bad).unwrap_err().code(), "not_finite");
    let grade = |options: &Options| {
        let all = h.measures(options).unwrap();
        all.into_iter().find(|m| m.0 == Id::Grade).unwrap().1.unwrap()
    };
    let median = Options { grade: GradeRule::Median, ..Options::default() };
    assert_ne!(grade(&median), grade(&Options::default()));
}

/// No reading: counts of 0, and a reason for everything else.
#[test]
fn an_empty_one_has_reasons() {
    let all = Histogram::new(Unit::MgDl).measures(&Options::default()).unwrap();
    for (id, value) in all {
        match id {
            Id::N | Id::CensoredLow | Id::CensoredHigh => assert_eq!(value, Ok(0.0)),
            _ => assert_eq!(value.unwrap_err().code, "too_few_readings"),
        }
    }
}

#[cfg(feature = "io")]
#[test]
fn stored_and_read_it_is_the_same() {
    let mut h = of(Unit::MmolL, &[90.078, 180.156, 180.156]);
    h.push_censored(Unit::MmolL.to_mg_dl(2.2), Censor::Low).unwrap();
    let text = serde_json::to_string(&h).unwrap();
    let want =
        r#"{"unit":"mmol/L","levels":[[22,1],[50,1],[100,2]],"censored_low":1,"censored_high":0}"#;
    assert_eq!(text, want);
    assert_eq!(serde_json::from_str::<Histogram>(&text).unwrap(), h);
    for (from, to) in [
        ("[22,1]", "[0,1]"),
        ("[22,1]", "[2000,1]"),
        ("[22,1]", "[22,18446744073709551615]"),
        ("\"censored_low\":1", "\"censored_low\":5"),
        ("mmol/L", "mmol"),
    ] {
        assert!(serde_json::from_str::<Histogram>(&want.replace(from, to)).is_err(), "{to}");
    }
}
