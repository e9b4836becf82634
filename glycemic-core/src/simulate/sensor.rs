//! The sensor without its random errors: lag, gain, offset, drift, wobble, and a second sensor.
//!
//! # Method
//! Noise-free reading = gain × tissue glucose + offset + drift × days since insertion + first-day
//! wobble, a damped cosine of our own. To it come noise (`noise`), less what pressure lows take
//! away (`pressure`), and what happens to rows (`readings`).

use super::random::{Purpose, Random};
use super::rows::WearRow;
use super::scenario::Scenario;

/// Minutes between readings.
pub(crate) const STEP_MIN: usize = 5;
/// Minutes from insertion to the first reading.
pub(crate) const START_UP_MIN: usize = 60;
/// Minutes without readings before a sensor that failed is changed.
const FAILED_MIN: i64 = 30;

/// One sensor's part of the wear, in minutes of wear.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    pub(crate) from: usize,
    pub(crate) to: usize,
    pub(crate) gain: f64,
    pub(crate) offset_mg_dl: f64,
}

/// When which sensor is worn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wear {
    /// Insertion, minutes from the first local midnight.
    pub(crate) start: i64,
    /// Minutes worn.
    pub(crate) minutes: usize,
    pub(crate) first: Piece,
    pub(crate) second: Option<Piece>,
    /// Whether the first sensor failed before the swap.
    pub(crate) failed: bool,
}

impl Wear {
    /// The wear of a scenario; a swap outside it is left out.
    pub(crate) fn of(scenario: &Scenario) -> Self {
        let knobs = &scenario.sensor;
        let minutes = 1440 * scenario.days.max(1) as usize;
        let start = scenario.elapsed(scenario.inserted_minute.max(0));
        let swapped = knobs.swap.and_then(|swap| {
            let at = scenario.elapsed(1440 * i64::from(swap.day) + swap.minute) - start;
            let room = 2 * START_UP_MIN;
            let at = usize::try_from(at).ok().filter(|at| (room..minutes - room).contains(at))?;
            let (gain, offset_mg_dl) = (swap.gain, swap.offset_mg_dl);
            Some((Piece { from: at, to: minutes, gain, offset_mg_dl }, swap.failed))
        });
        let to = swapped.map_or(minutes, |(second, _)| second.from);
        let first = Piece { from: 0, to, gain: knobs.gain, offset_mg_dl: knobs.offset_mg_dl };
        let failed = swapped.is_some_and(|(_, failed)| failed);
        Self { start, minutes, first, second: swapped.map(|(second, _)| second), failed }
    }

    /// Removal, minutes from the first local midnight.
    pub(crate) fn end(&self) -> i64 {
        self.start + self.minutes as i64
    }

    /// The sensor at a minute from the first local midnight; before and after the wear, the wear
    /// is taken to repeat.
    pub(crate) fn piece(&self, minute: i64) -> &Piece {
        let worn = (minute - self.start).rem_euclid(self.minutes as i64) as usize;
        self.second.as_ref().filter(|second| worn >= second.from).unwrap_or(&self.first)
    }

    /// Share of the wear with the second sensor.
    pub(crate) fn second_share(&self) -> f64 {
        self.second.map_or(0.0, |piece| (piece.to - piece.from) as f64 / self.minutes as f64)
    }

    /// Whether no reading comes at a minute of wear: start-up, or a sensor that failed.
    pub(crate) fn silent(&self, minute: i64) -> bool {
        let starting = |from: i64| (from..from + START_UP_MIN as i64).contains(&minute);
        let dead = |at: i64| self.failed && (at - FAILED_MIN..at).contains(&minute);
        let swapped = self.second.map(|second| second.from as i64);
        starting(0) || swapped.is_some_and(|at| starting(at) || dead(at))
    }
}

impl Piece {
    /// What this sensor reads half through its wear, without wobble, mg/dL.
    pub(crate) fn settled(&self, scenario: &Scenario, tissue: f64) -> f64 {
        let days = (self.to - self.from) as f64 / 1440.0;
        let drift = 0.5 * scenario.sensor.drift_mg_dl_day * days;
        self.gain * tissue + self.offset_mg_dl + drift
    }
}

/// The noise-free sensor by minute of wear, mg/dL.
pub(crate) fn clean(scenario: &Scenario, seed: u64, wear: &Wear, tissue: &[f64]) -> Vec<f64> {
    let mut clean = Vec::with_capacity(tissue.len());
    let pieces = [(Some(wear.first), Purpose::SensorShape), (wear.second, Purpose::SecondSensor)];
    for (piece, purpose) in pieces {
        let Some(piece) = piece else { continue };
        let wobble = wobble(scenario, Random::new(seed, purpose), piece.to - piece.from);
        let here = tissue.get(piece.from..piece.to).unwrap_or(&[]);
        clean.extend(here.iter().zip(wobble).enumerate().map(|(minute, (tissue, wobble))| {
            let drift = scenario.sensor.drift_mg_dl_day * minute as f64 / 1440.0;
            let level = piece.gain * tissue + piece.offset_mg_dl;
            level + drift + wobble
        }));
    }
    clean
}

/// First-day wobble by minute since insertion, mg/dL.
fn wobble(scenario: &Scenario, mut random: Random, minutes: usize) -> Vec<f64> {
    let phase = core::f64::consts::TAU * random.uniform();
    let by_minute = (0..minutes).map(|minute| {
        let hour = minute as f64 / 60.0;
        // exp(-18/6) is 5 %.
        let size = scenario.sensor.wobble_mg_dl * libm::exp(-hour / 6.0);
        size * libm::cos(core::f64::consts::TAU * hour / 11.0 + phase)
    });
    by_minute.collect()
}

/// Insertion, failure and removal of each sensor, by time.
pub(crate) fn wear_rows(scenario: &Scenario, wear: &Wear) -> Vec<WearRow> {
    let row = |minute: i64, event, (sensor, site)| WearRow {
        time_ms: scenario.time_ms(wear.start + minute),
        event,
        sensor,
        site,
    };
    let (first, second) = (("A", "left arm"), ("B", "right arm"));
    let mut rows = vec![row(0, "inserted", first)];
    let last = match wear.second {
        Some(piece) => {
            let at = piece.from as i64;
            if wear.failed {
                rows.push(row(at - FAILED_MIN, "failed", first));
            }
            rows.push(row(at, "removed", first));
            rows.push(row(at, "inserted", second));
            second
        }
        None => first,
    };
    rows.push(row(wear.minutes as i64, "removed", last));
    rows
}
