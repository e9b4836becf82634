//! What a trial's folder may hold that it shouldn't: each mistake is named by code and place, and
//! none makes the library panic. Sentences are for people and are not tested.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use glycemic_core::review::{Options, review};
use glycemic_core::trial::{OnBadRows, Trial};
use glycemic_core::{Error, Problem};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// A folder that goes away with the test.
struct Folder(PathBuf);

impl Folder {
    fn new<T: AsRef<[u8]>>(files: &[(&str, T)]) -> Folder {
        static NEXT: AtomicUsize = AtomicUsize::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let path =
            std::env::temp_dir().join(format!("glycemic_bad_{}_{number}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        for (name, text) in files {
            std::fs::write(path.join(name), text).unwrap();
        }
        Folder(path)
    }

    fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A day of readings every five minutes, 100 mg/dL, from midnight of 6 May 2025 by naive times.
fn sensor() -> Vec<String> {
    let rows = (0..288).map(|i| format!("2025-05-06 {:02}:{:02},100", i / 12, i % 12 * 5));
    std::iter::once("time,glucose".to_string()).chain(rows).collect()
}

/// The same with one line, counted from 1, replaced.
fn sensor_with(line: usize, text: &str) -> String {
    let mut lines = sensor();
    lines[line - 1] = text.to_string();
    lines.join("\n")
}

fn good() -> String {
    sensor().join("\n")
}

fn read(files: &[(&str, &str)], on_bad_rows: OnBadRows) -> Result<Trial, Error> {
    Trial::read(Folder::new(files).path(), on_bad_rows)
}

fn refused(files: &[(&str, &str)]) -> Error {
    read(files, OnBadRows::Stop).unwrap_err()
}

/// File, line, column and code of each problem.
fn places(problems: &[Problem]) -> Vec<(&str, u64, &str, &str)> {
    problems.iter().map(|p| (p.file.as_str(), p.line, p.column.as_str(), p.code.as_str())).collect()
}

/// The read stops and names exactly these; told to skip, it reads on and lists the same.
fn skippable(files: &[(&str, &str)], expected: &[(&str, u64, &str, &str)]) -> Trial {
    let error = refused(files);
    assert_eq!(error.code(), "bad_rows");
    let Error::BadRows { problems } = &error else { panic!("{error:?}") };
    assert_eq!(places(problems), expected);
    assert_eq!(
        (error.file(), error.line(), error.column()),
        (Some(expected[0].0), Some(expected[0].1), Some(expected[0].2))
    );
    let trial = read(files, OnBadRows::Skip).unwrap();
    assert_eq!(places(&trial.problems), expected);
    trial
}

fn file_error(error: &Error, name: &str) {
    coded(error, "file", name);
}

fn coded(error: &Error, code: &str, name: &str) {
    assert_eq!(error.code(), code, "{error:?}");
    assert!(error.file().unwrap().ends_with(name), "{error:?}");
}

#[test]
fn no_trial_at_all() {
    let folder = Folder::new(&[("sensor.csv", good())]);
    let file = folder.path().join("sensor.csv");
    file_error(&Trial::read(&file, OnBadRows::Skip).unwrap_err(), "sensor.csv");
    let nowhere = folder.path().join("nowhere");
    file_error(&Trial::read(&nowhere, OnBadRows::Skip).unwrap_err(), "nowhere");
    let empty = Folder::new::<&str>(&[]);
    assert_eq!(Trial::read(empty.path(), OnBadRows::Skip).unwrap_err().code(), "file");
    let other = Folder::new(&[("readings.csv", good())]);
    assert_eq!(Trial::read(other.path(), OnBadRows::Skip).unwrap_err().code(), "file");
}

#[test]
fn a_sensor_file_without_readings() {
    file_error(&refused(&[("sensor.csv", "")]), "sensor.csv");
    file_error(&refused(&[("sensor.csv", " \n\n")]), "sensor.csv");
    file_error(&refused(&[("sensor.csv", "\u{feff}")]), "sensor.csv");
    file_error(&refused(&[("sensor.csv", "time,glucose\n")]), "sensor.csv");
    file_error(&refused(&[("sensor.csv", "time,glucose\n,\n , \n")]), "sensor.csv");
    // Values, but none of them a number.
    let missing = refused(&[("sensor.csv", "time,glucose\n2025-05-06 07:00,NaN\n")]);
    coded(&missing, "too_few_values", "sensor.csv");
    let folder = Folder::new(&[("sensor.csv", b"time,glucose\n\xff\xfe,100\n")]);
    file_error(&Trial::read(folder.path(), OnBadRows::Skip).unwrap_err(), "sensor.csv");
}

#[test]
fn a_missing_column() {
    let error = refused(&[("sensor.csv", "time,value\n2025-05-06 07:00,100\n")]);
    assert_eq!(
        (error.code(), error.file(), error.column()),
        ("missing_column", Some("sensor.csv"), Some("glucose"))
    );
    // By the name that trial.json gives it; skipping rows does not help.
    let json = r#"{"files": {"meals": {"columns": {"carbs_g": "kh"}}}}"#;
    let meals = "time,carbs_g\n2025-05-06 07:00,30\n";
    let files = [("trial.json", json), ("sensor.csv", &good()), ("meals.csv", meals)];
    let error = read(&files, OnBadRows::Skip).unwrap_err();
    assert_eq!(
        (error.code(), error.file(), error.column()),
        ("missing_column", Some("meals.csv"), Some("kh"))
    );
}

/// Each on line 4 of the sensor's file.
#[test]
fn one_bad_reading() {
    for (row, column, code) in [
        ("sixth of May,100", "time", "time_unreadable"),
        ("2025-05-06,100", "time", "time_unreadable"),
        ("2025-13-06 00:10,100", "time", "time_unreadable"),
        (",100", "time", "time_missing"),
        ("1746490200,100", "time", "time_implausible"),
        ("2025-05-06 00:10,-100", "glucose", "out_of_range"),
        ("2025-05-06 00:10,0", "glucose", "out_of_range"),
        ("2025-05-06 00:10,1001", "glucose", "out_of_range"),
        ("2025-05-06 00:10,inf", "glucose", "out_of_range"),
        ("2025-05-06 00:10,\"100,5\"", "glucose", "not_a_number"),
        ("2025-05-06 00:10,hundred", "glucose", "not_a_number"),
        ("2025-05-06 00:10,<low", "glucose", "not_a_number"),
    ] {
        let text = sensor_with(4, row);
        let trial = skippable(&[("sensor.csv", &text)], &[("sensor.csv", 4, column, code)]);
        assert_eq!(trial.sensor.len(), 287, "{row}");
    }
    // Both cells of a row are looked at.
    skippable(
        &[("sensor.csv", &sensor_with(4, "noon,-3"))],
        &[
            ("sensor.csv", 4, "time", "time_unreadable"),
            ("sensor.csv", 4, "glucose", "out_of_range"),
        ],
    );
}

/// Under the file's own column name.
#[test]
fn a_problem_names_the_column_as_the_file_does() {
    let json = r#"{"files": {"sensor": {"path": "s.csv", "columns": {"glucose": "mg"}}}}"#;
    let text = "time,mg\n2025-05-06 00:00,100\n2025-05-06 00:05,?\n";
    skippable(&[("trial.json", json), ("s.csv", text)], &[("s.csv", 3, "mg", "not_a_number")]);
}

/// Missing, not wrong: counted by the cleaning.
#[test]
fn nan_text_is_a_missing_reading() {
    for cell in ["", "NaN", "nan", "NA", "null"] {
        let text = sensor_with(4, &format!("2025-05-06 00:10,{cell}"));
        let trial = read(&[("sensor.csv", &text)], OnBadRows::Stop).unwrap();
        let cleaning = trial.sensor.cleaning();
        assert_eq!((cleaning.given, cleaning.kept, cleaning.missing), (288, 287, 1), "{cell}");
    }
}

/// Seconds since 1970 in every row: nothing is left to read on with.
#[test]
fn whole_seconds() {
    let rows: String = (0..3).map(|i| format!("{},100\n", 1_746_490_200 + i * 300)).collect();
    let text = format!("time,glucose\n{rows}");
    let expected: Vec<_> =
        (2..=4).map(|line| ("sensor.csv", line, "time", "time_implausible")).collect();
    for on_bad_rows in [OnBadRows::Stop, OnBadRows::Skip] {
        let error = read(&[("sensor.csv", &text)], on_bad_rows).unwrap_err();
        let Error::BadRows { problems } = error else { panic!("{error:?}") };
        assert_eq!(places(&problems), expected);
    }
}

/// Lisbon: 26 October 2025 has 01:00 to 02:00 twice, 30 March 2025 not at all.
#[test]
fn hours_that_occur_twice_or_never() {
    let json = r#"{"zone": "Europe/Lisbon"}"#;
    for (day, code) in [("2025-10-26", "local_time_doubled"), ("2025-03-30", "local_time_missing")]
    {
        let text = format!("time,glucose\n{day} 00:55,100\n{day} 01:30,101\n{day} 02:00,102\n");
        let files = [("trial.json", json), ("sensor.csv", &text)];
        let trial = skippable(&files, &[("sensor.csv", 3, "time", code)]);
        assert_eq!(trial.sensor.len(), 2);
        // An offset settles it.
        let told = text.replace("01:30", "01:30+01:00");
        let trial = read(&[("trial.json", json), ("sensor.csv", &told)], OnBadRows::Stop).unwrap();
        assert_eq!(trial.sensor.len(), 3);
    }
}

/// 5.5 mmol/L among readings in mg/dL is a very low reading; a file of them is the wrong unit.
#[test]
fn the_other_unit() {
    let mmol = good().replace(",100", ",5.5");
    coded(&refused(&[("sensor.csv", &mmol)]), "implausible_unit", "sensor.csv");
    coded(
        &read(&[("sensor.csv", &mmol)], OnBadRows::Skip).unwrap_err(),
        "implausible_unit",
        "sensor.csv",
    );
    // With a bad row beside it the unit is still named, among the problems or alone.
    let both = mmol.clone() + "2025-05-07 07:00,x\n";
    let Error::BadRows { problems } = refused(&[("sensor.csv", &both)]) else {
        panic!("bad rows expected")
    };
    assert_eq!(
        problems.iter().map(|p| p.code.as_str()).collect::<Vec<_>>(),
        ["not_a_number", "implausible_unit"]
    );
    let skipped = read(&[("sensor.csv", &both)], OnBadRows::Skip).unwrap_err();
    coded(&skipped, "implausible_unit", "sensor.csv");
    let json = r#"{"unit": "mmol/L"}"#;
    coded(
        &refused(&[("trial.json", json), ("sensor.csv", &good())]),
        "implausible_unit",
        "sensor.csv",
    );
    let trial = read(&[("trial.json", json), ("sensor.csv", &mmol)], OnBadRows::Stop).unwrap();
    assert!((trial.sensor.glucose_mg_dl()[0] - 5.5 * 18.0156).abs() < 1e-9);
    let meter = "time,glucose\n2025-05-06 07:00,5.5\n2025-05-06 08:00,5.1\n";
    coded(
        &refused(&[("sensor.csv", &good()), ("meter.csv", meter)]),
        "implausible_unit",
        "meter.csv",
    );
}

#[test]
fn meals_in_the_wrong_place() {
    let meals = "time,carbs_g\n2025-05-06 07:00,30\n2025-05-06 07:00,20\n2025-06-06 07:00,30\n\
                 2025-05-06 12:00,-1\n2025-05-06 19:00,\"12,5\"\n2025-05-06 20:00,\n";
    let trial = skippable(
        &[("sensor.csv", &good()), ("meals.csv", meals)],
        &[
            ("meals.csv", 3, "time", "two_meals_at_one_time"),
            ("meals.csv", 4, "time", "outside_wear"),
            ("meals.csv", 5, "carbs_g", "out_of_range"),
            ("meals.csv", 6, "carbs_g", "not_a_number"),
        ],
    );
    // The first of the two stays, and a meal without grams is a meal.
    let grams: Vec<_> = trial.meals.iter().map(|m| m.carbs_g).collect();
    assert_eq!(grams, [Some(30.0), None]);
}

#[test]
fn a_meter_reading_years_away() {
    let meter = "time,glucose\n2025-05-06 07:00,98\n2020-01-01 07:00,98\n2025-05-06 09:00,\n";
    let trial = skippable(
        &[("sensor.csv", &good()), ("meter.csv", meter)],
        &[("meter.csv", 3, "time", "outside_wear"), ("meter.csv", 4, "glucose", "value_missing")],
    );
    assert_eq!(trial.meter.len(), 1);
}

#[test]
fn a_bad_trial_json() {
    for json in [
        "",
        "{",
        "[]",
        r#"["me", "Europe/Lisbon"]"#,
        r#"{"files": {"senser": {"path": "x.csv"}}}"#,
        r#"{"files": {"meals": {"columns": {"carb_g": "kh"}}}}"#,
        r#"{"persn": "x"}"#,
        r#"{"files": {"sensor": {"pth": "x.csv"}}}"#,
        r#"{"targets": {"rise": 30}}"#,
        r#"{"unit": "g/L"}"#,
        r#"{"files": {"sensor": {"unit": "mgdl?"}}}"#,
        r#"{"files": {"meter": {"unit": "mgdl?"}}}"#,
        r#"{"targets": {"rise_mg_dl": NaN}}"#,
        r#"{"targets": {"rise_mg_dl": "NaN"}}"#,
        r#"{"targets": {"rise_mg_dl": 1e999}}"#,
        r#"{"targets": {"rise_mg_dl": 0}}"#,
        r#"{"targets": {"peak_mg_dl": -140}}"#,
    ] {
        let found = read(&[("trial.json", json), ("sensor.csv", &good())], OnBadRows::Skip);
        let Err(error) = found else { panic!("{json} was read") };
        file_error(&error, "trial.json");
    }
    let json = r#"{"zone": "Lisbon"}"#;
    let error = refused(&[("trial.json", json), ("sensor.csv", &good())]);
    assert_eq!((error.code(), error.argument()), ("unknown_zone", Some("zone")));
    // A file that trial.json names has to be there.
    let json = r#"{"files": {"meals": {"path": "food.csv"}}}"#;
    file_error(&refused(&[("trial.json", json), ("sensor.csv", &good())]), "food.csv");
}

#[test]
fn all_bad_rows_of_all_files_at_once() {
    let files = [
        ("sensor.csv", sensor_with(10, "2025-05-06 00:40,x")),
        ("meter.csv", "time,glucose\n2025-05-06 07:00,9999\n".to_string()),
        ("meals.csv", "time,confidence\n2025-05-06 07:00,guess\n".to_string()),
        (
            "activity.csv",
            "start,minutes,effort\n2025-05-06 07:00,,light\n2025-05-06 08:00,20,hard\n".to_string(),
        ),
        ("sleep.csv", "start,end\n2025-05-06 07:00,2025-05-06 06:00\n".to_string()),
        ("wear.csv", "time,event\n2025-05-06 00:00,fell off\n2025-05-06 01:00,\n".to_string()),
        ("notes.csv", "time,kind\nlater,symptom\n".to_string()),
    ];
    let files: Vec<(&str, &str)> = files.iter().map(|f| (f.0, f.1.as_str())).collect();
    let trial = skippable(
        &files,
        &[
            ("sensor.csv", 10, "glucose", "not_a_number"),
            ("meter.csv", 2, "glucose", "out_of_range"),
            ("meals.csv", 2, "confidence", "unknown_choice"),
            ("activity.csv", 2, "minutes", "value_missing"),
            ("activity.csv", 3, "effort", "unknown_choice"),
            ("sleep.csv", 2, "end", "ends_before_start"),
            ("wear.csv", 2, "event", "unknown_choice"),
            ("wear.csv", 3, "event", "value_missing"),
            ("notes.csv", 2, "time", "time_unreadable"),
        ],
    );
    assert_eq!(trial.sensor.len(), 287);
    let left = (trial.meter.len(), trial.meals.len(), trial.activity.len(), trial.wear.len());
    assert_eq!(left, (0, 0, 0, 0));
    // The review counts and lists them.
    let reviewed = review(&trial, Options::default(), &mut |_| true).unwrap();
    assert_eq!(reviewed.estimate("problem_rows").unwrap().value, Some(9.0));
    let data = reviewed.answer("data").unwrap();
    assert!(data.tables.iter().any(|t| t.0 == "problems"));
}

const FILES: [(&str, &str); 7] = [
    ("sensor.csv", "time,glucose"),
    ("meter.csv", "time,glucose,context"),
    ("meals.csv", "time,end,carbs_g,fiber_g,confidence,tags"),
    ("activity.csv", "start,minutes,kind,effort"),
    ("sleep.csv", "start,end,quality"),
    ("wear.csv", "time,event,sensor"),
    ("notes.csv", "time,kind,severity,text"),
];

/// Cells that mean something somewhere, and some that mean nothing anywhere.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (0..14_i64, 0..288_i64).prop_map(|(day, i)| {
            format!("2025-05-{:02} {:02}:{:02}", day + 1, i / 12, i % 12 * 5)
        }),
        4 => (1..500_i32).prop_map(|v| v.to_string()),
        4 => prop::sample::select(vec![
            "", "NaN", "LOW", "HIGH", "<40", ">", "-0", "1e308", "1e-308", "inf", "5.5", "1,5",
            "light", "walk", "inserted", "removed", "weighed", "eating-out", "\"", "\"\"", "2025",
            "9223372036854775807", "1746490200", "1746490200000", "2025-10-26 01:30",
            "2025-03-30 01:30", "9999-12-31 23:59", "262142-12-31 23:59", "-262143-01-01 00:00",
            "2025-05-06T07:00:60Z", "2025-05-06T07:00+99:99", "1990-01-01T00:00Z",
        ])
        .prop_map(String::from),
        1 => ".{0,8}",
    ]
}

fn table(heading: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let cells = prop::collection::vec(prop::collection::vec(cell(), 0..6), 0..30);
    let rows = cells.prop_map(move |rows| {
        let rows = rows.iter().map(|r| r.join(","));
        std::iter::once(heading.to_string()).chain(rows).collect::<Vec<_>>().join("\n").into_bytes()
    });
    prop_oneof![4 => rows, 1 => prop::collection::vec(any::<u8>(), 0..200)]
}

/// A plausible sensor file most of the time, so that the rest is reached.
fn sensor_table() -> impl Strategy<Value = Vec<u8>> {
    let readings = prop::collection::vec((0..4000_i64, 40..300_i32), 1..200).prop_map(|rows| {
        let row = |&(i, v): &(i64, i32)| {
            format!("2025-05-{:02} {:02}:{:02},{v}", i / 288 + 1, i % 288 / 12, i % 12 * 5)
        };
        let rows: Vec<String> = rows.iter().map(row).collect();
        format!("time,glucose\n{}", rows.join("\n")).into_bytes()
    });
    prop_oneof![3 => readings, 1 => table(FILES[0].1)]
}

proptest! {
    #![proptest_config(ProptestConfig {
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::with_cases(128)
    })]

    /// Any bytes and any cells: a trial or an error, never a panic; and what can be read can be
    /// reviewed, without NaN.
    #[test]
    fn nothing_panics(
        sensor in sensor_table(),
        rest in (
            table(FILES[1].1),
            table(FILES[2].1),
            table(FILES[3].1),
            table(FILES[4].1),
            table(FILES[5].1),
            table(FILES[6].1),
        ),
        zone in prop::sample::select(vec!["{}", r#"{"zone": "Europe/Lisbon", "targets": {"rise_mg_dl": 30}}"#]),
    ) {
        let texts = [sensor, rest.0, rest.1, rest.2, rest.3, rest.4, rest.5];
        let mut files: Vec<(&str, Vec<u8>)> =
            FILES.iter().map(|f| f.0).zip(texts).collect();
        files.push(("trial.json", zone.as_bytes().to_vec()));
        // Each file alone with the sensor's, so that an unreadable one hides no other.
        for i in 1..FILES.len() {
            let few = [&files[0], &files[i], &files[FILES.len()]];
            let few: Vec<(&str, &[u8])> = few.iter().map(|f| (f.0, f.1.as_slice())).collect();
            if let Ok(trial) = Trial::read(Folder::new(&few).path(), OnBadRows::Skip) {
                prop_assert!(trial.sensor.glucose_mg_dl().iter().all(|g| g.is_finite()));
            }
        }
        let folder = Folder::new(&files);
        let _ = Trial::read(folder.path(), OnBadRows::Stop);
        if let Ok(trial) = Trial::read(folder.path(), OnBadRows::Skip) {
            let options = Options::default();
            // What can't be judged together is an error, not a panic.
            if let Ok(reviewed) = review(&trial, options, &mut |_| true) {
                let text = reviewed.to_json();
                prop_assert!(serde_json::from_str::<serde_json::Value>(&text).is_ok());
            }
        }
    }

    #[test]
    fn any_bytes_as_trial_json(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
        let folder = Folder::new(&[("trial.json", bytes), ("sensor.csv", good().into_bytes())]);
        let _ = Trial::read(folder.path(), OnBadRows::Stop);
    }
}
