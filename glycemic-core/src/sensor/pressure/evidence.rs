//! What stands beside the readings: the diary, the clock and the meter.
//!
//! # Method
//! How far sensor and meter usually are apart is the median of their pairs, how much that varies
//! the median absolute deviation times 1.4826 (of a normal), at least 8 mg/dL; with fewer than
//! five pairs 0 and 15 mg/dL (common practice, no source).

use super::model::{ACTIVE, FED, RESTING};
use crate::align::pair::{How, pair};
use crate::error::Error;
use crate::meals::{Activity, Meal};
use crate::series::{Meter, Trace};
use crate::stats::quantile::median;

const MINUTE: i64 = 60_000;
/// Glucose may move fast for so long after a meal.
const AFTER_MEAL_MIN: i64 = 210;
/// And from so long before the diary says, since entries are late.
const BEFORE_MEAL_MIN: i64 = 20;
const AFTER_ACTIVITY_MIN: i64 = 120;
/// A meter reading this near is told.
const METER_NEAR_MIN: i64 = 15;
/// A meter reading that favours one side less than this is unclear.
const CLEAR: f64 = 3.0;
const FEW_PAIRS: usize = 5;
const LEAST_SD: f64 = 8.0;
const USUAL_SD: f64 = 15.0;

/// What a meter reading says about a dip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum Says {
    /// The meter was higher, as if the dip were pressure.
    Pressure,
    /// The meter was as low as the sensor.
    TrueLow,
    /// Neither clearly, or not taken inside the dip.
    Unclear,
}

impl Says {
    /// A stable word.
    pub fn name(self) -> &'static str {
        match self {
            Says::Pressure => "pressure",
            Says::TrueLow => "true_low",
            Says::Unclear => "unclear",
        }
    }
}

/// A meter reading at a dip.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct MeterNear {
    /// When, on the sensor's clock, UTC milliseconds.
    pub time_ms: i64,
    /// What it showed, mg/dL.
    pub glucose_mg_dl: f64,
    /// Minutes from the dip; 0 inside it.
    pub minutes_away: f64,
    /// What it says.
    pub says: Says,
}

/// Diary, clock and meter, ready to be asked.
pub(super) struct Evidence<'a> {
    trace: &'a Trace,
    meals_ms: Vec<i64>,
    activity: &'a [Activity],
    /// On the sensor's clock.
    meter: Vec<(i64, f64)>,
    bias: f64,
    variance: f64,
}

impl<'a> Evidence<'a> {
    pub(super) fn new(
        trace: &'a Trace,
        meals: &[Meal],
        activity: &'a [Activity],
        meter: Option<&Meter>,
        ahead_min: f64,
    ) -> Result<Self, Error> {
        let mut meals_ms: Vec<i64> = meals.iter().map(|m| m.time_ms).collect();
        meals_ms.sort_unstable();
        let ahead = (ahead_min * MINUTE as f64) as i64;
        let mut out = Evidence {
            trace,
            meals_ms,
            activity,
            meter: Vec::new(),
            bias: 0.0,
            variance: USUAL_SD * USUAL_SD,
        };
        let Some(meter) = meter else { return Ok(out) };
        let times = meter.times_ms().iter().map(|t| t.saturating_sub(ahead));
        out.meter = times.zip(meter.glucose_mg_dl().iter().copied()).collect();
        let pairs = pair(meter, trace, 5.0, How::Nearest, -ahead_min)?;
        let differences: Vec<f64> =
            pairs.measured_mg_dl.iter().zip(&pairs.reference_mg_dl).map(|(s, m)| s - m).collect();
        if differences.len() >= FEW_PAIRS {
            out.bias = median(&differences).unwrap_or(0.0);
            let off: Vec<f64> = differences.iter().map(|d| (d - out.bias).abs()).collect();
            let sd = (1.4826 * median(&off).unwrap_or(USUAL_SD)).max(LEAST_SD);
            out.variance = sd * sd;
        }
        Ok(out)
    }

    /// Weights of what glucose may be doing in a window.
    pub(super) fn states(&self, from_ms: i64, to_ms: i64) -> &'static [f64; 4] {
        let from = from_ms - AFTER_MEAL_MIN * MINUTE;
        let first = self.meals_ms.partition_point(|m| *m < from);
        let fed = self.meals_ms.get(first).is_some_and(|m| *m <= to_ms + BEFORE_MEAL_MIN * MINUTE);
        if fed {
            &FED
        } else if self.active(from_ms, to_ms) {
            &ACTIVE
        } else {
            &RESTING
        }
    }

    /// Whether activity was logged from two hours before `from_ms` to `to_ms`.
    pub(super) fn active(&self, from_ms: i64, to_ms: i64) -> bool {
        self.activity.iter().any(|a| {
            let minutes = if a.minutes.is_finite() { a.minutes } else { 0.0 };
            let end = a.start_ms.saturating_add((minutes * MINUTE as f64) as i64);
            a.start_ms < to_ms && end > from_ms - AFTER_ACTIVITY_MIN * MINUTE
        })
    }

    /// Whether an instant lies from 00:00 on and before 06:00 local time.
    pub(super) fn night(&self, at_ms: i64) -> Option<bool> {
        self.trace.clock().map(|c| c.minute_of_day(at_ms) < 360.0)
    }

    /// Minutes since the last logged meal, up to four hours.
    pub(super) fn after_meal_min(&self, at_ms: i64) -> Option<f64> {
        let before = self.meals_ms.partition_point(|m| *m <= at_ms);
        let last = self.meals_ms.get(before.checked_sub(1)?)?;
        let minutes = (at_ms - last) as f64 / MINUTE as f64;
        (minutes <= 240.0).then_some(minutes)
    }

    /// The meter reading nearest to the middle of a dip, and the factor that all readings on its
    /// plateau put on the odds of pressure.
    pub(super) fn meter(
        &self,
        (start, end): (i64, i64),
        plateau: (i64, i64),
        depth: f64,
        depth_sd: f64,
    ) -> (Option<MeterNear>, f64) {
        let near = METER_NEAR_MIN * MINUTE;
        let close = self.meter.iter().filter(|m| (start - near..=end + near).contains(&m.0));
        let mut log_factor = 0.0;
        let mut nearest: Option<MeterNear> = None;
        for &(time_ms, glucose_mg_dl) in close {
            let inside = (plateau.0..=plateau.1).contains(&time_ms);
            let log =
                if inside { self.log_ratio(time_ms, glucose_mg_dl, depth, depth_sd) } else { 0.0 };
            log_factor += log;
            let says = match log {
                l if l >= libm::log(CLEAR) => Says::Pressure,
                l if l <= -libm::log(CLEAR) => Says::TrueLow,
                _ => Says::Unclear,
            };
            let away = (start - time_ms).max(time_ms - end).max(0);
            let minutes_away = away as f64 / MINUTE as f64;
            let from_middle = |t: i64| (2 * t - start - end).abs();
            if nearest.is_none_or(|n| from_middle(time_ms) < from_middle(n.time_ms)) {
                nearest = Some(MeterNear { time_ms, glucose_mg_dl, minutes_away, says });
            }
        }
        (nearest, libm::exp(log_factor.clamp(-50.0, 50.0)))
    }

    /// Log of the ratio of two normals: the sensor with the depth put back, or as it reads.
    fn log_ratio(&self, at_ms: i64, meter: f64, depth: f64, depth_sd: f64) -> f64 {
        let part = self.trace.window(at_ms - 450_000, at_ms + 450_000);
        let places = part.times_ms().iter().zip(part.glucose_mg_dl());
        let Some((_, sensor)) = places.min_by_key(|p| (p.0 - at_ms).abs()) else { return 0.0 };
        let as_read = meter - (sensor - self.bias);
        let put_back = as_read - depth;
        let wide = self.variance + depth_sd * depth_sd;
        0.5 * (as_read * as_read / self.variance - put_back * put_back / wide
            + libm::log(self.variance / wide))
    }
}

/// Steepest fall in the first half of a dip and steepest rise in the second, over 10 minutes, in
/// mg/dL per minute.
pub(super) fn rates(part: &[f64], step_min: f64) -> (f64, f64) {
    let apart = ((10.0 / step_min).round() as usize).max(1);
    let changes: Vec<f64> = (apart..part.len())
        .map(|i| (part[i] - part[i - apart]) / (apart as f64 * step_min))
        .collect();
    let (first, second) = changes.split_at(changes.len().div_ceil(2));
    let fall = first.iter().fold(0.0, |a: f64, c| a.max(-c));
    let rise = second.iter().fold(0.0, |a: f64, c| a.max(*c));
    (fall, rise)
}
