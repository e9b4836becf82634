//! The dawn rise: glucose before breakfast less the lowest hour of the night.
//!
//! # Method
//! Of each local day the mean of the hour before the first meal after 04:00 and before noon (or
//! of 06:00-07:00 where there is no diary; a day without such a meal in a diary is left out), less the lowest
//! of the means of the clock hours from 00:00 to 06:00, as far as they end before that meal; the
//! median over days. An hour counts when it holds half of the readings it could; all hours of the
//! night must.
//!
//! # Source
//! Common practice, no source.

use std::collections::BTreeMap;

use super::daily::Daily;
use super::days::Day;
use super::number::{Number, Spread};
use crate::estimate::Reason;
use crate::stats::quantile;

const HOUR_MS: i64 = 3_600_000;

impl<N: Number> Daily<'_, N> {
    /// The dawn rise in mg/dL.
    pub(crate) fn dawn_rise(&self, meals_ms: &[i64]) -> Result<f64, Reason> {
        let rises: Vec<f64> = self.dawn_rises(meals_ms).into_iter().map(|r| r.1).collect();
        let median = quantile::median(&rises).map(|rise| rise * self.step_mg_dl);
        median.ok_or_else(|| {
            let what = "days with readings all night and before the first meal";
            Reason::count("too_few_days", what, 0, 1)
        })
    }

    /// The rise of each day that has one, with the day's number, in counts.
    pub(crate) fn dawn_rises(&self, meals_ms: &[i64]) -> Vec<(i64, f64)> {
        let meals = self.first_meals(meals_ms);
        self.days
            .iter()
            .filter_map(|day| {
                let end = match meals.get(&day.number) {
                    Some(&meal) => meal,
                    None if meals_ms.is_empty() => day.at_hour(self.clock, 7),
                    None => return None,
                };
                Some((day.number, self.rise(day, end)?))
            })
            .collect()
    }

    fn first_meals(&self, meals_ms: &[i64]) -> BTreeMap<i64, i64> {
        let mut first = BTreeMap::new();
        for &meal in meals_ms {
            if (240.0..720.0).contains(&self.clock.minute_of_day(meal)) {
                let earliest = first.entry(self.clock.day(meal)).or_insert(meal);
                *earliest = meal.min(*earliest);
            }
        }
        first
    }

    /// One day's rise in counts.
    fn rise(&self, day: &Day, end_ms: i64) -> Option<f64> {
        let before = self.hour_mean(day, end_ms - HOUR_MS)?;
        let night_end = day.at_hour(self.clock, 6).min(end_ms);
        let mut lowest: Option<f64> = None;
        let mut from = day.start_ms;
        while from + HOUR_MS <= night_end {
            let mean = self.hour_mean(day, from)?;
            lowest = Some(lowest.map_or(mean, |l| l.min(mean)));
            from += HOUR_MS;
        }
        lowest.map(|l| before - l)
    }

    /// Mean of the hour from an instant on, if it holds half of its readings.
    fn hour_mean(&self, day: &Day, from_ms: i64) -> Option<f64> {
        let times = &self.times[day.range.clone()];
        let from = times.partition_point(|&t| t < from_ms);
        let to = times.partition_point(|&t| t < from_ms + HOUR_MS);
        let needed = ((HOUR_MS / self.nominal_ms) as usize).div_ceil(2).max(1);
        if to < from + needed {
            return None;
        }
        Spread::of(&self.codes[day.range.clone()][from..to]).mean()
    }
}
