//! MODD and CONGA: differences of readings one lag apart.
//!
//! # Method
//! Each reading is compared with the one nearest to a lag before it, if that lies within half a
//! nominal interval of the instant (and a quarter of the lag, which matters only where readings are
//! over half an hour apart); of two as near the earlier. A missing partner is skipped.
//! Two readings may stand on both sides of a gap, never of a change of sensor. MODD is the mean
//! magnitude of the differences over 24 h of elapsed time, CONGA-n their standard deviation
//! (n - 1) over n hours.
//!
//! # Source
//! Molnar GD, Taylor WF, Ho MM. Diabetologia 1972; 8: 342-348. McDonnell CM et al. Diabetes
//! Technol Ther 2005; 7: 253-263. Half an interval,
//! the quarter and ties: conventions of this library.

use super::number::{Differences, Number, Whole};
use crate::estimate::Reason;
use crate::panel::registry::Id;

const HOUR_MS: i64 = 3_600_000;
/// The lags: 24 h (MODD) and 1, 2 and 4 h (CONGA).
pub(crate) const LAGS_MS: [i64; 4] = [24 * HOUR_MS, HOUR_MS, 2 * HOUR_MS, 4 * HOUR_MS];

/// Twice the tolerance of a partner's time.
pub(crate) fn window_ms(lag_ms: i64, nominal_ms: i64) -> i64 {
    nominal_ms.min(lag_ms / 2)
}

/// Adds the differences of the readings of one sensor whose earlier reading is at or after
/// `from_ms`.
pub(crate) fn differences<N: Number>(
    times: &[i64],
    codes: &[N],
    lag_ms: i64,
    nominal_ms: i64,
    from_ms: i64,
    into: &mut Differences<N::Wide>,
) {
    each_pair(times, lag_ms, nominal_ms, |i, j| {
        if times[i] >= from_ms {
            into.add(codes[j] - codes[i]);
        }
    });
}

/// The places of each reading's partner a lag before it and of the reading itself.
pub(crate) fn each_pair(
    times: &[i64],
    lag_ms: i64,
    nominal_ms: i64,
    mut found: impl FnMut(usize, usize),
) {
    let window = window_ms(lag_ms, nominal_ms);
    let mut next = 0;
    for (j, &t) in times.iter().enumerate() {
        let target = t - lag_ms;
        // A partner is another reading, also where the interval is longer than the lag.
        while next < j && times[next] < target {
            next += 1;
        }
        if let Some(i) = nearest(|i| times[i], next, j, target, window) {
            found(i, j);
        }
    }
}

/// Of the readings before position `end`, whose times are `at`, the nearest to `target`, within
/// half a window; `next` is the first at or after `target`, or `end`.
pub(crate) fn nearest(
    at: impl Fn(usize) -> i64,
    next: usize,
    end: usize,
    target: i64,
    window_ms: i64,
) -> Option<usize> {
    let after = (next < end).then(|| at(next) - target);
    if after == Some(0) {
        return Some(next);
    }
    let before = next.checked_sub(1).map(|i| target - at(i));
    let (i, distance) = match (before, after) {
        (Some(b), Some(a)) if a < b => (next, a),
        (Some(b), _) => (next - 1, b),
        (None, Some(a)) => (next, a),
        (None, None) => return None,
    };
    (2 * distance <= window_ms).then_some(i)
}

/// MODD and CONGA in mg/dL from the differences at each of [`LAGS_MS`].
pub(crate) fn measures<W: Whole>(
    lags: &[Differences<W>; 4],
    step_mg_dl: f64,
) -> Vec<(Id, Result<f64, Reason>)> {
    let [day, one, two, four] = lags;
    let mut out = vec![(Id::ModdMgDl, modd(day, step_mg_dl))];
    for (id, hours, lag) in
        [(Id::Conga1hMgDl, 1, one), (Id::Conga2hMgDl, 2, two), (Id::Conga4hMgDl, 4, four)]
    {
        let what = format!("pairs of readings {hours} h apart");
        let had = lag.spread.n as usize;
        let sd = lag.spread.sd().map(|sd| sd * step_mg_dl);
        out.push((id, sd.ok_or_else(|| Reason::count("too_few_pairs", &what, had, 2))));
    }
    out
}

fn modd<W: Whole>(day: &Differences<W>, step_mg_dl: f64) -> Result<f64, Reason> {
    match day.spread.n {
        0 => Err(Reason::count("too_few_pairs", "pairs of readings 24 h apart", 0, 1)),
        n => Ok(day.total() / n as f64 * step_mg_dl),
    }
}
