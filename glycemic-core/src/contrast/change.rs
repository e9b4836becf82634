//! Did behaviour change during the wear?
//!
//! # Method
//! *Trends* over whole days, by the median of all slopes (see [`crate::stats::sen`]): grams a day,
//! grams a meal, rise, mean glucose. *Mean less drift*: the trend of the sensor's mean less the
//! trend of sensor less meter, by straight lines with HC3, standard errors added in squares.
//! *Adaptive dosing*: grams of the next meal after a rise over the target less after one not over
//! it. Where dishes come back, grams are counted from the dish's own middle amount, so that a cut
//! portion shows; else beside the grams of the meal before. What began before the first minute
//! can't be seen by any of these.
//!
//! # Source
//! Sen (1968). HC3: [`crate::stats::line`]. The rest is our own.

use std::collections::BTreeMap;

use super::effect::{Told, by_meals};
use crate::clock::LocalClock;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::series::Trace;
use crate::stats::{distribution::t_two_sided, line, moments, quantile, sen};

/// Days needed for a trend.
pub const MIN_DAYS: usize = 7;
/// Share of a day's readings that makes it whole, as consensus has it for a wear (70 %).
const WHOLE: f64 = 0.7;
/// Times a dish must come for its middle amount to be known.
const MIN_SAME_DISH: usize = 3;
/// Meals that count as the next: within so many hours.
const NEXT_WITHIN_MS: i64 = 16 * 3_600_000;

/// One value a day.
pub type Daily = Vec<(i64, f64)>;

/// The days that the sensor saw almost wholly, with their means.
pub fn whole_days(trace: &Trace, clock: &LocalClock) -> Daily {
    let mut by_day: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for (t, g) in trace.times_ms().iter().zip(trace.glucose_mg_dl()) {
        by_day.entry(clock.day(*t)).or_default().push(*g);
    }
    let full = 86_400_000.0 / trace.nominal_ms().max(1) as f64;
    let whole = by_day.into_iter().filter(|d| d.1.len() as f64 >= WHOLE * full);
    whole.filter_map(|(d, g)| moments::mean(&g).map(|m| (d, m))).collect()
}

/// Sum or mean over each of `days` of what `of` says of its meals; days without one are left out.
pub fn by_day(
    meals: &Responses,
    clock: &LocalClock,
    days: &[(i64, f64)],
    sum: bool,
    of: impl Fn(usize) -> Option<f64>,
) -> Daily {
    let value = |day: i64| {
        let own: Vec<f64> = (0..meals.meals.len())
            .filter(|&i| clock.day(meals.meals[i].time_ms) == day)
            .filter_map(&of)
            .collect();
        let mean = moments::mean(&own)?;
        Some(if sum { mean * own.len() as f64 } else { mean })
    };
    days.iter().filter_map(|d| value(d.0).map(|v| (d.0, v))).collect()
}

/// Trend per week with its interval.
///
/// # Errors
/// A level outside 0.5 to 0.999, NaN.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::change::trend;
/// // One gram a day more.
/// let days: Vec<(i64, f64)> = (0..10).map(|d| (d, 100.0 + d as f64)).collect();
/// assert_eq!(trend(&days, 0.95)?.value, Some(7.0));
/// assert_eq!(trend(&days[..6], 0.95)?.reason.unwrap().needed, Some(7.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn trend(days: &[(i64, f64)], level: f64) -> Result<Estimate, Error> {
    const METHOD: &str = "median of all slopes over whole days (Sen 1968)";
    if days.len() < MIN_DAYS {
        let reason = Reason::count("too_few_days", "whole days for a trend", days.len(), MIN_DAYS);
        return Ok(Estimate::missing(level, METHOD, days.len(), MIN_DAYS, reason));
    }
    let (x, y): (Vec<f64>, Vec<f64>) = days.iter().map(|d| ((d.0 - days[0].0) as f64, d.1)).unzip();
    let e = sen::slope(&x, &y, level)?.scaled(7.0, 0.0).needing(MIN_DAYS);
    Ok(Estimate { method: METHOD.into(), ..e })
}

/// Trend per week of daily means less the drift that (day, sensor less meter) shows.
///
/// # Errors
/// A level outside 0.5 to 0.999, NaN.
pub fn trend_less_drift(
    days: &[(i64, f64)],
    differences: &[(f64, f64)],
    level: f64,
) -> Result<Estimate, Error> {
    const METHOD: &str = "straight lines, HC3: daily means less sensor less meter";
    const PAIRS: usize = 10;
    let missing = |code, what, had, needed| {
        let reason = Reason::count(code, what, had, needed);
        Ok(Estimate::missing(level, METHOD, had, needed, reason))
    };
    if days.len() < MIN_DAYS {
        return missing("too_few_days", "whole days for a trend", days.len(), MIN_DAYS);
    }
    if differences.len() < PAIRS {
        return missing("too_few_pairs", "meter pairs for a drift", differences.len(), PAIRS);
    }
    let fit = |points: Vec<(f64, f64)>| {
        let (x, y): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        line::weighted(&x, &y, &vec![1.0; x.len()])
    };
    let means = fit(days.iter().map(|d| (d.0 as f64, d.1)).collect())?;
    // All pairs within minutes have one time and no drift.
    let Ok(drift) = fit(differences.to_vec()) else {
        return missing("too_few_days", "times with meter pairs", 1, 2);
    };
    let se = (means.cov_hc3[1][1] + drift.cov_hc3[1][1]).max(0.0).sqrt();
    let freedom = days.len().min(differences.len()) as f64 - 2.0;
    let (value, half) = (means.slope - drift.slope, t_two_sided(level, freedom) * se);
    let e = Estimate::new(value, value - half, value + half, level, METHOD, days.len());
    Ok(e.needing(MIN_DAYS).scaled(7.0, 0.0))
}

/// Grams of the next meal after a rise over `target_mg_dl` less after one that was not.
///
/// # Errors
/// None that responses can cause.
pub fn adaptive_dosing(
    meals: &Responses,
    clock: &LocalClock,
    target_mg_dl: f64,
    seed: u64,
) -> Result<Told, Error> {
    let middles = middle_amounts(meals);
    let grams = |i: usize| meals.meals[i].net_carbs_g();
    let own = |i: usize| meals.meals[i].label.as_ref().and_then(|l| middles.get(l.as_str()));
    let snack = |i: usize| meals.meals[i].tags.iter().any(|t| t == "snack");
    let mains: Vec<usize> = (0..meals.meals.len()).filter(|&i| !snack(i)).collect();
    let next = |w: &[usize]| {
        let near = meals.meals[w[1]].time_ms - meals.meals[w[0]].time_ms <= NEXT_WITHIN_MS;
        let over = meals.rise(w[0]).filter(|_| near)? > target_mg_dl;
        Some((w[0], w[1], over))
    };
    let pairs: Vec<(usize, usize, bool)> = mains.windows(2).filter_map(next).collect();
    let known = pairs.iter().filter(|p| own(p.1).is_some()).count();
    let by_dish = 2 * known > pairs.len();
    let rows: Vec<(f64, bool, f64, i64)> = pairs
        .iter()
        .filter_map(|&(i, j, over)| {
            let day = clock.day(meals.meals[j].time_ms);
            if by_dish {
                Some((grams(j)? - own(j)?, over, 0.0, day))
            } else {
                Some((grams(j)?, over, grams(i)?, day))
            }
        })
        .collect();
    let outcome: Vec<f64> = rows.iter().map(|r| r.0).collect();
    let over: Vec<bool> = rows.iter().map(|r| r.1).collect();
    let before: Vec<f64> = rows.iter().map(|r| r.2).collect();
    let day: Vec<i64> = rows.iter().map(|r| r.3).collect();
    let adjust = if by_dish { Vec::new() } else { vec![before] };
    by_meals(&outcome, &over, &adjust, &day, seed)
}

/// The middle amount of each dish that came three times or more.
fn middle_amounts(meals: &Responses) -> BTreeMap<&str, f64> {
    let mut by_dish: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for meal in &meals.meals {
        if let (Some(label), Some(grams)) = (&meal.label, meal.net_carbs_g()) {
            by_dish.entry(label).or_default().push(grams);
        }
    }
    by_dish
        .into_iter()
        .filter(|d| d.1.len() >= MIN_SAME_DISH)
        .filter_map(|(label, grams)| quantile::median(&grams).map(|m| (label, m)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mean climbs 2 a day and the drift is 0.5 a day, both exactly: 7 × 1.5.
    #[test]
    fn drift_comes_off() {
        let days: Daily = (0..10).map(|d| (d, 100.0 + 2.0 * d as f64)).collect();
        let differences: Vec<(f64, f64)> =
            (0..20).map(|i| (f64::from(i) / 2.0, 3.0 + f64::from(i) / 4.0)).collect();
        let e = trend_less_drift(&days, &differences, 0.95).unwrap();
        assert!((e.value.unwrap() - 10.5).abs() < 1e-9 && e.covers(e.value.unwrap()));
        let few = trend_less_drift(&days, &differences[..9], 0.95).unwrap();
        assert_eq!(few.reason.unwrap().code, "too_few_pairs");
    }
}
