//! The trial itself: two weeks lived minute by minute, then written down by sensor, meter, diary.

use super::diary::{Confidence, Eaten, Plan, plan};
use super::person::{Body, Lag, Ready};
use super::random::{Purpose, Random};
use super::scenario::{Reported, Scenario};
use super::sensor;
use super::truth::{self, Truth, Worn};

/// mg/dL in one mmol/L of glucose (180.156 g/mol).
pub(crate) const MG_DL_PER_MMOL_L: f64 = 18.0156;
/// Minutes between readings.
pub(crate) const STEP_MIN: usize = 5;
/// Minutes from insertion to the first reading.
const START_UP_MIN: usize = 60;

/// A row of the sensor's file, in the file's order: a few are repeated, one place is unsorted.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct SensorRow {
    /// Epoch ms UTC.
    pub time_ms: i64,
    /// Reading in mg/dL, on the source's grid; the limit, where `text` stands in its place.
    pub value_mg_dl: f64,
    /// `LOW` or `HIGH` when the reading is beyond the sensor's limits.
    pub text: Option<&'static str>,
}

/// A finger-stick reading.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct MeterRow {
    /// Epoch ms UTC by the meter's own clock.
    pub time_ms: i64,
    /// Reading in mg/dL, on the source's grid.
    pub glucose_mg_dl: f64,
    /// `fasting` or `after meal`.
    pub context: &'static str,
}

/// A meal as the diary has it.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct MealRow {
    /// Start, epoch ms UTC.
    pub time_ms: i64,
    /// End, epoch ms UTC.
    pub end_ms: i64,
    /// Total carbohydrate, g; `None` when not written down.
    pub carbs_g: Option<f64>,
    /// Fibre, g.
    pub fiber_g: Option<f64>,
    /// Protein, g.
    pub protein_g: Option<f64>,
    /// Fat, g.
    pub fat_g: Option<f64>,
    /// How the grams came about.
    pub confidence: Confidence,
    /// Name of the dish.
    pub label: &'static str,
    /// Tags: kind of food, `eating-out`, `snack`.
    pub tags: Vec<&'static str>,
}

/// A walk or exercise.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct ActivityRow {
    /// Start, epoch ms UTC.
    pub start_ms: i64,
    /// Duration, min.
    pub minutes: i64,
    /// `walk` or `exercise`.
    pub kind: &'static str,
    /// `light` or `moderate`.
    pub effort: &'static str,
}

/// A night.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct SleepRow {
    /// Asleep, epoch ms UTC.
    pub start_ms: i64,
    /// Awake, epoch ms UTC.
    pub end_ms: i64,
    /// `good` or `poor`.
    pub quality: &'static str,
}

/// A note.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct NoteRow {
    /// Epoch ms UTC.
    pub time_ms: i64,
    /// `symptom` or `stress`.
    pub kind: &'static str,
    /// 1 (slight) to 3 (strong).
    pub severity: i64,
    /// Words.
    pub text: &'static str,
}

/// An event of the wear.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct WearRow {
    /// Epoch ms UTC.
    pub time_ms: i64,
    /// `inserted` or `removed`.
    pub event: &'static str,
}

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
    /// Insertion and removal.
    pub wear: Vec<WearRow>,
    /// The sensor without noise, pressure lows and rounding, every 5 min from `start_ms`, mg/dL.
    pub sensor_clean_mg_dl: Vec<f64>,
    /// Blood, every 5 min from `start_ms`, mg/dL.
    pub blood_mg_dl: Vec<f64>,
    /// The right answers.
    pub truth: Truth,
}

/// Glucose by minute from the first local midnight.
pub(crate) struct Run {
    /// In blood, mg/dL.
    pub(crate) blood: Vec<f64>,
    /// Under the sensor, mg/dL.
    pub(crate) tissue: Vec<f64>,
}

/// Lives `minutes` minutes of a plan; `watch` sees the body just before each meal.
pub(crate) fn run(
    scenario: &Scenario,
    ready: &Ready,
    plan: &Plan,
    minutes: usize,
    mut watch: impl FnMut(usize, &Body),
) -> Run {
    let mut effort = vec![0.0; minutes];
    let walks = plan.meals.iter().filter_map(|meal| meal.walk).map(|walk| (walk, 1.0));
    let exercise = plan.days.iter().filter_map(|day| day.exercise).map(|exercise| (exercise, 0.8));
    for ((start, long), size) in walks.chain(exercise) {
        for minute in start.max(0)..start + long {
            if let Some(slot) = effort.get_mut(minute as usize) {
                *slot = size;
            }
        }
    }
    let lag = Lag::new(scenario.sensor.tau_min);
    let mut body = Body::rested(ready);
    let mut lived = Run { blood: Vec::with_capacity(minutes), tissue: Vec::with_capacity(minutes) };
    let mut next = 0;
    for (minute, &effort) in effort.iter().enumerate() {
        while let Some(meal) = plan.meals.get(next).filter(|meal| meal.start <= minute as i64) {
            watch(next, &body);
            body.eat(&meal.bite());
            next += 1;
        }
        lived.blood.push(body.blood(ready));
        lived.tissue.push(body.tissue);
        let local = scenario.local(minute as i64);
        let day = (local / 1440).clamp(0, plan.days.len() as i64 - 1) as usize;
        let minute_of_day = local.rem_euclid(1440) as usize;
        body.step(ready, minute_of_day, &plan.days[day].acts, effort, &lag);
    }
    lived
}

/// Simulates a trial: same scenario and seed, same trial, bit for bit. Well under 60 ms; the
/// truths that need thousands of meals stay `None` (see [`full_trial`]).
pub fn trial(scenario: &Scenario, seed: u64) -> Simulated {
    let ready = Ready::new(&scenario.person);
    let worn_min = 1440 * scenario.days.max(1) as usize;
    let start = scenario.elapsed(scenario.inserted_minute.max(0));
    let end = start + worn_min as i64;
    let plan = plan(scenario, seed, scenario.days.max(1) as usize + 1, start + 60, end - 180);
    let lived = run(scenario, &ready, &plan, end as usize + 1, |_, _| ());
    let start_ms = scenario.time_ms(start);

    let from = start as usize;
    let blood = &lived.blood[from..from + worn_min];
    let tissue = &lived.tissue[from..from + worn_min];
    let wobble = sensor::wobble(scenario, seed, worn_min);
    let knobs = &scenario.sensor;
    let clean: Vec<f64> = (0..worn_min)
        .map(|minute| {
            let drift = knobs.drift_mg_dl_day * minute as f64 / 1440.0;
            let level = knobs.gain * tissue[minute] + knobs.offset_mg_dl;
            level + drift + wobble[minute]
        })
        .collect();
    let lows = sensor::pressure_lows(scenario, seed, start);
    let noise = sensor::noise(knobs.noise_scale, seed, worn_min);
    let pressure = sensor::pressure(&lows, start_ms, worn_min);
    let shown = (START_UP_MIN..worn_min).step_by(STEP_MIN).map(|minute| {
        let value = clean[minute] + noise[minute] - pressure[minute];
        display(scenario.reported, start_ms + 60_000 * minute as i64, value)
    });
    let rows = trouble(scenario, seed, shown.collect());

    let thin = |values: &[f64]| values.iter().step_by(STEP_MIN).copied().collect();
    Simulated {
        scenario: *scenario,
        seed,
        start_ms,
        sensor: rows,
        meter: prick(scenario, seed, &plan, &lived, start, end),
        meals: plan.meals.iter().filter(|meal| meal.in_diary).map(|m| row(scenario, m)).collect(),
        activity: activity(scenario, &plan, start, end),
        sleep: sleep(scenario, &plan),
        notes: notes(scenario, seed, &plan, end),
        wear: vec![
            WearRow { time_ms: start_ms, event: "inserted" },
            WearRow { time_ms: scenario.time_ms(end), event: "removed" },
        ],
        sensor_clean_mg_dl: thin(&clean),
        blood_mg_dl: thin(blood),
        truth: truth::of_trial(scenario, &plan, &Worn { clean: &clean, tissue, blood }, lows),
    }
}

/// [`trial`], with every truth filled in; takes a second or two.
pub fn full_trial(scenario: &Scenario, seed: u64) -> Simulated {
    let mut simulated = trial(scenario, seed);
    let curve = truth::rise_curve(scenario);
    simulated.truth.limits = Some(curve.limits(scenario.rise_mg_dl));
    simulated.truth.walk = Some(curve.walk);
    simulated.truth.long_run = Some(truth::long_run(scenario, seed));
    simulated
}

/// The grid and limits of the source, in mg/dL.
fn on_grid(reported: Reported, value_mg_dl: f64) -> f64 {
    match reported {
        Reported::MgDl => value_mg_dl.round(),
        Reported::MmolL => {
            (10.0 * value_mg_dl / MG_DL_PER_MMOL_L).round() / 10.0 * MG_DL_PER_MMOL_L
        }
    }
}

/// Lowest and highest value the sensor shows, in its own unit.
pub(crate) fn limits(reported: Reported) -> (f64, f64) {
    match reported {
        Reported::MgDl => (40.0, 400.0),
        Reported::MmolL => (2.2, 22.2),
    }
}

fn display(reported: Reported, time_ms: i64, value: f64) -> SensorRow {
    let unit = if reported == Reported::MmolL { MG_DL_PER_MMOL_L } else { 1.0 };
    let (low, high) = (limits(reported).0 * unit, limits(reported).1 * unit);
    let value_mg_dl = on_grid(reported, value);
    // Half a thousandth of slack, since a tenth of mmol/L is not exact in binary.
    if value_mg_dl < low - 0.0005 {
        SensorRow { time_ms, value_mg_dl: low, text: Some("LOW") }
    } else if value_mg_dl > high + 0.0005 {
        SensorRow { time_ms, value_mg_dl: high, text: Some("HIGH") }
    } else {
        SensorRow { time_ms, value_mg_dl, text: None }
    }
}

/// Gaps, readings below the limit in the first hours, repeated rows, one unsorted place.
fn trouble(scenario: &Scenario, seed: u64, mut rows: Vec<SensorRow>) -> Vec<SensorRow> {
    let mut random = Random::new(seed, Purpose::SensorTrouble);
    let knobs = &scenario.sensor;
    let days = scenario.days as usize;
    let first = random.below(36);
    let unit = if scenario.reported == Reported::MmolL { MG_DL_PER_MMOL_L } else { 1.0 };
    for row in rows.iter_mut().skip(first).take(knobs.low_texts) {
        *row = SensorRow {
            text: Some("LOW"),
            value_mg_dl: limits(scenario.reported).0 * unit,
            ..*row
        };
    }
    for _ in 0..Scenario::scaled(knobs.gaps, days) {
        // Readings lost: 4 leave an interval of 25 min, 29 one of 150.
        let lost = random.whole(4, 29) as usize;
        let from = 288 + random.below(rows.len().saturating_sub(288 + 36));
        rows.drain(from.min(rows.len())..(from + lost).min(rows.len()));
    }
    for _ in 0..Scenario::scaled(knobs.duplicates, days) {
        let place = random.below(rows.len());
        if let Some(&row) = rows.get(place) {
            rows.insert(place, row);
        }
    }
    if knobs.duplicates > 0 && rows.len() > 600 {
        let place = 300 + random.below(rows.len() - 320);
        rows[place..place + 12].rotate_left(6);
    }
    rows
}

fn prick(
    scenario: &Scenario,
    seed: u64,
    plan: &Plan,
    lived: &Run,
    start: i64,
    end: i64,
) -> Vec<MeterRow> {
    let mut random = Random::new(seed, Purpose::Meter);
    let knobs = &scenario.meter;
    let days = scenario.days as usize;
    let mut when: Vec<(i64, &'static str)> = Vec::new();
    let mornings: Vec<i64> = plan
        .days
        .iter()
        .map(|day| day.breakfast)
        .filter(|&time| time > start && time < end)
        .collect();
    let bursts = Scenario::scaled(knobs.burst_mornings, days);
    let singles = Scenario::scaled(knobs.single_mornings, days);
    for (rank, morning) in random.shuffled(mornings.len()).into_iter().enumerate() {
        let time = mornings[morning] - random.whole(8, 20);
        let readings = if rank < bursts { 3 } else { i64::from(rank < bursts + singles) };
        when.extend((0..readings).map(|reading| (time + reading, "fasting")));
    }
    let main: Vec<&Eaten> = plan.meals.iter().filter(|m| m.in_diary && !m.snack).collect();
    let after = Scenario::scaled(knobs.after_meals, days);
    let rising = Scenario::scaled(knobs.rising, days);
    for (rank, meal) in random.shuffled(main.len()).into_iter().enumerate() {
        let later = [45, 60, 90, 120][random.below(4)];
        let soon = random.whole(25, 35);
        if rank < after {
            when.push((main[meal].start + later, "after meal"));
        } else if rank < after + rising {
            when.push((main[meal].start + soon, "after meal"));
        }
    }
    when.sort_unstable();
    let rows = when.into_iter().map(|(minute, context)| {
        let blood = lived.blood.get(minute.max(0) as usize).copied().unwrap_or(0.0);
        let read = blood * (1.0 + (knobs.bias_pct + knobs.cv_pct * random.normal()) / 100.0);
        MeterRow {
            time_ms: scenario.time_ms(minute + knobs.clock_ahead_min),
            glucose_mg_dl: on_grid(scenario.reported, read),
            context,
        }
    });
    rows.collect()
}

fn row(scenario: &Scenario, meal: &Eaten) -> MealRow {
    let written = meal.confidence != Confidence::Unknown;
    let grams = |g: f64| written.then_some(g);
    let mut tags = vec![meal.dish.kind.tag()];
    if meal.hidden.is_some() {
        tags.push("eating-out");
    }
    if meal.snack {
        tags.push("snack");
    }
    MealRow {
        time_ms: scenario.time_ms(meal.start),
        end_ms: scenario.time_ms(meal.end),
        carbs_g: grams(meal.net_g + meal.fiber_g),
        fiber_g: grams(meal.fiber_g),
        protein_g: grams(meal.protein_g),
        fat_g: grams(meal.fat_g),
        confidence: meal.confidence,
        label: meal.dish.name,
        tags,
    }
}

fn activity(scenario: &Scenario, plan: &Plan, start: i64, end: i64) -> Vec<ActivityRow> {
    let walks = plan.meals.iter().filter_map(|meal| meal.walk).map(|(start, minutes)| {
        let start_ms = scenario.time_ms(start);
        ActivityRow { start_ms, minutes, kind: "walk", effort: "light" }
    });
    let exercise = plan.days.iter().filter_map(|day| day.exercise);
    let exercise = exercise.filter(|&(time, _)| time > start && time < end);
    let exercise = exercise.map(|(time, minutes)| {
        let start_ms = scenario.time_ms(time);
        ActivityRow { start_ms, minutes, kind: "exercise", effort: "moderate" }
    });
    let mut rows: Vec<ActivityRow> = walks.chain(exercise).collect();
    rows.sort_by_key(|row| row.start_ms);
    rows
}

fn sleep(scenario: &Scenario, plan: &Plan) -> Vec<SleepRow> {
    let nights =
        plan.days.iter().zip(plan.days.iter().skip(1)).map(|(evening, morning)| SleepRow {
            start_ms: scenario.time_ms(evening.bed),
            end_ms: scenario.time_ms(morning.wake),
            quality: if morning.bad_night { "poor" } else { "good" },
        });
    nights.collect()
}

fn notes(scenario: &Scenario, seed: u64, plan: &Plan, end: i64) -> Vec<NoteRow> {
    const WORDS: [&str; 5] = ["tired", "hungry", "headache", "shaky", "sleepy after eating"];
    let mut random = Random::new(seed, Purpose::Notes);
    let mut rows = Vec::new();
    for place in random.shuffled(plan.meals.len()).into_iter().take(6) {
        let minute = plan.meals[place].start + random.whole(40, 200);
        let (severity, text) = (random.whole(1, 2), WORDS[random.below(WORDS.len())]);
        rows.push((
            minute,
            NoteRow { time_ms: scenario.time_ms(minute), kind: "symptom", severity, text },
        ));
    }
    for day in plan.days.iter().filter(|day| day.stress) {
        let minute = day.breakfast + random.whole(60, 480);
        let (severity, text) = (random.whole(2, 3), "long day at work");
        rows.push((
            minute,
            NoteRow { time_ms: scenario.time_ms(minute), kind: "stress", severity, text },
        ));
    }
    rows.retain(|&(minute, _)| minute < end);
    rows.sort_by_key(|&(minute, _)| minute);
    rows.into_iter().map(|(_, row)| row).collect()
}
