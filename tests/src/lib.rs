//! Support code for the tests package.

pub mod study;

use glycemic_core::clock::LocalClock;
use glycemic_core::meals::{Activity, Meal, Responses, Targets, Window, responses};
use glycemic_core::series::{Builder, Censor, Meter, Trace};
use glycemic_core::simulate::{Reported, Simulated};
use glycemic_core::{Error, Unit};

/// The trace of a simulated trial, with its unit, its clock and its readings at a limit.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn simulated_trace(s: &Simulated) -> Result<Trace, Error> {
    let unit = match s.scenario.reported {
        Reported::MgDl => Unit::MgDl,
        Reported::MmolL => Unit::MmolL,
    };
    let times: Vec<i64> = s.sensor.iter().map(|r| r.time_ms).collect();
    let values: Vec<f64> = s.sensor.iter().map(|r| shown(unit, r.value_mg_dl)).collect();
    let censor: Vec<Censor> = s
        .sensor
        .iter()
        .map(|r| match r.text {
            Some("LOW") => Censor::Low,
            Some(_) => Censor::High,
            None => Censor::None,
        })
        .collect();
    let clock = LocalClock::from_steps(s.scenario.zone, s.scenario.offsets)?;
    Builder::new(unit).clock(Some(clock)).build_censored(&times, &values, &censor)
}

/// The number on the display: whole mg/dL, or tenths of mmol/L.
fn shown(unit: Unit, mg_dl: f64) -> f64 {
    match unit {
        Unit::MmolL => (10.0 * unit.from_mg_dl(mg_dl)).round() / 10.0,
        _ => mg_dl,
    }
}

/// The meter of a simulated trial.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn simulated_meter(s: &Simulated) -> Result<Meter, Error> {
    let times: Vec<i64> = s.meter.iter().map(|m| m.time_ms).collect();
    let values: Vec<f64> = s.meter.iter().map(|m| m.glucose_mg_dl).collect();
    let context: Vec<String> = s.meter.iter().map(|m| m.context.to_string()).collect();
    Meter::new(&times, &values, &context, Unit::MgDl)
}

/// When the logged meals of a simulated trial began.
pub fn simulated_meals_ms(s: &Simulated) -> Vec<i64> {
    s.meals.iter().map(|m| m.time_ms).collect()
}

/// The trace, the meals and the activity of a simulated trial, without files in between.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn simulated_diary(s: &Simulated) -> Result<(Trace, Vec<Meal>, Vec<Activity>), Error> {
    let trace = simulated_trace(s)?;
    let meals = s.meals.iter().map(|m| Meal {
        time_ms: m.time_ms,
        end_ms: Some(m.end_ms),
        carbs_g: m.carbs_g,
        fiber_g: m.fiber_g,
        label: Some(m.label.to_string()),
        tags: m.tags.iter().map(|t| (*t).to_string()).collect(),
        ..Meal::default()
    });
    let activity = s.activity.iter().map(|a| Activity {
        start_ms: a.start_ms,
        minutes: a.minutes as f64,
        kind: a.kind.to_string(),
        effort: Some(a.effort.to_string()),
    });
    Ok((trace, meals.collect(), activity.collect()))
}

/// The responses of a simulated trial, as the review makes them.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn simulated_responses(s: &Simulated) -> Result<Responses, Error> {
    let (trace, meals, activity) = simulated_diary(s)?;
    let targets = Targets { rise_mg_dl: Some(s.scenario.rise_mg_dl), ..Targets::default() };
    let window = Window { before_min: 30.0, after_min: 180.0 };
    responses(&trace, &meals, &activity, targets, window, s.seed)
}

/// The Rust example of the README compiles.
#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
pub struct Readme;
