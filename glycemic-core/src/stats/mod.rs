//! Statistics that the measures share: quantiles, distributions, random streams, a line.
//!
//! Everything here is arithmetic on plain slices; it knows nothing of glucose or time.
//! The functions of [`special`] and [`distribution`] are building blocks, like `f64::sqrt`:
//! outside their domain they return NaN, and the measures check their arguments first.

pub mod binomial;
pub(crate) mod cholesky;
pub mod distribution;
pub mod integrate;
pub mod line;
pub mod mixed;
pub mod moments;
pub mod multiplicity;
pub mod noncentral_t;
pub mod ols;
pub mod partial;
pub mod permutation;
pub mod permuted_t;
pub mod quantile;
pub mod random;
pub mod resample;
pub mod sen;
pub mod share_difference;
pub mod smooth;
pub mod special;
pub mod survival;
pub mod tolerance_factor;
