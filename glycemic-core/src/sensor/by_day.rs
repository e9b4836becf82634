//! Least squares where the values of a day belong together.
//!
//! # Method
//! With X_g, e_g the rows and residuals of day g, P the cross product of X and P₋g that without day g,
//! leaving the day out changes a coefficient c'b by -c'P₋g⁻¹X_g'e_g. The squares of these changes sum
//! to a variance (the jackknife over days, CR3), which is then scaled to be unbiased if all values were
//! independent; its degrees of freedom are Satterthwaite's under the same. With one column of ones and
//! days of equal size this is Student's t on the means of days.
//!
//! # Source
//! Bell RM, McCaffrey DF. Survey Methodology 2002; 28: 169-181 (from memory), there for another
//! adjustment of the residuals.

use std::collections::BTreeMap;

use crate::estimate::{Estimate, Reason};
use crate::stats::cholesky::dot;
use crate::stats::distribution::{normal_quantile, t_two_sided};
use crate::stats::ols::invert;

/// Degrees of freedom under which an interval says nothing.
const MIN_FREEDOM: f64 = 1.5;

type Matrix = Vec<Vec<f64>>;

/// A fit of n values on p columns.
pub(super) struct ByDay {
    /// One for each column.
    pub(super) coefficients: Vec<f64>,
    inverse: Matrix,
    days: Vec<OfDay>,
}

struct OfDay {
    /// Cross product of the day's rows.
    cross: Matrix,
    /// The day's rows times residuals.
    score: Vec<f64>,
    /// Inverse of the cross product without the day; `None` when the rest can't tell.
    without: Option<Matrix>,
}

/// Variance and degrees of freedom of a combination of coefficients.
pub(super) struct Spread {
    pub(super) se: f64,
    pub(super) freedom: f64,
}

fn times(matrix: &Matrix, vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, vector)).collect()
}

/// Coefficients of `y` on `columns` (no intercept is added); `None` when the columns depend on each
/// other.
pub(super) fn coefficients(columns: &[&[f64]], y: &[f64]) -> Option<Vec<f64>> {
    let cross: Matrix =
        columns.iter().map(|a| columns.iter().map(|b| dot(a, b)).collect()).collect();
    let xty: Vec<f64> = columns.iter().map(|a| dot(a, y)).collect();
    Some(times(&invert(&cross)?, &xty))
}

/// As [`coefficients`], with what an interval by days needs.
pub(super) fn fit(columns: &[&[f64]], y: &[f64], day: &[i64]) -> Option<ByDay> {
    let coefficients = coefficients(columns, y)?;
    let p = columns.len();
    let row = |i: usize| -> Vec<f64> { columns.iter().map(|c| c[i]).collect() };
    let mut sums: BTreeMap<i64, (Matrix, Vec<f64>)> = BTreeMap::new();
    let mut all = vec![vec![0.0; p]; p];
    for (i, (y, day)) in y.iter().zip(day).enumerate() {
        let row = row(i);
        let residual = y - dot(&row, &coefficients);
        let (cross, score) =
            sums.entry(*day).or_insert_with(|| (vec![vec![0.0; p]; p], vec![0.0; p]));
        for a in 0..p {
            for b in 0..p {
                cross[a][b] += row[a] * row[b];
                all[a][b] += row[a] * row[b];
            }
            score[a] += row[a] * residual;
        }
    }
    let inverse = invert(&all)?;
    let days = sums.into_values().map(|(cross, score)| {
        let rest: Matrix =
            (0..p).map(|a| (0..p).map(|b| all[a][b] - cross[a][b]).collect()).collect();
        OfDay { without: invert(&rest), cross, score }
    });
    Some(ByDay { coefficients, inverse, days: days.collect() })
}

impl ByDay {
    /// Number of days.
    pub(super) fn days(&self) -> usize {
        self.days.len()
    }

    /// `None` when a coefficient hangs on one day alone.
    pub(super) fn spread(&self, c: &[f64]) -> Option<Spread> {
        let (mut squares, mut trace) = (0.0, 0.0);
        let mut pulls = Vec::new();
        for day in &self.days {
            let k = times(day.without.as_ref()?, c);
            let change = dot(&k, &day.score);
            squares += change * change;
            let pull = times(&day.cross, &k);
            let own = dot(&k, &pull);
            trace += own - dot(&pull, &times(&self.inverse, &pull));
            pulls.push((own, pull));
        }
        let mut square_trace = 0.0;
        for (g, (own, pull)) in pulls.iter().enumerate() {
            let spread = times(&self.inverse, pull);
            for (h, (_, other)) in pulls.iter().enumerate() {
                let b = f64::from(u8::from(g == h)) * own - dot(&spread, other);
                square_trace += b * b;
            }
        }
        let model = dot(c, &times(&self.inverse, c));
        let (se, freedom) = ((squares * model / trace).sqrt(), trace * trace / square_trace);
        (se.is_finite() && freedom >= MIN_FREEDOM).then_some(Spread { se, freedom })
    }

    /// The combination `c` of coefficients with its interval; `needed` days.
    pub(super) fn estimate(&self, c: &[f64], level: f64, method: &str, needed: usize) -> Estimate {
        self.widened(c, 0.0, level, method, needed)
    }

    /// The same with a standard error that all days share, from elsewhere.
    pub(super) fn widened(
        &self,
        c: &[f64],
        shared_se: f64,
        level: f64,
        method: &str,
        needed: usize,
    ) -> Estimate {
        let (value, n) = (dot(c, &self.coefficients), self.days());
        match self.spread(c).filter(|_| n >= needed) {
            Some(Spread { se, freedom }) => {
                let shared = normal_quantile(0.5 + level / 2.0) * shared_se;
                let own = t_two_sided(level, freedom) * se;
                let half = (own * own + shared * shared).sqrt();
                Estimate::new(value, value - half, value + half, level, method, n).needing(needed)
            }
            None => {
                let reason = if n < needed {
                    Reason::count("too_few_days", "days with pairs", n, needed)
                } else {
                    let text = "hangs on the pairs of one or two days";
                    Reason::plain("hangs_on_few_days", text)
                };
                Estimate {
                    value: Some(value),
                    ..Estimate::missing(level, method, n, needed, reason)
                }
            }
        }
    }
}

#[cfg(test)]
#[path = "by_day_tests.rs"]
mod tests;
