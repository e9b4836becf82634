//! The tables of a trial, a function each: rows in, records out, problems noted.

use super::config::{Config, SensorLimits};
use super::records::{Note, Sleep, Wear};
use super::rows::{Row, Rows};
use crate::clock::LocalClock;
use crate::error::{Error, Problem};
use crate::meals::{Activity, Meal};
use crate::series::{Builder, Censor, Meter, Trace};
use crate::units::Unit;

pub(super) fn sensor(
    rows: &Rows,
    config: &Config,
    clock: &LocalClock,
    problems: &mut Vec<Problem>,
) -> Result<Trace, Error> {
    let unit = config.unit_of("sensor")?;
    let limits = config.limits(unit);
    let readings = rows.each(problems, |row| {
        let time = row.time("time", clock);
        let reading = reading(row, unit, limits)?;
        Some((time?, reading.0, reading.1))
    });
    if readings.is_empty() {
        let why = format!("no usable reading in {} rows", rows.len());
        return Err(Error::File { path: rows.file().to_string(), why });
    }
    let times: Vec<i64> = readings.iter().map(|r| r.1.0).collect();
    let glucose: Vec<f64> = readings.iter().map(|r| r.1.1).collect();
    let censor: Vec<Censor> = readings.iter().map(|r| r.1.2).collect();
    Builder::new(unit)
        .clock(Some(clock.clone()))
        .build_censored(&times, &glucose, &censor)
        .map_err(|e| Error::InFile { file: rows.file().to_string(), error: Box::new(e) })
}

/// A value, a limit shown as text, or nothing (NaN).
fn reading(row: &mut Row<'_>, unit: Unit, limits: SensorLimits) -> Option<(f64, Censor)> {
    let text = row.text("glucose").to_string();
    let word = text.to_ascii_lowercase();
    match word.as_str() {
        "" | "nan" | "na" | "null" => return Some((f64::NAN, Censor::None)),
        "low" | "lo" | "below" => return Some((limits.low, Censor::Low)),
        "high" | "hi" | "above" => return Some((limits.high, Censor::High)),
        _ => {}
    }
    for (sign, censor) in [('<', Censor::Low), ('>', Censor::High)] {
        let number =
            word.strip_prefix(sign).map(|n| n.trim_start_matches('=').trim().parse::<f64>());
        match number {
            Some(Ok(v)) if v.is_finite() && v > 0.0 => return Some((v, censor)),
            _ => {}
        }
    }
    let (low, high) = plausible(unit);
    row.number("glucose", low, high).map(|v| (v, Censor::None))
}

/// What a sensor or meter can show: 0.1 mmol/L or 1 mg/dL up to 1000 mg/dL. Values of the other
/// unit pass here and are caught by their median.
fn plausible(unit: Unit) -> (f64, f64) {
    match unit {
        Unit::MgDl => (1.0, 1000.0),
        Unit::MmolL => (0.1, 1000.0),
    }
}

pub(super) fn meter(
    rows: &Rows,
    config: &Config,
    clock: &LocalClock,
    wear: (i64, i64),
    problems: &mut Vec<Problem>,
) -> Result<Meter, Error> {
    let unit = config.unit_of("meter")?;
    let (low, high) = plausible(unit);
    let readings = rows.each(problems, |row| {
        let time = row.time("time", clock);
        if row.text("glucose").is_empty() {
            row.problem("glucose", "value_missing", "there is no glucose value".into());
        }
        let glucose = row.number("glucose", low, high);
        let time = near_wear(row, time?, wear, clock)?;
        Some((time, glucose?, row.text("context").to_string()))
    });
    let times: Vec<i64> = readings.iter().map(|r| r.1.0).collect();
    let glucose: Vec<f64> = readings.iter().map(|r| r.1.1).collect();
    let context: Vec<String> = readings.into_iter().map(|r| r.1.2).collect();
    Meter::new(&times, &glucose, &context, unit)
        .map_err(|e| Error::InFile { file: rows.file().to_string(), error: Box::new(e) })
}

/// Refuses a time more than a day outside the wear.
fn near_wear(row: &mut Row<'_>, time: i64, wear: (i64, i64), clock: &LocalClock) -> Option<i64> {
    const DAY: i64 = crate::clock::DAY_MS;
    if (wear.0 - DAY..=wear.1 + DAY).contains(&time) {
        return Some(time);
    }
    let message = format!(
        "{} is more than a day outside the sensor's readings ({} to {}); check the date",
        clock.text(time),
        clock.text(wear.0),
        clock.text(wear.1)
    );
    row.problem("time", "outside_wear", message);
    None
}

pub(super) fn meals(
    rows: &Rows,
    clock: &LocalClock,
    wear: (i64, i64),
    problems: &mut Vec<Problem>,
) -> Vec<Meal> {
    let mut seen: Vec<(i64, u64)> = Vec::new();
    let meals = rows.each(problems, |row| {
        let time = row.time("time", clock);
        let end = row.optional_time("end", clock);
        let grams = |row: &mut Row<'_>, column: &str| row.number(column, 0.0, 1000.0);
        let mut meal = Meal {
            end_ms: end,
            carbs_g: grams(row, "carbs_g"),
            carbs_low_g: grams(row, "carbs_low_g"),
            carbs_high_g: grams(row, "carbs_high_g"),
            fiber_g: grams(row, "fiber_g"),
            protein_g: grams(row, "protein_g"),
            fat_g: grams(row, "fat_g"),
            confidence: one_of(row, "confidence", &["weighed", "label", "estimate", "unknown"]),
            label: row.word("label"),
            tags: row
                .text("tags")
                .split(';')
                .map(str::trim)
                .filter(|t| !t.is_empty())
                .map(String::from)
                .collect(),
            ..Meal::default()
        };
        meal.time_ms = near_wear(row, time?, wear, clock)?;
        if let Some((_, line)) = seen.iter().find(|s| s.0 == meal.time_ms) {
            let message =
                format!("line {line} has a meal at the same time; join them or correct the time");
            row.problem("time", "two_meals_at_one_time", message);
            return None;
        }
        if end.is_some_and(|e| e < meal.time_ms) {
            row.problem("end", "ends_before_start", "the meal ends before it starts".into());
        }
        seen.push((meal.time_ms, row.line()));
        Some(meal)
    });
    let mut meals: Vec<Meal> = meals.into_iter().map(|m| m.1).collect();
    meals.sort_by_key(|m| m.time_ms);
    meals
}

/// A word of a closed list, or nothing.
fn one_of(row: &mut Row<'_>, column: &str, choices: &[&str]) -> Option<String> {
    let word = row.word(column)?;
    if !choices.contains(&word.as_str()) {
        row.problem(
            column,
            "unknown_choice",
            format!("\"{word}\" is not one of {}", choices.join(", ")),
        );
    }
    Some(word)
}

pub(super) fn activity(
    rows: &Rows,
    clock: &LocalClock,
    problems: &mut Vec<Problem>,
) -> Vec<Activity> {
    let found = rows.each(problems, |row| {
        let start = row.time("start", clock);
        if row.text("minutes").is_empty() {
            row.problem("minutes", "value_missing", "there is no length in minutes".into());
        }
        let minutes = row.number("minutes", 0.5, 1440.0);
        let effort = one_of(row, "effort", &["light", "moderate", "vigorous"]);
        Some(Activity {
            start_ms: start?,
            minutes: minutes?,
            kind: row.text("kind").to_string(),
            effort,
        })
    });
    found.into_iter().map(|a| a.1).collect()
}

pub(super) fn sleep(rows: &Rows, clock: &LocalClock, problems: &mut Vec<Problem>) -> Vec<Sleep> {
    let found = rows.each(problems, |row| {
        let (start, end) = (row.time("start", clock), row.time("end", clock));
        let (start_ms, end_ms) = (start?, end?);
        if end_ms <= start_ms {
            row.problem("end", "ends_before_start", "sleep ends before it starts".into());
        }
        Some(Sleep { start_ms, end_ms, quality: row.word("quality") })
    });
    found.into_iter().map(|s| s.1).collect()
}

pub(super) fn wear(rows: &Rows, clock: &LocalClock, problems: &mut Vec<Problem>) -> Vec<Wear> {
    let found = rows.each(problems, |row| {
        let time = row.time("time", clock);
        let event = one_of(row, "event", &["inserted", "removed", "calibrated", "failed", "alarm"]);
        if event.is_none() {
            row.problem("event", "value_missing", "there is no event".into());
        }
        Some(Wear {
            time_ms: time?,
            event: event?,
            sensor: row.word("sensor"),
            site: row.word("site"),
            value: row.word("value"),
        })
    });
    found.into_iter().map(|w| w.1).collect()
}

pub(super) fn notes(rows: &Rows, clock: &LocalClock, problems: &mut Vec<Problem>) -> Vec<Note> {
    let found = rows.each(problems, |row| {
        let time = row.time("time", clock);
        Some(Note {
            time_ms: time?,
            kind: row.text("kind").to_string(),
            severity: row.word("severity"),
            text: row.word("text"),
        })
    });
    found.into_iter().map(|n| n.1).collect()
}
