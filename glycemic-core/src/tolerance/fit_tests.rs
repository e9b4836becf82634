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
