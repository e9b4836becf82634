//! The incremental area over whole wears.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use glycemic_core::area::{self, Rule};

/// One reading per 5 min: three meals a day as half waves of 50 mg/dL over 100.
fn days(n: usize) -> (Vec<f64>, Vec<f64>) {
    (0..n * 288)
        .map(|i| {
            let minute = i as f64 * 5.0;
            let meal = (minute % 480.0) / 180.0;
            let rise = if meal < 1.0 { 200.0 * meal * (1.0 - meal) } else { 0.0 };
            (minute, (100.0 + rise).round())
        })
        .unzip()
}

/// 1 day is a chart, 14 a clinic report, 90 a study; one reading per 5 min.
fn incremental(c: &mut Criterion) {
    let mut group = c.benchmark_group("area/incremental");
    for n in [1, 14, 90] {
        let (minutes, glucose) = days(n);
        group.throughput(Throughput::Elements(glucose.len() as u64));
        group.bench_function(BenchmarkId::new("days", n), |b| {
            b.iter(|| {
                area::incremental(black_box(&minutes), black_box(&glucose), None, Rule::Positive)
            })
        });
    }
    group.finish();
}

criterion_group!(benches, incremental);
criterion_main!(benches);
