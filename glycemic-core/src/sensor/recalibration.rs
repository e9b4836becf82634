//! Recalibration: would it help to set this sensor by this meter, and what becomes of the trace?
//!
//! # Method
//! For each sensor: nothing, an offset, a gain, both, or a drifting offset, chosen by predicting each
//! day from the others (`candidates`); leaving the sensor as it is wins ties. What the choice is worth
//! is told on left-out days too, the choice made anew without each of them, so it is not flattered by
//! its own pairs.
//!
//! # What it can't tell
//! Agreement with this meter is not agreement with blood. The meter's own bias, by default a published
//! range, is most of what isn't known of the offset in blood. Pairs seldom lie at very low or high
//! levels: a correction there is stretched beyond its data. A recalibrated trace is for looking back; the
//! device keeps showing what it shows, and its alarms stay as they are.
//!
//! # Units
//! mg/dL, days since insertion.
//!
//! # Source
//! Meter bias: Freckmann et al., J Diabetes Sci Technol 2012; 6:1060-1075, see
//! [`Blood`](crate::panel::Blood).

use super::by_day::{Spread, fit};
use super::candidates::{Correction, Kind, Tried, choose, fitted, left_out_days};
use super::differences::{Differences, LeftOut, Pairing, differences};
use super::worn::{Worn, sensors};
use crate::agreement::{summary, within};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::series::{Meter, Trace};
use crate::stats::distribution::normal_quantile;
use crate::stats::moments;

/// Pairs, and days with pairs, of a sensor under which it is left as it is.
pub const MIN_PAIRS: usize = 8;
/// See [`MIN_PAIRS`].
pub const MIN_DAYS: usize = 5;

const OFFSET: &str = "mean of sensor - meter, interval by leaving out days";
const IN_BLOOD: &str = "mean of sensor - meter, interval by leaving out days, with what is not known \
                        of the meter's bias";

/// Agreement with the meter.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Accuracy {
    /// Mean difference sensor - meter, mg/dL.
    pub bias_mg_dl: Estimate,
    /// Mean absolute relative difference, percent.
    pub mard_pct: Estimate,
    /// Pairs within 20 mg/dL (meter below 80 mg/dL) or 20 %, percent.
    pub within_20_pct: Estimate,
}

/// What was found for one sensor.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OfSensor {
    /// Which sensor.
    pub sensor: Worn,
    /// What to set; [`Kind::None`]: leave it.
    pub kind: Kind,
    /// By how much.
    pub correction: Correction,
    /// How each kind did on left-out days.
    pub tried: Vec<Tried>,
    /// When the sensor was read for the pairs used, UTC ms.
    pub pairs_ms: Vec<i64>,
    /// Mean difference sensor - meter, mg/dL.
    pub offset_mg_dl: Estimate,
    /// Its standard error over days, mg/dL.
    pub offset_se_mg_dl: Option<f64>,
    /// The same against blood: the interval holds what isn't known of the meter's bias.
    pub offset_in_blood_mg_dl: Estimate,
    /// Agreement as the sensor reads; `None` without pairs.
    pub before: Option<Accuracy>,
    /// Agreement to expect of new days when it is set, or left, by the same rule; from left-out days.
    pub after: Option<Accuracy>,
    /// Why it is left as it is, where it is.
    pub reason: Option<Reason>,
}

/// What was found for each sensor of a trace.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Recalibration {
    /// In order of wear.
    pub sensors: Vec<OfSensor>,
    /// Meter readings not used.
    pub left_out: LeftOut,
    /// How sensor and meter were paired.
    pub pairing: Pairing,
    /// Standard deviation taken for the meter's unknown bias, percent.
    pub meter_bias_sd_pct: f64,
}

/// Whether to set the sensors of `trace` by `meter`, and by how much.
///
/// `meter_bias_sd_pct`: standard deviation of what isn't known of the meter's bias, percent;
/// [`METER_BIAS_SD_PCT`](crate::panel::METER_BIAS_SD_PCT) where nothing better is
/// known. Nothing is changed here: see [`Recalibration::apply`].
///
/// # Errors
/// A level outside 0.5 to 0.999, a standard deviation outside 0 to 50 %, and as [`differences`].
///
/// # Example
/// ```
/// use glycemic_core::{sensor::{Kind, Pairing, recalibrate}, series::{Builder, Meter}, Unit};
/// // The sensor reads 15 mg/dL above a meter that shows 100, give or take 1.
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> = (0..10 * 288).map(|i| start + i * 300_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &vec![115.0; times.len()])?;
/// let pricked: Vec<i64> = (0..20).map(|k| times[k * 144 + 70]).collect();
/// let shown: Vec<f64> = (0..20).map(|k| 100.0 + f64::from(k % 3) - 1.0).collect();
/// let meter = Meter::new(&pricked, &shown, &vec![String::new(); 20], Unit::MgDl)?;
/// let found = recalibrate(&meter, &trace, Pairing::default(), 6.0, 0.95)?;
/// assert_eq!(found.sensors[0].kind, Kind::Offset);
/// let set = found.apply(&trace)?;
/// assert_eq!((set.trace.glucose_mg_dl()[0], set.clipped), (100.0, 0));
/// // Of blood itself less is known: 6 % of 100 mg/dL, twice.
/// assert!(found.sensors[0].offset_in_blood_mg_dl.low < Some(15.0 - 11.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn recalibrate(
    meter: &Meter,
    trace: &Trace,
    pairing: Pairing,
    meter_bias_sd_pct: f64,
    level: f64,
) -> Result<Recalibration, Error> {
    require_within("level", level, 0.5, 0.999)?;
    require_within("meter_bias_sd_pct", meter_bias_sd_pct, 0.0, 50.0)?;
    let all = differences(meter, trace, pairing)?;
    let mut found = Vec::new();
    for (place, sensor) in sensors(trace).into_iter().enumerate() {
        let own = all.filtered(|i| all.sensor[i] == place);
        let unknown = (pairing.lag_se_min, meter_bias_sd_pct);
        found.push(of_sensor(sensor, &own, unknown, level)?);
    }
    Ok(Recalibration { sensors: found, left_out: all.left_out, pairing, meter_bias_sd_pct })
}

fn of_sensor(
    sensor: Worn,
    pairs: &Differences,
    (lag_se_min, meter_bias_sd_pct): (f64, f64),
    level: f64,
) -> Result<OfSensor, Error> {
    let short = too_few(pairs);
    let (kind, tried) = if short.is_some() { (Kind::None, Vec::new()) } else { choose(pairs) };
    let correction = fitted(kind, pairs).unwrap_or_default();
    let before = accuracy(pairs, &pairs.measured_mg_dl, level)?;
    let after = match kind {
        Kind::None => before.clone(),
        // The choice too is made without the day.
        _ => match left_out_days(pairs, |rest| fitted(choose(rest).0, rest)) {
            Some(predicted) => accuracy(pairs, &predicted, level)?,
            None => None,
        },
    };
    let (offset_mg_dl, offset_se_mg_dl) = offset(pairs, lag_se_min, level);
    let blood = in_blood(&offset_mg_dl, pairs, meter_bias_sd_pct);
    let tie = || {
        let text = "no way of setting it predicts the meter on left-out days better by more than \
                    one and a half standard errors";
        Reason::plain("leave_it", text)
    };
    Ok(OfSensor {
        sensor,
        kind,
        correction,
        tried,
        pairs_ms: pairs.times_ms.clone(),
        offset_mg_dl,
        offset_se_mg_dl,
        offset_in_blood_mg_dl: blood,
        before,
        after,
        reason: short.or_else(|| (kind == Kind::None).then(tie)),
    })
}

fn too_few(pairs: &Differences) -> Option<Reason> {
    let (n, days) = (pairs.len(), pairs.days());
    if n < MIN_PAIRS {
        return Some(Reason::count("too_few_pairs", "pairs with the meter", n, MIN_PAIRS));
    }
    (days < MIN_DAYS).then(|| Reason::count("too_few_days", "days with pairs", days, MIN_DAYS))
}

fn accuracy(pairs: &Differences, measured: &[f64], level: f64) -> Result<Option<Accuracy>, Error> {
    if pairs.is_empty() {
        return Ok(None);
    }
    let (reference, day) = (&pairs.reference_mg_dl, Some(&pairs.day[..]));
    let s = summary(reference, measured, day, level)?;
    let w = within(reference, measured, 20.0, 20.0, 80.0, day, level)?;
    let share =
        Estimate::new(w.fraction, w.low, w.high, w.level, &w.method, w.n).scaled(100.0, 0.0);
    Ok(Some(Accuracy { bias_mg_dl: s.bias_mg_dl, mard_pct: s.mard_pct, within_20_pct: share }))
}

/// Mean difference and its standard error. A minute more of lag moves each difference by the rate.
fn offset(pairs: &Differences, lag_se_min: f64, level: f64) -> (Estimate, Option<f64>) {
    let days = pairs.days();
    let y = pairs.difference_mg_dl();
    match fit(&[&vec![1.0; y.len()]], &y, &pairs.day) {
        Some(fitted) if days >= MIN_DAYS && pairs.len() >= MIN_PAIRS => {
            let shared = lag_se_min * moments::mean(&pairs.rate_mg_dl_min).unwrap_or(0.0).abs();
            let se = fitted.spread(&[1.0]).map(|s: Spread| (s.se * s.se + shared * shared).sqrt());
            (fitted.widened(&[1.0], shared, level, OFFSET, MIN_DAYS), se)
        }
        _ => {
            let few = || Reason::count("too_few_days", "days with pairs", days, MIN_DAYS);
            let reason = too_few(pairs).unwrap_or_else(few);
            (Estimate::missing(level, OFFSET, days, MIN_DAYS, reason), None)
        }
    }
}

/// The same value; each arm in squares longer by what the meter's bias adds at the mean of the pairs.
fn in_blood(offset: &Estimate, pairs: &Differences, meter_bias_sd_pct: f64) -> Estimate {
    let level = moments::mean(&pairs.reference_mg_dl).unwrap_or(0.0);
    let meter = normal_quantile(0.5 + offset.level / 2.0) * meter_bias_sd_pct / 100.0 * level;
    let arm = |end: f64, value: f64| ((end - value) * (end - value) + meter * meter).sqrt();
    let end = |end: Option<f64>, sign: f64| {
        offset.value.zip(end).map(|(value, end)| value + sign * arm(end, value))
    };
    Estimate {
        low: end(offset.low, -1.0),
        high: end(offset.high, 1.0),
        method: IN_BLOOD.into(),
        ..offset.clone()
    }
}

#[cfg(test)]
#[path = "recalibration_tests.rs"]
mod tests;
