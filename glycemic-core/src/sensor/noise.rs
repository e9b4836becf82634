//! The sensor's noise in plain terms: how far a reading stands from where its neighbours put it.
//!
//! # Method
//! *Noise* is the standard deviation of the sensor's own error that is not shared by the readings
//! before and after it for hours, from windows without food (see `meals::noise`). *Jitter* is how
//! far a reading typically (root mean square) stands from the middle of the readings 15 minutes
//! before and after it; a straight rise or fall has none. Jitter needs no model, so it is told by
//! wear day (24 h from insertion) too, from readings at least four hours after a logged meal and
//! not before the next; without a diary from 00:00 to 06:00 local time. Its interval takes
//! stretches of three hours as independent: Student's t of their mean squares, carried to the root
//! and to the scale of logarithms to first order.
//!
//! # Units
//! mg/dL.
//!
//! # Source
//! Second differences free of straight trends: von Neumann J. Ann Math Stat 1941; 12: 367-395, from
//! memory. The 15 minutes and the stretches are conventions of this library.

use super::wear::sensors;
use crate::align::WearEvent;
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::{self, Meal, Noise};
use crate::series::{Censor, Trace};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;
use crate::table::Table;

const MINUTE: i64 = 60_000;
const DAY_MS: i64 = 1440 * MINUTE;
const AFTER_MEAL_MS: i64 = 240 * MINUTE;
const STRETCH_MS: i64 = 180 * MINUTE;
const LAG_MS: i64 = 15 * MINUTE;
/// Stretches under which no jitter is told, and readings under which a stretch is none.
const MIN_STRETCHES: usize = 3;
const MIN_READINGS: usize = 12;
/// Readings on a grid are never closer than this to a straight line, (mg/dL)².
const LEAST_SQUARE: f64 = 1.0 / 12.0;
/// Between the quiet and the loud sensors: variance that is linked, variance that is not, minutes.
const ASSUMED: (f64, f64, f64) = (22.0, 0.1, 30.0);

/// The noise that is reckoned with: found, or assumed for want of windows without food.
#[derive(Clone, Copy, Debug)]
pub(super) enum Reckoned {
    Found(Noise),
    Assumed { linked: f64, white: f64, slow_min: f64 },
}

/// The noise found in a trace, or one that is assumed.
pub(super) fn reckoned(trace: &Trace, meals: &[Meal]) -> Reckoned {
    let (linked, white, slow_min) = ASSUMED;
    let found = meals::noise(trace, meals, 30.0, 180.0);
    found.map_or(Reckoned::Assumed { linked, white, slow_min }, Reckoned::Found)
}

impl Reckoned {
    #[cfg(test)]
    pub(super) fn white(variance: f64) -> Reckoned {
        Reckoned::Assumed { linked: 0.0, white: variance, slow_min: 1.0 }
    }

    /// Covariance of two readings so many minutes apart, (mg/dL)².
    pub(super) fn covariance(&self, minutes: f64) -> f64 {
        match self {
            Reckoned::Found(noise) => noise.covariance_at(minutes),
            Reckoned::Assumed { linked, white, slow_min } => {
                linked * libm::exp(-minutes / slow_min) + if minutes == 0.0 { *white } else { 0.0 }
            }
        }
    }

    pub(super) fn sd_mg_dl(&self) -> f64 {
        self.covariance(0.0).max(0.0).sqrt()
    }

    pub(super) fn assumed(&self) -> bool {
        matches!(self, Reckoned::Assumed { .. })
    }
}

/// One wear day's jitter.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DayNoise {
    /// Which sensor.
    pub sensor: Option<String>,
    /// Day of its wear, 1 for the first 24 hours.
    pub wear_day: usize,
    /// Its jitter, mg/dL.
    pub jitter_mg_dl: Estimate,
}

/// How noisy a sensor is.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Level {
    /// The noise, its memory and the floor of rises, or why they can't be told.
    pub noise: Result<Noise, Reason>,
    /// Jitter of the whole wear, mg/dL.
    pub jitter_mg_dl: Estimate,
    /// Jitter by wear day.
    pub by_wear_day: Vec<DayNoise>,
    /// Which readings it is from: `after_meals`, `nights` or `all`.
    pub from: String,
}

/// How noisy a sensor is, over the wear and by wear day.
///
/// # Errors
/// A level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// use glycemic_core::sensor::noise::level;
/// use glycemic_core::{Unit, series::Builder};
/// // Quarter hours of 104 and of 100 mg/dL in turn.
/// let times: Vec<i64> = (0..288).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// let glucose: Vec<f64> =
///     (0..288_i32).map(|i| 100.0 + if i / 3 % 2 == 0 { 4.0 } else { 0.0 }).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &glucose)?;
/// let found = level(&trace, &[], &[], 0.95)?;
/// assert_eq!(found.from, "all");
/// // Each stands 4 mg/dL from the middle of its neighbours 15 min away.
/// assert!((found.jitter_mg_dl.value.unwrap() - 4.0).abs() < 1e-9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn level(
    trace: &Trace,
    meals: &[Meal],
    events: &[WearEvent],
    level: f64,
) -> Result<Level, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let what = "windows of 3.5 h without food";
    let noise = meals::noise(trace, meals, 30.0, 180.0)
        .map_err(|n| Reason::count("too_few_windows", what, n, meals::noise::MIN_WINDOWS));
    let quiet = Quiet::new(trace, meals);
    let worn = sensors(trace, events);
    let all: Vec<f64> = worn.iter().flat_map(|w| quiet.stretches(w.from_ms, w.to_ms)).collect();
    let mut by_wear_day = Vec::new();
    for sensor in &worn {
        let mut from = sensor.from_ms;
        for wear_day in 1.. {
            if from >= sensor.to_ms {
                break;
            }
            let to = (from + DAY_MS).min(sensor.to_ms);
            let jitter_mg_dl = jitter(&quiet.stretches(from, to), level);
            let name = sensor.sensor.clone();
            by_wear_day.push(DayNoise { sensor: name, wear_day, jitter_mg_dl });
            from = to;
        }
    }
    Ok(Level {
        noise,
        jitter_mg_dl: jitter(&all, level),
        by_wear_day,
        from: quiet.name.to_string(),
    })
}

/// The readings that food does not move.
struct Quiet<'a> {
    trace: &'a Trace,
    meals_ms: Vec<i64>,
    name: &'static str,
}

impl<'a> Quiet<'a> {
    fn new(trace: &'a Trace, meals: &[Meal]) -> Self {
        let mut meals_ms: Vec<i64> = meals.iter().map(|m| m.time_ms).collect();
        meals_ms.sort_unstable();
        let name = match (meals_ms.is_empty(), trace.clock()) {
            (false, _) => "after_meals",
            (true, Some(_)) => "nights",
            (true, None) => "all",
        };
        Quiet { trace, meals_ms, name }
    }

    fn is_quiet(&self, at_ms: i64) -> bool {
        match (self.meals_ms.is_empty(), self.trace.clock()) {
            (false, _) => {
                let before = self.meals_ms.partition_point(|m| *m <= at_ms);
                let last = before.checked_sub(1).and_then(|i| self.meals_ms.get(i));
                last.is_some_and(|m| at_ms - m >= AFTER_MEAL_MS)
            }
            (true, Some(clock)) => clock.minute_of_day(at_ms) < 360.0,
            (true, None) => true,
        }
    }

    /// Mean square distance from the middle of the neighbours, in each stretch of three hours
    /// from `from_ms` on.
    fn stretches(&self, from_ms: i64, to_ms: i64) -> Vec<f64> {
        let mut out = Vec::new();
        let mut from = from_ms;
        while from < to_ms {
            let to = (from + STRETCH_MS).min(to_ms);
            let squares = self.squares(from, to);
            if squares.len()
                >= MIN_READINGS.min((STRETCH_MS / self.trace.nominal_ms().max(1)) as usize)
            {
                out.extend(moments::mean(&squares));
            }
            from = to;
        }
        out
    }

    fn squares(&self, from_ms: i64, to_ms: i64) -> Vec<f64> {
        let view = self.trace.window(from_ms, to_ms - 1);
        let (times, values) = (view.times_ms(), view.glucose_mg_dl());
        let limit = |i: usize| view.censor()[i] != Censor::None;
        let slack = self.trace.nominal_ms() / 2;
        let near = |at: i64| {
            let i = times.partition_point(|t| *t < at - slack);
            (i < times.len() && times[i] <= at + slack && !limit(i)).then_some(i)
        };
        let mut out = Vec::new();
        for i in (0..times.len()).filter(|i| !limit(*i)) {
            let (Some(a), Some(b)) = (near(times[i] - LAG_MS), near(times[i] + LAG_MS)) else {
                continue;
            };
            let moved = a == i || b == i || view.spans_break(times[a], times[b]);
            if !moved && self.is_quiet(times[a]) && self.is_quiet(times[b]) {
                let off = values[i] - 0.5 * (values[a] + values[b]);
                out.push(off * off);
            }
        }
        out
    }
}

/// Jitter from the mean squares of stretches.
fn jitter(stretches: &[f64], level: f64) -> Estimate {
    let method = "root mean square, Student's t over stretches of three hours";
    let n = stretches.len();
    let squares: Vec<f64> = stretches.iter().map(|s| s.max(LEAST_SQUARE)).collect();
    match (moments::mean(&squares), moments::sd(&squares)) {
        (Some(mean), Some(sd)) if n >= MIN_STRETCHES => {
            // The root halves the relative error; on the scale of logarithms the low end stays above 0.
            let half = 0.5 * t_two_sided(level, (n - 1) as f64) * sd / ((n as f64).sqrt() * mean);
            let value = mean.sqrt();
            let (low, high) = (value * libm::exp(-half), value * libm::exp(half));
            Estimate::new(value, low, high, level, method, n).needing(MIN_STRETCHES)
        }
        _ => {
            let what = "stretches of three hours without food";
            let reason = Reason::count("too_few_stretches", what, n, MIN_STRETCHES);
            Estimate::missing(level, method, n, MIN_STRETCHES, reason)
        }
    }
}

impl Level {
    /// A row for each wear day.
    ///
    /// # Errors
    /// None that they can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let rows = &self.by_wear_day;
        let pick = |f: fn(&Estimate) -> Option<f64>| {
            rows.iter().map(|d| f(&d.jitter_mg_dl)).collect::<Vec<Option<f64>>>()
        };
        let why = |d: &DayNoise| d.jitter_mg_dl.reason.as_ref().map(|r| r.text.clone());
        let mut t = Table::new();
        t.push_text("sensor", rows.iter().map(|d| d.sensor.clone()).collect())?;
        t.push_i64("wear_day", rows.iter().map(|d| Some(d.wear_day as i64)).collect())?;
        t.push_f64("jitter_mg_dl", pick(|e| e.value))?;
        t.push_f64("jitter_low_mg_dl", pick(|e| e.low))?;
        t.push_f64("jitter_high_mg_dl", pick(|e| e.high))?;
        t.push_i64("stretches", rows.iter().map(|d| Some(d.jitter_mg_dl.n as i64)).collect())?;
        t.push_text("reason", rows.iter().map(why).collect())?;
        Ok(t)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::LocalClock;
    use crate::series::Builder;
    use crate::stats::random::Random;
    use crate::units::Unit;

    fn trace(days: i64, value: impl Fn(i64) -> f64) -> Trace {
        let n = days * 288;
        let times: Vec<i64> = (0..n).map(|i| 1_741_046_400_000 + i * 300_000).collect();
        let values: Vec<f64> = (0..n).map(value).collect();
        let clock = Some(LocalClock::fixed(0));
        Builder::new(Unit::MgDl).clock(clock).build(&times, &values).unwrap()
    }

    /// White noise of SD s stands s √1.5 from the middle of two others.
    #[test]
    fn white_noise_in_closed_form() {
        let mut random = Random::keyed(3, 0, 0);
        let noise: Vec<f64> = (0..80 * 288).map(|_| 4.0 * random.normal()).collect();
        let t = trace(80, |i| 120.0 + noise[i as usize]);
        let found = level(&t, &[], &[], 0.95).unwrap();
        let value = found.jitter_mg_dl.value.unwrap();
        assert!((value - 4.0 * 1.5_f64.sqrt()).abs() < 0.2, "{value}");
        assert_eq!((found.from.as_str(), found.by_wear_day.len()), ("nights", 80));
        // Two stretches of three hours in a night are too few for a day.
        let reason = found.by_wear_day[0].jitter_mg_dl.reason.clone().unwrap();
        assert_eq!((reason.had, reason.needed), (Some(2.0), Some(3.0)));
    }

    /// A line has no jitter but what rounding may hide.
    #[test]
    fn a_line_has_none() {
        let t = trace(2, |i| 60.0 + 0.5 * i as f64);
        let value = level(&t, &[], &[], 0.9).unwrap().jitter_mg_dl.value.unwrap();
        assert!((value - LEAST_SQUARE.sqrt()).abs() < 1e-12, "{value}");
        assert!(level(&t, &[], &[], f64::NAN).is_err());
    }

    /// The last wear days have three times the noise of the first.
    #[test]
    fn a_sensor_that_wears_out_is_seen_by_day() {
        let mut random = Random::keyed(4, 0, 0);
        let noise: Vec<f64> = (0..10 * 288).map(|_| random.normal()).collect();
        let t = trace(10, |i| 120.0 + noise[i as usize] * if i < 5 * 288 { 2.0 } else { 6.0 });
        let meals: Vec<Meal> = (-1..10)
            .map(|d| Meal {
                time_ms: 1_741_046_400_000 + d * DAY_MS + 12 * 3_600_000,
                ..Meal::default()
            })
            .collect();
        let found = level(&t, &meals, &[], 0.95).unwrap();
        let of = |d: usize| found.by_wear_day[d].jitter_mg_dl.clone();
        assert_eq!(found.from, "after_meals");
        assert!(of(1).high < of(8).low, "{:?} {:?}", of(1), of(8));
        let ratio = of(8).value.unwrap() / of(1).value.unwrap();
        assert!((ratio - 3.0).abs() < 0.8, "{ratio}");
    }
}
