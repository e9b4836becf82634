//! The part of question 1 that asks for enough data, and each local day as a strip.

use super::answer::Figure;
use crate::clock::{DAY_MS, LocalClock};
use crate::error::Error;
use crate::panel::sufficiency::{CONSENSUS_ACTIVE_PCT, CONSENSUS_DAYS, Local, Sufficiency};
use crate::series::TraceView;
use crate::table::Table;

const CONSENSUS: &str = "Battelino et al., Diabetes Care 2019; 42:1593-1603";
/// The last day of a two-week wear is seldom whole: so much short still counts (a convention of
/// this library; the table says what was met).
pub(super) const HALF_DAY: f64 = 0.5;
const QUARTER_MS: i64 = 15 * 60_000;

/// Full days, and clock hours that were never or seldom seen.
pub(super) fn figures(there: &Sufficiency) -> Vec<Figure> {
    let Ok(local) = &there.local else { return Vec::new() };
    let count = |id, label, n: usize| Figure::count(id, label, "1", n as f64);
    vec![
        count("days_touched", "local days with a reading", local.days_touched),
        count("full_days", "local days with 70 % of what they could hold", local.full_days),
        count("hours_unseen", "clock hours without a reading", local.hours_unseen.len()),
        count(
            "hours_thin",
            "clock hours with less than a third of the mean hour's readings",
            local.hours_thin.len(),
        ),
    ]
}

/// What the consensus asks for beside what there is.
pub(super) fn table(there: &Sufficiency) -> Result<Table, Error> {
    let mut t = Table::new();
    let words = |w: [&str; 2]| w.iter().map(|w| Some(w.to_string())).collect();
    t.push_text("asked_for", words(["days", "active time"]))?;
    t.push_text("unit", words(["d", "%"]))?;
    t.push_f64("had", vec![Some(there.days), Some(there.active_pct)])?;
    t.push_f64("needed", vec![Some(CONSENSUS_DAYS), Some(CONSENSUS_ACTIVE_PCT)])?;
    t.push_bool("met", vec![there.enough_days, there.enough_active])?;
    let nearly = !there.enough_days && there.days >= CONSENSUS_DAYS - HALF_DAY;
    let note = nearly.then(|| "half a day short still counts as two weeks in this review".into());
    t.push_text("note", vec![note, None])?;
    t.push_text("source", words([CONSENSUS, CONSENSUS]))?;
    Ok(t)
}

/// Readings in each clock hour, and whether it is `unseen`, `thin` or `seen`.
pub(super) fn hours(local: &Local) -> Result<Table, Error> {
    let state = |hour: usize| {
        if local.hours_unseen.contains(&hour) {
            "unseen"
        } else if local.hours_thin.contains(&hour) {
            "thin"
        } else {
            "seen"
        }
    };
    let mut t = Table::new();
    t.push_i64("hour", (0..24).map(Some).collect())?;
    t.push_i64("readings", local.readings_by_hour.iter().map(|&n| Some(n as i64)).collect())?;
    t.push_text("state", (0..24).map(|hour| Some(state(hour).to_string())).collect())?;
    Ok(t)
}

/// Each local day by quarter hours, for pictures: `day` (a date), `minute_of_day` (the quarter's
/// beginning), `readings`, `low_mg_dl` and `high_mg_dl` of its readings. Quarter
/// hours without a reading have no row, so a gap stays a gap. In a doubled hour the readings of
/// both go into one row. Without a local clock there is no row.
///
/// # Errors
/// None that a caller can bring about; columns of different lengths would be one.
///
/// # Example
/// ```
/// use glycemic_core::{clock::LocalClock, review::enough::strips, series::Builder, Unit};
/// // Ten past midnight, a quarter past, twenty past.
/// let times = [600_000, 900_000, 1_200_000].map(|t| 1_741_046_400_000 + t);
/// let clock = Some(LocalClock::fixed(0));
/// let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &[90.0, 100.0, 110.0])?;
/// let table = strips(trace.view())?;
/// assert_eq!(table.numbers("minute_of_day").unwrap(), [Some(0.0), Some(15.0)]);
/// assert_eq!(table.numbers("low_mg_dl").unwrap(), [Some(90.0), Some(100.0)]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn strips(view: TraceView<'_>) -> Result<Table, Error> {
    let quarters = view.trace().clock().map_or_else(Vec::new, |clock| quarters(view, clock));
    let mut t = Table::new();
    let column = |f: fn(&Quarter) -> f64| quarters.iter().map(|q| Some(f(q))).collect();
    let minute = |q: &Quarter| q.start_ms.rem_euclid(DAY_MS) / 60_000;
    t.push_text("day", quarters.iter().map(|q| Some(date(q.start_ms))).collect())?;
    t.push_i64("minute_of_day", quarters.iter().map(|q| Some(minute(q))).collect())?;
    t.push_i64("readings", quarters.iter().map(|q| Some(q.n)).collect())?;
    t.push_f64("low_mg_dl", column(|q| q.low))?;
    t.push_f64("high_mg_dl", column(|q| q.high))?;
    Ok(t)
}

struct Quarter {
    /// Its beginning on the local clock.
    start_ms: i64,
    n: i64,
    low: f64,
    high: f64,
}

fn quarters(view: TraceView<'_>, clock: &LocalClock) -> Vec<Quarter> {
    let start = |t: i64| clock.local_ms(t).div_euclid(QUARTER_MS) * QUARTER_MS;
    let mut readings: Vec<(i64, f64)> =
        view.times_ms().iter().zip(view.glucose_mg_dl()).map(|(&t, &g)| (start(t), g)).collect();
    // Where the clock is put back, local time runs twice; the sort keeps the order within.
    readings.sort_by_key(|r| r.0);
    let mut out: Vec<Quarter> = Vec::new();
    for (start_ms, g) in readings {
        match out.last_mut() {
            Some(q) if q.start_ms == start_ms => {
                (q.n, q.low, q.high) = (q.n + 1, q.low.min(g), q.high.max(g));
            }
            _ => out.push(Quarter { start_ms, n: 1, low: g, high: g }),
        }
    }
    out
}

/// The date of a local time.
fn date(local_ms: i64) -> String {
    LocalClock::floating().text(local_ms).chars().take(10).collect()
}
