//! Running one function for each resample, on all cores with the feature `parallel`.
//!
//! Results come back in the order of their numbers and each resample keys its own random
//! stream, so the answer has the same bits on any number of threads.

/// `f(0)` to `f(n - 1)`, in order.
///
/// # Example
/// ```
/// assert_eq!(glycemic_core::stats::resample::each(3, |k| k * 10), [0, 10, 20]);
/// ```
#[cfg(feature = "parallel")]
pub fn each<T: Send>(n: usize, f: impl Fn(u64) -> T + Sync + Send) -> Vec<T> {
    use rayon::prelude::*;
    (0..n as u64).into_par_iter().map(f).collect()
}

/// `f(0)` to `f(n - 1)`, in order.
#[cfg(not(feature = "parallel"))]
pub fn each<T: Send>(n: usize, f: impl Fn(u64) -> T + Sync + Send) -> Vec<T> {
    (0..n as u64).map(f).collect()
}
