//! The rows of a trial's files.

use super::diary::Confidence;

/// A row of the sensor's file, in the file's order: a few are repeated, one place is unsorted.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct SensorRow {
    /// Epoch ms UTC.
    pub time_ms: i64,
    /// Reading in mg/dL, on the source's grid; the limit, where `text` stands in its place.
    pub value_mg_dl: f64,
    /// `LOW` or `HIGH` when the reading is beyond the sensor's limits.
    pub text: Option<&'static str>,
}

/// A finger-stick reading.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct MeterRow {
    /// Epoch ms UTC by the meter's own clock.
    pub time_ms: i64,
    /// Reading in mg/dL, on the source's grid.
    pub glucose_mg_dl: f64,
    /// `fasting` or `after meal`.
    pub context: &'static str,
}

/// A meal as the diary has it.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct MealRow {
    /// Start as entered, epoch ms UTC.
    pub time_ms: i64,
    /// End as entered, epoch ms UTC.
    pub end_ms: i64,
    /// Total carbohydrate, g; `None` when not written down.
    pub carbs_g: Option<f64>,
    /// Least total carbohydrate that seems likely, g; beside some estimates.
    pub carbs_low_g: Option<f64>,
    /// Most total carbohydrate that seems likely, g; beside some estimates.
    pub carbs_high_g: Option<f64>,
    /// Fibre, g.
    pub fiber_g: Option<f64>,
    /// Protein, g.
    pub protein_g: Option<f64>,
    /// Fat, g.
    pub fat_g: Option<f64>,
    /// How the grams came about.
    pub confidence: Confidence,
    /// Name of the dish.
    pub label: &'static str,
    /// Tags: kind of food, `eating-out`, `snack`.
    pub tags: Vec<&'static str>,
}

/// A walk or exercise.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct ActivityRow {
    /// Start, epoch ms UTC.
    pub start_ms: i64,
    /// Duration, min.
    pub minutes: i64,
    /// `walk` or `exercise`.
    pub kind: &'static str,
    /// `light` or `moderate`.
    pub effort: &'static str,
}

/// A night.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct SleepRow {
    /// Asleep, epoch ms UTC.
    pub start_ms: i64,
    /// Awake, epoch ms UTC.
    pub end_ms: i64,
    /// `good` or `poor`.
    pub quality: &'static str,
}

/// A note.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct NoteRow {
    /// Epoch ms UTC.
    pub time_ms: i64,
    /// `symptom` or `stress`.
    pub kind: &'static str,
    /// 1 (slight) to 3 (strong).
    pub severity: i64,
    /// Words.
    pub text: &'static str,
}

/// An event of the wear.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct WearRow {
    /// Epoch ms UTC.
    pub time_ms: i64,
    /// `inserted`, `removed` or `failed`.
    pub event: &'static str,
    /// `A`, or `B` for a second sensor.
    pub sensor: &'static str,
    /// Where on the body.
    pub site: &'static str,
}
