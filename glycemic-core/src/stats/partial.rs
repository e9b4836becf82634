//! One column's part in a linear model, the others taken off first.
//!
//! # Method
//! An orthonormal basis of a constant and the other columns (modified Gram-Schmidt, twice; a
//! column that adds nothing is dropped). What is left of outcome and exposure after projecting on
//! it gives the coefficient of the exposure in the full model. Its standard error: of the model;
//! HC3, each residual scaled up by its leverage; or from leaving out one cluster at a time.
//!
//! # Source
//! Frisch R, Waugh FV. Econometrica 1933; 1: 387-401. HC3: MacKinnon JG, White H. J Econom 1985;
//! 29: 305-325.

use super::cholesky::dot;
use crate::error::{Error, require_same_len};

/// Part of a column's length under which it counts as made up of the others.
const NOTHING: f64 = 1e-8;

/// An orthonormal basis of a constant and some columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Basis {
    n: usize,
    vectors: Vec<Vec<f64>>,
}

/// The exposure's coefficient and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Partial {
    /// The coefficient.
    pub value: f64,
    /// Standard error of the model.
    pub se: f64,
    /// Standard error by HC3.
    pub se_hc3: f64,
    /// Residual degrees of freedom.
    pub freedom: usize,
    /// Residual standard deviation.
    pub residual_sd: f64,
}

impl Basis {
    /// A constant and `columns`, each of length `n`.
    ///
    /// # Errors
    /// Columns of another length.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::partial::Basis;
    /// let basis = Basis::new(3, &[vec![1.0, 2.0, 3.0], vec![2.0, 4.0, 6.0]])?;
    /// // The second column says nothing new.
    /// assert_eq!(basis.rank(), 2);
    /// let left = basis.residual(&[1.0, 0.0, 1.0]);
    /// assert!((left[0] - 1.0 / 3.0).abs() < 1e-15);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn new(n: usize, columns: &[Vec<f64>]) -> Result<Basis, Error> {
        let mut basis = Basis { n, vectors: Vec::new() };
        basis.add(&vec![1.0; n]);
        for column in columns {
            require_same_len("columns", n, column.len())?;
            basis.add(column);
        }
        Ok(basis)
    }

    fn add(&mut self, column: &[f64]) {
        let length = dot(column, column).sqrt();
        let mut left = self.residual(column);
        left = self.residual(&left);
        let rest = dot(&left, &left).sqrt();
        if rest > NOTHING * length {
            left.iter_mut().for_each(|v| *v /= rest);
            self.vectors.push(left);
        }
    }

    /// Number of columns that count, the constant among them.
    pub fn rank(&self) -> usize {
        self.vectors.len()
    }

    /// What is left of `values` (as many as the basis has rows) after projection.
    pub fn residual(&self, values: &[f64]) -> Vec<f64> {
        let mut left = values.to_vec();
        for vector in &self.vectors {
            let part = dot(vector, &left);
            left.iter_mut().zip(vector).for_each(|(l, v)| *l -= part * v);
        }
        left
    }

    /// Root mean square error of rows left out one at a time (residual over 1 less leverage).
    pub(crate) fn left_out(&self, values: &[f64]) -> f64 {
        let off = self.residual(values);
        let one = |i: usize| off[i] / (1.0 - self.leverage(i)).max(1e-6);
        let squares: f64 = (0..self.n).map(|i| one(i) * one(i)).sum();
        (squares / self.n as f64).sqrt()
    }

    fn leverage(&self, row: usize) -> f64 {
        self.vectors.iter().map(|v| v[row] * v[row]).sum()
    }
}

/// The coefficient of `exposure` beside the columns of `basis`; `None` when the exposure is made
/// up of them or no degree of freedom is left.
///
/// # Errors
/// Lengths that differ from the basis.
///
/// # Example
/// ```
/// # use glycemic_core::stats::partial::{Basis, partial};
/// // y = 1 + 2 e + 3 z, exactly.
/// let z = vec![0.0, 1.0, 2.0, 3.0, 4.0];
/// let e = [1.0, 0.0, 0.0, 1.0, 0.0];
/// let y: Vec<f64> = z.iter().zip(&e).map(|(z, e)| 1.0 + 2.0 * e + 3.0 * z).collect();
/// let p = partial(&y, &e, &Basis::new(5, &[z])?)?.unwrap();
/// assert!((p.value - 2.0).abs() < 1e-12 && p.freedom == 2);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn partial(y: &[f64], exposure: &[f64], basis: &Basis) -> Result<Option<Partial>, Error> {
    require_same_len("outcome", basis.n, y.len())?;
    require_same_len("exposure", basis.n, exposure.len())?;
    let x = basis.residual(exposure);
    let sxx = dot(&x, &x);
    let used = basis.rank() + 1;
    if y.len() <= used || sxx <= NOTHING * dot(exposure, exposure) {
        return Ok(None);
    }
    let r = basis.residual(y);
    let value = dot(&x, &r) / sxx;
    let freedom = y.len() - used;
    let mut squares = 0.0;
    let mut robust = 0.0;
    for i in 0..y.len() {
        let e = r[i] - value * x[i];
        squares += e * e;
        let free = 1.0 - basis.leverage(i) - x[i] * x[i] / sxx;
        // A row that alone decides a coefficient has no residual to learn from.
        if free > 1e-10 {
            robust += (x[i] * e / free) * (x[i] * e / free);
        }
    }
    let variance = squares / freedom as f64;
    Ok(Some(Partial {
        value,
        se: (variance / sxx).sqrt(),
        se_hc3: robust.sqrt() / sxx,
        freedom,
        residual_sd: variance.sqrt(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::ols;

    #[test]
    fn the_same_as_the_whole_model() {
        let y = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0, 5.0];
        let e = [0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.0, 1.0, 0.0];
        let z = vec![2.0, 7.0, 1.0, 8.0, 2.0, 8.0, 1.0, 8.0, 2.0];
        let whole = ols::fit(&y, &[e.to_vec(), z.clone()]).unwrap().unwrap();
        let p = partial(&y, &e, &Basis::new(9, &[z]).unwrap()).unwrap().unwrap();
        assert!((p.value - whole.slopes[0]).abs() < 1e-12);
        assert!((p.se - whole.se[0]).abs() < 1e-12);
        assert_eq!(p.freedom, whole.freedom);
    }

    /// Two groups of two: HC3 doubles each residual of 1, so (4 + 4) / 4 + (4 + 4) / 4.
    #[test]
    fn hc3_by_hand() {
        let (y, e) = ([1.0, 3.0, 6.0, 8.0], [0.0, 0.0, 1.0, 1.0]);
        let p = partial(&y, &e, &Basis::new(4, &[]).unwrap()).unwrap().unwrap();
        assert!((p.value - 5.0).abs() < 1e-12 && (p.se_hc3 - 2.0).abs() < 1e-12);
    }

    #[test]
    fn an_exposure_made_of_the_others_is_not_told() {
        let z = vec![0.0, 1.0, 0.0, 1.0];
        let basis = Basis::new(4, std::slice::from_ref(&z)).unwrap();
        assert_eq!(partial(&[1.0, 2.0, 3.0, 4.0], &z, &basis).unwrap(), None);
        assert!(partial(&[1.0], &z, &basis).is_err());
    }
}
