//! A weighted straight line, and where it reaches a level.
//!
//! # Method
//! Least squares about the weighted means. A weight is 1 over the variance of its y, up to a
//! common factor. Two covariances of the coefficients: of the model (one residual spread for
//! all) and HC3, which stands even if the spread differs from point to point. Where the mean
//! meets a level, the set of x is that which a test at the level does not refuse; it may be
//! an interval, open, or everything.
//!
//! # Units
//! Whatever units x and y have.
//!
//! # Source
//! Draper NR, Smith H. Applied regression analysis, 3rd ed. 1998. MacKinnon JG, White H. J
//! Econometrics 1985; 29: 305-325 (HC3). Fieller EC. J R Stat Soc B 1954; 16: 175-185.

use super::distribution::t_two_sided;
use crate::error::{self, Error};
use crate::estimate::Estimate;

/// A covariance of (intercept, slope).
pub type Covariance = [[f64; 2]; 2];

/// A straight line fitted to points.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The fitted y at x = 0.
    pub intercept: f64,
    /// The rise of y for one more unit of x.
    pub slope: f64,
    /// Points with a weight above 0.
    pub n: usize,
    /// The weighted mean of x.
    pub x_mean: f64,
    /// The residual spread at weight 1, with n - 2 below the line.
    pub residual_sd: f64,
    /// Covariance of (intercept, slope) if the weights are right.
    pub cov_model: Covariance,
    /// Covariance of (intercept, slope) whether or not they are: HC3.
    pub cov_hc3: Covariance,
    /// y less the fitted y, in the order of the points.
    pub residuals: Vec<f64>,
    /// The pull of each point on its own fitted value, from 0 to 1.
    pub leverage: Vec<f64>,
}

impl Line {
    /// The fitted y at `x`.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::line::weighted;
    /// let line = weighted(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0], &[1.0; 3])?;
    /// assert_eq!(line.at(10.0), 21.0);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// The slope with its interval by [`cov_hc3`](Line::cov_hc3), t with n - 2 degrees of freedom.
    pub fn slope_estimate(&self, level: f64, method: &str) -> Estimate {
        let half = t_two_sided(level, self.n as f64 - 2.0) * self.cov_hc3[1][1].max(0.0).sqrt();
        Estimate::new(self.slope, self.slope - half, self.slope + half, level, method, self.n)
    }

    /// The variance of the fitted y at `x` by a covariance of (intercept, slope).
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::line::Line;
    /// // 4 - 2 × 3 × 1 + 3² × 0.5.
    /// assert_eq!(Line::variance_at(3.0, &[[4.0, -1.0], [-1.0, 0.5]]), 2.5);
    /// ```
    pub fn variance_at(x: f64, cov: &Covariance) -> f64 {
        cov[0][0] + x * (cov[0][1] + cov[1][0]) + x * x * cov[1][1]
    }
}

/// Fits a straight line to points (`x`, `y`) with weights `w`, all of length n ≥ 3.
///
/// Points of weight 0 do not count, but keep their place in `residuals` and `leverage`. A
/// point that alone decides the slope (leverage 1) has no residual to learn from: in
/// `cov_hc3` it takes the model's spread. Source: Draper and Smith (1998).
///
/// # Errors
/// [`LengthMismatch`](Error::LengthMismatch), [`NotFinite`](Error::NotFinite),
/// [`OutOfRange`](Error::OutOfRange) for a negative weight, and
/// [`TooFewValues`](Error::TooFewValues) for fewer than 3 points or a single x.
///
/// # Example
/// ```
/// # use glycemic_core::stats::line::weighted;
/// // Residuals 1, -2, 1 about 1 + 2x: their squares sum to 6, over one degree of freedom.
/// let line = weighted(&[0.0, 1.0, 2.0], &[2.0, 1.0, 6.0], &[1.0; 3])?;
/// assert_eq!((line.intercept, line.slope), (1.0, 2.0));
/// assert!((line.residual_sd - 6.0_f64.sqrt()).abs() < 1e-15);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn weighted(x: &[f64], y: &[f64], w: &[f64]) -> Result<Line, Error> {
    check(x, y, w)?;
    let n = w.iter().filter(|w| **w > 0.0).count();
    if n < 3 {
        return Err(Error::TooFewValues { measure: "a straight line", needed: 3, got: n });
    }
    let total: f64 = w.iter().sum();
    let (x_mean, y_mean) = (weighted_mean(x, w, total), weighted_mean(y, w, total));
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for ((x, y), w) in x.iter().zip(y).zip(w) {
        let dx = x - x_mean;
        sxx += w * dx * dx;
        sxy += w * dx * (y - y_mean);
    }
    if one_x(x, w) || sxx <= 0.0 || !sxx.is_finite() {
        let measure = "a straight line (different x)";
        return Err(Error::TooFewValues { measure, needed: 2, got: 1 });
    }
    let slope = sxy / sxx;
    let residuals: Vec<f64> =
        x.iter().zip(y).map(|(x, y)| (y - y_mean) - slope * (x - x_mean)).collect();
    let leverage: Vec<f64> = x
        .iter()
        .zip(w)
        .map(|(x, w)| (w * (1.0 / total + (x - x_mean) * (x - x_mean) / sxx)).min(1.0))
        .collect();
    let squares: f64 = residuals.iter().zip(w).map(|(r, w)| w * r * r).sum();
    let variance = squares / (n - 2) as f64;
    let centred = [[variance / total, 0.0], [0.0, variance / sxx]];
    let robust = robust_about_mean(x, w, &residuals, &leverage, variance, (total, x_mean, sxx));
    Ok(Line {
        intercept: y_mean - slope * x_mean,
        slope,
        n,
        x_mean,
        residual_sd: variance.sqrt(),
        cov_model: at_zero(&centred, x_mean),
        cov_hc3: at_zero(&robust, x_mean),
        residuals,
        leverage,
    })
}

fn check(x: &[f64], y: &[f64], w: &[f64]) -> Result<(), Error> {
    error::require_same_len("y", x.len(), y.len())?;
    error::require_same_len("w", x.len(), w.len())?;
    error::require_all_finite("x", x)?;
    error::require_all_finite("y", y)?;
    error::require_all_finite("w", w)?;
    match w.iter().position(|w| *w < 0.0) {
        Some(i) => Err(Error::OutOfRange {
            name: "w",
            index: Some(i),
            value: w[i],
            low: 0.0,
            high: f64::MAX,
        }),
        None => Ok(()),
    }
}

/// The weighted mean, corrected once for the rounding of the first sum.
fn weighted_mean(values: &[f64], w: &[f64], total: f64) -> f64 {
    let rough = values.iter().zip(w).map(|(v, w)| w * v).sum::<f64>() / total;
    rough + values.iter().zip(w).map(|(v, w)| w * (v - rough)).sum::<f64>() / total
}

fn one_x(x: &[f64], w: &[f64]) -> bool {
    let mut used = x.iter().zip(w).filter(|(_, w)| **w > 0.0).map(|(x, _)| *x);
    match used.next() {
        Some(first) => used.all(|x| x == first),
        None => true,
    }
}

/// HC3 of (mean y, slope): each point's own residual, scaled up by its leverage.
fn robust_about_mean(
    x: &[f64],
    w: &[f64],
    residuals: &[f64],
    leverage: &[f64],
    variance: f64,
    (total, x_mean, sxx): (f64, f64, f64),
) -> Covariance {
    let mut cov = [[0.0; 2]; 2];
    for i in 0..x.len() {
        if w[i] <= 0.0 {
            continue;
        }
        let free = 1.0 - leverage[i];
        let spread = if free > 1e-10 {
            (residuals[i] / free) * (residuals[i] / free)
        } else {
            variance / w[i]
        };
        // How far the mean and the slope move when this y does.
        let (mean, slope) = (w[i] / total, w[i] * (x[i] - x_mean) / sxx);
        cov[0][0] += spread * mean * mean;
        cov[0][1] += spread * mean * slope;
        cov[1][1] += spread * slope * slope;
    }
    cov[1][0] = cov[0][1];
    cov
}

/// From (y at the mean of x, slope) to (y at x = 0, slope).
fn at_zero(c: &Covariance, x_mean: f64) -> Covariance {
    let across = c[0][1] - x_mean * c[1][1];
    [[c[0][0] - 2.0 * x_mean * c[0][1] + x_mean * x_mean * c[1][1], across], [across, c[1][1]]]
}

/// What kind of set the x are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    /// An interval with two ends.
    Bounded,
    /// At least one side has no end.
    Open,
    /// No x can be ruled out.
    Everything,
}

/// Where a line reaches a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inverse {
    /// The x at which the fitted line is at the level; `None` when the line is flat.
    pub value: Option<f64>,
    /// The lower end; `None` when that side is open.
    pub low: Option<f64>,
    /// The upper end; `None` when that side is open.
    pub high: Option<f64>,
    /// What kind of set it is.
    pub set: Set,
    /// The x ruled out when the set is all but a middle part. The set then is two half-lines;
    /// `low` or `high` belongs to the one with `value`, and the other holds the x that a
    /// slope of the opposite sign would give.
    pub ruled_out: Option<(f64, f64)>,
}

/// The x at which the mean of y is `y0`, with its set at `level`, by a covariance `cov` of the
/// line (`cov_model` or `cov_hc3`).
///
/// The set is {x : (y0 - a - bx)² ≤ t² Var(a + bx)}, t with n - 2 degrees of freedom. An
/// argument that is not finite, or a level not between 0 and 1, rules nothing out. Source:
/// Fieller (1954).
///
/// # Example
/// ```
/// # use glycemic_core::stats::line::{Set, inverse, weighted};
/// let line = weighted(&[0.0, 1.0, 2.0, 3.0], &[1.0, 3.0, 5.0, 7.0], &[1.0; 4])?;
/// // The points lie on 1 + 2x, which is 4 at x = 1.5, without doubt.
/// let at = inverse(&line, 4.0, 0.95, &line.cov_model);
/// assert_eq!((at.low, at.value, at.high), (Some(1.5), Some(1.5), Some(1.5)));
/// assert_eq!(at.set, Set::Bounded);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn inverse(line: &Line, y0: f64, level: f64, cov: &Covariance) -> Inverse {
    inverse_reading(line, y0, level, cov, 0.0)
}

/// As [`inverse`], for a new y that came out as `y0`: `extra_variance` is the variance of
/// that y about its mean, and is added to the variance of the line at every x.
///
/// For the mean of m new readings of weight 1 it is `residual_sd`² / m. Source: Draper and
/// Smith (1998), section 3.2.
///
/// # Example
/// ```
/// # use glycemic_core::stats::line::{inverse_reading, weighted};
/// let line = weighted(&[0.0, 1.0, 2.0, 3.0], &[1.0, 3.0, 5.0, 7.0], &[1.0; 4])?;
/// let at = inverse_reading(&line, 4.0, 0.95, &line.cov_model, 0.01);
/// // The t with 2 degrees of freedom is 4.3027; ± 4.3027 × 0.1 in y is ± 0.2151 in x.
/// assert!((at.high.unwrap() - 1.7151).abs() < 1e-4);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn inverse_reading(
    line: &Line,
    y0: f64,
    level: f64,
    cov: &Covariance,
    extra_variance: f64,
) -> Inverse {
    let t = t_two_sided(level, line.n.saturating_sub(2) as f64);
    let slope_variance = cov[1][1].max(0.0);
    // Measured from the x where the line is known best the two errors are uncorrelated.
    let origin = if slope_variance > 0.0 { -cov[0][1] / slope_variance } else { line.x_mean };
    let least = Line::variance_at(origin, cov).max(0.0) + extra_variance;
    let above = (y0 - line.intercept) - line.slope * origin;
    let value = Some(origin + above / line.slope).filter(|x| x.is_finite());
    // (above - slope u)² ≤ t² (least + slope_variance u²), for u = x - origin.
    let square = line.slope * line.slope - t * t * slope_variance;
    let under_root = slope_variance * above * above + least * square;
    let nothing = Inverse { value, low: None, high: None, set: Set::Everything, ruled_out: None };
    if !(under_root >= 0.0 && t.is_finite() && square.is_finite()) {
        return nothing;
    }
    let half = t * under_root.sqrt();
    let constant = above * above - t * t * least;
    let middle = line.slope * above;
    // The larger root in size by adding, the other by the product of the two.
    let sum = if middle < 0.0 { middle - half } else { middle + half };
    let (one, other) = (origin + sum / square, origin + constant / sum);
    if square > 0.0 {
        let (one, other) = if sum == 0.0 { (origin, origin) } else { (one, other) };
        let (low, high) = (Some(one.min(other)), Some(one.max(other)));
        return Inverse { low, high, set: Set::Bounded, ..nothing };
    }
    let ends = (one.min(other), one.max(other));
    match value {
        // The slope is exactly on the border of its own test: one root has gone to infinity.
        Some(x) if square == 0.0 && other.is_finite() => {
            let (low, high) = if x < other { (None, Some(other)) } else { (Some(other), None) };
            Inverse { low, high, set: Set::Open, ..nothing }
        }
        _ if !(ends.0.is_finite() && ends.1.is_finite()) => nothing,
        Some(x) if x <= ends.0 => {
            Inverse { high: Some(ends.0), set: Set::Open, ruled_out: Some(ends), ..nothing }
        }
        Some(x) if x >= ends.1 => {
            Inverse { low: Some(ends.1), set: Set::Open, ruled_out: Some(ends), ..nothing }
        }
        _ => Inverse { set: Set::Open, ruled_out: Some(ends), ..nothing },
    }
}

#[cfg(test)]
#[path = "line_tests.rs"]
mod tests;
