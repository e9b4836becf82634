//! What a contrast is adjusted for, and how alike the meals with and without are.
//!
//! # Method
//! Grams always. Then, each while there are at least five meals for every column: a walk after
//! the meal (when that is not the question), time of day (before 11:00, to 16:00, later), kinds (tags that at
//! least three meals have). The balance shows what differs: means, and their difference over
//! the mean spread of both sides.
//!
//! # Source
//! Meals a column: Vittinghoff E, McCulloch CE. Am J Epidemiol 2007; 165: 710-718 (five or more),
//! from memory. Standardised difference: Austin PC. Stat Med 2009; 28: 3083-3107, from memory.

use super::exposure::Exposure;
use crate::clock::LocalClock;
use crate::meals::Responses;
use crate::stats::moments;

const MEALS_A_COLUMN: usize = 5;
const MEALS_A_TAG: usize = 3;
/// Words that say where or when, not what.
const NO_KIND: [&str; 2] = ["eating-out", "snack"];

/// Columns to adjust for, with their names.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// Names, such as `net_carbs_g`, `midday`, `tag:grain`.
    pub names: Vec<String>,
    /// The columns, as long as the rows.
    pub columns: Vec<Vec<f64>>,
}

/// How one quantity stands with and without the exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct Balance {
    /// Name of the quantity.
    pub what: String,
    /// Mean, or share, with the exposure.
    pub with: f64,
    /// The same without.
    pub without: f64,
    /// The difference over the root mean square of both standard deviations.
    pub standardised: Option<f64>,
}

fn flags(rows: &[usize], holds: impl Fn(usize) -> bool) -> Vec<f64> {
    rows.iter().map(|&i| f64::from(u8::from(holds(i)))).collect()
}

fn hour(meals: &Responses, clock: &LocalClock, i: usize) -> f64 {
    clock.minute_of_day(meals.meals[i].time_ms) / 60.0
}

/// Tags that say what was eaten, in at least three of the rows and not in all.
fn kinds(meals: &Responses, rows: &[usize]) -> Vec<String> {
    let mut all: Vec<&String> = rows.iter().flat_map(|&i| &meals.meals[i].tags).collect();
    all.sort_unstable();
    let often =
        all.chunk_by(|a, b| a == b).filter(|t| (MEALS_A_TAG..rows.len()).contains(&t.len()));
    often.map(|t| t[0].clone()).filter(|t| !NO_KIND.contains(&t.as_str())).collect()
}

/// The columns for `exposure` in these rows; see the module.
pub fn design(
    meals: &Responses,
    rows: &[usize],
    exposure: &Exposure,
    clock: &LocalClock,
) -> Design {
    let grams = rows.iter().map(|&i| meals.meals[i].net_carbs_g().unwrap_or(0.0)).collect();
    let mut design = Design { names: vec!["net_carbs_g".into()], columns: vec![grams] };
    let mut add = |names: Vec<String>, columns: Vec<Vec<f64>>| {
        // The constant and the exposure are columns too.
        let after = design.columns.len() + columns.len() + 2;
        if rows.len() >= MEALS_A_COLUMN * after {
            design.names.extend(names);
            design.columns.extend(columns);
        }
    };
    let walked = flags(rows, |i| meals.walks[i].is_some());
    let sum: f64 = walked.iter().sum();
    if !exposure.is_walk() && sum >= 2.0 && sum <= rows.len() as f64 - 2.0 {
        add(vec!["walk_after".into()], vec![walked]);
    }
    let midday = flags(rows, |i| (11.0..16.0).contains(&hour(meals, clock, i)));
    let evening = flags(rows, |i| hour(meals, clock, i) >= 16.0);
    add(vec!["midday".into(), "evening".into()], vec![midday, evening]);
    if !exposure.id.starts_with("tag:") {
        // One kind fewer: the last is what the others are not.
        let mut kinds = kinds(meals, rows);
        kinds.pop();
        let has = |t: &String| flags(rows, |i| meals.meals[i].tags.contains(t));
        let columns = kinds.iter().map(has).collect();
        add(kinds.iter().map(|t| format!("tag:{t}")).collect(), columns);
    }
    design
}

/// Grams, hour of the day and kinds with and without.
pub fn balance(
    meals: &Responses,
    rows: &[usize],
    exposed: &[bool],
    clock: &LocalClock,
) -> Vec<Balance> {
    let grams = rows.iter().map(|&i| meals.meals[i].net_carbs_g().unwrap_or(0.0)).collect();
    let mut all: Vec<(String, Vec<f64>)> = vec![
        ("net_carbs_g".into(), grams),
        ("hour_of_day".into(), rows.iter().map(|&i| hour(meals, clock, i)).collect()),
    ];
    for tag in kinds(meals, rows) {
        let column = flags(rows, |i| meals.meals[i].tags.contains(&tag));
        all.push((format!("tag:{tag}"), column));
    }
    all.into_iter().filter_map(|(what, values)| one(what, &values, exposed)).collect()
}

fn one(what: String, values: &[f64], exposed: &[bool]) -> Option<Balance> {
    let side = |of: bool| -> Vec<f64> {
        values.iter().zip(exposed).filter(|v| *v.1 == of).map(|v| *v.0).collect()
    };
    let (on, off) = (side(true), side(false));
    let (with, without) = (moments::mean(&on)?, moments::mean(&off)?);
    let spread =
        moments::sd(&on).zip(moments::sd(&off)).map(|(a, b)| ((a * a + b * b) / 2.0).sqrt());
    let standardised = spread.filter(|s| *s > 0.0).map(|s| (with - without) / s);
    Some(Balance { what, with, without, standardised })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means 20 and 40, both with variance 200 / 1: 20 over the root of 200.
    #[test]
    fn standardised_difference_by_hand() {
        let b = one("g".into(), &[10.0, 30.0, 30.0, 50.0], &[false, false, true, true]).unwrap();
        assert_eq!((b.with, b.without), (40.0, 20.0));
        assert!((b.standardised.unwrap() - 20.0 / 200f64.sqrt()).abs() < 1e-12);
        assert_eq!(one("g".into(), &[1.0], &[true]), None);
    }
}
