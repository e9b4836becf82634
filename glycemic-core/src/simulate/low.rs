//! True lows: nights in which blood itself falls below 70 mg/dL.
//!
//! # Method
//! Glucose production is held back until blood has reached the night's nadir, and whenever blood is
//! above it; when blood has been low long enough, production is raised until it is well above. Steered
//! by blood itself, so that any adult gets there. All figures are our own.

use super::pressure::nights;
use super::random::{Purpose, Random};
use super::scenario::Scenario;

/// Below it blood is low, mg/dL.
const LOW: f64 = 70.0;
/// Shift of production while blood falls, mg/kg/min: all of it.
const FALLING: f64 = -5.0;
/// Shift of production while blood rises again, mg/kg/min.
const RISING: f64 = 2.5;
/// Blood at which the body is left alone again, mg/dL.
const BACK: f64 = 85.0;
/// Minutes after which a fall that gets nowhere is given up.
const PATIENCE_MIN: i64 = 180;

/// A night with a fall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LowNight {
    /// When production stops, minutes from the first local midnight.
    pub(crate) start: i64,
    /// Blood that is aimed at, mg/dL.
    nadir_mg_dl: f64,
    /// Minutes below 70 after which blood rises again.
    below_min: i64,
}

/// The falls of `days` planned days, the last of which is half worn.
pub(crate) fn low_nights(scenario: &Scenario, seed: u64, days: usize) -> Vec<LowNight> {
    let worn = days.saturating_sub(1);
    // The same deck as that of the pressure lows, so that no night has both while there is room.
    let deck = nights(&mut Random::new(seed ^ 0x5ead, Purpose::SensorShape), worn);
    let count = Scenario::scaled(scenario.behaviour.low_nights, worn);
    let mut chosen: Vec<usize> = deck.into_iter().rev().take(count).collect();
    chosen.sort_unstable();
    let mut random = Random::new(seed, Purpose::TrueLows);
    let falls = chosen.into_iter().map(|night| LowNight {
        start: scenario.elapsed(1440 * (night as i64 + 2) + random.whole(60, 210)),
        nadir_mg_dl: random.between(58.0, 66.0),
        below_min: random.whole(24, 42),
    });
    falls.collect()
}

/// Where a fall stands.
#[derive(Clone, Copy, Debug)]
enum Phase {
    Waiting,
    Falling,
    Low,
    Rising,
}

/// Shifts production through the night's falls.
#[derive(Debug)]
pub(crate) struct Faller<'a> {
    nights: &'a [LowNight],
    phase: Phase,
    below: i64,
}

impl<'a> Faller<'a> {
    pub(crate) fn new(nights: &'a [LowNight]) -> Self {
        Self { nights, phase: Phase::Waiting, below: 0 }
    }

    /// The shift of production at a minute with this blood, mg/kg/min. Call once a minute.
    pub(crate) fn shift(&mut self, minute: i64, blood: f64) -> f64 {
        let Some(night) = self.nights.first().filter(|night| night.start <= minute) else {
            return 0.0;
        };
        self.below += i64::from(blood < LOW);
        self.phase = match self.phase {
            Phase::Waiting => Phase::Falling,
            Phase::Falling if blood <= night.nadir_mg_dl => Phase::Low,
            Phase::Low if self.below >= night.below_min => Phase::Rising,
            other => other,
        };
        let late = minute - night.start > PATIENCE_MIN && !matches!(self.phase, Phase::Rising);
        let over = matches!(self.phase, Phase::Rising) && blood >= BACK;
        if over || late {
            self.nights = self.nights.get(1..).unwrap_or(&[]);
            (self.phase, self.below) = (Phase::Waiting, 0);
            return 0.0;
        }
        match self.phase {
            Phase::Rising => RISING,
            Phase::Falling | Phase::Low if blood > night.nadir_mg_dl => FALLING,
            _ => 0.0,
        }
    }
}
