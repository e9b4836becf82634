//! Everything that can be turned before a trial is simulated.
//!
//! Each knob is a plain field, so a study may change one and watch the answers move. The named
//! scenarios differ from [`Scenario::DEMO`] in a few fields only. All figures are our own choices
//! for the simulator, unless a source stands beside them.

use super::person::{Person, RESISTANT};

/// The unit in which sensor and meter report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub enum Reported {
    /// Whole mg/dL.
    MgDl,
    /// Tenths of mmol/L.
    MmolL,
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
    /// Days in 14 with exercise before breakfast.
    pub exercise_days: usize,
    /// Nights in 14 with poor sleep.
    pub bad_nights: usize,
    /// Days in 14 with stress.
    pub stress_days: usize,
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
    /// Multiple of the noise of Breton & Kovatchev (2008).
    pub noise_scale: f64,
    /// Nights in 14 with a pressure low.
    pub pressure_lows: usize,
    /// Gaps of 25 to 150 min in 14 days.
    pub gaps: usize,
    /// Rows written twice in 14 days.
    pub duplicates: usize,
    /// Readings in the first hours shown as below the sensor's limit.
    pub low_texts: usize,
}

/// The meter.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Meter {
    /// Bias, percent of blood.
    pub bias_pct: f64,
    /// Coefficient of variation of a reading, percent.
    pub cv_pct: f64,
    /// Minutes by which the meter's clock is ahead of true time.
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

/// Days from 1970-01-01 to the day, times a day's milliseconds, less the offset.
const fn midnight(days: i64, offset_min: i64) -> i64 {
    days * 86_400_000 - offset_min * 60_000
}

impl Scenario {
    /// Two weeks from 5 May 2025, whole mg/dL.
    pub const DEMO: Self = Self {
        id: "demo",
        days: 14,
        reported: Reported::MgDl,
        zone: "Europe/Lisbon",
        midnight_ms: midnight(20_213, 60),
        offsets: &[(midnight(20_177, 0) + 3_600_000, 60)],
        explicit_offset: false,
        inserted_minute: 11 * 60 + 40,
        person: RESISTANT,
        behaviour: Behaviour {
            net_low_g: 8.0,
            net_high_g: 75.0,
            dishes: 12,
            portion_spread: 0.08,
            diary_error_cv: 0.10,
            weighed_share: 0.30,
            walk_share: 0.34,
            snacks: 5,
            eating_out_meals: 5,
            hidden_low: 0.35,
            hidden_high: 0.60,
            meals_without_grams: 2,
            unlogged_meals: 1,
            exercise_days: 3,
            bad_nights: 3,
            stress_days: 2,
            exercise_action: 1.10,
            bad_night_action: 0.90,
            stress_action: 0.95,
        },
        sensor: Sensor {
            tau_min: 8.0,
            gain: 1.04,
            offset_mg_dl: 3.0,
            drift_mg_dl_day: 0.4,
            wobble_mg_dl: 15.0,
            noise_scale: 0.4,
            pressure_lows: 2,
            gaps: 3,
            duplicates: 12,
            low_texts: 3,
        },
        meter: Meter {
            bias_pct: 2.0,
            cv_pct: 2.4,
            clock_ahead_min: 12,
            burst_mornings: 8,
            single_mornings: 4,
            after_meals: 15,
            rising: 4,
        },
        rise_mg_dl: 30.0,
        peak_mg_dl: 140.0,
    };

    /// The named scenarios.
    pub fn all() -> &'static [Scenario] {
        &ALL
    }

    /// The scenario called `id`, if there is one.
    pub fn named(id: &str) -> Option<Scenario> {
        ALL.iter().find(|scenario| scenario.id == id).copied()
    }

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

const ALL: [Scenario; 8] = {
    let demo = Scenario::DEMO;
    [
        demo,
        Scenario {
            id: "no_walks",
            behaviour: Behaviour { walk_share: 0.0, ..demo.behaviour },
            ..demo
        },
        Scenario {
            id: "few_doses",
            behaviour: Behaviour {
                net_low_g: 22.0,
                net_high_g: 34.0,
                dishes: 3,
                portion_spread: 0.0,
                ..demo.behaviour
            },
            ..demo
        },
        Scenario {
            id: "mmol_dst",
            reported: Reported::MmolL,
            midnight_ms: midnight(20_381, 60),
            // 26 October 2025, 01:00 UTC: 02:00 summer time becomes 01:00.
            offsets: &[(midnight(20_177, 0) + 3_600_000, 60), (midnight(20_387, 0) + 3_600_000, 0)],
            explicit_offset: true,
            ..demo
        },
        Scenario { id: "high_noise", sensor: Sensor { noise_scale: 1.0, ..demo.sensor }, ..demo },
        Scenario { id: "low_noise", sensor: Sensor { noise_scale: 0.1, ..demo.sensor }, ..demo },
        Scenario {
            id: "skewed_diary",
            behaviour: Behaviour { diary_error_cv: 0.35, weighed_share: 0.0, ..demo.behaviour },
            ..demo
        },
        Scenario {
            id: "linked_days",
            person: Person { day_production_sd: 0.12, day_correlation: 0.7, ..demo.person },
            ..demo
        },
    ]
};
