//! Calls of the product-limit survival.

use glycemic_core::stats::survival::{Survival, kaplan_meier};

use super::{Answer, Inputs, Outcome, said};

fn curve(of: &Inputs<'_>) -> Outcome<Survival> {
    let failed: Vec<bool> = of.numbers("failed")?.iter().map(|f| *f == 1.0).collect();
    kaplan_meier(&of.numbers("times")?, &failed, of.number("level")?).map_err(said)
}

/// What stands at one time of failure.
pub(super) fn step(of: &Inputs<'_>) -> Outcome<Answer> {
    let (curve, time) = (curve(of)?, of.number("time")?);
    let step = curve.steps.iter().find(|s| s.time == time).ok_or("nothing failed then")?;
    let values = [
        ("at_risk", Some(step.at_risk as f64)),
        ("failed", Some(step.failed as f64)),
        ("survival", Some(step.survival)),
        ("se", step.se),
        ("low", step.low),
        ("high", step.high),
    ];
    Ok(values.map(|(name, value)| (name.to_string(), vec![value])).into())
}

pub(super) fn median(of: &Inputs<'_>) -> Outcome<Answer> {
    let found = curve(of)?.median();
    let ends = [("value", found.value), ("low", found.low), ("high", found.high)];
    Ok(ends.map(|(name, value)| (name.to_string(), vec![value])).into())
}
