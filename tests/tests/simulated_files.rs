//! The files of every simulated scenario can be read, and hold what was simulated.

use glycemic_core::simulate::{Scenario, trial};
use glycemic_core::table::Items;
use glycemic_core::trial::{OnBadRows, Trial};

#[test]
fn every_scenario_can_be_read_and_holds_what_was_simulated() {
    for scenario in Scenario::all() {
        let simulated = trial(scenario, 1);
        let name = format!("glycemic_files_{}_{}", std::process::id(), scenario.id);
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&folder).unwrap();
        for (name, text) in simulated.files() {
            std::fs::write(folder.join(name), text).unwrap();
        }
        let read = Trial::read(&folder, OnBadRows::Stop);
        std::fs::remove_dir_all(&folder).unwrap();
        let read = read.unwrap_or_else(|e| panic!("{}: {e}", scenario.id));
        assert_eq!(read.problems, [], "{}", scenario.id);

        let once: std::collections::BTreeSet<i64> =
            simulated.sensor.iter().map(|row| row.time_ms).collect();
        assert!(read.sensor.times_ms().iter().eq(&once), "{}", scenario.id);
        assert_eq!(read.meals.len(), simulated.meals.len());
        for (got, row) in read.meals.iter().zip(&simulated.meals) {
            assert_eq!((got.time_ms, got.carbs_g), (row.time_ms, row.carbs_g));
            let range = (got.carbs_low_g, got.carbs_high_g);
            assert_eq!(range, (row.carbs_low_g, row.carbs_high_g));
        }
        let ranges = simulated.meals.iter().filter(|row| row.carbs_low_g.is_some()).count();
        assert_eq!(ranges > 0, scenario.behaviour.carb_range > 0.0, "{}", scenario.id);
        let wear: Vec<(i64, &str, Option<&str>)> =
            read.wear.iter().map(|w| (w.time_ms, w.event.as_str(), w.sensor.as_deref())).collect();
        let wanted: Vec<(i64, &str, Option<&str>)> =
            simulated.wear.iter().map(|w| (w.time_ms, w.event, Some(w.sensor))).collect();
        assert_eq!(wear, wanted, "{}", scenario.id);
    }
}

#[test]
fn the_truth_is_json_and_says_what_the_fields_say() {
    let simulated = trial(&Scenario::named("other_noise").unwrap(), 2);
    let truth: serde_json::Value = serde_json::from_str(&simulated.truth.to_json()).unwrap();
    let number = |path: &str| truth.pointer(path).and_then(serde_json::Value::as_f64).unwrap();
    let swap = simulated.truth.swap.unwrap();
    assert_eq!(number("/swap/mean_bias_after_mg_dl"), swap.mean_bias_after_mg_dl);
    assert_eq!(number("/levels/blood/p95_mg_dl"), simulated.truth.levels.blood.p95_mg_dl);
    assert_eq!(number("/meter_bias_pct"), 2.0);
    let lost = truth.pointer("/drop_outs").and_then(serde_json::Value::as_array).unwrap();
    assert_eq!(lost.len(), simulated.truth.drop_outs.len());
    assert!(truth.pointer("/limits").unwrap().is_null());
    assert!(truth.pointer("/day_effects").unwrap().is_null());
}

#[test]
fn tables_hold_the_rows_of_the_files() {
    let simulated = trial(&Scenario::named("late_diary").unwrap(), 1);
    let tables = simulated.tables();
    let rows: Vec<(&str, usize)> = tables.iter().map(|(name, t)| (*name, t.rows())).collect();
    let wanted = [
        ("sensor", simulated.sensor.len()),
        ("meter", simulated.meter.len()),
        ("meals", simulated.meals.len()),
        ("activity", simulated.activity.len()),
        ("sleep", simulated.sleep.len()),
        ("notes", simulated.notes.len()),
        ("wear", simulated.wear.len()),
        ("true_trace", simulated.blood_mg_dl.len()),
    ];
    assert_eq!(rows, wanted);
    let columns: Vec<usize> = tables.iter().map(|(_, table)| table.columns().len()).collect();
    assert_eq!(columns, [3, 3, 11, 4, 3, 4, 4, 3]);
    let meals = &tables[2].1;
    let grams: Vec<Option<f64>> = simulated.meals.iter().map(|row| row.carbs_low_g).collect();
    assert_eq!(meals.numbers("carbs_low_g").unwrap(), grams);
    let Items::I64(times) = &tables[7].1.column("time_ms").unwrap().items else { panic!() };
    assert_eq!((times[0], times[1] - times[0]), (simulated.start_ms, 300_000));
}
