//! The studies in small: they run, say the same on every run, and are not plainly wrong.

use glycemic_core::simulate::Scenario;
use glycemic_tests::study::{behaviour, behaviour_events, markdown, sensor, tolerance};

/// Seeds for this test only.
const FIRST: u64 = 8_000_000;

/// Of 24 intervals at 90 % at least 17 hold the truth, except once in a thousand (binomial).
#[test]
fn tolerance_in_small() {
    let rows = tolerance::study(&Scenario::DEMO, FIRST, 24).unwrap().rows;
    assert_eq!(
        rows.iter().map(|r| r.figure).collect::<Vec<_>>(),
        ["mean limit, g", "the same, bounds too", "safe grams at 80 %", "safe, bounds too"]
    );
    for row in &rows {
        assert!(row.told >= 20, "{row:?}");
        assert!(row.covered + row.trials - row.told >= 17, "{row:?}");
    }
    assert_eq!(rows, tolerance::study(&Scenario::DEMO, FIRST, 24).unwrap().rows);
    assert!(markdown(&rows).unwrap().lines().count() == 6);
}

/// Where an assumption of the estimators is wrong, the study still tells.
#[test]
fn worlds_that_the_estimators_were_not_made_for() {
    for id in ["late_diary", "other_noise", "other_world"] {
        let rows = tolerance::study(&Scenario::named(id).unwrap(), FIRST, 3).unwrap().rows;
        assert!(rows.iter().all(|r| r.trials == 3 && r.truth > 10.0), "{rows:?}");
        assert!(rows.iter().any(|r| r.told > 0), "{rows:?}");
    }
}

/// Offset and drift: as above, of 24 at least 17. An offset of 15 mg/dL is set in every one of six trials.
#[test]
fn recalibration_in_small() {
    let rows = sensor::study(&Scenario::DEMO, sensor::Lag::Known, FIRST, 24).unwrap();
    let figures: Vec<&str> = rows.iter().map(|r| r.figure).collect();
    assert_eq!(figures, ["offset, mg/dL", "drift, mg/dL a day"]);
    assert!(rows.iter().all(|r| r.told == 24 && r.covered >= 17), "{rows:?}");
    let high: Vec<_> = sensor::variants().into_iter().filter(|v| v.name == "offset -15").collect();
    let table = sensor::table(&high, sensor::Lag::Known, FIRST, 6).unwrap();
    assert!(table.lines().last().unwrap().starts_with("| offset -15 | 6 | 0 |"), "{table}");
}

/// The cell of a row that starts so.
fn cell(table: &str, row: &str, column: usize) -> f64 {
    let line =
        table.lines().find(|l| l.starts_with(row)).unwrap_or_else(|| panic!("{row}: {table}"));
    line.split('|').nth(column + 1).unwrap().trim().parse().unwrap()
}

/// Steps of 20 mg/dL, flat lines of two hours and drop-outs are found, a doubled noise is seen.
#[test]
fn behaviour_in_small() {
    let steps = behaviour::steps_table(FIRST, 6).unwrap();
    assert_eq!(cell(&steps, "| 20 | meter |", 3), 100.0, "{steps}");
    let first = behaviour::first_days(FIRST, 6).unwrap();
    assert!(cell(&first, "| planted errors until hour 12 | 23 more", 5) >= 50.0, "{first}");
    let flats = behaviour_events::flats(FIRST, 4).unwrap();
    assert_eq!(cell(&flats, "| demo | 24 |", 2), 100.0, "{flats}");
    // Counted, not estimated: every drop-out of the simulator, and nothing else.
    let lost = behaviour_events::lost(FIRST, 4).unwrap();
    assert_eq!((cell(&lost, "| 1.71 |", 2), cell(&lost, "| 1.71 |", 3)), (100.0, 0.0), "{lost}");
    assert_eq!(cell(&lost, "| 1.71 |", 4), cell(&lost, "| 1.71 |", 5));
    let noises = behaviour::noises(FIRST, 4).unwrap();
    assert!((cell(&noises, "| demo | doubled |", 8) - 2.0).abs() < 0.5, "{noises}");
    let alarms = behaviour_events::alarms_table(FIRST, 4).unwrap();
    assert!(cell(&alarms, "| low_noise | high |", 4) > 85.0, "{alarms}");
}
