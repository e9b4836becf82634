//! What the trace says that the diary doesn't: unlogged meals, late entries, and the floor.

use glycemic_core::Error;
use glycemic_core::meals::{
    Options, Targets, UnloggedOptions, Window, responses, responses_with, unlogged,
};
use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::stats::quantile;

use super::each_seed;
use crate::simulated_diary;

const MINUTE: i64 = 60_000;
/// Meals in 14 days that are missing from the diary here.
const UNLOGGED: usize = 8;
/// Rises that ought to be found, mg/dL.
const SIZE_MG_DL: f64 = 25.0;
/// How near the onset must be.
const NEAR_MS: i64 = 20 * MINUTE;
/// How near it must be for the probability to have been right.
const TOLD_NEAR_MS: i64 = 30 * MINUTE;
const WINDOW: Window = Window { before_min: 30.0, after_min: 180.0 };

/// Counts of one trial, or of many.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Found {
    /// Unlogged meals that raised the noise-free sensor enough.
    pub real: usize,
    /// Those of them that were suspected, near enough.
    pub hit: usize,
    /// Suspected where no meal is missing.
    pub false_ones: usize,
    /// Sum of the errors of the onset of the hits, minutes.
    pub onset_error_min: f64,
    /// Sum of the errors of their size, mg/dL.
    pub size_error: f64,
    /// Suspected, by their probability ([`BINS`]): how many, and how many began near a meal that is
    /// missing, however small.
    pub told: [(usize, usize); BINS.len()],
}

/// Probabilities of what is suspected, from the first number to under the second.
pub const BINS: [(f64, f64); 4] = [(0.2, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.01)];

impl Found {
    fn add(self, other: Found) -> Found {
        Found {
            real: self.real + other.real,
            hit: self.hit + other.hit,
            false_ones: self.false_ones + other.false_ones,
            onset_error_min: self.onset_error_min + other.onset_error_min,
            size_error: self.size_error + other.size_error,
            told: std::array::from_fn(|i| {
                let (a, b) = (self.told[i], other.told[i]);
                (a.0 + b.0, a.1 + b.1)
            }),
        }
    }

    /// Harmonic mean of the share found and the share that is real.
    pub fn f1(&self) -> f64 {
        let all = self.real + self.hit + self.false_ones;
        2.0 * self.hit as f64 / all.max(1) as f64
    }
}

/// The scenario with many meals missing from its diary.
pub fn forgetful(scenario: &Scenario) -> Scenario {
    let mut out = *scenario;
    out.behaviour.unlogged_meals = UNLOGGED;
    out
}

/// What was found in one trial, of suspected meals that count as found.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn find(s: &Simulated) -> Result<Found, Error> {
    let (trace, meals, activity) = simulated_diary(s)?;
    let found = unlogged(&trace, &meals, &activity, UnloggedOptions::default())?;
    let mut out = Found::default();
    let missing = || s.truth.meals.iter().filter(|m| !m.in_diary);
    for f in &found {
        let near = missing().any(|m| (f.onset_ms - m.time_ms).abs() <= TOLD_NEAR_MS);
        for (slot, bin) in out.told.iter_mut().zip(BINS) {
            if (bin.0..bin.1).contains(&f.probability) {
                *slot = (slot.0 + 1, slot.1 + usize::from(near));
            }
        }
    }
    let mut left: Vec<_> = found
        .into_iter()
        .filter(|f| f.probability > glycemic_core::meals::unlogged::FOUND)
        .collect();
    for meal in missing() {
        let near = left.iter().position(|f| (f.onset_ms - meal.time_ms).abs() <= NEAR_MS);
        let suspected = near.map(|i| left.remove(i));
        let rise = true_rise(s, meal.time_ms);
        // Where the sensor gave nothing, nothing can be found.
        let seen = trace.window(meal.time_ms - 60 * MINUTE, meal.time_ms + 100 * MINUTE);
        if rise < SIZE_MG_DL || !seen.gaps().is_empty() || seen.len() < 28 {
            continue;
        }
        out.real += 1;
        if let Some(f) = suspected {
            out.hit += 1;
            out.onset_error_min += (f.onset_ms - meal.time_ms) as f64 / MINUTE as f64;
            out.size_error += f.size_mg_dl - rise;
        }
    }
    out.false_ones = left.len();
    Ok(out)
}

/// How far the noise-free sensor rises in the two and a half hours after.
fn true_rise(s: &Simulated, from_ms: i64) -> f64 {
    let at = |ms: i64| {
        (((ms - s.start_ms) / (5 * MINUTE)).max(0) as usize).min(s.sensor_clean_mg_dl.len() - 1)
    };
    let next = s.truth.meals.iter().map(|m| m.time_ms).filter(|t| *t > from_ms).min();
    let end = next.unwrap_or(i64::MAX).min(from_ms + 150 * MINUTE);
    let after = &s.sensor_clean_mg_dl[at(from_ms)..=at(end)];
    after.iter().copied().fold(f64::MIN, f64::max) - after[0]
}

/// Unlogged meals found, scenario by scenario, as a table in Markdown.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn unlogged_table(scenarios: &[Scenario], first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | real | found % | false in 14 days | F1 | onset error, min | size error, mg/dL | true % of those told 20-50 % | 50-80 % | 80-95 % | 95-100 % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for scenario in scenarios {
        let scenario = forgetful(scenario);
        let each = each_seed(first, trials, |seed| find(&trial(&scenario, seed)))?;
        let all = each.into_iter().fold(Found::default(), Found::add);
        let hits = all.hit.max(1) as f64;
        text.push_str(&format!(
            "| {} | {} | {:.1} | {:.2} | {:.2} | {:.1} | {:.1} | {} |\n",
            scenario.id,
            all.real,
            100.0 * all.hit as f64 / all.real.max(1) as f64,
            all.false_ones as f64 * 14.0 / (trials * u64::from(scenario.days)) as f64,
            all.f1(),
            all.onset_error_min / hits,
            all.size_error / hits,
            all.told.map(|(n, near)| share_of(near, n)).join(" | "),
        ));
    }
    Ok(text)
}

fn share_of(part: usize, all: usize) -> String {
    if all == 0 {
        return "-".into();
    }
    format!("{:.0} (of {all})", 100.0 * part as f64 / all as f64)
}

/// Noise and floor found, as a table in Markdown.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn floor_table(scenarios: &[Scenario], first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | noise SD | found: mean | 5 % | 95 % | floor: median | 95 % | told % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for scenario in scenarios {
        let each = each_seed(first, trials, |seed| {
            let s = trial(scenario, seed);
            let (trace, meals, activity) = simulated_diary(&s)?;
            let r = responses(&trace, &meals, &activity, Targets::default(), WINDOW, seed)?;
            Ok((true_noise(&s), r.noise.ok().map(|n| (n.sd_mg_dl, n.floor_rise_mg_dl))))
        })?;
        let told: Vec<(f64, f64)> = each.iter().filter_map(|e| e.1).collect();
        let n = told.len().max(1) as f64;
        let sds = quantile::sorted(&told.iter().map(|t| t.0).collect::<Vec<f64>>());
        let floors = quantile::sorted(&told.iter().map(|t| t.1).collect::<Vec<f64>>());
        let q = |x: &[f64], p| quantile::type7(x, p).unwrap_or(0.0);
        text.push_str(&format!(
            "| {} | {:.2} | {:.2} | {:.2} | {:.2} | {:.1} | {:.1} | {:.0} |\n",
            scenario.id,
            each.iter().map(|e| e.0).sum::<f64>() / each.len().max(1) as f64,
            sds.iter().sum::<f64>() / n,
            q(&sds, 0.05),
            q(&sds, 0.95),
            q(&floors, 0.5),
            q(&floors, 0.95),
            100.0 * told.len() as f64 / each.len().max(1) as f64,
        ));
    }
    Ok(text)
}

/// SD of shown less noise-free, away from pressure lows.
fn true_noise(s: &Simulated) -> f64 {
    let mut squares = Vec::new();
    for row in &s.sensor {
        let lows = &s.truth.pressure_lows;
        let pressed = |t: i64| lows.iter().any(|l| l.start_ms <= t && t < l.end_ms + 30 * MINUTE);
        let place = (row.time_ms - s.start_ms) / (5 * MINUTE);
        let clean = usize::try_from(place).ok().and_then(|p| s.sensor_clean_mg_dl.get(p));
        if let (Some(clean), None, false) = (clean, row.text, pressed(row.time_ms)) {
            squares.push((row.value_mg_dl - clean) * (row.value_mg_dl - clean));
        }
    }
    (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
}

/// Rises with the diary's start and with the trace's, as a table in Markdown.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn onset_table(scenarios: &[Scenario], first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | start | meals | true rise | displayed: error | rmse | noise-aware: error | rmse | start: error, min | rmse |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for scenario in scenarios {
        for (name, before_min, after_min) in [("diary", 0.0, 0.0), ("trace", 45.0, 20.0)] {
            let options = Options {
                onset_before_min: before_min,
                onset_after_min: after_min,
                ..Options::new(WINDOW)
            };
            let each = each_seed(first, trials, |seed| errors(&trial(scenario, seed), options))?;
            let all: Vec<[f64; 4]> = each.into_iter().flatten().collect();
            let n = all.len().max(1) as f64;
            let mean = |k: usize| all.iter().map(|e| e[k]).sum::<f64>() / n;
            let rmse = |k: usize| (all.iter().map(|e| e[k] * e[k]).sum::<f64>() / n).sqrt();
            text.push_str(&format!(
                "| {} | {name} | {} | {:.1} | {:.2} | {:.2} | {:.2} | {:.2} | {:.1} | {:.1} |\n",
                scenario.id,
                all.len(),
                mean(0),
                mean(1),
                rmse(1),
                mean(2),
                rmse(2),
                mean(3),
                rmse(3),
            ));
        }
    }
    Ok(text)
}

/// True rise from the true start, the two errors of the clean meals, and that of their start.
fn errors(s: &Simulated, options: Options) -> Result<Vec<[f64; 4]>, Error> {
    let (trace, meals, activity) = simulated_diary(s)?;
    let r = responses_with(&trace, &meals, &activity, Targets::default(), options, s.seed)?;
    let mut out = Vec::new();
    for (i, row) in r.rows.iter().enumerate() {
        let meal = s.truth.meals.iter().find(|m| m.logged_time_ms == Some(row.time_ms));
        let (Some(shown), Some(aware), Some(meal), true) =
            (row.rise_mg_dl, row.rise_noise_aware_mg_dl, meal, r.is_clean(i))
        else {
            continue;
        };
        let clean = &s.sensor_clean_mg_dl;
        let at = |min: i64| ((meal.time_ms + min * MINUTE - s.start_ms) / (5 * MINUTE)) as usize;
        let seen = (row.time_ms - meal.time_ms) / MINUTE + row.seen_min as i64;
        let before = &clean[at(-30)..=at(0)];
        let base = before.iter().sum::<f64>() / before.len() as f64;
        let peak =
            clean[at(0)..(at(seen) + 1).min(clean.len())].iter().copied().fold(f64::MIN, f64::max);
        let start = row.onset_ms.unwrap_or(row.time_ms);
        let late = (start - meal.time_ms) as f64 / MINUTE as f64;
        out.push([peak - base, shown - (peak - base), aware - (peak - base), late]);
    }
    Ok(out)
}
