//! Answers of this room as tables of estimates, for callers in other languages.

use super::accountability::Repeatability;
use super::concordance::Concordance;
use super::grid::{ErrorGrid, Zone};
use super::limits::Limits;
use super::lines::MethodLine;
use super::summary::Summary;
use crate::error::Error;
use crate::estimate::Estimate;
use crate::table::Table;

impl Summary {
    /// A row for each figure.
    ///
    /// # Errors
    /// None that a summary can cause.
    pub fn table(&self) -> Result<Table, Error> {
        let plain = |value: Option<f64>| Estimate { value, n: self.n, ..Estimate::default() };
        Table::of_estimates(&[
            ("mard_pct", "%", &self.mard_pct),
            ("median_ard_pct", "%", &plain(Some(self.median_ard_pct))),
            ("bias_mg_dl", "mg/dL", &self.bias_mg_dl),
            ("bias_pct", "%", &self.bias_pct),
            ("sd_mg_dl", "mg/dL", &plain(self.sd_mg_dl)),
        ])
    }
}

impl Limits {
    /// Bias, lower and upper limit in mg/dL, or in the unit of the scale asked for.
    ///
    /// # Errors
    /// None that limits can cause.
    pub fn table(&self) -> Result<Table, Error> {
        Table::of_estimates(&[
            ("bias", "mg/dL", &self.bias),
            ("lower", "mg/dL", &self.lower),
            ("upper", "mg/dL", &self.upper),
        ])
    }
}

impl MethodLine {
    /// Slope and intercept.
    ///
    /// # Errors
    /// None that a line can cause.
    pub fn table(&self) -> Result<Table, Error> {
        Table::of_estimates(&[("slope", "1", &self.slope), ("intercept", "mg/dL", &self.intercept)])
    }
}

impl Concordance {
    /// The coefficient.
    ///
    /// # Errors
    /// None that a coefficient can cause.
    pub fn table(&self) -> Result<Table, Error> {
        Table::of_estimates(&[("concordance", "1", &self.concordance)])
    }
}

impl Repeatability {
    /// Within-burst SD and coefficient of variation.
    ///
    /// # Errors
    /// None that bursts can cause.
    pub fn table(&self) -> Result<Table, Error> {
        Table::of_estimates(&[("sd_mg_dl", "mg/dL", &self.sd_mg_dl), ("cv_pct", "%", &self.cv_pct)])
    }
}

impl ErrorGrid {
    /// A row for each zone, A first: how many pairs, and percent of all.
    ///
    /// # Errors
    /// None that a grid can cause.
    pub fn table(&self) -> Result<Table, Error> {
        let mut t = Table::new();
        t.push_text("zone", Zone::ALL.iter().map(|z| Some(z.letter().to_string())).collect())?;
        t.push_i64("pairs", self.counts.iter().map(|c| Some(*c as i64)).collect())?;
        t.push_f64("percent", self.percent.iter().map(|p| Some(*p)).collect())?;
        Ok(t)
    }
}
