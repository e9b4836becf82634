//! Meals that raised glucose more than the diary says.
//!
//! # Method
//! Each meal is set against the dose-response of the *other* meals, with its own kind of food and
//! part of the day: how often a meal of the diary's grams would rise as much or more (gamma spread,
//! errors of the mean added, tail of Student's t). Among all such chances those are kept whose
//! false-discovery rate is at most the one stated (Benjamini and Hochberg): of the meals listed, about
//! that share is there by chance. Meals that were named before any rise was looked at, because more
//! is expected of them (eaten out: the kitchen's grams are a guess), are searched harder: seven
//! tenths of what may be wrong are theirs, however few they are, and their chances are divided by that
//! weight. Weights fixed beforehand whose mean is 1 leave the rate as it is. The price is paid by the
//! other meals, whose chances must be three times smaller. A meal listed is one to repeat, not one
//! that is explained.
//!
//! # Source
//! Benjamini Y, Hochberg Y. J R Stat Soc B 1995; 57: 289-300. Weights: Genovese CR, Roeder K,
//! Wasserman L. Biometrika 2006; 93: 509-524, from memory; the seven tenths are our choice.

use super::fit::Options;
use super::model::{MealPoint, Model, Sort, pooled};
use super::spread;
use crate::error::{Error, require_all_finite, require_within};
use crate::estimate::Reason;
use crate::meals::Responses;
use crate::stats::distribution::t_cdf;

/// The false-discovery rate where none is stated.
pub const FALSE_DISCOVERY_RATE: f64 = 0.10;
/// Share of the false discoveries allowed that meals named beforehand may take.
const SHARE_NAMED: f64 = 0.7;
/// Fat from which on it is a possible reason, g (our choice, no source).
pub const HIGH_FAT_G: f64 = 25.0;
/// Protein from which on it is a possible reason, g (our choice, no source).
pub const HIGH_PROTEIN_G: f64 = 40.0;

/// One meal against the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Misfit {
    /// Place of the meal: those in the fit first, then the others.
    pub place: usize,
    /// Rise that its grams, kind and time give on average, mg/dL.
    pub expected_mg_dl: f64,
    /// Rise beyond that, mg/dL.
    pub excess_mg_dl: f64,
    /// Chance of a rise as large or larger, if the diary is right.
    pub p: f64,
    /// The least false-discovery rate at which it is listed.
    pub q: f64,
}

/// All meals against the others, and which of them are listed.
#[derive(Clone, Debug, PartialEq)]
pub struct Misfits {
    /// Every meal tested, in the order of places.
    pub tested: Vec<Misfit>,
    /// The false-discovery rate stated.
    pub rate: f64,
    /// Why nothing could be tested.
    pub reason: Option<Reason>,
}

impl Misfits {
    /// The meals that do not fit at the stated rate, the least likely first.
    pub fn listed(&self) -> Vec<Misfit> {
        let mut out: Vec<Misfit> =
            self.tested.iter().filter(|m| m.q <= self.rate).copied().collect();
        out.sort_by(|a, b| a.p.total_cmp(&b.p).then(a.place.cmp(&b.place)));
        out
    }
}

/// Sets `meals` (each left out in turn) and `others` (not used for the fit and named beforehand, such as
/// meals eaten out) against the fit of `meals`; `mix` as for [`fit_meals`](super::model::fit_meals).
///
/// # Errors
/// As [`fit_meals`](super::model::fit_meals), or a rate outside 0.001 to 0.5.
///
/// # Example
/// ```
/// # use glycemic_core::tolerance::{MealPoint, Options, misfits, model::Sort};
/// let point = |i: usize, more: f64| {
///     let g = [10.0, 20.0, 30.0, 45.0, 60.0][i % 5];
///     let rise_mg_dl = g + [3.0, -3.0, 2.0, -2.0][i % 4] + more;
///     MealPoint { net_carbs_g: g, rise_mg_dl, sort: Sort::default() }
/// };
/// let meals: Vec<MealPoint> = (0..20).map(|i| point(i, 0.0)).collect();
/// let found = misfits(&meals, &[point(2, 30.0)], &[], Options::new(35.0), 0.10)?;
/// let listed = found.listed();
/// assert_eq!(listed.iter().map(|m| m.place).collect::<Vec<_>>(), [20]);
/// assert!((listed[0].excess_mg_dl - 30.0).abs() < 4.0);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn misfits(
    meals: &[MealPoint],
    others: &[MealPoint],
    mix: &[Sort],
    options: Options,
    rate: f64,
) -> Result<Misfits, Error> {
    require_within("rate", rate, 0.001, 0.5)?;
    for (name, value) in [
        ("grams", others.iter().map(|m| m.net_carbs_g).collect::<Vec<f64>>()),
        ("rises", others.iter().map(|m| m.rise_mg_dl).collect()),
    ] {
        require_all_finite(name, &value)?;
    }
    let whole = pooled(meals, mix, options)?;
    if whole.fit.line.is_none() {
        return Ok(Misfits { tested: Vec::new(), rate, reason: whole.fit.limit_g.reason });
    }
    let mut tested = Vec::new();
    for (place, meal) in meals.iter().enumerate() {
        let mut rest = meals.to_vec();
        rest.remove(place);
        // Without it there may be too few to say anything.
        tested.extend(against(&pooled(&rest, mix, options)?, meal, place));
    }
    for (i, meal) in others.iter().enumerate() {
        tested.extend(against(&whole, meal, meals.len() + i));
    }
    adjust(&mut tested, meals.len());
    Ok(Misfits { tested, rate, reason: None })
}

fn against(model: &Model, meal: &MealPoint, place: usize) -> Option<Misfit> {
    let (mean, variance) = model.mean_of(&meal.sort, meal.net_carbs_g)?;
    let seen = model.left.at(mean);
    let sd = (seen * seen + variance).sqrt();
    let p = 1.0 - t_cdf(spread::deviate(mean, sd, meal.rise_mg_dl), model.free);
    let excess_mg_dl = meal.rise_mg_dl - mean;
    Some(Misfit { place, expected_mg_dl: mean, excess_mg_dl, p, q: 1.0 })
}

/// Benjamini and Hochberg's adjusted chances; places from `meals` on were named beforehand.
fn adjust(tested: &mut [Misfit], meals: usize) {
    let all = tested.len() as f64;
    let named = tested.iter().filter(|m| m.place >= meals).count() as f64;
    let weight = |m: &Misfit| match m.place >= meals {
        _ if named == 0.0 || named == all => 1.0,
        true => SHARE_NAMED * all / named,
        false => (1.0 - SHARE_NAMED) * all / (all - named),
    };
    let weighted: Vec<f64> = tested.iter().map(|m| m.p / weight(m)).collect();
    let mut order: Vec<usize> = (0..tested.len()).collect();
    order.sort_by(|&a, &b| weighted[a].total_cmp(&weighted[b]));
    let mut least: f64 = 1.0;
    for (rank, &i) in order.iter().enumerate().rev() {
        least = least.min(weighted[i] * all / (rank + 1) as f64);
        tested[i].q = least;
    }
}

/// What the diary and the trace hold that may have made a rise larger: words for programs.
///
/// `noted` says whether stress or illness was noted that day, `first_day` whether the sensor was
/// in its first day. None of them is shown to be the reason.
pub fn possible_reasons(
    r: &Responses,
    i: usize,
    noted: bool,
    first_day: bool,
) -> Vec<&'static str> {
    let (Some(meal), Some(row)) = (r.meals.get(i), r.rows.get(i)) else { return Vec::new() };
    let flag = |f: &str| row.flags.contains(&f);
    let by_eye = meal.confidence.as_deref().is_none_or(|c| c == "estimate" || c == "unknown");
    [
        ("eaten_out", meal.is_eaten_out()),
        ("grams_by_eye", by_eye),
        ("high_fat", meal.fat_g.is_some_and(|f| f >= HIGH_FAT_G)),
        ("high_protein", meal.protein_g.is_some_and(|p| p >= HIGH_PROTEIN_G)),
        ("stress_or_illness_noted", noted),
        ("earlier_meal", flag("previous_meal_under_3h")),
        ("window_cut", flag("window_cut") || flag("next_meal_in_window")),
        ("baseline_unsteady", flag("baseline_unsteady")),
        ("first_day_of_sensor", first_day),
    ]
    .into_iter()
    .filter(|(_, held)| *held)
    .map(|(word, _)| word)
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_chances(p: &[f64]) -> Vec<Misfit> {
        let one = |(place, p): (usize, &f64)| Misfit {
            place,
            expected_mg_dl: 0.0,
            excess_mg_dl: 0.0,
            p: *p,
            q: 1.0,
        };
        p.iter().enumerate().map(one).collect()
    }

    /// Two meals and two named beforehand, by hand: weights 0.6 and 1.4, so chances of 1/30, 5/6,
    /// 1/70 and 2/7.
    #[test]
    fn weights_by_hand() {
        let mut tested = of_chances(&[0.02, 0.5, 0.02, 0.4]);
        adjust(&mut tested, 2);
        for (m, q) in tested.iter().zip([2.0 / 30.0, 5.0 / 6.0, 4.0 / 70.0, 8.0 / 21.0]) {
            assert!((m.q - q).abs() < 1e-12, "{} {q}", m.q);
        }
        // Where all or none are named nothing is weighed.
        let mut alike = [of_chances(&[0.02, 0.5]), of_chances(&[0.02, 0.5])];
        adjust(&mut alike[0], 0);
        adjust(&mut alike[1], 2);
        assert_eq!(alike[0], alike[1]);
    }

    /// Benjamini and Hochberg (1995), section 3.2: of 15 chances four are kept at 0.05; the paper's
    /// values, from memory.
    #[test]
    fn benjamini_and_hochberg_keep_four_of_their_fifteen() {
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
            0.5719, 0.6528, 0.7590, 1.0,
        ];
        let mut tested = of_chances(&p);
        adjust(&mut tested, p.len());
        assert_eq!(tested.iter().filter(|m| m.q <= 0.05).count(), 4);
        assert!((tested[3].q - 0.0095 * 15.0 / 4.0).abs() < 1e-12);
    }

    #[test]
    fn too_few_meals_test_nothing() {
        let found = misfits(&[], &[], &[], Options::new(30.0), 0.1).unwrap();
        assert_eq!(found.reason.unwrap().code, "too_few_meals");
        assert!(misfits(&[], &[], &[], Options::new(30.0), 0.9).is_err());
    }
}
