//! Instants and days of a review's tables as the person's own clock showed them.

use crate::clock::{DAY_MS, LocalClock};
use crate::error::Error;
use crate::table::{Items, Table};

/// Day numbers from here on count from 1970; smaller ones count within the wear.
const LEAST_DAY_NUMBER: i64 = 10_000;

/// Adds a column `local_...` for each column of instants that has none (`time_ms`: `local_time`),
/// and `date` for day numbers since 1970.
pub(super) fn add_local_times(table: &mut Table, clock: &LocalClock) -> Result<(), Error> {
    let mut more = Vec::new();
    for column in table.columns() {
        let Items::I64(values) = &column.items else { continue };
        let each = |text: &dyn Fn(i64) -> String| -> Vec<Option<String>> {
            values.iter().zip(&column.valid).map(|(v, there)| there.then(|| text(*v))).collect()
        };
        if let Some(stem) = column.name.strip_suffix("_ms") {
            more.push((format!("local_{stem}"), each(&|ms| clock.text(ms))));
        } else if column.name == "day" && values.iter().all(|d| *d >= LEAST_DAY_NUMBER) {
            let date =
                |day: i64| LocalClock::fixed(0).text(day * DAY_MS).chars().take(10).collect();
            more.push(("date".to_string(), each(&date)));
        }
    }
    for (name, items) in more {
        if table.column(&name).is_none() {
            table.push_text(&name, items)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_and_days_get_a_text() {
        let mut t = Table::new();
        t.push_i64("from_ms", vec![Some(1_747_000_500_000), None]).unwrap();
        t.push_i64("day", vec![Some(20_214), Some(20_216)]).unwrap();
        add_local_times(&mut t, &LocalClock::fixed(120)).unwrap();
        let text = |name: &str| match &t.column(name).unwrap().items {
            Items::Text(items) => items.clone(),
            _ => vec![],
        };
        // 21:55 UTC, two hours ahead; days since 1970-01-01.
        assert!(text("local_from")[0].starts_with("2025-05-11"), "{:?}", text("local_from"));
        assert!(!t.column("local_from").unwrap().valid[1]);
        assert_eq!(text("date"), ["2025-05-06", "2025-05-08"]);
        let mut wear = Table::new();
        wear.push_i64("day", vec![Some(1), Some(2)]).unwrap();
        add_local_times(&mut wear, &LocalClock::fixed(0)).unwrap();
        assert_eq!(wear.columns().len(), 1);
    }
}
