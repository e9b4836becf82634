//! Order-dependent measures of a whole trace, and of readings that come one by one.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use glycemic_core::clock::LocalClock;
use glycemic_core::panel::options::Options;
use glycemic_core::panel::ordered;
use glycemic_core::panel::stream::Stream;
use glycemic_core::series::Builder;
use glycemic_core::simulate::{Scenario, trial};
use glycemic_core::{Trace, Unit};

const DAY_MS: i64 = 86_400_000;

/// Days of the simulated demo with its sensor's noise, repeated to the length asked for; one
/// reading per 5 min on the step of the unit.
fn days(n: usize, unit: Unit) -> Trace {
    let simulated = trial(&Scenario::DEMO, 1);
    let readings = &simulated.sensor_clean_mg_dl;
    let times: Vec<i64> =
        (0..n as i64 * 288).map(|i| simulated.start_ms + i * DAY_MS / 288).collect();
    let shown = |g: f64| (unit.from_mg_dl(g) / unit.step()).round() * unit.step();
    let values: Vec<f64> = (0..times.len()).map(|i| shown(readings[i % readings.len()])).collect();
    let clock = LocalClock::from_zone("Europe/Lisbon").expect("the zone is known");
    Builder::new(unit)
        .clock(Some(clock))
        .build(&times, &values)
        .expect("simulated readings make a trace")
}

/// All measures of a trace; 14 days are a clinic report, 90 a study.
fn whole(c: &mut Criterion) {
    let mut group = c.benchmark_group("ordered/whole");
    for unit in [Unit::MgDl, Unit::MmolL] {
        for n in [14, 90] {
            let trace = days(n, unit);
            group.throughput(Throughput::Elements(trace.len() as u64));
            group.bench_function(BenchmarkId::new(unit.code(), n), |b| {
                b.iter(|| ordered::all(black_box(trace.view()), &[], &Options::default()))
            });
        }
    }
    group.finish();
}

fn stream_of(times: &[i64], glucose: &[f64], unit: Unit) -> Stream {
    let mut stream = Stream::new(unit, 5.0, None).expect("five minutes are allowed");
    for (&t, &g) in times.iter().zip(glucose) {
        stream.push(t, g).expect("the trace's readings are on the grid");
    }
    stream
}

/// Ninety days pushed one by one; all measures of them; two halves joined.
fn stream(c: &mut Criterion) {
    let mut group = c.benchmark_group("ordered/stream");
    for unit in [Unit::MgDl, Unit::MmolL] {
        let trace = days(90, unit);
        let (times, glucose) = (trace.times_ms(), trace.glucose_mg_dl());
        group.throughput(Throughput::Elements(trace.len() as u64));
        group.bench_function(BenchmarkId::new("push", unit.code()), |b| {
            b.iter(|| stream_of(black_box(times), black_box(glucose), unit))
        });
        group.throughput(Throughput::Elements(1));
        let half = times.len() / 2;
        let early = stream_of(&times[..half], &glucose[..half], unit);
        let later = stream_of(&times[half..], &glucose[half..], unit);
        group.bench_function(BenchmarkId::new("measures", unit.code()), |b| {
            b.iter(|| black_box(&early).measures())
        });
        group.bench_function(BenchmarkId::new("join", unit.code()), |b| {
            b.iter(|| {
                let mut joined = early.clone();
                joined.join(black_box(&later)).map(|()| joined)
            })
        });
    }
    group.finish();
}

criterion_group!(benches, whole, stream);
criterion_main!(benches);
