//! Repeatable random numbers, one stream per purpose.
//!
//! # Method
//! A ChaCha8 generator is keyed by the seed and by what the numbers are for, so that turning one
//! knob (say the sensor's noise) leaves everything else (meals, walks) as it was. Normals come
//! from pairs of uniforms by the transform of Box and Muller, *Ann Math Stat* 29 (1958): 610-611.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// What a stream of random numbers is for.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Purpose {
    /// Clock times of meals, sleep and exercise.
    Times = 1,
    /// Which dish, which portion.
    Dishes = 2,
    /// How far the diary is from what was eaten.
    DiaryError = 3,
    /// How differently the same meal acts on another day.
    MealVariation = 4,
    /// Which meals are followed by a walk, and when.
    Walks = 5,
    /// Which days, nights and meals are special.
    Choices = 6,
    /// Day-to-day shifts of the fasting level.
    Days = 7,
    /// Sensor noise.
    SensorNoise = 8,
    /// Pressure lows and first-day wobble.
    SensorShape = 9,
    /// Gaps, repeated and unsorted rows.
    SensorTrouble = 10,
    /// When the meter was used and what it read.
    Meter = 11,
    /// Notes.
    Notes = 12,
    /// Meals simulated for the truth.
    Truth = 13,
    /// Shape of the second sensor's wobble.
    SecondSensor = 14,
    /// Drop-outs.
    DropOuts = 15,
    /// Which readings have an error of their own, and how large.
    Outliers = 16,
    /// When blood falls at night, and how far.
    TrueLows = 17,
    /// The meter's lot of strips.
    LotBias = 18,
    /// How the diary's start times differ from the true ones.
    StartTimes = 19,
}

/// One stream.
#[derive(Clone, Debug)]
pub(crate) struct Random {
    rng: ChaCha8Rng,
    spare: Option<f64>,
}

impl Random {
    /// The stream of `seed` for `purpose`.
    pub(crate) fn new(seed: u64, purpose: Purpose) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(purpose as u64);
        Self { rng, spare: None }
    }

    /// Uniform in (0, 1), never an end: the middle of one of 2^52 cells.
    pub(crate) fn uniform(&mut self) -> f64 {
        let cell = self.rng.next_u64() >> 12;
        (cell as f64 + 0.5) / 4_503_599_627_370_496.0
    }

    /// Uniform between `low` and `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number from `low` to `high`, both included.
    pub(crate) fn whole(&mut self, low: i64, high: i64) -> i64 {
        let count = (high - low + 1).max(1);
        (low + (self.uniform() * count as f64) as i64).min(high)
    }

    /// A whole number below `count` (0 when `count` is 0).
    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// True with probability `share`.
    pub(crate) fn chance(&mut self, share: f64) -> bool {
        self.uniform() < share
    }

    /// Standard normal.
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * libm::log(self.uniform())).sqrt();
        let angle = core::f64::consts::TAU * self.uniform();
        self.spare = Some(radius * libm::sin(angle));
        radius * libm::cos(angle)
    }

    /// Numbers 0 to `count` - 1 in random order (Fisher-Yates).
    pub(crate) fn shuffled(&mut self, count: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..count).collect();
        for last in (1..count).rev() {
            order.swap(last, self.below(last + 1));
        }
        order
    }
}

/// A lognormal factor with mean 1 and coefficient of variation `cv`, from a standard normal `z`.
pub(crate) fn factor(cv: f64, z: f64) -> f64 {
    let variance = libm::log1p(cv * cv);
    libm::exp(variance.sqrt() * z - 0.5 * variance)
}
