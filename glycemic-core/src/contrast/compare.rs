//! Difference in an outcome with and without an exposure, adjusted for other columns.
//!
//! # Method
//! Least squares of the outcome on the exposure (0 or 1) and the columns to adjust for; interval
//! and p value by Student's t on the residual degrees of freedom. The smallest visible effect is
//! the difference that a trial like this one would call different from none with a power of
//! 80 %: standard error times (t at the level + t at 0.8). An observed difference *went with*
//! the exposure; only a randomised one was caused by it.
//!
//! # Source
//! Draper and Smith (1998), chapter 14 (indicator columns). Smallest visible effect: Bloom,
//! Evaluation Review 1995; 19:547-556, from memory.

use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{t_cdf, t_quantile, t_two_sided};
use crate::stats::ols;

/// Meals needed on each side.
pub const MIN_EACH: usize = 4;

/// An adjusted difference.
#[derive(Clone, Debug, PartialEq)]
pub struct Contrast {
    /// Outcome with the exposure less without it.
    pub difference: Estimate,
    /// Two-sided p value.
    pub p_value: Option<f64>,
    /// Rows used.
    pub n: usize,
    /// Rows with the exposure.
    pub n_exposed: usize,
    /// The effect that such a trial sees with a power of 80 %.
    pub smallest_visible: Option<f64>,
    /// Residual standard deviation: how far single meals lie from the model.
    pub residual_sd: Option<f64>,
}

/// Compares n rows with and without `exposed`, adjusted for `adjust` (columns of length n).
///
/// # Errors
/// Columns of different lengths, NaN, a level outside 0.5-0.999.
pub fn compare(
    outcome: &[f64],
    exposed: &[bool],
    adjust: &[Vec<f64>],
    level: f64,
) -> Result<Contrast, Error> {
    const METHOD: &str = "least squares, adjusted, Student's t";
    require_same_len("exposed", outcome.len(), exposed.len())?;
    require_all_finite("outcome", outcome)?;
    require_within("level", level, 0.5, 0.999)?;
    for column in adjust {
        require_same_len("adjust", outcome.len(), column.len())?;
        require_all_finite("adjust", column)?;
    }
    let n = outcome.len();
    let with = exposed.iter().filter(|&&e| e).count();
    let fewest = with.min(n - with);
    let nothing = |reason| Contrast {
        difference: Estimate::missing(level, METHOD, fewest, MIN_EACH, reason),
        p_value: None,
        n,
        n_exposed: with,
        smallest_visible: None,
        residual_sd: None,
    };
    if fewest < MIN_EACH {
        return Ok(nothing(Reason::count("too_few_meals", "meals on each side", fewest, MIN_EACH)));
    }
    let mut columns = vec![exposed.iter().map(|&e| f64::from(u8::from(e))).collect::<Vec<f64>>()];
    columns.extend(adjust.iter().cloned());
    let Some(fit) = ols::fit(outcome, &columns)? else {
        return Ok(nothing(Reason::plain(
            "not_separable",
            "the exposure can't be told apart from the columns adjusted for",
        )));
    };
    let freedom = fit.freedom as f64;
    let (value, se) = (fit.slopes[0], fit.se[0]);
    let half = t_two_sided(level, freedom) * se;
    let p_value = if se > 0.0 { 2.0 * (1.0 - t_cdf((value / se).abs(), freedom)) } else { 0.0 };
    let visible = se * (t_two_sided(level, freedom) + t_quantile(0.8, freedom));
    Ok(Contrast {
        difference: Estimate::new(value, value - half, value + half, level, METHOD, fewest)
            .needing(MIN_EACH),
        p_value: Some(p_value),
        n,
        n_exposed: with,
        smallest_visible: Some(visible),
        residual_sd: Some(fit.residual_sd),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_groups_without_adjustment_are_the_pooled_t_test() {
        // Means 2 and 5, pooled variance 5/3 on 6 degrees of freedom: SE = sqrt(5/3 x 2/4).
        let y = [0.5, 1.5, 2.5, 3.5, 3.5, 4.5, 5.5, 6.5];
        let e = [false, false, false, false, true, true, true, true];
        let c = compare(&y, &e, &[], 0.95).unwrap();
        assert!((c.difference.value.unwrap() - 3.0).abs() < 1e-12);
        let half = 2.446_911_851_144_969 * (5.0_f64 / 3.0 / 2.0).sqrt();
        assert!((c.difference.high.unwrap() - 3.0 - half).abs() < 1e-9);
    }

    #[test]
    fn three_on_a_side_is_too_few() {
        let c =
            compare(&[1.0; 7], &[true, true, true, false, false, false, false], &[], 0.95).unwrap();
        assert_eq!(c.difference.reason.unwrap().had, Some(3.0));
    }
}
