//! How much later the sensor shows what the meter showed, and what part a wrong clock has in it.
//!
//! # Method
//! For each shift d on a one-minute grid the sensor is read at every meter time plus d (straight
//! line between readings) and regressed on the meter; the shift with the least residual sum of
//! squares is the estimate, over the same pairs for every d. The interval holds every shift
//! whose sum of squares is at most the least times 1 + F / (m - 3), F the quantile with 1 and
//! m - 3 degrees of freedom and m the number of days with pairs: sensor errors hours apart are
//! alike, so pairs of a day count once. It can't be told when too few pairs were taken while glucose moved.
//!
//! A lag and a wrong clock shift a pair alike: only their sum is seen. [`clock_offset`] takes a
//! lag from elsewhere off the sum.
//!
//! # Source
//! Minimum-residual shift and the need for fast changes: Fabris and Kovatchev (eds), Glucose
//! Monitoring Devices (2020), p. 244. Profile interval: Draper and Smith, Applied Regression
//! Analysis, 3rd ed. (1998), section 24.6, from memory.

use super::pair::{rate, spots};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::interpolate::Method;
use crate::series::{Meter, Trace};
use crate::stats::distribution::f_quantile;

const MINUTE: i64 = 60_000;
/// Shifts tried, in minutes either way.
const REACH_MIN: i64 = 60;
/// A pair counts as taken while glucose moved from this rate on, mg/dL per minute.
pub const MOVING_MG_DL_MIN: f64 = 0.5;
/// Such pairs needed.
pub const MOVING_PAIRS: usize = 5;

/// A shift in minutes: positive when the sensor is later.
pub type Shift = Estimate;

const METHOD: &str = "shift with least residuals of sensor on meter, profile interval";

/// The shift of the sensor behind the meter's stamps: lag less what the meter's clock is ahead.
///
/// # Errors
/// A level outside 0.5-0.999.
pub fn lag(meter: &Meter, sensor: &Trace, level: f64) -> Result<Shift, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let spots = spots(meter);
    let moving = spots
        .iter()
        .filter(|s| rate(sensor, s.time_ms).is_some_and(|r| r.abs() >= MOVING_MG_DL_MIN))
        .count();
    if moving < MOVING_PAIRS {
        let what = "meter readings taken while glucose moved by 0.5 mg/dL a minute or more";
        let reason = Reason::count("too_few_moving_pairs", what, moving, MOVING_PAIRS);
        return Ok(Estimate::missing(level, METHOD, moving, MOVING_PAIRS, reason));
    }
    let shifts: Vec<i64> = (-REACH_MIN..=REACH_MIN).collect();
    let mut columns: Vec<Vec<Option<f64>>> = Vec::new();
    for d in &shifts {
        let times: Vec<i64> = spots.iter().map(|s| s.time_ms + d * MINUTE).collect();
        columns.push(sensor.at(&times, Method::Linear, 16.0)?);
    }
    // The same pairs for every shift: those that the sensor covers from end to end.
    let kept: Vec<usize> =
        (0..spots.len()).filter(|&i| columns.iter().all(|c| c[i].is_some())).collect();
    let n = kept.len();
    if n < MOVING_PAIRS + 2 {
        let reason = Reason::count(
            "too_few_pairs",
            "meter readings with an hour of sensor on both sides",
            n,
            MOVING_PAIRS + 2,
        );
        return Ok(Estimate::missing(level, METHOD, n, MOVING_PAIRS + 2, reason));
    }
    let meter: Vec<f64> = kept.iter().map(|&i| spots[i].glucose).collect();
    let sums: Vec<f64> = columns
        .iter()
        .map(|c| {
            residual_sum(
                &meter,
                &kept.iter().map(|&i| c[i].unwrap_or(f64::NAN)).collect::<Vec<_>>(),
            )
        })
        .collect();
    let mut days: Vec<i64> =
        kept.iter().map(|&i| spots[i].time_ms.div_euclid(crate::clock::DAY_MS)).collect();
    days.dedup();
    if days.len() < MOVING_PAIRS {
        let reason = Reason::count("too_few_days", "days with pairs", days.len(), MOVING_PAIRS);
        return Ok(Estimate::missing(level, METHOD, days.len(), MOVING_PAIRS, reason));
    }
    Ok(profile(&shifts, &sums, days.len(), level))
}

/// How much the meter's clock is ahead of the sensor's, given a lag known from elsewhere.
///
/// `lag_prior_min`: (lag, its standard error) in minutes; without it clock and lag are one sum,
/// and the answer says so.
///
/// # Errors
/// As [`lag`], and a prior outside 0 to 60 minutes.
pub fn clock_offset(
    meter: &Meter,
    sensor: &Trace,
    lag_prior_min: Option<(f64, f64)>,
    level: f64,
) -> Result<Shift, Error> {
    let sum = lag(meter, sensor, level)?;
    let Some((prior, se)) = lag_prior_min else {
        if !sum.estimable() {
            return Ok(sum);
        }
        let reason = Reason::plain(
            "lag_and_clock_are_one_sum",
            "a lag and a wrong clock shift pairs alike; give a lag to tell them apart",
        );
        return Ok(Estimate::missing(level, METHOD, sum.n, sum.needed, reason));
    };
    require_within("lag_prior_min", prior, 0.0, 60.0)?;
    require_within("lag_prior_min", se, 0.0, 60.0)?;
    let z = crate::stats::distribution::normal_quantile(0.5 + level / 2.0);
    let Some(value) = sum.value else { return Ok(sum) };
    let widen = |end: Option<f64>, sign: f64| {
        end.map(|e| prior - value + sign * ((e - value) * (e - value) + z * z * se * se).sqrt())
    };
    Ok(Estimate {
        value: Some(prior - value),
        low: widen(sum.high, -1.0),
        high: widen(sum.low, 1.0),
        method: format!("{METHOD}; a lag of {prior} min (SE {se}) taken off"),
        ..sum
    })
}

/// Residual sum of squares of the straight line of y on x.
fn residual_sum(x: &[f64], y: &[f64]) -> f64 {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (a, b) in x.iter().zip(y) {
        sxx += (a - mx) * (a - mx);
        sxy += (a - mx) * (b - my);
        syy += (b - my) * (b - my);
    }
    if sxx > 0.0 { syy - sxy * sxy / sxx } else { syy }
}

fn profile(shifts: &[i64], sums: &[f64], n: usize, level: f64) -> Estimate {
    let best = (0..sums.len()).min_by(|&a, &b| sums[a].total_cmp(&sums[b])).unwrap_or(0);
    let limit = sums[best] * (1.0 + f_quantile(level, 1.0, n as f64 - 3.0) / (n as f64 - 3.0));
    let inside: Vec<usize> = (0..sums.len()).filter(|&i| sums[i] <= limit).collect();
    let (first, last) =
        (inside.first().copied().unwrap_or(best), inside.last().copied().unwrap_or(best));
    // An interval that runs to the end of the shifts tried is open there.
    let low = (first > 0).then(|| shifts[first] as f64 - 0.5);
    let high = (last + 1 < shifts.len()).then(|| shifts[last] as f64 + 0.5);
    let reason = (low.is_none() || high.is_none()).then(|| {
        Reason::plain("open_interval", "the data don't rule out shifts of an hour or more")
    });
    Estimate {
        value: Some(shifts[best] as f64),
        low,
        high,
        level,
        method: METHOD.to_string(),
        n,
        needed: MOVING_PAIRS,
        reason,
    }
}
