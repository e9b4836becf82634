//! The sensor as a first-order lag behind blood: its time constant, and the lag itself.
//!
//! # Method
//! tau dI/dt = B - I. At the meter's times blood is got back from the smoothed sensor as
//! I + tau dI/dt and set beside the meter with a constant and a gain (`matching`). The sum of
//! squares is a parabola in tau. Noise makes slopes larger, and tau smaller by that: what quiet
//! hours show of it is taken off the parabola (a corrected regression), and the least is the
//! estimate. The interval is Student's t, its error from leaving out each pair in turn, with
//! Satterthwaite's degrees of freedom: a few pairs with steep slopes decide, and the fit follows
//! them, so that residuals taken as they are make it too narrow. Tau is not negative. The meter's
//! clock is taken to be right to within what is given: with an unknown clock only the sum of the
//! two is seen, see [`lag`](super::lag()).
//!
//! # Source
//! First-order model and fit over tau: Fabris and Kovatchev (eds), Glucose Monitoring Devices
//! (2020), p. 244. Corrected regression: Fuller WA, Measurement Error Models (1987), section
//! 1.2, from memory. Pairs left out: MacKinnon JG, White H, J Econometrics 1985; 29: 305-325, from
//! memory.

use super::lag::MINUTE;
use super::matching::Matching;
use super::pair::spots;
use super::smoothed::Smoothed;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::series::{Meter, Trace};
use crate::stats::distribution::t_two_sided;

const METHOD: &str = "time constant of a first-order lag, corrected regression on the slope";
/// Smoothing, minutes either way.
const HALF_MIN: usize = 16;
const PAIRS: usize = 7;
/// Noise may explain at most this share of the squared slopes.
const MOST_NOISE: f64 = 0.7;

/// What a first-order lag of `tau_min` makes of straight lines through (`minutes`, `blood`).
///
/// n values each; the answer starts at the first value. Exact for straight lines.
///
/// # Errors
/// Different lengths, a value that is not finite, times that don't rise, or a tau outside
/// 0.01-600 minutes.
///
/// # Example
/// ```
/// # use glycemic_core::align::first_order_lag;
/// // Once settled, a lag of 8 minutes shows a ramp of 1 mg/dL a minute 8 mg/dL low.
/// let minutes: Vec<f64> = (0..61).map(|k| 5.0 * f64::from(k)).collect();
/// let sensor = first_order_lag(&minutes, &minutes, 8.0)?;
/// assert!((minutes[60] - sensor[60] - 8.0).abs() < 1e-9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn first_order_lag(minutes: &[f64], blood: &[f64], tau_min: f64) -> Result<Vec<f64>, Error> {
    require_same_len("blood", minutes.len(), blood.len())?;
    require_all_finite("minutes", minutes)?;
    require_all_finite("blood", blood)?;
    require_within("tau_min", tau_min, 0.01, 600.0)?;
    let mut out: Vec<f64> = blood.first().copied().into_iter().collect();
    for (k, (t, b)) in minutes.windows(2).zip(blood.windows(2)).enumerate() {
        let step = t[1] - t[0];
        if step <= 0.0 {
            return Err(Error::UnorderedTime { index: k + 1 });
        }
        let behind = tau_min * (b[1] - b[0]) / step;
        out.push(b[1] - behind + (out[k] - b[0] + behind) * libm::exp(-step / tau_min));
    }
    Ok(out)
}

/// Time constant of the sensor's lag behind blood, minutes, if the meter's clock is
/// `clock_ahead_min` ahead.
///
/// # Errors
/// A level outside 0.5-0.999, or a clock more than 14 hours ahead or behind.
pub fn delay(
    meter: &Meter,
    sensor: &Trace,
    clock_ahead_min: f64,
    level: f64,
) -> Result<Estimate, Error> {
    require_within("level", level, 0.5, 0.999)?;
    require_within("clock_ahead_min", clock_ahead_min, -840.0, 840.0)?;
    let ahead = (clock_ahead_min * MINUTE as f64).round() as i64;
    let smooth = Smoothed::joined(sensor).smooth(HALF_MIN, 0.0);
    let mut rows = Vec::new();
    for spot in spots(meter) {
        let at = spot.time_ms - ahead;
        if let (Some(level), Some(slope)) = (smooth.at(at), smooth.slope(at)) {
            rows.push((spot.glucose, level, slope));
        }
    }
    let n = rows.len();
    if n < PAIRS {
        let what = "meter readings within the smoothed sensor";
        let reason = Reason::count("too_few_pairs", what, n, PAIRS);
        return Ok(Estimate::missing(level, METHOD, n, PAIRS, reason));
    }
    let part = |f: &dyn Fn(&(f64, f64, f64)) -> f64| rows.iter().map(f).collect::<Vec<f64>>();
    let matching = Matching::new(&part(&|r| r.0));
    let (slopes, square) = matching.free(&part(&|r| r.2));
    let (rest, _) = matching.free(&part(&|r| r.1));
    let noise = (n - 2) as f64 * smooth.quiet_slope();
    if square <= 0.0 || noise > MOST_NOISE * square {
        let share = if square > 0.0 { (100.0 * noise / square).min(100.0) } else { 100.0 };
        let text = format!(
            "noise alone would give {share:.0} % of the movement seen at the {n} meter readings; \
             at most {:.0} % may be noise",
            100.0 * MOST_NOISE
        );
        let reason = Reason::plain("too_little_movement", &text);
        return Ok(Estimate::missing(level, METHOD, n, PAIRS, reason));
    }
    let free = square - noise;
    let tau = -slopes.iter().zip(&rest).map(|(p, u)| p * u).sum::<f64>() / free;
    let residuals: Vec<f64> = slopes.iter().zip(&rest).map(|(p, u)| u + tau * p).collect();
    let (variance, df) = matching.leave_one_out(&slopes, square, &residuals);
    let error = variance.sqrt() / free;
    let half = t_two_sided(level, df) * error;
    let ends = ((tau - half).max(0.0), (tau + half).max(0.0));
    Ok(Estimate::new(tau.max(0.0), ends.0, ends.1, level, METHOD, n).needing(PAIRS))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a sine of angular frequency w comes out 1/sqrt(1 + w² tau²) as large and
    /// later by atan(w tau)/w. Steps of a tenth of a minute: lines follow the sine to 1e-5.
    #[test]
    fn a_sine_has_its_size_and_phase() {
        let (w, tau) = (core::f64::consts::TAU / 120.0, 8.0);
        let minutes: Vec<f64> = (0..6001).map(|k| 0.1 * f64::from(k)).collect();
        let blood: Vec<f64> = minutes.iter().map(|t| libm::sin(w * t)).collect();
        let sensor = first_order_lag(&minutes, &blood, tau).unwrap();
        let size = 1.0 / (1.0 + w * w * tau * tau).sqrt();
        for k in [3000, 4321, 6000] {
            let settled = size * libm::sin(w * minutes[k] - libm::atan(w * tau));
            assert!((sensor[k] - settled).abs() < 1e-5, "{k}");
        }
    }

    /// Closed form: from a standstill a ramp of slope m is shown low by m tau (1 - exp(-t/tau)).
    #[test]
    fn a_ramp_is_late_by_tau_once_settled() {
        let minutes: Vec<f64> = (0..40).map(|k| 3.0 * f64::from(k)).collect();
        let blood: Vec<f64> = minutes.iter().map(|t| 100.0 + 2.0 * t).collect();
        let sensor = first_order_lag(&minutes, &blood, 10.0).unwrap();
        for (k, t) in minutes.iter().enumerate() {
            let low = 2.0 * 10.0 * (1.0 - libm::exp(-t / 10.0));
            assert!((blood[k] - sensor[k] - low).abs() < 1e-9);
        }
    }
}
