//! Findings, their balance and symptoms as tables.

use super::design::Balance;
use super::helps::Finding;
use super::outcome::Outcome;
use super::symptoms::AtSymptoms;
use crate::error::Error;
use crate::table::Table;

/// A row for each exposure: the difference alone, the interval that allows for the number of
/// questions and its verdict, and the negative control.
///
/// # Errors
/// None that findings can cause.
pub fn findings(found: &[Finding], outcome: Outcome) -> Result<Table, Error> {
    let mut t = Table::new();
    let number = |f: &dyn Fn(&Finding) -> Option<f64>| found.iter().map(f).collect::<Vec<_>>();
    let text = |f: &dyn Fn(&Finding) -> Option<String>| found.iter().map(f).collect::<Vec<_>>();
    let reason = |f: &Finding| f.contrast.difference.reason.as_ref().map(|r| r.text.clone());
    t.push_text("exposure", text(&|f| Some(f.exposure.clone())))?;
    t.push_text("outcome", text(&|_| Some(outcome.id().to_string())))?;
    t.push_text("unit", text(&|_| Some(outcome.unit().to_string())))?;
    t.push_text("compared", text(&|f| Some(if f.by_day { "days" } else { "meals" }.into())))?;
    t.push_bool("planned", found.iter().map(|f| f.planned).collect())?;
    t.push_i64("n", found.iter().map(|f| Some(f.contrast.n as i64)).collect())?;
    t.push_i64("n_exposed", found.iter().map(|f| Some(f.contrast.n_exposed as i64)).collect())?;
    t.push_f64("difference", number(&|f| f.contrast.difference.value))?;
    t.push_f64("low", number(&|f| f.contrast.difference.low))?;
    t.push_f64("high", number(&|f| f.contrast.difference.high))?;
    t.push_f64("p_value", number(&|f| f.contrast.p_value))?;
    t.push_f64("adjusted_p", number(&|f| f.adjusted_p))?;
    t.push_f64("adjusted_low", number(&|f| f.adjusted.low))?;
    t.push_f64("adjusted_high", number(&|f| f.adjusted.high))?;
    t.push_text("verdict", text(&|f| Some(f.verdict.code().into())))?;
    t.push_f64("smallest_visible", number(&|f| f.contrast.smallest_visible))?;
    t.push_f64("control_difference", number(&|f| f.control.difference.value))?;
    t.push_f64("control_p_value", number(&|f| f.control.p_value))?;
    t.push_f64("grams_with", number(&|f| f.balance.first().map(|b| b.with)))?;
    t.push_f64("grams_without", number(&|f| f.balance.first().map(|b| b.without)))?;
    t.push_text("adjusted_for", text(&|f| Some(f.adjusted_for.join(";"))))?;
    t.push_text("reason", text(&reason))?;
    Ok(t)
}

/// How alike the meals with and without each exposure are.
///
/// # Errors
/// None that findings can cause.
pub fn balance(found: &[Finding]) -> Result<Table, Error> {
    let rows = || found.iter().flat_map(|f| f.balance.iter().map(move |b| (f, b)));
    let mut t = Table::new();
    t.push_text("exposure", rows().map(|(f, _)| Some(f.exposure.clone())).collect())?;
    t.push_text("what", rows().map(|(_, b)| Some(b.what.clone())).collect())?;
    t.push_f64("with", rows().map(|(_, b)| Some(b.with)).collect())?;
    t.push_f64("without", rows().map(|(_, b)| Some(b.without)).collect())?;
    t.push_f64("standardised_difference", rows().map(|(_, b)| b.standardised).collect())?;
    Ok(t)
}

/// A row for each quantity that a single comparison should have alike on both sides.
///
/// # Errors
/// None that a comparison can cause.
pub fn balance_of(rows: &[Balance]) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_text("what", rows.iter().map(|b| Some(b.what.clone())).collect())?;
    t.push_f64("with", rows.iter().map(|b| Some(b.with)).collect())?;
    t.push_f64("without", rows.iter().map(|b| Some(b.without)).collect())?;
    t.push_f64("standardised_difference", rows.iter().map(|b| b.standardised).collect())?;
    Ok(t)
}

/// A row for each feature of glucose compared at symptoms.
///
/// # Errors
/// None that they can cause.
pub fn symptoms(felt: &[AtSymptoms]) -> Result<Table, Error> {
    let reason = |f: &AtSymptoms| f.difference.reason.as_ref().map(|r| r.text.clone());
    let mut t = Table::new();
    t.push_text("feature", felt.iter().map(|f| Some(f.feature.to_string())).collect())?;
    t.push_text("unit", felt.iter().map(|f| Some(f.unit.to_string())).collect())?;
    t.push_i64("n", felt.iter().map(|f| Some(f.difference.n as i64)).collect())?;
    t.push_f64("at_symptoms", felt.iter().map(|f| f.at_symptoms).collect())?;
    t.push_f64("difference", felt.iter().map(|f| f.difference.value).collect())?;
    t.push_f64("low", felt.iter().map(|f| f.difference.low).collect())?;
    t.push_f64("high", felt.iter().map(|f| f.difference.high).collect())?;
    t.push_f64("p_value", felt.iter().map(|f| f.p_value).collect())?;
    t.push_text("reason", felt.iter().map(reason).collect())?;
    Ok(t)
}
