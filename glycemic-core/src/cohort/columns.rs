//! Readings of many people, row by row, wherever they lie.

use std::ops::Range;

use crate::error::{Error, require_same_len};
use crate::series::Censor;

/// Stands for a missing time.
pub const NO_TIME: i64 = i64::MIN;

/// Readings copied out of their columns for one person; reused for the next.
#[derive(Clone, Debug, Default)]
pub struct Stretch {
    /// Times, UTC milliseconds (or local ones, see `Options::local`); [`NO_TIME`] where missing.
    pub times_ms: Vec<i64>,
    /// Glucose in the unit of the options; NaN where missing.
    pub glucose: Vec<f64>,
    /// Which readings stand at a limit of the sensor; empty if none does.
    pub censor: Vec<Censor>,
}

impl Stretch {
    /// Takes all readings out and keeps the room.
    pub fn clear(&mut self) {
        self.times_ms.clear();
        self.glucose.clear();
        self.censor.clear();
    }
}

/// Columns of readings that can hand out some of their rows.
///
/// A caller whose columns are of other types or lie in pieces implements it, so that they need
/// not be converted as a whole.
pub trait Readings: Sync {
    /// Number of rows.
    fn len(&self) -> usize;

    /// Whether there are none.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Appends the rows of a range to `out`.
    fn run(&self, rows: Range<usize>, out: &mut Stretch);

    /// Appends single rows, in the order given, to `out`.
    fn pick(&self, rows: &[u32], out: &mut Stretch);
}

/// Readings in slices, a row in each.
#[derive(Clone, Copy, Debug)]
pub struct Columns<'a> {
    times_ms: &'a [i64],
    glucose: &'a [f64],
    censor: Option<&'a [Censor]>,
}

impl<'a> Columns<'a> {
    /// Times ([`NO_TIME`] where missing) and glucose (NaN where missing) of the same length.
    ///
    /// # Errors
    /// [`Error::LengthMismatch`].
    ///
    /// # Example
    /// ```
    /// use glycemic_core::cohort::{Columns, Readings};
    /// assert_eq!(Columns::new(&[1_741_000_000_000], &[100.0])?.len(), 1);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn new(times_ms: &'a [i64], glucose: &'a [f64]) -> Result<Columns<'a>, Error> {
        require_same_len("glucose", times_ms.len(), glucose.len())?;
        Ok(Columns { times_ms, glucose, censor: None })
    }

    /// The same with readings at a limit of the sensor marked; their glucose is that limit.
    ///
    /// # Errors
    /// [`Error::LengthMismatch`].
    pub fn censored(self, censor: &'a [Censor]) -> Result<Columns<'a>, Error> {
        require_same_len("censor", self.times_ms.len(), censor.len())?;
        Ok(Columns { censor: Some(censor), ..self })
    }
}

impl Readings for Columns<'_> {
    fn len(&self) -> usize {
        self.times_ms.len()
    }

    fn run(&self, rows: Range<usize>, out: &mut Stretch) {
        out.times_ms.extend_from_slice(&self.times_ms[rows.clone()]);
        out.glucose.extend_from_slice(&self.glucose[rows.clone()]);
        out.censor.extend_from_slice(self.censor.map_or(&[], |c| &c[rows]));
    }

    fn pick(&self, rows: &[u32], out: &mut Stretch) {
        out.times_ms.extend(rows.iter().map(|&r| self.times_ms[r as usize]));
        out.glucose.extend(rows.iter().map(|&r| self.glucose[r as usize]));
        if let Some(censor) = self.censor {
            out.censor.extend(rows.iter().map(|&r| censor[r as usize]));
        }
    }
}
