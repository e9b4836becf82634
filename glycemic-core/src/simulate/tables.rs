//! A simulated trial as tables, for those who want no files.

use super::trial::Simulated;
use crate::table::Table;

/// A column being made.
enum Cells {
    Numbers(Vec<Option<f64>>),
    Whole(Vec<Option<i64>>),
    Words(Vec<Option<String>>),
}

fn numbers<T>(rows: &[T], cell: impl Fn(&T) -> Option<f64>) -> Cells {
    Cells::Numbers(rows.iter().map(cell).collect())
}

fn whole<T>(rows: &[T], cell: impl Fn(&T) -> i64) -> Cells {
    Cells::Whole(rows.iter().map(|row| Some(cell(row))).collect())
}

fn words<T>(rows: &[T], cell: impl Fn(&T) -> Option<String>) -> Cells {
    Cells::Words(rows.iter().map(cell).collect())
}

fn word(text: &str) -> Option<String> {
    Some(text.to_owned())
}

fn made(columns: Vec<(&str, Cells)>) -> Table {
    let mut table = Table::new();
    for (name, cells) in columns {
        // All cells of a table come from one list of rows, so their lengths cannot differ.
        let _ = match cells {
            Cells::Numbers(cells) => table.push_f64(name, cells),
            Cells::Whole(cells) => table.push_i64(name, cells),
            Cells::Words(cells) => table.push_text(name, cells),
        };
    }
    table
}

impl Simulated {
    /// What was written down, and what was true, as named tables: `sensor`, `meter`, `meals`,
    /// `activity`, `sleep`, `notes`, `wear` with the columns of the files (times in epoch ms UTC,
    /// glucose in mg/dL, whatever the unit of the files), and `true_trace`: blood and the
    /// noise-free sensor every 5 min.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::simulate::{Scenario, trial};
    /// let simulated = trial(&Scenario::DEMO, 1);
    /// let tables = simulated.tables();
    /// let (name, sensor) = &tables[0];
    /// assert_eq!((*name, sensor.rows()), ("sensor", simulated.sensor.len()));
    /// let (name, trace) = &tables[7];
    /// assert_eq!((*name, trace.rows()), ("true_trace", 14 * 288));
    /// assert!(trace.column("blood_mg_dl").is_some());
    /// ```
    pub fn tables(&self) -> Vec<(&'static str, Table)> {
        vec![
            ("sensor", self.sensor_table()),
            ("meter", self.meter_table()),
            ("meals", self.meals_table()),
            ("activity", self.activity_table()),
            ("sleep", self.sleep_table()),
            ("notes", self.notes_table()),
            ("wear", self.wear_table()),
            ("true_trace", self.true_trace()),
        ]
    }

    fn sensor_table(&self) -> Table {
        let rows = &self.sensor;
        made(vec![
            ("time_ms", whole(rows, |row| row.time_ms)),
            ("glucose_mg_dl", numbers(rows, |row| Some(row.value_mg_dl))),
            ("text", words(rows, |row| row.text.map(str::to_owned))),
        ])
    }

    fn meter_table(&self) -> Table {
        let rows = &self.meter;
        made(vec![
            ("time_ms", whole(rows, |row| row.time_ms)),
            ("glucose_mg_dl", numbers(rows, |row| Some(row.glucose_mg_dl))),
            ("context", words(rows, |row| word(row.context))),
        ])
    }

    fn meals_table(&self) -> Table {
        let rows = &self.meals;
        made(vec![
            ("time_ms", whole(rows, |row| row.time_ms)),
            ("end_ms", whole(rows, |row| row.end_ms)),
            ("carbs_g", numbers(rows, |row| row.carbs_g)),
            ("carbs_low_g", numbers(rows, |row| row.carbs_low_g)),
            ("carbs_high_g", numbers(rows, |row| row.carbs_high_g)),
            ("fiber_g", numbers(rows, |row| row.fiber_g)),
            ("protein_g", numbers(rows, |row| row.protein_g)),
            ("fat_g", numbers(rows, |row| row.fat_g)),
            ("confidence", words(rows, |row| word(row.confidence.word()))),
            ("label", words(rows, |row| word(row.label))),
            ("tags", words(rows, |row| Some(row.tags.join(";")))),
        ])
    }

    fn activity_table(&self) -> Table {
        let rows = &self.activity;
        made(vec![
            ("start_ms", whole(rows, |row| row.start_ms)),
            ("minutes", whole(rows, |row| row.minutes)),
            ("kind", words(rows, |row| word(row.kind))),
            ("effort", words(rows, |row| word(row.effort))),
        ])
    }

    fn sleep_table(&self) -> Table {
        let rows = &self.sleep;
        made(vec![
            ("start_ms", whole(rows, |row| row.start_ms)),
            ("end_ms", whole(rows, |row| row.end_ms)),
            ("quality", words(rows, |row| word(row.quality))),
        ])
    }

    fn notes_table(&self) -> Table {
        let rows = &self.notes;
        made(vec![
            ("time_ms", whole(rows, |row| row.time_ms)),
            ("kind", words(rows, |row| word(row.kind))),
            ("severity", whole(rows, |row| row.severity)),
            ("text", words(rows, |row| word(row.text))),
        ])
    }

    fn wear_table(&self) -> Table {
        let rows = &self.wear;
        made(vec![
            ("time_ms", whole(rows, |row| row.time_ms)),
            ("event", words(rows, |row| word(row.event))),
            ("sensor", words(rows, |row| word(row.sensor))),
            ("site", words(rows, |row| word(row.site))),
        ])
    }

    fn true_trace(&self) -> Table {
        let (start_ms, step_ms) = (self.start_ms, 300_000);
        let times = (0..self.blood_mg_dl.len() as i64).map(|place| start_ms + step_ms * place);
        made(vec![
            ("time_ms", whole(&times.collect::<Vec<i64>>(), |&time| time)),
            ("blood_mg_dl", numbers(&self.blood_mg_dl, |&level| Some(level))),
            ("sensor_clean_mg_dl", numbers(&self.sensor_clean_mg_dl, |&level| Some(level))),
        ])
    }
}
