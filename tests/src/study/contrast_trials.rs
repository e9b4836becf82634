//! Contrasts in whole simulated trials: where nothing has an effect, and where the truth is known.

use glycemic_core::Error;
use glycemic_core::clock::LocalClock;
use glycemic_core::contrast::change::{self, adaptive_dosing};
use glycemic_core::contrast::{
    Asking, Diary, Finding, Night, Noted, Verdict, at_symptoms, what_helps,
};
use glycemic_core::meals::{Activity, Responses};
use glycemic_core::simulate::{Scenario, Simulated, day_effects, rise_curve, trial};
use glycemic_core::stats::random::Random;

use super::contrast::{Rejections, rejections};
use super::{Asked, LEVEL, each_seed, markdown, rows};
use crate::{simulated_responses, simulated_trace};

/// The demo in which neither walks nor days do anything.
pub fn nothing_helps() -> Scenario {
    let mut s = Scenario::DEMO;
    s.id = "nothing_helps";
    s.person.walk_uptake = 0.0;
    s.behaviour.exercise_action = 1.0;
    s.behaviour.bad_night_action = 1.0;
    s.behaviour.stress_action = 1.0;
    s.behaviour.bad_night_production = 0.0;
    s.behaviour.stress_production = 0.0;
    s
}

/// The same with days that are linked.
pub fn nothing_helps_linked() -> Scenario {
    let mut s = nothing_helps();
    s.id = "nothing_helps, linked days";
    s.person.day_production_sd = 0.12;
    s.person.day_correlation = 0.7;
    s
}

/// Activity as the diary has it.
pub fn activity(s: &Simulated) -> Vec<Activity> {
    let one = |a: &glycemic_core::simulate::ActivityRow| Activity {
        start_ms: a.start_ms,
        minutes: a.minutes as f64,
        kind: a.kind.to_string(),
        effort: Some(a.effort.to_string()),
    };
    s.activity.iter().map(one).collect()
}

/// The diary beside the meals.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn diary<'a>(s: &Simulated, activity: &'a [Activity]) -> Result<Diary<'a>, Error> {
    let nights = s.sleep.iter().map(|n| Night {
        start_ms: n.start_ms,
        end_ms: n.end_ms,
        poor: Some(n.quality == "poor"),
    });
    let notes = s.notes.iter().map(|n| Noted { time_ms: n.time_ms, kind: n.kind.to_string() });
    Ok(Diary {
        activity,
        nights: nights.collect(),
        notes: notes.collect(),
        clock: LocalClock::from_steps(s.scenario.zone, s.scenario.offsets)?,
    })
}

fn found(s: &Simulated, meals: &Responses) -> Result<Vec<Finding>, Error> {
    let activity = activity(s);
    what_helps(
        meals,
        &diary(s, &activity)?,
        &Asking { level: LEVEL, seed: s.seed, ..Asking::rise() },
    )
}

/// P values of symptoms at random times of the day, which nothing links to glucose.
fn symptoms(s: &Simulated, meals: &Responses) -> Result<Vec<Option<f64>>, Error> {
    let trace = simulated_trace(s)?;
    let clock = LocalClock::from_steps(s.scenario.zone, s.scenario.offsets)?;
    let mut random = Random::keyed(s.seed, 79, 0);
    let first = clock.day(trace.times_ms()[0]);
    let times: Vec<i64> = (0..8)
        .map(|_| {
            let day = first + random.below(s.scenario.days as usize) as i64;
            clock.day_start(day) + (480 + random.below(720) as i64) * 60_000
        })
        .collect();
    let felt = at_symptoms(&trace, meals, &times, &clock, LEVEL, s.seed)?;
    Ok(felt.iter().map(|f| f.p_value).collect())
}

type One = (Vec<(String, bool, Option<f64>, Verdict)>, Vec<Option<f64>>);

/// Where nothing has an effect: rejections by exposure, then any false verdict, then symptoms.
///
/// # Errors
/// None that simulated trials should cause.
pub fn null(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Rejections>, Error> {
    let all: Vec<One> = each_seed(first, trials, |seed| {
        let s = trial(scenario, seed);
        let meals = simulated_responses(&s)?;
        let found = found(&s, &meals)?;
        let short = |f: &Finding| (f.exposure.clone(), f.by_day, f.contrast.p_value, f.verdict);
        Ok((found.iter().map(short).collect(), symptoms(&s, &meals)?))
    })?;
    let mut table = Vec::new();
    for id in ["walk_after", "exercise_day", "poor_night", "stress_day", "night_under_7_h"] {
        let p: Vec<Option<f64>> =
            all.iter().map(|one| one.0.iter().find(|f| f.0 == id).and_then(|f| f.2)).collect();
        table.push(Rejections::of(&format!("{}: {id}", scenario.id), &p));
    }
    // Kinds and meals eaten out do differ; what is left has no effect.
    let false_claim = |one: &One| {
        let claims = |v: Verdict| !matches!(v, Verdict::CantTell | Verdict::TooSmallToMatter);
        let idle = |id: &str| !id.starts_with("tag:") && id != "eating_out";
        one.0.iter().any(|f| idle(&f.0) && claims(f.3))
    };
    let any: Vec<Option<f64>> =
        all.iter().map(|one| Some(if false_claim(one) { 0.0 } else { 1.0 })).collect();
    let words = format!("{}: any false verdict (10 % meant)", scenario.id);
    // A verdict is false or not, at no level of its own: both columns count the same.
    table.push(Rejections { meant: [10.0; 2], ..Rejections::of(&words, &any) });
    for (at, (feature, _)) in glycemic_core::contrast::symptoms::FEATURES.iter().enumerate() {
        let p: Vec<Option<f64>> = all.iter().map(|one| one.1[at]).collect();
        table.push(Rejections::of(&format!("{}: symptoms, {feature}", scenario.id), &p));
    }
    Ok(table)
}

/// Where the truth is known: coverage of the walk and of the days, and adaptive dosing.
///
/// # Errors
/// None that simulated trials should cause.
pub fn truths(scenario: &Scenario, first: u64, trials: u64) -> Result<(String, Rejections), Error> {
    let (walk, days) = (rise_curve(scenario).walk.difference_mg_dl, day_effects(scenario));
    let all = each_seed(first, trials, |seed| {
        let s = trial(scenario, seed);
        let meals = simulated_responses(&s)?;
        let clock = LocalClock::from_steps(scenario.zone, scenario.offsets)?;
        let mut asked = Vec::new();
        for f in found(&s, &meals)? {
            let (figure, truth) = match f.exposure.as_str() {
                "walk_after" => ("walk_after", walk),
                "poor_night" => ("poor_night", days.bad_night_mg_dl),
                "stress_day" => ("stress_day", days.stress_mg_dl),
                "exercise_day" => ("exercise_day", days.exercise_mg_dl),
                _ => continue,
            };
            asked.push(Asked { figure, truth, estimate: f.contrast.difference });
        }
        let means = change::whole_days(&simulated_trace(&s)?, &clock);
        let trend = change::trend(&means, LEVEL)?;
        // Drift is the only trend there is.
        let drift = 7.0 * s.scenario.sensor.drift_mg_dl_day;
        asked.push(Asked { figure: "trend of the mean, a week", truth: drift, estimate: trend });
        let adaptive = adaptive_dosing(&meals, &clock, scenario.rise_mg_dl, seed)?;
        Ok((asked, adaptive.ok().map(|e| e.p_value())))
    })?;
    let (asked, p): (Vec<Vec<Asked>>, Vec<Option<f64>>) = all.into_iter().unzip();
    let adaptive = Rejections::of(&format!("{}: adaptive dosing", scenario.id), &p);
    Ok((markdown(&rows(scenario.id, &asked))?, adaptive))
}

/// All of it as text.
///
/// # Errors
/// None that simulated trials should cause.
pub fn report(first: u64, trials: u64) -> Result<String, Error> {
    let mut text = format!("\n## No effect, simulated trials ({trials})\n\n");
    let mut table = Vec::new();
    for scenario in [nothing_helps(), nothing_helps_linked()] {
        table.extend(null(&scenario, first, trials)?);
    }
    text.push_str(&rejections(&table)?);
    text.push_str(&format!("\n## Known effects, simulated trials ({trials})\n\n"));
    let mut adaptive = Vec::new();
    for id in ["demo", "linked_days", "adaptive"] {
        let Some(scenario) = Scenario::named(id) else { continue };
        let (told, dosing) = truths(&scenario, first, trials)?;
        text.push_str(&told);
        text.push('\n');
        adaptive.push(dosing);
    }
    text.push_str("Adaptive dosing: there in `adaptive` only.\n\n");
    text.push_str(&rejections(&adaptive)?);
    Ok(text)
}
