//! Random numbers that are the same on every machine, in streams that never meet.
//!
//! # Method
//! ChaCha with 8 rounds. A stream is keyed by a seed, a person and a resample, so the numbers
//! of one resample do not depend on which others were drawn, in which order or on which
//! thread.
//!
//! # Source
//! Bernstein DJ. ChaCha, a variant of Salsa20, 2008. Fisher RA, Yates F. Statistical tables,
//! 1938, in the form of Durstenfeld R. Commun ACM 1964; 7: 420 (permutation).

use super::distribution::normal_quantile;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// One stream of random numbers.
///
/// # Example
/// ```
/// # use glycemic_core::stats::random::Random;
/// let mut one = Random::keyed(1, 0, 7);
/// let mut same = Random::keyed(1, 0, 7);
/// let mut other = Random::keyed(1, 0, 8);
/// let first = one.uniform();
/// assert_eq!(first, same.uniform());
/// assert_ne!(first, other.uniform());
/// assert!((0.0..1.0).contains(&first));
/// ```
#[derive(Clone, Debug)]
pub struct Random {
    source: ChaCha8Rng,
}

impl Random {
    /// The stream of one resample of one person under one seed.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::random::Random;
    /// let (mut one, mut two) = (Random::keyed(1, 0, 0), Random::keyed(1, 1, 0));
    /// assert_ne!(one.below(usize::MAX), two.below(usize::MAX));
    /// ```
    pub fn keyed(seed: u64, person: u64, resample: u64) -> Self {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        key[8..16].copy_from_slice(&person.to_le_bytes());
        let mut source = ChaCha8Rng::from_seed(key);
        source.set_stream(resample);
        Self { source }
    }

    /// A number from 0 up to but not including 1, a whole multiple of 2⁻⁵³.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::random::Random;
    /// assert!((0.0..1.0).contains(&Random::keyed(1, 0, 0).uniform()));
    /// ```
    pub fn uniform(&mut self) -> f64 {
        (self.source.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// A whole number from 0 up to but not including `n`, each equally likely; 0 for n = 0.
    ///
    /// Source: rejection of the incomplete last round, as in Lemire D. ACM Trans Model
    /// Comput Simul 2019; 29: 3.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::random::Random;
    /// assert!(Random::keyed(1, 0, 0).below(6) < 6);
    /// ```
    pub fn below(&mut self, n: usize) -> usize {
        let n = n as u64;
        if n == 0 {
            return 0;
        }
        // 2⁶⁴ mod n products would fall unevenly; draw again for those.
        let uneven = n.wrapping_neg() % n;
        loop {
            let product = u128::from(self.source.next_u64()) * u128::from(n);
            if product as u64 >= uneven {
                return (product >> 64) as usize;
            }
        }
    }

    /// A number from the standard normal distribution, by the inverse of its function.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::random::Random;
    /// // 2⁻⁵⁴, the least share that is drawn, lies 8.3 standard deviations out.
    /// assert!(Random::keyed(1, 0, 0).normal().abs() < 8.4);
    /// ```
    pub fn normal(&mut self) -> f64 {
        // The middle of a step of 2⁻⁵³: never 0, and never 1 either.
        let middle = self.uniform() + 1.0 / 18_014_398_509_481_984.0;
        normal_quantile(middle.min(1.0 - f64::EPSILON / 2.0))
    }

    /// Puts `items` in a random order, each order equally likely.
    ///
    /// Source: Durstenfeld (1964).
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::random::Random;
    /// let mut days = [1, 2, 3, 4];
    /// Random::keyed(1, 0, 0).permute(&mut days);
    /// assert_eq!(days.iter().sum::<i32>(), 10);
    /// ```
    pub fn permute<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            let chosen = self.below(last + 1);
            items.swap(last, chosen);
        }
    }

    /// `n` positions drawn from 0 to n - 1 with replacement: one bootstrap sample.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::stats::random::Random;
    /// let days = Random::keyed(1, 0, 0).resample_indices(14);
    /// assert!(days.len() == 14 && days.iter().all(|day| *day < 14));
    /// ```
    pub fn resample_indices(&mut self, n: usize) -> Vec<usize> {
        (0..n).map(|_| self.below(n)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::moments::{mean, sd};

    /// ChaCha8, key and nonce of zeros: the key stream begins 3e00ef2f895f40d6 (test vectors
    /// of Strombergsson, draft-strombergson-chacha-test-vectors-00, 2013, TC1, 256-bit key).
    #[test]
    fn published_key_stream() {
        let mut random = Random::keyed(0, 0, 0);
        let first = u64::from_le_bytes([0x3e, 0x00, 0xef, 0x2f, 0x89, 0x5f, 0x40, 0xd6]);
        assert_eq!(random.source.next_u64(), first);
    }

    #[test]
    fn below_is_even() {
        let mut random = Random::keyed(1, 2, 3);
        let mut counts = [0.0_f64; 7];
        for _ in 0..70_000 {
            counts[random.below(7)] += 1.0;
        }
        // Chi-squared with 6 degrees of freedom: 22.5 is passed once in a thousand.
        let chi2: f64 = counts.iter().map(|c| (c - 10_000.0) * (c - 10_000.0) / 10_000.0).sum();
        assert!(chi2 < 22.5, "{counts:?}");
        assert_eq!((random.below(0), random.below(1)), (0, 0));
    }

    #[test]
    fn normal_has_mean_0_and_sd_1() {
        let mut random = Random::keyed(4, 0, 0);
        let values: Vec<f64> = (0..100_000).map(|_| random.normal()).collect();
        // Four standard errors: 4 / sqrt(100000), and that over sqrt(2).
        assert!(mean(&values).unwrap().abs() < 0.0127);
        assert!((sd(&values).unwrap() - 1.0).abs() < 0.009);
    }

    #[test]
    fn permutation_keeps_the_items() {
        let mut items: Vec<usize> = (0..50).collect();
        Random::keyed(5, 0, 0).permute(&mut items);
        assert_ne!(items, (0..50).collect::<Vec<_>>());
        items.sort_unstable();
        assert_eq!(items, (0..50).collect::<Vec<_>>());
    }

    #[test]
    fn streams_differ_by_each_key() {
        let first = |s, p, r| Random::keyed(s, p, r).source.next_u64();
        let all = [first(1, 0, 0), first(0, 1, 0), first(0, 0, 1), first(0, 0, 0)];
        for (i, a) in all.iter().enumerate() {
            assert!(all[i + 1..].iter().all(|b| a != b));
        }
        assert!(Random::keyed(9, 9, 9).resample_indices(20).iter().all(|&i| i < 20));
    }
}
