//! Shares of readings in ranges of the caller's own.

use super::grid;
use crate::error::{Error, require_all_finite, require_finite};
use crate::units::Unit;

/// Shares of readings in ranges of the caller's own, in percent, a share per range.
///
/// `glucose_mg_dl`: readings in mg/dL, measured in `unit`. `ranges`: lower and upper limit in
/// mg/dL, each rounded to the step of `unit` (whole mg/dL, tenths of mmol/L); both ends count.
/// Ranges may overlap. Method: by reading.
///
/// # Errors
/// [`TooFewValues`](Error::TooFewValues) without readings or ranges;
/// [`NotFinite`](Error::NotFinite); [`OutOfRange`](Error::OutOfRange), with the place of the
/// range, when its lower limit is not below its upper.
///
/// # Example
/// ```
/// use glycemic_core::{panel::shares_in, Unit};
/// // 63 mg/dL is 3.5 mmol/L, 140 is 7.8.
/// let glucose = [3.4, 3.5, 7.8, 7.9].map(|g| Unit::MmolL.to_mg_dl(g));
/// assert_eq!(shares_in(&glucose, Unit::MmolL, &[(63.0, 140.0)])?, [50.0]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn shares_in(
    glucose_mg_dl: &[f64],
    unit: Unit,
    ranges: &[(f64, f64)],
) -> Result<Vec<f64>, Error> {
    require_all_finite("glucose_mg_dl", glucose_mg_dl)?;
    for (measure, len) in [("a share", glucose_mg_dl.len()), ("a list of shares", ranges.len())] {
        if len == 0 {
            return Err(Error::TooFewValues { measure, needed: 1, got: 0 });
        }
    }
    ranges.iter().enumerate().map(|(i, &range)| share(glucose_mg_dl, unit, range, i)).collect()
}

fn share(glucose: &[f64], unit: Unit, (low, high): (f64, f64), i: usize) -> Result<f64, Error> {
    require_finite("ranges", low + high)?;
    if low >= high {
        let (name, index) = ("ranges", Some(i));
        return Err(Error::OutOfRange { name, index, value: low, low: 0.0, high });
    }
    let inside = inside(unit, low, high);
    let count = glucose.iter().filter(|&&g| inside(g)).count();
    Ok(100.0 * count as f64 / glucose.len() as f64)
}

/// Whether a reading lies between two limits in mg/dL that are rounded to the unit's step.
///
/// In steps, where a limit is a whole number and a reading on the grid is one to within rounding.
pub(super) fn inside(unit: Unit, low: f64, high: f64) -> impl Fn(f64) -> bool {
    let step = grid::step_mg_dl(unit);
    let (low, high) = (grid::nearest_code(low, unit), grid::nearest_code(high, unit));
    move |g: f64| {
        let steps = match grid::code_of(g, unit) {
            Some(code) => f64::from(code),
            None => g / step,
        };
        low <= steps && steps <= high
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_rounded_to_the_step_and_included() {
        let mmol = |g: f64| Unit::MmolL.to_mg_dl(g);
        // 70 mg/dL is 3.886 mmol/L: 3.9. 180 is 9.991: 10.0.
        let glucose = [mmol(3.8), mmol(3.9), mmol(10.0), mmol(10.1)];
        assert_eq!(shares_in(&glucose, Unit::MmolL, &[(70.0, 180.0)]), Ok(vec![50.0]));
        let glucose = [69.0, 70.0, 180.0, 180.156, 181.0];
        let ranges = [(70.0, 180.0), (70.4, 180.4), (1.0, 69.0), (300.0, 400.0)];
        assert_eq!(shares_in(&glucose, Unit::MgDl, &ranges), Ok(vec![40.0, 40.0, 20.0, 0.0]));
    }

    #[test]
    fn bad_ranges_are_refused() {
        let of = |ranges: &[(f64, f64)]| shares_in(&[100.0], Unit::MgDl, ranges).unwrap_err();
        assert_eq!(of(&[]).code(), "too_few_values");
        assert_eq!(of(&[(f64::NAN, 100.0)]).code(), "not_finite");
        assert_eq!(of(&[(70.0, f64::INFINITY)]).code(), "not_finite");
        let error = of(&[(70.0, 180.0), (180.0, 180.0)]);
        assert_eq!((error.code(), error.index()), ("out_of_range", Some(1)));
        let none = shares_in(&[], Unit::MgDl, &[(70.0, 180.0)]).unwrap_err();
        assert_eq!(none.code(), "too_few_values");
        let nan = shares_in(&[100.0, f64::NAN], Unit::MgDl, &[(70.0, 180.0)]).unwrap_err();
        assert_eq!(nan.index(), Some(1));
    }
}
