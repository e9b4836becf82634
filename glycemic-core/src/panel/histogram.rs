//! An accumulator of readings: any order, constant memory, an exact and commutative merge.
//!
//! # Method
//! A count for each level of the unit's grid. Every order-free measure follows from the counts,
//! so parts of a trace, of a wear or of a cohort can be counted apart and joined: the whole has
//! the same bits however it was cut and in whatever order it is put together.

use super::count::{Counts, count};
use super::grid;
use super::options::Options;
use super::order_free::{Valued, measures};
use super::registry::Id;
use crate::error::Error;
use crate::series::{Censor, TraceView};
use crate::units::Unit;

/// Counts of readings by level.
///
/// # Example
/// ```
/// use glycemic_core::{panel::{Histogram, Id, Options}, Unit};
/// let mut night = Histogram::new(Unit::MgDl);
/// night.extend(&[90.0, 95.0])?;
/// let mut day = Histogram::new(Unit::MgDl);
/// day.push(115.0)?;
/// day.merge(&night)?;
/// let all = day.measures(&Options::default())?;
/// assert!(all.contains(&(Id::MeanMgDl, Ok(100.0))));
/// assert_eq!(day.push(90.5).unwrap_err().code(), "off_grid");
/// # Ok::<(), glycemic_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(into = "Stored", try_from = "Stored"))]
pub struct Histogram {
    unit: Unit,
    /// A count per code, from 0 to the highest.
    counts: Vec<u64>,
    censored_low: u64,
    censored_high: u64,
}

impl Histogram {
    /// An empty one, for readings measured in `unit`.
    pub fn new(unit: Unit) -> Histogram {
        let counts = vec![0; usize::from(grid::max_code(unit)) + 1];
        Histogram { unit, counts, censored_low: 0, censored_high: 0 }
    }

    /// The unit of the readings.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// Number of readings.
    pub fn n(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// Readings that stood at the sensor's lower and upper limit.
    pub fn censored(&self) -> (u64, u64) {
        (self.censored_low, self.censored_high)
    }

    /// Counts a reading in mg/dL.
    ///
    /// # Errors
    /// [`OffGrid`](Error::OffGrid) when it is not a whole number of steps of the unit.
    pub fn push(&mut self, mg_dl: f64) -> Result<(), Error> {
        match grid::code_of(mg_dl, self.unit) {
            Some(code) => {
                self.counts[usize::from(code)] += 1;
                Ok(())
            }
            None => Err(off_grid(mg_dl, self.unit, None)),
        }
    }

    /// Counts a reading that may stand at a limit of the sensor, `mg_dl` being that limit.
    ///
    /// # Errors
    /// As [`push`](Histogram::push).
    pub fn push_censored(&mut self, mg_dl: f64, censor: Censor) -> Result<(), Error> {
        self.push(mg_dl)?;
        match censor {
            Censor::None => {}
            Censor::Low => self.censored_low += 1,
            Censor::High => self.censored_high += 1,
        }
        Ok(())
    }

    /// Counts a reading as the device shows it: whole mg/dL, or tenths of mmol/L.
    ///
    /// # Errors
    /// [`OutOfRange`](Error::OutOfRange) for 0 or a code above 2000 mg/dL.
    pub fn push_code(&mut self, code: u16) -> Result<(), Error> {
        match self.counts.get_mut(usize::from(code)) {
            Some(count) if code > 0 => {
                *count += 1;
                Ok(())
            }
            _ => Err(Error::OutOfRange {
                name: "code",
                index: None,
                value: f64::from(code),
                low: 1.0,
                high: f64::from(grid::max_code(self.unit)),
            }),
        }
    }

    /// Counts readings in mg/dL; all of them, or none when one is off the grid.
    ///
    /// # Errors
    /// [`OffGrid`](Error::OffGrid), with the place of the first.
    pub fn extend(&mut self, mg_dl: &[f64]) -> Result<(), Error> {
        let Some(codes) = grid::codes(mg_dl, self.unit) else {
            let bad = |&(_, &g): &(usize, &f64)| grid::code_of(g, self.unit).is_none();
            return match mg_dl.iter().enumerate().find(bad) {
                Some((index, &g)) => Err(off_grid(g, self.unit, Some(index))),
                None => Ok(()),
            };
        };
        for (sum, n) in self.counts[usize::from(codes.first)..].iter_mut().zip(count(&codes)) {
            *sum += n;
        }
        Ok(())
    }

    /// Counts a stretch of a trace with its readings at the sensor's limits; all or none.
    ///
    /// # Errors
    /// [`OffGrid`](Error::OffGrid), or [`UnknownChoice`](Error::UnknownChoice) when the trace was
    /// measured in the other unit.
    pub fn extend_trace(&mut self, view: TraceView<'_>) -> Result<(), Error> {
        self.require_unit(view.trace().unit())?;
        self.extend(view.glucose_mg_dl())?;
        let (low, high) = super::compute::censored(view);
        self.censored_low += low;
        self.censored_high += high;
        Ok(())
    }

    /// Adds the counts of another.
    ///
    /// # Errors
    /// [`UnknownChoice`](Error::UnknownChoice) when the other is of the other unit: the standard
    /// limits are no exact equivalents, so counts can't be carried over.
    pub fn merge(&mut self, other: &Histogram) -> Result<(), Error> {
        self.require_unit(other.unit)?;
        for (sum, n) in self.counts.iter_mut().zip(&other.counts) {
            *sum += n;
        }
        self.censored_low += other.censored_low;
        self.censored_high += other.censored_high;
        Ok(())
    }

    /// Every measure that needs no more than a histogram, with its value or why it has none.
    ///
    /// # Errors
    /// As [`Options::check`].
    pub fn measures(&self, options: &Options) -> Result<Vec<Valued>, Error> {
        options.check()?;
        let counts = Counts { unit: self.unit, first: 0, counts: &self.counts };
        let mut out = measures(counts.summary(options).as_ref(), options);
        out.extend([
            (Id::N, Ok(self.n() as f64)),
            (Id::CensoredLow, Ok(self.censored_low as f64)),
            (Id::CensoredHigh, Ok(self.censored_high as f64)),
        ]);
        Ok(out)
    }

    fn require_unit(&self, unit: Unit) -> Result<(), Error> {
        if unit == self.unit {
            return Ok(());
        }
        let got = unit.code().to_string();
        Err(Error::UnknownChoice { name: "unit", got, choices: self.unit.code() })
    }
}

fn off_grid(mg_dl: f64, unit: Unit, index: Option<usize>) -> Error {
    Error::OffGrid { name: "glucose", index, value: unit.from_mg_dl(mg_dl), unit: unit.code() }
}

/// What is stored: occupied levels only.
#[cfg(feature = "serde")]
#[derive(serde::Serialize, serde::Deserialize)]
struct Stored {
    unit: Unit,
    /// Code and count, rising.
    levels: Vec<(u16, u64)>,
    censored_low: u64,
    censored_high: u64,
}

#[cfg(feature = "serde")]
impl From<Histogram> for Stored {
    fn from(h: Histogram) -> Stored {
        let levels = (0..).zip(h.counts).filter(|l| l.1 > 0).collect();
        let Histogram { unit, censored_low, censored_high, .. } = h;
        Stored { unit, levels, censored_low, censored_high }
    }
}

#[cfg(feature = "serde")]
impl TryFrom<Stored> for Histogram {
    type Error = Error;

    fn try_from(stored: Stored) -> Result<Histogram, Error> {
        let mut h = Histogram::new(stored.unit);
        let mut n = 0_u64;
        for (index, (code, count)) in stored.levels.into_iter().enumerate() {
            // Beyond this whole numbers have gaps as doubles; no one has so many readings.
            let most = (1 << 53) - n;
            let in_range = code > 0 && usize::from(code) < h.counts.len() && count <= most;
            if !in_range {
                return Err(Error::OutOfRange {
                    name: "levels",
                    index: Some(index),
                    value: f64::from(code),
                    low: 1.0,
                    high: f64::from(grid::max_code(stored.unit)),
                });
            }
            n += count;
            h.counts[usize::from(code)] += count;
        }
        (h.censored_low, h.censored_high) = (stored.censored_low, stored.censored_high);
        for (name, value) in [("censored_low", h.censored_low), ("censored_high", h.censored_high)]
        {
            crate::error::require_within(name, value as f64, 0.0, n as f64)?;
        }
        Ok(h)
    }
}

#[cfg(test)]
#[path = "histogram_tests.rs"]
mod tests;
