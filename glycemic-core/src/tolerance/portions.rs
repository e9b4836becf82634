//! The person's own foods beside the safe grams: "about half of your usual bowl".
//!
//! # Method
//! For each label eaten at least twice, the median of its net carbohydrate, and the share of it that
//! the safe grams are, at most 1: a food that fits as it is eaten is not made larger or smaller.
//! Where no safe grams can be told (or they lie below every dose eaten) no share is given, so no
//! portion is below what the person already eats in some meal.
//!
//! # Source
//! Common practice, no source.

use crate::stats::quantile;

/// A food of the diary.
#[derive(Clone, Debug, PartialEq)]
pub struct Portion {
    /// Its label, as first written.
    pub label: String,
    /// Times eaten with grams.
    pub times: usize,
    /// Median of its net carbohydrate, g.
    pub usual_g: f64,
    /// Safe grams over the usual ones, at most 1; `None` without safe grams or usual ones of 0.
    pub safe_share: Option<f64>,
}

/// The labels eaten at least twice, the most carbohydrate first.
///
/// Labels that differ in case or in spaces around them are one. `meals` holds labels and net
/// carbohydrate, g.
///
/// # Example
/// ```
/// # use glycemic_core::tolerance::portions;
/// let meals = [("Porridge", 50.0), ("porridge ", 60.0), ("berries", 10.0), ("berries", 14.0)];
/// let found = portions(&meals, Some(27.5));
/// assert_eq!((found[0].label.as_str(), found[0].usual_g), ("Porridge", 55.0));
/// assert_eq!((found[0].safe_share, found[1].safe_share), (Some(0.5), Some(1.0)));
/// ```
pub fn portions(meals: &[(&str, f64)], safe_g: Option<f64>) -> Vec<Portion> {
    let key = |label: &str| label.trim().to_lowercase();
    let mut foods: Vec<(String, String, Vec<f64>)> = Vec::new();
    for (label, grams) in meals.iter().filter(|m| m.1.is_finite() && !m.0.trim().is_empty()) {
        match foods.iter_mut().find(|f| f.0 == key(label)) {
            Some(food) => food.2.push(*grams),
            None => foods.push((key(label), label.trim().to_string(), vec![*grams])),
        }
    }
    let mut out: Vec<Portion> = foods
        .into_iter()
        .filter(|f| f.2.len() >= 2)
        .filter_map(|(_, label, grams)| {
            let usual_g = quantile::median(&grams)?;
            let share = |safe: f64| (usual_g > 0.0).then(|| (safe / usual_g).min(1.0));
            let safe_share = safe_g.filter(|s| *s > 0.0).and_then(share);
            Some(Portion { label, times: grams.len(), usual_g, safe_share })
        })
        .collect();
    out.sort_by(|a, b| b.usual_g.total_cmp(&a.usual_g).then_with(|| a.label.cmp(&b.label)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn once_is_not_usual_and_nothing_grows() {
        let meals = [("soup", 30.0), ("rice", 20.0), ("rice", 20.0), ("egg", 0.0), ("egg", 0.0)];
        let found = portions(&meals, Some(40.0));
        assert_eq!(found.len(), 2);
        assert_eq!((found[0].safe_share, found[1].safe_share), (Some(1.0), None));
        assert!(portions(&meals, None).iter().all(|p| p.safe_share.is_none()));
    }
}
