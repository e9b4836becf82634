//! How much later the sensor shows what the meter showed, and what part a wrong clock has in it.
//!
//! # Method
//! For each shift on a half-minute grid the smoothed sensor is read at every meter time plus the
//! shift and set beside the meter (`matching`); the shift with the least residual sum of squares
//! is the estimate, over the same pairs for every shift. The sensor is smoothed no more than it
//! takes: until noise makes up little of its slopes at the pairs. Its bend is allowed for as that
//! of a first-order lag of 8 minutes, and the answer is the shift at which such a lag matches
//! blood best over the whole trace; a sensor that is late as a whole is read half a minute or so
//! early by that.
//!
//! The interval holds every shift whose sum of squares is at most the least times 1 + F r / (n - 3),
//! F the quantile with 1 and d degrees of freedom. The factor r allows for two things: noise that
//! looks like movement (slopes at the pairs against those in quiet hours, squared) and residuals
//! that differ where glucose moves (each pair left out in turn); d is Satterthwaite's, small where
//! a few steep pairs decide. The factor can't be told when noise explains most of the movement at
//! the pairs. Glucose that never rests counts as noise by this: intervals are then wider than they
//! need be, or there is none.
//!
//! A lag and a wrong clock shift a pair alike: only their sum is seen. [`clock_offset`] takes a
//! lag from elsewhere off the sum; [`clock_error`](super::clock_error()) looks for whole hours.
//!
//! # Source
//! Minimum-residual shift and the need for fast changes: Fabris and Kovatchev (eds), Glucose
//! Monitoring Devices (2020), p. 244. Profile interval: Draper and Smith, Applied Regression
//! Analysis, 3rd ed. (1998), section 24.6, from memory. Errors in a regressor: Fuller WA,
//! Measurement Error Models (1987), section 1.2, from memory. Pairs left out: MacKinnon
//! JG, White H, J Econometrics 1985; 29: 305-325; freedom: Bell RM, McCaffrey DF, Survey
//! Methodology 2002; 28: 169-181, both from memory.

use super::clock_error::hours_wrong;
use super::matching::Matching;
use super::pair::{Spot, rate, spots};
use super::smoothed::{Smoothed, lowest};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::series::{Meter, Trace};
use crate::stats::distribution::f_quantile;

pub(super) const MINUTE: i64 = 60_000;
/// Shifts tried, in half minutes either way.
const REACH_HALVES: i64 = 180;
/// A pair counts as taken while glucose moved from this rate on, mg/dL per minute.
pub const MOVING_MG_DL_MIN: f64 = 0.5;
/// Readings needed before movement is looked for.
pub const MOVING_PAIRS: usize = 5;
/// Pairs needed.
const PAIRS: usize = 7;
/// Half widths of the smoothing that are tried, minutes.
const HALVES: [usize; 4] = [12, 16, 20, 26];
/// Enough smoothing: slopes with noise to slopes without, in squares.
const ENOUGH: f64 = 1.15;
/// Noise may explain at most this share of the squared slopes.
const MOST_NOISE: f64 = 0.7;
/// The lag whose bend is allowed for, minutes.
pub(super) const USUAL_TAU_MIN: f64 = 8.0;

/// A shift in minutes: positive when the sensor is later.
pub type Shift = Estimate;

const METHOD: &str =
    "shift with least residuals of smoothed sensor against meter, profile interval";

/// The shift of the sensor behind the meter's stamps: lag less what the meter's clock is ahead.
///
/// Shifts of up to 90 minutes either way. Where the meter's clock seems wrong by more hours than
/// one there is no value, and the reason says so: nothing is corrected here.
///
/// # Errors
/// A level outside 0.5-0.999.
pub fn lag(meter: &Meter, sensor: &Trace, level: f64) -> Result<Shift, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let spots = spots(meter);
    if spots.len() < MOVING_PAIRS {
        let moved =
            |s: &&Spot| rate(sensor, s.time_ms).is_some_and(|r| r.abs() >= MOVING_MG_DL_MIN);
        let moving = spots.iter().filter(moved).count();
        let what = "meter readings taken while glucose moved by 0.5 mg/dL a minute or more";
        let reason = Reason::count("too_few_moving_pairs", what, moving, MOVING_PAIRS);
        return Ok(Estimate::missing(level, METHOD, moving, MOVING_PAIRS, reason));
    }
    let joined = Smoothed::joined(sensor);
    if let Some(hours) = hours_wrong(&spots, &joined).filter(|h| h.abs() > 1) {
        let text = format!(
            "the meter's clock seems to be {hours} h ahead of the sensor's; look at clock_error \
             and shift the meter if it is so"
        );
        let reason = Reason::plain("clock_wrong_by_hours", &text);
        return Ok(Estimate::missing(level, METHOD, spots.len(), PAIRS, reason));
    }
    Ok(near(&spots, &joined, level))
}

/// The shift within 90 minutes.
fn near(spots: &[Spot], joined: &Smoothed, level: f64) -> Estimate {
    let mut last = None;
    for half in HALVES {
        let smooth = joined.smooth(half, USUAL_TAU_MIN * USUAL_TAU_MIN);
        let Some(found) = Profile::new(spots, &smooth) else { continue };
        let enough = found.noise_factor().is_some_and(|f| f <= ENOUGH);
        last = Some(found);
        if enough {
            break;
        }
    }
    let Some(found) = last else {
        let what = "meter readings with an hour and a half of sensor on both sides";
        let n = spots.iter().filter(|s| joined.at(s.time_ms).is_some()).count();
        let reason = Reason::count("too_few_pairs", what, n.min(PAIRS - 1), PAIRS);
        return Estimate::missing(level, METHOD, n, PAIRS, reason);
    };
    let Some(factor) = found.noise_factor() else {
        let share = 100.0 * found.noise_share();
        let text = format!(
            "noise alone would give {share:.0} % of the movement seen at the {} meter readings; \
             at most {:.0} % may be noise",
            found.n(),
            100.0 * MOST_NOISE
        );
        let reason = Reason::plain("too_little_movement", &text);
        return Estimate::missing(level, METHOD, found.n(), PAIRS, reason);
    };
    let beyond = joined.smooth(SHAPE_HALF_MIN, 0.0).shift_less_tau(USUAL_TAU_MIN);
    found.estimate(factor * factor * found.sandwich(), level).scaled(1.0, beyond)
}

/// Smoothing of the trace on which the best shift of the usual lag is looked for, minutes.
const SHAPE_HALF_MIN: usize = 5;

/// Residuals over the shifts.
struct Profile {
    minutes: Vec<f64>,
    sums: Vec<f64>,
    best: f64,
    residuals: Vec<f64>,
    slopes: Vec<f64>,
    slope_square: f64,
    quiet: f64,
    /// Variance of slopes times residuals, and its degrees of freedom.
    spread: (f64, f64),
}

impl Profile {
    fn new(spots: &[Spot], smooth: &Smoothed) -> Option<Profile> {
        let shifts: Vec<i64> = (-REACH_HALVES..=REACH_HALVES).collect();
        let read = |s: &Spot, d: i64| smooth.at(s.time_ms + d * MINUTE / 2);
        // The same pairs for every shift: those that the sensor covers from end to end.
        let kept: Vec<(f64, Vec<f64>, i64)> = spots
            .iter()
            .filter_map(|s| {
                let row: Option<Vec<f64>> = shifts.iter().map(|&d| read(s, d)).collect();
                row.map(|row| (s.glucose, row, s.time_ms))
            })
            .collect();
        if kept.len() < PAIRS {
            return None;
        }
        let column = |k: usize| kept.iter().map(|p| p.1[k]).collect::<Vec<f64>>();
        let held = Matching::new(&kept.iter().map(|p| p.0).collect::<Vec<f64>>());
        let least = (0..shifts.len()).map(|k| held.residuals(&column(k)).1);
        let least = least.fold(f64::INFINITY, f64::min);
        let matching = held.with_gain(least / (kept.len() - 2) as f64);
        let sums: Vec<f64> = (0..shifts.len()).map(|k| matching.residuals(&column(k)).1).collect();
        let minutes: Vec<f64> = shifts.iter().map(|&d| 0.5 * d as f64).collect();
        let best = lowest(&minutes, &sums);
        let place = (0..sums.len()).min_by(|&a, &b| sums[a].total_cmp(&sums[b]))?;
        let ms = (best * MINUTE as f64).round() as i64;
        let slopes: Vec<f64> = kept.iter().map(|p| smooth.slope(p.2 + ms).unwrap_or(0.0)).collect();
        let (slopes, slope_square) = matching.free(&slopes);
        let residuals = matching.residuals(&column(place)).0;
        let quiet = smooth.quiet_slope();
        let spread = matching.leave_one_out(&slopes, slope_square, &residuals);
        Some(Profile { minutes, sums, best, residuals, slopes, slope_square, quiet, spread })
    }

    fn n(&self) -> usize {
        self.slopes.len()
    }

    /// Share of the squared slopes at the pairs that noise would give alone.
    fn noise_share(&self) -> f64 {
        let noise = (self.n() - 2) as f64 * self.quiet;
        if self.slope_square > noise { noise / self.slope_square } else { 1.0 }
    }

    /// Squared slopes over those without noise; `None` when too little is left.
    fn noise_factor(&self) -> Option<f64> {
        let share = self.noise_share();
        (share <= MOST_NOISE).then(|| 1.0 / (1.0 - share))
    }

    /// How much larger squared residuals are where glucose moves.
    fn sandwich(&self) -> f64 {
        let squares: f64 = self.residuals.iter().map(|r| r * r).sum();
        let even = squares / (self.n() as f64 - 3.0) * self.slope_square;
        if even > 0.0 { self.spread.0 / even } else { 1.0 }
    }

    fn estimate(&self, factor: f64, level: f64) -> Estimate {
        let (sums, df) = (&self.sums, self.n() as f64 - 3.0);
        let least = sums.iter().copied().fold(f64::INFINITY, f64::min);
        let limit = least * (1.0 + factor * f_quantile(level, 1.0, self.spread.1) / df);
        let inside = |k: &usize| sums[*k] <= limit;
        let first = (0..sums.len()).find(inside).unwrap_or(0);
        let last = (0..sums.len()).rev().find(inside).unwrap_or(0);
        let cross = |from: usize, to: usize| {
            let share = (limit - sums[from]) / (sums[to] - sums[from]);
            self.minutes[from] + share * (self.minutes[to] - self.minutes[from])
        };
        // An interval that runs to the end of the shifts tried is open there.
        let low = (first > 0).then(|| cross(first, first - 1));
        let high = (last + 1 < sums.len()).then(|| cross(last, last + 1));
        let reason = (low.is_none() || high.is_none()).then(|| {
            Reason::plain("open_interval", "the data don't rule out shifts of an hour or more")
        });
        Estimate {
            value: Some(self.best),
            low,
            high,
            level,
            method: METHOD.to_string(),
            n: self.n(),
            needed: PAIRS,
            reason,
        }
    }
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
