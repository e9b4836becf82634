//! The panel of a trace, with and without intervals.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use glycemic_core::clock::LocalClock;
use glycemic_core::panel::{intervals, panel};
use glycemic_core::series::Builder;
use glycemic_core::simulate::{Scenario, trial};
use glycemic_core::{Trace, Unit};

const DAY_MS: i64 = 86_400_000;

/// Days of the simulated demo, the first repeated to the length asked for; one reading per 5 min.
fn days(n: usize) -> Trace {
    let simulated = trial(&Scenario::DEMO, 1);
    let readings = &simulated.sensor_clean_mg_dl;
    let times: Vec<i64> =
        (0..n as i64 * 288).map(|i| simulated.start_ms + i * DAY_MS / 288).collect();
    let values: Vec<f64> = (0..times.len()).map(|i| readings[i % readings.len()].round()).collect();
    let clock = LocalClock::fixed(60);
    Builder::new(Unit::MgDl)
        .clock(Some(clock))
        .build(&times, &values)
        .expect("simulated readings make a trace")
}

/// 1 day is a chart, 14 a clinic report, 90 a study.
fn measures(c: &mut Criterion) {
    let mut group = c.benchmark_group("panel/measures");
    for n in [1, 14, 90] {
        let trace = days(n);
        group.throughput(Throughput::Elements(trace.len() as u64));
        group.bench_function(BenchmarkId::new("days", n), |b| {
            b.iter(|| panel(black_box(trace.view()), &[]))
        });
    }
    group.finish();
}

/// Leaves out each day in turn: the work grows with the square of the days.
fn with_intervals(c: &mut Criterion) {
    let mut group = c.benchmark_group("panel/intervals");
    for n in [14, 90] {
        let trace = days(n);
        group.throughput(Throughput::Elements(trace.len() as u64));
        group.bench_function(BenchmarkId::new("days", n), |b| {
            b.iter(|| intervals(black_box(trace.view()), &[], 0.95))
        });
    }
    group.finish();
}

criterion_group!(benches, measures, with_intervals);
criterion_main!(benches);
