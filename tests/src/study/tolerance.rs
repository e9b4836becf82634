//! The tolerance answers of the review: mean limit and safe grams, and beside them the plain line,
//! equivalent loads and the search for meals that do not fit.
//!
//! A trial without a value may still give a bound: the answer lies outside the doses eaten. The truth
//! of an equivalent load is the net carbohydrate really eaten, in grams as the diary would have them
//! if nothing were hidden. A true misfit is a meal with hidden carbohydrate.

use std::collections::BTreeMap;

use glycemic_core::clock::LocalClock;
use glycemic_core::meals::Responses;
use glycemic_core::simulate::{Limits, Scenario, Simulated, rise_curve, safe_under_peak, trial};
use glycemic_core::tolerance::model::{self, MealPoint, Sort};
use glycemic_core::tolerance::{self, Options, equivalent};
use glycemic_core::{Error, Estimate};

use super::{Asked, LEVEL, Row, blood, each_seed, tolerance_kinds};
use crate::simulated_responses;

/// Share of new meals that stay under the target at the safe grams.
pub(super) const SAFE_PROBABILITY: f64 = 0.8;

/// The peak that meals should stay under beside the rise, mg/dL: it binds in about every second of
/// the demo's meals.
const PEAK_MG_DL: f64 = 130.0;

/// What the study of one scenario came to.
pub struct Studied {
    /// Mean limit and safe grams.
    pub rows: Vec<Row>,
    /// The plain line without kinds of food, the saturating form, both targets at once, limits of
    /// single kinds and in blood, and equivalent loads of meals eaten out: of each, and of that with
    /// the greatest excess, raw and shrunken.
    pub beside: Vec<Row>,
    /// The search for meals that do not fit, a line of [`misfits`].
    pub searched: String,
}

struct Truths {
    limit: f64,
    safe: f64,
    under_peak: Option<f64>,
    of_curve: Limits,
    of_kinds: BTreeMap<&'static str, f64>,
}

/// The study over one scenario.
///
/// # Errors
/// [`Error::TooFewValues`] where the scenario's truth lies outside the doses simulated.
pub fn study(scenario: &Scenario, first: u64, trials: u64) -> Result<Studied, Error> {
    let of_curve = rise_curve(scenario).limits(scenario.rise_mg_dl);
    let outside = Error::TooFewValues { measure: "a true limit", needed: 1, got: 0 };
    let truths = Truths {
        limit: of_curve.mean_limit_sensor_g.ok_or(outside.clone())?,
        safe: of_curve.safe80_sensor_g.ok_or(outside)?,
        under_peak: safe_under_peak(scenario, scenario.rise_mg_dl, PEAK_MG_DL, SAFE_PROBABILITY),
        of_kinds: tolerance_kinds::truths(scenario)?,
        of_curve,
    };
    let all = each_seed(first, trials, |seed| {
        let s = trial(scenario, seed);
        let found = simulated_responses(&s)?;
        let model = fitted(&s, &found)?;
        let beside = beside(&s, &found, &model, &truths)?;
        Ok((headline(&model.fit, &truths)?, beside, search(&s, &found)?))
    })?;
    let (mut rows, mut beside, mut searched) = (Vec::new(), Vec::new(), Vec::new());
    for (of_headline, of_beside, of_search) in all {
        rows.push(of_headline);
        beside.push(of_beside);
        searched.push(of_search);
    }
    Ok(Studied {
        rows: super::rows(scenario.id, &rows),
        beside: super::rows(scenario.id, &beside),
        searched: misfits(scenario.id, &searched),
    })
}

fn headline(fit: &tolerance::Fit, truths: &Truths) -> Result<Vec<Asked>, Error> {
    let (found, safe_found) = (fit.limit_g.clone(), fit.safe_g(SAFE_PROBABILITY)?);
    let ask = |figure, truth, estimate| Asked { figure, truth, estimate };
    Ok(vec![
        ask("mean limit, g", truths.limit, found.clone()),
        ask("the same, bounds too", truths.limit, with_bound(found, fit.doses_g)),
        ask("safe grams at 80 %", truths.safe, safe_found.clone()),
        ask("safe, bounds too", truths.safe, with_bound(safe_found, fit.doses_g)),
    ])
}

fn beside(
    s: &Simulated,
    found: &Responses,
    model: &tolerance::Model,
    truths: &Truths,
) -> Result<Vec<Asked>, Error> {
    let plain = &model.plain;
    let ask = |figure, truth, estimate| Asked { figure, truth, estimate };
    let mut asked = vec![
        ask("plain line: limit", truths.limit, plain.limit_g.clone()),
        ask("plain line: safe grams", truths.safe, plain.safe_g(SAFE_PROBABILITY)?),
    ];
    if let Some(bent) = model.saturating()? {
        asked.push(ask("saturating form: limit", truths.limit, bent.limit_g));
    }
    if let Some(truth) = truths.under_peak {
        let starts = tolerance::glucose_before(found);
        let both = model.fit.safe_under_peak_g(SAFE_PROBABILITY, PEAK_MG_DL, &starts)?;
        asked.push(ask("safe grams under a peak too", truth, both));
    }
    asked.extend(tolerance_kinds::asked(model, &truths.of_kinds));
    asked.extend(blood::asked(s, &model.fit, &truths.of_curve)?);
    asked.extend(loads(s, found, &model.fit)?);
    Ok(asked)
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

fn options(s: &Simulated, points: &model::Points) -> Options {
    let plain = Options::new(s.scenario.rise_mg_dl);
    let (noise_sd_mg_dl, noise_shift) = (points.noise_sd_mg_dl, points.noise_shift);
    Options { level: LEVEL, noise_sd_mg_dl, noise_shift, ..plain }
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

/// Head of the table of the search for meals that do not fit.
pub const MISFITS: &str = "| scenario | trials | meals hidden | listed | falsely | false-discovery rate | power % |\n\
                           | --- | --- | --- | --- | --- | --- | --- |\n";

/// Realised false-discovery rate and power of a search, as a line under [`MISFITS`].
fn misfits(scenario: &str, found: &[Search]) -> String {
    let sum = |f: &dyn Fn(&Search) -> usize| found.iter().map(f).sum::<usize>();
    let (hidden, listed, falsely) = (sum(&|s| s.hidden), sum(&|s| s.listed), sum(&|s| s.falsely));
    // Of a trial that lists nothing the share is 0: Benjamini and Hochberg's rate.
    let share = |s: &Search| s.falsely as f64 / s.listed.max(1) as f64;
    let rate = found.iter().map(share).sum::<f64>() / found.len().max(1) as f64;
    let power = 100.0 * (listed - falsely) as f64 / hidden.max(1) as f64;
    let trials = found.len();
    format!(
        "| {scenario} | {trials} | {hidden} | {listed} | {falsely} | {rate:.3} | {power:.1} |\n"
    )
}

fn search(s: &Simulated, found: &Responses) -> Result<Search, Error> {
    let clock = LocalClock::from_steps(s.scenario.zone, s.scenario.offsets)?;
    let minute = |ms: i64| Some(clock.minute_of_day(ms));
    let points = model::points(found, minute);
    let out = eaten_out(s, found);
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
