//! What a trace tells beside the panel: shares, episodes, sufficiency, modal day, parts.

use glycemic_core::clock::LocalClock;
use glycemic_core::panel::blocks::{Block, By, table_by};
use glycemic_core::panel::episodes::{self, Rule};
use glycemic_core::panel::modal_day::{ModalOptions, Smoothing, modal_day};
use glycemic_core::panel::{EpisodeLength, Id, shares_in, sufficiency};
use glycemic_core::units::Unit;
use glycemic_core::{Error, Reason, Table, Trace};
use pyo3::prelude::*;

use crate::error::{compute, raise, to_py};
use crate::record::record;

record! {
    /// Whether there is enough data, by the consensus: 14 days, 70 % active.
    ///
    /// Source: Battelino et al., Diabetes Care 2019; 42: 1593-1603. The full day and the thin
    /// hour are conventions of this library. For education, coaching and research; not a medical
    /// device.
    PySufficiency as "Sufficiency" {
        /// Readings, inside the reporting period if there is one.
        n: usize,
        /// Days of 24 h: the reporting period, or from first to last reading and one interval.
        days: f64,
        /// Readings over what these days could hold, in percent, at most 100.
        active_pct: f64,
        /// Whether there are 14 days.
        enough_days: bool,
        /// Whether 70 % are active.
        enough_active: bool,
        /// The longest stretch without readings in minutes; 0 without a gap.
        longest_gap_min: f64,
        /// When it begins, UTC milliseconds.
        longest_gap_from_ms: Option<i64>,
        /// Local days with a reading; this and what follows is None without local time.
        days_touched: Option<usize>,
        /// Local days with 70 % of what they could hold.
        full_days: Option<usize>,
        /// Readings in each of the 24 clock hours.
        readings_by_hour: Option<Vec<usize>>,
        /// Clock hours without a reading.
        hours_unseen: Option<Vec<usize>>,
        /// Clock hours with less than a third of the mean hour's readings.
        hours_thin: Option<Vec<usize>>,
        /// Why there is no local time.
        reason: Option<String>,
    }
}

record! {
    /// How often episodes come by one rule, and how long they last.
    PyEpisodeSummary as "EpisodeSummary" {
        /// The rule.
        rule: String,
        /// Episodes.
        n: usize,
        /// Those that touch a gap or an end of the trace, so lasted at least as long as seen.
        cut: usize,
        /// Episodes per week observed, gaps left out.
        per_week: Option<f64>,
        /// Mean minutes of the episodes seen whole.
        mean_minutes: Option<f64>,
        /// Why one of the two is missing.
        reason: Option<String>,
    }
}

record! {
    /// How many days it would take to know a measure well enough.
    PyDaysNeeded as "DaysNeeded" {
        /// The measure.
        measure: String,
        /// How close it is to be known, either way, in its unit.
        half_width: f64,
        /// Confidence level.
        level: f64,
        /// The days, or None.
        days: Option<usize>,
        /// Why there is no answer.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }
}

/// Without local time there is no table: an error with the reason's word as its code.
fn untold(reason: Reason) -> PyErr {
    raise(&reason.text, &reason.code, "zone", None)
}

pub(crate) fn shares(
    py: Python<'_>,
    trace: &Trace,
    ranges: Vec<(f64, f64)>,
    unit: &str,
) -> PyResult<Vec<f64>> {
    let unit: Unit = unit.parse().map_err(to_py)?;
    let mg_dl = |(low, high): (f64, f64)| (unit.to_mg_dl(low), unit.to_mg_dl(high));
    let ranges: Vec<(f64, f64)> = ranges.into_iter().map(mg_dl).collect();
    compute(py, || shares_in(trace.glucose_mg_dl(), trace.unit(), &ranges))
}

const RULES: &str =
    "low, very_low, prolonged_very_low, extended_low, high, very_high, extended_high";

fn rule(name: &str, length: EpisodeLength) -> PyResult<Rule> {
    let found = Rule::ALL.into_iter().find(|r| r.name == name);
    let unknown = || Error::UnknownChoice { name: "rule", got: name.to_string(), choices: RULES };
    Ok(found.ok_or_else(unknown).map_err(to_py)?.counted(length))
}

pub(crate) fn episodes_of(
    py: Python<'_>,
    trace: &Trace,
    rules: &Bound<'_, PyAny>,
    length: &str,
) -> PyResult<Table> {
    let length: EpisodeLength = length.parse().map_err(to_py)?;
    let names = match rules.extract::<String>() {
        Ok(name) => vec![name],
        Err(_) => rules.extract::<Vec<String>>()?,
    };
    let rules: Vec<Rule> = names.iter().map(|n| rule(n, length)).collect::<PyResult<_>>()?;
    compute(py, || {
        let mut table = episodes::table(trace.view(), &rules)?;
        let starts = table.numbers("start_ms").unwrap_or_default();
        let minute = |start: Option<f64>| Some(trace.clock()?.minute_of_day(start? as i64));
        table.push_f64("start_min", starts.into_iter().map(minute).collect())?;
        Ok(table)
    })
}

pub(crate) fn episode_summary(
    py: Python<'_>,
    trace: &Trace,
    name: &str,
    length: &str,
) -> PyResult<PyEpisodeSummary> {
    let rule = rule(name, length.parse().map_err(to_py)?)?;
    let s = compute(py, || episodes::summary(trace.view(), &rule))?;
    Ok(PyEpisodeSummary {
        rule: name.to_string(),
        n: s.n,
        cut: s.cut,
        per_week: s.per_week,
        mean_minutes: s.mean_minutes,
        reason: s.reason.map(|r| r.text),
    })
}

pub(crate) fn sufficiency_of(
    py: Python<'_>,
    trace: &Trace,
    period: Option<(i64, i64)>,
) -> PyResult<PySufficiency> {
    let s = compute(py, || sufficiency::sufficiency(trace.view(), period))?;
    let (local, reason) = match s.local {
        Ok(local) => (Some(local), None),
        Err(reason) => (None, Some(reason.text)),
    };
    Ok(PySufficiency {
        n: s.n,
        days: s.days,
        active_pct: s.active_pct,
        enough_days: s.enough_days,
        enough_active: s.enough_active,
        longest_gap_min: s.longest_gap_min,
        longest_gap_from_ms: s.longest_gap_from_ms,
        days_touched: local.as_ref().map(|l| l.days_touched),
        full_days: local.as_ref().map(|l| l.full_days),
        readings_by_hour: local.as_ref().map(|l| l.readings_by_hour.to_vec()),
        hours_unseen: local.as_ref().map(|l| l.hours_unseen.clone()),
        hours_thin: local.map(|l| l.hours_thin),
        reason,
    })
}

pub(crate) fn days_needed(
    py: Python<'_>,
    trace: &Trace,
    measure: &str,
    half_width: f64,
    level: f64,
) -> PyResult<PyDaysNeeded> {
    let id = Id::from_name(measure).ok_or_else(|| {
        let (name, got) = ("measure", measure.to_string());
        to_py(Error::UnknownChoice { name, got, choices: "the names in glycemic.measures()" })
    })?;
    let found = compute(py, || sufficiency::days_needed_for(trace.view(), id, half_width, level))?;
    let (days, reason) = match found {
        Ok(days) => (Some(days), None),
        Err(reason) => (None, Some(reason)),
    };
    Ok(PyDaysNeeded {
        measure: measure.to_string(),
        half_width,
        level,
        days,
        reason: reason.as_ref().map(|r| r.text.clone()),
        reason_code: reason.map(|r| r.code),
    })
}

pub(crate) fn modal_day_of(
    py: Python<'_>,
    trace: &Trace,
    step_min: u32,
    percentiles: Vec<f64>,
    smoothing: &str,
    width_min: f64,
) -> PyResult<Table> {
    let smoothing = match smoothing {
        "none" => Smoothing::None,
        "window" => Smoothing::Window { minutes: width_min },
        "local" => Smoothing::Local { bandwidth_min: width_min },
        _ => {
            let (name, got) = ("smoothing", smoothing.to_string());
            return Err(to_py(Error::UnknownChoice { name, got, choices: "local, window, none" }));
        }
    };
    let mut options = ModalOptions::default();
    (options.step_min, options.percentiles, options.smoothing) = (step_min, percentiles, smoothing);
    match compute(py, || modal_day(trace.view(), &options))? {
        Ok(day) => day.table().map_err(to_py),
        Err(reason) => Err(untold(reason)),
    }
}

pub(crate) fn parts(py: Python<'_>, trace: &Trace, by: &Bound<'_, PyAny>) -> PyResult<Table> {
    let by = match by.extract::<String>() {
        Ok(word) => match word.as_str() {
            "day" => By::Day,
            "week_part" => By::WeekPart,
            _ => {
                let choices = "day, week_part, or a list of (name, from_min, to_min)";
                return Err(to_py(Error::UnknownChoice { name: "by", got: word, choices }));
            }
        },
        Err(_) => {
            let blocks: Vec<(String, u32, u32)> = by.extract()?;
            let block = |(name, from, to): &(String, u32, u32)| Block::new(name, *from, *to);
            By::Block(blocks.iter().map(block).collect::<Result<_, _>>().map_err(to_py)?)
        }
    };
    compute(py, || table_by(trace.view(), &by))?.map_err(untold)
}

/// What the wearer's clock showed at each reading, milliseconds since 1970 as if in UTC.
pub(crate) fn local_ms(trace: &Trace, clock: &LocalClock) -> Vec<i64> {
    trace.times_ms().iter().map(|&t| clock.local_ms(t)).collect()
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PySufficiency>()?;
    m.add_class::<PyEpisodeSummary>()?;
    m.add_class::<PyDaysNeeded>()
}
