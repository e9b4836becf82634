//! Least squares with a few columns, for adjusted contrasts.
//!
//! # Method
//! Normal equations by Cholesky on centred columns; at most about ten columns. Covariance of the
//! model: residual variance with n - p degrees of freedom.
//!
//! # Source
//! Draper and Smith, Applied Regression Analysis, 3rd ed. (1998), chapter 5.

use super::cholesky::{factor_independent, inverse};
use crate::error::{Error, require_same_len};

/// A fitted linear model with an intercept.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Coefficients of the columns; the intercept is not among them.
    pub slopes: Vec<f64>,
    /// Standard errors of the slopes.
    pub se: Vec<f64>,
    /// Residual degrees of freedom.
    pub freedom: usize,
    /// Residual standard deviation.
    pub residual_sd: f64,
}

/// Regresses `y` on `columns` (each of length n) and an intercept; `None` when the columns
/// depend on each other or n is too small.
///
/// # Errors
/// Columns of different lengths.
///
/// # Example
/// ```
/// # use glycemic_core::stats::ols::fit;
/// // y = 1 + 2a - b, exactly.
/// let (a, b) = (vec![0.0, 1.0, 2.0, 3.0], vec![0.0, 1.0, 0.0, 1.0]);
/// let f = fit(&[1.0, 2.0, 5.0, 6.0], &[a, b])?.unwrap();
/// assert!((f.slopes[0] - 2.0).abs() < 1e-12 && (f.slopes[1] + 1.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn fit(y: &[f64], columns: &[Vec<f64>]) -> Result<Option<Fit>, Error> {
    let (n, p) = (y.len(), columns.len());
    for column in columns {
        require_same_len("columns", n, column.len())?;
    }
    if n <= p + 1 {
        return Ok(None);
    }
    let centred = |v: &[f64]| -> Vec<f64> {
        let mean = v.iter().sum::<f64>() / n as f64;
        v.iter().map(|x| x - mean).collect()
    };
    let x: Vec<Vec<f64>> = columns.iter().map(|c| centred(c)).collect();
    let yc = centred(y);
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(u, v)| u * v).sum::<f64>();
    let gram: Vec<Vec<f64>> = x.iter().map(|a| x.iter().map(|b| dot(a, b)).collect()).collect();
    let Some(inverse) = invert(&gram) else { return Ok(None) };
    let xty: Vec<f64> = x.iter().map(|a| dot(a, &yc)).collect();
    let slopes: Vec<f64> = inverse.iter().map(|row| dot(row, &xty)).collect();
    let squares: f64 = (0..n)
        .map(|i| yc[i] - (0..p).map(|j| slopes[j] * x[j][i]).sum::<f64>())
        .map(|e| e * e)
        .sum();
    let freedom = n - p - 1;
    let variance = squares / freedom as f64;
    let se = (0..p).map(|j| (variance * inverse[j][j]).sqrt()).collect();
    Ok(Some(Fit { slopes, se, freedom, residual_sd: variance.sqrt() }))
}

/// Inverse of a symmetric positive definite matrix; `None` when it is not one.
pub(crate) fn invert(a: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    Some(inverse(&factor_independent(a, 1e-10)?))
}
