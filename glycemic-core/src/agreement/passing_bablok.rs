//! A straight line between two methods from the ranks of all slopes.
//!
//! # Method
//! The slope is the median of the slopes of all pairs of points, shifted by the number of slopes
//! below -1; the intercept is the median of y - slope x. Intervals from the ranks. Slopes of
//! exactly -1 and pairs equal in both are left out. Readings have few decimals, so such ties are
//! many, and in binary most miss -1 or 0 by a rounding: a tie is anything within a billionth of
//! the largest value. Equal x with different y count as an infinite slope upwards (the paper
//! takes the sign of the difference, which depends on the order of the rows). The ranks of the
//! interval are rounded to the nearest integer. Linearity: cumulative sum of scores along the
//! line, against the Kolmogorov distribution.
//!
//! # Source
//! Passing H, Bablok W. J Clin Chem Clin Biochem 1983; 21: 709-720 (algorithm and cusum test from
//! memory; slopes and intervals checked against a second implementation).

use super::lines::MethodLine;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::normal_quantile;
use crate::stats::quantile::median;

/// Fewest and most pairs: all slopes are held at once.
const PAIRS: (usize, usize) = (5, 5000);

/// What a tie is, as a part of the largest value.
const TIE: f64 = 1e-9;

/// The line, and whether a line fits.
#[derive(Clone, Debug, PartialEq)]
pub struct PassingBablok {
    /// Slope and intercept; there are no standard errors.
    pub line: MethodLine,
    /// Slopes used.
    pub slopes: usize,
    /// Slopes below -1, by which the median is shifted.
    pub shift: usize,
    /// Largest cumulative sum over sqrt(L + 1); `None` when all points lie on one side.
    pub cusum: Option<f64>,
    /// p-value of linearity; small values speak against a straight line.
    pub linearity_p: Option<f64>,
}

/// The line of 5 to 5,000 pairs.
///
/// # Errors
/// Fewer or more pairs, different lengths, NaN, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::passing_bablok;
/// let x = [1.0, 2.0, 3.0, 4.0, 5.0];
/// let p = passing_bablok(&x, &x.map(|v| 3.0 * v - 2.0), 0.95)?;
/// assert_eq!((p.line.slope.value, p.line.intercept.value), (Some(3.0), Some(-2.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn passing_bablok(x: &[f64], y: &[f64], level: f64) -> Result<PassingBablok, Error> {
    require_same_len("y", x.len(), y.len())?;
    require_all_finite("x", x)?;
    require_all_finite("y", y)?;
    require_within("level", level, 0.5, 0.999)?;
    let n = x.len();
    if n < PAIRS.0 {
        return Err(Error::TooFewValues { measure: "Passing-Bablok", needed: PAIRS.0, got: n });
    }
    require_within("number of pairs", n as f64, PAIRS.0 as f64, PAIRS.1 as f64)?;
    let tie = TIE * x.iter().chain(y).fold(0.0_f64, |most, v| most.max(v.abs()));
    let slopes = slopes(x, y, tie);
    let shift = slopes.partition_point(|&s| s < -1.0);
    let (slope, intercept) = line(x, y, &slopes, shift, level);
    let cusum = match (slope.value, intercept.value) {
        (Some(b), Some(a)) if b != 0.0 => cusum(x, y, b, a, tie),
        _ => None,
    };
    Ok(PassingBablok {
        slopes: slopes.len(),
        shift,
        cusum,
        linearity_p: cusum.map(kolmogorov_tail),
        line: MethodLine { n, slope, intercept, slope_se: None, intercept_se: None },
    })
}

/// All slopes but ties, sorted.
fn slopes(x: &[f64], y: &[f64], tie: f64) -> Vec<f64> {
    let mut out = Vec::with_capacity(x.len() * (x.len() - 1) / 2);
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            let (dx, dy) = (x[j] - x[i], y[j] - y[i]);
            match (dx.abs() <= tie, dy.abs() <= tie) {
                (true, true) => {}
                (true, false) => out.push(f64::INFINITY),
                _ if (dx + dy).abs() <= tie => {}
                _ => out.push(dy / dx),
            }
        }
    }
    out.sort_unstable_by(f64::total_cmp);
    out
}

fn line(x: &[f64], y: &[f64], slopes: &[f64], shift: usize, level: f64) -> (Estimate, Estimate) {
    const METHOD: &str = "Passing and Bablok 1983, ranks of slopes";
    let (n, count) = (x.len(), slopes.len());
    let intercept_at = |b: f64| {
        let off: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - b * x).collect();
        median(&off)
    };
    let finite = |rank: usize| slopes.get(rank.checked_sub(1)?).copied().filter(|s| s.is_finite());
    let value = if count % 2 == 1 {
        finite(count.div_ceil(2) + shift)
    } else {
        let (low, high) = (finite(count / 2 + shift), finite(count / 2 + 1 + shift));
        low.zip(high).map(|(low, high)| 0.5 * (low + high))
    };
    let Some(slope) = value else {
        let reason = Reason::plain("no_line", "too few different values to settle a slope");
        let missing = Estimate::missing(level, METHOD, n, PAIRS.0, reason);
        return (missing.clone(), missing);
    };
    let size = n as f64;
    let spread = normal_quantile(0.5 * (1.0 + level))
        * (size * (size - 1.0) * (2.0 * size + 5.0) / 18.0).sqrt();
    let first = ((count as f64 - spread) / 2.0).round();
    // A rank below 1 is a limit beyond all slopes: that end is open.
    let (low, high) = if first >= 1.0 {
        let first = first as usize;
        (finite(first + shift), finite(count - first + 1 + shift))
    } else {
        (None, None)
    };
    let open = || Reason::plain("open_end", "the interval reaches beyond all slopes");
    let reason = (low.is_none() || high.is_none()).then(open);
    let of = |value: Option<f64>, low: Option<f64>, high: Option<f64>| Estimate {
        value,
        low,
        high,
        level,
        method: METHOD.to_string(),
        n,
        needed: PAIRS.0,
        reason: reason.clone(),
    };
    let intercept =
        of(intercept_at(slope), high.and_then(intercept_at), low.and_then(intercept_at));
    (of(Some(slope), low, high), intercept)
}

/// Largest cumulative score along the line, over sqrt(L + 1).
fn cusum(x: &[f64], y: &[f64], slope: f64, intercept: f64, tie: f64) -> Option<f64> {
    let off = |i: usize| y[i] - intercept - slope * x[i];
    let above = (0..x.len()).filter(|&i| off(i) > tie).count() as f64;
    let below = (0..x.len()).filter(|&i| off(i) < -tie).count() as f64;
    if above == 0.0 || below == 0.0 {
        return None;
    }
    // The place of a point along the line: its foot on it.
    let along = |i: usize| y[i] + x[i] / slope - intercept;
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|&i, &j| {
        along(i).total_cmp(&along(j)).then(x[i].total_cmp(&x[j])).then(y[i].total_cmp(&y[j]))
    });
    if slope < 0.0 {
        order.reverse();
    }
    let (up, down) = ((below / above).sqrt(), (above / below).sqrt());
    let (mut sum, mut most) = (0.0_f64, 0.0_f64);
    for i in order {
        if off(i) > tie {
            sum += up;
        } else if off(i) < -tie {
            sum -= down;
        }
        most = most.max(sum.abs());
    }
    Some(most / (below + 1.0).sqrt())
}

/// The share of the Kolmogorov distribution above `h`; 1.36 leaves 5 %.
fn kolmogorov_tail(h: f64) -> f64 {
    if h < 0.2 {
        return 1.0;
    }
    let term = |k: i32| {
        let k = f64::from(k);
        let sign = if k % 2.0 == 0.0 { -1.0 } else { 1.0 };
        2.0 * sign * libm::exp(-2.0 * k * k * h * h)
    };
    (1..=100).map(term).sum::<f64>().clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Critical values of the cusum test as printed: 1.22, 1.36, 1.63 for 10, 5, 1 %.
    #[test]
    fn kolmogorov_critical_values() {
        for (h, p) in [(1.22, 0.10), (1.36, 0.05), (1.63, 0.01)] {
            assert!((kolmogorov_tail(h) - p).abs() < 0.02 * p + 0.0005, "{h}");
        }
        assert_eq!(kolmogorov_tail(0.1), 1.0);
    }

    /// Tenths along y = 19 - x, where x and y have different last bits: in binary most slopes miss
    /// -1, by hand all must go.
    #[test]
    fn decimal_slopes_of_minus_one_are_left_out() {
        let x: Vec<f64> = (0..12).map(|i| f64::from(40 + i) / 10.0).collect();
        let y: Vec<f64> = (0..12).map(|i| f64::from(150 - i) / 10.0).collect();
        let misses = |i: usize| (x[i] - x[0]) + (y[i] - y[0]) != 0.0;
        assert!((1..12).any(misses));
        let p = passing_bablok(&x, &y, 0.95).unwrap();
        assert_eq!((p.slopes, p.shift), (0, 0));
        assert_eq!(p.line.slope.reason.unwrap().code, "no_line");
    }

    /// A parabola is not a line; a scattered line is not refused.
    #[test]
    fn linearity() {
        let x: Vec<f64> = (0..60).map(f64::from).collect();
        let bent: Vec<f64> = x.iter().map(|v| 0.02 * v * v).collect();
        let p = passing_bablok(&x, &bent, 0.95).unwrap();
        assert!(p.linearity_p.unwrap() < 0.01, "{p:?}");
        let line: Vec<f64> =
            (0..60).map(|i| f64::from(i) + if i % 2 == 0 { 1.0 } else { -1.0 }).collect();
        let p = passing_bablok(&x, &line, 0.95).unwrap();
        assert!(p.linearity_p.unwrap() > 0.9, "{p:?}");
    }

    /// Swapping x and y inverts the line, which is why slopes are counted against -1.
    #[test]
    fn swapping_inverts() {
        let x = [4.1, 5.0, 6.2, 7.7, 8.1, 9.9, 12.0, 13.4, 15.0];
        let y = [4.4, 4.9, 6.9, 7.1, 9.0, 10.4, 11.5, 14.1, 15.2];
        let there = passing_bablok(&x, &y, 0.95).unwrap().line;
        let back = passing_bablok(&y, &x, 0.95).unwrap().line;
        // An even number of slopes: the mean of two is not inverted exactly.
        assert!((there.slope.value.unwrap() * back.slope.value.unwrap() - 1.0).abs() < 1e-3);
        assert!((there.slope.low.unwrap() * back.slope.high.unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn few_pairs_leave_the_ends_open() {
        let x = [1.0, 2.0, 3.0, 4.0, 5.0];
        let p = passing_bablok(&x, &[1.1, 1.9, 3.2, 3.9, 5.3], 0.999).unwrap();
        assert!(p.line.slope.value.is_some() && p.line.slope.low.is_none());
        assert_eq!(p.line.slope.reason.unwrap().code, "open_end");
        let e = passing_bablok(&x[..4], &x[..4], 0.95).unwrap_err();
        assert_eq!(e.code(), "too_few_values");
    }
}
