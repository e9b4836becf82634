//! The order-free half of the panel, and the histogram: by size, unit and shape of the readings.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use glycemic_core::Unit;
use glycemic_core::panel::{Histogram, Options, order_free};

const UNITS: [(Unit, &str); 2] = [(Unit::MgDl, "mg_dl"), (Unit::MmolL, "mmol_l")];

/// Whole mg/dL in small steps up and down from 40 to 400, as a sensor shows them; the steps come
/// from a small generator so that every run has the same.
fn walk(n: usize) -> Vec<f64> {
    let (mut state, mut level) = (1_u64, 120_i64);
    (0..n)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            level = (level + (state >> 33) as i64 % 17 - 8).clamp(40, 400);
            level as f64
        })
        .collect()
}

fn shaped(shape: &str, n: usize) -> Vec<f64> {
    match shape {
        "constant" => vec![120.0; n],
        "sorted" => {
            let mut walk = walk(n);
            walk.sort_by(f64::total_cmp);
            walk
        }
        _ => walk(n),
    }
}

/// The readings as a sensor of this unit would show them, in mg/dL.
fn shown(unit: Unit, mg_dl: &[f64]) -> Vec<f64> {
    let nearest = |g: f64| (unit.from_mg_dl(g) / unit.step()).round() * unit.step();
    mg_dl.iter().map(|&g| unit.to_mg_dl(unit.snap(nearest(g)))).collect()
}

/// 1 day is a chart, 14 a clinic report, 90 a study; one reading per 5 min.
fn measures(c: &mut Criterion) {
    let mut group = c.benchmark_group("order_free");
    for (unit, name) in UNITS {
        for shape in ["walk", "sorted", "constant"] {
            for days in [1, 14, 90] {
                let glucose = shown(unit, &shaped(shape, days * 288));
                group.throughput(Throughput::Elements(glucose.len() as u64));
                group.bench_function(BenchmarkId::new(format!("{name}/{shape}"), days), |b| {
                    b.iter(|| order_free(black_box(&glucose), unit))
                });
            }
        }
    }
    // A tenth of a mg/dL is off the grid: sorted instead of counted.
    let glucose: Vec<f64> = walk(14 * 288).iter().map(|g| g + 0.1).collect();
    group.throughput(Throughput::Elements(glucose.len() as u64));
    group.bench_function(BenchmarkId::new("off_grid/walk", 14), |b| {
        b.iter(|| order_free(black_box(&glucose), Unit::MgDl))
    });
    group.finish();
}

/// Readings one at a time (an app), a slice at once, and the measures of what was counted.
fn histogram(c: &mut Criterion) {
    let mut group = c.benchmark_group("histogram");
    for (unit, name) in UNITS {
        let glucose = shown(unit, &walk(14 * 288));
        group.throughput(Throughput::Elements(glucose.len() as u64));
        group.bench_function(BenchmarkId::new("push", name), |b| {
            let mut h = Histogram::new(unit);
            b.iter(|| {
                black_box(&glucose).iter().map(|&g| h.push(g).is_ok() as usize).sum::<usize>()
            })
        });
        group.bench_function(BenchmarkId::new("extend", name), |b| {
            let mut h = Histogram::new(unit);
            b.iter(|| h.extend(black_box(&glucose)))
        });
        let mut h = Histogram::new(unit);
        h.extend(&glucose).expect("readings on the grid");
        group.throughput(Throughput::Elements(1));
        group.bench_function(BenchmarkId::new("measures", name), |b| {
            b.iter(|| black_box(&h).measures(&Options::default()))
        });
    }
    group.finish();
}

criterion_group!(benches, measures, histogram);
criterion_main!(benches);
