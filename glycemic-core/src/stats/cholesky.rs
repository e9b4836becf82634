//! Symmetric positive definite systems by Cholesky's factor.
//!
//! # Method
//! A = L Lᵀ with L lower triangular, row by row; a solution is a substitution forward and one
//! backward. Matrices are rows of equal length, and only the lower triangle of A is read.
//!
//! # Source
//! Golub GH, Van Loan CF. Matrix computations, 4th ed. (2013), section 4.2, from memory.

/// A square matrix of `n` rows from its entries.
pub(crate) fn matrix(n: usize, entry: impl Fn(usize, usize) -> f64) -> Vec<Vec<f64>> {
    (0..n).map(|i| (0..n).map(|j| entry(i, j)).collect()).collect()
}

/// The lower triangle L of A; `None` when A is not positive definite.
pub(crate) fn factor(a: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    factor_independent(a, 0.0)
}

/// As [`factor`]; `None` too where a row leaves no more than the share `least` of its diagonal
/// entry beside the rows before it. Of sums of products, that is a column which the others
/// explain: rounding leaves something of it.
pub(crate) fn factor_independent(a: &[Vec<f64>], least: f64) -> Option<Vec<Vec<f64>>> {
    let mut low: Vec<Vec<f64>> = Vec::with_capacity(a.len());
    for wanted in a {
        let mut row: Vec<f64> = Vec::with_capacity(low.len() + 1);
        for (want, above) in wanted.iter().zip(&low) {
            let known = dot(&row, above);
            row.push((want - known) / above[row.len()]);
        }
        let whole = wanted[row.len()];
        let rest = whole - dot(&row, &row);
        if !rest.is_finite() || rest <= least * whole.abs() {
            return None;
        }
        row.push(rest.sqrt());
        low.push(row);
    }
    Some(low)
}

/// The solution of L z = b; of the first rows where `b` is shorter.
pub(crate) fn forward(low: &[Vec<f64>], mut b: Vec<f64>) -> Vec<f64> {
    for (i, row) in low.iter().take(b.len()).enumerate() {
        b[i] = (b[i] - dot(&row[..i], &b)) / row[i];
    }
    b
}

/// The solution of Lᵀ x = z; of the first rows where `z` is shorter.
pub(crate) fn backward(low: &[Vec<f64>], mut z: Vec<f64>) -> Vec<f64> {
    for (i, row) in low.iter().take(z.len()).enumerate().rev() {
        let x = z[i] / row[i];
        z[i] = x;
        for (rest, a) in z.iter_mut().zip(&row[..i]) {
            *rest -= a * x;
        }
    }
    z
}

/// The solution of A x = b; of the first rows and columns where `b` is shorter.
pub(crate) fn solve(low: &[Vec<f64>], b: Vec<f64>) -> Vec<f64> {
    backward(low, forward(low, b))
}

/// The inverse of A.
pub(crate) fn inverse(low: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = low.len();
    let unit = |i: usize| (0..n).map(|j| if i == j { 1.0 } else { 0.0 }).collect();
    // Columns are rows: the inverse is symmetric.
    (0..n).map(|i| solve(low, unit(i))).collect()
}

/// The natural logarithm of the determinant of A.
pub(crate) fn log_determinant(low: &[Vec<f64>]) -> f64 {
    low.iter().enumerate().map(|(i, row)| 2.0 * libm::log(row[i])).sum()
}

/// The sum of products, in order; of the shorter length.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 4 2 0 / 2 5 4 / 0 4 5 = L Lᵀ with rows (2), (1 2), (0 2 1), so the determinant is
    /// (2 · 2 · 1)² = 16 and the inverse is the adjugate over 16.
    #[test]
    fn a_system_of_three_by_hand() {
        let a = [vec![4.0, 2.0, 0.0], vec![2.0, 5.0, 4.0], vec![0.0, 4.0, 5.0]];
        let low = factor(&a).unwrap();
        assert_eq!(low, [vec![2.0], vec![1.0, 2.0], vec![0.0, 2.0, 1.0]]);
        assert_eq!(forward(&low, vec![6.0, 11.0, 9.0]), [3.0, 4.0, 1.0]);
        assert_eq!(backward(&low, vec![3.0, 4.0, 1.0]), [1.0; 3]);
        assert_eq!(solve(&low, vec![6.0, 11.0, 9.0]), [1.0; 3]);
        assert_eq!(solve(&low, vec![6.0, 7.0]), [1.0; 2]);
        let adjugate = [[9.0, -10.0, 8.0], [-10.0, 20.0, -16.0], [8.0, -16.0, 16.0]];
        assert_eq!(inverse(&low), adjugate.map(|row| row.map(|v| v / 16.0).to_vec()));
        assert!((log_determinant(&low) - libm::log(16.0)).abs() < 1e-15);
    }

    /// Closed form: the matrix with min(i, j) has a factor of ones, determinant 1, and an inverse
    /// with 2 on the diagonal (1 at the end) and -1 beside it.
    #[test]
    fn the_matrix_of_least_places() {
        let n = 40;
        let low = factor(&matrix(n, |i, j| 1.0 + i.min(j) as f64)).unwrap();
        assert!(low.iter().all(|row| row.iter().all(|v| *v == 1.0)));
        assert_eq!(log_determinant(&low), 0.0);
        let closed = matrix(n, |i, j| match i.abs_diff(j) {
            0 if i + 1 == n => 1.0,
            0 => 2.0,
            1 => -1.0,
            _ => 0.0,
        });
        assert_eq!(inverse(&low), closed);
    }

    #[test]
    fn what_is_not_positive_definite_has_no_factor() {
        assert!(factor(&[vec![1.0, 2.0], vec![2.0, 1.0]]).is_none());
        assert!(factor(&[vec![f64::NAN]]).is_none());
        assert!(factor(&[vec![f64::INFINITY]]).is_none());
        // One part in 10¹¹ is left of the second column.
        let nearly = [vec![1.0, 1.0], vec![1.0, 1.0 + 1e-11]];
        assert!(factor(&nearly).is_some() && factor_independent(&nearly, 1e-10).is_none());
        assert!(factor_independent(&nearly, 1e-12).is_some());
    }
}
