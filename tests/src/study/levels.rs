//! The panel's intervals, by days of wear: as this sensor reads, in blood, and the difference of
//! two halves of a wear.
//!
//! The truth of a measure is its value over a long wear of the same person with the same sensor:
//! the measure itself, not the interval, is taken as given. For blood it is the measure of blood
//! every 5 min. Drift, the first day's wobble and readings at the limit, and pressure lows are
//! switched off, since the intervals don't speak of them. Each scenario's days are drawn each on its own
//! (`behaviour.free`): dealt days, where a day with much is paid for by one with little, vary
//! less together than apart, and any interval made from days would cover too often.

use glycemic_core::agreement::summary;
use glycemic_core::align::{How, pair};
use glycemic_core::panel::{self, Blood, Id, MEASURES, Options};
use glycemic_core::series::{Builder, Trace};
use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::{Error, Estimate, Unit};

use super::{Asked, LEVEL, Row};
use crate::{simulated_meals_ms, simulated_meter, simulated_trace};

/// Ids of the scenarios of this study.
pub const SCENARIOS: &[&str] =
    &["demo", "high_noise", "low_noise", "linked_days", "few_meals", "healthy"];
/// Days of wear that stand for the truth.
const LONG_DAYS: u32 = 1000;
/// Seed of the long wear, used for nothing else.
const LONG_SEED: u64 = 990_000_001;
/// SD of a meter's bias in the study in blood, percent.
const METER_SD_PCT: f64 = 6.0;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// As this sensor reads.
    AsRead,
    /// In blood, by the trial's own meter; noise not known.
    InBlood,
    /// In blood, with the noise known as the scenario has it.
    InBloodNoiseKnown,
    /// Second half less first half of a wear in which nothing changes.
    TwoHalves,
}

/// The study over one scenario worn for `days` days.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn study(
    kind: Kind,
    scenario: &Scenario,
    days: u32,
    first: u64,
    trials: u64,
) -> Result<Vec<Row>, Error> {
    let steady = steady(scenario);
    let truth = match kind {
        Kind::TwoHalves => MEASURES.iter().map(|m| (m.id, 0.0)).collect(),
        _ => truth(kind, &steady)?,
    };
    super::run(&Scenario { days, ..steady }, first, trials, |s| ask(kind, s, &truth))
}

fn steady(scenario: &Scenario) -> Scenario {
    let mut steady = *scenario;
    steady.behaviour.free = true;
    steady.sensor.drift_mg_dl_day = 0.0;
    steady.sensor.wobble_mg_dl = 0.0;
    steady.sensor.pressure_lows = 0;
    steady.sensor.low_texts = 0;
    steady.meter.bias_pct = 0.0;
    steady.meter.lot_bias_sd_pct = METER_SD_PCT;
    steady
}

fn truth(kind: Kind, scenario: &Scenario) -> Result<Vec<(Id, f64)>, Error> {
    let long = trial(&Scenario { days: LONG_DAYS, ..*scenario }, LONG_SEED);
    let trace = match kind {
        Kind::AsRead | Kind::TwoHalves => simulated_trace(&long)?,
        _ => blood(&long)?,
    };
    // Entropy looks at each pair of readings, which takes too long here.
    let skipped = [Id::SampleEntropy, Id::DfaAlpha];
    let ids: Vec<Id> = MEASURES.iter().map(|m| m.id).filter(|id| !skipped.contains(id)).collect();
    let meals = simulated_meals_ms(&long);
    let all = panel::panel_only(trace.view(), &meals, &Options::default(), &ids)?;
    Ok(ids.into_iter().filter_map(|id| Some((id, all.get(id)?))).collect())
}

/// Blood every 5 min as a trace.
fn blood(s: &Simulated) -> Result<Trace, Error> {
    let times: Vec<i64> =
        (0..s.blood_mg_dl.len() as i64).map(|i| s.start_ms + i * 300_000).collect();
    let clock = simulated_trace(s)?.clock().cloned();
    Builder::new(Unit::MgDl).clock(clock).build(&times, &s.blood_mg_dl)
}

fn ask(kind: Kind, s: &Simulated, truth: &[(Id, f64)]) -> Result<Vec<Asked>, Error> {
    let trace = simulated_trace(s)?;
    let meals = simulated_meals_ms(s);
    let found = match kind {
        Kind::AsRead => panel::intervals(trace.view(), &meals, LEVEL),
        Kind::InBlood | Kind::InBloodNoiseKnown => {
            let noise = 11.7 * s.scenario.sensor.noise_scale;
            let noise = (kind == Kind::InBloodNoiseKnown).then_some(noise);
            match against_meter(s, &trace)? {
                Some(b) => {
                    let blood = Blood { noise_sd_mg_dl: noise, ..b };
                    panel::intervals_in_blood(trace.view(), &meals, blood, LEVEL)
                }
                None => Vec::new(),
            }
        }
        Kind::TwoHalves => {
            let times = trace.times_ms();
            let (first, last) = (times[0], times[times.len() - 1] + 1);
            let middle = first + (last - first) / 2;
            panel::compare(trace.view(), (first, middle), (middle, last), &meals, LEVEL)?
        }
    };
    // Counts, extremes and what else has no interval by design is not asked.
    let without = |e: &Estimate| {
        let codes = ["a_count", "no_method", "not_carried_over", "no_noise"];
        e.reason.as_ref().is_some_and(|r| codes.contains(&r.code.as_str()))
    };
    let asked = found.into_iter().filter(|f| !without(&f.1)).filter_map(|(id, estimate)| {
        let truth = truth.iter().find(|t| t.0 == id)?.1;
        Some(Asked { figure: id.measure().name, truth, estimate })
    });
    Ok(asked.collect())
}

/// What the trial's own meter says, as the review finds it; `None` for fewer than 8 pairs.
fn against_meter(s: &Simulated, trace: &Trace) -> Result<Option<Blood>, Error> {
    let meter = simulated_meter(s)?;
    let pairs = pair(&meter, trace, 5.0, How::Nearest, 0.0)?;
    if pairs.len() < 8 {
        return Ok(None);
    }
    let clock = trace.clock();
    let days: Vec<i64> = pairs.times_ms.iter().map(|&t| clock.map_or(0, |c| c.day(t))).collect();
    let s = summary(&pairs.reference_mg_dl, &pairs.measured_mg_dl, Some(&days), LEVEL)?;
    let of = |(bias_mg_dl, se_mg_dl)| Blood { bias_mg_dl, se_mg_dl, ..Blood::default() };
    Ok(s.bias_mg_dl.value.zip(s.bias_se_mg_dl).map(of))
}
