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
        if times_ms.is_empty() {
            return Err(Error::TooFewValues { measure: "a trace", needed: 1, got: 0 });
        }
        if !rising(times_ms) || values.iter().any(|v| v.is_nan()) {
            return self.cleaned(times_ms, &values, censor);
        }
        // The usual case: there is nothing to sort and nothing to set aside.
        let given = times_ms.len();
        let cleaning = Cleaning { given, kept: given, ..Cleaning::default() };
        Ok(self.trace(times_ms.to_vec(), values, censor.to_vec(), cleaning))
    }

    fn cleaned(&self, times_ms: &[i64], values: &[f64], censor: &[Censor]) -> Result<Trace, Error> {
        let mut cleaning = Cleaning { given: times_ms.len(), ..Cleaning::default() };
        let order = time_order(times_ms, &mut cleaning);
        let keep = drop_repeats(&order, times_ms, values, censor, &mut cleaning);
        if keep.is_empty() {
            return Err(Error::TooFewValues { measure: "a trace", needed: 1, got: 0 });
        }
        cleaning.kept = keep.len();
        let times = keep.iter().map(|&i| times_ms[i]).collect();
        let glucose = keep.iter().map(|&i| values[i]).collect();
        let censor = keep.iter().map(|&i| censor[i]).collect();
        Ok(self.trace(times, glucose, censor, cleaning))
    }

    fn trace(
        &self,
        times_ms: Vec<i64>,
        glucose_mg_dl: Vec<f64>,
        censor: Vec<Censor>,
        mut cleaning: Cleaning,
    ) -> Trace {
        let count = |kind| censor.iter().filter(|&&c| c == kind).count();
        cleaning.censored_low = count(Censor::Low);
        cleaning.censored_high = count(Censor::High);
        Trace {
            nominal_ms: nominal(&times_ms),
            times_ms,
            glucose_mg_dl,
            censor,
            unit: self.unit,
            clock: self.clock.clone(),
            breaks_ms: Vec::new(),
            cleaning,
        }
    }
}

/// Converts glucose to mg/dL and refuses what no device shows.
pub(super) fn check_values(unit: Unit, glucose: &[f64]) -> Result<Vec<f64>, Error> {
    let values = converted(unit, glucose);
    // No living person has a median under 30 or over 600 mg/dL.
    const MEDIAN: std::ops::RangeInclusive<f64> = 30.0..=600.0;
    let (mut bad, mut present, mut under, mut over) = (false, 0_usize, 0_usize, 0_usize);
    for &v in &values {
        bad |= v <= 0.0 || v > ABSURD_MG_DL;
        present += usize::from(!v.is_nan());
        under += usize::from(v < *MEDIAN.start());
        over += usize::from(v > *MEDIAN.end());
    }
    if bad {
        refuse_absurd(unit, glucose, &values)?;
    }
    // While fewer than half lie outside at either end, the middle ones lie inside.
    if present > 0 && 2 * under.max(over) + 1 >= present {
        let there: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
        if let Some(median) = quantile::median(&there)
            && !MEDIAN.contains(&median)
        {
            let median = unit.from_mg_dl(median);
            return Err(Error::ImplausibleUnit { median, unit: unit.code() });
        }
    }
    Ok(values)
}

/// Values on the step of the unit, in mg/dL.
fn converted(unit: Unit, glucose: &[f64]) -> Vec<f64> {
    // `Unit::snap` without the division and the rounding of a whole number, which is on the step
    // already: most sensors show whole mg/dL.
    let whole = |g: f64| f64::from(g as i32) == g;
    match unit {
        Unit::MgDl => glucose.iter().map(|&g| if whole(g) { g } else { unit.snap(g) }).collect(),
        Unit::MmolL => glucose.iter().map(|&g| unit.to_mg_dl(snap_tenth(unit, g))).collect(),
    }
}

/// `Unit::snap` for tenths: the same bits, without a call for the rounding where it is a plain one.
fn snap_tenth(unit: Unit, value: f64) -> f64 {
    let tenths = value * 10.0;
    if !(0.0..1e9).contains(&tenths) {
        return unit.snap(value);
    }
    let below = f64::from(tenths as i32);
    // Halves go up, as `f64::round` takes them for a positive number.
    let nearest = (if tenths - below >= 0.5 { below + 1.0 } else { below }) / 10.0;
    if (value - nearest).abs() <= 1e-4 * unit.step() { nearest } else { value }
}

/// The first value that no device shows, as an error.
fn refuse_absurd(unit: Unit, glucose: &[f64], values: &[f64]) -> Result<(), Error> {
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
    Ok(())
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
        sort_by_time(&mut order, times_ms);
    }
    order
}

/// Stable. Time since the earliest and position share one number where both fit, which sorts
/// several times faster than looking the times up.
fn sort_by_time(order: &mut Vec<usize>, times_ms: &[i64]) {
    let earliest = times_ms.iter().copied().min().unwrap_or(0);
    let span = times_ms.iter().copied().max().unwrap_or(0).abs_diff(earliest);
    let bits = usize::BITS - times_ms.len().leading_zeros();
    if span.leading_zeros() <= bits {
        order.sort_by_key(|&i| times_ms[i]);
        return;
    }
    let key = |(i, t): (usize, &i64)| (t.abs_diff(earliest) << bits) | i as u64;
    let mut keys: Vec<u64> = times_ms.iter().enumerate().map(key).collect();
    keys.sort_unstable();
    order.clear();
    order.extend(keys.iter().map(|k| (k & ((1 << bits) - 1)) as usize));
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
    keep
}

/// The median step; five minutes where there is only one reading.
fn nominal(times_ms: &[i64]) -> i64 {
    let steps = || times_ms.windows(2).map(|w| w[1] - w[0]);
    let count = times_ms.len().saturating_sub(1);
    let middle = count / 2;
    // Most steps of a sensor are alike: try one before all of them are put in order.
    let Some(guess) = steps().nth(middle) else { return 300_000 };
    let (mut shorter, mut longer) = (0, 0);
    for step in steps() {
        shorter += usize::from(step < guess);
        longer += usize::from(step > guess);
    }
    if shorter <= middle && longer < count - middle {
        return guess;
    }
    let mut steps: Vec<i64> = steps().collect();
    *steps.select_nth_unstable(middle).1
}

fn rising(times_ms: &[i64]) -> bool {
    times_ms.windows(2).all(|w| w[0] < w[1])
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
