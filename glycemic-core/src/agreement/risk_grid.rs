//! A surveillance grid from the caller's own matrix of risks.
//!
//! # Method
//! A matrix gives the risk of a reading at nodes of (reference, measured). A pair takes the risk
//! of the nearest node (the upper one when it lies half way), or the bilinear interpolation of
//! the four around it. Pairs outside the nodes are counted apart and get no risk. The size of
//! the risk falls into eight bands; its sign tells the side.
//!
//! # Units
//! mg/dL; risk from -4 to 4, negative on the side of hypoglycaemia (sign convention from memory).
//!
//! # Source
//! Klonoff et al., J Diabetes Sci Technol 2014; 8: 658-672; Kovatchev et al., ibid. 673-684:
//! eight zones from none to extreme. Their cut points are from memory (unconfirmed). The table
//! of risks is not printed in the papers, so none is built in.

use crate::error::{Error, require_all_finite, require_same_len};
use crate::units::Unit;

/// Bands of the size of the risk: the upper end of each, which counts as inside, and its word.
/// From memory (unconfirmed).
pub const RISK_BANDS: [(f64, &str); 8] = [
    (0.5, "none"),
    (1.0, "slight_lower"),
    (1.5, "slight_higher"),
    (2.0, "moderate_lower"),
    (2.5, "moderate_higher"),
    (3.0, "severe_lower"),
    (3.5, "severe_upper"),
    (f64::INFINITY, "extreme"),
];

/// The largest size of a risk.
const WORST: f64 = 4.0;

/// How a risk is read off the matrix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Lookup {
    /// The nearest node, for a matrix with a row for each mg/dL.
    #[default]
    Cell,
    /// Between the four nodes around the pair.
    Bilinear,
}

/// Risks at nodes of (reference, measured), checked once.
#[derive(Clone, Debug, PartialEq)]
pub struct RiskMatrix {
    reference: Vec<f64>,
    measured: Vec<f64>,
    risk: Vec<f64>,
}

/// How pairs fall into the bands of risk.
#[derive(Clone, Debug, PartialEq)]
pub struct RiskGrid {
    /// Pairs inside the matrix.
    pub n: usize,
    /// Pairs outside it, which have no risk.
    pub outside: usize,
    /// The risk of each pair, with its sign; `None` outside the matrix.
    pub risks: Vec<Option<f64>>,
    /// The band of each pair, an index into [`RISK_BANDS`].
    pub bands: Vec<Option<usize>>,
    /// Pairs in each band.
    pub counts: [usize; 8],
    /// The same as a percentage of the pairs inside; `None` when there are none.
    pub percent: Option<[f64; 8]>,
    /// Pairs in each band whose reading is above the reference.
    pub above: [usize; 8],
    /// Pairs in each band whose reading is below the reference.
    pub below: [usize; 8],
    /// Mean size of the risk; `None` when no pair is inside.
    pub mean_size: Option<f64>,
}

impl RiskMatrix {
    /// A matrix with the risk of (reference `i`, measured `j`) at `risk[i * measured.len() + j]`.
    ///
    /// # Errors
    /// Fewer than two nodes on an axis, nodes that don't rise, a number of risks that is not
    /// rows times columns, NaN, a risk outside -4 to 4.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::agreement::risk_grid::RiskMatrix;
    /// let error = RiskMatrix::new(&[0.0, 10.0], &[0.0, 10.0], &[0.0; 3]).unwrap_err();
    /// assert_eq!(error.code(), "length_mismatch");
    /// ```
    pub fn new(
        reference_mg_dl: &[f64],
        measured_mg_dl: &[f64],
        risk: &[f64],
    ) -> Result<Self, Error> {
        axis("reference_mg_dl", reference_mg_dl)?;
        axis("measured_mg_dl", measured_mg_dl)?;
        require_same_len("risk", reference_mg_dl.len() * measured_mg_dl.len(), risk.len())?;
        require_all_finite("risk", risk)?;
        if let Some(index) = risk.iter().position(|r| r.abs() > WORST) {
            let (low, high) = (-WORST, WORST);
            let value = risk[index];
            return Err(Error::OutOfRange { name: "risk", index: Some(index), value, low, high });
        }
        Ok(RiskMatrix {
            reference: reference_mg_dl.to_vec(),
            measured: measured_mg_dl.to_vec(),
            risk: risk.to_vec(),
        })
    }

    /// The risk of one pair in mg/dL; `None` outside the nodes.
    pub fn risk(&self, reference: f64, measured: f64, lookup: Lookup) -> Option<f64> {
        let (i, u) = place(&self.reference, reference)?;
        let (j, v) = place(&self.measured, measured)?;
        let at = |i: usize, j: usize| self.risk[i * self.measured.len() + j];
        Some(match lookup {
            Lookup::Cell => at(i + usize::from(u >= 0.5), j + usize::from(v >= 0.5)),
            Lookup::Bilinear => {
                let low = at(i, j) + v * (at(i, j + 1) - at(i, j));
                let high = at(i + 1, j) + v * (at(i + 1, j + 1) - at(i + 1, j));
                low + u * (high - low)
            }
        })
    }
}

/// Classifies pairs, given in `unit`, by the caller's matrix of risks.
///
/// # Errors
/// Different lengths, NaN, a reference that is not positive, no pair.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::risk_grid::{Lookup, RiskMatrix, risk_grid};
/// # use glycemic_core::Unit;
/// // An invented matrix: no risk on the diagonal, 2 off it.
/// let m = RiskMatrix::new(&[50.0, 250.0], &[50.0, 250.0], &[0.0, 2.0, -2.0, 0.0])?;
/// let g = risk_grid(&[50.0, 150.0], &[150.0, 600.0], Unit::MgDl, &m, Lookup::Bilinear)?;
/// assert_eq!((g.risks[0], g.outside), (Some(1.0), 1));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn risk_grid(
    reference: &[f64],
    measured: &[f64],
    unit: Unit,
    matrix: &RiskMatrix,
    lookup: Lookup,
) -> Result<RiskGrid, Error> {
    super::check_pairs(reference, measured)?;
    if reference.is_empty() {
        return Err(Error::TooFewValues { measure: "risk grid", needed: 1, got: 0 });
    }
    let risks: Vec<Option<f64>> = reference
        .iter()
        .zip(measured)
        .map(|(&r, &m)| matrix.risk(unit.to_mg_dl(r), unit.to_mg_dl(m), lookup))
        .collect();
    let bands: Vec<Option<usize>> = risks.iter().map(|risk| risk.map(band)).collect();
    let (mut counts, mut above, mut below) = ([0; 8], [0; 8], [0; 8]);
    for (band, (r, m)) in bands.iter().zip(reference.iter().zip(measured)) {
        let Some(band) = *band else { continue };
        counts[band] += 1;
        above[band] += usize::from(m > r);
        below[band] += usize::from(m < r);
    }
    let n: usize = counts.iter().sum();
    let some = n > 0;
    let sizes: f64 = risks.iter().flatten().map(|r| r.abs()).sum();
    Ok(RiskGrid {
        n,
        outside: reference.len() - n,
        risks,
        bands,
        counts,
        percent: some.then(|| counts.map(|c| 100.0 * c as f64 / n as f64)),
        above,
        below,
        mean_size: some.then(|| sizes / n as f64),
    })
}

/// The band of a risk, an index into [`RISK_BANDS`].
pub fn band(risk: f64) -> usize {
    RISK_BANDS.iter().position(|(end, _)| risk.abs() <= *end).unwrap_or(RISK_BANDS.len() - 1)
}

fn axis(name: &'static str, nodes: &[f64]) -> Result<(), Error> {
    if nodes.len() < 2 {
        let measure = "an axis of a risk matrix";
        return Err(Error::TooFewValues { measure, needed: 2, got: nodes.len() });
    }
    require_all_finite(name, nodes)?;
    match nodes.windows(2).position(|w| w[1] <= w[0]) {
        Some(at) => Err(Error::OutOfRange {
            name,
            index: Some(at + 1),
            value: nodes[at + 1],
            low: nodes[at],
            high: f64::MAX,
        }),
        None => Ok(()),
    }
}

/// The node below (never the last) and the part of the way to the next.
fn place(nodes: &[f64], value: f64) -> Option<(usize, f64)> {
    let last = *nodes.last()?;
    if !(nodes[0]..=last).contains(&value) {
        return None;
    }
    let at = nodes.partition_point(|&node| node <= value).clamp(1, nodes.len() - 1) - 1;
    Some((at, (value - nodes[at]) / (nodes[at + 1] - nodes[at])))
}

#[cfg(test)]
#[path = "risk_grid_tests.rs"]
mod tests;
