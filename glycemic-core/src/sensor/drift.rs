//! Drift: by how much a sensor moves away from the meter with each day of wear.
//!
//! # Method
//! Least squares of sensor less meter on days since insertion, for each sensor. Differences of a day
//! belong together: the interval comes from leaving out days (`by_day`). A drift in proportion is the
//! same with differences in percent of the meter. Without a meter there is only the sensor's own fasting
//! level from morning to morning; that the person's fasting glucose changed can't be excluded then.
//!
//! # Units
//! mg/dL per day, percent of the level per day.

use super::by_day::fit;
use super::differences::{Differences, Pairing, differences};
use super::worn::{Worn, sensors};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::panel::local::fasting_by_day;
use crate::series::{Meter, Trace};

/// Days with pairs, and days between the first and the last of them, under which a drift isn't told.
const MIN_DAYS: usize = 5;
const MIN_SPAN_DAYS: f64 = 4.0;

const AGAINST_METER: &str =
    "straight line of sensor - meter on days of wear, least squares, interval by leaving out days";
const IN_PERCENT: &str = "straight line of sensor - meter in percent of the meter on days of wear, \
                          least squares, interval by leaving out days";
const FASTING: &str = "straight line of the sensor's fasting level on days of wear, least squares, \
                       interval by leaving out days; no meter: could be the person";

/// The drift of one sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    /// Which sensor.
    pub sensor: Worn,
    /// Pairs used.
    pub pairs: usize,
    /// Change of sensor less meter, mg/dL per day.
    pub mg_dl_day: Estimate,
    /// Change of sensor less meter, percent of the meter per day.
    pub pct_day: Estimate,
}

/// The drift of each sensor of `trace` against `meter`.
///
/// An estimate without an interval, or without a value, has a reason. Pairs of the first 24 hours are
/// left out unless `pairing` says otherwise: a first day that wobbles is no drift.
///
/// # Errors
/// A level outside 0.5 to 0.999, and as [`differences`].
///
/// # Example
/// ```
/// use glycemic_core::{sensor::{Pairing, drift}, series::{Builder, Meter}, Unit};
/// // A sensor that gains 1 mg/dL a day on a meter that shows 100.
/// let start = 1_741_046_400_000;
/// let times: Vec<i64> = (0..10 * 288).map(|i| start + i * 300_000).collect();
/// let sensor: Vec<f64> = (0..10 * 288).map(|i| 100.0 + f64::from(i / 288)).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &sensor)?;
/// let pricked: Vec<i64> = (0..10).map(|d| times[d * 288 + 100]).collect();
/// let meter = Meter::new(&pricked, &[100.0; 10], &vec![String::new(); 10], Unit::MgDl)?;
/// let found = drift(&meter, &trace, Pairing::default(), 0.95)?;
/// assert!((found[0].mg_dl_day.value.unwrap() - 1.0).abs() < 1e-9);
/// assert_eq!(found[0].mg_dl_day.n, 9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn drift(
    meter: &Meter,
    trace: &Trace,
    pairing: Pairing,
    level: f64,
) -> Result<Vec<Drift>, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let all = differences(meter, trace, pairing)?;
    let of = |(place, sensor): (usize, Worn)| {
        let own = all.filtered(|i| all.sensor[i] == place);
        let slope =
            |y: &[f64], method| sloped(&own.wear_days, y, &own.day, own.span_days(), level, method);
        Drift {
            sensor,
            pairs: own.len(),
            mg_dl_day: slope(&own.difference_mg_dl(), AGAINST_METER),
            pct_day: slope(&own.difference_pct(), IN_PERCENT),
        }
    };
    Ok(sensors(trace).into_iter().enumerate().map(of).collect())
}

/// Change of the sensor's own fasting level (see [`fasting_by_day`]), mg/dL per day, for each sensor.
///
/// This is no drift against blood: the person may have changed. Needs a local clock. `meals_ms`: when
/// meals began, UTC ms; may be empty.
///
/// # Errors
/// A level outside 0.5 to 0.999.
pub fn fasting_drift(
    trace: &Trace,
    meals_ms: &[i64],
    level: f64,
) -> Result<Vec<(Worn, Estimate)>, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let of = |sensor: Worn| {
        let estimate = match fasting_by_day(trace.window(sensor.first_ms, sensor.last_ms), meals_ms)
        {
            Err(reason) => Estimate::missing(level, FASTING, 0, MIN_DAYS, reason),
            Ok(mornings) => {
                let (day, y): (Vec<i64>, Vec<f64>) = mornings.into_iter().unzip();
                let first = day.first().copied().unwrap_or(0);
                let x: Vec<f64> = day.iter().map(|d| (d - first) as f64).collect();
                let span = x.last().copied().unwrap_or(0.0);
                sloped(&x, &y, &day, span, level, FASTING)
            }
        };
        (sensor, estimate)
    };
    Ok(sensors(trace).into_iter().map(of).collect())
}

/// Slope of `y` on `x`; `span` in days.
fn sloped(x: &[f64], y: &[f64], day: &[i64], span: f64, level: f64, method: &str) -> Estimate {
    let days = count_days(day);
    let missing = |reason| Estimate::missing(level, method, days, MIN_DAYS, reason);
    if days < MIN_DAYS {
        return missing(Reason::count("too_few_days", "days with values", days, MIN_DAYS));
    }
    if span < MIN_SPAN_DAYS {
        let text = format!("needs values over at least {MIN_SPAN_DAYS} days, has {span:.1}");
        return missing(Reason {
            code: "short_span".into(),
            had: Some(span),
            needed: Some(MIN_SPAN_DAYS),
            text,
        });
    }
    let (ones, middle) = (vec![1.0; x.len()], x.iter().sum::<f64>() / x.len() as f64);
    let centred: Vec<f64> = x.iter().map(|x| x - middle).collect();
    match fit(&[&ones, &centred], y, day) {
        Some(fitted) => fitted.estimate(&[0.0, 1.0], level, method, MIN_DAYS),
        None => missing(Reason::plain("no_spread", "all values are of one time")),
    }
}

fn count_days(day: &[i64]) -> usize {
    Differences { day: day.to_vec(), ..Differences::default() }.days()
}

#[cfg(test)]
#[path = "drift_tests.rs"]
mod tests;
