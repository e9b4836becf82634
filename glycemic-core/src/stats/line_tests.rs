//! Tests of the straight line against certified and published answers.

use super::*;

/// NIST StRD, Norris: (x, y).
#[rustfmt::skip]
const NORRIS: [(f64, f64); 36] = [
    (0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0),
    (10.1, 9.2), (226.5, 228.1), (666.3, 668.5), (996.3, 998.5),
    (448.6, 449.1), (777.0, 778.9), (558.2, 559.2), (0.4, 0.3),
    (0.6, 0.1), (775.5, 778.1), (666.9, 668.8), (338.0, 339.3),
    (447.5, 448.9), (11.6, 10.8), (556.0, 557.7), (228.1, 228.3),
    (995.8, 998.0), (887.6, 888.8), (120.2, 119.6), (0.3, 0.3),
    (0.3, 0.6), (556.8, 557.6), (339.1, 339.3), (887.2, 888.0),
    (999.0, 998.5), (779.0, 778.9), (11.1, 10.2), (118.3, 117.6),
    (229.2, 228.9), (669.1, 668.4), (448.9, 449.2), (0.5, 0.2),
];

fn columns(points: &[(f64, f64)]) -> (Vec<f64>, Vec<f64>) {
    points.iter().copied().unzip()
}

fn close(got: f64, truth: f64, relative: f64) {
    assert!((got / truth - 1.0).abs() < relative, "got {got}, not {truth}");
}

/// Certified values of NIST StRD, Norris (linear regression, lower difficulty), 15 digits.
#[test]
fn certified_norris() {
    let (x, y) = columns(&NORRIS);
    let line = weighted(&x, &y, &[1.0; 36]).unwrap();
    close(line.intercept, -0.262323073774029, 1e-12);
    close(line.slope, 1.00211681802045, 1e-14);
    close(line.residual_sd, 0.884796396144373, 1e-12);
    close(line.cov_model[0][0].sqrt(), 0.232818234301152, 1e-12);
    close(line.cov_model[1][1].sqrt(), 0.429796848199937e-3, 1e-12);
    // Leverages sum to the two coefficients; residuals to nothing.
    assert!((line.leverage.iter().sum::<f64>() - 2.0).abs() < 1e-13);
    assert!(line.residuals.iter().sum::<f64>().abs() < 1e-10);
}

/// By hand: residuals 1, -2, 1 with leverages 5/6, 1/3, 5/6 are 6, -3, 6 when each point is
/// left out; the slope moves by (y3 - y1) / 2, so its variance is (36 + 36) / 4; the mean by a
/// third of each, so its variance is (36 + 9 + 36) / 9.
#[test]
fn hc3_by_hand() {
    let line = weighted(&[0.0, 1.0, 2.0], &[2.0, 1.0, 6.0], &[1.0; 3]).unwrap();
    let expected = [[27.0, -18.0], [-18.0, 18.0]];
    for (row, by_hand) in line.cov_hc3.iter().zip(expected) {
        for (got, truth) in row.iter().zip(by_hand) {
            assert!((got - truth).abs() < 1e-12);
        }
    }
}

/// A whole weight of 2 is the same point twice, and a weight of 0 is no point.
#[test]
fn weights_are_repeats() {
    let (x, y) = ([1.0, 2.0, 4.0, 7.0, 9.0], [2.0, 3.0, 3.5, 9.0, 100.0]);
    let weighted_line = weighted(&x, &y, &[1.0, 2.0, 1.0, 2.0, 0.0]).unwrap();
    let (x, y) = ([1.0, 2.0, 2.0, 4.0, 7.0, 7.0], [2.0, 3.0, 3.0, 3.5, 9.0, 9.0]);
    let repeated = weighted(&x, &y, &[1.0; 6]).unwrap();
    assert_eq!(weighted_line.n, 4);
    close(weighted_line.slope, repeated.slope, 1e-14);
    close(weighted_line.intercept, repeated.intercept, 1e-13);
    // The same sum of squares, over 2 and 4 degrees of freedom.
    close(weighted_line.residual_sd, repeated.residual_sd * 2.0_f64.sqrt(), 1e-13);
    assert_eq!(weighted_line.leverage[4], 0.0);
}

/// One point alone at its x has leverage 1: both covariances stay finite.
#[test]
fn a_point_that_decides_the_slope() {
    let line = weighted(&[0.0, 0.0, 0.0, 1.0], &[1.0, 2.0, 3.0, 9.0], &[1.0; 4]).unwrap();
    assert_eq!(line.leverage[3], 1.0);
    close(line.slope, 7.0, 1e-14);
    assert!(line.cov_hc3.iter().flatten().all(|v| v.is_finite()));
    // The three others have residuals -1, 0, 1, each 1.5 times as large when left out: their
    // part is (2.25 + 2.25) / 9; the lone point adds its model variance, 1 (2 over n - 2).
    close(line.cov_hc3[1][1], 1.5, 1e-13);
}

#[test]
fn refuses_bad_points() {
    let code = |x: &[f64], y: &[f64], w: &[f64]| weighted(x, y, w).unwrap_err().code();
    assert_eq!(code(&[0.0, 1.0], &[0.0, 1.0], &[1.0; 2]), "too_few_values");
    assert_eq!(code(&[0.0, 1.0, 2.0], &[0.0; 3], &[1.0, 1.0, 0.0]), "too_few_values");
    assert_eq!(code(&[0.1; 5], &[0.0, 1.0, 2.0, 3.0, 4.0], &[1.0; 5]), "too_few_values");
    assert_eq!(code(&[0.0, 1.0, 2.0], &[0.0; 2], &[1.0; 3]), "length_mismatch");
    assert_eq!(code(&[0.0, 1.0, f64::NAN], &[0.0; 3], &[1.0; 3]), "not_finite");
    assert_eq!(code(&[0.0, 1.0, 2.0], &[0.0; 3], &[1.0, -1.0, 1.0]), "out_of_range");
}

/// Graybill FA, Iyer HK. Regression analysis, 1994, pages 431 and 433. A new thermostat reading
/// (variance of one reading added) and the mean response of a reaction chamber, as printed;
/// beside them the same to more digits, from the formula in Draper and Smith (1998), 3.2.
#[test]
fn published_inverse_predictions() {
    let temperature: Vec<f64> = (0..8).map(|k| 96.0 + 2.0 * f64::from(k)).collect();
    let reading = [95.71, 98.16, 99.52, 102.09, 103.79, 106.18, 108.14, 110.21];
    let thermostat = weighted(&temperature, &reading, &[1.0; 8]).unwrap();
    let one = thermostat.residual_sd * thermostat.residual_sd;
    let cov = &thermostat.cov_model;
    let got = inverse_reading(&thermostat, 104.0, 0.95, cov, one);
    agrees(got, (103.995, 103.4, 104.6), (5e-4, 0.05), (103.99492, 103.40405, 104.58946));
    let got = inverse_reading(&thermostat, 100.0, 0.90, cov, one);
    agrees(got, (100.1, 99.63, 100.59), (0.05, 5e-3), (100.11232, 99.62940, 100.58850));

    let dial: Vec<f64> = (0..11).map(|k| 10.0 * f64::from(k)).collect();
    let chamber =
        [206.36, 225.52, 252.18, 289.33, 318.11, 349.49, 383.03, 410.70, 444.40, 469.14, 501.16];
    let chamber = weighted(&dial, &chamber, &[1.0; 11]).unwrap();
    let got = inverse(&chamber, 400.0, 0.99, &chamber.cov_model);
    agrees(got, (66.5, 65.07, 68.03), (0.05, 5e-3), (66.52004, 65.07089, 68.02583));
}

/// Within half a unit of the last place: of what is printed (value, limits), and of 5 decimals.
fn agrees(got: Inverse, printed: (f64, f64, f64), last: (f64, f64), exact: (f64, f64, f64)) {
    let (value, low, high) = (got.value.unwrap(), got.low.unwrap(), got.high.unwrap());
    assert_eq!(got.set, Set::Bounded);
    assert!((value - printed.0).abs() <= last.0, "{value}");
    assert!((low - printed.1).abs() <= last.1 && (high - printed.2).abs() <= last.1, "{got:?}");
    assert!((value - exact.0).abs() < 5.1e-6, "{value}");
    assert!((low - exact.1).abs() < 5.1e-6 && (high - exact.2).abs() < 5.1e-6, "{got:?}");
}

/// The ends are where the definition, evaluated as it stands, changes its answer.
#[test]
fn every_kind_of_set_follows_the_definition() {
    let x = [0.0, 1.0, 2.0, 3.0, 4.0];
    let slopes = [3.0, 1.0, 0.4, 0.1, 0.0, -0.3, -2.0];
    let mut kinds = [0; 3];
    for slope in slopes {
        let noise = [0.5, -0.7, 0.1, 0.6, -0.5];
        let y: Vec<f64> = x.iter().zip(noise).map(|(x, e)| 1.0 + slope * x + e).collect();
        let line = weighted(&x, &y, &[1.0; 5]).unwrap();
        for cov in [line.cov_model, line.cov_hc3] {
            for y0 in [-9.0, 0.0, 1.5, 2.0, 4.0, 30.0] {
                for level in [0.5, 0.9, 0.99] {
                    let got = inverse(&line, y0, level, &cov);
                    kinds[got.set as usize] += 1;
                    follows_the_definition(&line, y0, level, &cov, &got);
                }
            }
        }
    }
    assert!(kinds.iter().all(|n| *n > 5), "{kinds:?}");
}

fn follows_the_definition(line: &Line, y0: f64, level: f64, cov: &Covariance, got: &Inverse) {
    let t = t_two_sided(level, line.n as f64 - 2.0);
    let mut x = -2000.05;
    while x < 2000.0 {
        let off = y0 - line.at(x);
        let kept = off * off <= t * t * Line::variance_at(x, cov);
        let in_set = match got.ruled_out {
            Some((from, to)) => x <= from || x >= to,
            None => got.low.is_none_or(|low| x >= low) && got.high.is_none_or(|high| x <= high),
        };
        assert_eq!(kept, in_set, "x = {x}, y0 = {y0}, level = {level}: {got:?}");
        x += if x.abs() < 20.0 { 0.1 } else { 7.0 };
    }
    if let Some(value) = got.value {
        assert!(got.low.is_none_or(|low| low <= value + 1e-9), "{got:?}");
        assert!(got.high.is_none_or(|high| high >= value - 1e-9), "{got:?}");
    }
    match got.set {
        Set::Bounded => assert!(got.low.is_some() && got.high.is_some()),
        Set::Open => assert!(got.low.is_none() || got.high.is_none()),
        Set::Everything => assert!(got.low.is_none() && got.high.is_none()),
    }
}

#[test]
fn what_is_not_finite_rules_nothing_out() {
    let line = weighted(&[0.0, 1.0, 2.0], &[2.0, 1.0, 6.0], &[1.0; 3]).unwrap();
    for (y0, level) in [(f64::NAN, 0.95), (4.0, f64::NAN), (4.0, 1.0), (f64::INFINITY, 0.9)] {
        let got = inverse(&line, y0, level, &line.cov_model);
        assert_eq!((got.low, got.high, got.set), (None, None, Set::Everything));
    }
}
