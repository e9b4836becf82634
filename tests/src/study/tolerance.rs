//! The tolerance answers of the review: mean limit and safe grams, and beside them the plain line,
//! equivalent loads and the search for meals that do not fit.
//!
//! A trial without a value may still give a bound: the answer lies outside the doses eaten. The truth
//! of an equivalent load is the net carbohydrate really eaten, in grams as the diary would have them
//! if nothing were hidden. A true misfit is a meal with hidden carbohydrate.

use glycemic_core::clock::LocalClock;
use glycemic_core::meals::Responses;
use glycemic_core::simulate::{Limits, Scenario, Simulated, rise_curve, trial};
use glycemic_core::tolerance::model::{self, MealPoint, Sort};
use glycemic_core::tolerance::{self, Options, equivalent};
use glycemic_core::{Error, Estimate};

use super::{Asked, LEVEL, Row, blood, each_seed, tolerance_kinds};
use crate::simulated_responses;

/// Share of new meals that stay under the target at the safe grams.
pub(super) const SAFE_PROBABILITY: f64 = 0.8;

/// The study over one scenario.
///
/// # Errors
/// [`Error::TooFewValues`] where the scenario's truth lies outside the doses simulated.
pub fn study(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let (limit, safe) = truths(&rise_curve(scenario).limits(scenario.rise_mg_dl))?;
    super::run(scenario, first, trials, |s| {
        let fit = fitted(s, &simulated_responses(s)?)?.fit;
        let (found, safe_found) = (fit.limit_g.clone(), fit.safe_g(SAFE_PROBABILITY)?);
        let doses = fit.doses_g;
        Ok(vec![
            Asked { figure: "mean limit, g", truth: limit, estimate: found.clone() },
            Asked {
                figure: "the same, bounds too",
                truth: limit,
                estimate: with_bound(found, doses),
            },
            Asked { figure: "safe grams at 80 %", truth: safe, estimate: safe_found.clone() },
            Asked {
                figure: "safe, bounds too",
                truth: safe,
                estimate: with_bound(safe_found, doses),
            },
        ])
    })
}

/// The plain line without kinds of food, the saturating form, limits of single kinds, and equivalent loads of meals eaten out: of each, and of
/// that with the greatest excess, raw and shrunken.
///
/// # Errors
/// As [`study`].
pub fn beside(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let of_curve = rise_curve(scenario).limits(scenario.rise_mg_dl);
    let (limit, safe) = truths(&of_curve)?;
    let of_kinds = tolerance_kinds::truths(scenario)?;
    super::run(scenario, first, trials, |s| {
        let found = simulated_responses(s)?;
        let model = fitted(s, &found)?;
        let plain = &model.plain;
        let mut asked = vec![
            Asked { figure: "plain line: limit", truth: limit, estimate: plain.limit_g.clone() },
            Asked {
                figure: "plain line: safe grams",
                truth: safe,
                estimate: plain.safe_g(SAFE_PROBABILITY)?,
            },
        ];
        if let Some(bent) = model.saturating()? {
            let (figure, truth) = ("saturating form: limit", limit);
            asked.push(Asked { figure, truth, estimate: bent.limit_g });
        }
        asked.extend(tolerance_kinds::asked(&model, &of_kinds));
        asked.extend(blood::asked(s, &model.fit, &of_curve)?);
        asked.extend(loads(s, &found, &model.fit)?);
        Ok(asked)
    })
}

/// A bound counts as told, with the edge of the doses eaten that it lies beyond as its value.
///
/// A value is told only where it falls inside the doses eaten, so where the truth is near their edge
/// the values told err inwards; with the bounds less is selected. A trial that makes no claim at all is
/// still left out, so both rows say how often claims are wrong, not trials.
fn with_bound(e: Estimate, (least, most): (f64, f64)) -> Estimate {
    let beyond = || match (e.low, e.high) {
        (None, Some(_)) => Some(least),
        (Some(_), None) => Some(most),
        _ => None,
    };
    Estimate { value: e.value.or_else(beyond), ..e.clone() }
}

fn truths(truth: &Limits) -> Result<(f64, f64), Error> {
    let outside = Error::TooFewValues { measure: "a true limit", needed: 1, got: 0 };
    let limit = truth.mean_limit_sensor_g.ok_or(outside.clone())?;
    Ok((limit, truth.safe80_sensor_g.ok_or(outside)?))
}

fn options(s: &Simulated, points: &model::Points) -> Options {
    let plain = Options::new(s.scenario.rise_mg_dl);
    let (noise_sd_mg_dl, noise_shift) = (points.noise_sd_mg_dl, points.noise_shift);
    Options { level: LEVEL, seed: s.seed, noise_sd_mg_dl, noise_shift, ..plain }
}

/// The fit as the review makes it.
pub(super) fn fitted(s: &Simulated, found: &Responses) -> Result<tolerance::Model, Error> {
    let points = model::points(found, |_| None);
    tolerance::fit_meals(&points.meals, &points.mix, options(s, &points))
}

/// Clean meals eaten out: place, diary grams, rise, and grams really eaten.
fn eaten_out(s: &Simulated, found: &Responses) -> Vec<(usize, f64, f64, f64)> {
    let one = |(i, meal): (usize, &glycemic_core::meals::Meal)| {
        let out = meal.tags.iter().any(|t| t == "eating-out") && found.is_clean(i);
        let eaten = s.truth.meals.iter().find(|m| m.logged_time_ms == Some(meal.time_ms))?;
        let (grams, rise) = (meal.net_carbs_g()?, found.rise(i)?);
        out.then_some((i, grams, rise, eaten.eaten_net_g))
    };
    found.meals.iter().enumerate().filter_map(one).collect()
}

fn loads(s: &Simulated, found: &Responses, fit: &tolerance::Fit) -> Result<Vec<Asked>, Error> {
    let out = eaten_out(s, found);
    let each = |o: &(usize, f64, f64, f64)| Asked {
        figure: "equivalent load, eaten out",
        truth: o.3,
        estimate: fit.equivalent_load(o.2),
    };
    let mut asked: Vec<Asked> = out.iter().map(each).collect();
    let Some(line) = &fit.line else { return Ok(asked) };
    let (grams, rises): (Vec<f64>, Vec<f64>) = out.iter().map(|o| (o.1, o.2)).unzip();
    let shrunken = equivalent::shrunken(fit, &grams, &rises)?;
    let excess = |i: &usize| out[*i].2 - line.at(out[*i].1);
    if let Some(most) = (0..out.len()).max_by(|a, b| excess(a).total_cmp(&excess(b))) {
        let mut ask = |figure: &'static str, estimate: Estimate| {
            asked.push(Asked { figure, truth: out[most].3, estimate });
        };
        ask("the most extreme, raw", fit.equivalent_load(out[most].2));
        ask("the most extreme, shrunken", shrunken[most].clone());
    }
    Ok(asked)
}

/// What a search over one trial came to.
struct Search {
    listed: usize,
    falsely: usize,
    hidden: usize,
}

/// The search for meals that do not fit: realised false-discovery rate and power, as a table.
///
/// # Errors
/// As [`study`].
pub fn misfits(scenarios: &[Scenario], first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | trials | meals hidden | listed | falsely | false-discovery rate | power % |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for scenario in scenarios {
        let found = each_seed(first, trials, |seed| search(&trial(scenario, seed)))?;
        let sum = |f: &dyn Fn(&Search) -> usize| found.iter().map(f).sum::<usize>();
        let (hidden, listed, falsely) =
            (sum(&|s| s.hidden), sum(&|s| s.listed), sum(&|s| s.falsely));
        // Of a trial that lists nothing the share is 0: Benjamini and Hochberg's rate.
        let share = |s: &Search| s.falsely as f64 / s.listed.max(1) as f64;
        let rate = found.iter().map(share).sum::<f64>() / found.len().max(1) as f64;
        let power = 100.0 * (listed - falsely) as f64 / hidden.max(1) as f64;
        text.push_str(&format!(
            "| {} | {trials} | {hidden} | {listed} | {falsely} | {rate:.3} | {power:.1} |\n",
            scenario.id
        ));
    }
    Ok(text)
}

fn search(s: &Simulated) -> Result<Search, Error> {
    let found = simulated_responses(s)?;
    let clock = LocalClock::from_steps(s.scenario.zone, s.scenario.offsets)?;
    let minute = |ms: i64| Some(clock.minute_of_day(ms));
    let points = model::points(&found, minute);
    let out = eaten_out(s, &found);
    let other = |o: &(usize, f64, f64, f64)| MealPoint {
        net_carbs_g: o.1,
        rise_mg_dl: o.2,
        sort: Sort::of(&found.meals[o.0], minute(found.meals[o.0].time_ms)),
    };
    let others: Vec<MealPoint> = out.iter().map(other).collect();
    let (options, rate) = (options(s, &points), tolerance::misfits::FALSE_DISCOVERY_RATE);
    let found = tolerance::misfits(&points.meals, &others, &points.mix, options, rate)?;
    let listed = found.listed();
    let falsely = listed.iter().filter(|m| m.place < points.meals.len()).count();
    let hidden = if found.reason.is_none() { out.len() } else { 0 };
    Ok(Search { listed: listed.len(), falsely, hidden })
}
