//! A simulated trial as the files of a trial folder.
//!
//! Plain CSV tables and two small JSON files. Local times are naive (`2025-05-05 12:40`), except
//! where the scenario asks for explicit offsets in the sensor's file. Nothing is written to disk.

use super::scenario::{Reported, Scenario};
use super::trial::Simulated;
use crate::units::MG_DL_PER_MMOL_L;

impl Simulated {
    /// Name and text of each file: `trial.json`, the tables, and `truth.json`.
    pub fn files(&self) -> Vec<(&'static str, String)> {
        vec![
            ("trial.json", trial_json(&self.scenario)),
            ("sensor.csv", self.sensor_csv()),
            ("meter.csv", self.meter_csv()),
            ("meals.csv", self.meals_csv()),
            ("activity.csv", self.activity_csv()),
            ("sleep.csv", self.sleep_csv()),
            ("wear.csv", self.wear_csv()),
            ("notes.csv", self.notes_csv()),
            ("truth.json", self.truth.to_json()),
        ]
    }

    fn local(&self, time_ms: i64) -> String {
        stamp(time_ms, self.scenario.offset_min(time_ms), ' ')
    }

    fn glucose(&self, mg_dl: f64) -> String {
        match self.scenario.reported {
            Reported::MgDl => format!("{mg_dl:.0}"),
            Reported::MmolL => format!("{:.1}", mg_dl / MG_DL_PER_MMOL_L),
        }
    }

    fn sensor_csv(&self) -> String {
        let rows = self.sensor.iter().map(|row| {
            let offset = self.scenario.offset_min(row.time_ms);
            let time = if self.scenario.explicit_offset {
                let east = format!("{:+03}:{:02}", offset / 60, offset.abs() % 60);
                format!("{}:00{east}", stamp(row.time_ms, offset, 'T'))
            } else {
                self.local(row.time_ms)
            };
            let value = row.text.map_or_else(|| self.glucose(row.value_mg_dl), str::to_owned);
            format!("{time},{value}")
        });
        table("time,glucose", rows)
    }

    fn meter_csv(&self) -> String {
        let rows = self.meter.iter().map(|row| {
            let glucose = self.glucose(row.glucose_mg_dl);
            format!("{},{glucose},{}", self.local(row.time_ms), row.context)
        });
        table("time,glucose,context", rows)
    }

    fn meals_csv(&self) -> String {
        let grams = |value: Option<f64>| value.map_or_else(String::new, |g| format!("{g:.0}"));
        // Columns that no row of this scenario fills are left out.
        let ranges = self.scenario.behaviour.carb_range > 0.0;
        let rows = self.meals.iter().map(|row| {
            let mut numbers = vec![row.carbs_g];
            if ranges {
                numbers.extend([row.carbs_low_g, row.carbs_high_g]);
            }
            numbers.extend([row.fiber_g, row.protein_g, row.fat_g]);
            let numbers: Vec<String> = numbers.into_iter().map(grams).collect();
            let (start, end) = (self.local(row.time_ms), self.local(row.end_ms));
            let (sure, tags) = (row.confidence.word(), row.tags.join(";"));
            format!("{start},{end},{},{sure},{},{tags}", numbers.join(","), row.label)
        });
        let extra = if ranges { ",carbs_low_g,carbs_high_g" } else { "" };
        let head = format!("time,end,carbs_g{extra},fiber_g,protein_g,fat_g,confidence,label,tags");
        table(&head, rows)
    }

    fn activity_csv(&self) -> String {
        let rows = self.activity.iter().map(|row| {
            format!("{},{},{},{}", self.local(row.start_ms), row.minutes, row.kind, row.effort)
        });
        table("start,minutes,kind,effort", rows)
    }

    fn sleep_csv(&self) -> String {
        let rows = self.sleep.iter().map(|row| {
            format!("{},{},{}", self.local(row.start_ms), self.local(row.end_ms), row.quality)
        });
        table("start,end,quality", rows)
    }

    fn wear_csv(&self) -> String {
        let rows = self.wear.iter().map(|row| {
            format!("{},{},{},{},", self.local(row.time_ms), row.event, row.sensor, row.site)
        });
        table("time,event,sensor,site,value", rows)
    }

    fn notes_csv(&self) -> String {
        let rows = self.notes.iter().map(|row| {
            format!("{},{},{},{}", self.local(row.time_ms), row.kind, row.severity, row.text)
        });
        table("time,kind,severity,text", rows)
    }
}

fn table(head: &str, rows: impl Iterator<Item = String>) -> String {
    let mut text = format!("{head}\n");
    for row in rows {
        text.push_str(&row);
        text.push('\n');
    }
    text
}

/// `2025-05-05 12:40` at `offset_min` east of UTC, with `between` in the middle.
///
/// The calendar is counted in years that start in March, so that leap days come last.
pub(crate) fn stamp(time_ms: i64, offset_min: i64, between: char) -> String {
    let minutes = time_ms.div_euclid(60_000) + offset_min;
    let (days, minute) = (minutes.div_euclid(1440), minutes.rem_euclid(1440));
    // Days since 0000-03-01; 400 years have 146,097 days.
    let shifted = days + 719_468;
    let (era, day_of_era) = (shifted.div_euclid(146_097), shifted.rem_euclid(146_097));
    let leaps = day_of_era / 1460 - day_of_era / 36_524 + day_of_era / 146_096;
    let year_of_era = (day_of_era - leaps) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let march_month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * march_month + 2) / 5 + 1;
    let month = if march_month < 10 { march_month + 3 } else { march_month - 9 };
    let year = year_of_era + 400 * era + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}{between}{:02}:{:02}", minute / 60, minute % 60)
}

fn trial_json(scenario: &Scenario) -> String {
    let unit = scenario.reported.unit().code();
    let (low, high) = scenario.reported.limits();
    let names = ["sensor", "meter", "meals", "activity", "sleep", "wear", "notes"];
    let files: Vec<String> =
        names.iter().map(|name| format!("    \"{name}\": {{\"path\": \"{name}.csv\"}}")).collect();
    format!(
        "{{\n  \"person\": \"demo adult\",\n  \"zone\": \"{}\",\n  \"unit\": \"{unit}\",\n  \
         \"sensor_limits\": {{\"low\": {low}, \"high\": {high}}},\n  \
         \"targets\": {{\"rise_mg_dl\": {}, \"peak_mg_dl\": {}}},\n  \
         \"files\": {{\n{}\n  }}\n}}\n",
        scenario.zone,
        scenario.rise_mg_dl,
        scenario.peak_mg_dl,
        files.join(",\n"),
    )
}
