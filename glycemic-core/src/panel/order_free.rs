//! The measures that don't depend on the order of the readings.
//!
//! # Method
//! Readings are counted by level (see `count`) and every measure follows from the counts.
//! Shares are by reading, each classified in the unit it was measured in; so are the parts of
//! GRADE. Readings on the grid of their unit give the same bits in any order and as a
//! [`Histogram`](super::Histogram); others take an exact path that agrees to rounding.
//!
//! # Source
//! GMI: Bergenstal et al., Diabetes Care 2018; 41:2275-2280. Estimated A1c: Nathan et al., Diabetes
//! Care 2008; 31:1473-1478. Ranges: Battelino et al., Diabetes Care 2019; 42:1593-1603. J:
//! Wojcicki, Horm Metab Res 1995; 27:41-42. GRI: Klonoff et al., J Diabetes Sci Technol 2022, doi
//! 10.1177/19322968221085273 (weights from memory). COGI: Leelarathna et al., J Diabetes Sci
//! Technol 2020; 14:277-283 (end points from memory; they give the trade-offs it states). The
//! indices that weigh readings: see `risk`.

use super::count::{self, Counts, Summary};
use super::grid;
use super::options::{GradeRule, Options, RiskConstants};
use super::registry::{Id, MEASURES, Needs};
use super::risk::{self, Terms};
use crate::estimate::Reason;
use crate::units::Unit;

/// A measure with its value, or why it has none.
pub type Valued = (Id, Result<f64, Reason>);

/// The measures that don't depend on order, of glucose in mg/dL measured in `unit`, with the
/// default options; only those that have a value.
///
/// Empty for no readings; without SD and what uses it for one.
///
/// # Example
/// ```
/// use glycemic_core::{panel::{order_free, Id}, Unit};
/// let all = order_free(&[90.0, 110.0], Unit::MgDl);
/// assert!(all.contains(&(Id::MeanMgDl, 100.0)));
/// ```
pub fn order_free(glucose_mg_dl: &[f64], unit: Unit) -> Vec<(Id, f64)> {
    let all = order_free_with(glucose_mg_dl, unit, &Options::default());
    all.into_iter().filter_map(|(id, value)| Some((id, value.ok()?))).collect()
}

/// As [`order_free`], with the caller's options (trusted; see [`Options::check`]) and reasons.
pub(super) fn order_free_with(glucose_mg_dl: &[f64], unit: Unit, options: &Options) -> Vec<Valued> {
    measures(summary(glucose_mg_dl, unit, options).as_ref(), options)
}

fn summary(glucose_mg_dl: &[f64], unit: Unit, options: &Options) -> Option<Summary> {
    match grid::codes(glucose_mg_dl, unit) {
        Some(codes) => {
            let counts = count::count(&codes);
            let first = usize::from(codes.first);
            Counts { unit, first, counts: &counts }.summary(options)
        }
        None => count::off_grid(glucose_mg_dl, unit, options),
    }
}

/// Every order-free measure but the counts `n`, `censored_low` and `censored_high`.
pub(super) fn measures(summary: Option<&Summary>, options: &Options) -> Vec<Valued> {
    let Some(summary) = summary else { return no_readings() };
    let mut out = Vec::with_capacity(40);
    levels(summary, &mut out);
    spread(summary, &mut out);
    shares(summary, &mut out);
    weighed(summary, options, &mut out);
    out
}

fn no_readings() -> Vec<Valued> {
    let counts = [Id::N, Id::CensoredLow, Id::CensoredHigh];
    let rows = MEASURES.iter().filter(|m| m.needs == Needs::Histogram && !counts.contains(&m.id));
    rows.map(|m| (m.id, Err(Reason::count("too_few_readings", "readings", 0, 1)))).collect()
}

/// Glucose management indicator in percent from a mean in mg/dL (Bergenstal 2018).
pub fn gmi_pct(mean_mg_dl: f64) -> f64 {
    3.31 + 0.02392 * mean_mg_dl
}

/// Glucose management indicator in mmol/mol from a mean in mmol/L (Bergenstal 2018).
pub fn gmi_mmol_mol(mean_mmol_l: f64) -> f64 {
    12.71 + 4.70587 * mean_mmol_l
}

/// Estimated A1c in percent from a mean in mg/dL (Nathan 2008, inverted).
pub fn ea1c_pct(mean_mg_dl: f64) -> f64 {
    (mean_mg_dl + 46.7) / 28.7
}

fn levels(s: &Summary, out: &mut Vec<Valued>) {
    let mmol_l = Unit::MmolL.from_mg_dl(s.mean_mg_dl);
    let [min, p05, p25, median, p75, p95, max] = s.percentiles;
    out.extend([
        (Id::MeanMgDl, Ok(s.mean_mg_dl)),
        (Id::MeanMmolL, Ok(mmol_l)),
        (Id::GmiPct, Ok(gmi_pct(s.mean_mg_dl))),
        (Id::GmiMmolMol, Ok(gmi_mmol_mol(mmol_l))),
        (Id::Ea1cPct, Ok(ea1c_pct(s.mean_mg_dl))),
        (Id::MinMgDl, Ok(min)),
        (Id::P05MgDl, Ok(p05)),
        (Id::P25MgDl, Ok(p25)),
        (Id::MedianMgDl, Ok(median)),
        (Id::P75MgDl, Ok(p75)),
        (Id::P95MgDl, Ok(p95)),
        (Id::MaxMgDl, Ok(max)),
        (Id::IqrMgDl, Ok(p75 - p25)),
    ]);
}

/// What needs the SD, and so two readings.
fn spread(s: &Summary, out: &mut Vec<Valued>) {
    let sum = s.sd_mg_dl.map(|sd| s.mean_mg_dl + sd);
    for (id, value) in [
        (Id::SdMgDl, s.sd_mg_dl),
        (Id::CvPct, s.sd_mg_dl.map(|sd| 100.0 * sd / s.mean_mg_dl)),
        (Id::JIndex, sum.map(|sum| 0.001 * sum * sum)),
        (Id::Cogi, s.sd_mg_dl.map(|sd| cogi(s, sd))),
    ] {
        let too_few = || Reason::count("too_few_readings", "readings", s.n as usize, 2);
        out.push((id, value.ok_or_else(too_few)));
    }
}

fn percent(s: &Summary, count: u64) -> f64 {
    100.0 * count as f64 / s.n as f64
}

/// Shares of readings in the consensus ranges and the tight range, and the index made of them.
fn shares(s: &Summary, out: &mut Vec<Valued>) {
    let [very_low, low, tight, upper, high, very_high] = s.bands;
    let share = |count| percent(s, count);
    let hypo = share(very_low) + 0.8 * share(low);
    let hyper = share(very_high) + 0.5 * share(high);
    out.extend([
        (Id::VeryLowPct, Ok(share(very_low))),
        (Id::LowPct, Ok(share(low))),
        (Id::InRangePct, Ok(share(tight + upper))),
        (Id::HighPct, Ok(share(high))),
        (Id::VeryHighPct, Ok(share(very_high))),
        (Id::Below70Pct, Ok(share(very_low + low))),
        (Id::Above180Pct, Ok(share(high + very_high))),
        (Id::TightRangePct, Ok(share(tight))),
        (Id::Gri, Ok((3.0 * hypo + 1.6 * hyper).min(100.0))),
        (Id::GriHypoComponent, Ok(hypo)),
        (Id::GriHyperComponent, Ok(hyper)),
    ]);
}

/// Half the share in range; 35 points without lows, none from 15 % on; 15 points for an SD up to
/// 1 mmol/L, none from 6 mmol/L on; straight lines between.
fn cogi(s: &Summary, sd_mg_dl: f64) -> f64 {
    let [very_low, low, tight, upper, ..] = s.bands;
    let falling = |x: f64, full: f64, none: f64| ((none - x) / (none - full)).clamp(0.0, 1.0);
    let sd_mmol_l = Unit::MmolL.from_mg_dl(sd_mg_dl);
    0.5 * percent(s, tight + upper)
        + 35.0 * falling(percent(s, very_low + low), 0.0, 15.0)
        + 15.0 * falling(sd_mmol_l, 1.0, 6.0)
}

/// The indices that weigh readings.
fn weighed(s: &Summary, options: &Options, out: &mut Vec<Valued>) {
    let n = s.n as f64;
    let [low, tight, high] = &s.sums;
    let mean = |of: usize| (low[of] + tight[of] + high[of]) / n;
    let (lbgi, hbgi) = match options.risk_constants {
        RiskConstants::MgDl => (mean(risk::LOW), mean(risk::HIGH)),
        RiskConstants::MmolL => (mean(risk::LOW_MMOL), mean(risk::HIGH_MMOL)),
    };
    let (hyper, hypo) = (mean(risk::HYPER), mean(risk::HYPO));
    let grade = match options.grade {
        GradeRule::Mean => mean(risk::GRADE),
        GradeRule::Median => s.grade_median.unwrap_or_else(|| mean(risk::GRADE)),
    };
    out.extend([
        (Id::MValue, Ok(s.m_sum.map_or_else(|| mean(risk::M), |sum| sum / n))),
        (Id::Igc, Ok(hyper + hypo)),
        (Id::HyperIndex, Ok(hyper)),
        (Id::HypoIndex, Ok(hypo)),
        (Id::Lbgi, Ok(lbgi)),
        (Id::Hbgi, Ok(hbgi)),
        (Id::Bgri, Ok(lbgi + hbgi)),
        (Id::Grade, Ok(grade)),
    ]);
    grade_parts([low, tight, high], out);
}

/// Parts of the sum of GRADE over low, middle and high readings, in percent.
fn grade_parts(sums: [&Terms; 3], out: &mut Vec<Valued>) {
    let [hypo, eu, hyper] = sums.map(|s| s[risk::GRADE]);
    let all = hypo + eu + hyper;
    let parts = [(Id::GradeHypoPct, hypo), (Id::GradeEuPct, eu), (Id::GradeHyperPct, hyper)];
    out.extend(parts.map(|(id, part)| {
        let none = || Reason::plain("no_risk", "GRADE is 0 for every reading: there are no parts");
        (id, if all > 0.0 { Ok(100.0 * part / all) } else { Err(none()) })
    }));
}

#[cfg(test)]
#[path = "order_free_tests.rs"]
mod tests;
