//! Eating occasions: meals that begin close together, taken as one.
//!
//! # Method
//! A meal that begins less than a stated time after the first of an occasion belongs to it. Grams
//! are added when all are known, else unknown; fibre where it is known; ranges are added, with the
//! grams themselves where there is no range; the least certain confidence counts; tags are united
//! and labels joined.
//!
//! # Source
//! Common practice, no source; 30 minutes from start to start is the default.

use super::meal::Meal;

/// From the surest to the least sure.
const CONFIDENCE: [&str; 4] = ["weighed", "label", "estimate", "unknown"];

/// The occasions, in order of time, and how many meals each is made of.
///
/// # Example
/// ```
/// use glycemic_core::meals::{Meal, occasions};
/// let at = |minute: i64, grams| Meal {
///     time_ms: minute * 60_000,
///     carbs_g: Some(grams),
///     ..Meal::default()
/// };
/// let (meals, counts) = occasions(&[at(0, 40.0), at(20, 15.0), at(30, 10.0)], 30.0);
/// assert_eq!((meals[0].carbs_g, counts), (Some(55.0), vec![2, 1]));
/// ```
pub fn occasions(meals: &[Meal], within_min: f64) -> (Vec<Meal>, Vec<usize>) {
    let mut sorted: Vec<&Meal> = meals.iter().collect();
    sorted.sort_by_key(|m| m.time_ms);
    let mut groups: Vec<Vec<&Meal>> = Vec::new();
    for meal in sorted {
        let near = |g: &&mut Vec<&Meal>| {
            g.first().is_some_and(|f| ((meal.time_ms - f.time_ms) as f64) < within_min * 60_000.0)
        };
        match groups.last_mut().filter(near) {
            Some(group) => group.push(meal),
            None => groups.push(vec![meal]),
        }
    }
    (groups.iter().map(|g| merged(g)).collect(), groups.iter().map(Vec::len).collect())
}

fn merged(group: &[&Meal]) -> Meal {
    let Some((first, rest)) = group.split_first() else { return Meal::default() };
    if rest.is_empty() {
        return (*first).clone();
    }
    let all = |f: &dyn Fn(&Meal) -> Option<f64>| {
        group.iter().map(|m| f(m)).collect::<Option<Vec<f64>>>().map(|v| v.iter().sum::<f64>())
    };
    let known = |f: &dyn Fn(&Meal) -> Option<f64>| {
        let found: Vec<f64> = group.iter().filter_map(|m| f(m)).collect();
        (!found.is_empty()).then(|| found.iter().sum::<f64>())
    };
    let ranged = group.iter().any(|m| m.carbs_low_g.is_some() || m.carbs_high_g.is_some());
    let mut tags: Vec<String> = Vec::new();
    for tag in group.iter().flat_map(|m| &m.tags) {
        if !tags.contains(tag) {
            tags.push(tag.clone());
        }
    }
    let labels: Vec<&str> = group.iter().filter_map(|m| m.label.as_deref()).collect();
    Meal {
        time_ms: first.time_ms,
        end_ms: group.iter().filter_map(|m| m.end_ms).max(),
        carbs_g: all(&|m| m.carbs_g),
        carbs_low_g: all(&|m| m.carbs_low_g.or(m.carbs_g)).filter(|_| ranged),
        carbs_high_g: all(&|m| m.carbs_high_g.or(m.carbs_g)).filter(|_| ranged),
        fiber_g: known(&|m| m.fiber_g),
        protein_g: all(&|m| m.protein_g),
        fat_g: all(&|m| m.fat_g),
        confidence: least_sure(group),
        label: (!labels.is_empty()).then(|| labels.join(" + ")),
        tags,
    }
}

fn least_sure(group: &[&Meal]) -> Option<String> {
    let place = |m: &&Meal| {
        let word = m.confidence.as_deref().unwrap_or("unknown");
        CONFIDENCE.iter().position(|c| *c == word).unwrap_or(CONFIDENCE.len() - 1)
    };
    if group.iter().all(|m| m.confidence.is_none()) {
        return None;
    }
    group.iter().map(place).max().map(|p| CONFIDENCE[p].to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meal(minute: i64, carbs_g: Option<f64>, confidence: &str, tag: &str) -> Meal {
        Meal {
            time_ms: minute * 60_000,
            end_ms: Some((minute + 10) * 60_000),
            carbs_g,
            confidence: Some(confidence.into()),
            label: Some(format!("dish {minute}")),
            tags: vec!["grain".into(), tag.into()],
            ..Meal::default()
        }
    }

    #[test]
    fn two_become_one() {
        let mut first = meal(0, Some(30.0), "weighed", "snack");
        first.fiber_g = Some(4.0);
        let mut second = meal(29, Some(20.0), "estimate", "eating-out");
        (second.carbs_low_g, second.carbs_high_g) = (Some(15.0), Some(30.0));
        let (found, counts) = occasions(&[second.clone(), first.clone()], 30.0);
        assert_eq!(counts, [2]);
        let one = &found[0];
        assert_eq!((one.time_ms, one.end_ms), (0, Some(39 * 60_000)));
        assert_eq!((one.carbs_g, one.fiber_g, one.protein_g), (Some(50.0), Some(4.0), None));
        assert_eq!((one.carbs_low_g, one.carbs_high_g), (Some(45.0), Some(60.0)));
        assert_eq!(one.confidence.as_deref(), Some("estimate"));
        assert_eq!(one.label.as_deref(), Some("dish 0 + dish 29"));
        assert_eq!(one.tags, ["grain", "snack", "eating-out"]);
        // Unknown grams stay unknown; a meal alone stays itself.
        second.carbs_g = None;
        assert_eq!(occasions(&[first.clone(), second], 30.0).0[0].carbs_g, None);
        assert_eq!(occasions(std::slice::from_ref(&first), 30.0).0, [first.clone()]);
        assert_eq!(occasions(&[], 30.0), (vec![], vec![]));
    }

    /// Start to start with the first, not with the one before: 0, 20 and 40 are two occasions.
    #[test]
    fn a_chain_does_not_grow() {
        let chain: Vec<Meal> = [0, 20, 40].map(|m| meal(m, Some(9.0), "label", "x")).to_vec();
        assert_eq!(occasions(&chain, 30.0).1, [2, 1]);
        assert_eq!(occasions(&chain, 0.0).1, [1, 1, 1]);
    }
}
