//! What is drawn is what is counted: error grids through the public calls alone.

use glycemic_core::Unit;
use glycemic_core::agreement::grid::{Grid, Polygon, Zone, error_grid, grid_polygons};
use proptest::prelude::*;

const GRIDS: [Grid; 3] = [Grid::Clarke, Grid::ConsensusType1, Grid::ConsensusType2];

/// Signed turns of the polygon about a point (Sunday's winding number), not the library's rule.
fn turns(polygon: &Polygon, x: f64, y: f64) -> i32 {
    let n = polygon.vertices.len();
    let mut turns = 0;
    for i in 0..n {
        let ((ax, ay), (bx, by)) = (polygon.vertices[i], polygon.vertices[(i + 1) % n]);
        let left = (bx - ax) * (y - ay) - (x - ax) * (by - ay);
        if ay <= y && by > y && left > 0.0 {
            turns += 1;
        } else if ay > y && by <= y && left < 0.0 {
            turns -= 1;
        }
    }
    turns
}

/// Whether the point lies within a hundredth of an edge, where the two rules may differ.
fn near_an_edge(polygon: &Polygon, x: f64, y: f64) -> bool {
    let n = polygon.vertices.len();
    (0..n).any(|i| {
        let ((ax, ay), (bx, by)) = (polygon.vertices[i], polygon.vertices[(i + 1) % n]);
        let length = ((bx - ax) * (bx - ax) + (by - ay) * (by - ay)).sqrt();
        (((bx - ax) * (y - ay) - (x - ax) * (by - ay)) / length).abs() < 0.01
    })
}

proptest! {
    #[test]
    fn a_pair_lies_in_one_polygon_and_has_its_zone(x in 0.1_f64..599.0, y in 0.1_f64..599.0) {
        for grid in GRIDS {
            let polygons = grid_polygons(grid, 600.0).unwrap();
            if polygons.iter().any(|p| near_an_edge(p, x, y)) {
                continue;
            }
            let held: Vec<Zone> =
                polygons.iter().filter(|p| turns(p, x, y) != 0).map(|p| p.zone).collect();
            let found = error_grid(&[x], &[y], Unit::MgDl, grid).unwrap();
            prop_assert_eq!(held, found.zones, "{:?} {} {}", grid, x, y);
        }
    }

    /// Further from the diagonal on one side, never a lower risk: the consensus grids.
    #[test]
    fn risk_rises_away_from_the_diagonal(x in 0.1_f64..1000.0, a in 0.0_f64..1.0, b in 0.0_f64..1.0) {
        let (near, far) = (a.min(b), a.max(b));
        for grid in [Grid::ConsensusType1, Grid::ConsensusType2] {
            let zone = |y: f64| error_grid(&[x], &[y], Unit::MgDl, grid).unwrap().zones[0];
            prop_assert_eq!(zone(x), Zone::A);
            prop_assert!(zone(x + 1000.0 * near) <= zone(x + 1000.0 * far));
            prop_assert!(zone(x * (1.0 - near)) <= zone(x * (1.0 - far)));
        }
    }
}

/// The same pair in mmol/L falls where its mg/dL value falls.
#[test]
fn units_agree_off_the_lines() {
    for grid in GRIDS {
        let r: Vec<f64> = (1..300).map(|k| 0.1 * f64::from(k)).collect();
        let m: Vec<f64> = r.iter().rev().copied().collect();
        let mg = |v: &[f64]| v.iter().map(|v| v * 18.0156).collect::<Vec<f64>>();
        let mmol = error_grid(&r, &m, Unit::MmolL, grid).unwrap();
        assert_eq!(mmol.zones, error_grid(&mg(&r), &mg(&m), Unit::MgDl, grid).unwrap().zones);
    }
}
