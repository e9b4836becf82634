//! Levels: what a panel of the noise-free signals says, over a wear and in the long run.
//!
//! # Method
//! By minute. Limits are those of the scenario's unit (70 mg/dL or 3.9 mmol/L, and so on). What
//! the sensor reads is put on the grid it shows, since that is what gets classified; blood is not.
//! Quantiles: type 7 of Hyndman and Fan.
//!
//! # Source
//! Limits: Battelino T et al. *Diabetes Care* 42 (2019): 1593-1603. Hyndman RJ, Fan Y. *Am Stat*
//! 50 (1996): 361-365.

use super::diary::{Plan, plan};
use super::live::run;
use super::person::Ready;
use super::scenario::Scenario;
use super::sensor::Wear;
use crate::stats::{moments, quantile};
use crate::units::{HIGH, LOW, TIGHT, VERY_HIGH, VERY_LOW};

/// Levels of one signal; fields as the panel names them.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Levels {
    /// Mean, mg/dL.
    pub mean_mg_dl: f64,
    /// SD with n - 1, mg/dL.
    pub sd_mg_dl: f64,
    /// SD over mean, percent.
    pub cv_pct: f64,
    /// 5th percentile, mg/dL.
    pub p05_mg_dl: f64,
    /// 25th percentile, mg/dL.
    pub p25_mg_dl: f64,
    /// Median, mg/dL.
    pub median_mg_dl: f64,
    /// 75th percentile, mg/dL.
    pub p75_mg_dl: f64,
    /// 95th percentile, mg/dL.
    pub p95_mg_dl: f64,
    /// Share below 54 mg/dL, percent.
    pub very_low_pct: f64,
    /// Share from 54 to below 70 mg/dL, percent.
    pub low_pct: f64,
    /// Share from 70 to 180 mg/dL, percent.
    pub in_range_pct: f64,
    /// Share above 180 up to 250 mg/dL, percent.
    pub high_pct: f64,
    /// Share above 250 mg/dL, percent.
    pub very_high_pct: f64,
    /// Share below 70 mg/dL, percent.
    pub below_70_pct: f64,
    /// Share above 180 mg/dL, percent.
    pub above_180_pct: f64,
    /// Share from 70 to 140 mg/dL, percent.
    pub tight_range_pct: f64,
    /// Mean from 00:00 to 06:00 local time, mg/dL; `None` without a night.
    pub overnight_mg_dl: Option<f64>,
    /// Median over days of the median of the hour before breakfast, mg/dL; `None` without a
    /// morning.
    pub fasting_mg_dl: Option<f64>,
}

/// Levels as the sensor reads and in blood.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Both {
    /// As the sensor reads.
    pub sensor: Levels,
    /// In blood.
    pub blood: Levels,
}

/// Where the same behaviour leads over many days.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct LongRun {
    /// Days averaged.
    pub days: usize,
    /// Mean in blood, mg/dL.
    pub mean_blood_mg_dl: f64,
    /// Mean as this sensor reads: gain, offset, and the drift of half a wear; no wobble. With a
    /// change of sensor: each for its part of the wear, mg/dL.
    pub mean_sensor_mg_dl: f64,
    /// Share of blood in 70-180 mg/dL, percent.
    pub in_range_blood_pct: f64,
    /// Share as this sensor reads in 70-180 mg/dL, percent.
    pub in_range_sensor_pct: f64,
    /// Share of blood in 70-140 mg/dL, percent.
    pub tight_blood_pct: f64,
    /// Share as this sensor reads in 70-140 mg/dL, percent.
    pub tight_sensor_pct: f64,
    /// All levels.
    pub levels: Both,
}

pub(crate) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Levels of the noise-free sensor and of blood, by minute from the minute `from` on.
pub(crate) fn both(
    scenario: &Scenario,
    plan: &Plan,
    from: i64,
    sensor: &[f64],
    blood: &[f64],
) -> Both {
    let shown: Vec<f64> = sensor.iter().map(|&level| scenario.reported.on_grid(level)).collect();
    Both {
        sensor: levels(scenario, plan, from, &shown),
        blood: levels(scenario, plan, from, blood),
    }
}

fn levels(scenario: &Scenario, plan: &Plan, from: i64, values: &[f64]) -> Levels {
    let unit = scenario.reported.unit();
    let [very_low, low, tight, high, very_high] =
        [VERY_LOW, LOW, TIGHT, HIGH, VERY_HIGH].map(|limit| limit.in_source(unit));
    let pct = |inside: &dyn Fn(f64) -> bool| {
        let count = values.iter().filter(|&&value| inside(value)).count();
        100.0 * count as f64 / values.len().max(1) as f64
    };
    let sorted = quantile::sorted(values);
    // Nobody wears a sensor for less than a day, so there always are values.
    let at = |p: f64| quantile::type7(&sorted, p).unwrap_or_default();
    let (mean_mg_dl, sd_mg_dl) = (mean(values), moments::sd(values).unwrap_or_default());
    let mornings = plan.days.iter().filter_map(|day| {
        let (first, last) = (day.breakfast - 60 - from, day.breakfast - from);
        let hour = values.get(usize::try_from(first).ok()?..usize::try_from(last).ok()?)?;
        quantile::median(hour)
    });
    let mornings: Vec<f64> = mornings.collect();
    Levels {
        mean_mg_dl,
        sd_mg_dl,
        cv_pct: 100.0 * sd_mg_dl / mean_mg_dl,
        p05_mg_dl: at(0.05),
        p25_mg_dl: at(0.25),
        median_mg_dl: at(0.5),
        p75_mg_dl: at(0.75),
        p95_mg_dl: at(0.95),
        very_low_pct: pct(&|value| value < very_low),
        low_pct: pct(&|value| value >= very_low && value < low),
        in_range_pct: pct(&|value| value >= low && value <= high),
        high_pct: pct(&|value| value > high && value <= very_high),
        very_high_pct: pct(&|value| value > very_high),
        below_70_pct: pct(&|value| value < low),
        above_180_pct: pct(&|value| value > high),
        tight_range_pct: pct(&|value| value >= low && value <= tight),
        overnight_mg_dl: overnight(scenario, from, values),
        fasting_mg_dl: quantile::median(&mornings),
    }
}

fn overnight(scenario: &Scenario, from: i64, values: &[f64]) -> Option<f64> {
    let by_minute = values.iter().zip(from..);
    let night = by_minute.filter(|&(_, minute)| scenario.minute_of_day(minute) < 360);
    moments::mean(&night.map(|(&value, _)| value).collect::<Vec<f64>>())
}

/// Lives 100 days with the scenario's behaviour (the first two are dropped). Under 0.1 s.
///
/// # Example
/// ```
/// use glycemic_core::simulate::{Scenario, long_run};
/// let long = long_run(&Scenario::DEMO, 1);
/// // Gain 1.04, offset 3 mg/dL, and 0.4 mg/dL a day over half of 14 days.
/// let sensor = 1.04 * long.levels.blood.mean_mg_dl + 3.0 + 0.4 * 7.0;
/// assert!((long.mean_sensor_mg_dl - sensor).abs() < 0.05);
/// ```
pub fn long_run(scenario: &Scenario, seed: u64) -> LongRun {
    const DAYS: usize = 100;
    const DROPPED: usize = 2;
    let ready = Ready::new(&scenario.person);
    let (wear, last) = (Wear::of(scenario), 1440 * DAYS);
    let mut plan = plan(scenario, seed ^ 0x6c6f_6e67, DAYS, 0, last as i64);
    let lived = run(scenario, &ready, &mut plan, last, |_, _| ());
    let from = 1440 * DROPPED as i64;
    let blood = &lived.blood[1440 * DROPPED..];
    let tissue = lived.tissue[1440 * DROPPED..].iter().zip(from..);
    let sensor: Vec<f64> =
        tissue.map(|(&level, minute)| wear.piece(minute).settled(scenario, level)).collect();
    let levels = both(scenario, &plan, from, &sensor, blood);
    LongRun {
        days: DAYS - DROPPED,
        mean_blood_mg_dl: mean(blood),
        mean_sensor_mg_dl: mean(&sensor),
        in_range_blood_pct: levels.blood.in_range_pct,
        in_range_sensor_pct: levels.sensor.in_range_pct,
        tight_blood_pct: levels.blood.tight_range_pct,
        tight_sensor_pct: levels.sensor.tight_range_pct,
        levels,
    }
}
