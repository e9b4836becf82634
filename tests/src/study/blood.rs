//! Limits in blood, by the meter's changes over meals, where the sensor's gain is not 1.
//!
//! The meter's lots differ as in the scenario, and what isn't known of them is in the intervals; it is
//! pricked after 40 meals, so that the gain can be told in most trials.

use glycemic_core::Error;
use glycemic_core::align::lag;
use glycemic_core::clock::LocalClock;
use glycemic_core::panel::METER_BIAS_SD_PCT;
use glycemic_core::simulate::{Limits, Meter, Scenario, Sensor, Simulated, rise_curve};
use glycemic_core::tolerance::{Fit, blood};

use super::tolerance::{SAFE_PROBABILITY, fitted};
use super::{Asked, LEVEL, Row, run};
use crate::{simulated_meals_ms, simulated_meter, simulated_responses, simulated_trace};

/// Name, gain of the sensor, minutes that the meter's clock is ahead.
const VARIANTS: [(&str, f64, i64); 6] = [
    ("gain 0.8", 0.8, 0),
    ("gain 1.0", 1.0, 0),
    ("gain 1.2", 1.2, 0),
    ("gain 0.8, clock ahead", 0.8, 12),
    ("gain 1.0, clock ahead", 1.0, 12),
    ("gain 1.2, clock ahead", 1.2, 12),
];

/// Coverage of the limits in blood for each gain and clock.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn study(first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let mut out = Vec::new();
    for (id, gain, clock_ahead_min) in VARIANTS {
        let demo = Scenario::DEMO;
        let sensor = Sensor { gain, ..demo.sensor };
        let meter = Meter { after_meals: 40, clock_ahead_min, ..demo.meter };
        let scenario = Scenario { id, sensor, meter, ..demo };
        let truth = rise_curve(&scenario).limits(scenario.rise_mg_dl);
        out.extend(run(&scenario, first, trials, |s| {
            asked(s, &fitted(s, &simulated_responses(s)?)?.fit, &truth)
        })?);
    }
    Ok(out)
}

/// The limits in blood, by the meter's changes over meals, as the review makes them.
pub(super) fn asked(s: &Simulated, fit: &Fit, truth: &Limits) -> Result<Vec<Asked>, Error> {
    let (Some(limit), Some(safe)) = (truth.mean_limit_blood_g, truth.safe80_blood_g) else {
        return Ok(Vec::new());
    };
    let (trace, meter) = (simulated_trace(s)?, simulated_meter(s)?);
    let clock = LocalClock::from_steps(s.scenario.zone, s.scenario.offsets)?;
    let meals = simulated_meals_ms(s);
    let day = |ms: i64| clock.day(ms);
    let lag_min = lag(&meter, &trace, LEVEL)?.value.unwrap_or(0.0);
    let changes = blood::changes_in_time(&meter, &trace, &[], &meals, day, lag_min, LEVEL)?;
    let found = blood::limits_in_blood(fit, &changes, SAFE_PROBABILITY, METER_BIAS_SD_PCT)?;
    Ok(vec![
        Asked { figure: "in blood: limit", truth: limit, estimate: found.limit_g },
        Asked { figure: "in blood: safe grams", truth: safe, estimate: found.safe_g },
    ])
}
