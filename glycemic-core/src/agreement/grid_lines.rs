//! The published lines of the error grids, as data. Units: mg/dL, (reference, measured).
//!
//! # Source
//! Consensus grids: Parkes et al., Diabetes Care 2000; 23: 1143-1148, vertices as printed in
//! Pfutzner et al., J Diabetes Sci Technol 2013; 7: 1275-1281. Clarke et al., Diabetes Care
//! 1987; 10: 622-628. All vertices from memory (unconfirmed); that the consensus zones are
//! concentric and the Clarke grid turns on 20 %, 70 and 180 mg/dL was read.

use super::grid::Zone;

/// A border: the zone on its far side, and its vertices from the axis outwards.
pub(super) type Border = (Zone, &'static [(f64, f64)]);

/// Consensus grid, type 1 diabetes, above the diagonal, innermost first.
pub(super) const TYPE1_UPPER: [Border; 4] = [
    (Zone::B, &[(0.0, 50.0), (30.0, 50.0), (140.0, 170.0), (280.0, 380.0), (430.0, 550.0)]),
    (Zone::C, &[(0.0, 60.0), (30.0, 60.0), (50.0, 80.0), (70.0, 110.0), (260.0, 550.0)]),
    (Zone::D, &[(0.0, 100.0), (25.0, 100.0), (50.0, 125.0), (80.0, 215.0), (125.0, 550.0)]),
    (Zone::E, &[(0.0, 150.0), (35.0, 155.0), (50.0, 550.0)]),
];

/// Consensus grid, type 1 diabetes, below the diagonal, innermost first.
pub(super) const TYPE1_LOWER: [Border; 3] = [
    (Zone::B, &[(50.0, 0.0), (50.0, 30.0), (170.0, 145.0), (385.0, 300.0), (550.0, 450.0)]),
    (Zone::C, &[(120.0, 0.0), (120.0, 30.0), (260.0, 130.0), (550.0, 250.0)]),
    (Zone::D, &[(250.0, 0.0), (250.0, 40.0), (550.0, 150.0)]),
];

/// Consensus grid, type 2 diabetes, above the diagonal, innermost first.
pub(super) const TYPE2_UPPER: [Border; 4] = [
    (Zone::B, &[(0.0, 50.0), (30.0, 50.0), (230.0, 330.0), (440.0, 550.0)]),
    (Zone::C, &[(0.0, 60.0), (30.0, 60.0), (280.0, 550.0)]),
    (Zone::D, &[(0.0, 80.0), (25.0, 80.0), (35.0, 90.0), (125.0, 550.0)]),
    (Zone::E, &[(0.0, 200.0), (35.0, 200.0), (50.0, 550.0)]),
];

/// Consensus grid, type 2 diabetes, below the diagonal, innermost first.
pub(super) const TYPE2_LOWER: [Border; 3] = [
    (Zone::B, &[(50.0, 0.0), (50.0, 30.0), (90.0, 80.0), (330.0, 230.0), (550.0, 450.0)]),
    (Zone::C, &[(90.0, 0.0), (260.0, 130.0), (550.0, 250.0)]),
    (Zone::D, &[(250.0, 0.0), (250.0, 40.0), (410.0, 110.0), (550.0, 160.0)]),
];

/// How far out the polygons reach: far beyond any glucose, so that none falls off the grid.
pub(super) const RIM: f64 = 1e6;

/// Where 120 % of the reference is 70 mg/dL.
const CORNER: f64 = 175.0 / 3.0;

/// One zone of the Clarke grid: its polygon, and for edges that are not its own (the point on
/// them lies in the next zone) their first vertex.
pub(super) type ClarkeArea = (Zone, &'static [(f64, f64)], &'static [usize]);

/// The Clarke grid in the order in which a point on a shared line is given away: A, E, C, D, B.
///
/// Zone A holds values within 20 % and pairs with both below 70; its two edges at exactly 70
/// are not its own.
pub(super) const CLARKE: [ClarkeArea; 9] = [
    (
        Zone::A,
        &[
            (0.0, 0.0),
            (0.0, 70.0),
            (CORNER, 70.0),
            (RIM / 1.2, RIM),
            (RIM, RIM),
            (RIM, 0.8 * RIM),
            (70.0, 56.0),
            (70.0, 0.0),
        ],
        &[1, 6],
    ),
    (Zone::E, &[(0.0, 180.0), (70.0, 180.0), (70.0, RIM), (0.0, RIM)], &[]),
    (Zone::E, &[(180.0, 0.0), (180.0, 70.0), (RIM, 70.0), (RIM, 0.0)], &[]),
    (Zone::C, &[(70.0, 180.0), (290.0, 400.0), (290.0, RIM), (70.0, RIM)], &[]),
    (Zone::C, &[(130.0, 0.0), (180.0, 70.0), (180.0, 0.0)], &[]),
    (Zone::D, &[(0.0, 70.0), (CORNER, 70.0), (70.0, 84.0), (70.0, 180.0), (0.0, 180.0)], &[]),
    (Zone::D, &[(240.0, 70.0), (240.0, 180.0), (RIM, 180.0), (RIM, 70.0)], &[]),
    (Zone::B, &[(70.0, 84.0), (RIM / 1.2, RIM), (290.0, RIM), (290.0, 400.0), (70.0, 180.0)], &[]),
    (
        Zone::B,
        &[
            (70.0, 0.0),
            (130.0, 0.0),
            (180.0, 70.0),
            (240.0, 70.0),
            (240.0, 180.0),
            (RIM, 180.0),
            (RIM, 0.8 * RIM),
            (70.0, 56.0),
        ],
        &[],
    ),
];
