//! Alarms: how often stated levels would sound, when, and what the meter said.
//!
//! These counts describe alarms. They are no reason to switch one off: an alarm that a meter
//! contradicts is not known to be false the next time.
//!
//! # Method
//! An alarm sounds at the first reading beyond its level. It is armed again by a stated rule
//! ([`Rearm`]): when a reading is back past the level by so much, or after so many minutes (then
//! it sounds again if the reading still is beyond the level). A gap does not arm it; a change of
//! sensor does. A reading is classified in the unit it was measured in; one at the sensor's limit
//! counts as beyond that limit.
//!
//! The meter reading nearest in time, at most 15 min away, confirms an alarm when it is beyond the
//! same level and contradicts it when it is not; without one nobody checked. Meter and sensor differ
//! by their own errors too, so neither word is proof.
//!
//! Alarms that the wear has noted (`alarm` events) are matched with those worked out, the nearest
//! pair first, at most 15 min apart, each once.
//!
//! Rates have days as the unit (see [`rate`](super::rate)); nights are 00:00-06:00 local time.
//! The share confirmed is exact for checked alarms taken as independent.
//!
//! # Units
//! mg/dL, minutes, UTC milliseconds.
//!
//! # Source
//! Levels 70 and 180 mg/dL: Battelino et al., Diabetes Care 2019; 42: 1593-1603. Exact interval:
//! Clopper and Pearson, Biometrika 1934; 26: 404-413. The rules of arming and the 15 min are
//! conventions of this library.

mod summary;

pub use summary::{LevelSummary, summaries};

use crate::align::{EventKind, WearEvent};
use crate::error::{Error, require_within};
use crate::panel::episodes::Side;
use crate::series::{Meter, Trace};
use crate::table::{Items, Table};
use crate::units::{HIGH, LOW, Limit, MG_DL_PER_MMOL_L};

const MINUTE: i64 = 60_000;
/// A meter reading, or an alarm that was noted, belongs to an alarm this near.
const NEAR_MS: i64 = 15 * MINUTE;
/// What goes with every count here.
pub const CAUTION: &str = "these counts describe alarms and are no reason to switch one off; \
     a reading that disagrees with how someone feels is checked with a meter";

/// A level that sounds.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// A word for it, such as `low`.
    pub name: String,
    /// Below or above the level.
    pub side: Side,
    /// The level, not part of the alarm itself.
    pub limit: Limit,
}

impl Level {
    /// Below 70 mg/dL (3.9 mmol/L).
    pub fn low() -> Level {
        Level { name: "low".into(), side: Side::Below, limit: LOW }
    }

    /// Above 180 mg/dL (10.0 mmol/L).
    pub fn high() -> Level {
        Level { name: "high".into(), side: Side::Above, limit: HIGH }
    }
}

/// When an alarm that has sounded is armed again.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum Rearm {
    /// When a reading is on the other side of the level by at least so much, mg/dL.
    Back {
        /// 0 to 100 mg/dL.
        mg_dl: f64,
    },
    /// So many minutes after it sounded.
    Snooze {
        /// 1 to 1440 minutes.
        minutes: f64,
    },
}

impl Default for Rearm {
    fn default() -> Self {
        Rearm::Back { mg_dl: 5.0 }
    }
}

/// What a meter reading near an alarm says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum Checked {
    /// The meter was beyond the level too.
    Confirmed,
    /// It was not.
    Contradicted,
    /// There was no meter reading within 15 min.
    Nobody,
}

impl Checked {
    /// A stable word.
    pub fn name(self) -> &'static str {
        match self {
            Checked::Confirmed => "confirmed",
            Checked::Contradicted => "contradicted",
            Checked::Nobody => "nobody_checked",
        }
    }
}

/// One alarm that would sound.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Alarm {
    /// Which level.
    pub level: String,
    /// When, UTC milliseconds.
    pub time_ms: i64,
    /// The reading, mg/dL.
    pub glucose_mg_dl: f64,
    /// Local hour, 0 to 23; unknown without a zone.
    pub hour: Option<usize>,
    /// What the meter said.
    pub checked: Checked,
    /// The meter reading that was used, mg/dL.
    pub meter_mg_dl: Option<f64>,
    /// When the alarm was noted in the wear, UTC milliseconds.
    pub noted_ms: Option<i64>,
}

impl Alarm {
    /// Whether it sounds from 00:00 on and before 06:00 local time; unknown without a zone.
    pub fn night(&self) -> Option<bool> {
        self.hour.map(|h| h < 6)
    }
}

/// All alarms of a wear.
#[derive(Clone, Debug, PartialEq)]
pub struct Alarms {
    /// In order of time, then of level.
    pub alarms: Vec<Alarm>,
    /// Alarms that were noted without one worked out near them, UTC milliseconds.
    pub noted_only_ms: Vec<i64>,
    /// By level, in the order asked for.
    pub levels: Vec<LevelSummary>,
}

/// The alarms that levels would sound.
///
/// `meter_ahead_min`: minutes by which the meter's clock is ahead of the sensor's.
///
/// # Errors
/// No level, or one outside 10 to 2000 mg/dL; a rule, a clock or a confidence out of its range.
///
/// # Example
/// ```
/// use glycemic_core::sensor::alarms::{Checked, Level, Rearm, alarms};
/// use glycemic_core::{Meter, Unit, series::Builder};
/// let times: Vec<i64> = (0..8).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// // Below 70, up to 72 (not yet back by 5), below again, back, and below once more.
/// let glucose = [80.0, 69.0, 72.0, 68.0, 75.0, 66.0, 80.0, 90.0];
/// let trace = Builder::new(Unit::MgDl).build(&times, &glucose)?;
/// let meter = Meter::new(&[times[1] - 1_200_000, times[5] + 600_000], &[60.0, 92.0], &["".into(), "".into()], Unit::MgDl)?;
/// let all = alarms(&trace, &[Level::low()], Rearm::Back { mg_dl: 5.0 }, Some(&meter), 0.0, &[], 0.95)?;
/// let seen: Vec<(i64, Checked)> = all.alarms.iter().map(|a| (a.time_ms, a.checked)).collect();
/// assert_eq!(seen, [(times[1], Checked::Nobody), (times[5], Checked::Contradicted)]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn alarms(
    trace: &Trace,
    levels: &[Level],
    rearm: Rearm,
    meter: Option<&Meter>,
    meter_ahead_min: f64,
    events: &[WearEvent],
    confidence: f64,
) -> Result<Alarms, Error> {
    check(levels, rearm)?;
    require_within("meter_ahead_min", meter_ahead_min, -1440.0, 1440.0)?;
    require_within("level", confidence, 0.5, 0.999)?;
    let mut all: Vec<Alarm> = Vec::new();
    for level in levels {
        all.extend(sounded(trace, level, rearm));
    }
    all.sort_by_key(|a| a.time_ms);
    if let Some(meter) = meter {
        let ahead = (meter_ahead_min * MINUTE as f64) as i64;
        for alarm in &mut all {
            ask(alarm, levels, trace, meter, ahead);
        }
    }
    let noted: Vec<i64> =
        events.iter().filter(|e| e.kind == EventKind::Alarm).map(|e| e.time_ms).collect();
    let noted_only_ms = matched(&mut all, noted);
    let levels = summaries(trace, levels, &all, confidence)?;
    Ok(Alarms { alarms: all, noted_only_ms, levels })
}

fn check(levels: &[Level], rearm: Rearm) -> Result<(), Error> {
    if levels.is_empty() {
        return Err(Error::TooFewValues { measure: "alarms", needed: 1, got: 0 });
    }
    for level in levels {
        require_within("limit", level.limit.mg_dl, 10.0, 2000.0)?;
        require_within("limit", level.limit.mmol_l * MG_DL_PER_MMOL_L, 10.0, 2000.0)?;
    }
    match rearm {
        Rearm::Back { mg_dl } => require_within("mg_dl", mg_dl, 0.0, 100.0),
        Rearm::Snooze { minutes } => require_within("minutes", minutes, 1.0, 1440.0),
    }
}

/// How far a value is beyond a limit, mg/dL; negative on the other side.
fn beyond(side: Side, limit: f64, value: f64) -> f64 {
    match side {
        Side::Below => limit - value,
        Side::Above => value - limit,
    }
}

fn sounded(trace: &Trace, level: &Level, rearm: Rearm) -> Vec<Alarm> {
    let limit = level.limit.in_source(trace.unit());
    let (times, values) = (trace.times_ms(), trace.glucose_mg_dl());
    let mut out = Vec::new();
    let mut last: Option<i64> = None;
    for (i, (&time_ms, &glucose_mg_dl)) in times.iter().zip(values).enumerate() {
        let far = beyond(level.side, limit, glucose_mg_dl);
        if i > 0 && trace.view().spans_break(times[i - 1], time_ms) {
            last = None;
        }
        let armed_again = match (rearm, last) {
            (Rearm::Back { mg_dl }, Some(_)) => far <= 0.0 && -far >= mg_dl,
            (Rearm::Snooze { minutes }, Some(at)) => {
                (time_ms - at) as f64 >= minutes * MINUTE as f64
            }
            (_, None) => false,
        };
        if armed_again {
            last = None;
        }
        if far > 0.0 && last.is_none() {
            last = Some(time_ms);
            out.push(Alarm {
                level: level.name.clone(),
                time_ms,
                glucose_mg_dl,
                hour: trace.clock().map(|c| (c.minute_of_day(time_ms) / 60.0) as usize),
                checked: Checked::Nobody,
                meter_mg_dl: None,
                noted_ms: None,
            });
        }
    }
    out
}

/// The nearest meter reading, on the sensor's clock, confirms or contradicts.
fn ask(alarm: &mut Alarm, levels: &[Level], trace: &Trace, meter: &Meter, ahead_ms: i64) {
    let Some(level) = levels.iter().find(|l| l.name == alarm.level) else { return };
    let away = |t: i64| t.saturating_sub(ahead_ms).abs_diff(alarm.time_ms);
    let near = meter.times_ms().iter().zip(meter.glucose_mg_dl());
    let near = near.filter(|m| away(*m.0) <= NEAR_MS as u64).min_by_key(|m| away(*m.0));
    if let Some((_, &value)) = near {
        let over = beyond(level.side, level.limit.in_source(trace.unit()), value) > 0.0;
        alarm.meter_mg_dl = Some(value);
        alarm.checked = if over { Checked::Confirmed } else { Checked::Contradicted };
    }
}

/// Matches noted alarms with those worked out; gives those left over.
fn matched(alarms: &mut [Alarm], mut noted: Vec<i64>) -> Vec<i64> {
    noted.sort_unstable();
    let mut pairs: Vec<(u64, usize, usize)> = Vec::new();
    for (i, alarm) in alarms.iter().enumerate() {
        let apart = noted.iter().enumerate().map(|(j, t)| (t.abs_diff(alarm.time_ms), i, j));
        pairs.extend(apart.filter(|p| p.0 <= NEAR_MS as u64));
    }
    pairs.sort_unstable();
    let mut used = vec![false; noted.len()];
    for (_, i, j) in pairs {
        if !used[j] && alarms[i].noted_ms.is_none() {
            used[j] = true;
            alarms[i].noted_ms = Some(noted[j]);
        }
    }
    noted.iter().zip(used).filter(|n| !n.1).map(|n| *n.0).collect()
}

impl Alarms {
    /// A row for each alarm.
    ///
    /// # Errors
    /// None that alarms can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let rows = &self.alarms;
        let mut t = Table::new();
        t.push_text("level", rows.iter().map(|a| Some(a.level.clone())).collect())?;
        t.push_i64("time_ms", rows.iter().map(|a| Some(a.time_ms)).collect())?;
        t.push_f64("glucose_mg_dl", rows.iter().map(|a| Some(a.glucose_mg_dl)).collect())?;
        let known: Vec<bool> = rows.iter().map(|a| a.hour.is_some()).collect();
        let hours = rows.iter().map(|a| a.hour.unwrap_or(0) as i64).collect();
        t.push("hour", Items::I64(hours), known.clone())?;
        let nights = rows.iter().map(|a| a.night() == Some(true)).collect();
        t.push("night", Items::Bool(nights), known)?;
        t.push_text("checked", rows.iter().map(|a| Some(a.checked.name().into())).collect())?;
        t.push_f64("meter_mg_dl", rows.iter().map(|a| a.meter_mg_dl).collect())?;
        t.push_i64("noted_ms", rows.iter().map(|a| a.noted_ms).collect())?;
        Ok(t)
    }
}

#[cfg(test)]
#[path = "alarms_tests.rs"]
mod tests;
