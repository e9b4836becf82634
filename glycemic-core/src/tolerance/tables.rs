//! Limits by kind and part of the day, and the person's own foods, as tables.

use super::model::Model;
use super::portions::Portion;
use crate::error::Error;
use crate::estimate::Estimate;
use crate::table::Table;

/// Mean limits of kinds of food and parts of the day; those without one have their reason.
///
/// # Errors
/// None that a model can cause.
pub fn limits_by_sort(model: &Model, level: f64) -> Result<Table, Error> {
    let kinds = model.kinds.iter().map(|p| ("kind", p));
    let parts: Vec<_> = kinds.chain(model.times.iter().map(|p| ("time", p))).collect();
    let limits: Vec<Estimate> = parts.iter().map(|(_, p)| p.limit_g(level)).collect();
    let mut t = Table::new();
    t.push_text("by", parts.iter().map(|p| Some(p.0.to_string())).collect())?;
    t.push_text("sort", parts.iter().map(|p| Some(p.1.name.clone())).collect())?;
    t.push_i64("meals", parts.iter().map(|p| Some(p.1.meals as i64)).collect())?;
    t.push_f64("limit_g", limits.iter().map(|e| e.value).collect())?;
    t.push_f64("low_g", limits.iter().map(|e| e.low).collect())?;
    t.push_f64("high_g", limits.iter().map(|e| e.high).collect())?;
    let why = |e: &Estimate| e.reason.as_ref().map(|r| r.text.clone());
    t.push_text("reason", limits.iter().map(why).collect())?;
    Ok(t)
}

/// The person's own foods beside the safe grams.
///
/// # Errors
/// None that portions can cause.
pub fn own_foods(found: &[Portion]) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_text("label", found.iter().map(|p| Some(p.label.clone())).collect())?;
    t.push_i64("times", found.iter().map(|p| Some(p.times as i64)).collect())?;
    t.push_f64("usual_g", found.iter().map(|p| Some(p.usual_g)).collect())?;
    t.push_f64("safe_share", found.iter().map(|p| p.safe_share).collect())?;
    Ok(t)
}
