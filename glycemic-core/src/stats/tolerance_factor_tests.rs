use super::*;
use crate::stats::distribution::t_cdf;

/// Factors k computed with scipy 1.17.1 (nct.ppf, and its quadrature for the pair), printed to
/// eleven digits: n, single limit at .025 and .975, pair at .025 and .975; z = 1.96, 95 %.
const FACTORS: [(usize, [f64; 4]); 7] = [
    (5, [0.9231910464, 5.9750185329, 1.2397295675, 6.1569010896]),
    (10, [1.1632087426, 3.8009647447, 1.3914554284, 3.7706389781]),
    (17, [1.3150585151, 3.1483237932, 1.4899916044, 3.0824099176]),
    (20, [1.3565137727, 3.0140534493, 1.5174766136, 2.9444753287]),
    (50, [1.5507311628, 2.5355139886, 1.6505138539, 2.4703181802]),
    (100, [1.6590957304, 2.3419116222, 1.7282877071, 2.2895684551]),
    (200, [1.7408902520, 2.2191028658, 1.7888894895, 2.1793739976]),
];

#[test]
fn factors_by_other_software() {
    for (n, expected) in FACTORS {
        let got = [
            single_limit(n, 1.96, 0.025),
            single_limit(n, 1.96, 0.975),
            pair_of_limits(n, 0.95, 0.025),
            pair_of_limits(n, 0.95, 0.975),
        ];
        for (g, e) in got.iter().zip(expected) {
            assert!((g - e).abs() < 1e-8 * e, "n = {n}: {got:?}");
        }
    }
}

/// Two-sided 95/95 factors as in the textbook tables (ISO 16269-6), four decimals.
#[test]
fn textbook_factors() {
    for (n, printed) in [(10, 3.3934), (20, 2.7603), (30, 2.5549)] {
        assert!((pair_of_limits(n, 0.95, 0.95) - printed).abs() < 5.1e-5);
    }
}

/// Without noncentrality it is Student's t; at 0 the share is Φ(-δ); the share rises with t.
#[test]
fn closed_forms() {
    for df in [1.0, 2.0, 3.5, 16.0, 400.0, 1e5] {
        for t in [-30.0, -2.0, -0.3, 0.1, 1.0, 5.0, 60.0] {
            assert!((noncentral_t_cdf(t, df, 0.0) - t_cdf(t, df)).abs() < 1e-11, "{t} {df}");
        }
        for delta in [-3.0, 0.5, 40.0] {
            assert!((noncentral_t_cdf(0.0, df, delta) - normal_cdf(-delta)).abs() < 1e-12);
        }
    }
    for p in [0.001, 0.025, 0.5, 0.975, 0.999] {
        for (df, delta) in [(1.0, 2.8), (16.0, 8.1), (4999.0, 138.6)] {
            let t = noncentral_t_quantile(p, df, delta);
            assert!((noncentral_t_cdf(t, df, delta) - p).abs() < 1e-10, "{p} {df} {delta}: {t}");
        }
    }
}

#[test]
fn outside_the_domain() {
    assert!(single_limit(1, 1.96, 0.975).is_nan());
    assert!(pair_of_limits(10, 1.0, 0.95).is_nan());
    assert!(noncentral_t_quantile(0.0, 5.0, 1.0).is_nan());
    assert!(noncentral_t_cdf(f64::NAN, 5.0, 1.0).is_nan());
    assert!(noncentral_t_cdf(1.0, 0.0, 1.0).is_nan());
}
