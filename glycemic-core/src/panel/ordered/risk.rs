//! ADRR: the average daily risk range.
//!
//! # Method
//! Risk of a reading: f = 1.509 ((ln G)^1.084 - 5.381), r = 10 f^2, low risk where f < 0 and high
//! risk where f > 0, G in mg/dL. Of each local calendar day with at least three readings the
//! greatest low risk plus the greatest high risk; the mean over days. Risk falls and then rises
//! with glucose, so a day's lowest and highest reading tell both.
//!
//! # Source
//! Kovatchev BP et al. Diabetes Care 2006; 29: 2433-2438 (the three readings from memory).

use super::days::Day;
use super::number::Number;
use crate::estimate::Reason;

/// Readings that a day must have.
pub(crate) const MIN_READINGS: usize = 3;

pub(crate) fn adrr<N: Number>(codes: &[N], days: &[Day], step_mg_dl: f64) -> Result<f64, Reason> {
    let ranges: Vec<f64> = days
        .iter()
        .filter(|d| d.range.len() >= MIN_READINGS)
        .filter_map(|d| range(&codes[d.range.clone()], step_mg_dl))
        .collect();
    crate::stats::moments::mean(&ranges)
        .ok_or_else(|| Reason::count("too_few_days", "local days with at least 3 readings", 0, 1))
}

/// The greatest low risk plus the greatest high risk.
pub(crate) fn range<N: Number>(codes: &[N], step_mg_dl: f64) -> Option<f64> {
    let (low, high) = (codes.iter().min()?, codes.iter().max()?);
    let low = scaled(low.float() * step_mg_dl).min(0.0);
    let high = scaled(high.float() * step_mg_dl).max(0.0);
    Some(10.0 * low * low + 10.0 * high * high)
}

/// The symmetrised scale; below 1 mg/dL as at 1, since the power has no value there.
fn scaled(mg_dl: f64) -> f64 {
    1.509 * (libm::pow(libm::log(mg_dl.max(1.0)), 1.084) - 5.381)
}
