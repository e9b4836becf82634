//! How long the sensors of a study lasted.

use super::accounts::{End, SensorRecord, Worn};
use crate::clock::DAY_MS;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::stats::survival::{Incidence, Survival, cumulative_incidence, kaplan_meier};

/// How long a sensor was watched, and how it failed.
pub(super) struct Life {
    days: f64,
    failed: Option<String>,
}

impl Life {
    pub(super) fn of(record: &SensorRecord) -> Life {
        let days = (record.ended_ms - record.inserted_ms) as f64 / DAY_MS as f64;
        match &record.end {
            End::Failed(how) => Life { days, failed: Some(how.clone()) },
            End::Completed => {
                Life { days: days.max(record.length_days.unwrap_or(0.0)), failed: None }
            }
            End::Stopped(_) | End::Worn => Life { days, failed: None },
        }
    }
}

pub(super) fn survival(lives: &[Life], level: f64) -> Result<Survival, Error> {
    let days: Vec<f64> = lives.iter().map(|l| l.days).collect();
    let failed: Vec<bool> = lives.iter().map(|l| l.failed.is_some()).collect();
    kaplan_meier(&days, &failed, level)
}

pub(super) fn causes(lives: &[Life], level: f64) -> Result<(Vec<String>, Vec<Incidence>), Error> {
    let mut names: Vec<String> = lives.iter().filter_map(|l| l.failed.clone()).collect();
    names.sort();
    names.dedup();
    if names.is_empty() {
        return Ok((names, Vec::new()));
    }
    let days: Vec<f64> = lives.iter().map(|l| l.days).collect();
    let code = |life: &Life| {
        let place = life.failed.as_ref().and_then(|how| names.binary_search(how).ok());
        place.map_or(0, |k| k as u32 + 1)
    };
    let cause: Vec<u32> = lives.iter().map(code).collect();
    let incidence = cumulative_incidence(&days, &cause, level)?;
    Ok((names, incidence))
}

pub(super) fn lasts(
    survival: Option<&Survival>,
    worn: &[Worn<'_>],
    level: f64,
) -> Result<Estimate, Error> {
    let missing = |code, text| {
        let reason = Reason::plain(code, text);
        Ok(Estimate::missing(level, "share that lasts the stated length", worn.len(), 1, reason))
    };
    let Some(survival) = survival else {
        return missing("no_sensors", "no sensor was inserted");
    };
    let mut lengths = worn.iter().map(|w| w.record.length_days);
    match lengths.next().flatten() {
        Some(days) if lengths.all(|other| other == Some(days)) => survival.at(days),
        _ => missing("no_common_length", "sensors state no length, or not all the same"),
    }
}
