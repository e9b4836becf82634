//! A plan from its making to its answer: stored, carried out, and read again.

use glycemic_core::clock::LocalClock;
use glycemic_core::meals::{Activity, Meal};
use glycemic_core::review::{Answer, Options, Review, next_plan, review};
use glycemic_core::series::Builder;
use glycemic_core::stats::random::Random;
use glycemic_core::table::Items;
use glycemic_core::trial::{Config, OnBadRows, Plan, Trial};
use glycemic_core::units::Unit;

const MINUTE: i64 = 60_000;
const EFFECT: f64 = -15.0;

fn demo() -> Trial {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/demo_trial");
    Trial::read(folder, OnBadRows::Stop).unwrap()
}

/// The plan that the demo's review proposes, dated.
fn plan(date: &str) -> Plan {
    let trial = demo();
    let plan =
        next_plan(&trial, &trial.responses(1).unwrap(), Options::default()).unwrap().unwrap();
    assert_eq!(plan.date, None);
    Plan { date: Some(date.into()), ..plan }
}

/// A wear in which the schedule was kept to: three meals a day that raise glucose by about 40
/// mg/dL, 15 less where a walk was assigned.
fn carried_out(plan: &Plan) -> Trial {
    let mut trial = demo();
    let clock: LocalClock = trial.clock();
    let first = clock.day(trial.sensor.times_ms()[0]);
    let sittings = plan.sittings().unwrap().unwrap();
    let mut random = Random::keyed(11, 0, 0);
    let (mut meals, mut activity, mut bumps) = (Vec::new(), Vec::new(), Vec::new());
    for day in 0..14 {
        for (slot, hour) in [("morning", 8), ("midday", 13), ("evening", 19)] {
            let time_ms = clock.day_start(first + day) + hour * 60 * MINUTE;
            let own = sittings.iter().find(|s| s.day as i64 == day + 1 && s.slot == slot);
            let walk = own.is_some_and(|s| s.exposed);
            bumps.push((time_ms, 40.0 + 3.0 * random.normal() + if walk { EFFECT } else { 0.0 }));
            meals.push(Meal {
                time_ms,
                end_ms: None,
                carbs_g: Some(50.0),
                ..trial.meals[0].clone()
            });
            if walk {
                let (start_ms, effort) = (time_ms + 20 * MINUTE, Some("light".to_string()));
                activity.push(Activity { start_ms, minutes: 15.0, kind: "walk".into(), effort });
            }
        }
    }
    let start = clock.day_start(first);
    let times: Vec<i64> = (0..14 * 288).map(|i| start + i * 5 * MINUTE).collect();
    let glucose: Vec<f64> = times
        .iter()
        .map(|&t| {
            // Up for 45 minutes, down for 75.
            let of = |&(at, height): &(i64, f64)| {
                let minutes = (t - at) as f64 / MINUTE as f64;
                height * (minutes / 45.0).min((120.0 - minutes) / 75.0).max(0.0)
            };
            (100.0 + bumps.iter().map(of).sum::<f64>() + 2.0 * random.normal()).round()
        })
        .collect();
    trial.sensor = Builder::new(Unit::MgDl).clock(Some(clock)).build(&times, &glucose).unwrap();
    (trial.meals, trial.activity) = (meals, activity);
    trial.notes.clear();
    trial.config = stored(plan);
    trial
}

/// The plan as it comes back from `trial.json`.
fn stored(plan: &Plan) -> Config {
    let config =
        Config { plan: Some(serde_json::from_str(&plan.to_json()).unwrap()), ..Config::default() };
    assert_eq!(Plan::of(&config).unwrap().unwrap(), *plan);
    config
}

fn reviewed(trial: &Trial) -> Review {
    review(trial, Options::default(), &mut |_| true).unwrap()
}

fn word(answer: &Answer, table: &str, column: &str) -> String {
    let found = answer.tables.iter().find(|t| t.0 == table).unwrap();
    match &found.1.column(column).unwrap().items {
        Items::Text(text) => text[0].clone(),
        _ => panic!("{table}, {column}: no text"),
    }
}

fn planned_walk(answer: &Answer) -> Option<f64> {
    let table = &answer.tables.iter().find(|t| t.0 == "what_helps").unwrap().1;
    table.numbers("planned").unwrap()[0]
}

#[test]
fn dated_before_the_wear_and_carried_out_it_caused() {
    let plan = plan("2025-05-05");
    let trial = carried_out(&plan);
    let r = reviewed(&trial);
    let helps = r.answer("helps").unwrap();
    let told = r.estimate("randomised_difference").unwrap();
    let pairs = plan.schedule.as_ref().unwrap().pairs;
    assert!(told.covers(EFFECT) && told.n == pairs, "{told:?}");
    assert!((told.value.unwrap() - EFFECT).abs() < 5.0, "{told:?}");
    assert_eq!(word(helps, "planned_answer", "says"), "caused");
    assert_eq!(word(helps, "planned_answer", "verdict"), "helps");
    assert!(helps.cautions.contains(&"caused"));
    assert!(!helps.reasons.iter().any(|r| r.code == "protocol_deviations"), "{:?}", helps.reasons);
    // What was observed of the same walks is explored.
    assert_eq!(planned_walk(helps), Some(0.0));
    assert!(r.estimate("assigned_difference").is_none());
    let sittings = helps.tables.iter().find(|t| t.0 == "sittings").unwrap();
    assert_eq!(sittings.1.rows(), 2 * pairs);
}

#[test]
fn dated_later_it_went_with() {
    let plan = plan("2025-06-01");
    let r = reviewed(&carried_out(&plan));
    let helps = r.answer("helps").unwrap();
    assert!(r.estimate("assigned_difference").unwrap().covers(EFFECT));
    assert!(r.estimate("randomised_difference").is_none());
    assert_eq!(word(helps, "planned_answer", "says"), "went_with");
    assert!(!helps.cautions.contains(&"caused"));
    assert!(helps.reasons.iter().any(|r| r.code == "plan_not_in_advance"));
}

#[test]
fn what_was_not_done_is_listed_and_stays_in_the_comparison() {
    let plan = plan("2025-05-01");
    let mut trial = carried_out(&plan);
    // The diary shows no walk at all: half of the meals went otherwise.
    trial.activity.clear();
    let r = reviewed(&trial);
    let helps = r.answer("helps").unwrap();
    assert!(helps.reasons.iter().any(|r| r.code == "protocol_deviations"));
    assert!(r.estimate("randomised_difference").unwrap().covers(EFFECT));
    let carried = &helps.tables.iter().find(|t| t.0 == "carried_out").unwrap().1;
    let pairs = carried.numbers("pairs").unwrap();
    assert_eq!(pairs[1], Some(0.0), "none per protocol");
    // With only one scheduled day eaten there is nothing to compare, and nothing was caused.
    trial.meals.truncate(9);
    let r = reviewed(&trial);
    let helps = r.answer("helps").unwrap();
    assert_eq!(word(helps, "planned_answer", "says"), "went_with");
    assert!(helps.reasons.iter().any(|r| r.code == "too_few_pairs"));
}

#[test]
fn another_planned_question_widens_the_interval() {
    let one = plan("2025-05-01");
    let alone = reviewed(&carried_out(&one));
    let mut two = one.clone();
    two.contrasts.push("poor_night".into());
    let both = reviewed(&carried_out(&two));
    let told = |r: &Review| r.estimate("randomised_difference").unwrap().clone();
    let (a, b) = (told(&alone), told(&both));
    assert_eq!(a.value, b.value);
    assert!(b.low < a.low && (b.level - 0.975).abs() < 1e-12, "{a:?} {b:?}");
}

#[test]
fn a_bad_plan_is_refused_when_the_folder_is_read() {
    let folder = std::env::temp_dir().join(format!("glycemic_plan_{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("trial.json"), r#"{"plan": {"date": "in May"}}"#).unwrap();
    let error = Config::read(&folder).unwrap_err().to_string();
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(error.contains("date must be a date"), "{error}");
}
