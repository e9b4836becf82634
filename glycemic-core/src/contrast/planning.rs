//! How many repeats it takes to see an effect.
//!
//! # Method
//! From the spread of single meals of this person: the power of a t test by the noncentral t
//! distribution, for pairs (with and without, one after the other) or for two groups; the least
//! number that reaches the power asked for.
//!
//! # Source
//! Cohen J. Statistical power analysis for the behavioral sciences, 2nd ed., 1988, chapter 2.

use crate::error::{Error, require_within};
use crate::stats::noncentral_t::power;

const MOST: usize = 100_000;

/// What is to be seen, how surely, and in what noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aim {
    /// The effect, in the unit of the outcome.
    pub effect: f64,
    /// Standard deviation of single meals at the same grams.
    pub sd: f64,
    /// Chance to see it, 0.5 to 0.999.
    pub power: f64,
    /// Level of the interval, 0.5 to 0.999.
    pub level: f64,
}

impl Aim {
    fn check(&self) -> Result<(), Error> {
        require_within("effect", self.effect.abs(), 1e-9, 1e9)?;
        require_within("sd", self.sd, 1e-9, 1e9)?;
        require_within("power", self.power, 0.5, 0.999)?;
        require_within("level", self.level, 0.5, 0.999)
    }

    /// Power of `pairs` ≥ 2 meals with and as many without, compared pair by pair.
    ///
    /// # Errors
    /// A number out of range.
    pub fn power_of_pairs(&self, pairs: usize) -> Result<f64, Error> {
        self.check()?;
        require_within("pairs", pairs as f64, 2.0, MOST as f64)?;
        let n = pairs as f64;
        power(self.effect / (self.sd * (2.0 / n).sqrt()), n - 1.0, self.level)
    }

    /// Power of `each` ≥ 2 meals with and as many without, compared as two groups.
    ///
    /// # Errors
    /// A number out of range.
    pub fn power_of_groups(&self, each: usize) -> Result<f64, Error> {
        self.check()?;
        require_within("each", each as f64, 2.0, MOST as f64)?;
        let n = each as f64;
        power(self.effect / (self.sd * (2.0 / n).sqrt()), 2.0 * n - 2.0, self.level)
    }

    /// Pairs that reach the power.
    ///
    /// # Errors
    /// A number out of range, or more than 100,000 pairs.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::contrast::Aim;
    /// // A fifth of the mean at a spread of a quarter: 7.85 × 2 × 0.25² / 0.2² = 24.5, and two
    /// // more since the spread is estimated.
    /// let aim = Aim { effect: 0.2, sd: 0.25, power: 0.8, level: 0.95 };
    /// assert_eq!(aim.pairs()?, 27);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn pairs(&self) -> Result<usize, Error> {
        self.least(|n| self.power_of_pairs(n))
    }

    /// Meals on each side that reach the power.
    ///
    /// # Errors
    /// As [`pairs`](Aim::pairs).
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::contrast::Aim;
    /// // Half a standard deviation: 64 each (Cohen 1988).
    /// assert_eq!(Aim { effect: 0.5, sd: 1.0, power: 0.8, level: 0.95 }.each()?, 64);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn each(&self) -> Result<usize, Error> {
        self.least(|n| self.power_of_groups(n))
    }

    /// Power rises with the number: double, then halve the step.
    fn least(&self, power: impl Fn(usize) -> Result<f64, Error>) -> Result<usize, Error> {
        let (mut low, mut high) = (1, 2);
        while power(high)? < self.power {
            low = high;
            high *= 2;
            if high > MOST {
                return Err(Error::OutOfRange {
                    name: "effect",
                    index: None,
                    value: self.effect,
                    low: self.sd / 100.0,
                    high: 1e9,
                });
            }
        }
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if power(middle)? < self.power { low = middle } else { high = middle }
        }
        Ok(high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_number_reaches_it_and_one_fewer_does_not() {
        for (effect, sd) in [(10.0, 9.0), (10.0, 3.0), (5.0, 20.0), (-10.0, 9.0)] {
            let aim = Aim { effect, sd, power: 0.8, level: 0.95 };
            let n = aim.pairs().unwrap();
            assert!(aim.power_of_pairs(n).unwrap() >= 0.8);
            assert!(n == 2 || aim.power_of_pairs(n - 1).unwrap() < 0.8);
        }
        let aim = Aim { effect: 1e-6, sd: 1.0, power: 0.8, level: 0.95 };
        assert!(aim.pairs().is_err());
        assert!(Aim { sd: f64::NAN, ..aim }.each().is_err());
    }
}
