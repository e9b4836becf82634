//! Everything that can be turned before a trial is simulated.
//!
//! Each knob is a plain field, so a study may change one and watch the answers move. The named
//! scenarios (see `named`) differ from [`Scenario::DEMO`] in a few fields only. All figures are our
//! own choices for the simulator, unless a source stands beside them. Counts are per 14 days and
//! scaled to the days of wear.

use super::person::Person;
use crate::units::{MG_DL_PER_MMOL_L, Unit};

/// The unit in which sensor and meter report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub enum Reported {
    /// Whole mg/dL.
    MgDl,
    /// Tenths of mmol/L.
    MmolL,
}

impl Reported {
    /// The unit of measurement.
    pub(crate) fn unit(self) -> Unit {
        match self {
            Self::MgDl => Unit::MgDl,
            Self::MmolL => Unit::MmolL,
        }
    }

    /// A value on the grid of what is shown, mg/dL.
    pub(crate) fn on_grid(self, mg_dl: f64) -> f64 {
        match self {
            Self::MgDl => mg_dl.round(),
            Self::MmolL => {
                let tenths = (10.0 * mg_dl / MG_DL_PER_MMOL_L).round();
                self.unit().to_mg_dl(tenths / 10.0)
            }
        }
    }

    /// Lowest and highest value the sensor shows, in its own unit.
    pub(crate) fn limits(self) -> (f64, f64) {
        match self {
            Self::MgDl => (40.0, 400.0),
            Self::MmolL => (2.2, 22.2),
        }
    }
}

/// What the sensor's random errors are like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub enum Noise {
    /// Linked over 15 min and skewed: Breton & Kovatchev (2008).
    Johnson,
    /// Gaussian, linked over two steps of 5 min, with the SD of the other: the order is that of
    /// Facchinetti A et al. *IEEE Trans Biomed Eng* 61 (2014): 620-629, the coefficients 1.3 and
    /// -0.42 are from memory.
    Autoregressive2,
}

/// A second sensor in place of the first.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Swap {
    /// Local day, counted from 0, the day of the first insertion; from 1 to the last but one.
    pub day: u32,
    /// Minute of that local day.
    pub minute: i64,
    /// Gain of the second sensor.
    pub gain: f64,
    /// Offset of the second sensor, mg/dL.
    pub offset_mg_dl: f64,
    /// Whether the first sensor failed, and so was silent, in the half hour before.
    pub failed: bool,
}

/// What the person does and writes down.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Behaviour {
    /// Smallest dish, g net carbohydrate.
    pub net_low_g: f64,
    /// Largest dish, g net carbohydrate.
    pub net_high_g: f64,
    /// Number of dishes, evenly spaced between the two, 1 to 12.
    pub dishes: usize,
    /// Half-width of the uniform variation of an estimated portion, as a fraction.
    pub portion_spread: f64,
    /// Coefficient of variation of what was eaten against what was logged, lognormal with mean 1.
    pub diary_error_cv: f64,
    /// Share of meals that are weighed, and so logged without error.
    pub weighed_share: f64,
    /// Share of main meals followed by a walk, assigned at random.
    pub walk_share: f64,
    /// Snacks in 14 days, at most one a day.
    pub snacks: usize,
    /// Meals eaten out in 14 days.
    pub eating_out_meals: usize,
    /// Carbohydrate of a meal eaten out that the diary lacks, as a fraction of the logged: least.
    pub hidden_low: f64,
    /// The same: most.
    pub hidden_high: f64,
    /// Meals in 14 days that are in the diary without grams.
    pub meals_without_grams: usize,
    /// Meals in 14 days that are missing from the diary.
    pub unlogged_meals: usize,
    /// Start times in the diary are rounded to this many minutes; 0 or 1: to the minute.
    pub round_to_min: i64,
    /// Share of meals whose start is entered late.
    pub late_share: f64,
    /// How late: the size of a normal number with this SD, min.
    pub late_sd_min: f64,
    /// How late at most, min.
    pub late_max_min: f64,
    /// Half-width of the range of grams written beside an estimate, as a fraction; 0: no ranges.
    pub carb_range: f64,
    /// By how much the portion of a main meal is cut when the rise after the main meal before it
    /// was over the target, as a fraction; 0: never.
    pub adaptive: f64,
    /// Draws dishes, walks, special meals and special days each on its own, with the same odds,
    /// instead of dealing them in fixed numbers: days are then independent of each other.
    pub free: bool,
    /// Days in 14 with exercise before breakfast.
    pub exercise_days: usize,
    /// Nights in 14 in which blood really falls below 70 mg/dL, for 25 to 60 min.
    pub low_nights: usize,
    /// Nights in 14 with poor sleep.
    pub bad_nights: usize,
    /// Days in 14 with stress.
    pub stress_days: usize,
    /// Glucose production that a poor night adds to the day after it, mg/kg/min.
    pub bad_night_production: f64,
    /// Glucose production that stress adds to its day, mg/kg/min.
    pub stress_production: f64,
    /// Factor on insulin action on a day with exercise.
    pub exercise_action: f64,
    /// Factor on insulin action on a day after poor sleep.
    pub bad_night_action: f64,
    /// Factor on insulin action on a day with stress.
    pub stress_action: f64,
}

/// The sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Sensor {
    /// Time constant of the first-order lag behind blood, min.
    pub tau_min: f64,
    /// Gain on glucose.
    pub gain: f64,
    /// Offset, mg/dL.
    pub offset_mg_dl: f64,
    /// Drift, mg/dL per day of wear.
    pub drift_mg_dl_day: f64,
    /// Size of the first-day wobble at insertion, mg/dL; 5 % of it is left after 18 h.
    pub wobble_mg_dl: f64,
    /// The kind of noise.
    pub noise: Noise,
    /// Multiple of the noise; at 1 its SD is 11.7 mg/dL.
    pub noise_scale: f64,
    /// Share of readings with an error of its own beside the noise.
    pub outlier_share: f64,
    /// SD of that error, normal, mg/dL.
    pub outlier_sd_mg_dl: f64,
    /// Pressure lows in 14 days, four of five at night.
    pub pressure_lows: usize,
    /// Gaps of 25 to 150 min in 14 days.
    pub gaps: usize,
    /// Drop-outs per day, most of them under 20 min; 1.71 in 15 people (Emami et al.
    /// *Diabetes Technol Ther* 2015/16).
    pub drop_outs_per_day: f64,
    /// Rows written twice in 14 days.
    pub duplicates: usize,
    /// Readings in the first hours shown as below the sensor's limit.
    pub low_texts: usize,
    /// A second sensor, if there is one; with its own wobble of the same size and the same drift.
    pub swap: Option<Swap>,
}

/// The meter.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Meter {
    /// Bias of meters of this kind, percent of blood.
    pub bias_pct: f64,
    /// SD over lots of strips of what is added to that bias, percent of blood; one lot a trial.
    pub lot_bias_sd_pct: f64,
    /// Coefficient of variation of a reading, percent.
    pub cv_pct: f64,
    /// Minutes by which the meter's clock is ahead of true time; 60 or 720 when its hour is wrong.
    pub clock_ahead_min: i64,
    /// Mornings in 14 with three readings within three minutes.
    pub burst_mornings: usize,
    /// Mornings in 14 with a single fasting reading.
    pub single_mornings: usize,
    /// Meals in 14 days followed by a reading at 45, 60, 90 or 120 min.
    pub after_meals: usize,
    /// Meals in 14 days followed by a reading at 25 to 35 min, while glucose moves fast.
    pub rising: usize,
}

/// One way a trial can be.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Scenario {
    /// Short name.
    pub id: &'static str,
    /// Days of wear.
    pub days: u32,
    /// Unit of sensor and meter.
    pub reported: Reported,
    /// IANA name of the zone.
    pub zone: &'static str,
    /// Local midnight of the first day, epoch ms UTC.
    pub midnight_ms: i64,
    /// Steps of the offset from UTC: (from epoch ms UTC, minutes east), sorted, at least one.
    pub offsets: &'static [(i64, i32)],
    /// Write sensor times with their offset from UTC instead of naive local times.
    pub explicit_offset: bool,
    /// Minute of the first local day at which the sensor is inserted.
    pub inserted_minute: i64,
    /// The adult.
    pub person: Person,
    /// What they do.
    pub behaviour: Behaviour,
    /// What they wear.
    pub sensor: Sensor,
    /// What they prick with.
    pub meter: Meter,
    /// Target for the rise, mg/dL.
    pub rise_mg_dl: f64,
    /// Target for the peak, mg/dL.
    pub peak_mg_dl: f64,
}

impl Scenario {
    /// Minutes from UTC to local time at an instant.
    pub(crate) fn offset_min(&self, time_ms: i64) -> i64 {
        let before = self.offsets.iter().rev().find(|step| step.0 <= time_ms);
        before.or(self.offsets.first()).map_or(0, |step| i64::from(step.1))
    }

    /// Instant of a minute counted from the first local midnight.
    pub(crate) fn time_ms(&self, minute: i64) -> i64 {
        self.midnight_ms + minute * 60_000
    }

    /// Local minute of the day at a minute counted from the first local midnight.
    pub(crate) fn minute_of_day(&self, minute: i64) -> usize {
        self.local(minute).rem_euclid(1440) as usize
    }

    /// Local minutes since the first midnight, as the clock on the wall counts them.
    pub(crate) fn local(&self, minute: i64) -> i64 {
        minute + self.offset_min(self.time_ms(minute)) - self.offset_min(self.midnight_ms)
    }

    /// The elapsed minute at which the clock on the wall shows `local` (the first, if twice).
    pub(crate) fn elapsed(&self, local: i64) -> i64 {
        let start = self.offset_min(self.midnight_ms);
        let guess = local - (self.offset_min(self.time_ms(local)) - start);
        local - (self.offset_min(self.time_ms(guess)) - start)
    }

    /// A count per 14 days, for `days` days.
    pub(crate) fn scaled(count: usize, days: usize) -> usize {
        (count * days + 7) / 14
    }
}
