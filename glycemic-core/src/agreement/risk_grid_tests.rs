use super::*;

/// Risk = (measured - reference) / 100 at nodes 100 apart: bilinear by hand.
fn plane() -> RiskMatrix {
    let nodes = [0.0, 100.0, 200.0, 300.0];
    let risk: Vec<f64> =
        nodes.iter().flat_map(|r| nodes.iter().map(move |m| (m - r) / 100.0)).collect();
    RiskMatrix::new(&nodes, &nodes, &risk).unwrap()
}

#[test]
fn a_plane_is_read_exactly_between_nodes() {
    for (r, m) in [(0.0, 300.0), (50.0, 75.0), (300.0, 300.0), (299.0, 1.0), (100.0, 150.0)] {
        let risk = plane().risk(r, m, Lookup::Bilinear).unwrap();
        assert!((risk - (m - r) / 100.0).abs() < 1e-12, "{r} {m} {risk}");
    }
}

#[test]
fn the_nearest_node_and_half_way_up() {
    let m = plane();
    assert_eq!(m.risk(49.0, 151.0, Lookup::Cell), Some(2.0));
    assert_eq!(m.risk(50.0, 149.0, Lookup::Cell), Some(0.0));
    assert_eq!(m.risk(300.0, 300.0, Lookup::Cell), Some(0.0));
    assert_eq!(m.risk(300.1, 300.0, Lookup::Cell), None);
}

#[test]
fn bands_end_inside() {
    for (k, (end, _)) in RISK_BANDS.iter().take(7).enumerate() {
        assert_eq!((band(*end), band(-end), band(end + 1e-9)), (k, k, k + 1));
    }
    assert_eq!(band(4.0), 7);
}

#[test]
fn sides_and_what_lies_outside_are_counted() {
    let g = risk_grid(
        &[100.0, 200.0, 100.0, 100.0],
        &[200.0, 100.0, 100.0, 301.0],
        Unit::MgDl,
        &plane(),
        Lookup::Cell,
    )
    .unwrap();
    assert_eq!((g.n, g.outside, g.counts), (3, 1, [1, 2, 0, 0, 0, 0, 0, 0]));
    assert_eq!((g.above[1], g.below[1], g.above[0] + g.below[0]), (1, 1, 0));
    assert_eq!(g.mean_size, Some(2.0 / 3.0));
    let none = risk_grid(&[400.0], &[400.0], Unit::MgDl, &plane(), Lookup::Cell).unwrap();
    assert_eq!((none.percent, none.mean_size), (None, None));
    // 10 mmol/L is 180.156 mg/dL, nearest to 200.
    let mmol = risk_grid(&[10.0], &[16.0], Unit::MmolL, &plane(), Lookup::Cell).unwrap();
    assert_eq!(mmol.risks, [Some(1.0)]);
}

#[test]
fn malformed_matrices_say_where() {
    let bad = |r: &[f64], m: &[f64], k: &[f64]| RiskMatrix::new(r, m, k).unwrap_err();
    let two = [0.0, 1.0];
    assert_eq!(bad(&[0.0], &two, &two).code(), "too_few_values");
    let error = bad(&[0.0, 0.0], &two, &[0.0; 4]);
    assert_eq!(
        (error.code(), error.argument(), error.index()),
        ("out_of_range", Some("reference_mg_dl"), Some(1))
    );
    assert_eq!(bad(&two, &[0.0, f64::NAN], &[0.0; 4]).code(), "not_finite");
    assert_eq!(bad(&two, &two, &[0.0; 5]).code(), "length_mismatch");
    assert_eq!(bad(&two, &two, &[0.0, 0.0, 4.1, 0.0]).index(), Some(2));
    assert_eq!(bad(&two, &two, &[0.0, f64::INFINITY, 0.0, 0.0]).index(), Some(1));
}
