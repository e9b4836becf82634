//! The trial itself: two weeks lived minute by minute, then written down by sensor, meter, diary.

use super::diary::plan;
use super::live::run;
use super::person::Ready;
use super::rows::{ActivityRow, MealRow, MeterRow, NoteRow, SensorRow, SleepRow, WearRow};
use super::scenario::Scenario;
use super::sensor::{STEP_MIN, Wear};
use super::truth::{self, Happened, Truth};
use super::{effects, levels, meter, noise, pressure, readings, rises, sensor, written};

/// A simulated trial: what was written down, and what was true.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Simulated {
    /// What was simulated.
    pub scenario: Scenario,
    /// With which seed.
    pub seed: u64,
    /// Insertion, epoch ms UTC; the two noise-free traces start here.
    pub start_ms: i64,
    /// Sensor rows in file order.
    pub sensor: Vec<SensorRow>,
    /// Meter rows by time.
    pub meter: Vec<MeterRow>,
    /// Diary of meals by time.
    pub meals: Vec<MealRow>,
    /// Walks and exercise by time.
    pub activity: Vec<ActivityRow>,
    /// Nights by time.
    pub sleep: Vec<SleepRow>,
    /// Notes by time.
    pub notes: Vec<NoteRow>,
    /// Insertion and removal of each sensor.
    pub wear: Vec<WearRow>,
    /// The sensor without noise, pressure lows and rounding, every 5 min from `start_ms`, mg/dL.
    pub sensor_clean_mg_dl: Vec<f64>,
    /// Blood, every 5 min from `start_ms`, mg/dL.
    pub blood_mg_dl: Vec<f64>,
    /// The right answers.
    pub truth: Truth,
}

/// Simulates a trial: same scenario and seed, same trial, bit for bit. Under 20 ms; the truths
/// that need thousands of meals stay `None` (see [`full_trial`]).
///
/// # Example
/// ```
/// use glycemic_core::simulate::{Scenario, trial};
/// let simulated = trial(&Scenario::DEMO, 3);
/// assert_eq!(simulated.blood_mg_dl.len(), 14 * 288);
/// assert_eq!(simulated, trial(&Scenario::DEMO, 3));
/// ```
pub fn trial(scenario: &Scenario, seed: u64) -> Simulated {
    let ready = Ready::new(&scenario.person);
    let wear = Wear::of(scenario);
    let (start, end) = (wear.start, wear.end());
    let days = scenario.days.max(1) as usize + 1;
    let mut plan = plan(scenario, seed, days, start + 60, end - 180);
    let lived = run(scenario, &ready, &mut plan, end as usize + 1, |_, _| ());
    let start_ms = scenario.time_ms(start);

    let blood = &lived.blood[start as usize..end as usize];
    let tissue = &lived.tissue[start as usize..end as usize];
    let clean = sensor::clean(scenario, seed, &wear, tissue);
    let lows = pressure::pressure_lows(scenario, seed, start);
    let lost = readings::drop_outs(scenario, seed, &wear);
    let error = noise::noise(&scenario.sensor, seed, wear.minutes);
    let outliers = noise::outliers(&scenario.sensor, seed, wear.minutes);
    let fall = pressure::pressure(&lows, start_ms, wear.minutes);
    let shown = (sensor::START_UP_MIN..wear.minutes).step_by(STEP_MIN).map(|minute| {
        let value = clean[minute] + error[minute] + outliers[minute / STEP_MIN] - fall[minute];
        readings::display(scenario.reported, start_ms + 60_000 * minute as i64, value)
    });
    let rows = readings::rows(scenario, seed, &wear, &lost, shown.collect());
    let happened = Happened {
        wear: &wear,
        plan: &plan,
        clean: &clean,
        tissue,
        blood,
        meter_bias_pct: meter::bias_pct(scenario, seed),
    };

    let thin = |values: &[f64]| values.iter().step_by(STEP_MIN).copied().collect();
    Simulated {
        scenario: *scenario,
        seed,
        start_ms,
        sensor: rows,
        meter: meter::prick(scenario, seed, &plan, &lived, start, end),
        meals: written::meals(scenario, &plan),
        activity: written::activity(scenario, &plan, start, end),
        sleep: written::sleep(scenario, &plan),
        notes: written::notes(scenario, seed, &plan, end),
        wear: sensor::wear_rows(scenario, &wear),
        sensor_clean_mg_dl: thin(&clean),
        blood_mg_dl: thin(blood),
        truth: truth::of_trial(scenario, &happened, lows, lost),
    }
}

/// [`trial`], with every truth filled in; takes a second or two.
///
/// # Example
/// ```
/// use glycemic_core::simulate::{Scenario, full_trial};
/// let truth = full_trial(&Scenario::DEMO, 1).truth;
/// // A walk lowers the rise; after a bad night it is higher.
/// assert!(truth.walk.unwrap().difference_mg_dl < 0.0);
/// assert!(truth.day_effects.unwrap().bad_night_mg_dl > 0.0);
/// ```
pub fn full_trial(scenario: &Scenario, seed: u64) -> Simulated {
    let mut simulated = trial(scenario, seed);
    let curve = rises::rise_curve(scenario);
    simulated.truth.limits = Some(curve.limits(scenario.rise_mg_dl));
    simulated.truth.walk = Some(curve.walk);
    simulated.truth.day_effects = Some(effects::day_effects(scenario));
    simulated.truth.long_run = Some(levels::long_run(scenario, seed));
    simulated
}
