//! Alarms by level: how often in a day and a night, in which hours, and what the meter said.

use super::{Alarm, Checked, Level};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::sensor::rate::per_day;
use crate::series::Trace;
use crate::stats::binomial::clopper_pearson;

const DAY_MS: i64 = 86_400_000;
/// Hours of a night.
const NIGHT_HOURS: f64 = 6.0;

/// The alarms of one level.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LevelSummary {
    /// Which level.
    pub level: String,
    /// Alarms.
    pub n: usize,
    /// Alarms in a day.
    pub per_day: Estimate,
    /// Alarms in a night (00:00-06:00 local time).
    pub per_night: Estimate,
    /// Alarms by local hour, or why there is none.
    pub by_hour: Result<[usize; 24], Reason>,
    /// Alarms that the meter confirmed.
    pub confirmed: usize,
    /// Alarms that it contradicted.
    pub contradicted: usize,
    /// Alarms that nobody checked.
    pub nobody_checked: usize,
    /// Share of the checked ones that were confirmed, percent.
    pub confirmed_pct: Estimate,
    /// Alarms that were noted too.
    pub noted: usize,
}

/// What was seen of one day.
#[derive(Clone, Copy, Debug, Default)]
struct DaySeen {
    day: i64,
    readings: usize,
    at_night: usize,
}

/// A summary for each level.
///
/// # Errors
/// A confidence outside 0.5 to 0.999.
pub fn summaries(
    trace: &Trace,
    levels: &[Level],
    alarms: &[Alarm],
    confidence: f64,
) -> Result<Vec<LevelSummary>, Error> {
    let days = days_seen(trace);
    let of = |level: &Level| {
        let own: Vec<&Alarm> = alarms.iter().filter(|a| a.level == level.name).collect();
        summary(trace, &days, level, &own, confidence)
    };
    levels.iter().map(of).collect()
}

/// Local day, or the 24 h since the first reading where there is no zone.
fn day_of(trace: &Trace, at_ms: i64) -> i64 {
    match trace.clock() {
        Some(clock) => clock.day(at_ms),
        None => (at_ms - trace.times_ms().first().copied().unwrap_or(0)).div_euclid(DAY_MS),
    }
}

fn days_seen(trace: &Trace) -> Vec<DaySeen> {
    let mut out: Vec<DaySeen> = Vec::new();
    for &t in trace.times_ms() {
        let day = day_of(trace, t);
        if out.last().is_none_or(|d| d.day != day) {
            out.push(DaySeen { day, ..DaySeen::default() });
        }
        if let Some(last) = out.last_mut() {
            last.readings += 1;
            let night = trace.clock().is_some_and(|c| c.minute_of_day(t) < 60.0 * NIGHT_HOURS);
            last.at_night += usize::from(night);
        }
    }
    out
}

fn summary(
    trace: &Trace,
    days: &[DaySeen],
    level: &Level,
    own: &[&Alarm],
    confidence: f64,
) -> Result<LevelSummary, Error> {
    let on = |day: i64, night: bool| {
        let here =
            |a: &&&Alarm| day_of(trace, a.time_ms) == day && (!night || a.night() == Some(true));
        own.iter().filter(here).count()
    };
    let share = |readings: usize, hours: f64| {
        let possible = hours * 3_600_000.0 / trace.nominal_ms() as f64;
        (readings as f64 / possible).min(1.0)
    };
    let counts: Vec<usize> = days.iter().map(|d| on(d.day, false)).collect();
    let seen: Vec<f64> = days.iter().map(|d| share(d.readings, 24.0)).collect();
    let at_night: Vec<usize> = days.iter().map(|d| on(d.day, true)).collect();
    let nights: Vec<f64> = days.iter().map(|d| share(d.at_night, NIGHT_HOURS)).collect();
    let no_zone = || {
        let text = "needs local time, and no zone or local clock was given";
        Reason::plain("no_zone", text)
    };
    let per_night = match trace.clock() {
        Some(_) => per_day(&at_night, &nights, confidence)?,
        None => Estimate::missing(confidence, "by nights", 0, 0, no_zone()),
    };
    let mut hours = [0; 24];
    for hour in own.iter().filter_map(|a| a.hour) {
        hours[hour.min(23)] += 1;
    }
    let count = |c: Checked| own.iter().filter(|a| a.checked == c).count();
    let (confirmed, contradicted) = (count(Checked::Confirmed), count(Checked::Contradicted));
    Ok(LevelSummary {
        level: level.name.clone(),
        n: own.len(),
        per_day: per_day(&counts, &seen, confidence)?,
        per_night,
        by_hour: trace.clock().map(|_| hours).ok_or_else(no_zone),
        confirmed,
        contradicted,
        nobody_checked: count(Checked::Nobody),
        confirmed_pct: share_confirmed(confirmed, confirmed + contradicted, confidence)?,
        noted: own.iter().filter(|a| a.noted_ms.is_some()).count(),
    })
}

fn share_confirmed(confirmed: usize, checked: usize, level: f64) -> Result<Estimate, Error> {
    let method = "exact for checked alarms taken as independent";
    if checked == 0 {
        let reason = Reason::count("nobody_checked", "alarm checked with a meter", 0, 1);
        return Ok(Estimate::missing(level, method, 0, 1, reason));
    }
    let (low, high) = clopper_pearson(confirmed, checked, level)?;
    let value = 100.0 * confirmed as f64 / checked as f64;
    Ok(Estimate::new(value, 100.0 * low, 100.0 * high, level, method, checked).needing(1))
}
