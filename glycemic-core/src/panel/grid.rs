//! The grid that readings lie on: whole mg/dL, or tenths of mmol/L, as whole-number codes.
//!
//! # Method
//! A reading is a code times the step of its unit. Adding 1.5 × 2^52 to a double puts the
//! nearest whole number into its lowest bits, so a slice is converted and checked in one pass
//! without branches. A reading is on the grid when it is the step times a whole number: exactly for
//! mg/dL; to within a few roundings (a relative 1e-15) for mmol/L, which are held as mg/dL, after
//! one or two products.
//!
//! # Source
//! Steps: common practice of meters and sensors, no source.

use crate::units::{MG_DL_PER_MMOL_L, Unit};

/// The highest level on the grid in mg/dL, above any meter or sensor.
const MAX_MG_DL: f64 = 2000.0;
/// 1.5 × 2^52: a double of this size has units in its last place.
const SHIFT: f64 = 6_755_399_441_055_744.0;
/// Five roundings of half a unit in the last place are 5.6e-16.
const ROUNDING: f64 = 1e-15;
/// Readings per check: an off-grid slice is found out early.
const BLOCK: usize = 1024;

/// The highest code of a unit.
///
/// # Example
/// ```
/// # use glycemic_core::{panel::grid::max_code, Unit};
/// assert_eq!((max_code(Unit::MgDl), max_code(Unit::MmolL)), (2000, 1110));
/// ```
pub fn max_code(unit: Unit) -> u16 {
    (MAX_MG_DL / step_mg_dl(unit)) as u16
}

/// The step of a unit's grid, in mg/dL.
pub fn step_mg_dl(unit: Unit) -> f64 {
    match unit {
        Unit::MgDl => 1.0,
        Unit::MmolL => MG_DL_PER_MMOL_L / 10.0,
    }
}

/// The reading with this code in mg/dL, with the bits that a trace holds for it.
///
/// # Example
/// ```
/// # use glycemic_core::{panel::grid::value_of, Unit};
/// assert_eq!(value_of(78, Unit::MmolL), Unit::MmolL.to_mg_dl(7.8));
/// ```
pub fn value_of(code: u16, unit: Unit) -> f64 {
    match unit {
        Unit::MgDl => f64::from(code),
        Unit::MmolL => Unit::MmolL.to_mg_dl(f64::from(code) / 10.0),
    }
}

/// The code of a reading in mg/dL, or `None` off the grid of `unit`.
///
/// # Example
/// ```
/// # use glycemic_core::{panel::grid::code_of, Unit};
/// assert_eq!(code_of(180.156, Unit::MmolL), Some(100));
/// assert_eq!(code_of(180.156, Unit::MgDl), None);
/// ```
pub fn code_of(mg_dl: f64, unit: Unit) -> Option<u16> {
    let step = step_mg_dl(unit);
    let code = (mg_dl / step).round();
    let off = (mg_dl - code * step).abs();
    let close = match unit {
        Unit::MgDl => off == 0.0,
        Unit::MmolL => off < mg_dl * ROUNDING,
    };
    (close && (1.0..=f64::from(max_code(unit))).contains(&code)).then_some(code as u16)
}

/// The nearest code to a limit in mg/dL.
pub fn nearest_code(mg_dl: f64, unit: Unit) -> f64 {
    (mg_dl / step_mg_dl(unit)).round()
}

/// Codes of a slice, with the lowest and the highest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Codes {
    /// A code per reading.
    pub codes: Vec<u16>,
    /// The lowest code; 1 more than `last` can be only in an empty slice.
    pub first: u16,
    /// The highest code.
    pub last: u16,
}

/// The codes of readings in mg/dL measured in `unit`; `None` if one is off the grid, or if there
/// is no reading. One pass.
///
/// # Example
/// ```
/// # use glycemic_core::{panel::grid::codes, Unit};
/// assert_eq!(codes(&[70.0, 180.0], Unit::MgDl).unwrap().codes, [70, 180]);
/// assert_eq!(codes(&[70.0, 180.5], Unit::MgDl), None);
/// ```
pub fn codes(mg_dl: &[f64], unit: Unit) -> Option<Codes> {
    let mut out = Codes { codes: vec![0; mg_dl.len()], first: u16::MAX, last: 0 };
    for (values, codes) in mg_dl.chunks(BLOCK).zip(out.codes.chunks_mut(BLOCK)) {
        let (first, last) = match unit {
            Unit::MgDl => whole(values, codes),
            Unit::MmolL => tenths(values, codes),
        }?;
        out.first = out.first.min(first);
        out.last = out.last.max(last);
    }
    (1 <= out.first && out.first <= out.last && out.last <= max_code(unit)).then_some(out)
}

/// Codes of whole mg/dL. What must be zero for a good reading is gathered by OR, so that there
/// is one test a block.
fn whole(values: &[f64], codes: &mut [u16]) -> Option<(u16, u16)> {
    let mut wrong = 0_u64;
    for (value, code) in values.iter().zip(codes.iter_mut()) {
        let shifted = value + SHIFT;
        let whole = shifted.to_bits() ^ SHIFT.to_bits();
        // Any bit above 2047 (NaN and infinity have some), or any fraction.
        wrong |= (whole & !2047) | (value - (shifted - SHIFT)).to_bits();
        *code = whole as u16;
    }
    (wrong == 0).then(|| ends(codes))
}

/// Codes of tenths of mmol/L, held as mg/dL.
fn tenths(values: &[f64], codes: &mut [u16]) -> Option<(u16, u16)> {
    let step = step_mg_dl(Unit::MmolL);
    let per_step = 1.0 / step;
    let (mut wrong, mut close) = (0_u64, u64::MAX);
    for (value, code) in values.iter().zip(codes.iter_mut()) {
        let shifted = value * per_step + SHIFT;
        let whole = shifted.to_bits() ^ SHIFT.to_bits();
        let off = (value - (shifted - SHIFT) * step).abs();
        wrong |= whole & !2047;
        // Negative, with the sign bit set, when the distance is within rounding.
        close &= (off - value * ROUNDING).to_bits();
        *code = whole as u16;
    }
    (wrong == 0 && close >> 63 == 1).then(|| ends(codes))
}

/// The lowest and the highest code of a block; as signed numbers, which 64-bit processors of
/// every age compare eight at a time.
fn ends(codes: &[u16]) -> (u16, u16) {
    let (mut first, mut last) = (i16::MAX, 0_i16);
    for &code in codes {
        first = first.min(code as i16);
        last = last.max(code as i16);
    }
    (first as u16, last as u16)
}

#[cfg(test)]
#[path = "grid_tests.rs"]
mod tests;
