//! Is there enough data, by the consensus rules, and how much more would it take?
//!
//! # Method
//! Active time is the readings over what the stretch could hold at the nominal interval. The
//! stretch is from first to last reading, each standing for one interval, or a stated reporting
//! period. A local day is *full* with 70 % of what its 23, 24 or 25 hours could hold. A clock
//! hour is *thin* with fewer than a third of the mean hour's readings.
//!
//! Days needed: the fewest days n at which Student's interval of a mean of n day values,
//! t(n - 1) SD / √n either way, is no wider than wanted, with the SD between the full days seen.
//! Days are taken as independent; days that go together need more.
//!
//! # Source
//! 14 days and 70 %: Battelino et al., Diabetes Care 2019; 42:1593-1603; Danne et al., Diabetes
//! Care 2017; 40:1631-1640. The full day, the thin hour: conventions of this library. Sample
//! size for the interval of a mean: any textbook, such as Snedecor and Cochran, Statistical
//! Methods (1989), from memory.

use super::blocks::by_day;
use super::compute::order_free;
use super::intervals::MIN_DAYS;
use super::local;
use super::registry::Id;
use crate::clock::LocalClock;
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::TraceView;
use crate::stats::distribution::{normal_quantile, t_two_sided};
use crate::stats::moments;

const DAY_MS: f64 = 86_400_000.0;
/// Days that the consensus asks for.
pub const CONSENSUS_DAYS: f64 = 14.0;
/// Active time in percent that the consensus asks for.
pub const CONSENSUS_ACTIVE_PCT: f64 = 70.0;
/// A hundred years: more days than this are no answer.
const MOST_DAYS: usize = 36_525;

/// How much data there is.
#[derive(Clone, Debug, PartialEq)]
pub struct Sufficiency {
    /// Readings, inside the reporting period if there is one.
    pub n: usize,
    /// Days of 24 h: the reporting period, or from first to last reading and one interval.
    pub days: f64,
    /// Readings over what these days could hold, in percent, at most 100.
    pub active_pct: f64,
    /// Whether there are 14 days.
    pub enough_days: bool,
    /// Whether 70 % are active.
    pub enough_active: bool,
    /// The longest stretch without readings in minutes, the ends of a reporting period included;
    /// 0 without a gap.
    pub longest_gap_min: f64,
    /// When it begins, UTC milliseconds.
    pub longest_gap_from_ms: Option<i64>,
    /// What needs local time, or why there is none.
    pub local: Result<Local, Reason>,
}

/// The part of [`Sufficiency`] that needs local time.
#[derive(Clone, Debug, PartialEq)]
pub struct Local {
    /// Local days with a reading.
    pub days_touched: usize,
    /// Local days with 70 % of what they could hold.
    pub full_days: usize,
    /// Readings by hour of the local day.
    pub readings_by_hour: [usize; 24],
    /// Hours without a reading.
    pub hours_unseen: Vec<usize>,
    /// Hours with some, but fewer than a third of the mean hour.
    pub hours_thin: Vec<usize>,
}

/// How much data a stretch of a trace holds.
///
/// `reporting_period`: from (included) and to (excluded), UTC milliseconds.
///
/// # Errors
/// A reporting period that does not end after it begins, or lies outside 1970 to 2100.
///
/// # Example
/// ```
/// use glycemic_core::{panel::sufficiency::sufficiency, series::Builder, Unit};
/// let times: Vec<i64> = (0..14 * 288).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &vec![100.0; times.len()])?;
/// let s = sufficiency(trace.view(), None)?;
/// assert_eq!((s.days, s.enough_days, s.enough_active), (14.0, true, true));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn sufficiency(
    view: TraceView<'_>,
    reporting_period: Option<(i64, i64)>,
) -> Result<Sufficiency, Error> {
    let view = match reporting_period {
        Some(period) => inside(view, period)?,
        None => view,
    };
    let nominal = view.trace().nominal_ms();
    let times = view.times_ms();
    let (from, to) = match (reporting_period, times.first(), times.last()) {
        (Some(period), _, _) => period,
        (None, Some(&first), Some(&last)) => (first, last + nominal),
        _ => (0, 0),
    };
    let span = to.saturating_sub(from) as f64;
    let days = span / DAY_MS;
    let possible = (span / nominal as f64).round();
    let active_pct =
        if possible > 0.0 { (100.0 * times.len() as f64 / possible).min(100.0) } else { 0.0 };
    let gap = longest_gap(view, reporting_period);
    Ok(Sufficiency {
        n: times.len(),
        days,
        active_pct,
        enough_days: days >= CONSENSUS_DAYS,
        enough_active: active_pct >= CONSENSUS_ACTIVE_PCT,
        longest_gap_min: gap.map_or(0.0, |g| (g.1 - g.0) as f64 / 60_000.0),
        longest_gap_from_ms: gap.map(|g| g.0),
        local: local(view),
    })
}

fn inside<'a>(view: TraceView<'a>, (from, to): (i64, i64)) -> Result<TraceView<'a>, Error> {
    // Instants from 1970 to 2100.
    const LATEST: f64 = 4_102_444_800_000.0;
    let require = |index: usize, value: i64, low: f64| {
        let (value, index, high) = (value as f64, Some(index), LATEST);
        let name = "reporting_period";
        if (low..=high).contains(&value) {
            return Ok(());
        }
        Err(Error::OutOfRange { name, index, value, low, high })
    };
    require(0, from, 0.0)?;
    require(1, to, from as f64 + 1.0)?;
    let times = view.times_ms();
    Ok(view.slice(times.partition_point(|&t| t < from), times.partition_point(|&t| t < to)))
}

/// The longest gap; the first of several.
fn longest_gap(view: TraceView<'_>, period: Option<(i64, i64)>) -> Option<(i64, i64)> {
    let mut gaps: Vec<(i64, i64)> = view.gaps().iter().map(|g| (g.from_ms, g.to_ms)).collect();
    if let Some((from, to)) = period {
        let (first, last) = match (view.times_ms().first(), view.times_ms().last()) {
            (Some(&first), Some(&last)) => (first, last),
            _ => (to, to),
        };
        let limit = 3 * view.trace().nominal_ms();
        gaps.extend([(from, first), (last, to)].into_iter().filter(|g| g.1 - g.0 > limit));
        gaps.sort_unstable();
    }
    gaps.into_iter().reduce(|a, b| if b.1 - b.0 > a.1 - a.0 { b } else { a })
}

fn local(view: TraceView<'_>) -> Result<Local, Reason> {
    let clock = local::clock(view)?;
    let mut readings_by_hour = [0_usize; 24];
    for &t in view.times_ms() {
        let hour = (clock.minute_of_day(t) / 60.0) as usize;
        if let Some(count) = readings_by_hour.get_mut(hour) {
            *count += 1;
        }
    }
    let days = full_days(view)?;
    let thin = |&hour: &usize| {
        let count = readings_by_hour[hour];
        count > 0 && 3 * 24 * count < view.len()
    };
    Ok(Local {
        days_touched: days.len(),
        full_days: days.iter().filter(|d| d.2).count(),
        hours_unseen: (0..24).filter(|&hour| readings_by_hour[hour] == 0).collect(),
        hours_thin: (0..24).filter(thin).collect(),
        readings_by_hour,
    })
}

/// The local days with their readings and whether they are full.
fn full_days(view: TraceView<'_>) -> Result<Vec<(i64, TraceView<'_>, bool)>, Reason> {
    let clock: &LocalClock = local::clock(view)?;
    let full = |day: i64, n: usize| {
        let length = clock.day_start(day + 1) - clock.day_start(day);
        let possible = length as f64 / view.trace().nominal_ms() as f64;
        100.0 * n as f64 >= CONSENSUS_ACTIVE_PCT * possible
    };
    Ok(by_day(view)?.into_iter().map(|(day, part)| (day, part, full(day, part.len()))).collect())
}

/// The fewest days at which the mean of independent day values with this SD is known to
/// `half_width` either way at `level`; at least 2. `None` when a hundred years are too few.
///
/// # Errors
/// An SD that is negative, a half width that is not positive, or a level outside 0.5 to 0.9999;
/// anything not finite.
///
/// # Example
/// ```
/// # use glycemic_core::panel::sufficiency::days_needed;
/// // 18 days: t(17) = 2.110, and 2.110 × 10 / √18 = 4.97; with 17 it is 5.14.
/// assert_eq!(days_needed(10.0, 5.0, 0.95)?, Some(18));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn days_needed(sd: f64, half_width: f64, level: f64) -> Result<Option<usize>, Error> {
    require_within("sd", sd, 0.0, 1e6)?;
    require_within("half_width", half_width, 1e-6, 1e6)?;
    require_within("level", level, 0.5, 0.9999)?;
    // Student's t is wider than the normal, so the normal's answer is where to start.
    let z = normal_quantile(0.5 + level / 2.0);
    let rough = z * sd / half_width;
    let start = (rough * rough).ceil().clamp(2.0, MOST_DAYS as f64 + 1.0) as usize;
    let narrow =
        |n: usize| t_two_sided(level, n as f64 - 1.0) * sd / (n as f64).sqrt() <= half_width;
    Ok((start..=MOST_DAYS).find(|&n| narrow(n)))
}

/// Days needed to know a measure to `half_width` (in its unit) either way at `level`, from how
/// much the full local days of this stretch differ.
///
/// Only for measures whose day values average to the whole: means, shares, mean risks. Others
/// have a reason, as have fewer than seven full days, and days that don't differ at all.
///
/// # Errors
/// As [`days_needed`].
pub fn days_needed_for(
    view: TraceView<'_>,
    id: Id,
    half_width: f64,
    level: f64,
) -> Result<Result<usize, Reason>, Error> {
    days_needed(0.0, half_width, level)?;
    let sd = match sd_between_days(view, id) {
        Ok(sd) => sd,
        Err(reason) => return Ok(Err(reason)),
    };
    Ok(days_needed(sd, half_width, level)?.ok_or_else(|| {
        Reason::plain("out_of_reach", "a hundred years of such days would not be enough")
    }))
}

/// SD between the full local days of a measure whose day values average to the whole.
fn sd_between_days(view: TraceView<'_>, id: Id) -> Result<f64, Reason> {
    if !averages_over_days(id) {
        return Err(Reason::plain("not_a_mean", "its day values don't average to the whole"));
    }
    let unit = view.trace().unit();
    let full = full_days(view)?.into_iter().filter(|d| d.2);
    let values: Vec<f64> = full
        .filter_map(|(_, day, _)| {
            order_free(day.glucose_mg_dl(), unit).into_iter().find(|m| m.0 == id).map(|m| m.1)
        })
        .collect();
    if values.len() < MIN_DAYS {
        return Err(Reason::count("too_few_days", "full local days", values.len(), MIN_DAYS));
    }
    match moments::sd(&values) {
        Some(sd) if sd > 0.0 => Ok(sd),
        _ => Err(Reason::plain("no_spread", "all days have the same value, so they can't tell")),
    }
}

/// Whether the measure is a mean over readings of something, or a straight line of one.
fn averages_over_days(id: Id) -> bool {
    use Id::*;
    matches!(
        id,
        MeanMgDl
            | MeanMmolL
            | GmiPct
            | GmiMmolMol
            | Ea1cPct
            | VeryLowPct
            | LowPct
            | InRangePct
            | HighPct
            | VeryHighPct
            | Below70Pct
            | Above180Pct
            | TightRangePct
            | MValue
            | Igc
            | HyperIndex
            | HypoIndex
            | Lbgi
            | Hbgi
            | Bgri
            | Grade
            | GriHypoComponent
            | GriHyperComponent
    )
}
