//! Glucose when a symptom was noted, against the same person at matched times.
//!
//! # Method
//! A case-crossover design: for each symptom the glucose at that minute, its slope over the half
//! hour before, the minutes since the last meal and the rise of that meal (its first three hours
//! long) are compared with their means at the same time of day, an hour either way, on the other
//! days. The difference is the mean over symptoms. Under no link any other day could have been
//! the day of the symptoms: days are permuted, all symptoms of a day together, and the interval
//! follows from shifting the difference. Days of the wear are taken as exchangeable.
//!
//! # Units
//! mg/dL, mg/dL/min, minutes.
//!
//! # Source
//! Maclure M. Am J Epidemiol 1991; 133: 144-153, from memory.

use crate::clock::LocalClock;
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::interpolate::Method;
use crate::meals::Responses;
use crate::series::Trace;
use crate::stats::{moments, quantile, random::Random};

const MINUTE: i64 = 60_000;
const HOUR: i64 = 60 * MINUTE;
/// Symptoms needed.
pub const MIN_SYMPTOMS: usize = 5;
const DRAWS: usize = 1999;
const GAP_MIN: f64 = 16.0;
/// Minutes about the same time of day that make a matched mean.
const ABOUT_MIN: [i64; 5] = [-60, -30, 0, 30, 60];

/// What is compared.
pub const FEATURES: [(&str, &str); 4] = [
    ("level_mg_dl", "mg/dL"),
    ("slope_mg_dl_min", "mg/dL/min"),
    ("since_meal_min", "min"),
    ("rise_before_mg_dl", "mg/dL"),
];

/// One feature at symptoms less at matched times.
#[derive(Clone, Debug, PartialEq)]
pub struct AtSymptoms {
    /// Name, as in [`FEATURES`].
    pub feature: &'static str,
    /// UCUM unit.
    pub unit: &'static str,
    /// Difference with its interval.
    pub difference: Estimate,
    /// Two-sided p value of no link.
    pub p_value: Option<f64>,
    /// Mean at the symptoms.
    pub at_symptoms: Option<f64>,
}

/// Compares glucose at `symptoms_ms` with matched times, feature by feature.
///
/// # Errors
/// A level outside 0.5 to 0.999.
pub fn at_symptoms(
    trace: &Trace,
    meals: &Responses,
    symptoms_ms: &[i64],
    clock: &LocalClock,
    level: f64,
    seed: u64,
) -> Result<Vec<AtSymptoms>, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let times = trace.times_ms();
    let (first, last) = (clock.day(times[0]), clock.day(times[times.len() - 1]));
    FEATURES
        .iter()
        .map(|&(feature, unit)| {
            let of = |t: i64| value(trace, meals, feature, t);
            let grid = Grid::new(symptoms_ms, clock, (first, last), &of)?;
            Ok(grid.compared(feature, unit, level, seed))
        })
        .collect()
}

fn value(
    trace: &Trace,
    meals: &Responses,
    feature: &str,
    at_ms: i64,
) -> Result<Option<f64>, Error> {
    let glucose = |t: i64| Ok::<_, Error>(trace.at(&[t], Method::Linear, GAP_MIN)?[0]);
    let before = meals.meals.partition_point(|m| m.time_ms <= at_ms).checked_sub(1);
    let since = before.map(|i| (at_ms - meals.meals[i].time_ms) as f64 / MINUTE as f64);
    Ok(match feature {
        "level_mg_dl" => glucose(at_ms)?,
        "slope_mg_dl_min" => glucose(at_ms)?
            .zip(glucose(at_ms - 30 * MINUTE)?)
            .map(|(now, then)| (now - then) / 30.0),
        // Half a day after a meal is no longer after it.
        "since_meal_min" => since.filter(|m| *m <= 720.0),
        _ => before
            .filter(|_| since.is_some_and(|m| m <= 180.0))
            .and_then(|i| meals.rows[i].rise_mg_dl),
    })
}

/// A feature at every symptom's time of day on every day.
struct Grid {
    /// Day of each symptom, from 0.
    day: Vec<usize>,
    /// By symptom and day: at the time itself.
    at: Vec<Vec<Option<f64>>>,
    /// By symptom and day: mean about the time.
    about: Vec<Vec<Option<f64>>>,
}

impl Grid {
    fn new(
        symptoms_ms: &[i64],
        clock: &LocalClock,
        (first, last): (i64, i64),
        of: &dyn Fn(i64) -> Result<Option<f64>, Error>,
    ) -> Result<Grid, Error> {
        let mut grid = Grid { day: Vec::new(), at: Vec::new(), about: Vec::new() };
        for &symptom in symptoms_ms {
            let own = clock.day(symptom);
            if !(first..=last).contains(&own) {
                continue;
            }
            let into = symptom - clock.day_start(own);
            let (mut at, mut about) = (Vec::new(), Vec::new());
            for day in first..=last {
                let same = clock.day_start(day) + into;
                at.push(of(same)?);
                let mut near = Vec::new();
                for minutes in ABOUT_MIN {
                    near.extend(of(same + minutes * MINUTE)?);
                }
                about.push(moments::mean(&near));
            }
            grid.day.push((own - first) as usize);
            grid.at.push(at);
            grid.about.push(about);
        }
        Ok(grid)
    }

    /// Mean at the symptoms, were `days[d]` the day in place of d; less the matched means.
    fn difference(&self, days: &[usize]) -> Option<(f64, f64, usize)> {
        let (mut all, mut own) = (Vec::new(), Vec::new());
        for i in 0..self.day.len() {
            let day = days[self.day[i]];
            let others: Vec<f64> =
                (0..days.len()).filter(|&d| d != day).filter_map(|d| self.about[i][d]).collect();
            if let (Some(case), Some(mean)) = (self.at[i][day], moments::mean(&others)) {
                all.push(case - mean);
                own.push(case);
            }
        }
        moments::mean(&all).zip(moments::mean(&own)).map(|(d, m)| (d, m, all.len()))
    }

    fn compared(
        &self,
        feature: &'static str,
        unit: &'static str,
        level: f64,
        seed: u64,
    ) -> AtSymptoms {
        const METHOD: &str = "matched times of other days, days permuted";
        let days = self.at.first().map_or(0, Vec::len);
        let mut order: Vec<usize> = (0..days).collect();
        let observed = self.difference(&order);
        let had = observed.map_or(0, |o| o.2);
        let Some((difference, mean, n)) = observed.filter(|o| o.2 >= MIN_SYMPTOMS) else {
            let reason =
                Reason::count("too_few_symptoms", "symptoms with readings", had, MIN_SYMPTOMS);
            let missing = Estimate::missing(level, METHOD, had, MIN_SYMPTOMS, reason);
            return AtSymptoms {
                feature,
                unit,
                difference: missing,
                p_value: None,
                at_symptoms: None,
            };
        };
        let mut random = Random::keyed(seed, 2, 0);
        let mut chance = Vec::with_capacity(DRAWS);
        for _ in 0..DRAWS {
            random.permute(&mut order);
            chance.extend(self.difference(&order).map(|d| d.0));
        }
        let chance = quantile::sorted(&chance);
        let far = chance.iter().filter(|c| c.abs() >= difference.abs() - 1e-9).count();
        let p_value = (far + 1) as f64 / (chance.len() + 1) as f64;
        let tail = (1.0 - level) / 2.0;
        let end = |p: f64| quantile::type7(&chance, p).unwrap_or(0.0);
        let (low, high) = (difference - end(1.0 - tail), difference - end(tail));
        let e = Estimate::new(difference, low, high, level, METHOD, n).needing(MIN_SYMPTOMS);
        AtSymptoms { feature, unit, difference: e, p_value: Some(p_value), at_symptoms: Some(mean) }
    }
}

/// Symptoms at least two hours after the one before; a run of notes is one.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::symptoms::apart;
/// let hour = 3_600_000;
/// assert_eq!(apart(&[0, hour, 3 * hour, 9 * hour]), [0, 3 * hour, 9 * hour]);
/// ```
pub fn apart(times_ms: &[i64]) -> Vec<i64> {
    let mut sorted = times_ms.to_vec();
    sorted.sort_unstable();
    let mut kept: Vec<i64> = Vec::new();
    for t in sorted {
        if kept.last().is_none_or(|l| t - l >= 2 * HOUR) {
            kept.push(t);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meals::{Targets, Window, responses};
    use crate::series::Builder;
    use crate::units::Unit;

    const DAY: i64 = 24 * HOUR;

    /// Ten flat days at 100, and 40 more about noon on days 2 to 6.
    fn trace() -> Trace {
        let times: Vec<i64> = (0..10 * 288).map(|i| 1_741_046_400_000 + i * 5 * MINUTE).collect();
        let raised = |t: i64| {
            let day = (t - 1_741_046_400_000) / DAY;
            let minute = (t - 1_741_046_400_000) % DAY / MINUTE;
            (2..7).contains(&day) && (600..840).contains(&minute)
        };
        let glucose: Vec<f64> =
            times.iter().map(|&t| if raised(t) { 140.0 } else { 100.0 }).collect();
        Builder::new(Unit::MgDl).build(&times, &glucose).unwrap()
    }

    fn compared(symptoms: &[i64]) -> Vec<AtSymptoms> {
        let trace = trace();
        let window = Window { before_min: 30.0, after_min: 180.0 };
        let meals = responses(&trace, &[], &[], Targets::default(), window, 1).unwrap();
        at_symptoms(&trace, &meals, symptoms, &LocalClock::fixed(0), 0.9, 1).unwrap()
    }

    /// At noon of days 2 to 6 the level is 140; of the other nine days four are raised:
    /// 140 - (4 × 140 + 5 × 100) / 9 = 22.2. Days permuted: all five on the raised days has
    /// the largest difference there is, by chance 1 in C(10, 5).
    #[test]
    fn level_by_hand() {
        let noon = 1_741_046_400_000 + 12 * HOUR;
        let found = compared(&(2..7).map(|d| noon + d * DAY).collect::<Vec<_>>());
        let level = &found[0];
        assert!((level.difference.value.unwrap() - (140.0 - 1060.0 / 9.0)).abs() < 1e-9);
        assert!(level.p_value.unwrap() < 0.03 && level.difference.low.unwrap() > 0.0);
        assert_eq!(level.at_symptoms, Some(140.0));
        // Flat at noon: no slope anywhere.
        assert_eq!((found[1].difference.value, found[1].p_value), (Some(0.0), Some(1.0)));
        // No meals.
        assert_eq!(found[2].difference.reason.as_ref().unwrap().code, "too_few_symptoms");
    }

    #[test]
    fn four_symptoms_are_too_few() {
        let noon = 1_741_046_400_000 + 12 * HOUR;
        let found = compared(&(2..6).map(|d| noon + d * DAY).collect::<Vec<_>>());
        let reason = found[0].difference.reason.clone().unwrap();
        assert_eq!((reason.had, reason.needed), (Some(4.0), Some(5.0)));
        assert!(compared(&[])[0].difference.value.is_none());
    }
}
