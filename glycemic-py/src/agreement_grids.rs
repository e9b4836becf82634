//! Error grids and the surveillance grid of the caller's own risks.

use std::collections::BTreeMap;

use glycemic_core::Table;
use glycemic_core::agreement;
use glycemic_core::agreement::grid::{ErrorGrid, Grid, Polygon, Zone};
use glycemic_core::agreement::risk_grid::{Lookup, RISK_BANDS, RiskGrid, RiskMatrix};
use glycemic_core::units::Unit;
use pyo3::prelude::*;

use crate::agreement::{PyShare, share};
use crate::agreement_words::{choice, matrix, pairs};
use crate::convert::floats;
use crate::error::{compute, guard, to_py};
use crate::record::record;
use crate::table::PyTable;

const ZONES: &str = "A, B, C, D, E";

record! {
    /// How pairs fall into the zones of an error grid. For education, coaching and research; not
    /// a medical device.
    PyErrorGrid as "ErrorGrid" {
        /// Which grid: clarke, consensus_type1 or consensus_type2.
        grid: String,
        /// Pairs.
        n: usize,
        /// The zone of each pair, A to E, in the order given.
        zones: Vec<String>,
        /// Pairs in each zone, by its letter.
        counts: BTreeMap<String, usize>,
        /// The same as a percentage of all pairs.
        percent: BTreeMap<String, f64>,
        /// How sure the lines of the grid are.
        status: String,
    }

    /// Share of pairs in A up to a zone, with an exact binomial interval, pairs taken as
    /// independent.
    ///
    /// Parameters
    /// ----------
    /// zone : {"A", "B", "C", "D", "E"}
    /// level : float
    ///     Confidence level of the interval.
    ///
    /// Returns
    /// -------
    /// Share
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For another zone, or a level outside 0.5-0.999.
    ///
    /// Notes
    /// -----
    /// Source: ISO 15197:2013 asks for zones A and B; Clopper and Pearson, Biometrika 1934; 26:
    /// 404-413. For education, coaching and research; not a medical device.
    ///
    /// Examples
    /// --------
    /// >>> gly.agreement.error_grid([100, 100], [120, 130]).share_up_to("A").fraction
    /// 0.5
    #[pyo3(signature = (zone="B", level=0.95))]
    fn share_up_to(&self, zone: &str, level: f64) -> PyResult<PyShare> {
        guard(|| {
            let last = choice("zone", zone, &Zone::ALL.map(|z| (z.letter(), z)), ZONES)?;
            let grid: Grid = self.grid.parse().map_err(to_py)?;
            // Only the counts matter here.
            let held = |z: Zone| self.counts.get(z.letter()).copied().unwrap_or(0);
            let counts = Zone::ALL.map(held);
            let plain =
                ErrorGrid { grid, n: self.n, zones: Vec::new(), counts, percent: [0.0; 5] };
            plain.share_up_to(last, level).map(share).map_err(to_py)
        })
    }
}

record! {
    /// How pairs fall into bands of risk. For education, coaching and research; not a medical
    /// device.
    PyRiskGrid as "RiskGrid" {
        /// Pairs inside the matrix.
        n: usize,
        /// Pairs outside it, which have no risk.
        outside: usize,
        /// The risk of each pair, with its sign; None outside the matrix.
        risks: Vec<Option<f64>>,
        /// The band of each pair, from none to extreme; None outside the matrix.
        bands: Vec<Option<String>>,
        /// A row for each band: band, upper_risk, count, percent, above, below (the reading
        /// lies above or below its reference).
        table: Py<PyTable>,
        /// Mean size of the risk; None when no pair is inside.
        mean_size: Option<f64>,
    }
}

/// The zones of an error grid: how much harm a wrong reading could do.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in `unit`; n of at least 1, references positive.
/// grid : {"clarke", "consensus_type1", "consensus_type2"}
///     Which grid. Standards for meters use consensus_type1.
/// unit : {"mg/dL", "mmol/L"}
///     Unit of the values; the grids are drawn in mg/dL.
///
/// Returns
/// -------
/// ErrorGrid
///     A point on a line belongs to the inner zone; for the Clarke grid to the first of A, E, C,
///     D, B that reaches it.
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, different lengths, NaN, a reference that is not positive, a measured value
///     below 0, an unknown grid or unit.
///
/// Notes
/// -----
/// Source: Clarke et al., Diabetes Care 1987; 10: 622-628; Parkes et al., Diabetes Care 2000; 23:
/// 1143-1148. The vertices are from memory, unconfirmed. For education, coaching and research;
/// not a medical device.
///
/// Examples
/// --------
/// >>> g = gly.agreement.error_grid([100, 100, 210], [120, 130, 50])
/// >>> g.zones, g.counts["E"]
/// (['A', 'B', 'E'], 1)
#[pyfunction]
#[pyo3(signature = (reference, measured, grid="clarke", unit="mg/dL"))]
fn error_grid(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    grid: &str,
    unit: &str,
) -> PyResult<PyErrorGrid> {
    guard(|| {
        let (grid, unit) = (grid.parse().map_err(to_py)?, unit.parse().map_err(to_py)?);
        let (r, m) = pairs(reference, measured)?;
        let found = compute(py, || agreement::error_grid(&r, &m, unit, grid))?;
        let letters = || Zone::ALL.iter().map(|z| z.letter().to_string());
        Ok(PyErrorGrid {
            grid: grid.name().to_string(),
            n: found.n,
            zones: found.zones.iter().map(|z| z.letter().to_string()).collect(),
            counts: letters().zip(found.counts).collect(),
            percent: letters().zip(found.percent).collect(),
            status: grid.status().to_string(),
        })
    })
}

/// The polygons of an error grid, for drawing.
///
/// Parameters
/// ----------
/// grid : {"clarke", "consensus_type1", "consensus_type2"}
///     Which grid.
/// extent_mg_dl : float, optional
///     Where both axes end, mg/dL, from 300 on; without it where the paper ends them.
///
/// Returns
/// -------
/// Table
///     A row for each corner: `polygon` (counted from 0; a zone may have several), `zone`,
///     `vertex` (in order, from 0; the last joins the first), `reference_mg_dl` and
///     `measured_mg_dl`. The polygons fill the square and no two overlap.
///
/// Raises
/// ------
/// GlycemicError
///     For an unknown grid, or an extent outside 300 to 1,000,000 mg/dL.
///
/// Notes
/// -----
/// Source: as for `error_grid`. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.grid_polygons("consensus_type1")
/// >>> sorted(set(t["zone"])), float(t["reference_mg_dl"].max())
/// (['A', 'B', 'C', 'D', 'E'], 550.0)
#[pyfunction]
#[pyo3(signature = (grid="clarke", extent_mg_dl=None))]
fn grid_polygons(grid: &str, extent_mg_dl: Option<f64>) -> PyResult<PyTable> {
    guard(|| {
        let grid: Grid = grid.parse().map_err(to_py)?;
        let extent = extent_mg_dl.unwrap_or(grid.drawn_to_mg_dl());
        let areas = agreement::grid_polygons(grid, extent).map_err(to_py)?;
        polygon_table(&areas).map(|t| PyTable::new(t, true)).map_err(to_py)
    })
}

fn polygon_table(areas: &[Polygon]) -> Result<Table, glycemic_core::Error> {
    let (mut at, mut zone, mut vertex) = (Vec::new(), Vec::new(), Vec::new());
    let (mut reference, mut measured) = (Vec::new(), Vec::new());
    for (k, area) in areas.iter().enumerate() {
        for (i, (x, y)) in area.vertices.iter().enumerate() {
            at.push(Some(k as i64));
            zone.push(Some(area.zone.letter().to_string()));
            vertex.push(Some(i as i64));
            reference.push(Some(*x));
            measured.push(Some(*y));
        }
    }
    let mut table = Table::new();
    table.push_i64("polygon", at)?;
    table.push_text("zone", zone)?;
    table.push_i64("vertex", vertex)?;
    table.push_f64("reference_mg_dl", reference)?;
    table.push_f64("measured_mg_dl", measured)?;
    Ok(table)
}

/// Bands of risk from your own matrix of risks.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in `unit`; n of at least 1, references positive.
/// reference_mg_dl, measured_mg_dl : array_like
///     Rising nodes of the matrix, mg/dL.
/// risk : array_like, shape (nodes of the reference, nodes of the measured value)
///     Risks from -4 to 4, negative on the side of hypoglycaemia. None is built in: the papers
///     don't print theirs.
/// lookup : {"bilinear", "cell"}
///     Between the four nodes around the pair, or the nearest node.
/// unit : {"mg/dL", "mmol/L"}
///     Unit of the pairs.
///
/// Returns
/// -------
/// RiskGrid
///     Pairs outside the nodes are counted apart.
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, different lengths, NaN, a reference that is not positive, nodes that don't
///     rise, a matrix of another shape, a risk outside -4 to 4.
///
/// Notes
/// -----
/// Source: Klonoff et al., J Diabetes Sci Technol 2014; 8: 658-672; Kovatchev et al., ibid.
/// 673-684; cut points of the bands from memory, unconfirmed. For education, coaching and
/// research; not a medical device.
///
/// Examples
/// --------
/// >>> nodes = [50, 250]
/// >>> g = gly.agreement.risk_grid([50, 150], [150, 600], nodes, nodes, [[0, 2], [-2, 0]])
/// >>> g.risks, g.bands, g.outside
/// ([1.0, None], ['slight_lower', None], 1)
#[pyfunction]
#[pyo3(signature = (reference, measured, reference_mg_dl, measured_mg_dl, risk,
                    lookup="bilinear", unit="mg/dL"))]
#[allow(clippy::too_many_arguments, reason = "a matrix has three parts")]
fn risk_grid(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    reference_mg_dl: &Bound<'_, PyAny>,
    measured_mg_dl: &Bound<'_, PyAny>,
    risk: &Bound<'_, PyAny>,
    lookup: &str,
    unit: &str,
) -> PyResult<PyRiskGrid> {
    guard(|| {
        let known = [("bilinear", Lookup::Bilinear), ("cell", Lookup::Cell)];
        let lookup = choice("lookup", lookup, &known, "bilinear, cell")?;
        let unit: Unit = unit.parse().map_err(to_py)?;
        let (r, m) = pairs(reference, measured)?;
        let rows = floats(reference_mg_dl, "reference_mg_dl")?;
        let columns = floats(measured_mg_dl, "measured_mg_dl")?;
        let (risks, width) = matrix(risk, "risk")?;
        glycemic_core::error::require_same_len("risk", columns.len(), width).map_err(to_py)?;
        let found = compute(py, || {
            let own = RiskMatrix::new(&rows, &columns, &risks)?;
            agreement::risk_grid(&r, &m, unit, &own, lookup)
        })?;
        let table = band_table(&found).map_err(to_py)?;
        let word = |band: usize| RISK_BANDS.get(band).map(|b| b.1.to_string());
        Ok(PyRiskGrid {
            n: found.n,
            outside: found.outside,
            risks: found.risks,
            bands: found.bands.into_iter().map(|b| b.and_then(word)).collect(),
            table: Py::new(py, PyTable::new(table, true))?,
            mean_size: found.mean_size,
        })
    })
}

fn band_table(found: &RiskGrid) -> Result<Table, glycemic_core::Error> {
    let counts = |of: &[usize; 8]| of.iter().map(|c| Some(*c as i64)).collect::<Vec<_>>();
    let percent = match found.percent {
        Some(percent) => percent.map(Some).to_vec(),
        None => vec![None; RISK_BANDS.len()],
    };
    // The last band is open.
    let upper = RISK_BANDS.iter().map(|b| b.0.is_finite().then_some(b.0)).collect();
    let mut table = Table::new();
    table.push_text("band", RISK_BANDS.iter().map(|b| Some(b.1.to_string())).collect())?;
    table.push_f64("upper_risk", upper)?;
    table.push_i64("count", counts(&found.counts))?;
    table.push_f64("percent", percent)?;
    table.push_i64("above", counts(&found.above))?;
    table.push_i64("below", counts(&found.below))?;
    Ok(table)
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyErrorGrid>()?;
    m.add_class::<PyRiskGrid>()?;
    room.add_function(wrap_pyfunction!(error_grid, room)?)?;
    room.add_function(wrap_pyfunction!(grid_polygons, room)?)?;
    room.add_function(wrap_pyfunction!(risk_grid, room)?)
}
