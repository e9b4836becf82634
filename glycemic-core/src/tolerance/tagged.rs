//! What the meals with a tag behaved like, such as those eaten out.
//!
//! # Method
//! The meals with the tag are named before any rise is looked at, and are left out of the fit that
//! they are set against. Each has the grams that would have gone with its rise: alone
//! ([`equivalent_load`](super::Fit::equivalent_load)) and shrunken towards the group
//! ([`shrunken`](super::equivalent::shrunken)), which is the one to read for a meal that was picked
//! from the list because it is extreme.

use super::equivalent;
use super::fit::{Fit, Options};
use super::model::{self, MealPoint, Points};
use crate::error::Error;
use crate::estimate::Estimate;
use crate::meals::Responses;
use crate::table::Table;

/// One meal with the tag.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Its place in the responses.
    pub place: usize,
    /// Net carbohydrate by the diary, g.
    pub net_carbs_g: f64,
    /// Its rise, mg/dL.
    pub rise_mg_dl: f64,
    /// Grams that it behaved like.
    pub alone: Estimate,
    /// The same, shrunken towards the meals with the tag.
    pub shrunken: Estimate,
}

/// The clean meals with grams that have `tag`, and what each behaved like.
///
/// `minute_of_day` gives the minute of the local day of an instant, where the clock is known.
///
/// # Errors
/// As [`fit_meals`](super::fit_meals).
pub fn loads(
    r: &Responses,
    tag: &str,
    minute_of_day: impl Fn(i64) -> Option<f64>,
    options: Options,
) -> Result<Vec<Load>, Error> {
    let points = without(r, tag, model::points(r, minute_of_day));
    let choices = points.told(options);
    loads_against(r, tag, &model::fit_meals(&points.meals, &points.mix, choices)?.fit)
}

/// The same against a fit that the meals were not in.
///
/// # Errors
/// None that responses can cause.
pub fn loads_against(r: &Responses, tag: &str, fit: &Fit) -> Result<Vec<Load>, Error> {
    let found = tagged(r, tag);
    let (grams, rises): (Vec<f64>, Vec<f64>) = found.iter().map(|f| (f.1, f.2)).unzip();
    let shrunken = equivalent::shrunken(fit, &grams, &rises)?;
    let load = |((place, net_carbs_g, rise_mg_dl), shrunken)| Load {
        place,
        net_carbs_g,
        rise_mg_dl,
        alone: fit.equivalent_load(rise_mg_dl),
        shrunken,
    };
    Ok(found.into_iter().zip(shrunken).map(load).collect())
}

/// Place, net carbohydrate and rise of the clean meals with the tag.
pub fn tagged(r: &Responses, tag: &str) -> Vec<(usize, f64, f64)> {
    let one = |i: usize| {
        let held = has(r, i, tag) && r.is_clean(i);
        held.then(|| Some((i, r.meals[i].net_carbs_g()?, r.rise(i)?))).flatten()
    };
    (0..r.meals.len()).filter_map(one).collect()
}

fn has(r: &Responses, i: usize, tag: &str) -> bool {
    r.meals[i].tags.iter().any(|t| t == tag)
}

/// The points without the meals of the tag.
fn without(r: &Responses, tag: &str, points: Points) -> Points {
    let keep: Vec<bool> = points.places.iter().map(|&i| !has(r, i, tag)).collect();
    let kept = |k: &usize| keep[*k];
    let at: Vec<usize> = (0..keep.len()).filter(kept).collect();
    let meals: Vec<MealPoint> = at.iter().map(|&k| points.meals[k].clone()).collect();
    let places = at.iter().map(|&k| points.places[k]).collect();
    Points { meals, places, ..points }
}

/// A row for each meal.
///
/// # Errors
/// None that loads can cause.
pub fn table(r: &Responses, found: &[Load]) -> Result<Table, Error> {
    let mut t = Table::new();
    let number = |f: &dyn Fn(&Load) -> Option<f64>| found.iter().map(f).collect::<Vec<_>>();
    let text = |f: &dyn Fn(&Load) -> Option<String>| found.iter().map(f).collect::<Vec<_>>();
    let why = |e: &Estimate| e.reason.as_ref().map(|r| r.text.clone());
    t.push_i64("time_ms", found.iter().map(|l| Some(r.rows[l.place].time_ms)).collect())?;
    t.push_text("label", text(&|l| r.meals[l.place].label.clone()))?;
    t.push_f64("diary_net_carbs_g", number(&|l| Some(l.net_carbs_g)))?;
    t.push_f64("rise_mg_dl", number(&|l| Some(l.rise_mg_dl)))?;
    t.push_f64("equivalent_g", number(&|l| l.alone.value))?;
    t.push_f64("equivalent_low_g", number(&|l| l.alone.low))?;
    t.push_f64("equivalent_high_g", number(&|l| l.alone.high))?;
    t.push_text("equivalent_reason", text(&|l| why(&l.alone)))?;
    t.push_f64("shrunken_g", number(&|l| l.shrunken.value))?;
    t.push_f64("shrunken_low_g", number(&|l| l.shrunken.low))?;
    t.push_f64("shrunken_high_g", number(&|l| l.shrunken.high))?;
    t.push_text("shrunken_reason", text(&|l| why(&l.shrunken)))?;
    Ok(t)
}
