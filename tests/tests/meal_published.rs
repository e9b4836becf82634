//! Published worked examples of meals: the glycaemic index, and recovery as followed times.

use glycemic_core::area::{Rule, incremental};
use glycemic_core::meals::index::{Subject, glycaemic_index, load, meal_index};
use glycemic_core::meals::recovery::{Followed, compare};

/// FAO/WHO. Carbohydrates in human nutrition. FAO Food and Nutrition Paper 66 (1998), chapter 4:
/// three standard meals and the test food, mmol/L. Rows from memory, confirmed: every printed area
/// (114, 155, 179, 93) and the printed index of 62 follow from them.
#[test]
fn the_index_of_62() {
    let minutes = [0.0, 15.0, 30.0, 45.0, 60.0, 90.0, 120.0];
    let area = |g: [f64; 7]| incremental(&minutes, &g, None, Rule::Positive).unwrap();
    let reference_areas = vec![
        area([4.3, 6.3, 7.9, 5.3, 4.1, 4.6, 4.9]),
        area([4.0, 6.0, 6.7, 5.5, 5.3, 5.0, 4.2]),
        area([4.1, 5.8, 8.0, 6.5, 5.9, 4.8, 3.9]),
    ];
    let test_area = area([4.0, 5.0, 5.8, 5.4, 4.8, 4.2, 4.4]);
    let food = glycaemic_index(&[Subject { test_area, reference_areas }]).unwrap();
    assert_eq!(food.index_pct.round(), 62.0);
    // By hand: 100 × 93 / ((113.95 + 155.25 + 179.16667) / 3).
    assert!((food.index_pct - 62.2259).abs() < 1e-3, "{}", food.index_pct);
    // SD of the three areas 33.00, mean 149.46: 22.1 %.
    assert!((food.subjects[0].reference_cv_pct.unwrap() - 22.08).abs() < 0.05);
    assert!(!food.subjects[0].reference_varies && !food.enough && food.sem_pct.is_none());
}

/// The same chapter: a mixed meal, index of white bread 100. Foods read there; the printed 79.6
/// confirmed: 6449 / 81.
#[test]
fn the_mixed_meal_of_79_6() {
    let foods = [(25.0, 100.0), (25.0, 72.0), (6.0, 39.0), (5.0, 87.0), (20.0, 74.0)];
    let index = meal_index(&foods).unwrap();
    assert!((index - 6449.0 / 81.0).abs() < 1e-12);
    assert!((index - 79.6).abs() < 0.05);
    assert!((load(index, 81.0).unwrap() - 64.49).abs() < 1e-9);
}

/// Weeks of remission under 6-mercaptopurine and placebo: Freireich et al., Blood 1963; 21:
/// 699-716, the textbook example of the log-rank test (chi-squared 16.79; 9 relapses against 19.25
/// expected). Data and results from memory, confirmed: the results follow from the data.
#[test]
fn the_log_rank_of_16_79() {
    let group = |weeks: &[i32]| -> Vec<Followed> {
        let one = |w: &i32| Followed { minutes: f64::from(w.abs()), recovered: *w > 0 };
        weeks.iter().map(one).collect()
    };
    let treated = group(&[
        6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35,
    ]);
    let placebo = group(&[1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]);
    let found = compare(&treated, &placebo, 0.95, 999, 1).unwrap();
    assert_eq!((found.n, found.recovered), ((21, 21), (9, 21)));
    assert!((found.expected - 19.25).abs() < 0.005, "{}", found.expected);
    assert!((found.log_rank_chi2 - 16.79).abs() < 0.005, "{}", found.log_rank_chi2);
    assert!(found.p_value_chi2 < 1e-4 && found.p_value <= 0.002);
    // Nobody under placebo is followed on: up to 23 weeks its mean is the plain one, 182 / 21.
    assert_eq!(found.until_min, 23.0);
    assert!((found.restricted_mean_min.1 - 182.0 / 21.0).abs() < 1e-9);
    let e = &found.difference;
    assert!(e.low.unwrap() > 0.0 && e.value.unwrap() > 5.0);
}
