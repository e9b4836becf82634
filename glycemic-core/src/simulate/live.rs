//! A plan lived minute by minute.

use super::diary::{Eaten, Plan};
use super::low::Faller;
use super::person::{Body, Lag, Ready};
use super::scenario::Scenario;
use super::sensor::Wear;

/// Minutes after a meal in which its rise is looked for.
const RISE_MIN: i64 = 180;

/// Effort of exercise, with a light walk as 1.
const MODERATE: f64 = 1.8;

/// Glucose by minute from the first local midnight.
pub(crate) struct Run {
    /// In blood, mg/dL.
    pub(crate) blood: Vec<f64>,
    /// Under the sensor, mg/dL.
    pub(crate) tissue: Vec<f64>,
}

/// Lives `minutes` minutes of a plan; `watch` sees the body just before each meal.
///
/// Where the scenario adapts, portions of the plan are cut on the way: a plan that was lived holds
/// what was eaten.
pub(crate) fn run(
    scenario: &Scenario,
    ready: &Ready,
    plan: &mut Plan,
    minutes: usize,
    mut watch: impl FnMut(usize, &Body),
) -> Run {
    let mut effort = vec![0.0; minutes];
    let walks = plan.meals.iter().filter_map(|meal| meal.walk).map(|walk| (walk, 1.0));
    let exercise =
        plan.days.iter().filter_map(|day| day.exercise).map(|exercise| (exercise, MODERATE));
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
    let mut faller = Faller::new(&plan.low_nights);
    let (wear, mut last_main) = (Wear::of(scenario), None);
    let mut next = 0;
    for (minute, &effort) in effort.iter().enumerate() {
        while let Some(meal) = plan.meals.get_mut(next).filter(|m| m.start <= minute as i64) {
            if let Some(before) = last_main
                && !meal.snack
            {
                adapt(scenario, &wear, &lived.tissue, before, meal);
            }
            last_main = if meal.snack { last_main } else { Some(meal.start) };
            watch(next, &body);
            body.eat(&meal.bite());
            next += 1;
        }
        let blood = body.blood(ready);
        lived.blood.push(blood);
        lived.tissue.push(body.tissue);
        let local = scenario.local(minute as i64);
        let day = (local / 1440).clamp(0, plan.days.len() as i64 - 1) as usize;
        let minute_of_day = local.rem_euclid(1440) as usize;
        let mut acts = plan.days[day].acts;
        acts.production += faller.shift(minute as i64, blood);
        body.step(ready, minute_of_day, &acts, effort, &lag);
    }
    lived
}

/// Cuts the portion of a main meal when the noise-free rise on the sensor after the main meal
/// `before` it (its start) was over the target.
fn adapt(scenario: &Scenario, wear: &Wear, tissue: &[f64], before: i64, meal: &mut Eaten) {
    let fraction = scenario.behaviour.adaptive;
    let now = tissue.len() as i64;
    let from = before.clamp(0, now);
    let mean_of = tissue.get((from - 30).max(0) as usize..from as usize).unwrap_or(&[]);
    let seen = tissue.get(from as usize..(from + RISE_MIN).min(now) as usize).unwrap_or(&[]);
    if fraction <= 0.0 || mean_of.is_empty() || seen.is_empty() {
        return;
    }
    let base = mean_of.iter().sum::<f64>() / mean_of.len() as f64;
    let peak = seen.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let rise = wear.piece(before).gain * (peak - base);
    if rise > scenario.rise_mg_dl {
        meal.cut(fraction.min(1.0), rise);
    }
}
