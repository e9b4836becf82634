//! What to do next about a sensor, in plain words. Suggestions only: nothing is shifted or set.

use super::trust::{Found, MIN_PAIRS, MIN_RISES};
use super::trust_sensor::Own;
use crate::align::lag::MOVING_PAIRS;
use crate::error::Error;
use crate::sensor::OfSensor;
use crate::table::Table;
use crate::tolerance::blood::MIN_PAIRS as MIN_PAIRS_OF_RISES;

/// A sensor is later than blood, so a sum below this says that the meter's clock is ahead; minutes.
const LEAST_LAG_MIN: f64 = 0.0;
/// Beyond this the meter's clock is behind, minutes (published delays of sensors: 5 to 20; here
/// from memory).
const MOST_LAG_MIN: f64 = 25.0;

/// One thing to do: a code, and words.
pub(super) type Next = (&'static str, String);

/// What to do, the most useful first.
pub(super) fn steps(found: &Found, own: &Own) -> Vec<Next> {
    let mut out = Vec::new();
    out.extend(clock(found));
    out.extend(pairs(found));
    out.extend(rises(found));
    out.extend(timing(found));
    out.extend(nights(found, own));
    out.extend(setting(own));
    out
}

fn clock(found: &Found) -> Option<Next> {
    if let Some(hours) = found.clock.suggested_hours {
        let sure = found.clock.candidates.first().map_or(0.0, |c| 100.0 * c.1);
        let side = if hours > 0 { "ahead" } else { "behind" };
        let text = format!(
            "look at the meter's clock: it seems {} h {side} ({sure:.0} % sure); nothing was shifted",
            hours.abs()
        );
        return Some(("check_the_hour", text));
    }
    let (low, high) = (found.lag.low?, found.lag.high?);
    if high < LEAST_LAG_MIN {
        let text =
            "compare the meter's clock with the phone's: it seems ahead; nothing was shifted";
        return Some(("meter_clock_ahead", text.into()));
    }
    let text = "compare the meter's clock with the phone's: it seems behind; nothing was shifted";
    (low > MOST_LAG_MIN).then(|| ("meter_clock_behind", text.into()))
}

fn pairs(found: &Found) -> Option<Next> {
    let had = found.pairs.len();
    (had < MIN_PAIRS).then(|| {
        let more = MIN_PAIRS - had;
        (
            "more_pairs",
            format!("prick {more} more times over several days, fasting and after meals"),
        )
    })
}

fn rises(found: &Found) -> Option<Next> {
    let had = found.changes.rows.len();
    let (needed, why) = match had {
        _ if had < MIN_RISES => (MIN_RISES, "every meal answer rests on rises"),
        _ if had < MIN_PAIRS_OF_RISES => (MIN_PAIRS_OF_RISES, "then limits can be given in blood"),
        _ => return None,
    };
    let more = needed - had;
    let meals = if more == 1 { "meal" } else { "meals" };
    let text = format!("prick just before and 45 to 90 minutes after {more} more {meals}: {why}");
    Some(("prick_around_meals", text))
}

fn timing(found: &Found) -> Option<Next> {
    (found.lag.value.is_none() && found.clock.suggested_hours.is_none()).then(|| {
        let text = format!(
            "prick 25 to 35 minutes after starting a meal, on {MOVING_PAIRS} days: timing shows only while glucose moves"
        );
        ("prick_while_it_moves", text)
    })
}

fn nights(found: &Found, own: &Own) -> Option<Next> {
    let lows = found.night_lows_unchecked;
    if lows > 0 {
        let text = format!(
            "prick at the next low at night: {lows} had no meter reading; a true low can't be excluded"
        );
        return Some(("prick_at_night_lows", text));
    }
    own.worst_dip().map(|_| {
        let dips = own.possible_pressure();
        let text = format!(
            "prick at the next sudden fall at night: {dips} were possibly pressure; a true low can't be excluded"
        );
        ("prick_at_sudden_falls", text)
    })
}

fn setting(own: &Own) -> Option<Next> {
    if let Some(r) = own.would_help() {
        let text =
            format!("{}; only a copy for looking back can be set, the device is not", would(r));
        return Some(("recalibrated_copy", text));
    }
    if own.untold() {
        return None;
    }
    let drifts =
        own.first_drift().is_some_and(|d| d.low > Some(0.0) || d.high.is_some_and(|h| h < 0.0));
    let text = if drifts {
        "leave the sensor as it reads, but watch its drift against the meter"
    } else {
        "leave the sensor as it reads: setting it by this meter predicts left-out days no better"
    };
    Some(("leave_as_it_reads", text.into()))
}

fn would(r: &OfSensor) -> String {
    let kind = r.kind.name().replace('_', " ");
    let error = |f: fn(&crate::sensor::Accuracy) -> Option<f64>| {
        Some((r.before.as_ref().and_then(f)?, r.after.as_ref().and_then(f)?))
    };
    let shares = error(|a| a.mard_pct.value)
        .map(|(a, b)| format!(" (difference on left-out days {a:.1} % before, {b:.1} % after)"))
        .unwrap_or_default();
    format!("setting the sensor by this meter ({kind}) would bring it nearer to it{shares}")
}

/// A row for each step.
pub(super) fn table(steps: &[Next]) -> Result<Table, Error> {
    let mut t = Table::new();
    t.push_text("code", steps.iter().map(|s| Some(s.0.to_string())).collect())?;
    t.push_text("what", steps.iter().map(|s| Some(s.1.clone())).collect())?;
    Ok(t)
}
