//! A linear model with random parts: groups and covariates that are shrunk together.
//!
//! # Method
//! y = X b + Z u + e. The columns of Z come in parts; the coefficients of one part have one
//! variance, `ratio` times the residual variance, and shrink towards 0 as the data say. Ratios
//! maximise the restricted likelihood, one part at a time by golden section; a part whose best
//! ratio is 0 is left out. Coefficients and their covariance come from Henderson's equations, so
//! a sum of fixed and random coefficients has the variance of its error.
//!
//! # Units
//! Whatever the columns have. A weight is 1 over the variance of its y, up to a common factor.
//!
//! # Source
//! Patterson HD, Thompson R. Biometrika 1971; 58: 545-554. Henderson CR. Biometrics 1975; 31:
//! 423-447.

use super::cholesky::{backward, factor_independent, forward, inverse, log_determinant};
use crate::error::{self, Error};

/// A fitted model.
#[derive(Clone, Debug, PartialEq)]
pub struct Mixed {
    /// Coefficients: of the fixed columns, then of the random ones, part after part.
    pub coefficients: Vec<f64>,
    /// Covariance of the errors of `coefficients`.
    pub covariance: Vec<Vec<f64>>,
    /// Residual variance at weight 1.
    pub residual_variance: f64,
    /// For each part, the variance of its coefficients over the residual variance.
    pub ratios: Vec<f64>,
    /// -2 times the restricted log-likelihood.
    pub criterion: f64,
    /// Degrees of freedom that the coefficients take, from the number of fixed ones on.
    pub taken: f64,
}

impl Mixed {
    /// The sum of `factors` times the coefficients, and the variance of its error.
    ///
    /// Factors that are missing at the end count as 0.
    pub fn combination(&self, factors: &[f64]) -> (f64, f64) {
        let value = self.coefficients.iter().zip(factors).map(|(b, f)| b * f).sum();
        let rows = self.covariance.iter().zip(factors);
        let variance: f64 =
            rows.map(|(row, f)| f * row.iter().zip(factors).map(|(c, f)| c * f).sum::<f64>()).sum();
        (value, variance.max(0.0))
    }
}

/// Fits n values `y` with `weights` on fixed columns and parts of random columns, all of length n.
///
/// `None` when the fixed columns cannot be told apart, or the residuals are all 0.
///
/// # Errors
/// [`LengthMismatch`](Error::LengthMismatch), [`NotFinite`](Error::NotFinite), and
/// [`TooFewValues`](Error::TooFewValues) unless n is above the number of fixed columns.
///
/// # Example
/// ```
/// # use glycemic_core::stats::mixed::reml;
/// // Four groups of two: the group means 1, 3, 5, 7 differ far more than their halves.
/// let y = [0.9, 1.1, 2.9, 3.1, 4.9, 5.1, 6.9, 7.1];
/// let group = |k: usize| (0..8).map(|i| f64::from(u8::from(i / 2 == k))).collect::<Vec<f64>>();
/// let parts = [(0..4).map(group).collect::<Vec<_>>()];
/// let model = reml(&y, &[1.0; 8], &[vec![1.0; 8]], &parts)?.unwrap();
/// // Balanced groups: the analysis of variance gives 0.02 within and 20/3 - 0.02/2 between.
/// assert!((model.residual_variance - 0.02).abs() < 1e-6);
/// assert!((model.ratios[0] * model.residual_variance - (20.0 / 3.0 - 0.01)).abs() < 1e-3);
/// assert!((model.coefficients[0] - 4.0).abs() < 1e-9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn reml(
    y: &[f64],
    weights: &[f64],
    fixed: &[Vec<f64>],
    parts: &[Vec<Vec<f64>>],
) -> Result<Option<Mixed>, Error> {
    fit(Design::new(y, weights, fixed, parts)?, parts.len())
}

/// As [`reml`], but a part of three columns or more never loses its variance.
///
/// With few groups the likelihood is often greatest at a variance of 0, which would claim that the
/// groups are known to be alike. The standard deviation of each such part is penalised by its
/// logarithm, which moves it about one standard error off 0. Source: Chung Y and others.
/// Psychometrika 2013; 78: 685-709.
///
/// # Errors
/// As [`reml`].
pub fn reml_off_zero(
    y: &[f64],
    weights: &[f64],
    fixed: &[Vec<f64>],
    parts: &[Vec<Vec<f64>>],
) -> Result<Option<Mixed>, Error> {
    let mut design = Design::new(y, weights, fixed, parts)?;
    design.off_zero = parts.iter().map(|p| p.len() >= 3).collect();
    fit(design, parts.len())
}

/// The model at stated ratios, one a part, without a search.
///
/// `None` and errors as for [`reml`].
pub fn at_ratios(
    y: &[f64],
    weights: &[f64],
    fixed: &[Vec<f64>],
    parts: &[Vec<Vec<f64>>],
    ratios: &[f64],
) -> Result<Option<Mixed>, Error> {
    error::require_same_len("ratios", parts.len(), ratios.len())?;
    error::require_all_finite("ratios", ratios)?;
    Ok(Design::new(y, weights, fixed, parts)?.solve(ratios))
}

fn fit(design: Design, parts: usize) -> Result<Option<Mixed>, Error> {
    let mut ratios = vec![0.0; parts];
    let mut best = design.penalised(&ratios);
    // Parts hardly depend on each other: a few rounds settle them.
    for _ in 0..4 {
        let before = best;
        for part in 0..parts {
            let (ratio, criterion) = best_ratio(&design, &ratios, part);
            (ratios[part], best) = (ratio, criterion);
        }
        if (before - best).abs() < 1e-6 {
            break;
        }
    }
    Ok(design.solve(&ratios))
}

/// Natural logarithms of the least and the greatest ratio tried above 0.
const LOG_RATIOS: (f64, f64) = (-10.0, 8.0);

/// The ratio of `part` with the least criterion, the others as they are.
fn best_ratio(design: &Design, ratios: &[f64], part: usize) -> (f64, f64) {
    let at = |ratio: f64| {
        let mut tried = ratios.to_vec();
        tried[part] = ratio;
        design.penalised(&tried)
    };
    let steps = 12;
    let step = (LOG_RATIOS.1 - LOG_RATIOS.0) / f64::from(steps);
    let grid = |k: i32| LOG_RATIOS.0 + step * f64::from(k);
    let mut best = (0.0, at(0.0));
    let mut around = None;
    for k in 0..=steps {
        let found = at(libm::exp(grid(k)));
        if found < best.1 {
            best = (libm::exp(grid(k)), found);
            around = Some(grid(k));
        }
    }
    let Some(middle) = around else { return best };
    // Golden section.
    let share = 0.5 * (5.0f64.sqrt() - 1.0);
    let (mut low, mut high) = (middle - step, middle + step);
    for _ in 0..24 {
        let (one, other) = (high - share * (high - low), low + share * (high - low));
        if at(libm::exp(one)) < at(libm::exp(other)) { high = other } else { low = one }
    }
    let ratio = libm::exp(0.5 * (low + high));
    let found = at(ratio);
    if found < best.1 { (ratio, found) } else { best }
}

/// Sums of products, made once.
struct Design {
    n: usize,
    fixed: usize,
    /// For each random column, its part.
    part_of: Vec<usize>,
    /// Weighted cross-products of all columns.
    cross: Vec<Vec<f64>>,
    /// The same with y.
    with_y: Vec<f64>,
    y_squares: f64,
    log_weights: f64,
    /// Parts whose variance is kept off 0.
    off_zero: Vec<bool>,
}

impl Design {
    fn new(
        y: &[f64],
        weights: &[f64],
        fixed: &[Vec<f64>],
        parts: &[Vec<Vec<f64>>],
    ) -> Result<Design, Error> {
        error::require_all_finite("y", y)?;
        error::require_same_len("weights", y.len(), weights.len())?;
        error::require_all_finite("weights", weights)?;
        let columns: Vec<&Vec<f64>> = fixed.iter().chain(parts.iter().flatten()).collect();
        for column in &columns {
            error::require_same_len("columns", y.len(), column.len())?;
            error::require_all_finite("columns", column)?;
        }
        if y.len() <= fixed.len() {
            let (needed, got) = (fixed.len() + 1, y.len());
            return Err(Error::TooFewValues { measure: "a mixed model", needed, got });
        }
        let dot = |a: &[f64], b: &[f64]| -> f64 {
            a.iter().zip(b).zip(weights).map(|((a, b), w)| a * b * w).sum()
        };
        Ok(Design {
            n: y.len(),
            fixed: fixed.len(),
            part_of: parts.iter().enumerate().flat_map(|(k, p)| vec![k; p.len()]).collect(),
            cross: columns.iter().map(|a| columns.iter().map(|b| dot(a, b)).collect()).collect(),
            with_y: columns.iter().map(|a| dot(a, y)).collect(),
            y_squares: dot(y, y),
            log_weights: weights.iter().map(|w| libm::log(*w)).sum(),
            off_zero: vec![false; parts.len()],
        })
    }

    /// Places of the columns in use: fixed ones and those of parts with a ratio above 0.
    fn used(&self, ratios: &[f64]) -> Vec<usize> {
        let random = self.part_of.iter().enumerate().filter(|(_, k)| ratios[**k] > 0.0);
        (0..self.fixed).chain(random.map(|(i, _)| self.fixed + i)).collect()
    }

    fn ratio(&self, column: usize, ratios: &[f64]) -> Option<f64> {
        column.checked_sub(self.fixed).map(|i| ratios[self.part_of[i]])
    }

    /// Henderson's equations as a Cholesky factor, with the columns in use.
    fn factor(&self, ratios: &[f64]) -> Option<(Vec<Vec<f64>>, Vec<usize>)> {
        let used = self.used(ratios);
        let mut c: Vec<Vec<f64>> =
            used.iter().map(|&i| used.iter().map(|&j| self.cross[i][j]).collect()).collect();
        for (place, &i) in used.iter().enumerate() {
            c[place][place] += self.ratio(i, ratios).map_or(0.0, |ratio| 1.0 / ratio);
        }
        Some((factor_independent(&c, 1e-12)?, used))
    }

    fn criterion(&self, ratios: &[f64]) -> f64 {
        let Some((l, used)) = self.factor(ratios) else { return f64::INFINITY };
        let free = (self.n - self.fixed) as f64;
        let rhs: Vec<f64> = used.iter().map(|&i| self.with_y[i]).collect();
        let half = forward(&l, rhs);
        let squares = self.y_squares - half.iter().map(|h| h * h).sum::<f64>();
        if squares <= 1e-12 * self.y_squares {
            return f64::INFINITY;
        }
        let determinant = log_determinant(&l);
        let spread: f64 = used.iter().filter_map(|&i| self.ratio(i, ratios)).map(libm::log).sum();
        let two_pi = 2.0 * std::f64::consts::PI;
        free * (1.0 + libm::log(two_pi * squares / free)) + determinant + spread - self.log_weights
    }

    fn penalised(&self, ratios: &[f64]) -> f64 {
        let kept = ratios.iter().zip(&self.off_zero).filter(|(_, off_zero)| **off_zero);
        // -2 log of the standard deviation; without a variance there is no reward.
        let reward: f64 = kept.filter(|(r, _)| **r > 0.0).map(|(r, _)| libm::log(*r)).sum();
        self.criterion(ratios) - reward - self.least_reward(ratios)
    }

    /// What a part without a variance is taken to have: that of the least ratio tried.
    fn least_reward(&self, ratios: &[f64]) -> f64 {
        let zero = ratios.iter().zip(&self.off_zero).filter(|(r, off)| **off && **r <= 0.0).count();
        zero as f64 * LOG_RATIOS.0
    }

    fn solve(&self, ratios: &[f64]) -> Option<Mixed> {
        let (l, used) = self.factor(ratios)?;
        let rhs: Vec<f64> = used.iter().map(|&i| self.with_y[i]).collect();
        let half = forward(&l, rhs);
        let squares = self.y_squares - half.iter().map(|h| h * h).sum::<f64>();
        let residual_variance = squares / (self.n - self.fixed) as f64;
        if residual_variance.is_nan() || squares <= 1e-12 * self.y_squares {
            return None;
        }
        let size = self.fixed + self.part_of.len();
        let mut covariance = vec![vec![0.0; size]; size];
        let mut taken = used.len() as f64;
        for ((place, &i), column) in used.iter().enumerate().zip(inverse(&l)) {
            taken -= self.ratio(i, ratios).map_or(0.0, |ratio| column[place] / ratio);
            for (value, &j) in column.iter().zip(&used) {
                covariance[i][j] = residual_variance * value;
            }
        }
        let mut coefficients = vec![0.0; size];
        for (value, &i) in backward(&l, half).iter().zip(&used) {
            coefficients[i] = *value;
        }
        Some(Mixed {
            coefficients,
            covariance,
            residual_variance,
            ratios: ratios.to_vec(),
            criterion: self.criterion(ratios),
            taken,
        })
    }
}

#[cfg(test)]
#[path = "mixed_tests.rs"]
mod tests;
