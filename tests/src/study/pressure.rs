//! Pressure on the sensor and true lows: which are found, which are confused, and whether the
//! stated probabilities are right.

use glycemic_core::Error;
use glycemic_core::sensor::pressure::{Dip, PressureOptions, pressure_lows};
use glycemic_core::series::Trace;
use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::stats::binomial::clopper_pearson;

use super::each_seed;
use crate::simulated_diary;

const MINUTE: i64 = 60_000;
/// Pressure lows that ought to be found: so deep (mg/dL) and so long.
const DEEP_MG_DL: f64 = 20.0;
const LONG_MIN: i64 = 20;
/// A dip counts as found from this probability on.
const FOUND: f64 = 0.5;
/// A true low is confused from this probability on.
const SURE: f64 = 0.8;
/// A dip and a low are the same when they share so much.
const SHARED_MS: i64 = 10 * MINUTE;
/// Pressure lows and true lows in 14 days, where a scenario has fewer.
const LOWS: (usize, usize) = (4, 3);
/// Upper ends of the bins of probability.
const BINS: [f64; 6] = [0.2, 0.4, 0.6, 0.8, 0.95, 1.01];

/// Counts of one trial, or of many.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Found {
    /// Pressure lows deep and long enough, with readings around them.
    pub real: usize,
    /// Those of them that were found.
    pub hit: usize,
    /// Pressure lows deep and long enough among missing readings: not looked for.
    pub unseen: usize,
    /// Found where no pressure low is, however small.
    pub false_ones: usize,
    /// Those of them from 00:00 to 06:00.
    pub false_at_night: usize,
    /// True lows without pressure at the same time.
    pub true_lows: usize,
    /// Those called pressure, surely; and more probably than not.
    pub confused: usize,
    /// See `confused`.
    pub half_confused: usize,
    /// By bin of probability: dips, sum of the probabilities, dips with a pressure low in them.
    pub bins: [(usize, f64, usize); BINS.len()],
    /// Sum of depth found less true depth over the hits, mg/dL.
    pub depth_error: f64,
}

impl Found {
    fn add(mut self, other: Found) -> Found {
        self.real += other.real;
        self.hit += other.hit;
        self.unseen += other.unseen;
        self.false_ones += other.false_ones;
        self.false_at_night += other.false_at_night;
        self.true_lows += other.true_lows;
        self.confused += other.confused;
        self.half_confused += other.half_confused;
        self.depth_error += other.depth_error;
        for (mine, more) in self.bins.iter_mut().zip(other.bins) {
            *mine = (mine.0 + more.0, mine.1 + more.1, mine.2 + more.2);
        }
        self
    }
}

/// The scenario with enough lows of both kinds to count; demo and lows stay as they are.
pub fn pressed(scenario: &Scenario) -> Scenario {
    let mut out = *scenario;
    if !["demo", "lows"].contains(&scenario.id) {
        (out.sensor.pressure_lows, out.behaviour.low_nights) = LOWS;
    }
    out
}

fn shares(dip: &Dip, from_ms: i64, to_ms: i64) -> bool {
    dip.end_ms.min(to_ms) - dip.start_ms.max(from_ms) >= SHARED_MS
}

/// Whether all readings are there around a low.
fn seen(trace: &Trace, from_ms: i64, to_ms: i64) -> bool {
    let (from, to) = (from_ms - 50 * MINUTE, to_ms + 65 * MINUTE);
    let part = trace.window(from, to);
    let expected = ((to - from) / trace.nominal_ms()) as usize;
    part.gaps().is_empty() && part.len() + 2 >= expected
}

/// What was found in one trial, without the meter.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn find(s: &Simulated) -> Result<Found, Error> {
    let (trace, meals, activity) = simulated_diary(s)?;
    let found = pressure_lows(&trace, &meals, &activity, None, &PressureOptions::default())?;
    let lows = &s.truth.pressure_lows;
    // The reading needs a while to come back.
    let end = |end_ms: i64| end_ms + 15 * MINUTE;
    let real = |d: &Dip| lows.iter().any(|l| shares(d, l.start_ms, end(l.end_ms)));
    let mut out = Found::default();
    for dip in &found.dips {
        let bin = BINS.iter().position(|b| dip.probability < *b).unwrap_or(BINS.len() - 1);
        out.bins[bin].0 += 1;
        out.bins[bin].1 += dip.probability;
        out.bins[bin].2 += usize::from(real(dip));
        if dip.probability >= FOUND && !real(dip) {
            out.false_ones += 1;
            out.false_at_night += usize::from(dip.night == Some(true));
        }
    }
    for low in lows {
        let long = low.end_ms - low.start_ms >= LONG_MIN * MINUTE;
        if low.depth_mg_dl < DEEP_MG_DL || !long {
            continue;
        }
        if !seen(&trace, low.start_ms, low.end_ms) {
            out.unseen += 1;
            continue;
        }
        out.real += 1;
        let hit = found.at_least(FOUND).find(|d| shares(d, low.start_ms, end(low.end_ms)));
        if let Some(dip) = hit {
            out.hit += 1;
            out.depth_error += dip.depth_mg_dl.value.unwrap_or(0.0) - low.depth_mg_dl;
        }
    }
    for low in &s.truth.true_lows {
        if lows.iter().any(|l| l.start_ms < low.end_ms && low.start_ms < end(l.end_ms)) {
            continue;
        }
        let called = |p: f64| found.at_least(p).any(|d| shares(d, low.start_ms, low.end_ms));
        out.true_lows += 1;
        out.confused += usize::from(called(SURE));
        out.half_confused += usize::from(called(FOUND));
    }
    Ok(out)
}

fn pct(part: usize, of: usize) -> Result<String, Error> {
    if of == 0 {
        return Ok("-".to_string());
    }
    let (low, high) = clopper_pearson(part, of, 0.95)?;
    let share = 100.0 * part as f64 / of as f64;
    Ok(format!("{share:.1} ({:.1}-{:.1})", 100.0 * low, 100.0 * high))
}

/// Sensitivity, false ones and confusion by scenario, and the probabilities in bins, as tables in
/// Markdown; ends in brackets are exact at 95 %.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn tables(scenarios: &[Scenario], first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | pressure lows | found % | not looked for | false in 14 nights | of them 00-06 | depth error, mg/dL | true lows | called pressure, p >= 0.8, % | p >= 0.5, % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let mut bins = String::from(
        "\n| scenario | probability | dips | mean probability | pressure % |\n| --- | --- | --- | --- | --- |\n",
    );
    for scenario in scenarios {
        let scenario = pressed(scenario);
        let each = each_seed(first, trials, |seed| find(&trial(&scenario, seed)))?;
        let all = each.into_iter().fold(Found::default(), Found::add);
        let fortnights = (trials * u64::from(scenario.days)) as f64 / 14.0;
        text.push_str(&format!(
            "| {} | {} | {} | {} | {:.2} | {:.2} | {:.1} | {} | {} | {} |\n",
            scenario.id,
            all.real,
            pct(all.hit, all.real)?,
            all.unseen,
            all.false_ones as f64 / fortnights,
            all.false_at_night as f64 / fortnights,
            all.depth_error / all.hit.max(1) as f64,
            all.true_lows,
            pct(all.confused, all.true_lows)?,
            pct(all.half_confused, all.true_lows)?,
        ));
        let mut from = PressureOptions::default().least_probability;
        for (bin, to) in all.bins.iter().zip(BINS) {
            bins.push_str(&format!(
                "| {} | {from:.2}-{:.2} | {} | {:.2} | {} |\n",
                scenario.id,
                to.min(1.0),
                bin.0,
                bin.1 / bin.0.max(1) as f64,
                pct(bin.2, bin.0)?,
            ));
            from = to;
        }
    }
    Ok(text + &bins)
}
