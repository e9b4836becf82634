//! Lag and clock: the shift between meter and sensor, the first-order lag, and wrong hours.
//!
//! Ten post-meal readings are 10 of `after_meals` (45-120 min after the start) without any while
//! glucose rises. The truth of the shift is that of the noise-free trace, of the delay the
//! sensor's time constant with the meter's clock known.

use glycemic_core::Error;
use glycemic_core::align::{clock_error, delay, lag, shifted};
use glycemic_core::simulate::{Scenario, Simulated};

use super::{Asked, LEVEL, Row, each_seed, run};
use crate::{simulated_meter, simulated_trace};

/// Readings in 14 days (after meals, while rising), and what the row is called.
const READINGS: [(usize, usize, [&str; 2]); 4] = [
    (5, 3, ["shift, 8 after meals", "delay, 8 after meals"]),
    (10, 0, ["shift, 10 after meals", "delay, 10 after meals"]),
    (15, 7, ["shift, 22 after meals", "delay, 22 after meals"]),
    (40, 0, ["shift, 40 after meals", "delay, 40 after meals"]),
];

/// Clocks tried, minutes ahead: right, minutes, an hour, half a day.
const CLOCKS: [i64; 6] = [0, 12, 60, 72, 720, -720];

/// Coverage of shift and delay by the number of readings after meals.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn study(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let mut rows = Vec::new();
    for (after_meals, rising, [shift, time_constant]) in READINGS {
        let mut changed = *scenario;
        (changed.meter.after_meals, changed.meter.rising) = (after_meals, rising);
        rows.extend(run(&changed, first, trials, |s| {
            let (trace, meter) = (simulated_trace(s)?, simulated_meter(s)?);
            let ahead = s.truth.meter_clock_ahead_min;
            Ok(vec![
                Asked {
                    figure: shift,
                    truth: s.truth.lag_minus_clock_min,
                    estimate: lag(&meter, &trace, LEVEL)?,
                },
                Asked {
                    figure: time_constant,
                    truth: s.truth.tau_min,
                    estimate: delay(&meter, &trace, ahead, LEVEL)?,
                },
            ])
        })?);
    }
    Ok(rows)
}

/// What became of the hour of a clock: right, wrong, and the shift after the suggestion is taken.
struct Hour {
    told: Option<i64>,
    covered: Option<bool>,
}

/// Share of wrong hours found and of right hours doubted, ten readings after meals.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn hours(scenarios: &[Scenario], first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | clock ahead, min | trials | right hour % | wrong suggestion % | no suggestion % | shift afterwards told % | covered % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for scenario in scenarios {
        for ahead in CLOCKS {
            let mut changed = *scenario;
            changed.meter.clock_ahead_min = ahead;
            (changed.meter.after_meals, changed.meter.rising) = (10, 0);
            let asked = each_seed(first, trials, |seed| {
                let s = glycemic_core::simulate::trial(&changed, seed);
                hour(&s)
            })?;
            text.push_str(&line(scenario.id, ahead, &asked));
        }
    }
    Ok(text)
}

fn hour(s: &Simulated) -> Result<Hour, Error> {
    let (trace, meter) = (simulated_trace(s)?, simulated_meter(s)?);
    let told = clock_error(&meter, &trace).suggested_hours;
    let back = 60.0 * told.unwrap_or(0) as f64;
    let after = lag(&shifted(&meter, back)?, &trace, LEVEL)?;
    let truth = s.truth.lag_minus_clock_min + back;
    Ok(Hour { told, covered: after.estimable().then(|| after.covers(truth)) })
}

fn line(id: &str, ahead: i64, asked: &[Hour]) -> String {
    // An hour and some minutes: the hour is what is to be found.
    let truth = (ahead as f64 / 60.0).round() as i64;
    let share = |n: usize, of: usize| 100.0 * n as f64 / of.max(1) as f64;
    let n = asked.len();
    let right = asked.iter().filter(|h| h.told.unwrap_or(0) == truth).count();
    let wrong = asked.iter().filter(|h| h.told.is_some_and(|t| t != truth)).count();
    let none = asked.iter().filter(|h| h.told.is_none()).count();
    let told: Vec<bool> = asked.iter().filter_map(|h| h.covered).collect();
    let covered = told.iter().filter(|c| **c).count();
    format!(
        "| {id} | {ahead} | {n} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} |\n",
        share(right, n),
        share(wrong, n),
        share(none, n),
        share(told.len(), n),
        share(covered, told.len()),
    )
}
