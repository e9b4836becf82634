//! Each check stands beside its truth.

#![allow(clippy::unwrap_used, reason = "a test that cannot unwrap has failed")]

use super::diary::menu;
use super::model::{Drive, Emptying, GP, KABS, KMAX, NORMAL, Parameters, SOLID, State};
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
    assert!(curve.walk.peak_difference_mg_dl < 0.0);
    // Reynolds (2016): 3-h area after meals 0.88 of that without, 0.78 in the evening.
    let area = curve.walk.area_with_mg_dl_min / curve.walk.area_without_mg_dl_min;
    assert!((0.65..0.95).contains(&area), "{area}");
    // The surer, the less; the stored 80 % is the limit's, and between stored ones lies between.
    let safe_at = |probability| curve.safe_g(30.0, probability).unwrap().unwrap();
    let grams = [0.5, 0.6, 0.75, 0.8, 0.805, 0.81, 0.95].map(safe_at);
    assert!(grams.windows(2).all(|pair| pair[0] > pair[1]), "{grams:?}");
    assert_eq!(grams[3], safe);
    assert_eq!(curve.safe_blood_g(30.0, 0.8).unwrap(), limits.safe80_blood_g);
    for (target, probability) in [(30.0, 0.49), (30.0, 0.96), (30.0, f64::NAN), (f64::NAN, 0.8)] {
        assert!(curve.safe_g(target, probability).is_err());
    }
    // A lower target, a lower limit; beyond the doses, none.
    assert!(curve.limits(20.0).mean_limit_sensor_g.unwrap() < mean);
    assert_eq!(curve.limits(500.0).mean_limit_sensor_g, None);
}

/// Weaker insulin action makes rises higher, stronger makes them lower; what is switched off does
/// nothing.
#[test]
fn special_days_act_as_their_knobs_say() {
    let mut scenario = Scenario::DEMO;
    (scenario.behaviour.stress_action, scenario.behaviour.stress_production) = (1.0, 0.0);
    scenario.behaviour.bad_night_production = 0.0;
    scenario.behaviour.bad_night_action = 0.5;
    scenario.person.walk_uptake = 0.0;
    let weak = day_effects(&scenario);
    assert!(weak.bad_night_mg_dl > 0.5 && weak.stress_mg_dl == 0.0, "{weak:?}");
    // Without uptake by moving, exercise is its factor on insulin action alone.
    assert!(weak.exercise_mg_dl < 0.0, "{weak:?}");
    assert_eq!(weak.at_g, 40.0);
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
        let behaviour = &scenario.behaviour;
        for seed in 1..4 {
            let simulated = trial(scenario, seed);
            let all = simulated.truth.meals.len();
            assert!((42..=55).contains(&all), "{} {all}", scenario.id);
            if behaviour.free {
                continue;
            }
            assert_eq!(simulated.truth.eaten_out.len(), behaviour.eating_out_meals);
            assert_eq!(simulated.meals.len() + behaviour.unlogged_meals, all);
            let bare = simulated.meals.iter().filter(|meal| meal.carbs_g.is_none()).count();
            assert_eq!(bare, behaviour.meals_without_grams);
            let files = simulated.files();
            assert_eq!(files.len(), 9);
            assert!(files.iter().all(|(_, text)| text.ends_with('\n')));
        }
    }
    assert_eq!(Scenario::named("nobody"), None);
}

/// What a knob may move, of: sensor, meter, meals, activity, sleep, notes, wear, blood.
#[test]
fn every_knob_moves_its_own_things() {
    type Turn = (&'static str, fn(&mut Scenario), &'static [&'static str]);
    let turns: &[Turn] = &[
        ("noise", |s| s.sensor.noise = Noise::Autoregressive2, &["sensor"]),
        (
            "outliers",
            |s| (s.sensor.outlier_share, s.sensor.outlier_sd_mg_dl) = (0.1, 30.0),
            &["sensor"],
        ),
        ("pressure", |s| s.sensor.pressure_lows = 6, &["sensor"]),
        ("drop-outs", |s| s.sensor.drop_outs_per_day = 5.0, &["sensor"]),
        ("gaps", |s| s.sensor.gaps = 9, &["sensor"]),
        ("lot", |s| s.meter.lot_bias_sd_pct = 9.0, &["meter"]),
        ("clock", |s| s.meter.clock_ahead_min = 60, &["meter"]),
        ("rounding", |s| s.behaviour.round_to_min = 15, &["meals"]),
        (
            "late",
            |s| {
                let b = &mut s.behaviour;
                (b.late_share, b.late_sd_min, b.late_max_min) = (1.0, 20.0, 40.0);
            },
            &["meals"],
        ),
        ("ranges", |s| s.behaviour.carb_range = 0.3, &["meals"]),
        ("adaptive", |s| s.behaviour.adaptive = 0.4, &["sensor", "meter", "meals", "blood"]),
        ("lows", |s| s.behaviour.low_nights = 4, &["sensor", "meter", "blood"]),
    ];
    let before = trial(&Scenario::DEMO, 6);
    for (name, turn, may_move) in turns {
        let mut scenario = Scenario::DEMO;
        turn(&mut scenario);
        let after = trial(&scenario, 6);
        let moved = [
            ("sensor", before.sensor != after.sensor),
            ("meter", before.meter != after.meter),
            ("meals", before.meals != after.meals),
            ("activity", before.activity != after.activity),
            ("sleep", before.sleep != after.sleep),
            ("notes", before.notes != after.notes),
            ("wear", before.wear != after.wear),
            ("blood", before.blood_mg_dl != after.blood_mg_dl),
        ];
        let moved: Vec<&str> = moved.iter().filter(|m| m.1).map(|m| m.0).collect();
        assert_eq!(&moved, may_move, "{name}");
    }
}

/// Half a day at 69.9, half at 180.1 mg/dL, from local midnight: by hand. The limits in mmol/L are
/// 3.9 and 10.0, that is 70.26 and 180.156 mg/dL; the sensor shows 70 and 180, or 3.9 and 10.0.
#[test]
fn levels_are_classified_in_the_unit_of_the_source() {
    let mut values = vec![69.9; 720];
    values.extend([180.1; 720]);
    for (id, above, blood_in) in [("demo", 50.0, 0.0), ("mmol_dst", 0.0, 50.0)] {
        let scenario = Scenario::named(id).unwrap();
        let plan = diary::plan(&scenario, 1, 1, 0, 1440);
        let found = levels::both(&scenario, &plan, 0, &values, &values);
        let blood = found.blood;
        assert_eq!((blood.below_70_pct, blood.low_pct, blood.very_low_pct), (50.0, 50.0, 0.0));
        assert_eq!((blood.above_180_pct, blood.high_pct), (above, above));
        assert_eq!((blood.in_range_pct, blood.tight_range_pct), (blood_in, 0.0));
        assert!((blood.median_mg_dl - 125.0).abs() + (blood.mean_mg_dl - 125.0).abs() < 1e-9);
        assert_eq!((blood.overnight_mg_dl, blood.fasting_mg_dl), (Some(69.9), Some(69.9)));
        // SD with n - 1: 55.1 √(1440/1439).
        assert!((blood.sd_mg_dl - 55.1 * (1440.0_f64 / 1439.0).sqrt()).abs() < 1e-9);
        assert_eq!((found.sensor.in_range_pct, found.sensor.tight_range_pct), (100.0, 50.0));
    }
    let levels = trial(&Scenario::DEMO, 1).truth.levels;
    for l in [levels.sensor, levels.blood] {
        let parts = [l.very_low_pct, l.low_pct, l.in_range_pct, l.high_pct, l.very_high_pct];
        assert!((parts.iter().sum::<f64>() - 100.0).abs() < 1e-9);
        let (below, above) = (l.very_low_pct + l.low_pct, l.high_pct + l.very_high_pct);
        assert!((l.below_70_pct - below).abs() + (l.above_180_pct - above).abs() < 1e-9);
        assert!(l.p05_mg_dl < l.p25_mg_dl && l.p25_mg_dl < l.median_mg_dl);
        assert!(l.median_mg_dl < l.p75_mg_dl && l.p75_mg_dl < l.p95_mg_dl);
    }
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
    let timed = |name: &str, work: &dyn Fn() -> usize| {
        let clock = std::time::Instant::now();
        let size = work();
        println!("{name}: {:?} ({size})", clock.elapsed());
    };
    let demo = Scenario::DEMO;
    for scenario in Scenario::all() {
        let ten = || (0..10).map(|seed| trial(scenario, seed).sensor.len()).sum();
        timed(&format!("ten trials, {}", scenario.id), &ten);
    }
    timed("long run", &|| long_run(&demo, 1).days);
    timed("day effects", &|| usize::from(day_effects(&demo).rise_without_mg_dl > 0.0));
    timed("rise curve", &|| rise_curve(&demo).meals);
}
