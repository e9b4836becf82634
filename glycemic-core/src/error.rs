//! What can be wrong with an input, and where.
//!
//! Every error carries what finds the bad item: an index, or a file, line and column.
//! [`Error::code`] is a stable word for programs; the text is for people.

/// One row of a file that could not be used.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Problem {
    /// File name inside the folder.
    pub file: String,
    /// Line, counted from 1 (the heading is line 1); 0 when the whole file is meant.
    pub line: u64,
    /// Column name; empty when the whole row is meant.
    pub column: String,
    /// A stable word for the kind of problem.
    pub code: String,
    /// What is wrong and how to mend it.
    pub message: String,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.file)?;
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        if !self.column.is_empty() {
            write!(f, ", column \"{}\"", self.column)?;
        }
        write!(f, ": {}", self.message)
    }
}

/// What can be wrong with an input.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each message spells its fields out")]
pub enum Error {
    /// A measure is defined only for more values than there are.
    #[error("{measure} needs at least {needed} values, got {got}")]
    TooFewValues { measure: &'static str, needed: usize, got: usize },
    /// Two columns that belong together differ in length.
    #[error("{name} has {got} items where {expected} are needed")]
    LengthMismatch { name: &'static str, expected: usize, got: usize },
    /// Times must rise strictly; `index` counts from 0.
    #[error("times must rise strictly: item {index} is not after the one before it")]
    UnorderedTime { index: usize },
    /// An argument, or an item of it, is NaN or infinite.
    #[error("{name} must be finite, got {value}{}", at(index))]
    NotFinite { name: &'static str, index: Option<usize>, value: f64 },
    /// An argument, or an item of it, is outside what it can be.
    #[error("{name} must lie from {low} to {high}, got {value}{}", at(index))]
    OutOfRange { name: &'static str, index: Option<usize>, value: f64, low: f64, high: f64 },
    /// A reading that is not a whole number of its unit's steps.
    #[error(
        "{name} must be in whole steps of a device ({}), got {value} {unit}{}",
        steps(unit),
        at(index)
    )]
    OffGrid { name: &'static str, index: Option<usize>, value: f64, unit: &'static str },
    /// A word that is not one of the choices.
    #[error("{name} must be one of {choices}, got \"{got}\"")]
    UnknownChoice { name: &'static str, got: String, choices: &'static str },
    /// The values look as if they were in another unit.
    #[error(
        "the middle value is {median}, which is not plausible in {unit}: check the unit (1 mmol/L is 18.0156 mg/dL)"
    )]
    ImplausibleUnit { median: f64, unit: &'static str },
    /// A time that can't be an instant in the plausible span of years.
    #[error("time at index {index} ({value}) is not a plausible instant: {why}")]
    ImplausibleTime { index: usize, value: i64, why: &'static str },
    /// A local time that occurs twice or never in its zone.
    #[error("local time {text} {what} in {zone}: give the offset from UTC with it")]
    LocalTime { index: usize, text: String, zone: String, what: &'static str },
    /// A zone name that the time zone database does not have.
    #[error("unknown time zone \"{name}\": use a name of the IANA database, such as Europe/Lisbon")]
    UnknownZone { name: String },
    /// A named column is missing.
    #[error("{file}: there is no column \"{column}\"; the columns are: {found}")]
    MissingColumn { file: String, column: String, found: String },
    /// A file or folder can't be read or written.
    #[error("{path}: {why}")]
    File { path: String, why: String },
    /// A file's rows can be read, but together they are not what they should be.
    #[error("{file}: {error}")]
    InFile { file: String, error: Box<Error> },
    /// Rows of a trial's files that can't be used, all of them at once.
    #[error("{}", list(problems))]
    BadRows { problems: Vec<Problem> },
    /// Rows of one person don't stand together in a stream.
    #[error("person {person} comes back at row {index}, after others: sort the rows by person")]
    PersonReturned { index: usize, person: String },
    /// The caller's progress function asked to stop.
    #[error("cancelled by the caller")]
    Cancelled,
}

fn at(index: &Option<usize>) -> String {
    index.map(|i| format!(" at index {i}")).unwrap_or_default()
}

fn steps(unit: &str) -> &'static str {
    if unit == "mmol/L" { "tenths of mmol/L" } else { "whole mg/dL" }
}

fn list(problems: &[Problem]) -> String {
    let lines: Vec<String> = problems.iter().map(|p| p.to_string()).collect();
    format!("{} row(s) can't be used:\n{}", problems.len(), lines.join("\n"))
}

impl Error {
    /// A stable word for this kind of error.
    pub fn code(&self) -> &'static str {
        match self {
            Error::TooFewValues { .. } => "too_few_values",
            Error::LengthMismatch { .. } => "length_mismatch",
            Error::UnorderedTime { .. } => "unordered_time",
            Error::NotFinite { .. } => "not_finite",
            Error::OutOfRange { .. } => "out_of_range",
            Error::OffGrid { .. } => "off_grid",
            Error::UnknownChoice { .. } => "unknown_choice",
            Error::ImplausibleUnit { .. } => "implausible_unit",
            Error::ImplausibleTime { .. } => "implausible_time",
            Error::LocalTime { .. } => "local_time",
            Error::UnknownZone { .. } => "unknown_zone",
            Error::MissingColumn { .. } => "missing_column",
            Error::File { .. } => "file",
            Error::InFile { error, .. } => error.code(),
            Error::BadRows { .. } => "bad_rows",
            Error::PersonReturned { .. } => "person_returned",
            Error::Cancelled => "cancelled",
        }
    }

    /// The argument at fault, if one is.
    pub fn argument(&self) -> Option<&str> {
        match self {
            Error::LengthMismatch { name, .. }
            | Error::NotFinite { name, .. }
            | Error::OutOfRange { name, .. }
            | Error::OffGrid { name, .. }
            | Error::UnknownChoice { name, .. } => Some(name),
            Error::InFile { error, .. } => error.argument(),
            Error::UnorderedTime { .. } | Error::ImplausibleTime { .. } => Some("times"),
            Error::ImplausibleUnit { .. } => Some("unit"),
            Error::PersonReturned { .. } => Some("person"),
            Error::UnknownZone { .. } | Error::LocalTime { .. } => Some("zone"),
            _ => None,
        }
    }

    /// Position of the bad item, counted from 0.
    pub fn index(&self) -> Option<usize> {
        match self {
            Error::UnorderedTime { index }
            | Error::ImplausibleTime { index, .. }
            | Error::PersonReturned { index, .. }
            | Error::LocalTime { index, .. } => Some(*index),
            Error::NotFinite { index, .. }
            | Error::OutOfRange { index, .. }
            | Error::OffGrid { index, .. } => *index,
            _ => None,
        }
    }

    /// The file at fault, if one is.
    pub fn file(&self) -> Option<&str> {
        match self {
            Error::File { path, .. } => Some(path),
            Error::MissingColumn { file, .. } | Error::InFile { file, .. } => Some(file),
            Error::BadRows { problems } => problems.first().map(|p| p.file.as_str()),
            _ => None,
        }
    }

    /// The line at fault, counted from 1, of the first bad row.
    pub fn line(&self) -> Option<u64> {
        match self {
            Error::BadRows { problems } => problems.first().map(|p| p.line),
            _ => None,
        }
    }

    /// The column at fault, of the first bad row.
    pub fn column(&self) -> Option<&str> {
        match self {
            Error::MissingColumn { column, .. } => Some(column),
            Error::BadRows { problems } => problems.first().map(|p| p.column.as_str()),
            _ => None,
        }
    }
}

/// Refuses NaN and infinity.
pub fn require_finite(name: &'static str, value: f64) -> Result<(), Error> {
    if value.is_finite() { Ok(()) } else { Err(Error::NotFinite { name, index: None, value }) }
}

/// Refuses a value outside `low..=high`, NaN included.
pub fn require_within(name: &'static str, value: f64, low: f64, high: f64) -> Result<(), Error> {
    require_finite(name, value)?;
    if value < low || value > high {
        return Err(Error::OutOfRange { name, index: None, value, low, high });
    }
    Ok(())
}

/// Refuses a slice that holds NaN or infinity, and says where.
pub fn require_all_finite(name: &'static str, values: &[f64]) -> Result<(), Error> {
    match values.iter().position(|v| !v.is_finite()) {
        Some(i) => Err(Error::NotFinite { name, index: Some(i), value: values[i] }),
        None => Ok(()),
    }
}

/// Refuses two slices of different lengths.
pub fn require_same_len(name: &'static str, expected: usize, got: usize) -> Result<(), Error> {
    if expected == got { Ok(()) } else { Err(Error::LengthMismatch { name, expected, got }) }
}
