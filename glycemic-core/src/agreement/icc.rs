//! Intraclass correlation: the six forms for n targets, each rated by k raters.
//!
//! # Method
//! Mean squares between targets B, within targets W, between raters J and residual E.
//! One rating: (1,1) raters differ from target to target; (2,1) raters are a sample, absolute
//! agreement; (3,1) these raters only, consistency. The forms (., k) are for the mean of k.
//! Intervals from F distributions; for form 2 with Satterthwaite's degrees of freedom.
//!
//! # Source
//! Shrout PE, Fleiss JL. Psychol Bull 1979; 86: 420-428. McGraw KO, Wong SP. Psychol Methods
//! 1996; 1: 30-46 (interval of form 2).

use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::f_quantile;

/// The six forms and what they are made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Intraclass {
    /// Targets.
    pub targets: usize,
    /// Raters (methods, sensors) of each target.
    pub raters: usize,
    /// Mean square between targets.
    pub between: f64,
    /// Mean square within targets.
    pub within: f64,
    /// Mean square between raters.
    pub raters_square: f64,
    /// Residual mean square.
    pub residual: f64,
    /// One rating, one-way.
    pub icc_1_1: Estimate,
    /// One rating, raters a sample, absolute agreement.
    pub icc_2_1: Estimate,
    /// One rating, these raters, consistency.
    pub icc_3_1: Estimate,
    /// Mean of k ratings, one-way.
    pub icc_1_k: Estimate,
    /// Mean of k ratings, absolute agreement.
    pub icc_2_k: Estimate,
    /// Mean of k ratings, consistency.
    pub icc_3_k: Estimate,
}

/// The six forms for a table with a row for each target: `ratings[target * raters + rater]`.
///
/// # Errors
/// Fewer than two raters or three targets, a number of ratings that is not a multiple of
/// `raters`, NaN, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::icc;
/// // Two raters one apart on every target: consistent, but not in absolute agreement.
/// let i = icc(&[1.0, 2.0, 3.0, 4.1, 5.0, 6.0], 2, 0.95)?;
/// assert!(i.icc_3_1.value.unwrap() > 0.99 && i.icc_2_1.value.unwrap() < 0.9);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn icc(ratings: &[f64], raters: usize, level: f64) -> Result<Intraclass, Error> {
    require_all_finite("ratings", ratings)?;
    require_within("raters", raters as f64, 2.0, 1e6)?;
    require_within("level", level, 0.5, 0.999)?;
    let targets = ratings.len() / raters;
    require_same_len("ratings", targets * raters, ratings.len())?;
    if targets < 3 {
        let measure = "intraclass correlation";
        return Err(Error::TooFewValues { measure, needed: 3, got: targets });
    }
    let squares = mean_squares(ratings, targets, raters);
    Ok(forms(squares, targets, raters, level))
}

/// B, W, J, E.
fn mean_squares(ratings: &[f64], targets: usize, raters: usize) -> [f64; 4] {
    let (n, k) = (targets as f64, raters as f64);
    let grand = ratings.iter().sum::<f64>() / (n * k);
    let square = |v: f64| v * v;
    let row = |i: usize| ratings[i * raters..(i + 1) * raters].iter().sum::<f64>() / k;
    let column = |j: usize| ratings.iter().skip(j).step_by(raters).sum::<f64>() / n;
    let rows: Vec<f64> = (0..targets).map(row).collect();
    let columns: Vec<f64> = (0..raters).map(column).collect();
    let between: f64 = k * rows.iter().map(|m| square(m - grand)).sum::<f64>();
    let raters_sum: f64 = n * columns.iter().map(|m| square(m - grand)).sum::<f64>();
    let (mut within, mut residual) = (0.0, 0.0);
    for (at, v) in ratings.iter().enumerate() {
        let (i, j) = (at / raters, at % raters);
        within += square(v - rows[i]);
        residual += square(v - rows[i] - columns[j] + grand);
    }
    [
        between / (n - 1.0),
        within / (n * (k - 1.0)),
        raters_sum / (k - 1.0),
        residual / ((n - 1.0) * (k - 1.0)),
    ]
}

fn forms([b, w, j, e]: [f64; 4], targets: usize, raters: usize, level: f64) -> Intraclass {
    let (n, k) = (targets as f64, raters as f64);
    let p = 0.5 * (1.0 + level);
    // Ends on the scale of an F ratio, for one rating and for the mean.
    let single = |f: f64| (f - 1.0) / (f + k - 1.0);
    let mean = |f: f64| 1.0 - 1.0 / f;
    let ends = |ratio: f64, df: f64| {
        (ratio / f_quantile(p, n - 1.0, df), ratio * f_quantile(p, df, n - 1.0))
    };
    let one_way = ends(b / w, n * (k - 1.0));
    let two_way = ends(b / e, (n - 1.0) * (k - 1.0));
    let icc_2_1 = (b - e) / (b + (k - 1.0) * e + k * (j - e) / n);
    let two = form_2_ends([b, j, e], icc_2_1, n, k, p);
    let step_up = |icc: f64| k * icc / (1.0 + (k - 1.0) * icc);
    let of = |value: f64, low: f64, high: f64| {
        const METHOD: &str = "Shrout and Fleiss 1979, F distribution";
        if value.is_finite() && low.is_finite() && high.is_finite() {
            return Estimate::new(value, low, high, level, METHOD, targets).needing(3);
        }
        let reason = Reason::plain("no_spread", "the ratings leave no variance to compare");
        let value = Some(value).filter(|v| v.is_finite());
        Estimate { value, ..Estimate::missing(level, METHOD, targets, 3, reason) }
    };
    Intraclass {
        targets,
        raters,
        between: b,
        within: w,
        raters_square: j,
        residual: e,
        icc_1_1: of((b - w) / (b + (k - 1.0) * w), single(one_way.0), single(one_way.1)),
        icc_2_1: of(icc_2_1, two.0, two.1),
        icc_3_1: of((b - e) / (b + (k - 1.0) * e), single(two_way.0), single(two_way.1)),
        icc_1_k: of((b - w) / b, mean(one_way.0), mean(one_way.1)),
        icc_2_k: of((b - e) / (b + (j - e) / n), step_up(two.0), step_up(two.1)),
        icc_3_k: of((b - e) / b, mean(two_way.0), mean(two_way.1)),
    }
}

fn form_2_ends([b, j, e]: [f64; 3], icc: f64, n: f64, k: f64, p: f64) -> (f64, f64) {
    let raters = k * icc * (j / e);
    let rest = n * (1.0 + (k - 1.0) * icc) - k * icc;
    let df = (k - 1.0) * (n - 1.0) * (raters + rest) * (raters + rest)
        / ((n - 1.0) * raters * raters + rest * rest);
    let (up, down) = (f_quantile(p, n - 1.0, df), f_quantile(p, df, n - 1.0));
    let noise = k * j + (k * n - k - n) * e;
    (n * (b - up * e) / (up * noise + n * b), n * (down * b - e) / (noise + n * down * b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn raters_that_agree_in_all_have_no_interval() {
        let i = icc(&[1.0, 1.0, 2.0, 2.0, 3.0, 3.0], 2, 0.95).unwrap();
        assert_eq!((i.icc_1_1.value, i.icc_1_1.low), (Some(1.0), None));
        assert_eq!(i.icc_1_1.reason.unwrap().code, "no_spread");
        let flat = icc(&[1.0; 6], 2, 0.95).unwrap();
        assert_eq!(flat.icc_2_1.value, None);
    }

    #[test]
    fn refusals() {
        assert_eq!(icc(&[1.0; 7], 2, 0.95).unwrap_err().code(), "length_mismatch");
        assert_eq!(icc(&[1.0; 4], 2, 0.95).unwrap_err().code(), "too_few_values");
        assert_eq!(icc(&[1.0; 4], 0, 0.95).unwrap_err().argument(), Some("raters"));
    }
}
