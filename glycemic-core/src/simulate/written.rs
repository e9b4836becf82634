//! What the person writes down: meals, activity, sleep, notes.

use super::diary::{Confidence, Eaten, Plan};
use super::random::{Purpose, Random};
use super::rows::{ActivityRow, MealRow, NoteRow, SleepRow};
use super::scenario::Scenario;

/// The meals of the diary, by the time entered.
pub(crate) fn meals(scenario: &Scenario, plan: &Plan) -> Vec<MealRow> {
    let logged = plan.meals.iter().filter(|meal| meal.in_diary);
    let mut rows: Vec<MealRow> = logged.map(|meal| row(scenario, meal)).collect();
    rows.sort_by_key(|row| row.time_ms);
    rows
}

fn row(scenario: &Scenario, meal: &Eaten) -> MealRow {
    let written = meal.confidence != Confidence::Unknown;
    let grams = |g: f64| written.then_some(g);
    let carbs_g = meal.net_g + meal.fiber_g;
    let spread = scenario.behaviour.carb_range;
    let ranged = meal.confidence == Confidence::Estimate && spread > 0.0;
    let end = |factor: f64| ranged.then(|| (factor.max(0.0) * carbs_g).round());
    let logged_end = meal.logged_start + (meal.end - meal.start);
    let mut tags = vec![meal.dish.kind.tag()];
    if meal.hidden.is_some() {
        tags.push("eating-out");
    }
    if meal.snack {
        tags.push("snack");
    }
    MealRow {
        time_ms: scenario.time_ms(meal.logged_start),
        end_ms: scenario.time_ms(logged_end),
        carbs_g: grams(carbs_g),
        carbs_low_g: end(1.0 - spread),
        carbs_high_g: end(1.0 + spread),
        fiber_g: grams(meal.fiber_g),
        protein_g: grams(meal.protein_g),
        fat_g: grams(meal.fat_g),
        confidence: meal.confidence,
        label: meal.dish.name,
        tags,
    }
}

/// Walks and exercise by time.
pub(crate) fn activity(scenario: &Scenario, plan: &Plan, start: i64, end: i64) -> Vec<ActivityRow> {
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

/// The nights.
pub(crate) fn sleep(scenario: &Scenario, plan: &Plan) -> Vec<SleepRow> {
    let nights =
        plan.days.iter().zip(plan.days.iter().skip(1)).map(|(evening, morning)| SleepRow {
            start_ms: scenario.time_ms(evening.bed),
            end_ms: scenario.time_ms(morning.wake),
            quality: if morning.bad_night { "poor" } else { "good" },
        });
    nights.collect()
}

/// Symptoms and stress, by time.
pub(crate) fn notes(scenario: &Scenario, seed: u64, plan: &Plan, end: i64) -> Vec<NoteRow> {
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
