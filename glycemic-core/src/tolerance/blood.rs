//! Limits in blood, where a meter tells what the sensor makes of a rise.
//!
//! # Method
//! The gain is the mean of the sensor's rises over the mean of the meter's, of the same meals,
//! with the delta method's standard error. A fit in blood is the line over the gain; the gain's
//! error moves the whole line in proportion. The meter's own gain is taken as right.
//!
//! # Source
//! Variance of a ratio of means: Cochran WG, Sampling techniques, 3rd ed. (1977), chapter 6.

use super::fit::Fit;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::t_two_sided;
use crate::stats::line::Line;
use crate::stats::moments;

/// Pairs of rises needed for a gain.
pub const MIN_PAIRS: usize = 8;

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
        require_within("gain", gain, 0.3, 3.0)?;
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
