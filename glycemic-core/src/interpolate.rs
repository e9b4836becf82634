//! The value of a curve between its readings.
//!
//! # Method
//! *Linear*: a straight line between the two neighbours. *Pchip*: a cubic through the
//! neighbours that never rises where the readings fall, with weighted harmonic slopes and a
//! three-point rule at the ends. *Previous*: the last reading so far. *Nearest*: the closest
//! reading, the earlier of two equally close.
//!
//! A gap is not crossed: where two neighbours stand further apart than is allowed there is no
//! value, and the slopes on one side of a gap do not depend on the readings on the other.
//!
//! # Units
//! Times in milliseconds or minutes, as the name says; the answer in the unit of the values.
//!
//! # Source
//! Fritsch FN, Carlson RE. SIAM J Numer Anal 1980; 17: 238-246. Fritsch FN, Butland J. SIAM J
//! Sci Stat Comput 1984; 5: 300-304 (the slopes).

use crate::error::{self, Error};
use std::str::FromStr;

/// How a value between two readings is found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Method {
    /// A straight line between the neighbours.
    #[default]
    Linear,
    /// A smooth curve that overshoots no reading.
    Pchip,
    /// The last reading at or before the time.
    Previous,
    /// The closest reading; of two equally close, the earlier.
    Nearest,
}

impl Method {
    /// The word for this method.
    pub fn name(self) -> &'static str {
        match self {
            Method::Linear => "linear",
            Method::Pchip => "pchip",
            Method::Previous => "previous",
            Method::Nearest => "nearest",
        }
    }
}

impl FromStr for Method {
    type Err = Error;

    fn from_str(word: &str) -> Result<Self, Error> {
        match word {
            "linear" => Ok(Method::Linear),
            "pchip" => Ok(Method::Pchip),
            "previous" => Ok(Method::Previous),
            "nearest" => Ok(Method::Nearest),
            _ => Err(Error::UnknownChoice {
                name: "method",
                got: word.to_string(),
                choices: "linear, pchip, previous, nearest",
            }),
        }
    }
}

/// Values at the times `query_ms` from readings at `times_ms`, missing where a gap is.
///
/// `times_ms` and `values` hold the same n readings, rising in time; `query_ms` may be in any
/// order. There is no value (`None`) before the first reading or after the last, nor, for
/// linear and pchip, between two readings more than `max_gap_ms` apart, nor, for previous and
/// nearest, where the reading used is further away than that. At the time of a reading the
/// answer is that reading. Source: Fritsch and Butland (1984) for pchip.
///
/// # Errors
/// [`LengthMismatch`](Error::LengthMismatch), [`NotFinite`](Error::NotFinite),
/// [`UnorderedTime`](Error::UnorderedTime), or [`OutOfRange`](Error::OutOfRange) for a
/// negative `max_gap_ms`.
///
/// # Example
/// ```
/// # use glycemic_core::interpolate::{Method, at};
/// let minute = 60_000;
/// let times = [0, 5 * minute, 60 * minute];
/// let query = [2 * minute, 30 * minute, 60 * minute];
/// // Two fifths of the way from 100 to 110; then a gap; then a reading.
/// let got = at(&times, &[100.0, 110.0, 90.0], &query, Method::Linear, 15 * minute)?;
/// assert_eq!(got, [Some(104.0), None, Some(90.0)]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn at(
    times_ms: &[i64],
    values: &[f64],
    query_ms: &[i64],
    method: Method,
    max_gap_ms: i64,
) -> Result<Vec<Option<f64>>, Error> {
    error::require_same_len("values", times_ms.len(), values.len())?;
    error::require_all_finite("values", values)?;
    error::require_within("max_gap_ms", max_gap_ms as f64, 0.0, i64::MAX as f64)?;
    if let Some(before) = times_ms.windows(2).position(|pair| pair[1] <= pair[0]) {
        return Err(Error::UnorderedTime { index: before + 1 });
    }
    let curve = Curve {
        values,
        length: |i: usize| times_ms[i + 1].saturating_sub(times_ms[i]) as f64,
        max_gap: max_gap_ms as f64,
    };
    let one = |&query: &i64| {
        let i = times_ms.partition_point(|t| *t <= query).checked_sub(1)?;
        curve.value(i, query.saturating_sub(times_ms[i]) as f64, method)
    };
    Ok(query_ms.iter().map(one).collect())
}

/// Values at `query` on a curve through the points (`x`, `y`), x in minutes and rising.
///
/// As [`at`], without a gap rule: only before the first point and after the last is there no
/// value. Source: as [`at`].
///
/// # Errors
/// [`LengthMismatch`](Error::LengthMismatch), [`NotFinite`](Error::NotFinite), or
/// [`UnorderedTime`](Error::UnorderedTime).
///
/// # Example
/// ```
/// # use glycemic_core::interpolate::{Method, on_minutes};
/// let got = on_minutes(&[0.0, 30.0], &[90.0, 150.0], &[10.0, 31.0], Method::Linear)?;
/// assert_eq!(got, [Some(110.0), None]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn on_minutes(
    x: &[f64],
    y: &[f64],
    query: &[f64],
    method: Method,
) -> Result<Vec<Option<f64>>, Error> {
    error::require_same_len("y", x.len(), y.len())?;
    error::require_all_finite("x", x)?;
    error::require_all_finite("y", y)?;
    error::require_all_finite("query", query)?;
    if let Some(before) = x.windows(2).position(|pair| pair[1] <= pair[0]) {
        return Err(Error::UnorderedTime { index: before + 1 });
    }
    let curve = Curve { values: y, length: |i: usize| x[i + 1] - x[i], max_gap: f64::INFINITY };
    let one = |&query: &f64| {
        let i = x.partition_point(|x| *x <= query).checked_sub(1)?;
        curve.value(i, query - x[i], method)
    };
    Ok(query.iter().map(one).collect())
}

/// Readings, the length of the interval after each, and the longest that may be crossed.
struct Curve<'a, L: Fn(usize) -> f64> {
    values: &'a [f64],
    length: L,
    max_gap: f64,
}

impl<L: Fn(usize) -> f64> Curve<'_, L> {
    /// The value at `past` after reading `i`, which is the last one not after that time.
    fn value(&self, i: usize, past: f64, method: Method) -> Option<f64> {
        if past == 0.0 {
            return Some(self.values[i]);
        }
        if i + 1 >= self.values.len() {
            return None;
        }
        let (left, right) = (self.values[i], self.values[i + 1]);
        let length = (self.length)(i);
        match method {
            Method::Linear if length <= self.max_gap => {
                Some(left + (right - left) * (past / length))
            }
            Method::Pchip if length <= self.max_gap => Some(self.cubic(i, past / length)),
            Method::Previous if past <= self.max_gap => Some(left),
            Method::Nearest if past <= length - past => Some(left).filter(|_| past <= self.max_gap),
            Method::Nearest => Some(right).filter(|_| length - past <= self.max_gap),
            _ => None,
        }
    }

    /// The cubic of the interval after `i`, at the share `s` of its length.
    fn cubic(&self, i: usize, s: f64) -> f64 {
        let (left, right) = (self.values[i], self.values[i + 1]);
        let length = (self.length)(i);
        let (slope_left, slope_right) = (self.slope_at(i) * length, self.slope_at(i + 1) * length);
        let rise = right - left;
        let bend = 3.0 * rise - 2.0 * slope_left - slope_right;
        let twist = slope_left + slope_right - 2.0 * rise;
        left + s * (slope_left + s * (bend + s * twist))
    }

    /// Slope of the straight line after `i`.
    fn chord(&self, i: usize) -> f64 {
        (self.values[i + 1] - self.values[i]) / (self.length)(i)
    }

    /// Whether there is an interval after `i` that may be crossed.
    fn joined(&self, i: usize) -> bool {
        i + 1 < self.values.len() && (self.length)(i) <= self.max_gap
    }

    /// The slope of the curve at reading `k`, within its run of readings without a gap.
    fn slope_at(&self, k: usize) -> f64 {
        let before = k.checked_sub(1).filter(|i| self.joined(*i));
        let after = Some(k).filter(|i| self.joined(*i));
        match (before, after) {
            (Some(b), Some(a)) => {
                inner_slope((self.length)(b), (self.length)(a), self.chord(b), self.chord(a))
            }
            (None, Some(a)) => self.end_slope(a, Some(a + 1)),
            (Some(b), None) => self.end_slope(b, b.checked_sub(1)),
            (None, None) => 0.0,
        }
    }

    /// The slope at the end of a run, from its last interval and the one beside it, if any.
    fn end_slope(&self, last: usize, beside: Option<usize>) -> f64 {
        match beside.filter(|i| self.joined(*i)) {
            Some(i) => {
                three_point((self.length)(last), (self.length)(i), self.chord(last), self.chord(i))
            }
            None => self.chord(last),
        }
    }
}

/// The weighted harmonic mean of two chords, or 0 where the curve turns.
fn inner_slope(h0: f64, h1: f64, m0: f64, m1: f64) -> f64 {
    if (m0 > 0.0 && m1 > 0.0) || (m0 < 0.0 && m1 < 0.0) {
        let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
        (w0 + w1) / (w0 / m0 + w1 / m1)
    } else {
        0.0
    }
}

/// The three-point formula, kept from overshooting.
fn three_point(h0: f64, h1: f64, m0: f64, m1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * m0 - h0 * m1) / (h0 + h1);
    if sign(slope) != sign(m0) {
        0.0
    } else if sign(m0) != sign(m1) && slope.abs() > 3.0 * m0.abs() {
        3.0 * m0
    } else {
        slope
    }
}

fn sign(value: f64) -> i8 {
    i8::from(value > 0.0) - i8::from(value < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTES: [f64; 9] = [0.0, 15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 150.0, 200.0];
    const GLUCOSE: [f64; 9] = [92.0, 95.0, 131.0, 140.0, 140.0, 118.0, 97.0, 99.0, 85.0];

    fn ms(minutes: &[f64]) -> Vec<i64> {
        minutes.iter().map(|m| (m * 60_000.0) as i64).collect()
    }

    fn close(got: &[Option<f64>], truth: &[f64]) {
        assert_eq!(got.len(), truth.len());
        for (got, truth) in got.iter().zip(truth) {
            // The formulas agree to rounding, some 1e-16 of 140.
            assert!((got.unwrap() - truth).abs() < 1e-12, "{got:?}, not {truth}");
        }
    }

    /// Values from scipy 1.17.1, PchipInterpolator, here and below.
    #[test]
    fn pchip_without_a_gap() {
        let query = [3.0, 10.0, 22.0, 40.0, 50.0, 75.0, 100.0, 130.0, 149.0, 160.0, 195.0];
        let truth = [
            92.13476923076924,
            93.4017094017094,
            110.26531282051283,
            138.73333333333332,
            140.0,
            131.68604651162792,
            109.3720930232558,
            97.51851851851852,
            98.99348148148148,
            98.33866666666667,
            87.4035,
        ];
        close(&on_minutes(&MINUTES, &GLUCOSE, &query, Method::Pchip).unwrap(), &truth);
        let hour = 60 * 60_000;
        let (times, query) = (ms(&MINUTES), ms(&query));
        close(&at(&times, &GLUCOSE, &query, Method::Pchip, hour).unwrap(), &truth);
    }

    /// scipy on the five readings up to 60 min, and apart from them on the four after. The
    /// gap is made by moving those four on by an hour.
    #[test]
    fn pchip_on_each_side_of_a_gap() {
        let moved = MINUTES.map(|m| if m > 60.0 { m + 60.0 } else { m });
        let query = [3.0, 10.0, 22.0, 40.0, 50.0, 160.0, 190.0, 209.0, 220.0, 255.0];
        let truth = [
            92.13476923076924,
            93.4017094017094,
            110.26531282051283,
            138.73333333333332,
            140.0,
            107.74074074074075,
            97.51851851851852,
            98.99348148148148,
            98.33866666666667,
            87.4035,
        ];
        let gap = 50 * 60_000;
        close(&at(&ms(&moved), &GLUCOSE, &ms(&query), Method::Pchip, gap).unwrap(), &truth);
        let between = at(&ms(&moved), &GLUCOSE, &ms(&[100.0]), Method::Pchip, gap).unwrap();
        assert_eq!(between, [None]);
    }

    /// scipy: an end slope that is cut to 3 chords, and one that is set to 0.
    #[test]
    fn pchip_ends() {
        let query = [1.0, 5.0, 9.0, 10.5, 11.9];
        let truth = [0.271, 0.8750000000000002, 0.9989999999999999, -0.014062499999999839];
        let got = on_minutes(&[0.0, 10.0, 12.0], &[0.0, 1.0, -9.0], &query, Method::Pchip).unwrap();
        close(&got[..4], &truth);
        close(&got[4..], &[-8.399537500000001]);
        let query = [1.0, 5.0, 9.0, 15.0, 29.0];
        let truth = [
            0.01305825242718447,
            0.29247572815533984,
            0.8375242718446603,
            3.0138046116504853,
            18.50134425566343,
        ];
        let got = on_minutes(&[0.0, 10.0, 30.0], &[0.0, 1.0, 20.0], &query, Method::Pchip).unwrap();
        close(&got, &truth);
    }

    #[test]
    fn two_readings_are_a_straight_line() {
        let got = on_minutes(&[0.0, 10.0], &[90.0, 100.0], &[2.5], Method::Pchip).unwrap();
        close(&got, &[92.5]);
    }

    #[test]
    fn steps_and_their_gap() {
        let times = [0, 10, 40];
        let get =
            |query: i64, method| at(&times, &[1.0, 2.0, 3.0], &[query], method, 12).unwrap()[0];
        assert_eq!(get(9, Method::Previous), Some(1.0));
        assert_eq!(get(22, Method::Previous), Some(2.0));
        assert_eq!(get(23, Method::Previous), None);
        assert_eq!(get(5, Method::Nearest), Some(1.0));
        assert_eq!(get(6, Method::Nearest), Some(2.0));
        assert_eq!(get(25, Method::Nearest), None);
        assert_eq!(get(28, Method::Nearest), Some(3.0));
        for method in [Method::Linear, Method::Pchip, Method::Previous, Method::Nearest] {
            assert_eq!(get(40, method), Some(3.0));
            assert_eq!((get(-1, method), get(41, method)), (None, None));
            assert_eq!(method.name().parse(), Ok(method));
        }
        assert_eq!("cubic".parse::<Method>().unwrap_err().code(), "unknown_choice");
    }

    #[test]
    fn refuses_bad_readings() {
        let code = |times: &[i64], values: &[f64], gap| {
            at(times, values, &[0], Method::Linear, gap).unwrap_err().code()
        };
        assert_eq!(code(&[0, 0], &[1.0, 2.0], 5), "unordered_time");
        assert_eq!(code(&[0, 1], &[1.0, f64::NAN], 5), "not_finite");
        assert_eq!(code(&[0, 1], &[1.0], 5), "length_mismatch");
        assert_eq!(code(&[0, 1], &[1.0, 2.0], -1), "out_of_range");
        let bad = on_minutes(&[0.0, 1.0], &[1.0, 2.0], &[f64::NAN], Method::Linear);
        assert_eq!(bad.unwrap_err().code(), "not_finite");
        assert_eq!(at(&[], &[], &[3], Method::Linear, 5).unwrap(), [None]);
        let (far, near) = (i64::MAX, i64::MIN);
        assert_eq!(at(&[near, far], &[1.0, 2.0], &[0], Method::Linear, 5).unwrap(), [None]);
    }
}
