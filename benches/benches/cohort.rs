//! Making traces, and the panels of many people at once.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use glycemic_core::Unit;
use glycemic_core::cohort::{Columns, Options, People, Stream, panels};
use glycemic_core::panel::{compute::order_free, panel};
use glycemic_core::series::Builder;

const START_MS: i64 = 1_746_403_200_000;
const STEP_MS: i64 = 300_000;

/// A walk of whole mg/dL within what sensors show: the next state of a small generator each step.
fn walk(n: usize, seed: u64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut level = 120_i64;
    (0..n)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            level = (level + (state >> 61) as i64 - 3).clamp(45, 380);
            level as f64
        })
        .collect()
}

fn times(n: usize) -> Vec<i64> {
    (0..n as i64).map(|i| START_MS + i * STEP_MS).collect()
}

/// 14 days of a sensor as they usually come, in tenths of mmol/L, and with a hole and a doubled
/// reading, which leaves the short way.
fn build(c: &mut Criterion) {
    let mut group = c.benchmark_group("series/build");
    let n = 4032;
    let (at, mg) = (times(n), walk(n, 1));
    let mmol: Vec<f64> = mg.iter().map(|g| (g / 1.8).round() / 10.0).collect();
    let mut holes = mg.clone();
    holes[100] = f64::NAN;
    let mut doubled = at.clone();
    doubled[200] = doubled[199];
    group.throughput(Throughput::Elements(n as u64));
    for (name, unit, at, glucose) in [
        ("mg_dl", Unit::MgDl, &at, &mg),
        ("mmol_l", Unit::MmolL, &at, &mmol),
        ("with_a_hole", Unit::MgDl, &at, &holes),
        ("with_a_repeat", Unit::MgDl, &doubled, &mg),
    ] {
        group.bench_function(BenchmarkId::new("14_days", name), |b| {
            b.iter(|| Builder::new(unit).build(black_box(at), black_box(glucose)))
        });
    }
    let mut backwards = (at.clone(), mg.clone());
    backwards.0.reverse();
    backwards.1.reverse();
    let mut mixed: Vec<usize> = (0..n).collect();
    mixed.sort_by_key(|&i| (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    let shuffled: Vec<i64> = mixed.iter().map(|&i| at[i]).collect();
    group.bench_function(BenchmarkId::new("14_days", "backwards"), |b| {
        b.iter(|| Builder::new(Unit::MgDl).build(black_box(&backwards.0), black_box(&backwards.1)))
    });
    group.bench_function(BenchmarkId::new("14_days", "shuffled"), |b| {
        b.iter(|| Builder::new(Unit::MgDl).build(black_box(&shuffled), black_box(&mg)))
    });
    group.finish();
}

/// 100 people with 14 days each, on one thread: what each part of the way takes.
fn cohort(c: &mut Criterion) {
    let mut group = c.benchmark_group("cohort");
    group.sample_size(20);
    let (people, n) = (100, 4032);
    let who: Vec<i64> = (0..people).flat_map(|p| vec![p; n]).collect();
    let at: Vec<i64> = (0..people).flat_map(|_| times(n)).collect();
    let glucose: Vec<f64> = (0..people).flat_map(|p| walk(n, p as u64)).collect();
    let mut mixed: Vec<usize> = (0..who.len()).collect();
    mixed.sort_by_key(|&i| (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    let by_mixed = |column: &[f64]| mixed.iter().map(|&i| column[i]).collect::<Vec<f64>>();
    let of = |column: &[i64]| mixed.iter().map(|&i| column[i]).collect::<Vec<i64>>();
    let shuffled = (of(&who), of(&at), by_mixed(&glucose));
    let options = Options { threads: Some(1), ..Options::default() };
    let code = |who: &[i64]| People::from_numbers(who.iter().map(|&p| Some(p)));
    group.throughput(Throughput::Elements(who.len() as u64));
    group.bench_function("people/sorted", |b| b.iter(|| code(black_box(&who))));
    group.bench_function("people/shuffled", |b| b.iter(|| code(black_box(&shuffled.0))));
    for (name, who, at, glucose) in
        [("sorted", &who, &at, &glucose), ("shuffled", &shuffled.0, &shuffled.1, &shuffled.2)]
    {
        let (who, columns) = (code(who), Columns::new(at, glucose).expect("the same length"));
        group.bench_function(BenchmarkId::new("panels", name), |b| {
            b.iter(|| panels(black_box(&who), &columns, &options, &mut |_| true))
        });
    }
    let (all, columns) = (code(&who), Columns::new(&at, &glucose).expect("the same length"));
    group.bench_function("stream/one_batch", |b| {
        b.iter(|| {
            let mut stream = Stream::new(options.clone()).expect("options that can be meant");
            (stream.push(&all, &columns, &mut |_| true), stream.finish())
        })
    });
    // The same traces without the way there and back.
    let traces: Vec<_> = (0..people as usize)
        .map(|p| p * n..(p + 1) * n)
        .filter_map(|rows| Builder::new(Unit::MgDl).build(&at[rows.clone()], &glucose[rows]).ok())
        .collect();
    group.bench_function("panel_alone", |b| {
        b.iter(|| traces.iter().map(|t| panel(black_box(t.view()), &[])).collect::<Vec<_>>())
    });
    group.bench_function("order_free_alone", |b| {
        let one = |t: &glycemic_core::Trace| order_free(black_box(t.glucose_mg_dl()), Unit::MgDl);
        b.iter(|| traces.iter().map(one).collect::<Vec<_>>())
    });
    group.finish();
}

criterion_group!(benches, build, cohort);
criterion_main!(benches);
