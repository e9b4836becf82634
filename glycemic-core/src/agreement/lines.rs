//! A straight line between two methods that both err: Deming and weighted Deming.
//!
//! # Method
//! `variance_ratio` is Var(error of y) / Var(error of x); some texts and one standard use the
//! inverse. Deming: both errors are constant. Weighted: both are proportional to the level, and
//! each pair weighs with the inverse square of its fitted level, found by iteration. Standard
//! errors by the jackknife (pseudo-values, leaving out one pair), with Student's t on n - 2.
//! Pairs are taken as independent.
//!
//! # Source
//! Deming WE. Statistical adjustment of data, 1943. Linnet K. Stat Med 1990; 9: 1463-1473; Clin
//! Chem 1993; 39: 424-432 (weights and jackknife; the formulas from memory, the results checked
//! against orthogonal distance regression).

use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;

/// Fewest pairs for a line and its jackknife.
const MIN_PAIRS: usize = 4;

/// A line y = intercept + slope x with its intervals.
#[derive(Clone, Debug, PartialEq)]
pub struct MethodLine {
    /// Pairs.
    pub n: usize,
    /// Slope.
    pub slope: Estimate,
    /// Intercept, in the unit of the values.
    pub intercept: Estimate,
    /// Standard error of the slope; `None` where there is none.
    pub slope_se: Option<f64>,
    /// Standard error of the intercept; `None` where there is none.
    pub intercept_se: Option<f64>,
}

/// Deming's line of n >= 4 pairs, both errors constant.
///
/// # Errors
/// Fewer than four pairs, different lengths, NaN, a ratio outside 1e-6 to 1e6, a level outside
/// 0.5-0.999. A line that can't be told (no covariance) is no error but a missing estimate.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::lines::deming;
/// let line = deming(&[1.0, 2.0, 3.0, 4.0], &[3.0, 5.0, 7.0, 9.0], 1.0, 0.95)?;
/// assert!((line.slope.value.unwrap() - 2.0).abs() < 1e-12);
/// assert!((line.intercept.value.unwrap() - 1.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn deming(x: &[f64], y: &[f64], variance_ratio: f64, level: f64) -> Result<MethodLine, Error> {
    check(x, y, variance_ratio, level)?;
    let fit = |x: &[f64], y: &[f64]| ordinary(x, y, variance_ratio);
    Ok(jackknifed(x, y, level, "Deming, jackknife", fit))
}

/// Deming's line of n >= 4 pairs, both errors proportional to the level.
///
/// # Errors
/// As [`deming`], and for values that are not positive.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::lines::weighted_deming;
/// let line = weighted_deming(&[1.0, 2.0, 3.0, 4.0], &[3.0, 5.0, 7.0, 9.0], 1.0, 0.95)?;
/// assert!((line.slope.value.unwrap() - 2.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn weighted_deming(
    x: &[f64],
    y: &[f64],
    variance_ratio: f64,
    level: f64,
) -> Result<MethodLine, Error> {
    check(x, y, variance_ratio, level)?;
    for (name, values) in [("x", x), ("y", y)] {
        if let Some(index) = values.iter().position(|&v| v <= 0.0) {
            return Err(Error::OutOfRange {
                name,
                index: Some(index),
                value: values[index],
                low: f64::MIN_POSITIVE,
                high: f64::MAX,
            });
        }
    }
    let fit = |x: &[f64], y: &[f64]| weighted(x, y, variance_ratio);
    Ok(jackknifed(x, y, level, "weighted Deming, jackknife", fit))
}

fn check(x: &[f64], y: &[f64], variance_ratio: f64, level: f64) -> Result<(), Error> {
    require_same_len("y", x.len(), y.len())?;
    require_all_finite("x", x)?;
    require_all_finite("y", y)?;
    require_within("variance_ratio", variance_ratio, 1e-6, 1e6)?;
    require_within("level", level, 0.5, 0.999)?;
    if x.len() < MIN_PAIRS {
        let measure = "a line between two methods";
        return Err(Error::TooFewValues { measure, needed: MIN_PAIRS, got: x.len() });
    }
    Ok(())
}

/// (slope, intercept).
pub(super) type Line = Option<(f64, f64)>;

pub(super) fn ordinary(x: &[f64], y: &[f64], ratio: f64) -> Line {
    weighted_by(x, y, &vec![1.0; x.len()], ratio)
}

/// The line with given weights about the weighted means.
fn weighted_by(x: &[f64], y: &[f64], w: &[f64], ratio: f64) -> Line {
    let total: f64 = w.iter().sum();
    let mean = |v: &[f64]| v.iter().zip(w).map(|(v, w)| v * w).sum::<f64>() / total;
    let (mx, my) = (mean(x), mean(y));
    let (mut sxx, mut syy, mut sxy) = (0.0, 0.0, 0.0);
    for ((x, y), w) in x.iter().zip(y).zip(w) {
        sxx += w * (x - mx) * (x - mx);
        syy += w * (y - my) * (y - my);
        sxy += w * (x - mx) * (y - my);
    }
    // Without covariance the line is flat, upright or any.
    if sxy.abs() <= 1e-14 * (sxx * syy).sqrt() {
        return None;
    }
    let a = syy - ratio * sxx;
    let root = (a * a + 4.0 * ratio * sxy * sxy).sqrt();
    // The two forms are equal; each avoids a difference of nearly equal numbers.
    let slope = if a > 0.0 { (a + root) / (2.0 * sxy) } else { 2.0 * ratio * sxy / (root - a) };
    let line = (slope, my - slope * mx);
    (line.0.is_finite() && line.1.is_finite()).then_some(line)
}

/// Iterates the weights until the line stands still.
fn weighted(x: &[f64], y: &[f64], ratio: f64) -> Line {
    let inverse = 1.0 / ratio;
    let (mut slope, mut intercept) = ordinary(x, y, ratio)?;
    for _ in 0..500 {
        let weight = |(x, y): (&f64, &f64)| {
            let off = y - intercept - slope * x;
            let share = 1.0 + inverse * slope * slope;
            let true_x = x + inverse * slope * off / share;
            let true_y = y - off / share;
            let level = (true_x + inverse * true_y) / (1.0 + inverse);
            1.0 / (level * level)
        };
        let w: Vec<f64> = x.iter().zip(y).map(weight).collect();
        let next = weighted_by(x, y, &w, ratio)?;
        let moved = (next.0 - slope).abs() + (next.1 - intercept).abs();
        (slope, intercept) = next;
        if moved <= 1e-13 * (slope.abs() + intercept.abs() + 1.0) {
            return Some((slope, intercept));
        }
    }
    None
}

fn jackknifed(
    x: &[f64],
    y: &[f64],
    level: f64,
    method: &str,
    fit: impl Fn(&[f64], &[f64]) -> Line,
) -> MethodLine {
    let n = x.len();
    let missing = |reason| Estimate::missing(level, method, n, MIN_PAIRS, reason);
    let Some((slope, intercept)) = fit(x, y) else {
        let reason = Reason::plain("no_line", "the values don't settle a line");
        let (slope, intercept) = (missing(reason.clone()), missing(reason));
        return MethodLine { n, slope, intercept, slope_se: None, intercept_se: None };
    };
    let without = |i: usize| {
        let leave = |v: &[f64]| [&v[..i], &v[i + 1..]].concat();
        fit(&leave(x), &leave(y))
    };
    let size = n as f64;
    let pseudo: Option<Vec<(f64, f64)>> = (0..n)
        .map(|i| {
            let (b, a) = without(i)?;
            Some((size * slope - (size - 1.0) * b, size * intercept - (size - 1.0) * a))
        })
        .collect();
    let Some(pseudo) = pseudo else {
        let reason = Reason::plain("no_jackknife", "one pair less leaves no line");
        let bare = |value| Estimate { value: Some(value), ..missing(reason.clone()) };
        let (slope, intercept) = (bare(slope), bare(intercept));
        return MethodLine { n, slope, intercept, slope_se: None, intercept_se: None };
    };
    let t = t_two_sided(level, size - 2.0);
    let se = |values: Vec<f64>| moments::sd(&values).unwrap_or(0.0) / size.sqrt();
    let slope_se = se(pseudo.iter().map(|p| p.0).collect());
    let intercept_se = se(pseudo.iter().map(|p| p.1).collect());
    let with = |value: f64, se: f64| {
        Estimate::new(value, value - t * se, value + t * se, level, method, n).needing(MIN_PAIRS)
    };
    MethodLine {
        n,
        slope: with(slope, slope_se),
        intercept: with(intercept, intercept_se),
        slope_se: Some(slope_se),
        intercept_se: Some(intercept_se),
    }
}

#[cfg(test)]
#[path = "lines_tests.rs"]
mod tests;
