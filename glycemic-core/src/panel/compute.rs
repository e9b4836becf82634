//! The panel of one trace.
//!
//! # Method
//! Order-free measures follow from the readings in any order. Shares are by reading, each
//! classified in the unit it was measured in. Sources stand in the registry.

use super::local;
use super::registry::{Id, MEASURES};
use crate::estimate::Reason;
use crate::series::TraceView;
use crate::stats::{moments, quantile};
use crate::units::{self, Unit};

/// Values of all measures of one trace; a missing one has a reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    values: Vec<Option<f64>>,
    reasons: Vec<(Id, Reason)>,
}

impl Panel {
    /// The value of a measure, or `None` with a reason in [`reason`](Panel::reason).
    pub fn get(&self, id: Id) -> Option<f64> {
        self.values[id as usize - 1]
    }

    /// Why a measure is missing.
    pub fn reason(&self, id: Id) -> Option<&Reason> {
        self.reasons.iter().find(|r| r.0 == id).map(|r| &r.1)
    }

    fn set(&mut self, id: Id, value: f64) {
        self.values[id as usize - 1] = Some(value);
    }

    fn set_or(&mut self, id: Id, value: Result<f64, Reason>) {
        match value {
            Ok(v) => self.set(id, v),
            Err(reason) => self.reasons.push((id, reason)),
        }
    }
}

/// Computes the panel of a stretch of a trace.
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
    let mut p = Panel { values: vec![None; MEASURES.len()], reasons: Vec::new() };
    let coverage = view.coverage();
    p.set(Id::N, coverage.n as f64);
    p.set(Id::Days, coverage.days);
    p.set(Id::ActivePct, coverage.active_pct);
    p.set(Id::NominalIntervalMin, coverage.nominal_interval_min);
    let censored = |kind| view.censor().iter().filter(|&&c| c == kind).count() as f64;
    p.set(Id::CensoredLow, censored(crate::series::Censor::Low));
    p.set(Id::CensoredHigh, censored(crate::series::Censor::High));
    for (id, value) in order_free(view.glucose_mg_dl(), view.trace().unit()) {
        p.set(id, value);
    }
    if view.len() < 2 {
        let reason = Reason::count("too_few_readings", "readings", view.len(), 2);
        p.reasons.push((Id::SdMgDl, reason.clone()));
        p.reasons.push((Id::CvPct, reason));
    }
    p.set_or(Id::FastingMgDl, local::fasting(view, meals_ms));
    p.set_or(Id::OvernightMgDl, local::overnight(view));
    p
}

/// The measures that don't depend on order, of glucose in mg/dL measured in `unit`.
///
/// Empty for no readings; without SD and CV for one.
pub fn order_free(glucose_mg_dl: &[f64], unit: Unit) -> Vec<(Id, f64)> {
    let Some(mean) = moments::mean(glucose_mg_dl) else { return Vec::new() };
    let mut out = vec![
        (Id::MeanMgDl, mean),
        (Id::MeanMmolL, Unit::MmolL.from_mg_dl(mean)),
        (Id::GmiPct, gmi_pct(mean)),
        (Id::GmiMmolMol, 12.71 + 4.70587 * Unit::MmolL.from_mg_dl(mean)),
        (Id::Ea1cPct, ea1c_pct(mean)),
    ];
    if let Some(sd) = moments::sd(glucose_mg_dl) {
        out.push((Id::SdMgDl, sd));
        out.push((Id::CvPct, 100.0 * sd / mean));
    }
    out.extend(percentiles(glucose_mg_dl));
    out.extend(shares(glucose_mg_dl, unit));
    out
}

/// Glucose management indicator in percent from a mean in mg/dL (Bergenstal 2018).
pub fn gmi_pct(mean_mg_dl: f64) -> f64 {
    3.31 + 0.02392 * mean_mg_dl
}

/// Estimated A1c in percent from a mean in mg/dL (Nathan 2008, inverted).
pub fn ea1c_pct(mean_mg_dl: f64) -> f64 {
    (mean_mg_dl + 46.7) / 28.7
}

fn percentiles(glucose: &[f64]) -> Vec<(Id, f64)> {
    let sorted = quantile::sorted(glucose);
    let at = |p| quantile::type7(&sorted, p).unwrap_or(f64::NAN);
    vec![
        (Id::MinMgDl, at(0.0)),
        (Id::P05MgDl, at(0.05)),
        (Id::P25MgDl, at(0.25)),
        (Id::MedianMgDl, at(0.5)),
        (Id::P75MgDl, at(0.75)),
        (Id::P95MgDl, at(0.95)),
        (Id::MaxMgDl, at(1.0)),
        (Id::IqrMgDl, at(0.75) - at(0.25)),
    ]
}

/// Shares of readings in the consensus ranges and the tight range, in percent.
fn shares(glucose: &[f64], unit: Unit) -> Vec<(Id, f64)> {
    let [very_low, low, tight, high, very_high] =
        [units::VERY_LOW, units::LOW, units::TIGHT, units::HIGH, units::VERY_HIGH]
            .map(|l| l.in_source(unit));
    let share = |inside: &dyn Fn(f64) -> bool| {
        100.0 * glucose.iter().filter(|&&g| inside(g)).count() as f64 / glucose.len() as f64
    };
    vec![
        (Id::VeryLowPct, share(&|g| g < very_low)),
        (Id::LowPct, share(&|g| very_low <= g && g < low)),
        (Id::InRangePct, share(&|g| low <= g && g <= high)),
        (Id::HighPct, share(&|g| high < g && g <= very_high)),
        (Id::VeryHighPct, share(&|g| very_high < g)),
        (Id::Below70Pct, share(&|g| g < low)),
        (Id::Above180Pct, share(&|g| high < g)),
        (Id::TightRangePct, share(&|g| low <= g && g <= tight)),
    ]
}
