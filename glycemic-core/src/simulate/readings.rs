//! From a sensor's values to the rows of its file, with the usual trouble.
//!
//! # Method
//! Values are put on the grid of what is shown and cut at the sensor's limits. Then, in this
//! order: readings shown as low in the first hours, gaps, repeated rows, one unsorted place, and
//! rows lost while a sensor warms up or has failed and in drop-outs. *Drop-outs* (Facchinetti): 90
//! % are shorter than 20 min; they are rarer at night. How lengths spread on either side of 20 min
//! is our own choice.
//!
//! # Source
//! Facchinetti A et al. *Diabetes Technol Ther* 18 (2016): 264-272.

use super::random::{Purpose, Random};
use super::rows::SensorRow;
use super::scenario::{Reported, Scenario};
use super::sensor::{STEP_MIN, Wear};

/// Share of drop-outs under 20 min. Facchinetti (2016).
const SHORT_SHARE: f64 = 0.9;
/// Rate of drop-outs from 00:00 to 06:00 against the day's mean. Our own figure.
const NIGHT_RATE: f64 = 0.4;

/// A run of readings that never came.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct DropOut {
    /// Time of the first lost reading, epoch ms UTC.
    pub start_ms: i64,
    /// Time of the first reading after it, epoch ms UTC.
    pub end_ms: i64,
}

/// The drop-outs of a wear, by time.
pub(crate) fn drop_outs(scenario: &Scenario, seed: u64, wear: &Wear) -> Vec<DropOut> {
    let mut random = Random::new(seed, Purpose::DropOuts);
    let per_reading = scenario.sensor.drop_outs_per_day * STEP_MIN as f64 / 1440.0;
    // A quarter of the day is night.
    let by_day = (1.0 - 0.25 * NIGHT_RATE) / 0.75;
    let (mut found, mut minute) = (Vec::new(), 0);
    while per_reading > 0.0 && minute < wear.minutes {
        let at = wear.start + minute as i64;
        let rate = if scenario.minute_of_day(at) < 360 { NIGHT_RATE } else { by_day };
        let lost = if random.chance(rate * per_reading) { readings_lost(&mut random) } else { 0 };
        if lost > 0 {
            let end_ms = scenario.time_ms(at + (lost * STEP_MIN) as i64);
            found.push(DropOut { start_ms: scenario.time_ms(at), end_ms });
        }
        minute += STEP_MIN * lost.max(1);
    }
    found
}

/// One to three readings in a short drop-out; in a long one four and more, an hour in the mean.
fn readings_lost(random: &mut Random) -> usize {
    let (short, size) = (random.chance(SHORT_SHARE), random.uniform());
    if short { 1 + (3.0 * size) as usize } else { 4 + (-8.0 * libm::log(size)) as usize }
}

/// The file's rows from the shown values, by reading from the end of the start-up on.
pub(crate) fn rows(
    scenario: &Scenario,
    seed: u64,
    wear: &Wear,
    lost: &[DropOut],
    shown: Vec<SensorRow>,
) -> Vec<SensorRow> {
    let mut rows = trouble(scenario, seed, shown);
    rows.retain(|row| {
        let minute = (row.time_ms - scenario.time_ms(wear.start)) / 60_000;
        let dropped = lost.iter().any(|d| d.start_ms <= row.time_ms && row.time_ms < d.end_ms);
        !dropped && !wear.silent(minute)
    });
    rows
}

/// A value as the sensor shows it.
pub(crate) fn display(reported: Reported, time_ms: i64, value: f64) -> SensorRow {
    let (low, high) = reported.limits();
    let (low, high) = (reported.unit().to_mg_dl(low), reported.unit().to_mg_dl(high));
    let value_mg_dl = reported.on_grid(value);
    // Half a thousandth of slack, since a tenth of mmol/L is not exact in binary.
    if value_mg_dl < low - 0.0005 {
        SensorRow { time_ms, value_mg_dl: low, text: Some("LOW") }
    } else if value_mg_dl > high + 0.0005 {
        SensorRow { time_ms, value_mg_dl: high, text: Some("HIGH") }
    } else {
        SensorRow { time_ms, value_mg_dl, text: None }
    }
}

/// Gaps, readings below the limit in the first hours, repeated rows, one unsorted place.
fn trouble(scenario: &Scenario, seed: u64, mut rows: Vec<SensorRow>) -> Vec<SensorRow> {
    let mut random = Random::new(seed, Purpose::SensorTrouble);
    let knobs = &scenario.sensor;
    let days = scenario.days as usize;
    let first = random.below(36);
    let lowest = scenario.reported.unit().to_mg_dl(scenario.reported.limits().0);
    for row in rows.iter_mut().skip(first).take(knobs.low_texts) {
        *row = SensorRow { text: Some("LOW"), value_mg_dl: lowest, ..*row };
    }
    for _ in 0..Scenario::scaled(knobs.gaps, days) {
        // Readings lost: 4 leave an interval of 25 min, 29 one of 150.
        let lost = random.whole(4, 29) as usize;
        let from = 288 + random.below(rows.len().saturating_sub(288 + 36));
        rows.drain(from.min(rows.len())..(from + lost).min(rows.len()));
    }
    for _ in 0..Scenario::scaled(knobs.duplicates, days) {
        let place = random.below(rows.len());
        if let Some(&row) = rows.get(place) {
            rows.insert(place, row);
        }
    }
    if knobs.duplicates > 0 && rows.len() > 600 {
        let place = 300 + random.below(rows.len() - 320);
        rows[place..place + 12].rotate_left(6);
    }
    rows
}
