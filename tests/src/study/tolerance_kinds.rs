//! Limits of single kinds of food, against what each kind does when it is eaten very often.
//!
//! # Method
//! The truth of a kind is read off noise-free trials of the same person (seeds of their own): rises of
//! its meals that stand alone, on the grams of the diary, by a straight line about the grams at
//! which they meet the target. Its own error is about half a gram.

use std::collections::BTreeMap;

use glycemic_core::Error;
use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::stats::line;
use glycemic_core::tolerance::Model;
use glycemic_core::tolerance::model::KINDS;

use super::{Asked, LEVEL, each_seed};

/// Seeds of the trials that tell the truth.
const TRUTH_SEEDS: (u64, u64) = (7_700_000, 200);
/// Grams on either side of the first answer that the second one uses.
const NEAR_G: f64 = 15.0;
const MINUTE: i64 = 60_000;

/// Grams at which the mean rise of each kind meets the target, where that is within the doses eaten.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn truths(scenario: &Scenario) -> Result<BTreeMap<&'static str, f64>, Error> {
    let all = each_seed(TRUTH_SEEDS.0, TRUTH_SEEDS.1, |seed| Ok(alone(&trial(scenario, seed))))?;
    let mut by_kind: BTreeMap<&'static str, Vec<(f64, f64)>> = BTreeMap::new();
    for (kind, grams, rise) in all.into_iter().flatten() {
        by_kind.entry(kind).or_default().push((grams, rise));
    }
    let mut out = BTreeMap::new();
    for (kind, meals) in by_kind {
        let Some(first) = crossing(&meals, scenario.rise_mg_dl) else { continue };
        let near: Vec<(f64, f64)> =
            meals.into_iter().filter(|m| (m.0 - first).abs() < NEAR_G).collect();
        let Some(limit) = crossing(&near, scenario.rise_mg_dl) else { continue };
        let eaten = |g: f64| near.iter().any(|m| m.0 <= g) && near.iter().any(|m| m.0 >= g);
        if eaten(limit) {
            out.insert(kind, limit);
        }
    }
    Ok(out)
}

fn crossing(meals: &[(f64, f64)], target: f64) -> Option<f64> {
    let (grams, rises): (Vec<f64>, Vec<f64>) = meals.iter().copied().unzip();
    let line = line::weighted(&grams, &rises, &vec![1.0; grams.len()]).ok()?;
    (line.slope > 0.0).then(|| (target - line.intercept) / line.slope)
}

/// Kind, grams of the diary and noise-free rise of meals that stand alone.
fn alone(s: &Simulated) -> Vec<(&'static str, f64, f64)> {
    let one = |(i, meal): (usize, &glycemic_core::simulate::MealRow)| {
        let eaten = s.truth.meals.iter().find(|m| m.logged_time_ms == Some(meal.time_ms))?;
        let kind = KINDS.iter().find(|k| meal.tags.iter().any(|t| t == *k))?;
        if meal.tags.contains(&"eating-out") {
            return None;
        }
        let (start, grams) = (eaten.time_ms, eaten.logged_net_g?);
        let before = i.checked_sub(1).map_or(i64::MIN, |p| s.meals[p].time_ms);
        let end = s.meals.get(i + 1).map_or(i64::MAX, |n| n.time_ms).min(start + 180 * MINUTE);
        let active =
            s.activity.iter().any(|a| a.start_ms < end && a.start_ms + a.minutes * MINUTE > start);
        if active || start < before.saturating_add(180 * MINUTE) || end < start + 120 * MINUTE {
            return None;
        }
        let at = |ms: i64| ((ms - s.start_ms) / (5 * MINUTE)).max(0) as usize;
        let mean_before = s.sensor_clean_mg_dl.get(at(start - 30 * MINUTE)..=at(start))?;
        let base = mean_before.iter().sum::<f64>() / mean_before.len() as f64;
        let after = s.sensor_clean_mg_dl.get(at(start)..=at(end))?;
        Some((*kind, grams, after.iter().copied().fold(f64::MIN, f64::max) - base))
    };
    s.meals.iter().enumerate().filter_map(one).collect()
}

/// The limits of the kinds of a model whose truth is known.
pub fn asked(model: &Model, truths: &BTreeMap<&'static str, f64>) -> Vec<Asked> {
    let one = |part: &glycemic_core::tolerance::model::Part| {
        let (_, truth) = truths.get_key_value(part.name.as_str())?;
        let figure = match part.name.as_str() {
            "grain" => "grain: limit",
            "legume" => "legume: limit",
            "dairy" => "dairy: limit",
            "fruit" => "fruit: limit",
            _ => "other kinds: limit",
        };
        Some(Asked { figure, truth: *truth, estimate: part.limit_g(LEVEL) })
    };
    model.kinds.iter().filter_map(one).collect()
}
