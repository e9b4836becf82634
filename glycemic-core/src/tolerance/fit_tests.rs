use super::*;
use crate::stats::random::Random;

fn meals(n: usize, slope: f64, noise: f64) -> (Vec<f64>, Vec<f64>) {
    let mut random = Random::keyed(7, 0, 0);
    let grams: Vec<f64> = (0..n).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
    let rises = grams.iter().map(|g| 5.0 + slope * g + noise * random.normal()).collect();
    (grams, rises)
}

#[test]
fn exact_line_gives_the_exact_limit() {
    let (g, r) = meals(15, 1.0, 0.0);
    let fit = fit(&g, &r, Options::new(35.0)).unwrap();
    assert!((fit.limit_g.value.unwrap() - 30.0).abs() < 1e-6);
    assert!((fit.safe_g(0.8).unwrap().value.unwrap() - 30.0).abs() < 1e-3);
    assert!((fit.predict(45.0).value.unwrap() - 50.0).abs() < 1e-6);
}

#[test]
fn adding_meals_brings_the_answer_and_taking_them_away_removes_it() {
    for n in 0..20 {
        let (g, r) = meals(n, 1.0, 5.0);
        let fit = fit(&g, &r, Options::new(35.0)).unwrap();
        assert_eq!(fit.limit_g.estimable(), n >= MIN_MEALS, "{n} meals: {:?}", fit.limit_g);
        if n < MIN_MEALS {
            let reason = fit.limit_g.reason.unwrap();
            assert_eq!((reason.had, reason.needed), (Some(n as f64), Some(8.0)));
        }
    }
}

#[test]
fn nothing_is_claimed_outside_the_doses_eaten() {
    let (g, r) = meals(20, 0.3, 4.0);
    let fit = fit(&g, &r, Options::new(60.0)).unwrap();
    assert_eq!(fit.limit_g.value, None);
    assert_eq!(fit.limit_g.reason.clone().unwrap().code, "outside_doses");
    assert!(fit.limit_g.high.is_none());
    assert!(fit.predict(100.0).value.is_none());
}

#[test]
fn flat_meals_have_no_limit() {
    let (g, r) = meals(20, 0.0, 8.0);
    let fit = fit(&g, &r, Options::new(10.0)).unwrap();
    assert_eq!(fit.limit_g.reason.unwrap().code, "no_clear_slope");
}

#[test]
fn a_nan_is_refused() {
    assert!(fit(&[10.0, f64::NAN], &[1.0, 2.0], Options::new(30.0)).is_err());
    assert!(fit(&[10.0, 20.0], &[1.0, 2.0], Options::new(f64::NAN)).is_err());
}

/// An error that all meals share adds its square to the variance of the line, and more meals don't
/// help: with 400 meals the interval is that of the shift alone, t of 7 degrees of freedom at 95 %
/// (2.365, Student's table) times 3 mg/dL, over a slope of 1.
#[test]
fn an_error_of_the_noise_is_in_the_interval() {
    let (g, r) = meals(400, 1.0, 5.0);
    let at = |noise_shift| fit(&g, &r, Options { noise_shift, ..Options::new(35.0) }).unwrap();
    let (without, with) = (at([0.0; 2]), at([3.0, 0.0]));
    let variance = |f: &Fit| Line::variance_at(30.0, &f.line.as_ref().unwrap().cov_hc3);
    assert!((variance(&with) - variance(&without) - 9.0).abs() < 1e-9);
    let half = 0.5 * (with.limit_g.high.unwrap() - with.limit_g.low.unwrap());
    assert!((half - 2.365 * 3.0).abs() < 0.3, "{half}");
    assert_eq!(with.limit_g.value, without.limit_g.value);
    assert!(fit(&g, &r, Options { noise_shift: [f64::NAN, 0.0], ..Options::new(35.0) }).is_err());
}

#[test]
fn shifts_of_meals_are_a_line_of_grams() {
    // 1 + 0.1 g at three doses.
    let found = noise_shift(&[10.0, 30.0, 60.0], &[2.0, 4.0, 7.0]).unwrap();
    assert!((found[0] - 1.0).abs() < 1e-12 && (found[1] - 0.1).abs() < 1e-12);
    assert_eq!(noise_shift(&[10.0], &[2.0]).unwrap(), [0.0; 2]);
    assert!(noise_shift(&[10.0], &[]).is_err());
}
