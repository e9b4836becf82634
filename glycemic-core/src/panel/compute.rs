//! The panel of one trace.
//!
//! # Method
//! The measures of each room side by side: those that follow from the readings in any order
//! (`order_free`), and those of the local day. Active time is the readings over what the span
//! from first to last reading, or the reporting period, could hold at the nominal interval.
//!
//! # Source
//! In the registry, a row for each measure.

use super::options::Options;
use super::order_free::{Valued, order_free_with};
pub use super::order_free::{ea1c_pct, gmi_pct, order_free};
use super::registry::{Id, MEASURES};
use super::{episodes, local, ordered};
use crate::error::Error;
use crate::estimate::Reason;
use crate::series::{Censor, TraceView};

/// Values of all measures of one trace; a missing one has a reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    values: Vec<Option<f64>>,
    reasons: Vec<(Id, Reason)>,
}

impl Panel {
    fn new() -> Panel {
        Panel { values: vec![None; MEASURES.len()], reasons: Vec::new() }
    }

    /// The value of a measure, or `None` with a reason in [`reason`](Panel::reason).
    pub fn get(&self, id: Id) -> Option<f64> {
        self.values[id as usize - 1]
    }

    /// Why a measure is missing; `None` when it has a value.
    pub fn reason(&self, id: Id) -> Option<&Reason> {
        self.reasons.iter().find(|r| r.0 == id).map(|r| &r.1)
    }

    fn set(&mut self, id: Id, value: Result<f64, Reason>) {
        match value {
            Ok(v) => self.values[id as usize - 1] = Some(v),
            Err(reason) => self.reasons.push((id, reason)),
        }
    }

    /// A reason for what no room has answered.
    fn explain_the_rest(&mut self) {
        for m in MEASURES {
            if self.get(m.id).is_none() && self.reason(m.id).is_none() {
                let reason = Reason::plain("not_computed", "not computed in this panel");
                self.reasons.push((m.id, reason));
            }
        }
    }

    fn take(&mut self, all: Vec<Valued>) {
        for (id, value) in all {
            self.set(id, value);
        }
    }
}

/// Computes the panel of a stretch of a trace, with the default options.
///
/// `first_meals_ms`: instants of logged meals, to find the first of each day; empty without a
/// diary (then fasting is 06:00-07:00 local).
///
/// # Example
/// ```
/// use glycemic_core::{panel::{panel, Id}, series::Builder, Unit};
/// let times: Vec<i64> = (0..4).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &[69.0, 70.0, 180.0, 181.0])?;
/// let p = panel(trace.view(), &[]);
/// assert_eq!(p.get(Id::MeanMgDl), Some(125.0));
/// assert_eq!(p.get(Id::InRangePct), Some(50.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn panel(view: TraceView<'_>, meals_ms: &[i64]) -> Panel {
    compute(view, meals_ms, &Options::default(), None)
}

/// As [`panel`], with the caller's choices where publications disagree.
///
/// # Errors
/// As [`Options::check`].
///
/// # Example
/// ```
/// use glycemic_core::{panel::{panel_with, Id, Options}, series::Builder, Unit};
/// let times = [1_741_000_000_000, 1_741_000_300_000];
/// let trace = Builder::new(Unit::MgDl).build(&times, &[80.0, 80.0])?;
/// let options = Options { m_reference_mg_dl: 80.0, ..Options::default() };
/// assert_eq!(panel_with(trace.view(), &[], &options)?.get(Id::MValue), Some(0.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn panel_with(
    view: TraceView<'_>,
    meals_ms: &[i64],
    options: &Options,
) -> Result<Panel, Error> {
    options.check()?;
    Ok(compute(view, meals_ms, options, None))
}

/// As [`panel_with`], of the measures in `only` and what comes with them; the others have a reason.
///
/// # Errors
/// As [`Options::check`].
///
/// # Example
/// ```
/// use glycemic_core::{panel::{panel_only, Id, Options}, series::Builder, Unit};
/// let times = [1_741_000_000_000, 1_741_000_300_000];
/// let trace = Builder::new(Unit::MgDl).build(&times, &[80.0, 90.0])?;
/// let p = panel_only(trace.view(), &[], &Options::default(), &[Id::MeanMgDl])?;
/// assert_eq!(p.get(Id::MeanMgDl), Some(85.0));
/// assert_eq!(p.reason(Id::MageMgDl).map(|r| r.code.as_str()), Some("not_computed"));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn panel_only(
    view: TraceView<'_>,
    meals_ms: &[i64],
    options: &Options,
    only: &[Id],
) -> Result<Panel, Error> {
    options.check()?;
    Ok(compute(view, meals_ms, options, Some(only)))
}

fn compute(view: TraceView<'_>, meals_ms: &[i64], options: &Options, only: Option<&[Id]>) -> Panel {
    let wanted = |id: Id| only.is_none_or(|only| only.contains(&id));
    let mut p = Panel::new();
    about_the_data(view, options, &mut p);
    p.take(order_free_with(view.glucose_mg_dl(), view.trace().unit(), options));
    if wanted(Id::FastingMgDl) {
        p.set(Id::FastingMgDl, local::fasting(view, meals_ms));
    }
    if wanted(Id::OvernightMgDl) {
        p.set(Id::OvernightMgDl, local::overnight(view));
    }
    p.take(ordered::some(view, meals_ms, options, &wanted));
    if episodes::COUNTED.iter().any(|&id| wanted(id)) {
        p.take(episodes::counts(view, options));
    }
    p.explain_the_rest();
    p
}

/// How much there is: readings, span, active time, readings at a limit of the sensor.
fn about_the_data(view: TraceView<'_>, options: &Options, p: &mut Panel) {
    let nominal_ms = view.trace().nominal_ms();
    let span_ms = match view.times_ms() {
        [first, .., last] => last - first,
        _ => 0,
    };
    let (low, high) = censored(view);
    p.set(Id::N, Ok(view.len() as f64));
    p.set(Id::Days, Ok(span_ms as f64 / 86_400_000.0));
    p.set(Id::ActivePct, Ok(active_pct(view, span_ms, options)));
    p.set(Id::NominalIntervalMin, Ok(nominal_ms as f64 / 60_000.0));
    p.set(Id::CensoredLow, Ok(low as f64));
    p.set(Id::CensoredHigh, Ok(high as f64));
}

/// Readings over what the span or the reporting period could hold, in percent, at most 100.
fn active_pct(view: TraceView<'_>, span_ms: i64, options: &Options) -> f64 {
    let nominal = view.trace().nominal_ms() as f64;
    let (n, possible) = match options.reporting_period_ms {
        Some((from, to)) => {
            let before = |limit: i64| view.times_ms().partition_point(|&t| t < limit);
            // At least one: a period shorter than the nominal interval can hold a reading.
            let possible = ((to as f64 - from as f64) / nominal).round().max(1.0);
            (before(to) - before(from), possible)
        }
        None => (view.len(), (span_ms as f64 / nominal).round() + 1.0),
    };
    (100.0 * n as f64 / possible).min(100.0)
}

/// Readings at the sensor's lower and at its upper limit.
///
/// Building has counted those of the whole trace: where there is none, or all of the trace is
/// looked at, the readings aren't looked through again.
pub(super) fn censored(view: TraceView<'_>) -> (u64, u64) {
    let cleaning = view.trace().cleaning();
    let whole = view.len() == view.trace().len();
    let count = |kind: Censor, in_trace: usize| match in_trace {
        0 => 0,
        all if whole => all as u64,
        _ => view.censor().iter().filter(|&&c| c == kind).count() as u64,
    };
    (count(Censor::Low, cleaning.censored_low), count(Censor::High, cleaning.censored_high))
}

#[cfg(test)]
#[path = "compute_tests.rs"]
mod tests;
