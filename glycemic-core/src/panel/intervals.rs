//! Intervals for the panel: as this sensor reads, and in blood.
//!
//! # Method
//! Days vary and neighbouring readings don't add information, so the unit that is left out is
//! the local day: delete-one-day jackknife with Student's t on days - 1 degrees of freedom;
//! shares on the logit scale. A share of 0 or 100 % has no spread to learn from: its interval is
//! the exact binomial bound on the share of days that have any. *As this sensor reads*
//! holds day-to-day variation only. *In blood* subtracts the mean difference sensor - meter, and
//! adds its day-clustered variance and the meter's own bias, unknown to the user, as a normal
//! error with a standard deviation of 6 % of the level.
//!
//! # Source
//! Jackknife: Efron and Tibshirani, An Introduction to the Bootstrap (1993), chapter 11, from
//! memory. Meter bias: 43 meters lay between -14.1 % and +12.4 % (Freckmann et al., J Diabetes
//! Sci Technol 2012; 6:1060-1075); the expected range of 43 normal draws is 4.4 standard
//! deviations, hence 6 %.

use super::compute::{ea1c_pct, gmi_pct, order_free};
use super::local;
use super::registry::{Id, MEASURES};
use crate::estimate::{Estimate, Reason};
use crate::series::TraceView;
use crate::stats::distribution::t_two_sided;
use crate::stats::{moments, quantile};

/// Days under which no interval is given.
pub const MIN_DAYS: usize = 7;
/// Prior standard deviation of a meter's bias, in percent of the level.
pub const METER_BIAS_SD_PCT: f64 = 6.0;

/// What is known about the sensor against blood: the mean difference sensor - meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blood {
    /// Mean difference sensor - meter, mg/dL.
    pub bias_mg_dl: f64,
    /// Its standard error, mg/dL, pairs clustered by day.
    pub se_mg_dl: f64,
    /// Prior standard deviation of the meter's own bias, percent.
    pub meter_bias_sd_pct: f64,
}

struct Day {
    glucose: Vec<f64>,
    fasting: Option<f64>,
    night: Vec<f64>,
}

/// Intervals of every measure of the panel, as this sensor reads.
pub fn intervals(view: TraceView<'_>, meals_ms: &[i64], level: f64) -> Vec<(Id, Estimate)> {
    let whole = super::compute::panel(view, meals_ms);
    let days = match split(view, meals_ms) {
        Ok(days) => days,
        Err(reason) => {
            return MEASURES.iter().map(|m| (m.id, missing(level, 0, reason.clone()))).collect();
        }
    };
    let unit = view.trace().unit();
    let left_out: Vec<Vec<(Id, f64)>> =
        (0..days.len()).map(|i| measures_without(&days, Some(i), unit)).collect();
    let all = measures_without(&days, None, unit);
    MEASURES
        .iter()
        .map(|m| {
            let estimate = match whole.get(m.id) {
                None => missing(
                    level,
                    days.len(),
                    whole.reason(m.id).cloned().unwrap_or_else(|| {
                        Reason::plain("not_computed", "no readings to compute it from")
                    }),
                ),
                Some(value) => jackknife(m.id, value, &all, &left_out, level),
            };
            (m.id, estimate)
        })
        .collect()
}

fn missing(level: f64, n: usize, reason: Reason) -> Estimate {
    Estimate::missing(level, "by leaving out days", n, MIN_DAYS, reason)
}

fn split(view: TraceView<'_>, meals_ms: &[i64]) -> Result<Vec<Day>, Reason> {
    let clock = view.trace().clock().ok_or_else(|| {
        Reason::plain("no_zone", "needs local days, and no zone or local clock was given")
    })?;
    let fasting = local::fasting_by_day(view, meals_ms)?;
    let nights = local::nights(view)?;
    let numbers = local::days(view, clock);
    let mut glucose: Vec<Vec<f64>> = vec![Vec::new(); numbers.len()];
    for (t, g) in view.times_ms().iter().zip(view.glucose_mg_dl()) {
        if let Ok(i) = numbers.binary_search(&clock.day(*t)) {
            glucose[i].push(*g);
        }
    }
    let find = |day: i64| fasting.iter().find(|f| f.0 == day).map(|f| f.1);
    let night =
        |day: i64| nights.iter().find(|n| n.0 == day).map(|n| n.1.clone()).unwrap_or_default();
    Ok(numbers
        .iter()
        .zip(glucose)
        .map(|(&day, glucose)| Day { glucose, fasting: find(day), night: night(day) })
        .collect())
}

fn measures_without(days: &[Day], without: Option<usize>, unit: crate::Unit) -> Vec<(Id, f64)> {
    let kept = || days.iter().enumerate().filter(move |(i, _)| Some(*i) != without).map(|(_, d)| d);
    let glucose: Vec<f64> = kept().flat_map(|d| d.glucose.iter().copied()).collect();
    let night: Vec<f64> = kept().flat_map(|d| d.night.iter().copied()).collect();
    let fasting: Vec<f64> = kept().filter_map(|d| d.fasting).collect();
    let mut out = order_free(&glucose, unit);
    out.extend(moments::mean(&night).map(|v| (Id::OvernightMgDl, v)));
    out.extend(quantile::median(&fasting).map(|v| (Id::FastingMgDl, v)));
    out
}

fn jackknife(
    id: Id,
    value: f64,
    all: &[(Id, f64)],
    left_out: &[Vec<(Id, f64)>],
    level: f64,
) -> Estimate {
    use Id::*;
    if matches!(
        id,
        MinMgDl | MaxMgDl | P05MgDl | P25MgDl | MedianMgDl | P75MgDl | P95MgDl | IqrMgDl
    ) {
        let reason = Reason::plain(
            "no_method",
            "leaving out days is not valid for percentiles; no interval method yet",
        );
        return Estimate { value: Some(value), ..missing(level, left_out.len(), reason) };
    }
    let find = |set: &[(Id, f64)]| set.iter().find(|m| m.0 == id).map(|m| m.1);
    let parts: Vec<f64> = left_out.iter().filter_map(|set| find(set)).collect();
    let with_reason =
        |reason| Estimate { value: Some(value), ..missing(level, left_out.len(), reason) };
    if find(all).is_none() {
        // Counts and coverage describe the data; they are not estimates.
        return with_reason(Reason::plain("a_count", "describes the data, not the person"));
    }
    if left_out.len() < MIN_DAYS {
        let what = "local days with readings";
        return with_reason(Reason::count("too_few_days", what, left_out.len(), MIN_DAYS));
    }
    if parts.len() < left_out.len() {
        return with_reason(Reason::plain(
            "single_day",
            "only one day has it, so days can't be compared",
        ));
    }
    let share = id.measure().name.ends_with("_pct") && !matches!(id, CvPct | GmiPct | Ea1cPct);
    if share {
        return share_interval(value, &parts, level);
    }
    let half = half_width(&parts, level);
    let method = "jackknife over local days, Student's t";
    Estimate::new(value, value - half, value + half, level, method, parts.len()).needing(MIN_DAYS)
}

/// A share in percent: the jackknife on the logit scale, or the bound where it is 0 or 100 %.
fn share_interval(value: f64, parts: &[f64], level: f64) -> Estimate {
    // Half a reading of one day in all days keeps the logit finite.
    let edge = 100.0 * 0.5 / 288.0 / parts.len() as f64;
    if value <= edge || value >= 100.0 - edge {
        return boundary(value, parts.len(), level);
    }
    let logit = |pct: f64| {
        let p = pct.clamp(edge, 100.0 - edge) / 100.0;
        libm::log(p / (1.0 - p))
    };
    let back = |x: f64| 100.0 / (1.0 + libm::exp(-x));
    let logits: Vec<f64> = parts.iter().map(|&p| logit(p)).collect();
    let half = half_width(&logits, level);
    let (low, high) = (back(logit(value) - half), back(logit(value) + half));
    let method = "jackknife over local days on the logit scale, Student's t";
    Estimate::new(value, low, high, level, method, parts.len()).needing(MIN_DAYS)
}

/// No day, or every day, had any: the share of such days is at most 1 - ((1 - level) / 2)^(1/days)
/// (exact binomial), and the share of time is no larger.
fn boundary(value: f64, days: usize, level: f64) -> Estimate {
    let bound = 100.0 * (1.0 - libm::pow((1.0 - level) / 2.0, 1.0 / days as f64));
    let (low, high) = if value < 50.0 { (0.0, bound) } else { (100.0 - bound, 100.0) };
    Estimate::new(
        value,
        low,
        high,
        level,
        "exact binomial bound over local days, conservative",
        days,
    )
    .needing(MIN_DAYS)
}

fn half_width(parts: &[f64], level: f64) -> f64 {
    let n = parts.len() as f64;
    let mean = moments::mean(parts).unwrap_or(0.0);
    let squares: f64 = parts.iter().map(|p| (p - mean) * (p - mean)).sum();
    t_two_sided(level, n - 1.0) * ((n - 1.0) / n * squares).sqrt()
}

/// Intervals in blood for the measures that are a level: mean, fasting, overnight and what
/// follows from the mean. The others need a model of the sensor's error and have a reason.
pub fn intervals_in_blood(
    view: TraceView<'_>,
    meals_ms: &[i64],
    blood: Blood,
    level: f64,
) -> Vec<(Id, Estimate)> {
    let as_read = intervals(view, meals_ms, level);
    let find = |id: Id| as_read.iter().find(|e| e.0 == id).map(|e| &e.1);
    let mut out = Vec::new();
    for id in [Id::MeanMgDl, Id::FastingMgDl, Id::OvernightMgDl] {
        out.extend(find(id).map(|e| (id, shifted(e, blood))));
    }
    if let Some(mean) = out.first().map(|e| e.1.clone()) {
        out.push((Id::GmiPct, mean.scaled(0.02392, gmi_pct(0.0))));
        out.push((Id::Ea1cPct, mean.scaled(1.0 / 28.7, ea1c_pct(0.0))));
    }
    out
}

fn shifted(e: &Estimate, blood: Blood) -> Estimate {
    let (Some(value), Some(low), Some(high)) = (e.value, e.low, e.high) else { return e.clone() };
    let z = crate::stats::distribution::normal_quantile(0.5 + e.level / 2.0);
    let centre = value - blood.bias_mg_dl;
    let meter = centre * blood.meter_bias_sd_pct / 100.0;
    let extra = blood.se_mg_dl * blood.se_mg_dl + meter * meter;
    let half = |arm: f64| (arm * arm + z * z * extra).sqrt();
    Estimate {
        value: Some(centre),
        low: Some(centre - half(value - low)),
        high: Some(centre + half(high - value)),
        method: format!(
            "{}; mean difference sensor - meter taken off, its variance and a meter bias of SD {} % added",
            e.method, blood.meter_bias_sd_pct
        ),
        ..e.clone()
    }
}
