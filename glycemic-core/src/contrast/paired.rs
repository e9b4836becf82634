//! The analysis that goes with a schedule of pairs.
//!
//! # Method
//! The mean of the differences with less without, Student's t; beside it the test of signs, which
//! rests on the draw of the order alone: exact where each order is drawn for itself, and erring
//! less often than it may where orders are balanced and the second meal differs from the first.
//! With balanced orders such a period effect widens the interval and does not move it. Carry-over:
//! what is left of the first meal in the second would make the sums of pairs differ by order; the
//! difference of the mean sums, t with pooled spread. Period: second less first, whatever was done.
//!
//! # Source
//! Student, Biometrika 1908; 6: 1-25. Hills M, Armitage P. Br J Clin Pharmacol 1979; 8: 7-20
//! (sums and differences of two periods), from memory.

use crate::error::{Error, require_all_finite, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{t_cdf, t_two_sided};
use crate::stats::moments;
use crate::stats::partial::{Basis, partial};
use crate::stats::permutation::signs;

/// Pairs needed.
pub const MIN_PAIRS: usize = 3;
const SIGN_DRAWS: usize = 9999;

/// One pair of meals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Outcome of the meal with the exposure.
    pub with: f64,
    /// Outcome of the meal without.
    pub without: f64,
    /// Whether the meal with came first.
    pub with_first: bool,
}

/// What pairs say.
#[derive(Clone, Debug, PartialEq)]
pub struct Paired {
    /// With less without.
    pub difference: Estimate,
    /// Its two-sided p value by Student's t.
    pub p_value: Option<f64>,
    /// The same by the test of signs.
    pub p_signs: Option<f64>,
    /// Sum of pairs that began with the exposure less sum of the others.
    pub carry_over: Estimate,
    /// Second meal less first.
    pub period: Estimate,
}

/// Analyses pairs.
///
/// # Errors
/// NaN, a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::paired::{Pair, paired};
/// let pair = |with: f64, without: f64, with_first: bool| Pair { with, without, with_first };
/// let p = paired(&[pair(20.0, 31.0, true), pair(24.0, 33.0, false), pair(18.0, 28.0, true),
///     pair(25.0, 35.0, false)], 0.95)?;
/// assert_eq!(p.difference.value, Some(-10.0));
/// // Sums 51 and 46 against 57 and 60.
/// assert_eq!(p.carry_over.value, Some(-10.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn paired(pairs: &[Pair], level: f64) -> Result<Paired, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let list = |f: &dyn Fn(&Pair) -> f64| pairs.iter().map(f).collect::<Vec<f64>>();
    let d = list(&|p| p.with - p.without);
    require_all_finite("pairs", &d)?;
    let sums = list(&|p| p.with + p.without);
    let later = list(&|p| if p.with_first { p.without - p.with } else { p.with - p.without });
    let difference = mean(&d, level);
    let p_value = difference.value.and_then(|m| {
        let se = moments::sd(&d)? / (d.len() as f64).sqrt();
        (se > 0.0).then(|| 2.0 * (1.0 - t_cdf((m / se).abs(), d.len() as f64 - 1.0)))
    });
    let p_signs = match difference.value {
        Some(_) => Some(signs(&d, SIGN_DRAWS, 1)?.two_sided),
        None => None,
    };
    let first: Vec<f64> = list(&|p| f64::from(u8::from(p.with_first)));
    let carry_over = two_sides(&sums, &first, level)?;
    Ok(Paired { difference, p_value, p_signs, carry_over, period: mean(&later, level) })
}

fn mean(d: &[f64], level: f64) -> Estimate {
    const METHOD: &str = "mean of differences of pairs, Student's t";
    let told = moments::mean(d).zip(moments::sd(d)).filter(|_| d.len() >= MIN_PAIRS);
    let Some((mean, sd)) = told else {
        let reason = Reason::count("too_few_pairs", "pairs", d.len(), MIN_PAIRS);
        return Estimate::missing(level, METHOD, d.len(), MIN_PAIRS, reason);
    };
    let half = t_two_sided(level, d.len() as f64 - 1.0) * sd / (d.len() as f64).sqrt();
    Estimate::new(mean, mean - half, mean + half, level, METHOD, d.len()).needing(MIN_PAIRS)
}

fn two_sides(sums: &[f64], first: &[f64], level: f64) -> Result<Estimate, Error> {
    const METHOD: &str = "difference of mean sums by order, Student's t";
    const EACH: usize = 2;
    let with = first.iter().filter(|f| **f > 0.5).count();
    let fewest = with.min(first.len() - with);
    let missing = |code, what| {
        let reason = Reason::count(code, what, fewest, EACH);
        Estimate::missing(level, METHOD, fewest, EACH, reason)
    };
    if fewest < EACH {
        return Ok(missing("too_few_pairs", "pairs in each order"));
    }
    let Some(fit) = partial(sums, first, &Basis::new(sums.len(), &[])?)? else {
        return Ok(missing("too_few_pairs", "pairs in each order"));
    };
    let half = t_two_sided(level, fit.freedom as f64) * fit.se;
    let v = fit.value;
    Ok(Estimate::new(v, v - half, v + half, level, METHOD, fewest).needing(EACH))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cross- and self-fertilised maize, eighths of an inch (Darwin 1876; Fisher 1935): t is
    /// 2.148 with 14 degrees of freedom, p 0.0497 and by signs 1726/32768.
    #[test]
    fn maize() {
        let d = [
            49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0,
            -48.0,
        ];
        let pairs: Vec<Pair> =
            d.iter().map(|&with| Pair { with, without: 0.0, with_first: true }).collect();
        let p = paired(&pairs, 0.95).unwrap();
        assert!((p.p_value.unwrap() - 0.049_702_9).abs() < 5e-8, "{p:?}");
        assert_eq!(p.p_signs, Some(1726.0 / 32_768.0));
        assert!(p.difference.low.unwrap() > 0.0);
        // All in one order.
        assert_eq!(p.carry_over.reason.unwrap().code, "too_few_pairs");
        assert!(paired(&pairs[..2], 0.95).unwrap().difference.value.is_none());
    }
}
