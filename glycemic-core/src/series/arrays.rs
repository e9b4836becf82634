//! Traces as `ndarray` views, for callers who compute with them (feature `ndarray`).

use ndarray::ArrayView1;

use super::trace::TraceView;

impl<'a> TraceView<'a> {
    /// Glucose in mg/dL, borrowed.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::{series::Builder, Unit};
    /// let trace = Builder::new(Unit::MgDl).build(&[1_741_000_000_000], &[100.0])?;
    /// assert_eq!(trace.view().glucose_array().sum(), 100.0);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn glucose_array(&self) -> ArrayView1<'a, f64> {
        ArrayView1::from(self.glucose_mg_dl())
    }

    /// Times in UTC milliseconds, borrowed.
    pub fn times_array(&self) -> ArrayView1<'a, i64> {
        ArrayView1::from(self.times_ms())
    }
}
