//! Measures that need local time: fasting and overnight glucose.

use std::collections::BTreeMap;

use crate::clock::LocalClock;
use crate::estimate::Reason;
use crate::series::TraceView;
use crate::stats::{moments, quantile};

/// Readings that an hour must hold to count: half of what the nominal interval allows.
fn enough_for_an_hour(view: TraceView<'_>) -> usize {
    ((3_600_000 / view.trace().nominal_ms().max(1)) / 2).max(1) as usize
}

/// The clock of local days and hours, or why there is none.
pub(super) fn clock(view: TraceView<'_>) -> Result<&LocalClock, Reason> {
    view.trace().clock().ok_or_else(|| {
        Reason::plain("no_zone", "needs local time, and no zone or local clock was given")
    })
}

/// Fasting glucose of each local day, in mg/dL: the median of the last hour before the first
/// meal after 04:00 (when there is one before noon), else of 06:00-07:00.
pub fn fasting_by_day(view: TraceView<'_>, meals_ms: &[i64]) -> Result<Vec<(i64, f64)>, Reason> {
    let clock = clock(view)?;
    let mut first_meal: BTreeMap<i64, i64> = BTreeMap::new();
    for &meal in meals_ms {
        let minute = clock.minute_of_day(meal);
        if (240.0..720.0).contains(&minute) {
            let earliest = first_meal.entry(clock.day(meal)).or_insert(meal);
            *earliest = meal.min(*earliest);
        }
    }
    let needed = enough_for_an_hour(view);
    let mut out = Vec::new();
    for day in days(view, clock) {
        let start = clock.day_start(day);
        let end = match first_meal.get(&day) {
            Some(&meal) => meal,
            None if meals_ms.is_empty() => start + 7 * 3_600_000,
            None => continue,
        };
        let hour: Vec<f64> = readings(view, end.saturating_sub(3_600_000), end);
        if hour.len() >= needed
            && let Some(median) = quantile::median(&hour)
        {
            out.push((day, median));
        }
    }
    Ok(out)
}

/// Median over days of [`fasting_by_day`].
pub fn fasting(view: TraceView<'_>, meals_ms: &[i64]) -> Result<f64, Reason> {
    let values: Vec<f64> = fasting_by_day(view, meals_ms)?.into_iter().map(|d| d.1).collect();
    quantile::median(&values).ok_or_else(|| {
        Reason::count("too_few_days", "mornings with readings before the first meal", 0, 1)
    })
}

/// Readings from 00:00 to 06:00 local time, by local day.
pub fn nights(view: TraceView<'_>) -> Result<Vec<(i64, Vec<f64>)>, Reason> {
    let clock = clock(view)?;
    let mut out = Vec::new();
    for day in days(view, clock) {
        let start = clock.day_start(day);
        let night = readings(view, start, start + 6 * 3_600_000);
        if !night.is_empty() {
            out.push((day, night));
        }
    }
    Ok(out)
}

/// Mean of all readings from 00:00 to 06:00 local time.
pub fn overnight(view: TraceView<'_>) -> Result<f64, Reason> {
    let all: Vec<f64> = nights(view)?.into_iter().flat_map(|n| n.1).collect();
    moments::mean(&all)
        .ok_or_else(|| Reason::count("too_few_readings", "readings between 00:00 and 06:00", 0, 1))
}

/// The local days that hold readings, in order.
pub fn days(view: TraceView<'_>, clock: &LocalClock) -> Vec<i64> {
    let mut days: Vec<i64> = view.times_ms().iter().map(|&t| clock.day(t)).collect();
    days.dedup();
    days
}

/// Readings from `from_ms` on and before `to_ms`.
fn readings(view: TraceView<'_>, from_ms: i64, to_ms: i64) -> Vec<f64> {
    let from = view.times_ms().partition_point(|&t| t < from_ms);
    let to = view.times_ms().partition_point(|&t| t < to_ms).max(from);
    view.glucose_mg_dl()[from..to].to_vec()
}
