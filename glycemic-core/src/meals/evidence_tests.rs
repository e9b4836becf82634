//! Tests of the evidence for a meal.

use super::*;
use crate::stats::cholesky::solve;
use crate::stats::random::Random;

const QUIET: Linked = Linked { linked: 20.0, white: 0.1, slow_min: 40.0, fast_min: 0.0 };

fn minutes() -> Vec<f64> {
    (-(BEFORE as i64)..=AFTER as i64).map(|i| (i * STEP_MIN) as f64).collect()
}

fn meal(start: f64, peak: f64, height: f64) -> Vec<f64> {
    minutes().iter().map(|m| 110.0 + height * shape(m - start, peak)).collect()
}

/// Closed form: with y ~ N(0, S) or N(m x, S + s² x xᵀ) the two quadratic forms, here by the full
/// matrices, give the ratio of two multivariate t densities (Zellner 1976).
#[test]
fn a_cell_is_the_ratio_of_two_densities() {
    let (habit, shapes) = (Habit::default(), Shapes::new(BEFORE, &QUIET).unwrap());
    let y = meal(0.0, 40.0, 30.0);
    let mean = y.iter().sum::<f64>() / y.len() as f64;
    let y0 = averages(&y.iter().map(|v| v - mean).collect::<Vec<f64>>());
    let x = averages(&minutes().iter().map(|m| shape(*m, 40.0)).collect::<Vec<f64>>());
    let n = x.len();
    let s = matrix(n, |i, j| dot(&shapes.low[i], &shapes.low[j]));
    let with = factor(&matrix(n, |i, j| s[i][j] + SD_RISE * SD_RISE * x[i] * x[j])).unwrap();
    let off: Vec<f64> = y0.iter().zip(&x).map(|(v, x)| v - MEAN_RISE * x).collect();
    let form = |low: &[Vec<f64>], v: &[f64]| dot(v, &solve(low, v.to_vec()));
    let log_det =
        |low: &[Vec<f64>]| low.iter().enumerate().map(|(i, r)| libm::log(r[i])).sum::<f64>();
    let density = |low: &[Vec<f64>], v: &[f64]| {
        -log_det(low) - 0.5 * (FREE + n as f64) * libm::log(FREE + form(low, v))
    };
    let wanted = density(&with, &off) - density(&shapes.low, &y0);
    let found = shapes.cells(&shapes.white(&y), &habit, AWAY..AWAY + 1)[0][1].log;
    assert!((found - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{found} {wanted}");
}

#[test]
fn a_meal_is_dated_and_a_line_is_none() {
    let mut stretches = Stretches::new(&QUIET);
    let habit = Habit::default();
    // Begins 25 minutes after the suspected start and shows ten minutes later.
    let seen = stretches.evidence(BEFORE, &meal(35.0, 60.0, 45.0), &habit).unwrap();
    assert!(seen.log_factor > 5.0 && (seen.steps - 5).abs() <= 2, "{seen:?}");
    let line: Vec<f64> = minutes().iter().map(|m| 100.0 + 0.02 * m).collect();
    assert!(stretches.evidence(BEFORE, &line, &habit).unwrap().log_factor < 0.0);
    // Cut short at both ends it is still seen.
    let part = &meal(35.0, 60.0, 45.0)[BEFORE - 8..BEFORE + 24];
    assert!(stretches.evidence(8, part, &habit).unwrap().log_factor > 3.0);
    assert!(stretches.evidence(BEFORE + 1, part, &habit).is_none());
}

/// Meals made with a peak at 85 min, shown after ten: most of the share goes there, and the mean
/// and SD of their heights come back.
#[test]
fn what_meals_look_like_is_learnt() {
    let mut random = Random::keyed(7, 0, 0);
    let made: Vec<Vec<f64>> = (0..60)
        .map(|_| {
            let height = 30.0 + 8.0 * random.normal();
            meal(10.0, 85.0, height).iter().map(|v| v + 0.3 * random.normal()).collect()
        })
        .collect();
    let still = Linked { linked: 0.0, white: 0.1, slow_min: 10.0, fast_min: 0.0 };
    let habit = Stretches::new(&still).learn(&made).unwrap();
    assert!(habit.shares[2 * PEAKS_MIN.len() + 3] > 0.5, "{:?}", habit.shares);
    assert!((habit.shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert!((habit.mean - 30.0).abs() < 4.0 && (habit.sd - 9.0).abs() < 4.0, "{habit:?}");
    assert_eq!(Stretches::new(&still).learn(&[]).unwrap().mean, MEAN_RISE);
}

/// Means of three and three: by hand, variances 1 with nothing linked give 1/3 each.
#[test]
fn averages_by_hand() {
    assert_eq!(averages(&[1.0, 2.0, 6.0, 4.0, 4.0, 4.0, 9.0]), [3.0, 4.0]);
    let found = averaged_both_ways(&matrix(7, |i, j| f64::from(u8::from(i == j))));
    assert!(found.len() == 2 && (found[0][0] - 1.0 / 3.0).abs() < 1e-12 && found[0][1] == 0.0);
}

/// Where all stretches are as loud, c times what was said, the likelihood is highest at c; one that
/// is a hundred times louder moves it little, and a few stretches leave it near 1.
#[test]
fn the_usual_scale_is_found() {
    let stretch = |scale: f64| (Plain { squares: 16.0 * scale, free: 16.0 }, 1.0);
    // So many that what is usual elsewhere weighs nothing.
    let many = vec![stretch(1.5); 50_000];
    assert!((usual_scale(&many) - 1.5).abs() < 0.01, "{}", usual_scale(&many));
    let with_one = [vec![stretch(1.5); 99], vec![stretch(150.0)]].concat();
    let moved = usual_scale(&with_one) - usual_scale(&with_one[..99]);
    assert!((0.0..0.05).contains(&moved), "{moved}");
    assert!(usual_scale(&[stretch(1.5)]) < 1.1 && usual_scale(&[]) == 1.0);
}

/// Evidence of k against a truth is misleading at most once in k (Royall R. J Am Stat Assoc 2000;
/// 95: 760-768, from memory), here for a loud smooth sensor: normal, correlated by 0.7 over 15 min, with straight
/// lines between. The covariance said is that of the values 15 min apart, as good as can be had.
#[test]
fn smooth_noise_is_seldom_taken_for_a_meal() {
    let loud = Linked { linked: 126.0, white: 0.1, slow_min: 42.0, fast_min: 0.0 };
    let (mut stretches, habit) = (Stretches::new(&loud), Habit::default());
    let mut random = Random::keyed(11, 0, 0);
    let stretches_tried = 600;
    let mut misled = 0;
    for _ in 0..stretches_tried {
        let mut last = random.normal();
        let mut y = Vec::new();
        for _ in 0..18 {
            let next = 0.7 * last + 0.51f64.sqrt() * random.normal();
            y.extend((0..3).map(|i| 100.0 + 11.2 * (last + (next - last) * f64::from(i) / 3.0)));
            last = next;
        }
        let from = (3.0 * random.uniform()) as usize;
        let seen = stretches.evidence(BEFORE, &y[from..=from + BEFORE + AFTER], &habit).unwrap();
        misled += usize::from(seen.log_factor > libm::log(20.0));
    }
    assert!(misled * 20 <= stretches_tried, "{misled}");
}
