//! Cautions, and which of them concern a trial.
//!
//! # Source
//! Limits: Battelino et al., Diabetes Care 2019; 42:1593-1603 (70, 250 mg/dL); American Diabetes
//! Association, Standards of Care (fasting 126 mg/dL; 200 mg/dL).

use crate::panel::local;
use crate::trial::Trial;
use crate::units::{self, Unit};

/// Every caution: code and text.
pub const CAUTIONS: &[(&str, &str)] = &[
    (
        "not_a_device",
        "For education, coaching and research. Not a medical device; not for dosing insulin or any treatment decision. Local rules come first.",
    ),
    ("check_by_meter", "A reading that disagrees with how someone feels is checked with a meter."),
    (
        "licensed_care",
        "Pregnancy and breastfeeding, medication that lowers glucose or raises ketone risk, steroids, kidney disease, age under 18 and eating disorders belong with licensed care before any change of eating.",
    ),
    (
        "not_lower_is_better",
        "Fewer grams are not better as such, and nothing here suggests eating less carbohydrate than this person already does.",
    ),
    (
        "repeated_low",
        "Repeated readings below 70 mg/dL (3.9 mmol/L): take this to licensed care; check lows with a meter.",
    ),
    (
        "repeated_high",
        "Repeated readings above 250 mg/dL (13.9 mmol/L): take this to licensed care.",
    ),
    (
        "fasting_high",
        "Fasting readings at or above 126 mg/dL (7.0 mmol/L) on two days, or any reading at or above 200 mg/dL (11.1 mmol/L): take this to licensed care. A laboratory test decides; a sensor does not diagnose.",
    ),
    (
        "possibly_pressure",
        "A sudden low, above all at night, is possibly pressure on the sensor; a true low can't be excluded without a meter reading. Alarms stay on.",
    ),
    (
        "one_person",
        "One person's sensor against a home meter can't pass a device standard; this speaks of the numbers only.",
    ),
    (
        "mean_limit",
        "At the mean limit about half of such meals go over the target. Limits are for the mix of foods in this diary.",
    ),
    (
        "went_with",
        "An observed difference went with the exposure; only a randomised comparison shows what caused it.",
    ),
    (
        "caused",
        "The order of the planned meals was drawn by lot, so what was assigned caused their difference, in this person and as this sensor reads; every other difference went with the exposure.",
    ),
    (
        "behaved_like",
        "A meal that behaved like more carbohydrate did not necessarily contain it; repeat it to know.",
    ),
];

/// The text of a caution.
pub fn caution(code: &str) -> &'static str {
    CAUTIONS.iter().find(|c| c.0 == code).map_or("", |c| c.1)
}

/// The cautions that concern a trial: the general ones, and those its readings call for.
pub fn concerning(trial: &Trial) -> Vec<&'static str> {
    let mut codes = vec!["not_a_device", "check_by_meter", "licensed_care", "not_lower_is_better"];
    let unit = trial.sensor.unit();
    let glucose = trial.sensor.glucose_mg_dl();
    let low = units::LOW.in_source(unit);
    let high = units::VERY_HIGH.in_source(unit);
    let meals: Vec<i64> = trial.meals.iter().map(|m| m.time_ms).collect();
    let fasting = local::fasting_by_day(trial.sensor.view(), &meals).unwrap_or_default();
    let fasting_limit = unit.to_mg_dl(match unit {
        Unit::MmolL => 7.0,
        _ => 126.0,
    });
    let any_limit = unit.to_mg_dl(match unit {
        Unit::MmolL => 11.1,
        _ => 200.0,
    });
    let by_meter = trial.meter.glucose_mg_dl();
    let lows = glucose.iter().filter(|g| **g < low).count()
        + by_meter.iter().filter(|g| **g < units::LOW.mg_dl).count();
    let highs = glucose.iter().filter(|g| **g > high).count()
        + by_meter.iter().filter(|g| **g > units::VERY_HIGH.in_source(Unit::MmolL)).count();
    if lows >= 2 {
        codes.push("repeated_low");
    }
    if highs >= 2 {
        codes.push("repeated_high");
    }
    let meter_high = by_meter.iter().any(|g| *g >= any_limit);
    if fasting.iter().filter(|d| d.1 >= fasting_limit).count() >= 2
        || meter_high
        || glucose.iter().any(|g| *g >= any_limit)
    {
        codes.push("fasting_high");
    }
    codes
}
