//! Intervals in blood: what is not known of the sensor's and the meter's bias is added.
//!
//! # Method
//! Readings are moved by the mean difference sensor - meter (spread evenly over their step, since
//! the limits no longer lie between steps) and, where the sensor's noise is known, drawn in
//! towards their mean until their variance is less by that of the noise. Measures are taken of
//! these readings, their day-to-day variation as before. What is not known of the mean
//! difference (its standard error over days of pairs) and of the meter (a factor of all levels)
//! adds the squared half difference of the measure between readings moved up and down by one
//! standard deviation, on the measure's own scale.
//!
//! # Source
//! Meter bias: 43 meters lay between -14.1 % and +12.4 % (Freckmann et al., J Diabetes Sci
//! Technol 2012; 6:1060-1075); the expected range of 43 normal draws is 4.4 standard deviations,
//! hence 6 %.

use std::rc::Rc;

use super::quantiles::{self, Levels};
use super::readings::{Distinct, Rows};
use super::scale::Scale;
use super::told::{Shape, Told, enough, jackknifed};
use super::units::Units;
use super::{Found, MIN_DAYS, by_day, clock, half_step};
use crate::estimate::{Estimate, Reason};
use crate::panel::compute::panel;
use crate::panel::ordered::days;
use crate::panel::registry::{Id, MEASURES, Needs};
use crate::series::TraceView;
use crate::stats::moments;

/// Prior standard deviation of a meter's bias, in percent of the level.
pub const METER_BIAS_SD_PCT: f64 = 6.0;

/// What is known about the sensor against blood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blood {
    /// Mean difference sensor - meter, mg/dL.
    pub bias_mg_dl: f64,
    /// Its standard error, mg/dL, pairs clustered by day.
    pub se_mg_dl: f64,
    /// Prior standard deviation of the meter's own bias, percent.
    pub meter_bias_sd_pct: f64,
    /// Standard deviation of the sensor's noise, mg/dL, if it is known.
    pub noise_sd_mg_dl: Option<f64>,
}

impl Default for Blood {
    /// No difference, known exactly, to a meter of unknown bias; noise not known.
    fn default() -> Blood {
        let meter_bias_sd_pct = METER_BIAS_SD_PCT;
        Blood { bias_mg_dl: 0.0, se_mg_dl: 0.0, meter_bias_sd_pct, noise_sd_mg_dl: None }
    }
}

/// Intervals in blood of every measure of the panel, or why there is none.
///
/// Carried over are levels near the middle (mean and what follows from it, quartiles, fasting,
/// overnight); with `noise_sd_mg_dl` also the SD and what counts high levels. The others have a
/// reason. What a sensor's gain does to levels far from those of the pairs is not allowed for.
///
/// # Example
/// ```
/// use glycemic_core::{clock::LocalClock, panel::{self, Blood, Id}, series::Builder, Unit};
/// let times: Vec<i64> = (0..10 * 24).map(|h| 1_741_046_400_000 + h * 3_600_000).collect();
/// let glucose: Vec<f64> = (0..10 * 24).map(|h| 100.0 + (h / 24 % 2) as f64).collect();
/// let clock = Some(LocalClock::fixed(0));
/// let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose)?;
/// let blood = Blood { bias_mg_dl: 5.0, se_mg_dl: 1.0, ..Blood::default() };
/// let all = panel::intervals_in_blood(trace.view(), &[], blood, 0.95);
/// let (_, mean) = &all[Id::MeanMgDl as usize - 1];
/// assert_eq!(mean.value, Some(95.5));
/// // The meter's own bias, 6 % of 95.5, is most of what is not known.
/// assert!(mean.low < Some(95.5 - 1.9 * 5.73));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn intervals_in_blood(
    view: TraceView<'_>,
    meals_ms: &[i64],
    blood: Blood,
    level: f64,
) -> Vec<(Id, Estimate)> {
    let found = found(view, meals_ms, blood);
    let whole = panel(view, meals_ms);
    let days = clock(view).map_or(0, |clock| days::days(view, clock).len());
    let missing = |reason| Estimate::missing(level, "in blood", days, MIN_DAYS, reason);
    let estimate = |id: Id| {
        if let Some(reason) = super::by_design(id).or_else(|| not_carried(id, blood)) {
            return missing(reason);
        }
        let told = found.as_ref().map_err(Clone::clone);
        let none = || {
            let none = || Reason::plain("not_computed", "no readings to compute it from");
            whole.reason(id).cloned().unwrap_or_else(none)
        };
        match told
            .and_then(|f| f.iter().find(|f| f.0 == id).map_or_else(|| Err(none()), |f| f.1.clone()))
        {
            Ok(told) => told.estimate(level),
            Err(reason) => missing(reason),
        }
    };
    MEASURES.iter().map(|m| (m.id, estimate(m.id))).collect()
}

/// What follows from levels near those at which pairs were taken, whatever the noise.
fn a_level(id: Id) -> bool {
    use Id::*;
    matches!(
        id,
        MeanMgDl
            | MeanMmolL
            | GmiPct
            | GmiMmolMol
            | Ea1cPct
            | P25MgDl
            | MedianMgDl
            | P75MgDl
            | FastingMgDl
            | OvernightMgDl
    )
}

/// What noise makes larger, and can be freed of it.
fn needs_noise(id: Id) -> bool {
    use Id::*;
    matches!(
        id,
        SdMgDl
            | JIndex
            | P95MgDl
            | TightRangePct
            | HighPct
            | VeryHighPct
            | Above180Pct
            | GriHyperComponent
            | GradeHyperPct
            | HyperIndex
            | Hbgi
    )
}

fn not_carried(id: Id, blood: Blood) -> Option<Reason> {
    if a_level(id) {
        return None;
    }
    let (code, text) = if needs_noise(id) {
        if blood.noise_sd_mg_dl.is_some() {
            return None;
        }
        ("no_noise", "the sensor's noise makes it larger, and the size of the noise was not given")
    } else if id.measure().needs != Needs::Histogram {
        (
            "not_carried_over",
            "depends on the order of readings, where the sensor's lag and noise act in ways that \
             meter pairs don't show",
        )
    } else {
        (
            "not_carried_over",
            "depends on low levels or on ratios of spread, where a mean difference to a meter \
             says too little: its intervals did not hold the truth in simulated wears",
        )
    };
    Some(Reason::plain(code, text))
}

/// From readings to blood: times a factor, plus a shift.
#[derive(Clone, Copy)]
struct Map {
    factor: f64,
    shift: f64,
}

impl Map {
    /// Bias taken off, and readings drawn in about their mean until the noise is gone.
    fn of(glucose: &[f64], blood: Blood) -> Result<Map, Reason> {
        let (mean, sd) = (moments::mean(glucose), moments::sd(glucose));
        let (Some(mean), Some(sd)) = (mean, sd) else {
            return Err(Reason::count("too_few_readings", "readings", glucose.len(), 2));
        };
        let noise = blood.noise_sd_mg_dl.unwrap_or(0.0);
        let left = sd * sd - noise * noise;
        if left <= 0.0 && noise > 0.0 {
            let text = "the sensor's noise is said to be as large as all variation of the readings";
            return Err(Reason::plain("noise_too_large", text));
        }
        let factor = if sd > 0.0 { left.sqrt() / sd } else { 1.0 };
        Ok(Map { factor, shift: mean - blood.bias_mg_dl - mean * factor })
    }

    fn of_levels(self, levels: &[f64]) -> Vec<f64> {
        levels.iter().map(|v| v * self.factor + self.shift).collect()
    }

    fn then(self, factor: f64, shift: f64) -> Map {
        Map { factor: self.factor * factor, shift: self.shift * factor + shift }
    }
}

fn found(view: TraceView<'_>, meals_ms: &[i64], blood: Blood) -> Result<Found, Reason> {
    let days = days::days(view, clock(view)?);
    let units = Units::of_days(&days, view.trace().nominal_ms());
    enough(units.count)?;
    let glucose = view.glucose_mg_dl();
    let (unit, half) = (view.trace().unit(), half_step(view));
    let map = Map::of(glucose, blood)?;
    let distinct = Distinct::of(glucose);
    let counts = distinct.counts();
    let rows = |map: Map| Rows::new(&map.of_levels(&distinct.values), half * map.factor, unit);

    let meter = blood.meter_bias_sd_pct / 100.0;
    let whole = |map: Map| {
        let rows = rows(map);
        rows.measures(&rows.weighed(&counts))
    };
    let moved = [
        (whole(map.then(1.0, -blood.se_mg_dl)), whole(map.then(1.0, blood.se_mg_dl))),
        (whole(map.then(1.0 - meter, 0.0)), whole(map.then(1.0 + meter, 0.0))),
    ];
    let mut out = Vec::new();
    for row in by_day(&rows(map), &distinct, &days, units) {
        let Some(value) = row.whole else { continue };
        out.push((row.id, jackknifed(&row, value).map(|told| widened(told, row.id, &moved))));
    }

    let levels = Rc::new(Levels::new(&map.of_levels(&distinct.values), &counts, half * map.factor));
    let ranges = units.of(&days, |d| vec![d.range.clone()]);
    let value = |id| quantiles::value(&levels, id);
    let of_level = |level: f64| {
        let meter = meter * level;
        blood.se_mg_dl * blood.se_mg_dl + meter * meter
    };
    for (id, told) in quantiles::percentiles(&levels, &distinct, &ranges, value) {
        let told = told.map(|t| {
            if id == Id::IqrMgDl {
                Told { extra: meter * meter, ..t }
            } else {
                Told { extra: of_level(t.value), ..t }
            }
        });
        out.push((id, told));
    }
    out.extend(levels_of_day(view, meals_ms, blood, of_level)?);
    Ok(out)
}

/// Fasting and overnight: shifted.
fn levels_of_day(
    view: TraceView<'_>,
    meals_ms: &[i64],
    blood: Blood,
    of_level: impl Fn(f64) -> f64,
) -> Result<Found, Reason> {
    let mut out = Vec::new();
    for answer in super::told(view, meals_ms) {
        if !matches!(answer.id, Id::FastingMgDl | Id::OvernightMgDl) {
            continue;
        }
        let told = answer.told.map(|told| {
            let moved = told.moved(-blood.bias_mg_dl);
            Told { extra: of_level(moved.value), ..moved }
        });
        out.push((answer.id, told));
    }
    Ok(out)
}

type Values = Vec<(Id, Option<f64>)>;

/// The same with the spread that readings moved down and up show.
fn widened(told: Told, id: Id, moved: &[(Values, Values)]) -> Told {
    let scale = Scale::of(id);
    let edge = told.edge();
    let find = |values: &Values| values.iter().find(|v| v.0 == id).and_then(|v| v.1);
    let half = |(down, up): &(Values, Values)| {
        let (down, up) = (find(down)?, find(up)?);
        Some((scale.forward(up, edge) - scale.forward(down, edge)) / 2.0)
    };
    let extra = moved.iter().filter_map(half).map(|h| h * h).sum();
    let Shape::Boundary = told.shape else { return Told { extra, ..told } };
    told
}
