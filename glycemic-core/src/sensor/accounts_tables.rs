//! The accounts of a study as tables, for callers in other languages.

use super::accounts::Accounts;
use crate::agreement::AccuracyRow;
use crate::agreement::accuracy::{self, Options};
use crate::error::Error;
use crate::stats::survival::{Incidence, Survival, kaplan_meier};
use crate::table::Table;

/// Accuracy by part of the wear, lot or site as a table, by the usual rules; empty without pairs.
///
/// # Errors
/// None that accounts should cause.
pub fn accuracy_by_group(rows: &[AccuracyRow]) -> Result<Table, Error> {
    accuracy::to_table(rows, Options::default().rules)
}

impl Accounts {
    /// One row: capture_pct, median_mard_pct, best, best_mard_pct, worst, worst_mard_pct, reason
    /// (why sensors can't be ranked).
    ///
    /// # Errors
    /// None that accounts should cause.
    pub fn summary_table(&self) -> Result<Table, Error> {
        let s = &self.spread;
        let mut t = Table::new();
        t.push_f64("capture_pct", vec![self.capture_pct()])?;
        t.push_f64("median_mard_pct", vec![s.median_pct])?;
        for (name, found) in [("best", &s.best), ("worst", &s.worst)] {
            t.push_text(name, vec![found.as_ref().map(|f| f.0.clone())])?;
            t.push_f64(&format!("{name}_mard_pct"), vec![found.as_ref().map(|f| f.1)])?;
        }
        t.push_text("reason", vec![s.reason.as_ref().map(|r| r.text.clone())])?;
        Ok(t)
    }

    /// A row for each pair analysed: person, sensor, wear_day, part, reference_mg_dl,
    /// measured_mg_dl, rate_mg_dl_min, cluster.
    ///
    /// # Errors
    /// None that accounts should cause.
    pub fn pairs_table(&self) -> Result<Table, Error> {
        let p = &self.pairs;
        let record = |i: &usize| self.sensors.get(*i).map(|s| &s.record);
        let mut t = Table::new();
        let person = |i: &usize| record(i).map(|r| r.person.clone());
        t.push_text("person", p.sensor.iter().map(person).collect())?;
        let sensor = |i: &usize| record(i).map(|r| r.sensor.clone());
        t.push_text("sensor", p.sensor.iter().map(sensor).collect())?;
        t.push_i64("wear_day", p.wear_day.clone())?;
        t.push_text("part", p.part.iter().map(|w| Some(w.clone())).collect())?;
        t.push_f64("reference_mg_dl", p.reference_mg_dl.iter().map(|v| Some(*v)).collect())?;
        t.push_f64("measured_mg_dl", p.measured_mg_dl.iter().map(|v| Some(*v)).collect())?;
        t.push_f64("rate_mg_dl_min", p.rate_mg_dl_min.clone())?;
        t.push_i64("cluster", p.cluster.iter().map(|c| Some(*c)).collect())?;
        Ok(t)
    }

    /// How long sensors last, in days: a row for each time at which one failed; empty where none
    /// failed.
    ///
    /// # Errors
    /// None that accounts should cause.
    pub fn survival_table(&self) -> Result<Table, Error> {
        // The table of one that goes on has the columns and no row.
        let none = || kaplan_meier(&[1.0], &[false], 0.95);
        self.survival.clone().map_or_else(none, Ok).and_then(|s: Survival| s.to_table())
    }

    /// Incidence of each cause of failure: cause, time (days), incidence, se, low, high.
    ///
    /// # Errors
    /// None that accounts should cause.
    pub fn incidence_table(&self) -> Result<Table, Error> {
        let rows = &self.incidence;
        let number = |f: fn(&Incidence) -> Option<f64>| rows.iter().map(f).collect();
        let cause = |r: &Incidence| self.causes.get((r.cause as usize).saturating_sub(1)).cloned();
        let mut t = Table::new();
        t.push_text("cause", rows.iter().map(cause).collect())?;
        t.push_f64("time", number(|r| Some(r.time)))?;
        t.push_f64("incidence", number(|r| Some(r.incidence)))?;
        t.push_f64("se", number(|r| Some(r.se)))?;
        t.push_f64("low", number(|r| r.low))?;
        t.push_f64("high", number(|r| r.high))?;
        Ok(t)
    }
}
