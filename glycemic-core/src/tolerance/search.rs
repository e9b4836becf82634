//! The search for meals that do not fit, over the responses to a diary.
//!
//! Meals at home are each left out in turn; meals eaten out are not in the fit at all.

use super::fit::Options;
use super::misfits::{Misfit, Misfits, misfits};
use super::model::{self, MealPoint, Sort};
use super::tagged::tagged;
use crate::error::Error;
use crate::meals::{EATEN_OUT, Responses};
use crate::table::Table;

/// A search with the place of every meal tested in the responses.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// What was found.
    pub found: Misfits,
    /// Places in the responses, in the order of [`Misfit::place`].
    pub places: Vec<usize>,
}

/// Searches the clean meals with grams at a false-discovery rate.
///
/// `minute_of_day` gives the minute of the local day of an instant, where the clock is known.
///
/// # Errors
/// As [`misfits`].
pub fn search(
    r: &Responses,
    minute_of_day: impl Fn(i64) -> Option<f64>,
    options: Options,
    rate: f64,
) -> Result<Search, Error> {
    let points = model::points(r, &minute_of_day);
    let options = points.told(options);
    let out = tagged(r, EATEN_OUT);
    let other = |o: &(usize, f64, f64)| {
        let meal = &r.meals[o.0];
        let sort = Sort::of(meal, minute_of_day(meal.time_ms));
        MealPoint { net_carbs_g: o.1, rise_mg_dl: o.2, sort }
    };
    let others: Vec<MealPoint> = out.iter().map(other).collect();
    let found = misfits(&points.meals, &others, &points.mix, options, rate)?;
    let places = points.places.into_iter().chain(out.into_iter().map(|o| o.0)).collect();
    Ok(Search { found, places })
}

impl Search {
    /// The meals listed with their places in the responses, the least likely first.
    pub fn listed(&self) -> Vec<(usize, Misfit)> {
        let placed = |m: Misfit| Some((*self.places.get(m.place)?, m));
        self.found.listed().into_iter().filter_map(placed).collect()
    }

    /// Every meal tested with its place in the responses.
    pub fn tested(&self) -> Vec<(usize, Misfit)> {
        let placed = |m: &Misfit| Some((*self.places.get(m.place)?, *m));
        self.found.tested.iter().filter_map(placed).collect()
    }
}

/// A row for each of `meals`; `why` gives possible reasons, none of them shown to be it.
///
/// # Errors
/// None that a search can cause.
pub fn table(
    r: &Responses,
    meals: &[(usize, Misfit)],
    rate: f64,
    why: impl Fn(usize) -> Vec<&'static str>,
) -> Result<Table, Error> {
    let number = |f: &dyn Fn(&Misfit) -> f64| meals.iter().map(|(_, m)| Some(f(m))).collect();
    let mut t = Table::new();
    t.push_i64("time_ms", meals.iter().map(|(i, _)| Some(r.rows[*i].time_ms)).collect())?;
    t.push_text("label", meals.iter().map(|(i, _)| r.meals[*i].label.clone()).collect())?;
    let grams = meals.iter().map(|(i, _)| r.meals[*i].net_carbs_g()).collect();
    t.push_f64("diary_net_carbs_g", grams)?;
    t.push_f64("expected_rise_mg_dl", number(&|m| m.expected_mg_dl))?;
    t.push_f64("excess_mg_dl", number(&|m| m.excess_mg_dl))?;
    t.push_f64("chance", number(&|m| m.p))?;
    t.push_f64("false_discovery_rate", number(&|m| m.q))?;
    t.push_bool("listed", meals.iter().map(|(_, m)| m.q <= rate).collect())?;
    t.push_text("possible_reasons", meals.iter().map(|(i, _)| Some(why(*i).join(";"))).collect())?;
    Ok(t)
}
