//! The diary and the days: true lows, portions that adapt, start times.

#![allow(clippy::unwrap_used, reason = "a test that cannot unwrap has failed")]

use super::*;

#[test]
fn true_lows_are_low_in_blood() {
    let lows = Scenario::named("lows").unwrap();
    for seed in 0..12 {
        let simulated = trial(&lows, seed);
        let truth = &simulated.truth;
        assert_eq!(truth.true_lows.len(), 3, "seed {seed}: {:?}", truth.true_lows);
        for low in &truth.true_lows {
            let minutes = (low.end_ms - low.start_ms) / 60_000;
            assert!((25..=60).contains(&minutes), "seed {seed}: {minutes} min");
            assert!((54.0..67.0).contains(&low.nadir_mg_dl), "seed {seed}: {}", low.nadir_mg_dl);
            let place = |time: i64| ((time - simulated.start_ms) / 300_000) as usize;
            let inside =
                &simulated.blood_mg_dl[place(low.start_ms) + 1..=place(low.end_ms - 60_000)];
            assert!(inside.len() >= 4 && inside.iter().all(|&g| g < 70.0), "{inside:?}");
            assert!(inside.iter().all(|&g| g >= low.nadir_mg_dl));
            // No pressure low in the same night.
            let apart = |p: &PressureLow| (p.start_ms - low.start_ms).abs() > 360 * 60_000;
            assert!(truth.pressure_lows.iter().all(apart));
        }
        assert!(truth.levels.blood.below_70_pct > 0.0);
        assert!(trial(&Scenario::DEMO, seed).truth.true_lows.is_empty());
    }
}

#[test]
fn portions_are_cut_after_high_rises_only() {
    let mut scenario = Scenario::named("adaptive").unwrap();
    // Then the noise-free sensor is what the person acts on.
    (scenario.sensor.wobble_mg_dl, scenario.sensor.drift_mg_dl_day) = (0.0, 0.0);
    for seed in 1..5 {
        let simulated = trial(&scenario, seed);
        let truth = &simulated.truth;
        let snacks = |time: i64| {
            simulated.meals.iter().any(|m| m.time_ms == time && m.tags.contains(&"snack"))
        };
        let main: Vec<i64> =
            truth.meals.iter().map(|meal| meal.time_ms).filter(|&time| !snacks(time)).collect();
        let at = |time: i64| ((time - simulated.start_ms) / 300_000) as usize;
        let mut cuts = 0;
        for pair in main.windows(2) {
            let clean = &simulated.sensor_clean_mg_dl;
            let base = &clean[at(pair[0]) - 6..at(pair[0])];
            let seen = &clean[at(pair[0])..at(pair[0]) + 37];
            let rise = seen.iter().copied().fold(0.0, f64::max)
                - base.iter().sum::<f64>() / base.len() as f64;
            let cut = truth.adaptive_cuts.iter().find(|cut| cut.time_ms == pair[1]);
            // Every fifth minute is looked at here: 2 mg/dL either way.
            assert!(cut.is_some() == (rise > 30.0) || (rise - 30.0).abs() < 2.0, "{rise} {cut:?}");
            if let Some(cut) = cut {
                cuts += 1;
                assert!(cut.rise_before_mg_dl > 30.0 && (cut.rise_before_mg_dl - rise).abs() < 2.0);
                assert_eq!(cut.net_g, (0.7 * cut.planned_net_g).round().max(1.0));
                let meal = truth.meals.iter().find(|meal| meal.time_ms == cut.time_ms).unwrap();
                assert!(meal.logged_net_g.is_none_or(|grams| grams == cut.net_g));
            }
        }
        assert!(cuts >= 5 && cuts == truth.adaptive_cuts.len());
        assert!(trial(&Scenario::DEMO, seed).truth.adaptive_cuts.is_empty());
    }
}

#[test]
fn start_times_are_rounded_and_late() {
    let mut scenario = Scenario::DEMO;
    scenario.behaviour.round_to_min = 15;
    let errors = |scenario: &Scenario| {
        let meals = (0..40).flat_map(|seed| trial(scenario, seed).truth.meals);
        let errors = meals.filter_map(|meal| Some((meal.logged_time_ms? - meal.time_ms) / 60_000));
        errors.collect::<Vec<i64>>()
    };
    for meal in trial(&scenario, 1).meals {
        assert_eq!(meal.time_ms % 900_000, 0);
    }
    assert!(errors(&scenario).iter().all(|error| error.abs() <= 8));
    assert!(errors(&Scenario::DEMO).iter().all(|&error| error == 0));
    // Without rounding: a third late, by a half normal with SD 15 cut at 45.
    scenario.behaviour.round_to_min = 0;
    let late = Scenario::named("late_diary").unwrap().behaviour;
    (scenario.behaviour.late_share, scenario.behaviour.late_sd_min) = (0.33, late.late_sd_min);
    scenario.behaviour.late_max_min = 45.0;
    let all = errors(&scenario);
    assert!(all.iter().all(|error| (0..=45).contains(error)));
    // A delay below half a minute, 2.7 % of them, shows as none: 0.321, SE 0.011 of 1900.
    let share = all.iter().filter(|&&error| error > 0).count() as f64 / all.len() as f64;
    assert!((share - 0.321).abs() < 0.044, "{share}");
    // Mean of a half normal: SD √(2/π) = 12.0, a little less for the cut; SE of about 620: 0.36.
    let mean = all.iter().sum::<i64>() as f64 / all.len() as f64 / 0.33;
    assert!((mean - 12.0).abs() < 1.5, "{mean}");
}
