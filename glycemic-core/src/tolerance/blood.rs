//! Limits in blood, where a meter tells what the sensor makes of a rise.
//!
//! # Method
//! The gain is the mean of the sensor's rises over the mean of the meter's, of the same meals,
//! with the delta method's standard error. A fit in blood is the line over the gain; the gain's
//! error moves the whole line in proportion. The meter's own gain is taken as right unless what
//! isn't known of its bias is stated: then that is a further error of the gain.
//!
//! The rises of a gain are changes between two pairs of readings about a meal
//! ([`changes`](crate::agreement::changes()), pairs read at the sensor's lag), not whole rises: a gain
//! is what they share.
//!
//! # Source
//! Variance of a ratio of means: Cochran WG, Sampling techniques, 3rd ed. (1977), chapter 6.

use super::fit::{Fit, Options};
use super::model::{fit_meals, points};
use crate::agreement::changes::{ChangeOptions, Changes, changes};
use crate::align::{How, PairOptions, WearEvent, lag, pair_with};
use crate::clock::DAY_MS;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::series::{Meter, Trace};
use crate::stats::distribution::t_two_sided;
use crate::stats::line::Line;
use crate::stats::moments;
use crate::table::Table;

/// Pairs of rises needed for a gain.
pub const MIN_PAIRS: usize = 8;
/// Gains of a sensor that is taken at its word.
const GAINS: std::ops::RangeInclusive<f64> = 0.3..=3.0;

/// The sensor's rise for each mg/dL of rise in blood, and its standard error, from n meals whose
/// rise was read by both.
///
/// Too few pairs, or meter rises that are 0 on average, are an answer with a reason and no error.
///
/// # Errors
/// Different lengths, values that are not finite, or a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// # use glycemic_core::tolerance::blood::gain;
/// let meter = [20.0, 30.0, 40.0, 50.0, 20.0, 30.0, 40.0, 50.0];
/// let sensor = meter.map(|m| 1.1 * m);
/// let (estimate, error) = gain(&sensor, &meter, 0.95)?;
/// assert!((estimate.value.unwrap() - 1.1).abs() < 1e-12);
/// assert!(error.unwrap() < 1e-9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn gain(
    sensor_mg_dl: &[f64],
    meter_mg_dl: &[f64],
    level: f64,
) -> Result<(Estimate, Option<f64>), Error> {
    require_same_len("meter_mg_dl", sensor_mg_dl.len(), meter_mg_dl.len())?;
    require_all_finite("sensor_mg_dl", sensor_mg_dl)?;
    require_all_finite("meter_mg_dl", meter_mg_dl)?;
    require_within("level", level, 0.5, 0.999)?;
    const METHOD: &str = "ratio of mean rises, delta method, Student's t";
    let n = meter_mg_dl.len();
    let missing = |reason| Ok((Estimate::missing(level, METHOD, n, MIN_PAIRS, reason), None));
    if n < MIN_PAIRS {
        let what = "meals whose rise was read by the meter too";
        return missing(Reason::count("too_few_pairs", what, n, MIN_PAIRS));
    }
    let mean = moments::mean(meter_mg_dl).unwrap_or(0.0);
    let ratio = moments::mean(sensor_mg_dl).unwrap_or(0.0) / mean;
    let off: Vec<f64> = sensor_mg_dl.iter().zip(meter_mg_dl).map(|(s, m)| s - ratio * m).collect();
    let squares: f64 = off.iter().map(|o| o * o).sum();
    let error = (squares / ((n - 1) * n) as f64).sqrt() / mean;
    if mean <= 0.0 || !(ratio > 0.0 && error.is_finite()) {
        let text = "the rises read by meter are not above 0 on average";
        return missing(Reason::plain("no_rise_by_meter", text));
    }
    let half = t_two_sided(level, n as f64 - 1.0) * error;
    let estimate = Estimate::new(ratio, ratio - half, ratio + half, level, METHOD, n);
    Ok((estimate.needing(MIN_PAIRS), Some(error)))
}

/// Changes over meals (starts in UTC milliseconds) by both devices, the sensor read `lag_min` later:
/// what [`lag`](crate::align::lag()) says, or 0 where it can't be told. `day` gives the local day of
/// an instant.
///
/// # Errors
/// As [`pair_with`] and [`changes()`].
pub fn changes_in_time(
    meter: &Meter,
    sensor: &Trace,
    events: &[WearEvent],
    meals_ms: &[i64],
    day: impl Fn(i64) -> i64,
    lag_min: f64,
    level: f64,
) -> Result<Changes, Error> {
    let rules =
        PairOptions { window_min: 10.0, how: How::Interpolate, lag_min, ..PairOptions::default() };
    let pairs = pair_with(meter, sensor, events, &rules)?;
    let days: Vec<i64> = pairs.times_ms.iter().map(|t| day(*t)).collect();
    let asked = ChangeOptions { level, ..ChangeOptions::default() };
    let (read, shown) = (&pairs.reference_mg_dl, &pairs.measured_mg_dl);
    changes(&pairs.times_ms, read, shown, &days, meals_ms, &asked)
}

/// The [`gain`] by changes over meals, its error widened by what isn't known of the meter's bias
/// (`meter_bias_sd_pct`, see [`METER_BIAS_SD_PCT`](crate::panel::METER_BIAS_SD_PCT)).
///
/// # Errors
/// A level outside 0.5 to 0.999, a bias outside 0 to 50 percent.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::changes::{ChangeOptions, changes};
/// # use glycemic_core::tolerance::blood::gain_by_changes;
/// // Eight meals, a reading before and one an hour after: the sensor rises by a tenth more.
/// let minute = 60_000;
/// let meals: Vec<i64> = (0..8).map(|d| d * 1440 * minute).collect();
/// let times: Vec<i64> = meals.iter().flat_map(|t| [*t, t + 60 * minute]).collect();
/// let meter: Vec<f64> = (0..16).map(|i| if i % 2 == 0 { 100.0 } else { 140.0 + i as f64 }).collect();
/// let sensor: Vec<f64> = meter.iter().map(|m| 1.1 * m).collect();
/// let days: Vec<i64> = (0..16).map(|i| i / 2).collect();
/// let found = changes(&times, &meter, &sensor, &days, &meals, &ChangeOptions::default())?;
/// let (gain, error) = gain_by_changes(&found, 4.0, 0.95)?;
/// assert!((gain.value.unwrap() - 1.1).abs() < 1e-12);
/// // Exact readings: what is left is 4 % of the gain.
/// assert!((error.unwrap() - 0.044).abs() < 1e-9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn gain_by_changes(
    changes: &Changes,
    meter_bias_sd_pct: f64,
    level: f64,
) -> Result<(Estimate, Option<f64>), Error> {
    require_within("meter_bias_sd_pct", meter_bias_sd_pct, 0.0, 50.0)?;
    let sensor: Vec<f64> = changes.rows.iter().map(|c| c.sensor_mg_dl).collect();
    let meter: Vec<f64> = changes.rows.iter().map(|c| c.meter_mg_dl).collect();
    let (mut found, error) = gain(&sensor, &meter, level)?;
    let (Some(value), Some(own)) = (found.value, error) else { return Ok((found, None)) };
    let of_meter = value * meter_bias_sd_pct / 100.0;
    let both = (own * own + of_meter * of_meter).sqrt();
    let half = t_two_sided(level, found.n as f64 - 1.0) * both;
    (found.low, found.high) = (Some(value - half), Some(value + half));
    found.method = "ratio of mean rises, delta method, the meter's bias added".into();
    Ok((found, Some(both)))
}

/// Limits for the rise in blood.
#[derive(Clone, Debug, PartialEq)]
pub struct InBlood {
    /// The sensor's rise for each mg/dL of the meter's.
    pub gain: Estimate,
    /// Safe grams.
    pub safe_g: Estimate,
    /// Mean limit: about half of such meals go over.
    pub limit_g: Estimate,
}

/// The limits of a fit in blood, by changes over meals; where there is no gain they have its reason.
///
/// # Errors
/// As [`gain_by_changes`], and a probability outside 0.5 to 0.99.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::changes::{ChangeOptions, changes};
/// # use glycemic_core::tolerance::{Options, blood::limits_in_blood, fit};
/// let grams: Vec<f64> = (0..20).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
/// let rises: Vec<f64> = grams.iter().map(|g| 1.2 * g).collect();
/// let fit = fit(&grams, &rises, Options::new(36.0))?;
/// let none = changes(&[], &[], &[], &[], &[], &ChangeOptions::default())?;
/// let found = limits_in_blood(&fit, &none, 0.8, 6.0)?;
/// assert_eq!(found.limit_g.reason.unwrap().code, "too_few_pairs");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn limits_in_blood(
    fit: &Fit,
    changes: &Changes,
    probability: f64,
    meter_bias_sd_pct: f64,
) -> Result<InBlood, Error> {
    let level = fit.options.level;
    let (gain, error) = gain_by_changes(changes, meter_bias_sd_pct, level)?;
    // Checks the probability where there is no gain, too.
    let as_read = fit.safe_g(probability)?;
    let reason = match (gain.value, error) {
        (Some(value), Some(error)) if GAINS.contains(&value) => {
            let found = fit.in_blood(value, error)?;
            return Ok(InBlood {
                gain,
                safe_g: found.safe_g(probability)?,
                limit_g: found.limit_g,
            });
        }
        (Some(value), _) => {
            let text = format!(
                "the sensor's rises are {value:.1} times the meter's; something other than a gain is wrong"
            );
            Some(Reason::plain("gain_out_of_range", &text))
        }
        _ => gain.reason.clone(),
    };
    let reason = reason.unwrap_or_else(|| Reason::plain("no_gain", "the gain can't be told"));
    let none = Estimate::missing(level, &as_read.method, gain.n, MIN_PAIRS, reason);
    Ok(InBlood { gain, safe_g: none.clone(), limit_g: none })
}

/// The limits in blood of a diary's responses for a target of `rise_mg_dl`, mg/dL of rise in blood,
/// fitted over the person's own mix of kinds; days are those of the sensor's clock, UTC without one.
///
/// # Errors
/// As [`limits_in_blood`], [`changes_in_time`] and [`fit_meals`].
pub fn limits_of_responses(
    r: &Responses,
    meter: &Meter,
    sensor: &Trace,
    rise_mg_dl: f64,
    probability: f64,
    meter_bias_sd_pct: f64,
    level: f64,
) -> Result<InBlood, Error> {
    let p = points(r, |_| None);
    let options = p.told(Options { level, ..Options::new(rise_mg_dl) });
    let fit = fit_meals(&p.meals, &p.mix, options)?.fit;
    let meals: Vec<i64> = r.meals.iter().map(|m| m.time_ms).collect();
    let day = |ms: i64| sensor.clock().map_or(ms.div_euclid(DAY_MS), |c| c.day(ms));
    let lag_min = lag(meter, sensor, level)?.value.unwrap_or(0.0);
    let changes = changes_in_time(meter, sensor, &[], &meals, day, lag_min, level)?;
    limits_in_blood(&fit, &changes, probability, meter_bias_sd_pct)
}

impl InBlood {
    /// Rows `gain`, `safe_g` and `limit_g`, columns as of [`Table::of_estimates`].
    ///
    /// # Errors
    /// None that limits can cause.
    pub fn to_table(&self) -> Result<Table, Error> {
        let (safe, limit) = (&self.safe_g, &self.limit_g);
        Table::of_estimates(&[
            ("gain", "1", &self.gain),
            ("safe_g", "g", safe),
            ("limit_g", "g", limit),
        ])
    }
}

impl Fit {
    /// The same fit in blood, for a sensor that shows `gain` times a rise in blood (`gain_se` its
    /// standard error): its answers are for the same target, as a rise in blood.
    ///
    /// # Errors
    /// A gain outside 0.3 to 3, or a negative standard error.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::tolerance::{Options, fit};
    /// let grams: Vec<f64> = (0..20).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
    /// let rises: Vec<f64> = grams.iter().map(|g| 1.2 * g).collect();
    /// let fit = fit(&grams, &rises, Options::new(36.0))?;
    /// assert!((fit.limit_g.value.unwrap() - 30.0).abs() < 1e-6);
    /// // A sensor that shows a fifth too much: in blood 36 g are needed for 36 mg/dL.
    /// assert!((fit.in_blood(1.2, 0.05)?.limit_g.value.unwrap() - 36.0).abs() < 1e-6);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn in_blood(&self, gain: f64, gain_se: f64) -> Result<Fit, Error> {
        require_within("gain", gain, *GAINS.start(), *GAINS.end())?;
        require_within("gain_se", gain_se, 0.0, 10.0)?;
        let mut out = self.clone();
        let Some(line) = &self.line else { return Ok(out) };
        let down = 1.0 / gain;
        let relative = gain_se * down * gain_se * down;
        let at = [line.intercept, line.slope];
        let mut cov = line.cov_hc3;
        for i in 0..2 {
            for j in 0..2 {
                // The error of the gain moves the whole line, in proportion.
                cov[i][j] = (cov[i][j] + relative * at[i] * at[j]) * down * down;
            }
        }
        out.rises.iter_mut().for_each(|r| *r *= down);
        out.options.noise_sd_mg_dl *= down;
        out.options.noise_shift.iter_mut().for_each(|s| *s *= down);
        let moved = Line {
            intercept: line.intercept * down,
            slope: line.slope * down,
            residual_sd: line.residual_sd * down,
            cov_model: cov,
            cov_hc3: cov,
            residuals: line.residuals.iter().map(|r| r * down).collect(),
            ..line.clone()
        };
        let spread = self.spread.scaled(down);
        out.set_line(moved, spread, self.free, "the line over the sensor's gain");
        Ok(out)
    }
}
