use super::*;

/// numpy 2.4.6 and scipy 1.17.1, leaving out each day by a fit anew:
/// ```python
/// X = np.column_stack([np.ones_like(x), x]); c = np.array([0., 1.])
/// b = np.linalg.lstsq(X, y)[0]; M = np.eye(15) - X @ np.linalg.inv(X.T @ X) @ X.T
/// v, L = 0, []
/// for g in np.unique(day):
///     k = day != g
///     v += (c @ (np.linalg.lstsq(X[k], y[k])[0] - b))**2
///     L.append(c @ (np.linalg.pinv(X[k]) @ np.eye(15)[k] - np.linalg.pinv(X)))
/// B = np.array(L) @ M @ np.array(L).T
/// se = np.sqrt(v * (c @ np.linalg.inv(X.T @ X) @ c) / np.trace(B))
/// df = np.trace(B)**2 / np.sum(B * B); half = stats.t.ppf(0.95, df) * se
/// ```
#[test]
fn a_slope_as_numpy_has_it() {
    let day = [0, 0, 0, 1, 1, 2, 3, 3, 3, 3, 4, 4, 5, 6, 6];
    let x = [0.1, 0.3, 0.6, 1.2, 1.5, 2.3, 3.1, 3.2, 3.6, 3.9, 4.2, 4.4, 5.3, 6.1, 6.5];
    let y = [3.0, 5.0, 1.0, 4.0, 7.0, 2.0, 8.0, 6.0, 9.0, 5.0, 4.0, 8.0, 10.0, 7.0, 12.0];
    let fitted = fit(&[&[1.0; 15], &x], &y, &day).unwrap();
    let spread = fitted.spread(&[0.0, 1.0]).unwrap();
    assert!((fitted.coefficients[1] - 1.066_263_565_191_886_1).abs() < 1e-10);
    assert!((spread.se - 0.102_171_623_341_317_41).abs() < 1e-10);
    assert!((spread.freedom - 2.123_399_877_026_141_5).abs() < 1e-8);
    let e = fitted.estimate(&[0.0, 1.0], 0.9, "", 5);
    assert!((e.low.unwrap() - 0.779_417_851_391_625).abs() < 1e-7, "{e:?}");
    assert!((e.high.unwrap() - 1.353_109_278_992_147_3).abs() < 1e-7);
}

/// One column of ones, two values a day: Student's t on the four means 2, 4, 5, 6 of days, whose SD is
/// sqrt(35/12).
#[test]
fn equal_days_are_student_on_their_means() {
    let y = [1.0, 3.0, 2.0, 6.0, 5.0, 5.0, 4.0, 8.0];
    let fitted = fit(&[&[1.0; 8]], &y, &[1, 1, 2, 2, 3, 3, 4, 4]).unwrap();
    let spread = fitted.spread(&[1.0]).unwrap();
    assert!((spread.se - (35.0_f64 / 12.0).sqrt() / 2.0).abs() < 1e-12);
    assert!((spread.freedom - 3.0).abs() < 1e-9);
}

/// Copies of a pair on its own day add nothing.
#[test]
fn copies_within_a_day_add_nothing() {
    let (day, y) = ([1, 2, 3, 4, 5], [3.0, 5.0, 4.0, 9.0, 6.0]);
    let once = fit(&[&[1.0; 5]], &y, &day).unwrap().estimate(&[1.0], 0.9, "", 3);
    let many = |v: &[f64]| v.iter().flat_map(|v| [*v; 4]).collect::<Vec<f64>>();
    let days: Vec<i64> = day.iter().flat_map(|d| [*d; 4]).collect();
    let copied = fit(&[&[1.0; 20]], &many(&y), &days).unwrap().estimate(&[1.0], 0.9, "", 3);
    assert!((once.low.unwrap() - copied.low.unwrap()).abs() < 1e-9);
}

#[test]
fn what_hangs_on_one_day_has_no_interval() {
    // Only day 9 has another x than 0.
    let fitted =
        fit(&[&[1.0; 6], &[0.0, 0.0, 0.0, 0.0, 1.0, 1.0]], &[1.0; 6], &[1, 2, 3, 4, 9, 9]).unwrap();
    assert!(fitted.spread(&[0.0, 1.0]).is_none());
    let e = fitted.estimate(&[0.0, 1.0], 0.9, "", 3);
    assert_eq!(e.reason.unwrap().code, "hangs_on_few_days");
    assert!(e.value.is_some() && e.low.is_none());
    assert!(fit(&[&[1.0; 3], &[2.0; 3]], &[1.0; 3], &[1, 2, 3]).is_none());
}
