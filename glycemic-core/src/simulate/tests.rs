//! Each check stands beside its truth.

#![allow(clippy::unwrap_used, reason = "a test that cannot unwrap has failed")]

use super::diary::menu;
use super::model::{Drive, Emptying, GP, KABS, KMAX, NORMAL, Parameters, SOLID, State};
use super::random::{Purpose, Random};
use super::sensor::{latent, noise_of, noise_sd, pressure, pressure_lows};
use super::*;

/// Glucose by minute after a meal, paper's model.
fn after_meal(p: &Parameters, mut state: State, grams: f64, minutes: usize) -> Vec<f64> {
    state[SOLID] += 1000.0 * grams;
    let meal = Emptying { dose_mg: 1000.0 * grams, kmax: KMAX, kabs: KABS };
    let mut glucose = vec![state[GP] / p.vg];
    for _ in 0..minutes {
        state = p.step(&state, &meal, &Drive::NONE);
        glucose.push(state[GP] / p.vg);
    }
    glucose
}

/// The paper's printed basal values.
const PRINTED: State = [178.6, 135.0, 4.5, 1.25, 0.0, 0.0, 0.0, 25.0, 25.0, 0.0, 3.6, 0.0];

/// An independent integration (LSODA, steps of at most a minute) of the same equations gave these
/// figures, to a tenth: peak, minute of the peak, 120, 180, 300 min.
#[test]
fn the_meal_model_agrees_with_another_integrator() {
    for (grams, peak, at, g120, g180, g300) in [
        (78.0, 158.5, 64, 132.7, 98.4, 90.6),
        (75.0, 156.3, 64, 132.0, 98.7, 90.5),
        (50.0, 137.0, 69, 124.0, 100.6, 90.5),
        (45.0, 132.9, 69, 121.8, 100.7, 90.5),
    ] {
        let glucose = after_meal(&NORMAL, PRINTED, grams, 300);
        let top = glucose.iter().copied().fold(0.0, f64::max);
        let minute = glucose.iter().position(|&g| g == top).unwrap();
        // The printed start is rounded, hence 0.15 and a minute.
        for (got, want) in
            [(top, peak), (glucose[120], g120), (glucose[180], g180), (glucose[300], g300)]
        {
            assert!((got - want).abs() < 0.15, "{grams} g: {got} against {want}");
        }
        assert!(minute.abs_diff(at) <= 1, "{grams} g: peak at {minute}, not {at}");
    }
}

#[test]
fn without_food_glucose_is_flat() {
    let (settled, basal) = NORMAL.settled(95.0, 25.0);
    let glucose = after_meal(&settled, basal, 0.0, 600);
    assert!(glucose.iter().all(|g| (g - 95.0).abs() < 1e-9));
}

/// Closed form: mean 0 by construction; SD from the moments of sinh of a normal with variance
/// 0.49/0.51; the latent correlation is the recursion's 0.7.
#[test]
fn noise_has_the_moments_of_its_source() {
    let mut random = Random::new(3, Purpose::SensorNoise);
    let hidden = latent(&mut random, 400_000);
    let noise: Vec<f64> = hidden.iter().map(|&e| noise_of(e)).collect();
    let n = noise.len() as f64;
    let mean = noise.iter().sum::<f64>() / n;
    let sd = (noise.iter().map(|e| (e - mean) * (e - mean)).sum::<f64>() / n).sqrt();
    // Effective n is n (1-0.7)/(1+0.7) = 70,000: SE 0.044 for the mean, about 0.05 for the SD.
    assert!(mean.abs() < 0.2, "{mean}");
    assert!((sd - noise_sd()).abs() < 0.25, "{sd} against {}", noise_sd());
    // With unit variance the SD would be 12.06; the recursion's variance is 0.961.
    assert!((noise_sd() - 11.73).abs() < 0.01);
    let square: f64 = hidden.iter().map(|e| e * e).sum();
    let lagged: f64 = hidden.windows(2).map(|pair| pair[0] * pair[1]).sum();
    assert!((lagged / square - 0.7).abs() < 0.01, "{}", lagged / square);
}

#[test]
fn pressure_lows_last_and_reach_what_they_say() {
    let demo = Scenario::DEMO;
    for seed in 0..50 {
        let lows = pressure_lows(&demo, seed, 700);
        assert_eq!(lows.len(), 2);
        for low in &lows {
            let minutes = (low.end_ms - low.start_ms) / 60_000;
            assert!((30..=70).contains(&minutes));
            assert!((25.0..=40.0).contains(&low.depth_mg_dl));
            let fall = pressure(&lows, low.start_ms, 180);
            let deepest = fall.iter().copied().fold(0.0, f64::max);
            // First order, at least five time constants: at least 99 % of the depth.
            assert!(deepest <= low.depth_mg_dl && deepest > 0.99 * low.depth_mg_dl);
        }
    }
}

#[test]
fn same_seed_same_trial_and_one_knob_moves_one_thing() {
    let demo = Scenario::DEMO;
    let first = trial(&demo, 7);
    assert_eq!(first, trial(&demo, 7));
    assert_ne!(first.sensor, trial(&demo, 8).sensor);
    let mut noisy = demo;
    noisy.sensor.noise_scale = 1.0;
    let second = trial(&noisy, 7);
    assert_ne!(first.sensor, second.sensor);
    assert_eq!(
        (&first.meals, &first.meter, &first.activity),
        (&second.meals, &second.meter, &second.activity)
    );
    let mut still = demo;
    still.behaviour.walk_share = 0.0;
    assert_eq!(first.meals, trial(&still, 7).meals);
}

#[test]
fn rises_grow_with_grams_and_a_walk_lowers_them() {
    let curve = rise_curve(&Scenario::DEMO);
    assert!(curve.meals >= 10_000);
    for rises in [&curve.mean_sensor_mg_dl, &curve.p80_sensor_mg_dl, &curve.mean_blood_mg_dl] {
        assert!(rises.windows(2).all(|pair| pair[0] < pair[1]));
    }
    let ratio = curve.walk.rise_with_mg_dl / curve.walk.rise_without_mg_dl;
    assert!((0.7..0.9).contains(&ratio), "{ratio}");
    let limits = curve.limits(30.0);
    let (mean, safe) = (limits.mean_limit_sensor_g.unwrap(), limits.safe80_sensor_g.unwrap());
    assert!((25.0..36.0).contains(&mean) && safe < mean, "{mean} {safe}");
    // A lower target, a lower limit; beyond the doses, none.
    assert!(curve.limits(20.0).mean_limit_sensor_g.unwrap() < mean);
    assert_eq!(curve.limits(500.0).mean_limit_sensor_g, None);
}

#[test]
fn a_slower_sensor_shifts_more() {
    let mut slow = Scenario::DEMO;
    slow.sensor.tau_min = 14.0;
    let (demo, slow) = (trial(&Scenario::DEMO, 1).truth, trial(&slow, 1).truth);
    // The delay of a first-order lag is below its time constant and near it for slow signals.
    assert!((6.0..=8.5).contains(&demo.best_shift_min), "{}", demo.best_shift_min);
    assert!(slow.best_shift_min > demo.best_shift_min + 3.0);
}

#[test]
fn every_scenario_has_its_files_and_counts() {
    for scenario in Scenario::all() {
        assert_eq!(Scenario::named(scenario.id).as_ref(), Some(scenario));
        assert!(!menu(scenario).is_empty());
        for seed in 1..4 {
            let simulated = trial(scenario, seed);
            let main = simulated.truth.meals.len();
            assert!((42..=52).contains(&main), "{} {main}", scenario.id);
            assert_eq!(simulated.truth.eaten_out.len(), scenario.behaviour.eating_out_meals);
            assert_eq!(simulated.meals.len() + 1, main);
            assert_eq!(simulated.meals.iter().filter(|meal| meal.carbs_g.is_none()).count(), 2);
            let files = simulated.files();
            assert_eq!(files.len(), 9);
            assert!(files.iter().all(|(_, text)| text.ends_with('\n')));
        }
    }
    assert_eq!(Scenario::named("nobody"), None);
}

#[test]
fn odd_knobs_do_not_break_a_trial() {
    for days in [1, 2, 3, 30] {
        let mut odd = Scenario { days, ..Scenario::DEMO };
        odd.behaviour.dishes = 1;
        odd.behaviour.walk_share = 1.0;
        odd.sensor.tau_min = 0.0;
        let simulated = trial(&odd, 5);
        assert_eq!(simulated.blood_mg_dl.len(), 288 * days as usize);
        assert_eq!(simulated.truth.best_shift_min, 0.0);
        assert!(simulated.blood_mg_dl.iter().all(|&g| (40.0..400.0).contains(&g)));
        odd.behaviour.dishes = 0;
        odd.offsets = &[];
        assert_eq!(trial(&odd, 5).files().len(), 9);
    }
}

#[test]
fn the_doubled_hour_is_written_with_its_offset() {
    let simulated = trial(&Scenario::named("mmol_dst").unwrap(), 2);
    let files = simulated.files();
    let text = &files.iter().find(|(name, _)| *name == "sensor.csv").unwrap().1;
    let rows = |part: &str| text.lines().filter(|line| line.contains(part)).count();
    assert!(rows("2025-10-26T01:") > 12);
    assert!(rows("2025-10-26T01:40:00+01:00") == 1 && rows("2025-10-26T01:40:00+00:00") == 1);
    // Breakfast is still at breakfast time after the change.
    let meals = &files.iter().find(|(name, _)| *name == "meals.csv").unwrap().1;
    for line in meals.lines().filter(|line| line.starts_with("2025-10-27 0")) {
        assert!(line.starts_with("2025-10-27 07") || line.starts_with("2025-10-27 08"));
    }
}

#[test]
fn dates_are_written_as_the_calendar_has_them() {
    assert_eq!(folder::stamp(0, 0, ' '), "1970-01-01 00:00");
    assert_eq!(folder::stamp(951_782_400_000, 0, ' '), "2000-02-29 00:00");
    assert_eq!(folder::stamp(Scenario::DEMO.midnight_ms, 60, ' '), "2025-05-05 00:00");
}

#[test]
fn printed_only_how_long_it_takes() {
    let clock = std::time::Instant::now();
    let simulated = trial(&Scenario::DEMO, 1);
    let once = clock.elapsed();
    let limits = truth_limit(&Scenario::DEMO, 30.0);
    println!("trial {once:?}, limit {:?}", clock.elapsed() - once);
    println!("{limits:?}\n{:?}", long_run(&Scenario::DEMO, 1));
    println!("{} meals, mean {}", simulated.meals.len(), simulated.truth.mean_blood_mg_dl);
}
