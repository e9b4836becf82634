//! What went with the rise beside grams: a walk, fibre, protein, fat, and glucose before the meal.
//!
//! # Method
//! Each term alone beside grams (least squares, HC3, Student's t), since a two-week diary bears few
//! columns. Meals as for the limit, except that those with a walk count where the walk is the
//! term; grams are net, so fibre here is what it does beyond not being counted. Whether a term helps
//! to tell a meal that was left out stands beside it: the root mean square error of meals left
//! out, with it and without it. None of them moves the headline, which is for the person's own mix
//! without a walk.
//!
//! *Glucose before the meal* was measured with the noise that is in the rise too, with its sign
//! turned: plain least squares would find a fall of the rise with the baseline where there is none.
//! So its slope is by moments with known errors: the covariance and variance about the line on grams
//! less what the noise model says that noise adds to each, baseline and displayed peak at their own
//! distance in time. Its interval leaves out a meal at a time (jackknife). Where the baselines
//! hardly differ beyond their noise it is not estimable.
//!
//! # What it means
//! What went with the rise in this diary, each term unadjusted for the others; for what a walk is worth
//! see [`crate::contrast`]. Several terms are looked at: one interval in twenty misses by chance.
//!
//! # Source
//! Fuller WA. Measurement error models, 1987, section 1.2 and, for correlated errors, 2.2 (from
//! memory). Frisch and Waugh, see [`crate::stats::partial`]. Left-out errors from leverages: Draper
//! and Smith, 1998. Jackknife: Efron and Tibshirani, 1993, chapter 11.

use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::{Meal, Noise, Responses};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;
use crate::stats::partial::{Basis, partial};
use crate::table::Table;

/// Meals with the term known that it needs.
pub const MIN_MEALS_OF_TERM: usize = 12;
/// Meals that must have it, and be without it, where it is a yes or no.
const MIN_EACH: usize = 3;
/// Share of the baselines' variance that must be more than noise.
const MIN_RELIABILITY: f64 = 0.5;

const PLAIN: &str = "least squares beside grams, HC3, Student's t";
const BASELINE: &str = "moments with known errors beside grams, jackknife over meals";

/// One term beside grams.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// `walk`, `fiber`, `protein`, `fat` or `before`.
    pub name: &'static str,
    /// What the effect is for.
    pub per: &'static str,
    /// Meals in which it is known.
    pub meals: usize,
    /// mg/dL of rise that went with it.
    pub effect_mg_dl: Estimate,
    /// Root mean square error of meals left out, mg/dL, with the term; `None` where not estimable.
    pub left_out_mg_dl: Option<f64>,
    /// The same with grams alone.
    pub left_out_without_mg_dl: Option<f64>,
}

/// Name, what one step is, and size of the step.
const STEPS: [(&str, &str, f64); 4] = [
    ("walk", "a walk begun within two hours", 1.0),
    ("fiber", "5 g more", 5.0),
    ("protein", "10 g more", 10.0),
    ("fat", "10 g more", 10.0),
];

/// The terms of a diary; `nominal_min` is the time between two readings of the sensor.
///
/// Terms that can't be told have a reason.
///
/// # Errors
/// A nominal interval outside 0.5 to 60 minutes, a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// # use glycemic_core::meals::{Window, responses, Targets};
/// # use glycemic_core::{series::Builder, units::Unit};
/// # use glycemic_core::tolerance::terms::terms;
/// # let times: Vec<i64> = (0..600).map(|i| 1_741_046_400_000 + i * 300_000).collect();
/// # let trace = Builder::new(Unit::MgDl).build(&times, &[100.0; 600])?;
/// # let window = Window { before_min: 30.0, after_min: 180.0 };
/// let responses = responses(&trace, &[], &[], Targets::default(), window, 1)?;
/// let found = terms(&responses, 5.0, 0.95)?;
/// let names: Vec<&str> = found.iter().map(|t| t.name).collect();
/// assert_eq!(names, ["walk", "fiber", "protein", "fat", "before"]);
/// // Without meals there is nothing to tell, and that is said.
/// assert_eq!(found[0].effect_mg_dl.reason.as_ref().unwrap().code, "too_few_meals");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn terms(r: &Responses, nominal_min: f64, level: f64) -> Result<Vec<Term>, Error> {
    require_within("nominal_min", nominal_min, 0.5, 60.0)?;
    require_within("level", level, 0.5, 0.999)?;
    let mut out = Vec::new();
    for (name, per, step) in STEPS {
        out.push(plain(&known(r, name, step), name, per, level)?);
    }
    out.push(before(r, nominal_min, level)?);
    Ok(out)
}

/// Grams, the term in its steps, and the rise of each meal in which it is known.
#[derive(Default)]
struct Known {
    grams: Vec<f64>,
    term: Vec<f64>,
    rises: Vec<f64>,
}

fn known(r: &Responses, name: &str, step: f64) -> Known {
    let mut out = Known::default();
    let value = |i: usize, meal: &Meal| match name {
        "walk" => Some(f64::from(u8::from(r.walks[i].is_some()))),
        "fiber" => meal.fiber_g,
        "protein" => meal.protein_g,
        _ => meal.fat_g,
    };
    for (i, meal) in r.meals.iter().enumerate() {
        let walked = name == "walk" && r.walks[i].is_some() && r.rows[i].is_alone();
        let alone = r.is_clean(i) || walked;
        let told = (meal.net_carbs_g(), value(i, meal), r.rise(i));
        if let ((Some(grams), Some(term), Some(rise)), true, false) =
            (told, alone, meal.is_eaten_out())
        {
            out.grams.push(grams);
            out.term.push(term / step);
            out.rises.push(rise);
        }
    }
    out
}

fn missing(name: &'static str, per: &'static str, n: usize, estimate: Estimate) -> Term {
    let (left_out_mg_dl, left_out_without_mg_dl) = (None, None);
    Term { name, per, meals: n, effect_mg_dl: estimate, left_out_mg_dl, left_out_without_mg_dl }
}

fn plain(k: &Known, name: &'static str, per: &'static str, level: f64) -> Result<Term, Error> {
    let n = k.rises.len();
    let none = |reason| {
        missing(name, per, n, Estimate::missing(level, PLAIN, n, MIN_MEALS_OF_TERM, reason))
    };
    if let Some(reason) = too_few(k, name) {
        return Ok(none(reason));
    }
    let grams = Basis::new(n, std::slice::from_ref(&k.grams))?;
    let Some(p) = partial(&k.rises, &k.term, &grams)? else {
        return Ok(none(Reason::plain(
            "no_difference",
            "it is the same in all meals, or goes with grams",
        )));
    };
    let half = t_two_sided(level, p.freedom as f64) * p.se_hc3;
    let effect = Estimate::new(p.value, p.value - half, p.value + half, level, PLAIN, n);
    let both = Basis::new(n, &[k.grams.clone(), k.term.clone()])?;
    Ok(Term {
        name,
        per,
        meals: n,
        effect_mg_dl: effect.needing(MIN_MEALS_OF_TERM),
        left_out_mg_dl: Some(both.left_out(&k.rises)),
        left_out_without_mg_dl: Some(grams.left_out(&k.rises)),
    })
}

fn too_few(k: &Known, name: &str) -> Option<Reason> {
    let n = k.rises.len();
    if n < MIN_MEALS_OF_TERM {
        let what = format!("clean meals with grams in which it is known ({name})");
        return Some(Reason::count("too_few_meals", &what, n, MIN_MEALS_OF_TERM));
    }
    let with = k.term.iter().filter(|t| **t != 0.0).count();
    if name == "walk" && with.min(n - with) < MIN_EACH {
        let what = "meals with a walk, and without one";
        return Some(Reason::count("too_few_on_a_side", what, with.min(n - with), MIN_EACH));
    }
    None
}

/// What noise adds to the variance of a baseline, and to its covariance with the rise.
fn noise_of(noise: &Noise, readings: usize, nominal_min: f64, to_peak_min: f64) -> (f64, f64) {
    let at = |i: usize| nominal_min * i as f64;
    let count = readings as f64;
    let mut own = 0.0;
    let mut with_peak = 0.0;
    for i in 0..readings {
        own += (0..readings).map(|j| noise.covariance_at(at(i.abs_diff(j)))).sum::<f64>();
        with_peak += noise.covariance_at(to_peak_min.max(nominal_min) + at(i));
    }
    let own = own / (count * count);
    (own, with_peak / count - own)
}

/// A meal for the term of glucose before it.
struct Start {
    grams: f64,
    before: f64,
    rise: f64,
    /// What noise adds to the variance of `before` and to its covariance with `rise`.
    noise: (f64, f64),
}

fn before(r: &Responses, nominal_min: f64, level: f64) -> Result<Term, Error> {
    let (name, per) = ("before", "10 mg/dL more before the meal");
    let noise = match &r.noise {
        Ok(noise) => noise,
        Err(reason) => {
            let none = Estimate::missing(level, BASELINE, 0, MIN_MEALS_OF_TERM, reason.clone());
            return Ok(missing(name, per, 0, none));
        }
    };
    let readings = ((r.window.before_min / nominal_min) as usize).max(1);
    let start = |i: usize| {
        let row = &r.rows[i];
        let out = !r.is_clean(i) || r.meals[i].is_eaten_out();
        let grams = r.meals[i].net_carbs_g().filter(|_| !out)?;
        let noise = noise_of(noise, readings, nominal_min, row.time_to_peak_min?);
        Some(Start { grams, before: row.baseline_mg_dl?, rise: row.rise_mg_dl?, noise })
    };
    let meals: Vec<Start> = (0..r.rows.len()).filter_map(start).collect();
    let n = meals.len();
    let none = |reason| {
        missing(name, per, n, Estimate::missing(level, BASELINE, n, MIN_MEALS_OF_TERM, reason))
    };
    if n < MIN_MEALS_OF_TERM {
        let what = "clean meals with grams and glucose before them";
        return Ok(none(Reason::count("too_few_meals", what, n, MIN_MEALS_OF_TERM)));
    }
    let all: Vec<&Start> = meals.iter().collect();
    let Some((value, reliability)) = slope(&all)? else {
        return Ok(none(Reason::plain("no_difference", "glucose before meals hardly differs")));
    };
    if reliability < MIN_RELIABILITY {
        let text = format!(
            "glucose before meals differs mostly by the sensor's noise: {:.0} % of its variance is more than that, {:.0} % needed",
            100.0 * reliability.max(0.0),
            100.0 * MIN_RELIABILITY
        );
        return Ok(none(Reason::plain("mostly_noise", &text)));
    }
    let Some(error) = jackknife(&all)? else {
        return Ok(none(Reason::plain("no_difference", "one meal alone tells the difference")));
    };
    let half = t_two_sided(level, n as f64 - 3.0) * error;
    let effect = Estimate::new(value, value - half, value + half, level, BASELINE, n);
    let effect = effect.needing(MIN_MEALS_OF_TERM).scaled(10.0, 0.0);
    Ok(missing(name, per, n, effect))
}

/// Slope of the rise on glucose before it, beside grams, and the share of the baselines' variance
/// that is more than noise; `None` where nothing is left of it.
fn slope(meals: &[&Start]) -> Result<Option<(f64, f64)>, Error> {
    let of = |f: &dyn Fn(&Start) -> f64| meals.iter().map(|m| f(m)).collect::<Vec<f64>>();
    let grams = Basis::new(meals.len(), &[of(&|m| m.grams)])?;
    let x = grams.residual(&of(&|m| m.before));
    let y = grams.residual(&of(&|m| m.rise));
    let free = meals.len().saturating_sub(grams.rank()) as f64;
    let mean = |f: &dyn Fn(&Start) -> f64| moments::mean(&of(f)).unwrap_or(0.0);
    let variance = x.iter().map(|v| v * v).sum::<f64>() / free;
    let across = x.iter().zip(&y).map(|(a, b)| a * b).sum::<f64>() / free;
    let true_variance = variance - mean(&|m| m.noise.0);
    let found = (across - mean(&|m| m.noise.1)) / true_variance;
    Ok((variance > 0.0 && found.is_finite()).then_some((found, true_variance / variance)))
}

/// Standard error by leaving out a meal at a time.
fn jackknife(meals: &[&Start]) -> Result<Option<f64>, Error> {
    let n = meals.len();
    let mut found = Vec::with_capacity(n);
    for i in 0..n {
        let rest: Vec<&Start> =
            meals.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, m)| *m).collect();
        let Some((value, _)) = slope(&rest)? else { return Ok(None) };
        found.push(value);
    }
    let mean = moments::mean(&found).unwrap_or(0.0);
    let squares: f64 = found.iter().map(|f| (f - mean) * (f - mean)).sum();
    Ok(Some((squares * (n - 1) as f64 / n as f64).sqrt()))
}

/// A row for each term.
///
/// # Errors
/// None that terms can cause.
pub fn table(found: &[Term]) -> Result<Table, Error> {
    let number =
        |f: &dyn Fn(&Term) -> Option<f64>| found.iter().map(f).collect::<Vec<Option<f64>>>();
    let mut t = Table::new();
    t.push_text("term", found.iter().map(|f| Some(f.name.to_string())).collect())?;
    t.push_text("per", found.iter().map(|f| Some(f.per.to_string())).collect())?;
    t.push_i64("meals", found.iter().map(|f| Some(f.meals as i64)).collect())?;
    t.push_f64("went_with_mg_dl", number(&|f| f.effect_mg_dl.value))?;
    t.push_f64("low_mg_dl", number(&|f| f.effect_mg_dl.low))?;
    t.push_f64("high_mg_dl", number(&|f| f.effect_mg_dl.high))?;
    t.push_f64("left_out_mg_dl", number(&|f| f.left_out_mg_dl))?;
    t.push_f64("left_out_without_mg_dl", number(&|f| f.left_out_without_mg_dl))?;
    let why = |f: &Term| f.effect_mg_dl.reason.as_ref().map(|r| r.text.clone());
    t.push_text("reason", found.iter().map(why).collect())?;
    Ok(t)
}

#[cfg(test)]
#[path = "terms_tests.rs"]
mod tests;
