//! What was found of each sensor as tables, for callers in other languages.
//!
//! Sensors are counted from 1 in order of wear, as [`sensors`](super::sensors) has them. An estimate is
//! three columns, its value and the ends of its interval, and a reason where something is missing.

use super::alarms::LevelSummary;
use super::candidates::Tried;
use super::drift::Drift;
use super::drop_outs::{DropOuts, SensorWear};
use super::first_day::{FirstDay, Hours, Movement};
use super::recalibrated::{Applied, Recalibrated};
use super::recalibration::{Accuracy, OfSensor, Recalibration};
use super::steps::Step;
use super::worn::Worn;
use crate::align::EventKind;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::table::Table;

/// A row for each sensor: pairs, days with pairs, drift in mg/dL and in percent per day.
///
/// # Errors
/// None that rows of [`drift`](super::drift()) can cause.
pub fn drift_table(rows: &[Drift]) -> Result<Table, Error> {
    let mut t = of_sensors(rows.iter().map(|r| r.sensor))?;
    t.push_i64("pairs", count(rows, |r| r.pairs))?;
    t.push_i64("days", count(rows, |r| r.mg_dl_day.n))?;
    push(&mut t, "drift", "mg_dl_day", each(rows, |r| Some(&r.mg_dl_day)))?;
    push(&mut t, "drift", "pct_day", each(rows, |r| Some(&r.pct_day)))?;
    push_reason(&mut t, "reason", each(rows, |r| Some(&r.mg_dl_day)))?;
    Ok(t)
}

/// A row for each sensor: mornings, change of its fasting level per day.
///
/// # Errors
/// None that rows of [`fasting_drift`](super::fasting_drift) can cause.
pub fn fasting_drift_table(rows: &[(Worn, Estimate)]) -> Result<Table, Error> {
    let mut t = of_sensors(rows.iter().map(|r| r.0))?;
    t.push_i64("mornings", count(rows, |r| r.1.n))?;
    push(&mut t, "fasting_drift", "mg_dl_day", each(rows, |r| Some(&r.1)))?;
    push_reason(&mut t, "reason", each(rows, |r| Some(&r.1)))?;
    Ok(t)
}

/// A row for each swap or calibration: its time, what it was, pairs and the step.
///
/// # Errors
/// None that rows of [`steps`](super::steps()) can cause.
pub fn steps_table(rows: &[Step]) -> Result<Table, Error> {
    let event = |r: &Step| match r.at.kind {
        EventKind::Inserted => Some("inserted".to_string()),
        EventKind::Calibrated => Some("calibrated".to_string()),
        _ => None,
    };
    let mut t = Table::new();
    t.push_i64("time_ms", rows.iter().map(|r| Some(r.at.time_ms)).collect())?;
    t.push_text("event", rows.iter().map(event).collect())?;
    t.push_text("sensor", rows.iter().map(|r| r.at.sensor.clone()).collect())?;
    t.push_i64("pairs_before", count(rows, |r| r.pairs.0))?;
    t.push_i64("pairs_after", count(rows, |r| r.pairs.1))?;
    push(&mut t, "difference", "mg_dl", each(rows, |r| Some(&r.difference_mg_dl)))?;
    push_reason(&mut t, "difference_reason", each(rows, |r| Some(&r.difference_mg_dl)))?;
    push(&mut t, "overnight", "mg_dl", each(rows, |r| Some(&r.overnight_mg_dl)))?;
    push_reason(&mut t, "overnight_reason", each(rows, |r| Some(&r.overnight_mg_dl)))?;
    Ok(t)
}

/// A row for each sensor: from which hour it is steady, its movement in hours 0 to 12 and 12 to 24 as
/// a multiple of later days, and its mean with and without the hours before.
///
/// # Errors
/// None that rows of [`first_day`](super::first_day()) can cause.
pub fn first_day_table(rows: &[FirstDay]) -> Result<Table, Error> {
    let mut t = of_sensors(rows.iter().map(|r| r.sensor))?;
    push(&mut t, "steady_from", "h", each(rows, |r| Some(&r.steady_from_h)))?;
    push_reason(&mut t, "steady_from_reason", each(rows, |r| Some(&r.steady_from_h)))?;
    for (place, hours) in ["0_12", "12_24"].into_iter().enumerate() {
        let ratio = |r: &FirstDay| r.movement.get(place).map(|m: &Movement| m.ratio.clone());
        let ratios: Vec<Option<Estimate>> = rows.iter().map(ratio).collect();
        let (name, why) = (format!("movement_{hours}"), format!("movement_{hours}_reason"));
        push(&mut t, &name, "ratio", each(&ratios, Option::as_ref))?;
        push_reason(&mut t, &why, each(&ratios, Option::as_ref))?;
    }
    t.push_f64("mean_mg_dl", rows.iter().map(|r| Some(r.mean_mg_dl)).collect())?;
    t.push_f64("left_out_h", rows.iter().map(|r| Some(r.left_out_h)).collect())?;
    t.push_f64("mean_without_mg_dl", rows.iter().map(|r| r.mean_without_mg_dl).collect())?;
    Ok(t)
}

/// A row for each sensor and stretch of hours since insertion: pairs, mean and SD of sensor - meter. No
/// `to_h` where the stretch has no end.
///
/// # Errors
/// None that rows of [`first_day`](super::first_day()) can cause.
pub fn first_day_hours_table(rows: &[FirstDay]) -> Result<Table, Error> {
    let numbered = rows.iter().enumerate();
    let all: Vec<(usize, &Hours)> =
        numbered.flat_map(|(i, r)| r.hours.iter().map(move |h| (i + 1, h))).collect();
    let number = |f: fn(&Hours) -> Option<f64>| all.iter().map(|(_, h)| f(h)).collect::<Vec<_>>();
    let mut t = Table::new();
    t.push_i64("sensor", all.iter().map(|(sensor, _)| Some(*sensor as i64)).collect())?;
    t.push_f64("from_h", number(|h| Some(h.from_h)))?;
    t.push_f64("to_h", number(|h| Some(h.to_h).filter(|to| to.is_finite())))?;
    t.push_i64("pairs", all.iter().map(|(_, h)| Some(h.pairs as i64)).collect())?;
    t.push_f64("mean_mg_dl", number(|h| h.mean_mg_dl))?;
    t.push_f64("sd_mg_dl", number(|h| h.sd_mg_dl))?;
    Ok(t)
}

/// A row for each sensor: what to set (`kind`, `set_*`), the mean difference from the meter and from
/// blood, agreement before and after, and why it is left as it is, where it is.
///
/// # Errors
/// None that a recalibration can cause.
pub fn recalibration_table(found: &Recalibration) -> Result<Table, Error> {
    let rows = &found.sensors;
    let number = |f: fn(&OfSensor) -> Option<f64>| rows.iter().map(f).collect::<Vec<_>>();
    let mut t = of_sensors(rows.iter().map(|r| r.sensor))?;
    t.push_i64("pairs", count(rows, |r| r.pairs_ms.len()))?;
    t.push_i64("days", count(rows, |r| r.offset_mg_dl.n))?;
    t.push_text("kind", rows.iter().map(|r| Some(r.kind.name().to_string())).collect())?;
    t.push_f64("set_gain", number(|r| Some(r.correction.gain)))?;
    t.push_f64("set_offset_mg_dl", number(|r| Some(r.correction.offset_mg_dl)))?;
    t.push_f64("set_drift_mg_dl_day", number(|r| Some(r.correction.drift_mg_dl_day)))?;
    push(&mut t, "offset", "mg_dl", each(rows, |r| Some(&r.offset_mg_dl)))?;
    t.push_f64("offset_se_mg_dl", number(|r| r.offset_se_mg_dl))?;
    push(&mut t, "offset_in_blood", "mg_dl", each(rows, |r| Some(&r.offset_in_blood_mg_dl)))?;
    type Of = fn(&OfSensor) -> Option<&Accuracy>;
    let times: [(&str, Of); 2] =
        [("before", |r| r.before.as_ref()), ("after", |r| r.after.as_ref())];
    for (time, of) in times {
        let bias = each(rows, |r| of(r).map(|a| &a.bias_mg_dl));
        push(&mut t, &format!("{time}_bias"), "mg_dl", bias)?;
        let mard = each(rows, |r| of(r).map(|a| &a.mard_pct));
        push(&mut t, &format!("{time}_mard"), "pct", mard)?;
        let within = each(rows, |r| of(r).map(|a| &a.within_20_pct));
        push(&mut t, &format!("{time}_within_20"), "pct", within)?;
    }
    t.push_text("reason", rows.iter().map(|r| r.reason.as_ref().map(text)).collect())?;
    push_reason(&mut t, "offset_reason", each(rows, |r| Some(&r.offset_mg_dl)))?;
    Ok(t)
}

/// A row for each sensor and each way of setting it: its error on left-out days, and how much that is
/// above the best. No rows of a sensor with too few pairs.
///
/// # Errors
/// None that a recalibration can cause.
pub fn tried_table(found: &Recalibration) -> Result<Table, Error> {
    let numbered = found.sensors.iter().enumerate();
    let rows: Vec<(usize, bool, &Tried)> = numbered
        .flat_map(|(i, s)| s.tried.iter().map(move |t| (i + 1, t.kind == s.kind, t)))
        .collect();
    let number = |f: fn(&Tried) -> Option<f64>| rows.iter().map(|r| f(r.2)).collect::<Vec<_>>();
    let mut t = Table::new();
    t.push_i64("sensor", rows.iter().map(|r| Some(r.0 as i64)).collect())?;
    t.push_text("kind", rows.iter().map(|r| Some(r.2.kind.name().to_string())).collect())?;
    t.push_bool("chosen", rows.iter().map(|r| r.1).collect())?;
    t.push_f64("error_mg_dl", number(|r| r.error_mg_dl))?;
    t.push_f64("above_best_mg2_dl2", number(|r| r.above_best))?;
    t.push_f64("above_best_se_mg2_dl2", number(|r| r.above_best_se))?;
    t.push_text("reason", rows.iter().map(|r| r.2.reason.as_ref().map(text)).collect())?;
    Ok(t)
}

/// A row for each sensor that was set: what was done to it, and to how many readings.
///
/// # Errors
/// None that a set trace can cause.
pub fn applied_table(done: &Recalibrated) -> Result<Table, Error> {
    let rows = &done.applied;
    let number = |f: fn(&Applied) -> f64| rows.iter().map(|r| Some(f(r))).collect::<Vec<_>>();
    let mut t = Table::new();
    t.push_i64("inserted_ms", rows.iter().map(|r| r.sensor.inserted_ms).collect())?;
    t.push_i64("first_ms", rows.iter().map(|r| Some(r.sensor.first_ms)).collect())?;
    t.push_i64("last_ms", rows.iter().map(|r| Some(r.sensor.last_ms)).collect())?;
    t.push_text("kind", rows.iter().map(|r| Some(r.kind.name().to_string())).collect())?;
    t.push_f64("gain", number(|r| r.correction.gain))?;
    t.push_f64("offset_mg_dl", number(|r| r.correction.offset_mg_dl))?;
    t.push_f64("drift_mg_dl_day", number(|r| r.correction.drift_mg_dl_day))?;
    t.push_i64("pairs", count(rows, |r| r.pairs_ms.len()))?;
    t.push_i64("readings", count(rows, |r| r.readings))?;
    Ok(t)
}

/// A row for each sensor: days worn, wait for the first reading, share lost in the first hours after
/// it, whether it was noted as failed. Its capture is in [`DropOuts::capture_table`].
///
/// # Errors
/// None that [`drop_outs`](super::drop_outs::drop_outs()) can cause.
pub fn wear_table(found: &DropOuts) -> Result<Table, Error> {
    let rows = &found.sensors;
    let number = |f: fn(&SensorWear) -> Option<f64>| rows.iter().map(f).collect::<Vec<_>>();
    let mut t = Table::new();
    t.push_text("sensor", rows.iter().map(|r| r.capture.sensor.clone()).collect())?;
    t.push_f64("days", number(|r| Some(r.days)))?;
    t.push_f64("wait_min", number(|r| r.wait_min))?;
    t.push_f64("first_hours_lost_pct", number(|r| r.first_hours_lost_pct))?;
    t.push_bool("failed", rows.iter().map(|r| r.failed).collect())?;
    Ok(t)
}

/// A row for each level of alarm: how many, per day and per night, and what the meter said.
///
/// # Errors
/// None that [`alarms`](super::alarms::alarms()) can cause.
pub fn alarm_levels_table(rows: &[LevelSummary]) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_text("level", rows.iter().map(|r| Some(r.level.clone())).collect())?;
    t.push_i64("n", count(rows, |r| r.n))?;
    push(&mut t, "n", "per_day", each(rows, |r| Some(&r.per_day)))?;
    push_reason(&mut t, "per_day_reason", each(rows, |r| Some(&r.per_day)))?;
    push(&mut t, "n", "per_night", each(rows, |r| Some(&r.per_night)))?;
    push_reason(&mut t, "per_night_reason", each(rows, |r| Some(&r.per_night)))?;
    t.push_i64("confirmed", count(rows, |r| r.confirmed))?;
    t.push_i64("contradicted", count(rows, |r| r.contradicted))?;
    t.push_i64("nobody_checked", count(rows, |r| r.nobody_checked))?;
    push(&mut t, "confirmed", "pct", each(rows, |r| Some(&r.confirmed_pct)))?;
    push_reason(&mut t, "confirmed_reason", each(rows, |r| Some(&r.confirmed_pct)))?;
    t.push_i64("noted", count(rows, |r| r.noted))?;
    Ok(t)
}

/// The columns that say which sensor a row is about.
fn of_sensors(worn: impl Iterator<Item = Worn>) -> Result<Table, Error> {
    let worn: Vec<Worn> = worn.collect();
    let mut t = Table::new();
    t.push_i64("sensor", (1..=worn.len()).map(|i| Some(i as i64)).collect())?;
    t.push_i64("inserted_ms", worn.iter().map(|w| w.inserted_ms).collect())?;
    t.push_i64("first_ms", worn.iter().map(|w| Some(w.first_ms)).collect())?;
    t.push_i64("last_ms", worn.iter().map(|w| Some(w.last_ms)).collect())?;
    Ok(t)
}

type Estimates<'a> = Vec<Option<&'a Estimate>>;

fn each<T>(rows: &[T], f: impl Fn(&T) -> Option<&Estimate>) -> Estimates<'_> {
    rows.iter().map(f).collect()
}

fn count<T>(rows: &[T], f: fn(&T) -> usize) -> Vec<Option<i64>> {
    rows.iter().map(|r| Some(f(r) as i64)).collect()
}

fn text(reason: &Reason) -> String {
    reason.text.clone()
}

/// Value and ends: `name_unit`, `name_low_unit`, `name_high_unit`.
fn push(t: &mut Table, name: &str, unit: &str, estimates: Estimates<'_>) -> Result<(), Error> {
    let pick = |f: fn(&Estimate) -> Option<f64>| {
        estimates.iter().map(|e| e.and_then(f)).collect::<Vec<_>>()
    };
    t.push_f64(&format!("{name}_{unit}"), pick(|e| e.value))?;
    t.push_f64(&format!("{name}_low_{unit}"), pick(|e| e.low))?;
    t.push_f64(&format!("{name}_high_{unit}"), pick(|e| e.high))
}

fn push_reason(t: &mut Table, name: &str, estimates: Estimates<'_>) -> Result<(), Error> {
    let why = |e: &Option<&Estimate>| e.and_then(|e| e.reason.as_ref()).map(text);
    t.push_text(name, estimates.iter().map(why).collect())
}

#[cfg(test)]
#[path = "tables_tests.rs"]
mod tests;
