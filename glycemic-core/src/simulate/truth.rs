//! The right answers to a simulated trial.
//!
//! # Method
//! What belongs to one trial (bias, levels, timing, lows) is computed here from its noise-free
//! signals. What belongs to the person is averaged over many days or meals: see `levels`, `rises`
//! and `effects`.
//!
//! # Source
//! Low of at least 15 min below 70 mg/dL: Battelino T et al. *Diabetes Care* 42 (2019): 1593-1603.

use super::diary::{Confidence, Eaten, Plan};
use super::effects::DayEffects;
use super::levels::{Both, LongRun, both, mean};
use super::pressure::PressureLow;
use super::readings::DropOut;
use super::rises::{Limits, WalkEffect};
use super::scenario::Scenario;
use super::sensor::{START_UP_MIN, Wear};
use crate::units::LOW;

/// Minutes below 70 mg/dL from which on it counts as a low.
const LOW_MIN: usize = 15;

/// A meal with what was really eaten.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct TrueMeal {
    /// True start, epoch ms UTC.
    pub time_ms: i64,
    /// Start in the diary, epoch ms UTC; `None` without an entry.
    pub logged_time_ms: Option<i64>,
    /// Net carbohydrate in the diary, g; `None` without grams or without an entry.
    pub logged_net_g: Option<f64>,
    /// Net carbohydrate eaten, g.
    pub eaten_net_g: f64,
    /// Whether the diary has the meal.
    pub in_diary: bool,
}

/// A meal eaten out, with what the diary lacks.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct EatenOut {
    /// Start, epoch ms UTC.
    pub time_ms: i64,
    /// Net carbohydrate in the diary, g.
    pub logged_net_g: f64,
    /// Hidden net carbohydrate, g (of what was eaten, beyond the usual diary error).
    pub hidden_g: f64,
}

/// A portion that was cut because the rise after the main meal before it was over the target.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct AdaptiveCut {
    /// Start, epoch ms UTC.
    pub time_ms: i64,
    /// Net carbohydrate before the cut, g.
    pub planned_net_g: f64,
    /// Net carbohydrate after it, as the diary has it where it has grams, g.
    pub net_g: f64,
    /// The rise on the sensor, without noise, that led to it, mg/dL.
    pub rise_before_mg_dl: f64,
}

/// Blood below 70 mg/dL (3.9 mmol/L where that is the unit) for at least 15 min.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct TrueLow {
    /// First minute below, epoch ms UTC.
    pub start_ms: i64,
    /// First minute no longer below, epoch ms UTC.
    pub end_ms: i64,
    /// Lowest blood in it, mg/dL.
    pub nadir_mg_dl: f64,
}

/// When the second sensor took over, and how far either is from blood.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct TrueSwap {
    /// Removal of the first and insertion of the second, epoch ms UTC.
    pub time_ms: i64,
    /// First reading the second could give, epoch ms UTC.
    pub first_reading_ms: i64,
    /// Whether the first sensor failed.
    pub failed: bool,
    /// Gain of the second.
    pub gain: f64,
    /// Offset of the second, mg/dL.
    pub offset_mg_dl: f64,
    /// Mean of sensor minus blood while the first was worn, mg/dL.
    pub mean_bias_before_mg_dl: f64,
    /// The same while the second was worn, mg/dL.
    pub mean_bias_after_mg_dl: f64,
}

/// The right answers. "Sensor" means the noise-free sensor: lag, gain, offset, drift and wobble,
/// but no noise, pressure lows or gaps; and no rounding but in `levels` and the shares.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Truth {
    /// Time constant of the sensor's lag, min.
    pub tau_min: f64,
    /// Shift at which the lagged signal (no gain, offset, drift or wobble) and blood differ least
    /// (RMS, grid of 0.5 min), min.
    pub best_shift_min: f64,
    /// Minutes the meter's clock is ahead.
    pub meter_clock_ahead_min: f64,
    /// The meter's own bias against blood, with this trial's lot of strips, percent.
    pub meter_bias_pct: f64,
    /// The sum that sensor and meter alone can reveal: best shift less clock ahead, min.
    pub lag_minus_clock_min: f64,
    /// Mean of sensor minus blood over the wear, mg/dL.
    pub mean_bias_mg_dl: f64,
    /// The same without the first 24 h, mg/dL.
    pub mean_bias_after_first_day_mg_dl: f64,
    /// Mean of the sensor over the wear, mg/dL.
    pub mean_sensor_mg_dl: f64,
    /// Mean of blood over the wear, mg/dL.
    pub mean_blood_mg_dl: f64,
    /// Drift of the sensor, mg/dL per day since insertion.
    pub drift_mg_dl_day: f64,
    /// Levels over the wear.
    pub levels: Both,
    /// Share of the wear with the sensor in 70-180 mg/dL, percent.
    pub in_range_sensor_pct: f64,
    /// Share of the wear with blood in 70-180 mg/dL, percent.
    pub in_range_blood_pct: f64,
    /// Share of the wear with the sensor in 70-140 mg/dL, percent.
    pub tight_sensor_pct: f64,
    /// Share of the wear with blood in 70-140 mg/dL, percent.
    pub tight_blood_pct: f64,
    /// Lows of blood.
    pub true_lows: Vec<TrueLow>,
    /// Pressure lows.
    pub pressure_lows: Vec<PressureLow>,
    /// Drop-outs.
    pub drop_outs: Vec<DropOut>,
    /// The change of sensor, if there was one.
    pub swap: Option<TrueSwap>,
    /// Portions cut on the way.
    pub adaptive_cuts: Vec<AdaptiveCut>,
    /// Meals eaten out, with their hidden carbohydrate.
    pub eaten_out: Vec<EatenOut>,
    /// Every meal eaten, also those missing from the diary.
    pub meals: Vec<TrueMeal>,
    /// Grams that meet the target, where asked for.
    pub limits: Option<Limits>,
    /// Effect of a walk at 40 g, where asked for.
    pub walk: Option<WalkEffect>,
    /// Effects of special days at 40 g, where asked for.
    pub day_effects: Option<DayEffects>,
    /// Long-run levels, where asked for.
    pub long_run: Option<LongRun>,
}

/// What happened in a trial, by minute of wear, mg/dL.
pub(crate) struct Happened<'a> {
    pub(crate) wear: &'a Wear,
    pub(crate) plan: &'a Plan,
    /// The noise-free sensor.
    pub(crate) clean: &'a [f64],
    /// The same with neither gain, offset, drift nor wobble: only the lag.
    pub(crate) tissue: &'a [f64],
    pub(crate) blood: &'a [f64],
    pub(crate) meter_bias_pct: f64,
}

/// The truths of one trial.
pub(crate) fn of_trial(
    scenario: &Scenario,
    happened: &Happened<'_>,
    pressure_lows: Vec<PressureLow>,
    drop_outs: Vec<DropOut>,
) -> Truth {
    let (clean, blood, plan) = (happened.clean, happened.blood, happened.plan);
    let day = 1440.min(clean.len());
    let shift = best_shift(happened.tissue, blood);
    let ahead = scenario.meter.clock_ahead_min as f64;
    let levels = both(scenario, plan, happened.wear.start, clean, blood);
    Truth {
        tau_min: scenario.sensor.tau_min,
        best_shift_min: shift,
        meter_clock_ahead_min: ahead,
        meter_bias_pct: happened.meter_bias_pct,
        lag_minus_clock_min: shift - ahead,
        mean_bias_mg_dl: mean(clean) - mean(blood),
        mean_bias_after_first_day_mg_dl: mean(&clean[day..]) - mean(&blood[day..]),
        mean_sensor_mg_dl: mean(clean),
        mean_blood_mg_dl: mean(blood),
        drift_mg_dl_day: scenario.sensor.drift_mg_dl_day,
        levels,
        in_range_sensor_pct: levels.sensor.in_range_pct,
        in_range_blood_pct: levels.blood.in_range_pct,
        tight_sensor_pct: levels.sensor.tight_range_pct,
        tight_blood_pct: levels.blood.tight_range_pct,
        true_lows: true_lows(scenario, happened.wear.start, blood),
        pressure_lows,
        drop_outs,
        swap: true_swap(scenario, happened),
        adaptive_cuts: plan.meals.iter().filter_map(|meal| cut(scenario, meal)).collect(),
        eaten_out: plan.meals.iter().filter_map(|meal| eaten_out(scenario, meal)).collect(),
        meals: plan.meals.iter().map(|meal| true_meal(scenario, meal)).collect(),
        limits: None,
        walk: None,
        day_effects: None,
        long_run: None,
    }
}

fn true_meal(scenario: &Scenario, meal: &Eaten) -> TrueMeal {
    let written = meal.in_diary && meal.confidence != Confidence::Unknown;
    TrueMeal {
        time_ms: scenario.time_ms(meal.start),
        logged_time_ms: meal.in_diary.then(|| scenario.time_ms(meal.logged_start)),
        logged_net_g: written.then_some(meal.net_g),
        eaten_net_g: meal.true_g(),
        in_diary: meal.in_diary,
    }
}

fn eaten_out(scenario: &Scenario, meal: &Eaten) -> Option<EatenOut> {
    meal.hidden.map(|hidden| EatenOut {
        time_ms: scenario.time_ms(meal.start),
        logged_net_g: meal.net_g,
        hidden_g: meal.net_g * meal.error * hidden,
    })
}

fn cut(scenario: &Scenario, meal: &Eaten) -> Option<AdaptiveCut> {
    meal.cut.map(|cut| AdaptiveCut {
        time_ms: scenario.time_ms(meal.start),
        planned_net_g: cut.planned_net_g,
        net_g: meal.net_g,
        rise_before_mg_dl: cut.rise_mg_dl,
    })
}

fn true_swap(scenario: &Scenario, happened: &Happened<'_>) -> Option<TrueSwap> {
    let second = happened.wear.second?;
    let bias = |from: usize, to: usize| {
        let sensor = happened.clean.get(from..to).unwrap_or(&[]);
        mean(sensor) - mean(happened.blood.get(from..to).unwrap_or(&[]))
    };
    let time_ms = scenario.time_ms(happened.wear.start + second.from as i64);
    Some(TrueSwap {
        time_ms,
        first_reading_ms: time_ms + 60_000 * START_UP_MIN as i64,
        failed: happened.wear.failed,
        gain: second.gain,
        offset_mg_dl: second.offset_mg_dl,
        mean_bias_before_mg_dl: bias(0, second.from),
        mean_bias_after_mg_dl: bias(second.from, second.to),
    })
}

/// Runs of at least 15 min of blood below the limit, `start` being the minute of the first value.
fn true_lows(scenario: &Scenario, start: i64, blood: &[f64]) -> Vec<TrueLow> {
    let limit = LOW.in_source(scenario.reported.unit());
    let (mut lows, mut from) = (Vec::new(), 0);
    for run in blood.chunk_by(|one, next| (*one < limit) == (*next < limit)) {
        let nadir_mg_dl = run.iter().copied().fold(f64::INFINITY, f64::min);
        let to = from + run.len();
        if nadir_mg_dl < limit && run.len() >= LOW_MIN {
            let at = |minute: usize| scenario.time_ms(start + minute as i64);
            lows.push(TrueLow { start_ms: at(from), end_ms: at(to), nadir_mg_dl });
        }
        from = to;
    }
    lows
}

/// The shift of 0 to 30 min at which the sensor, read that much later, differs least from blood.
fn best_shift(sensor: &[f64], blood: &[f64]) -> f64 {
    let pairs = sensor.len().min(blood.len()).saturating_sub(31);
    let error = |halves: usize| {
        let (whole, odd) = (halves / 2, halves % 2);
        let differences = (0..pairs).map(|minute| {
            let later = 0.5 * (sensor[minute + whole] + sensor[minute + whole + odd]);
            (later - blood[minute]) * (later - blood[minute])
        });
        differences.sum::<f64>()
    };
    let mut best = (0, f64::INFINITY);
    for halves in 0..=60 {
        let found = error(halves);
        if found < best.1 {
            best = (halves, found);
        }
    }
    0.5 * best.0 as f64
}
