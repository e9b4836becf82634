//! The scenarios, fixed in advance as data.
//!
//! Each differs from [`Scenario::DEMO`] in a few fields. To add one, write it at the end of `ALL`.
//! All figures are our own choices, unless a source stands beside them.

use super::person::{HEALTHY, OTHER_WORLD, Person, RESISTANT};
use super::scenario::{Behaviour, Meter, Noise, Reported, Scenario, Sensor, Swap};

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
            round_to_min: 0,
            late_share: 0.0,
            late_sd_min: 0.0,
            late_max_min: 0.0,
            carb_range: 0.0,
            adaptive: 0.0,
            free: false,
            exercise_days: 3,
            low_nights: 0,
            bad_nights: 3,
            stress_days: 2,
            bad_night_production: 0.04,
            stress_production: 0.08,
            exercise_action: 1.10,
            // One night of partial sleep took about a quarter off (Donga 2010 J Clin Endocrinol
            // Metab 95:2963, from memory); the other two are our own.
            bad_night_action: 0.75,
            stress_action: 0.85,
        },
        sensor: Sensor {
            tau_min: 8.0,
            gain: 1.04,
            offset_mg_dl: 3.0,
            drift_mg_dl_day: 0.4,
            wobble_mg_dl: 15.0,
            noise: Noise::Johnson,
            noise_scale: 0.4,
            outlier_share: 0.0,
            outlier_sd_mg_dl: 0.0,
            pressure_lows: 2,
            gaps: 3,
            drop_outs_per_day: 0.0,
            duplicates: 12,
            low_texts: 3,
            swap: None,
        },
        meter: Meter {
            bias_pct: 2.0,
            lot_bias_sd_pct: 0.0,
            cv_pct: 2.4,
            clock_ahead_min: 12,
            burst_mornings: 8,
            single_mornings: 4,
            after_meals: 15,
            rising: 7,
        },
        rise_mg_dl: 30.0,
        peak_mg_dl: 140.0,
    };

    /// The named scenarios.
    pub fn all() -> &'static [Scenario] {
        ALL
    }

    /// The scenario called `id`, if there is one.
    pub fn named(id: &str) -> Option<Scenario> {
        ALL.iter().find(|scenario| scenario.id == id).copied()
    }
}

const ALL: &[Scenario] = {
    let demo = Scenario::DEMO;
    &[
        demo,
        Scenario {
            id: "no_walks",
            behaviour: Behaviour { walk_share: 0.0, ..demo.behaviour },
            ..demo
        },
        Scenario {
            id: "few_doses",
            behaviour: Behaviour {
                net_low_g: 25.0,
                net_high_g: 45.0,
                dishes: 12,
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
        // About one meal a day with grams.
        Scenario {
            id: "few_meals",
            behaviour: Behaviour {
                snacks: 2,
                eating_out_meals: 2,
                meals_without_grams: 26,
                ..demo.behaviour
            },
            ..demo
        },
        // Windows start too late: no estimator here allows for it.
        Scenario {
            id: "late_diary",
            behaviour: Behaviour {
                round_to_min: 15,
                late_share: 0.33,
                late_sd_min: 15.0,
                late_max_min: 45.0,
                carb_range: 0.25,
                ..demo.behaviour
            },
            ..demo
        },
        // Errors that no estimator here assumes.
        Scenario {
            id: "other_noise",
            sensor: Sensor {
                noise: Noise::Autoregressive2,
                outlier_share: 0.01,
                outlier_sd_mg_dl: 15.0,
                drop_outs_per_day: 1.71,
                swap: Some(Swap {
                    day: 8,
                    minute: 18 * 60,
                    gain: 0.97,
                    offset_mg_dl: -2.0,
                    failed: true,
                }),
                ..demo.sensor
            },
            ..demo
        },
        Scenario {
            id: "adaptive",
            behaviour: Behaviour { adaptive: 0.3, ..demo.behaviour },
            ..demo
        },
        Scenario {
            id: "lows",
            behaviour: Behaviour { low_nights: 3, ..demo.behaviour },
            sensor: Sensor { pressure_lows: 4, ..demo.sensor },
            ..demo
        },
        Scenario {
            id: "wrong_hour",
            meter: Meter { clock_ahead_min: 60, lot_bias_sd_pct: 2.0, ..demo.meter },
            ..demo
        },
        // Days that owe nothing to each other, as a life that nobody plans.
        Scenario { id: "free_days", behaviour: Behaviour { free: true, ..demo.behaviour }, ..demo },
        // The second meal model: no estimator here was made in it.
        Scenario { id: "other_world", person: OTHER_WORLD, ..demo },
        Scenario { id: "healthy", person: HEALTHY, ..demo },
    ]
};
