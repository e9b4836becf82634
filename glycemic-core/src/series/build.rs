//! Making a trace: sort, drop doubles, set aside what can't be used, and report all of it.
//!
//! # Method
//! Readings are sorted by time (stable). Of readings at one instant with one value the first is
//! kept and the rest counted as duplicates; with different values the first given is kept and
//! the others are listed as conflicts. A missing value (NaN) is set aside and listed. Zero,
//! negative, infinite and absurdly high values are errors. Readings shown as below or above the
//! sensor's limit stand at that limit and are marked.

use super::cleaning::{Censor, Cleaning, Rejected};
use super::trace::Trace;
use crate::clock::LocalClock;
use crate::error::Error;
use crate::stats::quantile;
use crate::units::Unit;

/// 1990-01-01 and 2100-01-01 in UTC milliseconds: instants outside are taken as unit mistakes.
const PLAUSIBLE_MS: (i64, i64) = (631_152_000_000, 4_102_444_800_000);
/// Above any meter or sensor (mg/dL).
const ABSURD_MG_DL: f64 = 2000.0;

/// Makes a [`Trace`].
///
/// # Example
/// ```
/// use glycemic_core::{series::Builder, Unit};
/// let start = 1_741_000_000_000;
/// let times = [start, start + 300_000, start + 300_000, start + 600_000];
/// let trace = Builder::new(Unit::MgDl).build(&times, &[100.0, 104.0, 104.0, 110.0])?;
/// assert_eq!((trace.len(), trace.cleaning().duplicates), (3, 1));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct Builder {
    unit: Unit,
    clock: Option<LocalClock>,
}

impl Builder {
    /// A builder for readings in `unit`.
    pub fn new(unit: Unit) -> Builder {
        Builder { unit, clock: None }
    }

    /// Sets the local clock.
    pub fn clock(mut self, clock: Option<LocalClock>) -> Builder {
        self.clock = clock;
        self
    }

    /// Builds a trace from times (UTC ms) and glucose in the builder's unit, n items each; NaN
    /// stands for a missing value.
    ///
    /// # Errors
    /// Different lengths; no reading; an implausible instant; a value that is infinite, not
    /// positive or over 2000 mg/dL; a median that only makes sense in another unit.
    pub fn build(&self, times_ms: &[i64], glucose: &[f64]) -> Result<Trace, Error> {
        self.build_censored(times_ms, glucose, &vec![Censor::None; glucose.len()])
    }

    /// As [`build`](Builder::build), with readings at a limit of the device marked; their
    /// `glucose` is that limit.
    ///
    /// # Errors
    /// As [`build`](Builder::build).
    pub fn build_censored(
        &self,
        times_ms: &[i64],
        glucose: &[f64],
        censor: &[Censor],
    ) -> Result<Trace, Error> {
        crate::error::require_same_len("glucose", times_ms.len(), glucose.len())?;
        crate::error::require_same_len("censor", times_ms.len(), censor.len())?;
        let values = check_values(self.unit, glucose)?;
        check_times(times_ms)?;
        let mut cleaning = Cleaning { given: times_ms.len(), ..Cleaning::default() };
        let order = time_order(times_ms, &mut cleaning);
        let keep = drop_repeats(&order, times_ms, &values, censor, &mut cleaning);
        if keep.is_empty() {
            return Err(Error::TooFewValues { measure: "a trace", needed: 1, got: 0 });
        }
        let times: Vec<i64> = keep.iter().map(|&i| times_ms[i]).collect();
        Ok(Trace {
            nominal_ms: nominal(&times),
            times_ms: times,
            glucose_mg_dl: keep.iter().map(|&i| values[i]).collect(),
            censor: keep.iter().map(|&i| censor[i]).collect(),
            unit: self.unit,
            clock: self.clock.clone(),
            breaks_ms: Vec::new(),
            cleaning,
        })
    }
}

/// Converts glucose to mg/dL and refuses what no device shows.
pub(super) fn check_values(unit: Unit, glucose: &[f64]) -> Result<Vec<f64>, Error> {
    let values: Vec<f64> = glucose.iter().map(|&g| unit.to_mg_dl(unit.snap(g))).collect();
    for (index, (&mg_dl, &given)) in values.iter().zip(glucose).enumerate() {
        if given.is_infinite() {
            return Err(Error::NotFinite { name: "glucose", index: Some(index), value: given });
        }
        if mg_dl <= 0.0 || mg_dl > ABSURD_MG_DL {
            let high = unit.from_mg_dl(ABSURD_MG_DL).round();
            return Err(Error::OutOfRange {
                name: "glucose",
                index: Some(index),
                value: given,
                low: unit.step(),
                high,
            });
        }
    }
    let present: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    // No living person has a median under 30 or over 600 mg/dL.
    if let Some(median) = quantile::median(&present)
        && !(30.0..=600.0).contains(&median)
    {
        return Err(Error::ImplausibleUnit { median: unit.from_mg_dl(median), unit: unit.code() });
    }
    Ok(values)
}

pub(super) fn check_times(times_ms: &[i64]) -> Result<(), Error> {
    let (low, high) = PLAUSIBLE_MS;
    match times_ms.iter().position(|t| !(low..=high).contains(t)) {
        None => Ok(()),
        Some(index) => {
            let value = times_ms[index];
            let why = if value > high {
                "it lies after 2100; are these microseconds or nanoseconds?"
            } else if (631_152_000..=4_102_444_800).contains(&value) {
                "it lies before 1990; are these seconds?"
            } else {
                "it lies before 1990"
            };
            Err(Error::ImplausibleTime { index, value, why })
        }
    }
}

fn time_order(times_ms: &[i64], cleaning: &mut Cleaning) -> Vec<usize> {
    let mut latest = i64::MIN;
    for &t in times_ms {
        if t < latest {
            cleaning.sorted += 1;
        }
        latest = latest.max(t);
    }
    let mut order: Vec<usize> = (0..times_ms.len()).collect();
    if cleaning.sorted > 0 {
        order.sort_by_key(|&i| times_ms[i]);
    }
    order
}

fn drop_repeats(
    order: &[usize],
    times_ms: &[i64],
    values: &[f64],
    censor: &[Censor],
    cleaning: &mut Cleaning,
) -> Vec<usize> {
    let mut keep: Vec<usize> = Vec::with_capacity(order.len());
    let reject = |index: usize, why: &str| {
        let value = values[index];
        Rejected {
            index,
            time_ms: times_ms[index],
            glucose_mg_dl: if value.is_nan() { None } else { Some(value) },
            why: why.to_string(),
        }
    };
    for &i in order {
        if values[i].is_nan() {
            cleaning.missing += 1;
            cleaning.rejected.push(reject(i, "missing"));
            continue;
        }
        match keep.last() {
            Some(&last) if times_ms[last] == times_ms[i] => {
                if values[last] == values[i] && censor[last] == censor[i] {
                    cleaning.duplicates += 1;
                } else {
                    cleaning.conflicts += 1;
                    cleaning.rejected.push(reject(i, "conflict"));
                }
            }
            _ => keep.push(i),
        }
    }
    cleaning.kept = keep.len();
    cleaning.censored_low = keep.iter().filter(|&&i| censor[i] == Censor::Low).count();
    cleaning.censored_high = keep.iter().filter(|&&i| censor[i] == Censor::High).count();
    keep
}

/// The median step; five minutes where there is only one reading.
fn nominal(times_ms: &[i64]) -> i64 {
    let mut steps: Vec<i64> = times_ms.windows(2).map(|w| w[1] - w[0]).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied().unwrap_or(300_000)
}

#[cfg(test)]
mod tests {
    use super::*;
    const T: i64 = 1_741_000_000_000;

    #[test]
    fn nothing_is_dropped_silently() {
        let times = [T + 600_000, T, T, T + 300_000, T + 300_000, T + 900_000];
        let glucose = [110.0, 100.0, 100.0, 104.0, 105.0, f64::NAN];
        let trace = Builder::new(Unit::MgDl).build(&times, &glucose).unwrap();
        let c = trace.cleaning();
        assert_eq!(
            (c.given, c.kept, c.duplicates, c.conflicts, c.missing, c.sorted),
            (6, 3, 1, 1, 1, 4)
        );
        assert_eq!(c.given, c.kept + c.duplicates + c.rejected.len());
        assert_eq!(trace.glucose_mg_dl(), [100.0, 104.0, 110.0]);
    }

    #[test]
    fn unit_and_time_mistakes_are_named() {
        let mg = Builder::new(Unit::MgDl);
        assert_eq!(mg.build(&[T, T + 1], &[5.5, 6.1]).unwrap_err().code(), "implausible_unit");
        assert_eq!(
            Builder::new(Unit::MmolL).build(&[T], &[100.0]).unwrap_err().code(),
            "implausible_unit"
        );
        assert_eq!(mg.build(&[T / 1000], &[100.0]).unwrap_err().code(), "implausible_time");
        assert_eq!(mg.build(&[T * 1000], &[100.0]).unwrap_err().code(), "implausible_time");
        assert_eq!(mg.build(&[T], &[-5.0]).unwrap_err().index(), Some(0));
        assert_eq!(mg.build(&[T, T + 1], &[100.0, f64::INFINITY]).unwrap_err().index(), Some(1));
    }

    #[test]
    fn single_precision_values_are_put_on_the_step() {
        let trace = Builder::new(Unit::MmolL).build(&[T], &[f64::from(7.8_f32)]).unwrap();
        assert_eq!(trace.glucose_mg_dl()[0], Unit::MmolL.to_mg_dl(7.8));
    }
}
