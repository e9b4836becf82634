//! Readings as whole numbers, so that sums are exact and neither order nor joining matters.
//!
//! # Method
//! Readings on the grid are counts of their step (1 mg/dL or 0.1 mmol/L) in `i32`. Others are
//! counts of 2^-32 mg/dL in `i64`; the rounding, 1.2e-10 mg/dL, is far below what any device
//! shows. A variance follows from the exact sum and sum of squares, so nothing cancels.

use std::ops::{AddAssign, Sub};

use crate::units::Unit;

/// mg/dL in one step of the unit: one count of a reading on the grid.
pub(crate) fn step_mg_dl(unit: Unit) -> f64 {
    unit.to_mg_dl(unit.step())
}

/// mg/dL in one count of an off-grid reading: 2^-32.
pub(crate) const FINE_STEP_MG_DL: f64 = 1.0 / 4_294_967_296.0;

/// A reading, or a difference of two, as a count.
pub(crate) trait Number: Copy + Ord + Default + Sub<Output = Self> {
    /// What holds a sum of squares of a great many of them.
    type Wide: Whole;
    fn magnitude(self) -> Self;
    fn wide(self) -> Self::Wide;
    fn square(self) -> Self::Wide;
    fn float(self) -> f64;
    /// The greatest count that is not above `x` (0 or more).
    fn floor(x: f64) -> Self;
}

/// An exact sum.
pub(crate) trait Whole: Copy + Default + AddAssign + Into<i128> {}
impl Whole for i64 {}
impl Whole for i128 {}

impl Number for i32 {
    type Wide = i64;
    fn magnitude(self) -> i32 {
        self.abs()
    }
    fn wide(self) -> i64 {
        i64::from(self)
    }
    fn square(self) -> i64 {
        i64::from(self) * i64::from(self)
    }
    fn float(self) -> f64 {
        f64::from(self)
    }
    fn floor(x: f64) -> i32 {
        x as i32
    }
}

impl Number for i64 {
    type Wide = i128;
    fn magnitude(self) -> i64 {
        self.abs()
    }
    fn wide(self) -> i128 {
        i128::from(self)
    }
    fn square(self) -> i128 {
        i128::from(self) * i128::from(self)
    }
    fn float(self) -> f64 {
        self as f64
    }
    fn floor(x: f64) -> i64 {
        x as i64
    }
}

/// Off-grid readings as counts of 2^-32 mg/dL.
pub(crate) fn fine_codes(glucose_mg_dl: &[f64]) -> Vec<i64> {
    glucose_mg_dl.iter().map(|&g| (g / FINE_STEP_MG_DL + 0.5) as i64).collect()
}

/// Count, sum and sum of squares.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Spread<W> {
    pub(crate) n: u64,
    sum: W,
    squares: W,
}

impl<W: Whole> Spread<W> {
    pub(crate) fn add<N: Number<Wide = W>>(&mut self, x: N) {
        self.n += 1;
        self.sum += x.wide();
        self.squares += x.square();
    }

    pub(crate) fn of<N: Number<Wide = W>>(codes: &[N]) -> Spread<W> {
        let mut all = Spread::default();
        for &x in codes {
            all.add(x);
        }
        all
    }

    pub(crate) fn join(&mut self, other: &Spread<W>) {
        self.n += other.n;
        self.sum += other.sum;
        self.squares += other.squares;
    }

    /// The mean in counts; `None` when there is none.
    pub(crate) fn mean(&self) -> Option<f64> {
        let sum: i128 = self.sum.into();
        (self.n > 0).then(|| sum as f64 / self.n as f64)
    }

    /// The variance (n - 1) in squared counts; `None` for fewer than two.
    ///
    /// With the mean's whole part m and the rest r / n, the squares about m are the sum of
    /// squares less m (sum + r), all in whole numbers; r^2 / n is at most n.
    pub(crate) fn variance(&self) -> Option<f64> {
        if self.n < 2 {
            return None;
        }
        let (n, sum, squares): (i128, i128, i128) =
            (self.n.into(), self.sum.into(), self.squares.into());
        let whole = sum.div_euclid(n);
        let rest = sum - whole * n;
        let about = (squares - whole * (sum + rest)) as f64;
        let (n, rest) = (self.n as f64, rest as f64);
        Some(((about - rest * rest / n) / (n - 1.0)).max(0.0))
    }

    /// The standard deviation (n - 1) in counts; `None` for fewer than two.
    pub(crate) fn sd(&self) -> Option<f64> {
        self.variance().map(f64::sqrt)
    }
}

/// Differences of readings: their spread, and the sum of their magnitudes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Differences<W> {
    pub(crate) spread: Spread<W>,
    magnitudes: W,
}

impl<W: Whole> Differences<W> {
    pub(crate) fn add<N: Number<Wide = W>>(&mut self, d: N) {
        self.spread.add(d);
        self.magnitudes += d.magnitude().wide();
    }

    pub(crate) fn join(&mut self, other: &Differences<W>) {
        self.spread.join(&other.spread);
        self.magnitudes += other.magnitudes;
    }

    /// The sum of magnitudes, in counts.
    pub(crate) fn total(&self) -> f64 {
        let total: i128 = self.magnitudes.into();
        total as f64
    }
}

/// A term of a float sum in fixed point, in units of 2^-40: such sums don't depend on order.
/// `x` is 0 or more and below 2^22.
pub(crate) fn fixed(x: f64) -> i128 {
    i128::from((x * FIXED_PER_ONE + 0.5) as i64)
}

/// The float that a sum of [`fixed`] terms stands for.
pub(crate) fn unfixed(sum: i128) -> f64 {
    sum as f64 / FIXED_PER_ONE
}

const FIXED_PER_ONE: f64 = 1_099_511_627_776.0;
