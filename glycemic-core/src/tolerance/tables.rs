//! Limits by kind and part of the day, and the person's own foods, as tables.

use super::fit::Fit;
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

/// The straight line and the form that saturates, by how well they tell meals left out: rows
/// `straight` and `saturating`; none where there is no line.
///
/// # Errors
/// None that a fit can cause.
pub fn forms(fit: &Fit) -> Result<Table, Error> {
    let mut t = Table::new();
    let Some(bent) = fit.saturating()? else { return Ok(t) };
    let (line, curve) = (&fit.limit_g, &bent.limit_g);
    let text = |a: &str, b: &str| vec![Some(a.to_string()), Some(b.to_string())];
    t.push_text("form", text("straight", "saturating"))?;
    t.push_f64("power", vec![Some(1.0), Some(bent.power)])?;
    t.push_f64("limit_g", vec![line.value, curve.value])?;
    t.push_f64("low_g", vec![line.low, curve.low])?;
    t.push_f64("high_g", vec![line.high, curve.high])?;
    let errors = vec![Some(bent.straight_left_out_mg_dl), Some(bent.left_out_mg_dl)];
    t.push_f64("left_out_mg_dl", errors)?;
    t.push_f64("weight", vec![Some(1.0 - bent.weight), Some(bent.weight)])?;
    t.push_bool("preferred", vec![!bent.preferred, bent.preferred])?;
    let why = |e: &Estimate| e.reason.as_ref().map(|r| r.text.clone());
    t.push_text("reason", vec![why(line), why(curve)])?;
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
