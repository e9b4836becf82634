//! Intervals for the panel: as this sensor reads, and in blood.
//!
//! # Method
//! Days vary and neighbouring readings don't add information, so the unit is the local day, and
//! a day's weight is what it holds (readings, steps, pairs). Each measure is put together from
//! per-day sums with each day left out in turn (`jackknife`, `readings`, `ordered`, `slots`), or, for a
//! percentile, carried back from the share of readings below it (`quantiles`). *As this sensor reads*
//! holds day-to-day variation only; *in blood* also what is not known of the sensor's and the
//! meter's bias (`blood`). A share of 0 or 100 % has no spread to learn from: its interval is
//! the exact binomial bound on the share of days that have any.
//!
//! # Source
//! In each file.

mod blood;
mod jackknife;
mod ordered;
mod quantiles;
mod readings;
mod scale;
mod slots;
mod told;
mod units;

use std::rc::Rc;

pub use self::blood::{Blood, METER_BIAS_SD_PCT, intervals_in_blood};
use self::jackknife::{LeftOut, leave_out};
use self::ordered::Days;
use self::quantiles::Levels;
use self::readings::{Distinct, Rows};
pub(super) use self::told::Told;
use self::told::{enough, jackknifed};
use self::units::Units;
use super::compute::{Panel, panel};
use super::ordered::daily::Daily;
use super::ordered::days::{self, Day};
use super::ordered::number::{FINE_STEP_MG_DL, Number, fine_codes, step_mg_dl};
use super::ordered::segments::Stretches;
use super::registry::{Id, MEASURES};
use super::{episodes, grid, local};
use crate::clock::LocalClock;
use crate::estimate::{Estimate, Reason};
use crate::series::TraceView;

/// Days under which no interval is given.
pub const MIN_DAYS: usize = 7;

/// A measure with its value and its spread, or why it has none.
pub(super) struct Answer {
    pub(super) id: Id,
    pub(super) value: Option<f64>,
    pub(super) told: Result<Told, Reason>,
}

/// Intervals of every measure of the panel, as this sensor reads.
///
/// `level`: confidence, from 0.5 to 0.999. A measure without an interval says why in its reason.
/// The ends hold what a long wear of the same days would show; they may lie far to one side of
/// the value where few days bias it (an SD between days of one week).
///
/// # Example
/// ```
/// use glycemic_core::{clock::LocalClock, panel::{self, Id}, series::Builder, Unit};
/// // Ten days of 100 and 110 mg/dL in turn: daily means with an SD of 5.27.
/// let times: Vec<i64> = (0..10 * 24).map(|h| 1_741_046_400_000 + h * 3_600_000).collect();
/// let glucose: Vec<f64> = (0..10 * 24).map(|h| 100.0 + 10.0 * (h / 24 % 2) as f64).collect();
/// let clock = Some(LocalClock::fixed(0));
/// let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose)?;
/// let (_, mean) = &panel::intervals(trace.view(), &[], 0.95)[Id::MeanMgDl as usize - 1];
/// // 105 +- 2.262 x 5.27 / sqrt 10
/// assert!((mean.high.unwrap() - 108.77).abs() < 0.005);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn intervals(view: TraceView<'_>, meals_ms: &[i64], level: f64) -> Vec<(Id, Estimate)> {
    let days = clock(view).map_or(0, |clock| days::days(view, clock).len());
    let as_estimate = |answer: Answer| {
        let estimate = match answer.told {
            Ok(told) => told.estimate(level),
            Err(reason) => Estimate {
                value: answer.value,
                ..Estimate::missing(level, "by leaving out days", days, MIN_DAYS, reason)
            },
        };
        (answer.id, estimate)
    };
    told(view, meals_ms).into_iter().map(as_estimate).collect()
}

fn clock(view: TraceView<'_>) -> Result<&LocalClock, Reason> {
    view.trace().clock().ok_or_else(|| {
        Reason::plain("no_zone", "needs local days, and no zone or local clock was given")
    })
}

/// Every measure with its spread as this sensor reads.
pub(super) fn told(view: TraceView<'_>, meals_ms: &[i64]) -> Vec<Answer> {
    let whole = panel(view, meals_ms);
    let found = clock(view).and_then(|clock| {
        let days = days::days(view, clock);
        let units = Units::of_days(&days, view.trace().nominal_ms());
        enough(units.count)?;
        spreads(view, meals_ms, clock, (&days, units), &whole)
    });
    let answer = |id: Id| Answer { id, value: whole.get(id), told: one(id, &whole, &found) };
    MEASURES.iter().map(|m| answer(m.id)).collect()
}

type Found = Vec<(Id, Result<Told, Reason>)>;

fn one(id: Id, whole: &Panel, found: &Result<Found, Reason>) -> Result<Told, Reason> {
    if whole.get(id).is_none() {
        let none = || Reason::plain("not_computed", "no readings to compute it from");
        return Err(whole.reason(id).cloned().unwrap_or_else(none));
    }
    if let Some(reason) = by_design(id) {
        return Err(reason);
    }
    let found = found.as_ref().map_err(Clone::clone)?;
    let none = || Reason::plain("no_method", "there is no interval for this measure");
    found.iter().find(|f| f.0 == id).map_or_else(|| Err(none()), |f| f.1.clone())
}

/// Why some measures have no interval at all.
fn by_design(id: Id) -> Option<Reason> {
    use Id::*;
    let count = "describes the data, not the person";
    let count_of_episodes = "a count in this wear; a rate per week would be an estimate";
    let extreme = "an extreme grows with the length of the wear: no interval is valid";
    let whole =
        "made of one long stretch of readings, not of days: no interval is known to be valid";
    Some(match id {
        N | Days | ActivePct | NominalIntervalMin | CensoredLow | CensoredHigh => {
            Reason::plain("a_count", count)
        }
        _ if episodes::COUNTED.contains(&id) => Reason::plain("a_count", count_of_episodes),
        MinMgDl | MaxMgDl => Reason::plain("no_method", extreme),
        DfaAlpha | SampleEntropy => Reason::plain("no_method", whole),
        _ => return None,
    })
}

fn spreads(
    view: TraceView<'_>,
    meals_ms: &[i64],
    clock: &LocalClock,
    (days, units): (&[Day], Units),
    whole: &Panel,
) -> Result<Found, Reason> {
    let glucose = view.glucose_mg_dl();
    let unit = view.trace().unit();
    let distinct = Distinct::of(glucose);
    let rows = Rows::new(&distinct.values, 0.0, unit);
    let mut left = by_day(&rows, &distinct, days, units);
    let nights = local::nights(view)?;
    let (more, dawn) = match grid::codes(glucose, unit) {
        Some(grid) => {
            let codes: Vec<i32> = grid.codes.into_iter().map(i32::from).collect();
            in_order(view, clock, (days, units), &codes, step_mg_dl(unit), meals_ms, &nights)
        }
        None => {
            let codes = fine_codes(glucose);
            in_order(view, clock, (days, units), &codes, FINE_STEP_MG_DL, meals_ms, &nights)
        }
    };
    left.extend(more);
    let jackknifed = |row: &LeftOut| Some((row.id, jackknifed(row, whole.get(row.id)?)));
    let mut out: Found = left.iter().filter_map(jackknifed).collect();
    let levels = Rc::new(Levels::new(&distinct.values, &distinct.counts(), half_step(view)));
    let ranges = units.of(days, |d| vec![d.range.clone()]);
    out.extend(quantiles::percentiles(&levels, &distinct, &ranges, |id| whole.get(id)));
    let fasting: Vec<f64> = local::fasting_by_day(view, meals_ms)?.iter().map(|f| f.1).collect();
    for (id, values) in [(Id::FastingMgDl, fasting), (Id::DawnRiseMgDl, dawn)] {
        out.extend(whole.get(id).map(|median| (id, quantiles::day_median(&values, median))));
    }
    Ok(out)
}

/// Half the step that readings on the grid stand for; 0 off the grid.
fn half_step(view: TraceView<'_>) -> f64 {
    let unit = view.trace().unit();
    let on_grid = grid::codes(view.glucose_mg_dl(), unit).is_some();
    if on_grid { grid::step_mg_dl(unit) / 2.0 } else { 0.0 }
}

/// The order-free measures of all days and of all but each.
fn by_day(rows: &Rows, distinct: &Distinct, days: &[Day], units: Units) -> Vec<LeftOut> {
    let sums = |day: &Day| rows.sums(&distinct.places[day.range.clone()]);
    leave_out(&units.of(days, sums), |all| rows.measures(all))
}

/// The measures that depend on order, left out by day, and the dawn rise of each day.
fn in_order<N: Number>(
    view: TraceView<'_>,
    clock: &LocalClock,
    (days, units): (&[Day], Units),
    codes: &[N],
    step_mg_dl: f64,
    meals_ms: &[i64],
    nights: &[(i64, Vec<f64>)],
) -> (Vec<LeftOut>, Vec<f64>) {
    let nominal_ms = view.trace().nominal_ms();
    let daily = Daily { times: view.times_ms(), codes, days, clock, nominal_ms, step_mg_dl };
    let mut left = Days { daily, stretches: &Stretches::of(view), units }.left_out(nights);
    left.extend(slots::left_out(&daily));
    let dawn = daily.dawn_rises(meals_ms).into_iter().map(|rise| rise.1 * step_mg_dl).collect();
    (left, dawn)
}

#[cfg(test)]
mod tests;
