use super::*;

fn of(glucose: &[f64], unit: Unit) -> impl Fn(Id) -> f64 + use<> {
    let all = order_free(glucose, unit);
    move |id| all.iter().find(|m| m.0 == id).unwrap().1
}

fn near(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1e-3), "{got} is not {want}");
}

/// The published formulas, written out reading by reading.
fn naive(g: &[f64], low: f64, tight: f64) -> Vec<(Id, f64)> {
    let n = g.len() as f64;
    let sum = |f: &dyn Fn(f64) -> f64| g.iter().map(|&x| f(x)).sum::<f64>();
    let mean = sum(&|x| x) / n;
    let sd = (sum(&|x| (x - mean) * (x - mean)) / (n - 1.0)).sqrt();
    let f = |x: f64| 1.509 * (libm::pow(libm::log(x), 1.084) - 5.381);
    let lbgi = sum(&|x| if f(x) < 0.0 { 10.0 * f(x) * f(x) } else { 0.0 }) / n;
    let hbgi = sum(&|x| if f(x) > 0.0 { 10.0 * f(x) * f(x) } else { 0.0 }) / n;
    let grade = |x: f64| {
        let y = 425.0 * libm::pow(libm::log10(libm::log10(x / 18.0156)) + 0.16, 2.0);
        if y > 50.0 { 50.0 } else { y }
    };
    let all = sum(&grade);
    let part = |inside: &dyn Fn(f64) -> bool| {
        100.0 * sum(&|x| if inside(x) { grade(x) } else { 0.0 }) / all
    };
    let hyper = sum(&|x| libm::pow((x - 140.0).max(0.0), 1.1)) / (30.0 * n);
    let hypo = sum(&|x| libm::pow((80.0 - x).max(0.0), 2.0)) / (30.0 * n);
    vec![
        (Id::MeanMgDl, mean),
        (Id::MeanMmolL, mean / 18.0156),
        (Id::SdMgDl, sd),
        (Id::CvPct, 100.0 * sd / mean),
        (Id::GmiPct, 3.31 + 0.02392 * mean),
        (Id::Ea1cPct, (mean + 46.7) / 28.7),
        (Id::MValue, sum(&|x| libm::pow((10.0 * libm::log10(x / 120.0)).abs(), 3.0)) / n),
        (Id::JIndex, 0.001 * libm::pow(mean + sd, 2.0)),
        (Id::HyperIndex, hyper),
        (Id::HypoIndex, hypo),
        (Id::Igc, hyper + hypo),
        (Id::Lbgi, lbgi),
        (Id::Hbgi, hbgi),
        (Id::Bgri, lbgi + hbgi),
        (Id::Grade, all / n),
        (Id::GradeHypoPct, part(&|x| x < low)),
        (Id::GradeEuPct, part(&|x| low <= x && x <= tight)),
        (Id::GradeHyperPct, part(&|x| x > tight)),
    ]
}

#[test]
fn agrees_with_the_formulas_written_out() {
    let walk: Vec<f64> = (0..600).map(|i| f64::from(40 + (i * i * 7 + i * 31) % 361)).collect();
    let off: Vec<f64> = walk.iter().map(|g| g + 0.37).collect();
    for glucose in [&walk, &off] {
        let got = of(glucose, Unit::MgDl);
        naive(glucose, 70.0, 140.0).into_iter().for_each(|(id, want)| near(got(id), want));
    }
    let mmol: Vec<f64> = (0..600)
        .map(|i| Unit::MmolL.to_mg_dl(f64::from(22 + (i * i * 7 + i * 31) % 200) / 10.0))
        .collect();
    let got = of(&mmol, Unit::MmolL);
    let limits = (3.9 * 18.0156, 7.8 * 18.0156);
    naive(&mmol, limits.0 - 1e-9, limits.1 + 1e-9)
        .into_iter()
        .for_each(|(id, want)| near(got(id), want));
}

/// Equal readings: no spread, every percentile the reading, everything in one range.
#[test]
fn a_constant() {
    let got = of(&[100.0; 50], Unit::MgDl);
    for id in [Id::MeanMgDl, Id::MinMgDl, Id::P05MgDl, Id::MedianMgDl, Id::P95MgDl, Id::MaxMgDl] {
        assert_eq!(got(id), 100.0);
    }
    for id in [Id::SdMgDl, Id::CvPct, Id::IqrMgDl, Id::Igc, Id::Gri, Id::Hbgi, Id::GradeHypoPct] {
        assert_eq!(got(id), 0.0);
    }
    for id in [Id::InRangePct, Id::TightRangePct, Id::GradeEuPct, Id::Cogi] {
        assert_eq!(got(id), 100.0);
    }
    assert_eq!(got(Id::JIndex), 10.0);
}

/// Half 90 and half 210: mean 150, SD 60 sqrt(n / (n - 1)).
#[test]
fn two_values() {
    let glucose: Vec<f64> = (0..10).map(|i| if i % 2 == 0 { 90.0 } else { 210.0 }).collect();
    let got = of(&glucose, Unit::MgDl);
    let sd = 60.0 * (10.0_f64 / 9.0).sqrt();
    near(got(Id::SdMgDl), sd);
    near(got(Id::JIndex), 0.001 * (150.0 + sd) * (150.0 + sd));
    near(got(Id::HyperIndex), libm::pow(70.0, 1.1) / 60.0);
    assert_eq!(got(Id::HypoIndex), 0.0);
    // Half the readings high: 0.8 x 50.
    assert_eq!((got(Id::Gri), got(Id::GriHyperComponent)), (40.0, 25.0));
    assert_eq!((got(Id::MedianMgDl), got(Id::IqrMgDl)), (150.0, 120.0));
}

/// 1, 2, ..., 101 above a floor of 59: variance n (n + 1) / 12, percentiles on the line.
#[test]
fn a_ramp() {
    let glucose: Vec<f64> = (0..101).rev().map(|i| f64::from(60 + i)).collect();
    let got = of(&glucose, Unit::MgDl);
    near(got(Id::SdMgDl), (101.0_f64 * 102.0 / 12.0).sqrt());
    let at = [Id::MinMgDl, Id::P05MgDl, Id::P25MgDl, Id::MedianMgDl, Id::P75MgDl, Id::P95MgDl];
    assert_eq!(at.map(&got), [60.0, 65.0, 85.0, 110.0, 135.0, 155.0]);
    // 20 + ... + 1 squared, over 30 n.
    near(got(Id::HypoIndex), 2870.0 / 3030.0);
}

/// Weights and limits of COGI (Leelarathna 2020): 1 % of lows is worth 4.7 % of range (it stays
/// 35 / 15 against 0.5, so 14 / 3), half a mmol/L of SD is worth 3 %.
#[test]
fn what_cogi_trades_for_what() {
    let summary = |bands: [u64; 6], sd_mmol_l: f64| {
        let of = of_bands(bands);
        (cogi(&of, sd_mmol_l * 18.0156), of)
    };
    let (base, _) = summary([0, 0, 1000, 0, 0, 0], 2.0);
    let (high, _) = summary([0, 0, 990, 0, 10, 0], 2.0);
    let (low, _) = summary([0, 10, 990, 0, 0, 0], 2.0);
    near(base - high, 0.5);
    near((high - low) / 0.5, 14.0 / 3.0);
    let (wider, _) = summary([0, 0, 1000, 0, 0, 0], 2.5);
    near((base - wider) / 0.5, 3.0);
    // The ends: all points, no points, and none beyond.
    near(summary([0, 0, 1000, 0, 0, 0], 0.2).0, 100.0);
    near(summary([0, 0, 1000, 0, 0, 0], 1.0).0, 100.0);
    near(summary([0, 150, 0, 0, 850, 0], 6.0).0, 0.0);
    near(summary([150, 150, 0, 0, 700, 0], 9.0).0, 0.0);
}

fn of_bands(bands: [u64; 6]) -> Summary {
    Summary {
        n: bands.iter().sum(),
        mean_mg_dl: 100.0,
        sd_mg_dl: None,
        percentiles: [100.0; 7],
        bands,
        sums: [[0.0; 8]; 3],
        m_sum: None,
        grade_median: None,
    }
}

/// Capped: all readings very low would be 300.
#[test]
fn the_risk_index_is_capped() {
    let got = of(&[45.0; 4], Unit::MgDl);
    assert_eq!(
        (got(Id::Gri), got(Id::GriHypoComponent), got(Id::GriHyperComponent)),
        (100.0, 100.0, 0.0)
    );
}

/// The limits of GRADE's parts are those of the unit the readings were measured in.
#[test]
fn parts_of_grade_at_their_limits() {
    for (unit, at, part) in [
        (Unit::MgDl, 69.0, Id::GradeHypoPct),
        (Unit::MgDl, 70.0, Id::GradeEuPct),
        (Unit::MgDl, 140.0, Id::GradeEuPct),
        (Unit::MgDl, 141.0, Id::GradeHyperPct),
        (Unit::MmolL, 3.8, Id::GradeHypoPct),
        (Unit::MmolL, 3.9, Id::GradeEuPct),
        (Unit::MmolL, 7.8, Id::GradeEuPct),
        (Unit::MmolL, 7.9, Id::GradeHyperPct),
    ] {
        assert_eq!(of(&[unit.to_mg_dl(at)], unit)(part), 100.0, "{at} {}", unit.code());
        // The same beside a reading that is on no grid.
        let both = of(&[unit.to_mg_dl(at), 88.607], unit);
        assert!(both(part) > 99.0, "{at} {}", unit.code());
    }
}

#[test]
fn choices_change_what_they_are_about() {
    let glucose = [50.0, 80.0, 120.0, 160.0, 300.0];
    let with = |options: Options| {
        let all = order_free_with(&glucose, Unit::MgDl, &options);
        move |id: Id| all.iter().find(|m| m.0 == id).unwrap().1.clone().unwrap()
    };
    let plain = with(Options::default());
    let m80 = with(Options { m_reference_mg_dl: 80.0, ..Options::default() });
    let want: f64 = glucose.iter().map(|&g| risk::m_term(g, 80.0)).sum();
    near(m80(Id::MValue), want / 5.0);
    assert_ne!(m80(Id::MValue), plain(Id::MValue));
    let median = with(Options { grade: GradeRule::Median, ..Options::default() });
    assert_eq!(median(Id::Grade), risk::grade(160.0));
    assert_eq!(median(Id::GradeEuPct), plain(Id::GradeEuPct));
    let mmol = with(Options { risk_constants: RiskConstants::MmolL, ..Options::default() });
    let risk_of = |g: f64| 10.0 * libm::pow(risk::risk(g, RiskConstants::MmolL), 2.0);
    near(mmol(Id::Lbgi), (risk_of(50.0) + risk_of(80.0)) / 5.0);
    near(mmol(Id::Hbgi), (risk_of(120.0) + risk_of(160.0) + risk_of(300.0)) / 5.0);
}

#[test]
fn what_is_missing_says_why() {
    let missing = |glucose: &[f64]| -> Vec<(Id, Reason)> {
        let all = order_free_with(glucose, Unit::MgDl, &Options::default());
        all.into_iter().filter_map(|(id, v)| Some((id, v.err()?))).collect()
    };
    let none = missing(&[]);
    let counts = 3;
    let wanted = MEASURES.iter().filter(|m| m.needs == Needs::Histogram).count() - counts;
    assert_eq!(none.len(), wanted);
    assert!(none.iter().all(|m| m.1 == Reason::count("too_few_readings", "readings", 0, 1)));
    let one = missing(&[100.0]);
    let ids: Vec<Id> = one.iter().map(|m| m.0).collect();
    assert_eq!(ids, [Id::SdMgDl, Id::CvPct, Id::JIndex, Id::Cogi]);
    assert!(one.iter().all(|m| m.1 == Reason::count("too_few_readings", "readings", 1, 2)));
    assert!(missing(&[100.0, 101.0]).is_empty());
}

/// A row for every measure of the registry that needs a histogram, and for no other.
#[test]
fn every_order_free_measure_is_there_once() {
    let mut got: Vec<Id> = order_free(&[90.0, 110.0], Unit::MgDl).iter().map(|m| m.0).collect();
    got.extend([Id::N, Id::CensoredLow, Id::CensoredHigh]);
    got.sort_by_key(|&id| id as u32);
    let wanted = MEASURES.iter().filter(|m| m.needs == Needs::Histogram).map(|m| m.id);
    assert_eq!(got, wanted.collect::<Vec<_>>());
}
