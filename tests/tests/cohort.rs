//! Many people at once: what stands in a row, what happens to the bad ones, and that neither the
//! order of the rows nor the threads nor the cut into batches moves a bit.

use glycemic_core::clock::LocalClock;
use glycemic_core::cohort::{
    Columns, NO_PERSON, NO_TIME, Name, Names, Options, People, Stream, panels,
};
use glycemic_core::panel::{Id, MEASURES, Needs, panel};
use glycemic_core::series::{Builder, Censor, Cleaning};
use glycemic_core::stats::quantile;
use glycemic_core::table::{Items, Table};
use glycemic_core::{Error, Trace, Unit};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const T: i64 = 1_741_000_000_000;
const STEP: i64 = 300_000;

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// A reading of somebody: person, time, glucose.
type Reading = (Option<u8>, i64, f64);

fn split(rows: &[Reading]) -> (People, Vec<i64>, Vec<f64>) {
    let people = People::from_numbers(rows.iter().map(|r| r.0.map(i64::from)));
    (people, rows.iter().map(|r| r.1).collect(), rows.iter().map(|r| r.2).collect())
}

fn all(rows: &[Reading], options: &Options) -> Table {
    let (people, times, glucose) = split(rows);
    panels(&people, &Columns::new(&times, &glucose).unwrap(), options, &mut |_| true).unwrap()
}

/// A table with the bits of its numbers; placeholders of missing items don't count.
fn bits(table: &Table) -> Vec<(String, Vec<Option<String>>)> {
    let column = |c: &glycemic_core::table::Column| {
        let item = |i: usize| match &c.items {
            Items::F64(v) => format!("{:x}", v[i].to_bits()),
            Items::I64(v) => v[i].to_string(),
            Items::Bool(v) => v[i].to_string(),
            Items::Text(v) => v[i].clone(),
            _ => panic!("a new kind of column"),
        };
        (c.name.clone(), (0..c.valid.len()).map(|i| c.valid[i].then(|| item(i))).collect())
    };
    table.columns().iter().map(column).collect()
}

fn texts(table: &Table, name: &str) -> Vec<Option<String>> {
    bits(table).into_iter().find(|c| c.0 == name).unwrap().1
}

fn counts(table: &Table, row: usize) -> [Option<f64>; 6] {
    ["n", "given", "duplicates", "conflicts", "missing", "missing_time"]
        .map(|name| table.numbers(name).unwrap()[row])
}

fn days(person: u8, n: usize) -> Vec<Reading> {
    let level = |i: usize| 90.0 + f64::from(person) + ((i * i * 7 + i) % 97) as f64;
    (0..n).map(|i| (Some(person), T + i as i64 * STEP, level(i))).collect()
}

#[test]
fn a_row_is_the_panel_of_the_persons_trace() {
    let clock = LocalClock::fixed(60);
    let rows = [days(3, 700), days(1, 900)].concat();
    for unit in [Unit::MgDl, Unit::MmolL] {
        let options = Options { unit, clock: Some(clock.clone()), ..Options::default() };
        let in_unit = |r: &Reading| match unit {
            Unit::MgDl => *r,
            _ => (r.0, r.1, (r.2 / 1.8).round() / 10.0),
        };
        let rows: Vec<Reading> = rows.iter().map(in_unit).collect();
        let table = all(&rows, &options);
        assert_eq!(table.numbers("person").unwrap(), [Some(1.0), Some(3.0)]);
        for (row, person) in [(0, 1), (1, 3)] {
            let own: Vec<Reading> = rows.iter().filter(|r| r.0 == Some(person)).copied().collect();
            let (_, times, glucose) = split(&own);
            let trace = Builder::new(unit).clock(Some(clock.clone())).build(&times, &glucose);
            let alone = panel(trace.unwrap().view(), &[]);
            for m in MEASURES {
                let found = table.numbers(m.name).unwrap()[row];
                assert_eq!(
                    found.map(f64::to_bits),
                    alone.get(m.id).map(f64::to_bits),
                    "{}",
                    m.name
                );
            }
        }
    }
}

#[test]
fn a_bad_person_stops_nobody_and_nothing_is_lost() {
    let mut rows = days(5, 300);
    rows.push(rows[10]); // a repeat
    rows.push((Some(5), rows[20].1, rows[20].2 + 1.0)); // a conflict
    rows.push((Some(5), T + 301 * STEP, f64::NAN));
    rows.push((Some(5), NO_TIME, 100.0));
    rows.push((None, T, 100.0));
    rows.push((Some(1), T, 90.0));
    rows.push((Some(1), NO_TIME, 120.0));
    rows.push((Some(1), T + STEP, 9000.0)); // row 307
    rows.extend([(Some(2), T, 5.5), (Some(2), T + STEP, 6.1)]);
    rows.push((Some(3), T / 1000, 100.0)); // row 310
    rows.extend([(Some(4), T, f64::NAN), (Some(4), NO_TIME, 80.0)]);
    rows.push((Some(6), T, f64::INFINITY)); // row 313
    rows.push((None, T, 110.0));
    let table = all(&rows, &Options::default());
    let person = [Some(1.0), Some(2.0), Some(3.0), Some(4.0), Some(5.0), Some(6.0), None];
    assert_eq!(table.numbers("person").unwrap(), person);
    let codes = [
        Some("out_of_range"),
        Some("implausible_unit"),
        Some("implausible_time"),
        Some("too_few_values"),
        None,
        Some("not_finite"),
        Some("no_person"),
    ];
    assert_eq!(texts(&table, "error_code"), codes.map(|c| c.map(String::from)));
    let errors = texts(&table, "error");
    for (row, index) in [(0, 307), (2, 310), (5, 313)] {
        assert!(errors[row].as_ref().unwrap().contains(&format!("index {index}")), "{errors:?}");
    }
    let some = |counts: [usize; 6]| counts.map(|c| Some(c as f64));
    assert_eq!(counts(&table, 4), some([300, 304, 1, 1, 1, 1]));
    assert_eq!(counts(&table, 0), [None, Some(3.0), None, None, Some(0.0), Some(1.0)]);
    assert_eq!(counts(&table, 3), [None, Some(2.0), None, None, Some(1.0), Some(1.0)]);
    assert_eq!(counts(&table, 6), [None, Some(2.0), None, None, None, None]);
    let given: f64 = table.numbers("given").unwrap().iter().flatten().sum();
    assert_eq!(given, rows.len() as f64);
    assert!(table.numbers("mean_mg_dl").unwrap()[4].is_some());
    assert_eq!(texts(&table, "reasons")[0], None);
    assert!(texts(&table, "reasons")[4].as_ref().unwrap().contains("fasting_mg_dl:no_zone"));
}

#[test]
fn measures_may_be_chosen_and_are_the_same() {
    let mut rows = [days(1, 300), days(2, 1), days(3, 50)].concat();
    rows.push((Some(4), T, -1.0));
    let whole = all(&rows, &Options::default());
    let order_free: Vec<Id> =
        MEASURES.iter().filter(|m| m.needs == Needs::Histogram).map(|m| m.id).collect();
    for only in [vec![Id::CvPct, Id::FastingMgDl, Id::N], order_free, vec![Id::MeanMgDl], vec![]] {
        let options = Options { only: Some(only.clone()), ..Options::default() };
        let some = all(&rows, &options);
        assert_eq!(some.columns().len(), only.len() + 9);
        for id in only {
            let name = id.measure().name;
            assert_eq!(texts(&some, name), texts(&whole, name), "{name}");
        }
        assert_eq!(texts(&some, "error"), texts(&whole, "error"));
    }
    let twice = Options { only: Some(vec![Id::N, Id::N]), ..Options::default() };
    let (people, times, glucose) = split(&rows);
    let columns = Columns::new(&times, &glucose).unwrap();
    let error = panels(&people, &columns, &twice, &mut |_| true).unwrap_err();
    assert_eq!(error.code(), "unknown_choice");
}

#[test]
fn names_are_ordered_and_repeats_of_a_name_are_one_person() {
    let names = ["zoe", "ann", "never", "zoe"].map(String::from).to_vec();
    let people =
        People::from_codes([0, 1, 3, NO_PERSON, 1].into_iter().collect(), Names::Texts(names));
    let people = people.unwrap();
    let times: Vec<i64> = (0..5).map(|i| T + i * STEP).collect();
    let glucose = [100.0, 90.0, 104.0, 80.0, 96.0];
    let columns = Columns::new(&times, &glucose).unwrap();
    let table = panels(&people, &columns, &Options::default(), &mut |_| true).unwrap();
    assert_eq!(texts(&table, "person"), [Some("ann".to_string()), Some("zoe".into()), None]);
    assert_eq!(table.numbers("mean_mg_dl").unwrap(), [Some(93.0), Some(102.0), None]);
}

#[test]
fn readings_at_a_limit_are_counted() {
    let people = People::from_numbers([Some(1), Some(1), Some(2)]);
    let (times, glucose) = ([T, T + STEP, T], [40.0, 100.0, 400.0]);
    let censor = [Censor::Low, Censor::None, Censor::High];
    let columns = Columns::new(&times, &glucose).unwrap().censored(&censor).unwrap();
    let table = panels(&people, &columns, &Options::default(), &mut |_| true).unwrap();
    assert_eq!(table.numbers("censored_low").unwrap(), [Some(1.0), Some(0.0)]);
    assert_eq!(table.numbers("censored_high").unwrap(), [Some(0.0), Some(1.0)]);
}

/// 2025-10-26T01:30 occurs twice in Lisbon (EU directive 2000/84/EC), 08:00 of any day once.
#[test]
fn local_times_are_read_on_each_persons_clock() {
    let morning = 1_761_465_600_000; // 2025-10-26T08:00, as if UTC
    let half_past_one = 1_761_442_200_000;
    let lisbon = LocalClock::from_zone("Europe/Lisbon").unwrap();
    let cairo = LocalClock::fixed(120);
    let mut options = Options { clock: Some(lisbon), local: true, ..Options::default() };
    options.clocks.insert(Name::Number(2), std::sync::Arc::new(cairo));
    let rows: Vec<Reading> = [(1, morning), (2, half_past_one), (3, half_past_one)]
        .map(|(p, t)| (Some(p), t, 100.0))
        .to_vec();
    let table = all(&rows, &options);
    let codes = [None, None, Some("local_time".to_string())];
    assert_eq!(texts(&table, "error_code"), codes);
    assert!(texts(&table, "error")[2].as_ref().unwrap().contains("2025-10-26 01:30 occurs twice"));
    // Without a zone local times have a local clock all the same.
    let night: Vec<Reading> =
        (0..60).map(|i| (Some(1), T / 86_400_000 * 86_400_000 + i * STEP, 100.0)).collect();
    let floating = all(&night, &Options { local: true, ..Options::default() });
    assert_eq!(floating.numbers("overnight_mg_dl").unwrap(), [Some(100.0)]);
    assert_eq!(all(&night, &Options::default()).numbers("overnight_mg_dl").unwrap(), [None]);
}

#[test]
fn no_rows_and_wrong_lengths() {
    let table = all(&[], &Options::default());
    assert_eq!((table.rows(), table.columns().len()), (0, MEASURES.len() + 9));
    assert_eq!(Columns::new(&[T], &[]).unwrap_err().code(), "length_mismatch");
    let columns = Columns::new(&[T], &[100.0]).unwrap();
    let people = People::from_numbers([Some(1), Some(1)]);
    let error = panels(&people, &columns, &Options::default(), &mut |_| true).unwrap_err();
    assert_eq!(error.code(), "length_mismatch");
    for threads in [0, 5000] {
        let options = Options { threads: Some(threads), ..Options::default() };
        assert_eq!(Stream::new(options).err().map(|e| e.code()), Some("out_of_range"));
    }
}

#[test]
fn progress_is_told_and_may_stop() {
    let rows: Vec<Reading> = (0..600_u16)
        .flat_map(|p| [(p, T), (p, T + STEP)])
        .map(|(p, t)| (Some((p % 256) as u8), t + i64::from(p) * 7 * STEP, 100.0))
        .collect();
    let many: Vec<Option<i64>> = (0..1200).map(|i| Some(i / 2)).collect();
    let (_, times, glucose) = split(&rows);
    let columns = Columns::new(&times, &glucose).unwrap();
    let mut told = Vec::new();
    let people = People::from_numbers(many);
    let done = panels(&people, &columns, &Options::default(), &mut |n| {
        told.push(n);
        true
    });
    assert_eq!((done.unwrap().rows(), told), (600, vec![256, 512, 600]));
    let mut calls = 0;
    let stopped = panels(&people, &columns, &Options::default(), &mut |_| {
        calls += 1;
        calls < 2
    });
    assert_eq!((stopped.unwrap_err(), calls), (Error::Cancelled, 2));
}

#[test]
fn a_person_who_comes_back_is_named() {
    let rows = [days(1, 2), days(2, 2), days(1, 1)].concat();
    let (people, times, glucose) = split(&rows);
    let mut stream = Stream::new(Options::default()).unwrap();
    let columns = Columns::new(&times, &glucose).unwrap();
    let error = stream.push(&people, &columns, &mut |_| true).unwrap_err();
    assert_eq!(error, Error::PersonReturned { index: 4, person: "1".into() });
    assert_eq!((error.index(), error.code()), (Some(4), "person_returned"));
    // Batches have their own numbering of people; another kind of name is refused.
    let mut stream = Stream::new(Options::default()).unwrap();
    let one = Columns::new(&times[..1], &glucose[..1]).unwrap();
    stream.push(&People::from_numbers([Some(9)]), &one, &mut |_| true).unwrap();
    let texts = People::from_texts([Some("9")]);
    assert!(stream.push(&texts, &one, &mut |_| true).is_err());
}

/// Readings of a few people with everything that can be wrong with them.
fn readings() -> impl Strategy<Value = Vec<Reading>> {
    let time = prop_oneof![
        60 => (0..400_i64).prop_map(|k| T + k * STEP),
        1 => Just(NO_TIME),
    ];
    let glucose = prop_oneof![
        60 => (40..400_i32).prop_map(f64::from),
        5 => (400..4000_i32).prop_map(|g| f64::from(g) / 10.0),
        2 => Just(f64::NAN),
        1 => Just(1e5),
    ];
    let person = prop_oneof![20 => (0..9_u8).prop_map(Some), 1 => Just(None)];
    prop::collection::vec((person, time, glucose), 0..300)
}

fn by_person(rows: &[Reading]) -> Vec<Reading> {
    let mut rows = rows.to_vec();
    rows.sort_by_key(|r| r.0);
    rows
}

/// The same tables under each other.
fn joined(tables: &[Table]) -> Vec<(String, Vec<Option<String>>)> {
    let mut all = bits(&tables[0]);
    for table in &tables[1..] {
        for (column, more) in all.iter_mut().zip(bits(table)) {
            column.1.extend(more.1);
        }
    }
    all
}

proptest! {
    #![proptest_config(config(150))]

    #[test]
    fn batches_cut_anywhere_give_the_same_bits(
        rows in readings(),
        cuts in prop::collection::vec(0.0..1.0_f64, 0..8),
        zoned in any::<bool>(),
    ) {
        let rows = by_person(&rows);
        let clock = zoned.then(|| LocalClock::fixed(-300));
        let options = Options { clock, ..Options::default() };
        let mut cuts: Vec<usize> = cuts.iter().map(|c| (c * rows.len() as f64) as usize).collect();
        cuts.extend([0, rows.len()]);
        cuts.sort_unstable();
        let mut stream = Stream::new(options.clone()).unwrap();
        let mut tables = Vec::new();
        for cut in cuts.windows(2) {
            let (people, times, glucose) = split(&rows[cut[0]..cut[1]]);
            let columns = Columns::new(&times, &glucose).unwrap();
            tables.push(stream.push(&people, &columns, &mut |_| true).unwrap());
        }
        tables.push(stream.finish().unwrap());
        prop_assert_eq!(joined(&tables), bits(&all(&rows, &options)));
    }

    /// Error texts name the row of the input, so only they move with the rows.
    #[test]
    fn threads_and_the_order_of_people_move_no_bit(rows in readings()) {
        let (people, times, glucose) = split(&rows);
        let columns = Columns::new(&times, &glucose).unwrap();
        let found: Vec<_> = [None, Some(1), Some(2), Some(3)]
            .map(|threads| Options { threads, ..Options::default() })
            .iter()
            .map(|o| bits(&panels(&people, &columns, o, &mut |_| true).unwrap()))
            .collect();
        prop_assert!(found.windows(2).all(|w| w[0] == w[1]));
        let mut sorted = bits(&all(&by_person(&rows), &Options::default()));
        let mut mixed = found[0].clone();
        sorted.pop();
        mixed.pop();
        prop_assert_eq!(sorted, mixed);
    }

    #[test]
    fn given_is_what_became_of_it(rows in readings()) {
        let table = all(&rows, &Options::default());
        let codes = texts(&table, "error_code");
        for (row, code) in codes.iter().enumerate() {
            let [n, given, rest @ ..] = counts(&table, row);
            if code.is_none() {
                prop_assert_eq!(given, Some(n.unwrap() + rest.iter().flatten().sum::<f64>()));
            } else {
                prop_assert_eq!(n, None);
            }
        }
        let given: f64 = table.numbers("given").unwrap().iter().flatten().sum();
        prop_assert_eq!(given, rows.len() as f64);
    }
}

/// The builder by the plain way of its description: sort, look at each reading, count.
fn plainly(unit: Unit, times: &[i64], glucose: &[f64], censor: &[Censor]) -> Result<Kept, Error> {
    let mg_dl: Vec<f64> = glucose.iter().map(|&g| unit.to_mg_dl(unit.snap(g))).collect();
    for (i, (&v, &value)) in mg_dl.iter().zip(glucose).enumerate() {
        let index = Some(i);
        if value.is_infinite() {
            return Err(Error::NotFinite { name: "glucose", index, value });
        }
        if v <= 0.0 || v > 2000.0 {
            let high = unit.from_mg_dl(2000.0).round();
            return Err(Error::OutOfRange {
                name: "glucose",
                index,
                value,
                low: unit.step(),
                high,
            });
        }
    }
    let there: Vec<f64> = mg_dl.iter().copied().filter(|v| !v.is_nan()).collect();
    if let Some(median) = quantile::median(&there).filter(|m| !(30.0..=600.0).contains(m)) {
        return Err(Error::ImplausibleUnit { median: unit.from_mg_dl(median), unit: unit.code() });
    }
    let mut order: Vec<usize> = (0..times.len()).collect();
    order.sort_by_key(|&i| times[i]);
    let mut kept = Kept { given: times.len(), ..Kept::default() };
    kept.sorted = (1..times.len()).filter(|&i| times[..i].iter().any(|t| *t > times[i])).count();
    let mut last: Option<usize> = None;
    for i in order {
        if mg_dl[i].is_nan() {
            kept.rejected.push((i, "missing"));
        } else if let Some(l) = last.filter(|&l| times[l] == times[i]) {
            if mg_dl[l] == mg_dl[i] && censor[l] == censor[i] {
                kept.duplicates += 1;
            } else {
                kept.rejected.push((i, "conflict"));
            }
        } else {
            kept.readings.push((times[i], mg_dl[i].to_bits(), censor[i]));
            last = Some(i);
        }
    }
    if kept.readings.is_empty() {
        return Err(Error::TooFewValues { measure: "a trace", needed: 1, got: 0 });
    }
    let mut steps: Vec<i64> = kept.readings.windows(2).map(|w| w[1].0 - w[0].0).collect();
    steps.sort_unstable();
    kept.nominal_ms = steps.get(steps.len() / 2).copied().unwrap_or(300_000);
    Ok(kept)
}

#[derive(Debug, Default, PartialEq)]
struct Kept {
    readings: Vec<(i64, u64, Censor)>,
    rejected: Vec<(usize, &'static str)>,
    given: usize,
    sorted: usize,
    duplicates: usize,
    nominal_ms: i64,
}

fn kept(trace: &Trace, cleaning: &Cleaning) -> Kept {
    let bits = trace.glucose_mg_dl().iter().map(|g| g.to_bits());
    let readings = trace.times_ms().iter().zip(bits).zip(trace.view().censor());
    let why = |w: &str| if w == "missing" { "missing" } else { "conflict" };
    Kept {
        readings: readings.map(|((t, g), c)| (*t, g, *c)).collect(),
        rejected: cleaning.rejected.iter().map(|r| (r.index, why(&r.why))).collect(),
        given: cleaning.given,
        sorted: cleaning.sorted,
        duplicates: cleaning.duplicates,
        nominal_ms: trace.nominal_ms(),
    }
}

proptest! {
    #![proptest_config(config(1500))]

    #[test]
    fn the_builders_short_ways_change_nothing(
        rows in prop::collection::vec((0..60_i64, 0..6_u8, -20.0..650.0_f64, 0..30_u8), 0..25),
        steps in prop::collection::vec(1..4_i64, 0..25),
        in_order in any::<bool>(),
        mmol in any::<bool>(),
        level in 0.02..1.5_f64,
    ) {
        let unit = if mmol { Unit::MmolL } else { Unit::MgDl };
        let mut at = T;
        let rising: Vec<i64> = steps.iter().map(|s| { at += s * STEP; at }).collect();
        let n = if in_order { rows.len().min(rising.len()) } else { rows.len() };
        let times: Vec<i64> =
            if in_order { rising[..n].to_vec() } else { rows.iter().map(|r| T + r.0 * STEP).collect() };
        let value = |r: &(i64, u8, f64, u8)| {
            let g = unit.from_mg_dl(r.2.abs() * level + 1.0);
            match r.1 {
                0 => g,
                1 => f64::from(g as f32),
                2 => f64::from(((g * 10.0).round() / 10.0) as f32),
                3 => (g * 10.0).round() / 10.0 + 0.05,
                _ => g.round(),
            }
        };
        let odd = |(g, k): (f64, u8)| match k {
            0 if !in_order => f64::NAN,
            1 if g > 600.0 => f64::INFINITY,
            2 if g < 3.0 => -g,
            _ => g,
        };
        let glucose: Vec<f64> = rows[..n].iter().map(|r| odd((value(r), r.3))).collect();
        let mark = |r: &(i64, u8, f64, u8)| match r.3 { 5 => Censor::Low, 6 => Censor::High, _ => Censor::None };
        let censor: Vec<Censor> = rows[..n].iter().map(mark).collect();
        let built = Builder::new(unit).build_censored(&times, &glucose, &censor);
        let plain = plainly(unit, &times, &glucose, &censor);
        match (&built, &plain) {
            (Ok(trace), Ok(plain)) => {
                let c = trace.cleaning();
                prop_assert_eq!(&kept(trace, c), plain);
                prop_assert_eq!(c.kept, trace.len());
                prop_assert_eq!(c.missing + c.conflicts, plain.rejected.len());
                let at = |kind| plain.readings.iter().filter(|r| r.2 == kind).count();
                prop_assert_eq!((c.censored_low, c.censored_high), (at(Censor::Low), at(Censor::High)));
            }
            (Err(a), Err(b)) => prop_assert_eq!(a, b),
            _ => prop_assert!(false, "{built:?} against {plain:?}"),
        }
    }
}
