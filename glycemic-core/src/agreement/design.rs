//! What a standard asks of a study's design, a row each: met, not met, or unknown.
//!
//! # Method
//! The caller says what is known of the study; what is not said is unknown, never met. Shares
//! of values and rates are counted from the data. Numbers alone can't meet a standard: these
//! rows stand beside [`standards`](super::standards).
//!
//! # Source
//! Each row names its own; most numbers are from memory and say so.

use super::standards::Status;
use crate::error::{Error, require_all_finite, require_finite, require_within};
use crate::table::Table;

/// The kind of device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Device {
    /// Strips and a meter.
    Meter,
    /// A continuous sensor.
    ContinuousSensor,
}

/// What the device was compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Comparator {
    /// A laboratory method of known trueness.
    Laboratory,
    /// A meter for use at home.
    HomeMeter,
}

/// Which requirements.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Standard {
    /// ISO 15197:2013, system accuracy.
    Iso15197,
    /// FDA guidance for self-monitoring meters.
    FdaSelfMonitoring,
    /// FDA guidance for point-of-care meters.
    FdaPointOfCare,
    /// 21 CFR 862.1355.
    Icgm,
    /// Comparator data for continuous sensors, as a working group recommends.
    ComparatorData,
}

/// What is known of a study; `None` is unknown.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Design {
    /// The kind of device.
    pub device: Option<Device>,
    /// What it was compared with.
    pub comparator: Option<Comparator>,
    /// Persons.
    pub persons: Option<usize>,
    /// Persons under 18 among them.
    pub children: Option<usize>,
    /// Lots of strips or sensors.
    pub lots: Option<usize>,
    /// Results of each lot.
    pub results_per_lot: Option<usize>,
    /// First and last day of wear with pairs, counted from 1.
    pub wear_days: Option<(f64, f64)>,
    /// Length of a wear as the maker states it, days.
    pub wear_length_days: Option<f64>,
    /// All comparator values, mg/dL.
    pub reference_mg_dl: Option<Vec<f64>>,
    /// Rates of change of the comparator beside them, mg/dL/min.
    pub rates_mg_dl_min: Option<Vec<f64>>,
}

/// How a requirement stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum State {
    /// As asked.
    Met,
    /// Not as asked.
    NotMet,
    /// The caller did not say, or the source's number could not be read.
    Unknown,
}

/// One requirement.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Requirement {
    /// What it is about.
    pub what: &'static str,
    /// What is asked.
    pub asked: String,
    /// What there was; `None` when unknown.
    pub had: Option<String>,
    /// How it stands.
    pub state: State,
    /// Source.
    pub source: &'static str,
    /// How sure the number asked for is.
    pub status: Status,
}

/// ISO 15197:2013, shares of values by reference: upper end (inside) and percent. From memory.
const ISO_BINS: [(f64, f64); 7] = [
    (50.0, 5.0),
    (80.0, 15.0),
    (120.0, 20.0),
    (200.0, 30.0),
    (300.0, 15.0),
    (400.0, 10.0),
    (f64::INFINITY, 5.0),
];

/// The requirements of a standard on a study's design.
///
/// # Errors
/// NaN among values or rates, days of wear below 0.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::design::{Comparator, Design, Device, Standard, State, checklist};
/// let one_person = Design {
///     device: Some(Device::ContinuousSensor),
///     comparator: Some(Comparator::HomeMeter),
///     persons: Some(1),
///     ..Design::default()
/// };
/// let rows = checklist(Standard::Icgm, &one_person)?;
/// let state = |what| rows.iter().find(|r| r.what == what).unwrap().state;
/// assert_eq!((state("device"), state("comparator")), (State::Met, State::NotMet));
/// assert_eq!(state("wear"), State::Unknown);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn checklist(standard: Standard, design: &Design) -> Result<Vec<Requirement>, Error> {
    for (name, values) in
        [("reference_mg_dl", &design.reference_mg_dl), ("rates_mg_dl_min", &design.rates_mg_dl_min)]
    {
        require_all_finite(name, values.as_deref().unwrap_or_default())?;
    }
    if let Some((first, last)) = design.wear_days {
        require_within("wear_days", first, 0.0, 1e4)?;
        require_within("wear_days", last, first, 1e4)?;
    }
    require_finite("wear_length_days", design.wear_length_days.unwrap_or(0.0))?;
    Ok(match standard {
        Standard::Iso15197 => iso(design),
        Standard::FdaSelfMonitoring => fda(design, "lay users"),
        Standard::FdaPointOfCare => fda(design, "patients"),
        Standard::Icgm => icgm(design),
        Standard::ComparatorData => comparator_data(design),
    })
}

/// Requirements as a table: what, asked, had, state (met, not_met, unknown), source, status
/// (confirmed, unconfirmed).
///
/// # Errors
/// None that requirements should cause.
pub fn checklist_table(rows: &[Requirement]) -> Result<Table, Error> {
    let text = |f: fn(&Requirement) -> String| rows.iter().map(|r| Some(f(r))).collect();
    let mut table = Table::new();
    table.push_text("what", text(|r| r.what.to_string()))?;
    table.push_text("asked", text(|r| r.asked.clone()))?;
    table.push_text("had", rows.iter().map(|r| r.had.clone()).collect())?;
    let state = |r: &Requirement| match r.state {
        State::Met => "met".to_string(),
        State::NotMet => "not_met".to_string(),
        State::Unknown => "unknown".to_string(),
    };
    table.push_text("state", text(state))?;
    table.push_text("source", text(|r| r.source.to_string()))?;
    let status = |r: &Requirement| match r.status {
        Status::Confirmed => "confirmed".to_string(),
        Status::Unconfirmed => "unconfirmed".to_string(),
    };
    table.push_text("status", text(status))?;
    Ok(table)
}

fn row<T: PartialEq>(
    what: &'static str,
    asked: &str,
    had: Option<T>,
    says: impl Fn(&T) -> String,
    holds: impl Fn(&T) -> bool,
    source: (&'static str, Status),
) -> Requirement {
    let state = match &had {
        None => State::Unknown,
        Some(had) if holds(had) => State::Met,
        Some(_) => State::NotMet,
    };
    let had = had.as_ref().map(says);
    Requirement { what, asked: asked.to_string(), had, state, source: source.0, status: source.1 }
}

type Source = (&'static str, Status);

fn device(design: &Design, kind: Device, source: Source) -> Requirement {
    let word = |d: &Device| match d {
        Device::Meter => "a meter".to_string(),
        Device::ContinuousSensor => "a continuous sensor".to_string(),
    };
    row("device", &word(&kind), design.device, word, |d| *d == kind, source)
}

fn laboratory(design: &Design, source: Source) -> Requirement {
    let word = |c: &Comparator| match c {
        Comparator::Laboratory => "a laboratory method".to_string(),
        Comparator::HomeMeter => "a home meter".to_string(),
    };
    let asked = "a laboratory method of known trueness";
    row("comparator", asked, design.comparator, word, |c| *c == Comparator::Laboratory, source)
}

fn at_least(what: &'static str, least: usize, had: Option<usize>, source: Source) -> Requirement {
    let asked = format!("at least {least}");
    row(what, &asked, had, ToString::to_string, |n| *n >= least, source)
}

/// Percent of values for which `inside` holds; `None` without values.
fn percent(values: &Option<Vec<f64>>, inside: impl Fn(f64) -> bool) -> Option<f64> {
    let values = values.as_ref().filter(|v| !v.is_empty())?;
    let count = values.iter().filter(|&&v| inside(v)).count();
    Some(100.0 * count as f64 / values.len() as f64)
}

fn share(what: &'static str, asked_pct: f64, had: Option<f64>, source: Source) -> Requirement {
    let asked = format!("at least {asked_pct} %");
    row(what, &asked, had, |p| format!("{p:.1} %"), |p| *p >= asked_pct - 1e-9, source)
}

fn iso(design: &Design) -> Vec<Requirement> {
    let source = ("ISO 15197:2013, from memory", Status::Unconfirmed);
    let mut rows = vec![
        device(design, Device::Meter, source),
        laboratory(design, source),
        at_least("persons", 100, design.persons, source),
        at_least("lots", 3, design.lots, source),
        at_least("results of each lot", 200, design.results_per_lot, source),
    ];
    let mut low = 0.0;
    for (high, asked) in ISO_BINS {
        let what = match high as i64 {
            50 => "values up to 50 mg/dL",
            80 => "values above 50 to 80 mg/dL",
            120 => "values above 80 to 120 mg/dL",
            200 => "values above 120 to 200 mg/dL",
            300 => "values above 200 to 300 mg/dL",
            400 => "values above 300 to 400 mg/dL",
            _ => "values above 400 mg/dL",
        };
        let had = percent(&design.reference_mg_dl, |v| v > low && v <= high);
        rows.push(share(what, asked, had, source));
        low = high;
    }
    rows
}

fn fda(design: &Design, who: &str) -> Vec<Requirement> {
    let source = ("FDA guidance 2016, re-issued 2020, from memory", Status::Unconfirmed);
    let asked = format!("at least 350 {who}");
    vec![
        device(design, Device::Meter, source),
        laboratory(design, source),
        row("persons", &asked, design.persons, ToString::to_string, |n| *n >= 350, source),
        at_least("lots", 3, design.lots, source),
    ]
}

fn icgm(design: &Design) -> Vec<Requirement> {
    let source = ("21 CFR 862.1355(b)(1), from memory", Status::Unconfirmed);
    let wear = design.wear_days.zip(design.wear_length_days);
    let says = |(days, length): &((f64, f64), f64)| {
        format!("pairs on days {} to {} of {length}", days.0, days.1)
    };
    // The first and the last day, each at most a day off.
    let whole = |(days, length): &((f64, f64), f64)| days.0 <= 1.0 && days.1 >= length - 1.0;
    let value = |inside: &dyn Fn(f64) -> bool| percent(&design.reference_mg_dl, inside);
    let some = |what, had| row(what, "some", had, |p| format!("{p:.1} %"), |p| *p > 0.0, source);
    let persons = |n: &usize| *n > 1;
    let all = "more than one; the number that was studied is not in the rule";
    vec![
        device(design, Device::ContinuousSensor, source),
        laboratory(design, source),
        row("persons", all, design.persons, ToString::to_string, persons, source),
        at_least("children", 1, design.children, source),
        row("wear", "pairs over the whole wear", wear, says, whole, source),
        some("values below 70 mg/dL", value(&|v| v < 70.0)),
        some("values 70 to 180 mg/dL", value(&|v| (70.0..=180.0).contains(&v))),
        some("values above 180 mg/dL", value(&|v| v > 180.0)),
        some("rates below -2 mg/dL/min", percent(&design.rates_mg_dl_min, |r| r < -2.0)),
        some("rates above +2 mg/dL/min", percent(&design.rates_mg_dl_min, |r| r > 2.0)),
    ]
}

fn comparator_data(design: &Design) -> Vec<Requirement> {
    let source =
        ("Freckmann et al., Diabetes Technol Ther 2024; 26: 263-275, abstract", Status::Confirmed);
    let low = percent(&design.reference_mg_dl, |v| v < 70.0);
    let high = percent(&design.reference_mg_dl, |v| v > 300.0);
    let unread = |what| Requirement {
        what,
        asked: "at least 7.5 %; its cut points could not be read".to_string(),
        had: None,
        state: State::Unknown,
        source: source.0,
        status: Status::Unconfirmed,
    };
    vec![
        device(design, Device::ContinuousSensor, source),
        share("values below 70 mg/dL", 7.5, low, source),
        share("values above 300 mg/dL", 7.5, high, source),
        unread("fast change with impending low"),
        unread("fast change with impending high"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn state(rows: &[Requirement], what: &str) -> State {
        rows.iter().find(|r| r.what == what).unwrap().state
    }

    #[test]
    fn nothing_said_is_unknown_everywhere() {
        for standard in [
            Standard::Iso15197,
            Standard::FdaSelfMonitoring,
            Standard::FdaPointOfCare,
            Standard::Icgm,
            Standard::ComparatorData,
        ] {
            let rows = checklist(standard, &Design::default()).unwrap();
            assert!(rows.iter().all(|r| r.state == State::Unknown && r.had.is_none()));
            assert!(!rows.is_empty());
            let table = checklist_table(&rows).unwrap();
            assert_eq!((table.rows(), table.columns().len()), (rows.len(), 6));
        }
    }

    #[test]
    fn numbers_at_and_under_their_limit() {
        let with = |persons, lots, results| {
            let (persons, lots, results_per_lot) = (Some(persons), Some(lots), Some(results));
            let design = Design { persons, lots, results_per_lot, ..Design::default() };
            let rows = checklist(Standard::Iso15197, &design).unwrap();
            ["persons", "lots", "results of each lot"].map(|what| state(&rows, what))
        };
        assert_eq!(with(100, 3, 200), [State::Met; 3]);
        assert_eq!(with(99, 2, 199), [State::NotMet; 3]);
        for (persons, expected) in [(350, State::Met), (349, State::NotMet)] {
            let design = Design { persons: Some(persons), ..Design::default() };
            for standard in [Standard::FdaSelfMonitoring, Standard::FdaPointOfCare] {
                assert_eq!(state(&checklist(standard, &design).unwrap(), "persons"), expected);
            }
        }
    }

    /// 20 values with exactly the asked shares; 50 and 80 belong to the bin below.
    #[test]
    fn distribution_of_values() {
        let mut values = vec![50.0, 51.0, 79.0, 80.0, 81.0, 100.0, 119.0, 120.0];
        values.extend([121.0, 150.0, 160.0, 170.0, 180.0, 200.0, 201.0, 250.0, 300.0]);
        values.extend([301.0, 400.0, 401.0]);
        let rows = |values: Vec<f64>| {
            let design = Design { reference_mg_dl: Some(values), ..Design::default() };
            checklist(Standard::Iso15197, &design).unwrap()
        };
        let all = rows(values.clone());
        assert!(all.iter().filter(|r| r.what.starts_with("values")).all(|r| r.state == State::Met));
        values[0] = 50.1;
        assert_eq!(state(&rows(values), "values up to 50 mg/dL"), State::NotMet);
    }

    #[test]
    fn comparator_shares_and_wear() {
        let design = |low: usize| Design {
            reference_mg_dl: Some((0..40).map(|i| if i < low { 69.0 } else { 301.0 }).collect()),
            ..Design::default()
        };
        let rows = |low| checklist(Standard::ComparatorData, &design(low)).unwrap();
        assert_eq!(state(&rows(3), "values below 70 mg/dL"), State::Met);
        assert_eq!(state(&rows(2), "values below 70 mg/dL"), State::NotMet);
        assert_eq!(state(&rows(38), "values above 300 mg/dL"), State::NotMet);
        for (last, expected) in [(13.0, State::Met), (12.9, State::NotMet)] {
            let (wear_days, wear_length_days) = (Some((1.0, last)), Some(14.0));
            let design = Design { wear_days, wear_length_days, ..Design::default() };
            assert_eq!(state(&checklist(Standard::Icgm, &design).unwrap(), "wear"), expected);
        }
        let bad = Design { reference_mg_dl: Some(vec![1.0, f64::NAN]), ..Design::default() };
        assert_eq!(checklist(Standard::Icgm, &bad).unwrap_err().index(), Some(1));
    }
}
