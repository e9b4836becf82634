//! Rows of a CSV file, with every problem kept: file, line, column, what is wrong.

use std::path::Path;

use super::config::FileConfig;
use super::time;
use crate::clock::LocalClock;
use crate::error::{Error, Problem};

/// A file's rows under our column names.
pub(super) struct Rows {
    file: String,
    columns: Vec<(String, String, Option<usize>)>,
    records: Vec<(u64, csv::StringRecord)>,
    format: Option<String>,
}

/// One row and the problems found in it so far.
pub(super) struct Row<'a> {
    rows: &'a Rows,
    line: u64,
    record: &'a csv::StringRecord,
    problems: &'a mut Vec<Problem>,
    bad: bool,
}

impl Rows {
    /// Reads `folder/<name>.csv`, or where the settings say; `None` when an optional file that
    /// nobody named is not there.
    pub(super) fn read(
        folder: &Path,
        name: &str,
        config: &FileConfig,
        required: &[&str],
        optional: &[&str],
    ) -> Result<Option<Rows>, Error> {
        let file = config.path.clone().unwrap_or_else(|| format!("{name}.csv"));
        let path = folder.join(&file);
        if !path.exists() && config.path.is_none() {
            return Ok(None);
        }
        let fail = |why: String| Error::File { path: path.display().to_string(), why };
        let bytes = std::fs::read(&path).map_err(|e| fail(e.to_string()))?;
        let text = String::from_utf8(bytes).map_err(|e| fail(format!("not UTF-8 text: {e}")))?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        if text.trim().is_empty() {
            return Err(fail("the file is empty; its first line must name the columns".into()));
        }
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let header = reader.headers().map_err(|e| fail(e.to_string()))?.clone();
        let columns = find_columns(&file, &header, config, required, optional)?;
        let mut records = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| fail(e.to_string()))?;
            let line = record.position().map_or(0, csv::Position::line);
            if record.iter().any(|c| !c.is_empty()) {
                records.push((line, record));
            }
        }
        Ok(Some(Rows { file, columns, records, format: config.time_format.clone() }))
    }

    pub(super) fn file(&self) -> &str {
        &self.file
    }

    pub(super) fn len(&self) -> usize {
        self.records.len()
    }

    /// Runs `make` over the rows; a row with a problem yields nothing.
    pub(super) fn each<T>(
        &self,
        problems: &mut Vec<Problem>,
        mut make: impl FnMut(&mut Row<'_>) -> Option<T>,
    ) -> Vec<(u64, T)> {
        let mut out = Vec::new();
        for (line, record) in &self.records {
            let mut row = Row { rows: self, line: *line, record, problems, bad: false };
            let made = make(&mut row);
            if let (Some(item), false) = (made, row.bad) {
                out.push((*line, item));
            }
        }
        out
    }
}

fn find_columns(
    file: &str,
    header: &csv::StringRecord,
    config: &FileConfig,
    required: &[&str],
    optional: &[&str],
) -> Result<Vec<(String, String, Option<usize>)>, Error> {
    let mut out = Vec::new();
    for (ours, must) in
        required.iter().map(|c| (c, true)).chain(optional.iter().map(|c| (c, false)))
    {
        let named = config.columns.get(*ours);
        let theirs = named.cloned().unwrap_or_else(|| ours.to_string());
        let at = header.iter().position(|h| h == theirs);
        if at.is_none() && (must || named.is_some()) {
            return Err(Error::MissingColumn {
                file: file.to_string(),
                column: theirs,
                found: header.iter().collect::<Vec<_>>().join(", "),
            });
        }
        out.push((ours.to_string(), theirs, at));
    }
    Ok(out)
}

impl Row<'_> {
    pub(super) fn line(&self) -> u64 {
        self.line
    }

    /// The cell's text; empty when the column or the cell is not there.
    pub(super) fn text(&self, column: &str) -> &str {
        let found = self.rows.columns.iter().find(|c| c.0 == column);
        found.and_then(|c| c.2).and_then(|i| self.record.get(i)).unwrap_or("")
    }

    /// The cell's text, if there is any.
    pub(super) fn word(&self, column: &str) -> Option<String> {
        Some(self.text(column)).filter(|t| !t.is_empty()).map(str::to_string)
    }

    /// Notes a problem with this row.
    pub(super) fn problem(&mut self, column: &str, code: &str, message: String) {
        self.bad = true;
        let theirs = self.rows.columns.iter().find(|c| c.0 == column).map_or(column, |c| &c.1);
        self.problems.push(Problem {
            file: self.rows.file.clone(),
            line: self.line,
            column: theirs.to_string(),
            code: code.to_string(),
            message,
        });
    }

    /// A time that must be there.
    pub(super) fn time(&mut self, column: &str, clock: &LocalClock) -> Option<i64> {
        match time::parse(self.text(column), self.rows.format.as_deref(), clock) {
            Ok(ms) => Some(ms),
            Err((code, message)) => {
                self.problem(column, code, message);
                None
            }
        }
    }

    /// A time that may be left empty.
    pub(super) fn optional_time(&mut self, column: &str, clock: &LocalClock) -> Option<i64> {
        if self.text(column).is_empty() { None } else { self.time(column, clock) }
    }

    /// A number within limits, or nothing where the cell is empty.
    pub(super) fn number(&mut self, column: &str, low: f64, high: f64) -> Option<f64> {
        let text = self.text(column).to_string();
        if text.is_empty() {
            return None;
        }
        match text.parse::<f64>() {
            Ok(v) if v.is_finite() && (low..=high).contains(&v) => Some(v),
            Ok(v) => {
                self.problem(column, "out_of_range", format!("{v} is outside {low} to {high}; correct it, or leave the cell empty if it is not known"));
                None
            }
            Err(_) => {
                let hint = if text.contains(',') { " (use a decimal point)" } else { "" };
                self.problem(column, "not_a_number", format!("\"{text}\" is not a number{hint}"));
                None
            }
        }
    }
}
