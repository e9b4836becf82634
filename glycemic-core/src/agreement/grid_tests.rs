use super::*;

const GRIDS: [Grid; 3] = [Grid::Clarke, Grid::ConsensusType1, Grid::ConsensusType2];

/// The Clarke rules as inequalities (usual form of Clarke et al. 1987, from memory), written
/// independently of the polygons; in eighths of mg/dL where 1.2 x and 0.8 x are exact enough.
fn clarke_by_rules(x: f64, y: f64) -> Zone {
    let e = 1e-9;
    if (x < 70.0 && y < 70.0) || (y - x).abs() <= 0.2 * x + e {
        Zone::A
    } else if (x >= 180.0 && y <= 70.0) || (x <= 70.0 && y >= 180.0) {
        Zone::E
    } else if ((70.0..=290.0).contains(&x) && y >= x + 110.0)
        || ((130.0..=180.0).contains(&x) && y <= 1.4 * x - 182.0 + e)
    {
        Zone::C
    } else if (x >= 240.0 && (70.0..=180.0).contains(&y))
        || (x <= 175.0 / 3.0 + e && (70.0..=180.0).contains(&y))
        || ((175.0 / 3.0..=70.0).contains(&x) && y >= 1.2 * x - e)
    {
        Zone::D
    } else {
        Zone::B
    }
}

/// The polylines read as functions, independently of the polygons: above an upper line, or right
/// of a lower one, is strictly outside.
fn consensus_by_lines(x: f64, y: f64, upper: &[Border], lower: &[Border]) -> Zone {
    // How far `across` must be to lie on the line at `along`; the last segment goes on.
    let beyond = |line: &[(f64, f64)], along: f64, across: f64, flip: bool| {
        let at = |p: (f64, f64)| if flip { (p.1, p.0) } else { p };
        let last = line.len() - 1;
        let k = (1..=last).find(|&k| along <= at(line[k]).0).unwrap_or(last);
        let ((a0, c0), (a1, c1)) = (at(line[k - 1]), at(line[k]));
        // On an upright piece a point is outside only beyond its far end.
        let c = if a1 == a0 { c0.max(c1) } else { c0 + (along - a0) * (c1 - c0) / (a1 - a0) };
        across > c + 1e-9
    };
    let out_up = |b: &&Border| beyond(b.1, x, y, false);
    let out_down = |b: &&Border| beyond(b.1, y, x, true);
    let outer = upper.iter().rev().find(out_up).or_else(|| lower.iter().rev().find(out_down));
    outer.map_or(Zone::A, |b| b.0)
}

fn by_rules(x: f64, y: f64, grid: Grid) -> Zone {
    match grid {
        Grid::Clarke => clarke_by_rules(x, y),
        Grid::ConsensusType1 => consensus_by_lines(x, y, &TYPE1_UPPER, &TYPE1_LOWER),
        Grid::ConsensusType2 => consensus_by_lines(x, y, &TYPE2_UPPER, &TYPE2_LOWER),
    }
}

/// Every whole number, with many points exactly on a line, and a coarse net far beyond the
/// drawn grid.
#[test]
fn polygons_and_rules_agree_everywhere() {
    for grid in GRIDS {
        let step = |k: i32| f64::from(k);
        for x in (1..=620).map(step) {
            for y in (0..=620).map(step) {
                assert_eq!(zone_of(x, y, grid), by_rules(x, y, grid), "{grid:?} {x} {y}");
            }
        }
        for x in (1..=60).map(|k| 97.3 * f64::from(k)) {
            for y in (0..=60).map(|k| 89.1 * f64::from(k)) {
                assert_eq!(zone_of(x, y, grid), by_rules(x, y, grid), "{grid:?} {x} {y}");
            }
        }
    }
}

/// Just on both sides of every edge of every polygon, at its middle and near both ends, on it,
/// and at each corner.
#[test]
fn both_sides_of_every_edge() {
    let mut checked = 0;
    for grid in GRIDS {
        for polygon in grid_polygons(grid, 600.0).unwrap() {
            let n = polygon.vertices.len();
            for i in 0..n {
                let ((ax, ay), (bx, by)) = (polygon.vertices[i], polygon.vertices[(i + 1) % n]);
                let length = ((bx - ax) * (bx - ax) + (by - ay) * (by - ay)).sqrt();
                let (nx, ny) = ((ay - by) / length, (bx - ax) / length);
                for part in [0.0, 0.01, 0.5, 0.99, 1.0] {
                    for off in [-0.001, 0.0, 0.001] {
                        let x = ax + part * (bx - ax) + off * nx;
                        let y = ay + part * (by - ay) + off * ny;
                        if x <= 0.0 || !(0.0..=599.0).contains(&y) || x > 599.0 {
                            continue;
                        }
                        checked += 1;
                        assert_eq!(zone_of(x, y, grid), by_rules(x, y, grid), "{grid:?} {x} {y}");
                    }
                }
            }
        }
    }
    assert!(checked > 1000, "{checked}");
}

/// Edges where two zones meet really divide: a step across changes the zone.
#[test]
fn lines_divide() {
    let across = |grid, x: f64, y: f64, dx: f64, dy: f64| {
        (zone_of(x - dx, y - dy, grid), zone_of(x, y, grid), zone_of(x + dx, y + dy, grid))
    };
    let t1 = Grid::ConsensusType1;
    assert_eq!(across(t1, 140.0, 170.0, 0.0, 0.1), (Zone::A, Zone::A, Zone::B));
    assert_eq!(across(t1, 50.0, 15.0, 0.1, 0.0), (Zone::A, Zone::A, Zone::B));
    assert_eq!(across(t1, 250.0, 20.0, 0.1, 0.0), (Zone::C, Zone::C, Zone::D));
    assert_eq!(across(t1, 35.0, 155.0, 0.0, 0.1), (Zone::D, Zone::D, Zone::E));
    let c = Grid::Clarke;
    assert_eq!(across(c, 100.0, 120.0, 0.0, 0.1), (Zone::A, Zone::A, Zone::B));
    assert_eq!(across(c, 30.0, 70.0, 0.0, 0.1), (Zone::A, Zone::D, Zone::D));
    assert_eq!(across(c, 70.0, 30.0, 0.1, 0.0), (Zone::A, Zone::B, Zone::B));
    assert_eq!(across(c, 70.0, 56.0, 0.1, 0.0), (Zone::A, Zone::A, Zone::B));
    assert_eq!(across(c, 300.0, 70.0, 0.0, 0.1), (Zone::E, Zone::E, Zone::D));
    assert_eq!(across(c, 200.0, 310.0, 0.0, 0.1), (Zone::B, Zone::C, Zone::C));
    assert_eq!(zone_of(70.0, 180.0, c), Zone::E);
    assert_eq!(zone_of(300.0, 450.0, c), Zone::B);
}

/// The drawn polygons fill the square once: their areas add up.
#[test]
fn polygons_fill_the_square() {
    for grid in GRIDS {
        for extent in [300.0, grid.drawn_to_mg_dl(), 600.0] {
            let area = |p: &Polygon| {
                let n = p.vertices.len();
                let cross = |i: usize| {
                    let ((ax, ay), (bx, by)) = (p.vertices[i], p.vertices[(i + 1) % n]);
                    ax * by - bx * ay
                };
                0.5 * (0..n).map(cross).sum::<f64>().abs()
            };
            let polygons = grid_polygons(grid, extent).unwrap();
            let total: f64 = polygons.iter().map(area).sum();
            let square = extent * extent;
            assert!((total - square).abs() < 1e-6 * square, "{grid:?} {extent} {total}");
        }
    }
    assert!(grid_polygons(Grid::Clarke, 200.0).is_err());
}

/// What a reader draws keeps each published vertex, exactly.
#[test]
fn published_vertices_are_drawn() {
    let all = |grid| -> Vec<(f64, f64)> {
        grid_polygons(grid, 550.0).unwrap().into_iter().flat_map(|p| p.vertices).collect()
    };
    for (grid, borders) in [
        (Grid::ConsensusType1, [&TYPE1_UPPER[..], &TYPE1_LOWER[..]].concat()),
        (Grid::ConsensusType2, [&TYPE2_UPPER[..], &TYPE2_LOWER[..]].concat()),
    ] {
        let drawn = all(grid);
        for vertex in borders.iter().flat_map(|b| b.1) {
            let near = |p: &(f64, f64)| (p.0 - vertex.0).abs() + (p.1 - vertex.1).abs() < 1e-9;
            assert!(drawn.iter().any(near), "{grid:?} {vertex:?}");
        }
    }
}

#[test]
fn counts_units_and_errors() {
    let g = error_grid(&[5.0, 20.0], &[5.0, 4.0], Unit::MmolL, Grid::Clarke).unwrap();
    // 20 and 4.0 mmol/L are 360 and 72 mg/dL: D, just above 70.
    assert_eq!((g.zones.clone(), g.percent), (vec![Zone::A, Zone::D], [50.0, 0.0, 0.0, 50.0, 0.0]));
    let share = g.share_up_to(Zone::B, 0.95).unwrap();
    assert_eq!((share.count, share.n), (1, 2));
    let bad = |r: &[f64], m: &[f64]| error_grid(r, m, Unit::MgDl, Grid::Clarke).unwrap_err();
    assert_eq!(bad(&[], &[]).code(), "too_few_values");
    assert_eq!(bad(&[100.0], &[-1.0]).argument(), Some("measured"));
    assert_eq!(bad(&[100.0, 2e6], &[1.0, 1.0]).index(), Some(1));
    assert!("parkes".parse::<Grid>().is_err());
    assert_eq!("clarke".parse::<Grid>().unwrap(), Grid::Clarke);
}
