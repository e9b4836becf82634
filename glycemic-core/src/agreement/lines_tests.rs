use super::*;

const X: [f64; 8] = [59.0, 76.3, 100.7, 120.7, 139.8, 160.7, 186.5, 221.2];
const Y: [f64; 8] = [62.1, 80.9, 93.3, 126.7, 143.6, 163.1, 203.0, 258.8];

fn close(got: f64, truth: f64) {
    assert!((got - truth).abs() < 1e-9 * truth.abs().max(1.0), "{got} is not {truth}");
}

/// Swapping the methods, with the inverse ratio, gives the inverse line: of both kinds.
#[test]
fn swapping_inverts() {
    for fit in [deming, weighted_deming] {
        for ratio in [0.3, 1.0, 2.25] {
            let there = fit(&X, &Y, ratio, 0.95).unwrap();
            let back = fit(&Y, &X, 1.0 / ratio, 0.95).unwrap();
            let (slope, intercept) = (there.slope.value.unwrap(), there.intercept.value.unwrap());
            close(back.slope.value.unwrap(), 1.0 / slope);
            close(back.intercept.value.unwrap(), -intercept / slope);
        }
    }
}

/// With all the error in y the line is least squares; with all in x, its inverse.
#[test]
fn the_ends_are_least_squares() {
    let at = |ratio| deming(&X, &Y, ratio, 0.95).unwrap().slope.value.unwrap();
    let (y_on_x, x_on_y) = (moments::slope(&X, &Y).unwrap(), moments::slope(&Y, &X).unwrap());
    assert!((at(1e6) - y_on_x).abs() < 1e-7);
    assert!((at(1e-6) - 1.0 / x_on_y).abs() < 1e-7);
    assert!(y_on_x < at(1.0) && at(1.0) < 1.0 / x_on_y);
}

/// Other units: mmol/L on both sides leave the slope and scale the intercept; falling lines fall.
#[test]
fn units_and_falling_lines() {
    for fit in [deming, weighted_deming] {
        let mg = fit(&X, &Y, 1.0, 0.95).unwrap();
        let mmol = fit(&X.map(|v| v / 18.0156), &Y.map(|v| v / 18.0156), 1.0, 0.95).unwrap();
        close(mmol.slope.value.unwrap(), mg.slope.value.unwrap());
        close(18.0156 * mmol.intercept.value.unwrap(), mg.intercept.value.unwrap());
    }
    let down = deming(&X, &Y.map(|v| 300.0 - v), 1.0, 0.95).unwrap();
    close(down.slope.value.unwrap(), -deming(&X, &Y, 1.0, 0.95).unwrap().slope.value.unwrap());
}

#[test]
fn no_line_is_said() {
    let flat = deming(&X, &[100.0; 8], 1.0, 0.95).unwrap();
    assert_eq!(flat.slope.value, None);
    assert_eq!(flat.slope.reason.unwrap().code, "no_line");
    // Without the last pair nothing is left to fit.
    let one = deming(&[1.0, 1.0, 1.0, 2.0], &[1.0, 1.0, 1.0, 2.0], 1.0, 0.95).unwrap();
    assert_eq!((one.slope.value, one.slope_se), (Some(1.0), None));
    assert_eq!(one.slope.reason.unwrap().code, "no_jackknife");
}

#[test]
fn refusals() {
    assert_eq!(deming(&X[..3], &Y[..3], 1.0, 0.95).unwrap_err().code(), "too_few_values");
    assert_eq!(deming(&X, &Y, 0.0, 0.95).unwrap_err().argument(), Some("variance_ratio"));
    assert_eq!(deming(&X, &Y, f64::NAN, 0.95).unwrap_err().code(), "not_finite");
    let mut zero = X;
    zero[2] = 0.0;
    assert_eq!(weighted_deming(&X, &zero, 1.0, 0.95).unwrap_err().index(), Some(2));
}
