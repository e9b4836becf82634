//! A coefficient's t by HC3, judged by the t that shuffled residuals give.
//!
//! # Method
//! The residuals of the full model are put in random order and the model is fitted to them; the
//! true coefficient is then 0, and |t| by HC3 shows how far chance takes it. With the errors
//! exchangeable the test is nearly exact; where their spread differs, t still makes it right for
//! many rows. The interval is the coefficient ± (a quantile of |t|) × its standard error, and
//! holds the same effects that the test doesn't reject.
//!
//! # Source
//! Ter Braak CJF. In: Bootstrapping and related techniques, 1992: 79-85 (residuals of the full
//! model). DiCiccio CJ, Romano JP. J Am Stat Assoc 2017; 112: 1211-1220 (robust t). Both from
//! memory.

use super::partial::{Basis, Partial, partial};
use super::quantile;
use super::random::Random;
use crate::error::Error;

/// A coefficient and the |t| that chance gives.
#[derive(Clone, Debug, PartialEq)]
pub struct PermutedT {
    /// The fit.
    pub fit: Partial,
    /// |t| under shuffling, rising.
    chance: Vec<f64>,
}

/// The coefficient of `exposure` beside `basis` with `draws` shuffles keyed by `seed`; `None` as
/// [`partial`].
///
/// # Errors
/// Lengths that differ.
///
/// # Example
/// ```
/// # use glycemic_core::stats::{partial::Basis, permuted_t::permuted_t};
/// let y = [20.0, 31.0, 19.0, 33.0, 21.0, 29.0, 18.0, 30.0];
/// let e = [1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0];
/// let p = permuted_t(&y, &e, &Basis::new(8, &[])?, 999, 1)?.unwrap();
/// assert!((p.fit.value + 11.25).abs() < 1e-12 && p.p_value() < 0.01);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn permuted_t(
    y: &[f64],
    exposure: &[f64],
    basis: &Basis,
    draws: usize,
    seed: u64,
) -> Result<Option<PermutedT>, Error> {
    let Some(fit) = partial(y, exposure, basis)? else { return Ok(None) };
    let x = basis.residual(exposure);
    let mut errors: Vec<f64> =
        basis.residual(y).iter().zip(&x).map(|(r, x)| r - fit.value * x).collect();
    let mut random = Random::keyed(seed, 0, 0);
    let mut chance = Vec::with_capacity(draws);
    for _ in 0..draws {
        random.permute(&mut errors);
        if let Some(one) = partial(&errors, exposure, basis)?
            && one.se_hc3 > 0.0
        {
            chance.push((one.value / one.se_hc3).abs());
        }
    }
    Ok(Some(PermutedT { fit, chance: quantile::sorted(&chance) }))
}

impl PermutedT {
    /// Two-sided p value of no effect, the observed order counted in.
    pub fn p_value(&self) -> f64 {
        let t = self.fit.value.abs() / self.fit.se_hc3;
        // No spread at all: an effect is certain, no effect too.
        if t.is_nan() {
            return 1.0;
        }
        // What ties but for rounding counts as at least as far.
        let below = self.chance.partition_point(|c| *c < t - 1e-9);
        (self.chance.len() - below + 1) as f64 / (self.chance.len() + 1) as f64
    }

    /// Half of the interval at `level` from 0 to 1; `None` with too few draws for it.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::{partial::Basis, permuted_t::permuted_t};
    /// let (y, e) = ([2.0, 4.0, 7.0, 9.0, 8.0, 3.0], [0.0, 0.0, 1.0, 1.0, 1.0, 0.0]);
    /// let p = permuted_t(&y, &e, &Basis::new(6, &[])?, 999, 1)?.unwrap();
    /// assert!(p.half(0.95) > p.half(0.8) && p.half(0.9999) == None);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn half(&self, level: f64) -> Option<f64> {
        // The smallest |t| with a p value at or under 1 - level.
        let k = ((1.0 - level) * (self.chance.len() + 1) as f64 + 1e-9).floor() as usize;
        let at = self.chance.len().checked_sub(k).filter(|_| k > 0)?;
        self.chance.get(at).map(|t| t * self.fit.se_hc3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::distribution::t_two_sided;

    /// With many normal rows |t| by chance is Student's.
    #[test]
    fn with_many_rows_it_is_students_t() {
        let mut random = Random::keyed(3, 0, 0);
        let y: Vec<f64> = (0..120).map(|_| random.normal()).collect();
        let e: Vec<f64> = (0..120).map(|i| f64::from(u8::from(i % 3 == 0))).collect();
        let p = permuted_t(&y, &e, &Basis::new(120, &[]).unwrap(), 9999, 1).unwrap().unwrap();
        let ratio = p.half(0.9).unwrap() / (t_two_sided(0.9, 118.0) * p.fit.se_hc3);
        assert!((ratio - 1.0).abs() < 0.04, "{ratio}");
    }

    #[test]
    fn interval_and_p_value_agree() {
        let y = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0, 5.0, 3.0];
        let e = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 0.0, 1.0, 1.0, 0.0];
        for shift in [-6.0, -4.0, -2.0, -1.0, 0.0] {
            let moved: Vec<f64> = y.iter().zip(&e).map(|(y, e)| y + shift * e).collect();
            let basis = Basis::new(10, &[]).unwrap();
            let p = permuted_t(&moved, &e, &basis, 999, 7).unwrap().unwrap();
            let inside = p.fit.value.abs() < p.half(0.9).unwrap();
            assert_eq!(p.p_value() > 0.1, inside, "{shift}");
        }
    }

    #[test]
    fn no_spread() {
        let e = [0.0, 1.0, 0.0, 1.0];
        let p = permuted_t(&[2.0; 4], &e, &Basis::new(4, &[]).unwrap(), 99, 1).unwrap().unwrap();
        assert_eq!(p.p_value(), 1.0);
    }
}
