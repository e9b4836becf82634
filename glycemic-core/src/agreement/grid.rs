//! Error grids: how much harm a wrong reading could do.
//!
//! # Method
//! Each grid is a set of polygons ([`grid_polygons`]), and a pair is classified by the first
//! polygon that holds it, so what is drawn is what is counted. A point on a line (within 1e-8
//! mg/dL) belongs to
//! - consensus grids: the inner zone, the one of lower risk;
//! - Clarke grid: the first of A, E, C, D, B that reaches it, so that 20 % itself is A and 70
//!   against 180 is E; but 70 itself is not "below 70", so the two edges of zone A at 70 belong
//!   to the zone outside.
//!
//! The papers leave these choices open. The consensus grids are drawn to 550 mg/dL and the
//! Clarke grid to 400; beyond, the last segment of a line goes on straight. In the Clarke grid
//! zone C above the diagonal ends at a reference of 290 mg/dL also there (the usual rule, read
//! literally): (300, 450) is B.
//!
//! # Units
//! mg/dL. Values in mmol/L are converted with 18.0156; the papers give no vertices in mmol/L.
//!
//! # Source
//! See `grid_lines.rs` for the vertices and their status.

use std::sync::LazyLock;

use super::grid_lines::{Border, CLARKE, RIM, TYPE1_LOWER, TYPE1_UPPER, TYPE2_LOWER, TYPE2_UPPER};
use super::within::Share;
use crate::error::{Error, require_within};
use crate::stats::binomial;
use crate::units::Unit;

/// Distance in mg/dL within which a point counts as on a line.
const SLACK: f64 = 1e-8;

/// Which grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Grid {
    /// Clarke et al. 1987.
    Clarke,
    /// Parkes et al. 2000, type 1 diabetes; the one that standards for meters use.
    ConsensusType1,
    /// Parkes et al. 2000, type 2 diabetes.
    ConsensusType2,
}

impl Grid {
    /// The grid's word: `clarke`, `consensus_type1` or `consensus_type2`.
    pub fn name(self) -> &'static str {
        match self {
            Grid::Clarke => "clarke",
            Grid::ConsensusType1 => "consensus_type1",
            Grid::ConsensusType2 => "consensus_type2",
        }
    }

    /// How far the paper draws the grid, mg/dL.
    pub fn drawn_to_mg_dl(self) -> f64 {
        match self {
            Grid::Clarke => 400.0,
            Grid::ConsensusType1 | Grid::ConsensusType2 => 550.0,
        }
    }

    /// Where the vertices come from and how sure they are.
    pub fn status(self) -> &'static str {
        "vertices from memory, unconfirmed"
    }
}

impl std::str::FromStr for Grid {
    type Err = Error;
    fn from_str(text: &str) -> Result<Grid, Error> {
        [Grid::Clarke, Grid::ConsensusType1, Grid::ConsensusType2]
            .into_iter()
            .find(|g| g.name() == text)
            .ok_or_else(|| Error::UnknownChoice {
                name: "grid",
                got: text.to_string(),
                choices: "clarke, consensus_type1, consensus_type2",
            })
    }
}

/// A zone, from no effect on what is done (A) to the opposite of what is needed (E).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[allow(missing_docs, reason = "letters")]
pub enum Zone {
    A,
    B,
    C,
    D,
    E,
}

impl Zone {
    /// All zones, A first.
    pub const ALL: [Zone; 5] = [Zone::A, Zone::B, Zone::C, Zone::D, Zone::E];

    /// The zone's letter.
    pub fn letter(self) -> &'static str {
        ["A", "B", "C", "D", "E"][self as usize]
    }
}

/// What an edge of a polygon does with a point on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Edge {
    /// The point is inside.
    Own,
    /// The point belongs to the zone on the other side.
    Next,
    /// An axis or the rim: nothing lies beyond.
    Frame,
}

/// A polygon of one zone. A zone may have several, one above and one below the diagonal.
#[derive(Clone, Debug, PartialEq)]
pub struct Polygon {
    /// Its zone.
    pub zone: Zone,
    /// Corners (reference, measured) in mg/dL, in order; the last joins the first.
    pub vertices: Vec<(f64, f64)>,
    /// For the edge that begins at each vertex.
    edges: Vec<Edge>,
}

/// How pairs fall into the zones of a grid.
#[derive(Clone, Debug, PartialEq)]
pub struct ErrorGrid {
    /// Which grid.
    pub grid: Grid,
    /// Pairs.
    pub n: usize,
    /// The zone of each pair, in the order given.
    pub zones: Vec<Zone>,
    /// Pairs in A, B, C, D, E.
    pub counts: [usize; 5],
    /// The same as a percentage of all pairs.
    pub percent: [f64; 5],
}

impl ErrorGrid {
    /// Share of pairs in A up to `zone`, with an exact binomial interval, pairs taken as
    /// independent. `share_up_to(Zone::B, ..)` is what ISO 15197:2013 asks for.
    ///
    /// # Errors
    /// A level outside 0.5-0.999.
    pub fn share_up_to(&self, zone: Zone, level: f64) -> Result<Share, Error> {
        require_within("level", level, 0.5, 0.999)?;
        let count = self.counts[..=zone as usize].iter().sum();
        let (low, high) = binomial::clopper_pearson(count, self.n, level)?;
        Ok(Share {
            count,
            n: self.n,
            n_effective: self.n as f64,
            fraction: count as f64 / self.n as f64,
            low,
            high,
            level,
            method: "exact binomial, pairs taken as independent".to_string(),
        })
    }
}

/// Classifies n >= 1 pairs, given in `unit`, by a grid.
///
/// # Errors
/// No pair, different lengths, NaN, a reference that is not positive, a measured value below 0,
/// a value above 1,000,000 mg/dL.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::grid::{Grid, error_grid};
/// # use glycemic_core::Unit;
/// // 120 for 100 is exactly 20 % off, which is still A; 130 is B; 50 for 210 is E.
/// let g = error_grid(&[100.0, 100.0, 210.0], &[120.0, 130.0, 50.0], Unit::MgDl, Grid::Clarke)?;
/// assert_eq!(g.counts, [1, 1, 0, 0, 1]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn error_grid(
    reference: &[f64],
    measured: &[f64],
    unit: Unit,
    grid: Grid,
) -> Result<ErrorGrid, Error> {
    super::check_pairs(reference, measured)?;
    if reference.is_empty() {
        return Err(Error::TooFewValues { measure: "error grid", needed: 1, got: 0 });
    }
    let mut zones = Vec::with_capacity(reference.len());
    for (index, (&r, &m)) in reference.iter().zip(measured).enumerate() {
        let (x, y) = (unit.to_mg_dl(r), unit.to_mg_dl(m));
        for (name, value) in [("reference", x), ("measured", y)] {
            if !(0.0..=RIM).contains(&value) {
                let (low, high) = (0.0, RIM);
                return Err(Error::OutOfRange { name, index: Some(index), value, low, high });
            }
        }
        zones.push(zone_of(x, y, grid));
    }
    let mut counts = [0; 5];
    for zone in &zones {
        counts[*zone as usize] += 1;
    }
    let n = zones.len();
    let percent = counts.map(|c| 100.0 * c as f64 / n as f64);
    Ok(ErrorGrid { grid, n, zones, counts, percent })
}

/// The polygons of a grid, cut off at `extent_mg_dl` on both axes, for drawing.
///
/// Together they fill the square and no two overlap.
///
/// # Errors
/// An extent outside 300 to 1,000,000 mg/dL: nearer, whole zones would be missing.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::grid::{Grid, Zone, grid_polygons};
/// let areas = grid_polygons(Grid::ConsensusType1, 550.0)?;
/// assert_eq!(areas.iter().filter(|p| p.zone == Zone::E).count(), 1);
/// assert!(areas[0].vertices.contains(&(140.0, 170.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn grid_polygons(grid: Grid, extent_mg_dl: f64) -> Result<Vec<Polygon>, Error> {
    require_within("extent_mg_dl", extent_mg_dl, 300.0, RIM)?;
    Ok(areas(grid).iter().map(|p| p.cut(extent_mg_dl)).collect())
}

/// The zone of one pair in mg/dL, both from 0 to the rim.
fn zone_of(x: f64, y: f64, grid: Grid) -> Zone {
    let areas = areas(grid);
    let held = areas.iter().find(|p| p.holds(x, y));
    // The polygons fill the square; were one missed, the worst would be said, not the best.
    held.map_or(Zone::E, |p| p.zone)
}

fn areas(grid: Grid) -> &'static [Polygon] {
    static CLARKE_AREAS: LazyLock<Vec<Polygon>> = LazyLock::new(clarke);
    static TYPE1: LazyLock<Vec<Polygon>> = LazyLock::new(|| consensus(&TYPE1_UPPER, &TYPE1_LOWER));
    static TYPE2: LazyLock<Vec<Polygon>> = LazyLock::new(|| consensus(&TYPE2_UPPER, &TYPE2_LOWER));
    match grid {
        Grid::Clarke => &CLARKE_AREAS,
        Grid::ConsensusType1 => &TYPE1,
        Grid::ConsensusType2 => &TYPE2,
    }
}

fn clarke() -> Vec<Polygon> {
    let area = |(zone, vertices, next): &(Zone, &[(f64, f64)], &[usize])| {
        let mut polygon = Polygon::new(*zone, vertices.to_vec());
        for &edge in *next {
            polygon.edges[edge] = Edge::Next;
        }
        polygon
    };
    CLARKE.iter().map(area).collect()
}

/// From A outwards, so that a point on a line falls to the inner zone.
fn consensus(upper: &[Border], lower: &[Border]) -> Vec<Polygon> {
    let upper: Vec<_> = upper.iter().map(|(zone, line)| (*zone, to_rim(line, true))).collect();
    let lower: Vec<_> = lower.iter().map(|(zone, line)| (*zone, to_rim(line, false))).collect();
    let mut middle = upper[0].1.clone();
    middle.push((RIM, RIM));
    middle.extend(lower[0].1.iter().rev());
    middle.push((0.0, 0.0));
    let mut out = vec![Polygon::new(Zone::A, middle)];
    let mut side = |lines: &[(Zone, Vec<(f64, f64)>)], corner: (f64, f64)| {
        for (k, (zone, line)) in lines.iter().enumerate() {
            let mut vertices = line.clone();
            match lines.get(k + 1) {
                Some((_, outer)) => vertices.extend(outer.iter().rev()),
                None => vertices.push(corner),
            }
            out.push(Polygon::new(*zone, vertices));
        }
    };
    side(&upper, (0.0, RIM));
    side(&lower, (RIM, 0.0));
    out.sort_by_key(|p| p.zone);
    out
}

/// A border with its last segment carried on to the rim: the top, or the right-hand side.
fn to_rim(line: &[(f64, f64)], top: bool) -> Vec<(f64, f64)> {
    let mut out = line.to_vec();
    if let [.., (x0, y0), (x1, y1)] = *line {
        let (dx, dy) = (x1 - x0, y1 - y0);
        out.push(if top {
            (x1 + (RIM - y1) * dx / dy, RIM)
        } else {
            (RIM, y1 + (RIM - x1) * dy / dx)
        });
    }
    out
}

impl Polygon {
    fn new(zone: Zone, vertices: Vec<(f64, f64)>) -> Polygon {
        let n = vertices.len();
        let edges = (0..n).map(|i| frame_or_own(vertices[i], vertices[(i + 1) % n])).collect();
        Polygon { zone, vertices, edges }
    }

    /// Whether the point lies inside, or on an edge that is the polygon's own.
    fn holds(&self, x: f64, y: f64) -> bool {
        let n = self.vertices.len();
        let (mut inside, mut own, mut next, mut frame) = (false, false, false, false);
        for i in 0..n {
            let (a, b) = (self.vertices[i], self.vertices[(i + 1) % n]);
            if distance((x, y), a, b) <= SLACK {
                match self.edges[i] {
                    Edge::Own => own = true,
                    Edge::Next => next = true,
                    Edge::Frame => frame = true,
                }
            }
            // Crossings of a ray to the right; half-open in y, so a corner counts once.
            if (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) * (b.0 - a.0) / (b.1 - a.1) {
                inside = !inside;
            }
        }
        own || (!next && (frame || inside))
    }

    /// The part within `extent` on both axes.
    fn cut(&self, extent: f64) -> Polygon {
        let right = clip(&self.vertices, |p| extent - p.0);
        let both = clip(&right, |p| extent - p.1);
        Polygon::new(self.zone, both)
    }
}

fn frame_or_own(a: (f64, f64), b: (f64, f64)) -> Edge {
    let at = |v: f64, w: f64| v == w && (v == 0.0 || v == RIM);
    if at(a.0, b.0) || at(a.1, b.1) { Edge::Frame } else { Edge::Own }
}

/// Distance of a point from a segment.
fn distance(p: (f64, f64), a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx * dx + dy * dy;
    let along = if length > 0.0 { ((p.0 - a.0) * dx + (p.1 - a.1) * dy) / length } else { 0.0 };
    let along = along.clamp(0.0, 1.0);
    let (ex, ey) = (p.0 - (a.0 + along * dx), p.1 - (a.1 + along * dy));
    (ex * ex + ey * ey).sqrt()
}

/// The part of a polygon where `inside` is not negative (Sutherland and Hodgman 1974).
fn clip(vertices: &[(f64, f64)], inside: impl Fn((f64, f64)) -> f64) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for (i, &b) in vertices.iter().enumerate() {
        let a = vertices[(i + vertices.len() - 1) % vertices.len()];
        let (at_a, at_b) = (inside(a), inside(b));
        if (at_a < 0.0) != (at_b < 0.0) {
            let part = at_a / (at_a - at_b);
            out.push((a.0 + part * (b.0 - a.0), a.1 + part * (b.1 - a.1)));
        }
        if at_b >= 0.0 {
            out.push(b);
        }
    }
    out.dedup();
    out
}

#[cfg(test)]
#[path = "grid_tests.rs"]
mod tests;
