//! What one reading adds to the indices that weigh readings: risk, GRADE, control, M.
//!
//! # Method
//! Each index is the mean over all readings of a weight of the level, so it follows from how
//! often each level occurs. The weights of the levels on a unit's grid are computed once.
//!
//! # Units
//! Levels in mg/dL; weights are plain numbers.
//!
//! # Source
//! Risk: Kovatchev et al., Diabetes Care 1997; 20:1655-1658 (constants from memory; they follow
//! from f(20) = -f(600) = -sqrt 10 and f(70) = -f(180)). GRADE: Hill et al., Diabet Med 2007;
//! 24:753-758 (formula read in a table of 2011; cap 50 from memory). Index of glycaemic control:
//! Rodbard, Diabetes Technol Ther 2009; 11 (S1):S55-S67 (constants from memory). M: Schlichtkrull
//! et al., Acta Med Scand 1965; 177:95-102.

use std::sync::OnceLock;

use super::grid;
use super::options::RiskConstants;
use crate::units::{MG_DL_PER_MMOL_L, Unit};

/// GRADE of one reading at the most.
const GRADE_CAP: f64 = 50.0;
/// Reference of the M-value that the tables hold, mg/dL.
pub(super) const M_REFERENCE_MG_DL: f64 = 120.0;

/// Risk of a level, f in -3.16 to 3.16 from 20 to 600 mg/dL: negative when low.
///
/// 1.509 [(ln G)^1.084 - 5.381] in mg/dL, or 1.794 [(ln G)^1.026 - 1.861] in mmol/L. A level
/// under 1 in that unit, where the power has no value, counts as 1.
///
/// # Example
/// ```
/// # use glycemic_core::panel::{risk::risk, RiskConstants};
/// assert!((risk(50.0, RiskConstants::MgDl) + 1.5).abs() < 1e-3);
/// ```
pub fn risk(mg_dl: f64, constants: RiskConstants) -> f64 {
    let log = |level: f64| libm::log(level.max(1.0));
    match constants {
        RiskConstants::MgDl => 1.509 * (libm::pow(log(mg_dl), 1.084) - 5.381),
        RiskConstants::MmolL => 1.794 * (libm::pow(log(mg_dl / MG_DL_PER_MMOL_L), 1.026) - 1.861),
    }
}

/// GRADE of a level: 425 (log10(log10 G) + 0.16)^2 with G in mmol/L, at most 50.
///
/// At or under 1 mmol/L, where the formula has no value, it is the cap, which it nears there.
///
/// # Example
/// ```
/// # use glycemic_core::panel::risk::grade;
/// assert!((grade(140.0) - 5.107).abs() < 5e-4);
/// assert_eq!(grade(20.0), 50.0);
/// ```
pub fn grade(mg_dl: f64) -> f64 {
    let log = libm::log10(mg_dl / MG_DL_PER_MMOL_L);
    if log <= 0.0 {
        return GRADE_CAP;
    }
    let root = libm::log10(log) + 0.16;
    (425.0 * root * root).min(GRADE_CAP)
}

/// What a level adds to M: |10 log10(G / reference)|^3.
///
/// # Example
/// ```
/// # use glycemic_core::panel::risk::m_term;
/// assert_eq!((m_term(12.0, 120.0), m_term(120.0, 120.0)), (1000.0, 0.0));
/// ```
pub fn m_term(mg_dl: f64, reference_mg_dl: f64) -> f64 {
    let root = (10.0 * libm::log10(mg_dl / reference_mg_dl)).abs();
    root * root * root
}

/// What a level adds to the hyperglycaemia index: (G - 140)^1.1 / 30 above 140 mg/dL.
///
/// # Example
/// ```
/// # use glycemic_core::panel::risk::hyper_term;
/// assert_eq!((hyper_term(140.0), hyper_term(141.0)), (0.0, 1.0 / 30.0));
/// ```
pub fn hyper_term(mg_dl: f64) -> f64 {
    if mg_dl > 140.0 { libm::pow(mg_dl - 140.0, 1.1) / 30.0 } else { 0.0 }
}

/// What a level adds to the hypoglycaemia index: (80 - G)^2 / 30 below 80 mg/dL.
///
/// # Example
/// ```
/// # use glycemic_core::panel::risk::hypo_term;
/// assert_eq!((hypo_term(80.0), hypo_term(50.0)), (0.0, 30.0));
/// ```
pub fn hypo_term(mg_dl: f64) -> f64 {
    if mg_dl < 80.0 { (80.0 - mg_dl) * (80.0 - mg_dl) / 30.0 } else { 0.0 }
}

/// Places in [`Terms`]; a level's weights side by side fill one line of the cache.
pub(super) const LOW: usize = 0;
pub(super) const HIGH: usize = 1;
pub(super) const LOW_MMOL: usize = 2;
pub(super) const HIGH_MMOL: usize = 3;
pub(super) const GRADE: usize = 4;
pub(super) const HYPER: usize = 5;
pub(super) const HYPO: usize = 6;
pub(super) const M: usize = 7;
pub(super) type Terms = [f64; 8];

/// All weights of a level.
pub(super) fn terms(mg_dl: f64) -> Terms {
    let split = |f: f64| if f < 0.0 { (10.0 * f * f, 0.0) } else { (0.0, 10.0 * f * f) };
    let mut out = [0.0; 8];
    (out[LOW], out[HIGH]) = split(risk(mg_dl, RiskConstants::MgDl));
    (out[LOW_MMOL], out[HIGH_MMOL]) = split(risk(mg_dl, RiskConstants::MmolL));
    out[GRADE] = grade(mg_dl);
    out[HYPER] = hyper_term(mg_dl);
    out[HYPO] = hypo_term(mg_dl);
    out[M] = m_term(mg_dl, M_REFERENCE_MG_DL);
    out
}

/// Codes whose weights are computed together, when the first of them is needed.
const BLOCK: usize = 64;
type Block = OnceLock<[Terms; BLOCK]>;
// In place, not on the heap, which would look like a leak to who watches a C program.
static MG_DL: [Block; 32] = [const { OnceLock::new() }; 32];
static MMOL_L: [Block; 18] = [const { OnceLock::new() }; 18];

/// The weights of the codes of a block, computed once.
fn block(unit: Unit, number: usize) -> &'static [Terms; BLOCK] {
    let blocks: &[Block] = match unit {
        Unit::MgDl => &MG_DL,
        Unit::MmolL => &MMOL_L,
    };
    let level = |place: usize| grid::value_of((number * BLOCK + place) as u16, unit);
    blocks[number].get_or_init(|| std::array::from_fn(|place| terms(level(place))))
}

/// Weights of the codes from `first` on times their counts, code by code. A code that doesn't
/// occur adds 0, which changes no bit.
pub(super) fn sum_of_codes(unit: Unit, first: usize, counts: &[u64]) -> Terms {
    let mut sums = [0.0; 8];
    let (mut code, mut rest) = (first, counts);
    while !rest.is_empty() {
        let place = code % BLOCK;
        let (now, later) = rest.split_at(rest.len().min(BLOCK - place));
        let weights = &block(unit, code / BLOCK)[place..];
        for (&count, terms) in now.iter().zip(weights) {
            add(&mut sums, count, terms);
        }
        (code, rest) = (code + now.len(), later);
    }
    sums
}

/// The same over levels of any value.
pub(super) fn sum_of_levels(levels: &[(f64, u64)]) -> Terms {
    let mut sums = [0.0; 8];
    for &(level, count) in levels {
        add(&mut sums, count, &terms(level));
    }
    sums
}

fn add(sums: &mut Terms, count: u64, terms: &Terms) {
    let count = count as f64;
    for (sum, term) in sums.iter_mut().zip(terms) {
        *sum += count * term;
    }
}

#[cfg(test)]
#[path = "risk_tests.rs"]
mod tests;
