//! The meter: when blood is pricked, and what the meter says.
//!
//! # Method
//! Reading = blood × (1 + bias + error), stamped by the meter's own clock. The bias is that of the
//! kind of meter plus that of the trial's one lot of strips; the error is normal.

use super::diary::{Eaten, Plan};
use super::live::Run;
use super::random::{Purpose, Random};
use super::rows::MeterRow;
use super::scenario::Scenario;

/// The meter's bias with this trial's lot of strips, percent of blood.
pub(crate) fn bias_pct(scenario: &Scenario, seed: u64) -> f64 {
    let lot = Random::new(seed, Purpose::LotBias).normal();
    scenario.meter.bias_pct + scenario.meter.lot_bias_sd_pct * lot
}

/// The readings, by time.
pub(crate) fn prick(
    scenario: &Scenario,
    seed: u64,
    plan: &Plan,
    lived: &Run,
    start: i64,
    end: i64,
) -> Vec<MeterRow> {
    let mut random = Random::new(seed, Purpose::Meter);
    let knobs = &scenario.meter;
    let days = scenario.days as usize;
    let mut when: Vec<(i64, &'static str)> = Vec::new();
    let mornings: Vec<i64> = plan
        .days
        .iter()
        .map(|day| day.breakfast)
        .filter(|&time| time > start && time < end)
        .collect();
    let bursts = Scenario::scaled(knobs.burst_mornings, days);
    let singles = Scenario::scaled(knobs.single_mornings, days);
    for (rank, morning) in random.shuffled(mornings.len()).into_iter().enumerate() {
        let time = mornings[morning] - random.whole(8, 20);
        let readings = if rank < bursts { 3 } else { i64::from(rank < bursts + singles) };
        when.extend((0..readings).map(|reading| (time + reading, "fasting")));
    }
    let main: Vec<&Eaten> = plan.meals.iter().filter(|m| m.in_diary && !m.snack).collect();
    let after = Scenario::scaled(knobs.after_meals, days);
    let rising = Scenario::scaled(knobs.rising, days);
    for (rank, meal) in random.shuffled(main.len()).into_iter().enumerate() {
        let later = [45, 60, 90, 120][random.below(4)];
        let soon = random.whole(25, 35);
        if rank < after {
            when.push((main[meal].start + later, "after meal"));
        } else if rank < after + rising {
            when.push((main[meal].start + soon, "after meal"));
        }
    }
    when.sort_unstable();
    let bias_pct = bias_pct(scenario, seed);
    let rows = when.into_iter().map(|(minute, context)| {
        let blood = lived.blood.get(minute.max(0) as usize).copied().unwrap_or(0.0);
        let read = blood * (1.0 + (bias_pct + knobs.cv_pct * random.normal()) / 100.0);
        MeterRow {
            time_ms: scenario.time_ms(minute + knobs.clock_ahead_min),
            glucose_mg_dl: scenario.reported.on_grid(read),
            context,
        }
    });
    rows.collect()
}
