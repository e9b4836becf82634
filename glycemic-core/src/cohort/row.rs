//! One person's row, and rows as a table.

use super::columns::{NO_TIME, Stretch};
use super::options::Options;
use super::people::{Name, Names};
use crate::clock::{LocalClock, Resolved};
use crate::error::Error;
use crate::panel::{self, Id};
use crate::series::{Builder, Trace};
use crate::table::{Items, Table};

/// What is known about one person.
pub(super) struct Row {
    values: Vec<Option<f64>>,
    given: usize,
    duplicates: Option<usize>,
    conflicts: Option<usize>,
    missing: Option<usize>,
    missing_time: Option<usize>,
    reasons: Option<String>,
    error: Option<(&'static str, String)>,
}

impl Row {
    /// The row of a person's readings, which are changed on the way. `row_of` says in which row
    /// of the input the i-th of them stands.
    pub(super) fn new(
        name: &Name,
        readings: &mut Stretch,
        ids: &[Id],
        options: &Options,
        row_of: impl Fn(usize) -> usize,
    ) -> Row {
        let given = readings.times_ms.len();
        let missing_time = take_out_untimed(readings);
        let mut row = Row {
            values: Vec::new(),
            given,
            duplicates: None,
            conflicts: None,
            missing: None,
            missing_time: Some(missing_time.len()),
            reasons: None,
            error: None,
        };
        let answer = |trace: Trace| {
            let (values, reasons) = measures(&trace, ids, &options.panel)?;
            Ok((trace, values, reasons))
        };
        match trace(name, readings, options).and_then(answer) {
            Ok((trace, values, reasons)) => {
                row.duplicates = Some(trace.cleaning().duplicates);
                row.conflicts = Some(trace.cleaning().conflicts);
                row.missing = Some(trace.cleaning().missing);
                (row.values, row.reasons) = (values, reasons);
            }
            Err(error) => {
                row.missing = Some(readings.glucose.iter().filter(|g| g.is_nan()).count());
                let place = |index| row_of(place_before(index, &missing_time));
                row.error = Some((error.code(), moved(error, place).to_string()));
            }
        }
        row
    }

    /// The row of readings without a person.
    pub(super) fn nobody(given: usize) -> Row {
        let text = format!("{given} readings have no person");
        Row {
            values: Vec::new(),
            given,
            duplicates: None,
            conflicts: None,
            missing: None,
            missing_time: None,
            reasons: None,
            error: Some(("no_person", text)),
        }
    }
}

/// Takes readings without a time out, and says where they were.
fn take_out_untimed(readings: &mut Stretch) -> Vec<usize> {
    let times = &readings.times_ms;
    if !times.contains(&NO_TIME) {
        return Vec::new();
    }
    let untimed: Vec<bool> = times.iter().map(|&t| t == NO_TIME).collect();
    let gone = (0..times.len()).filter(|&i| untimed[i]).collect();
    retain(&mut readings.times_ms, &untimed);
    retain(&mut readings.glucose, &untimed);
    retain(&mut readings.censor, &untimed);
    gone
}

fn retain<T>(items: &mut Vec<T>, gone: &[bool]) {
    let mut gone = gone.iter();
    items.retain(|_| gone.next() == Some(&false));
}

/// Where the `index`-th of what is left stood before the items at `gone` were taken out.
fn place_before(mut index: usize, gone: &[usize]) -> usize {
    for &place in gone {
        if place > index {
            break;
        }
        index += 1;
    }
    index
}

fn trace(name: &Name, readings: &mut Stretch, options: &Options) -> Result<Trace, Error> {
    let clock = options.clock_of(name);
    if let Some(clock) = clock.as_ref().filter(|c| options.local && !c.is_floating()) {
        resolve(&mut readings.times_ms, clock)?;
    }
    let builder = Builder::new(options.unit).clock(clock);
    let (times_ms, glucose) = (&readings.times_ms, &readings.glucose);
    if readings.censor.is_empty() {
        builder.build(times_ms, glucose)
    } else {
        builder.build_censored(times_ms, glucose, &readings.censor)
    }
}

/// Local times as instants.
fn resolve(times_ms: &mut [i64], clock: &LocalClock) -> Result<(), Error> {
    for (index, time) in times_ms.iter_mut().enumerate() {
        let what = match clock.resolve(*time) {
            Resolved::One(utc) => {
                *time = utc;
                continue;
            }
            Resolved::Doubled(..) => "occurs twice",
            Resolved::Missing => "does not occur",
        };
        let text = LocalClock::floating().text(*time);
        return Err(Error::LocalTime { index, text, zone: clock.name().to_string(), what });
    }
    Ok(())
}

/// An error about a person's reading as one about a row of the input.
fn moved(error: Error, place: impl Fn(usize) -> usize) -> Error {
    match error {
        Error::NotFinite { name, index, value } => {
            Error::NotFinite { name, index: index.map(place), value }
        }
        Error::OutOfRange { name, index, value, low, high } => {
            Error::OutOfRange { name, index: index.map(place), value, low, high }
        }
        Error::ImplausibleTime { index, value, why } => {
            Error::ImplausibleTime { index: place(index), value, why }
        }
        Error::LocalTime { index, text, zone, what } => {
            Error::LocalTime { index: place(index), text, zone, what }
        }
        other => other,
    }
}

/// The measures asked for, and why some of them can't be told.
fn measures(
    trace: &Trace,
    ids: &[Id],
    options: &panel::Options,
) -> Result<(Vec<Option<f64>>, Option<String>), Error> {
    let panel = panel::panel_only(trace.view(), &[], options, ids)?;
    let mut reasons = String::new();
    for &id in ids {
        if let Some(reason) = panel.reason(id) {
            let separator = if reasons.is_empty() { "" } else { ";" };
            reasons += &format!("{separator}{}:{}", id.measure().name, reason.code);
        }
    }
    let values = ids.iter().map(|&id| panel.get(id)).collect();
    Ok((values, Some(reasons).filter(|r| !r.is_empty())))
}

/// Rows as a table; a row more than there are names has no person.
pub(super) fn table(names: Names, mut rows: Vec<Row>, ids: &[Id]) -> Result<Table, Error> {
    let mut table = Table::new();
    let known = names.len();
    let valid: Vec<bool> = (0..rows.len()).map(|i| i < known).collect();
    let items = match names {
        Names::Numbers(mut names) => {
            names.resize(rows.len(), 0);
            Items::I64(names)
        }
        Names::Texts(mut names) => {
            names.resize(rows.len(), String::new());
            Items::Text(names)
        }
    };
    table.push("person", items, valid)?;
    for (k, id) in ids.iter().enumerate() {
        let column = rows.iter().map(|r| r.values.get(k).copied().flatten());
        let name = id.measure().name;
        if matches!(id, Id::N | Id::CensoredLow | Id::CensoredHigh) {
            table.push_i64(name, column.map(|v| v.map(|n| n as i64)).collect())?;
        } else {
            table.push_f64(name, column.collect())?;
        }
    }
    let mut counts = |name, count: fn(&Row) -> Option<usize>| {
        table.push_i64(name, rows.iter().map(|r| count(r).map(|n| n as i64)).collect())
    };
    counts("given", |r| Some(r.given))?;
    counts("duplicates", |r| r.duplicates)?;
    counts("conflicts", |r| r.conflicts)?;
    counts("missing", |r| r.missing)?;
    counts("missing_time", |r| r.missing_time)?;
    table.push_text("reasons", rows.iter_mut().map(|r| r.reasons.take()).collect())?;
    let code = |r: &Row| r.error.as_ref().map(|e| e.0.to_string());
    table.push_text("error_code", rows.iter().map(code).collect())?;
    table.push_text("error", rows.into_iter().map(|r| r.error.map(|e| e.1)).collect())?;
    Ok(table)
}
