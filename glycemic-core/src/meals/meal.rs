//! What the diary knows: meals, activity, and the person's targets.

/// One logged meal.
#[derive(Clone, Debug, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Meal {
    /// Start, UTC milliseconds.
    pub time_ms: i64,
    /// End, if noted.
    pub end_ms: Option<i64>,
    /// Total carbohydrate, g.
    pub carbs_g: Option<f64>,
    /// Least it could be, g.
    pub carbs_low_g: Option<f64>,
    /// Most it could be, g.
    pub carbs_high_g: Option<f64>,
    /// Dietary fibre, g.
    pub fiber_g: Option<f64>,
    /// Protein, g.
    pub protein_g: Option<f64>,
    /// Fat, g.
    pub fat_g: Option<f64>,
    /// weighed, label, estimate or unknown.
    pub confidence: Option<String>,
    /// What it was.
    pub label: Option<String>,
    /// Words such as `eating-out`, `grain`.
    pub tags: Vec<String>,
}

impl Meal {
    /// Net carbohydrate: total less fibre, not under 0; total where fibre is unknown (common
    /// practice, no source).
    pub fn net_carbs_g(&self) -> Option<f64> {
        self.carbs_g.map(|c| (c - self.fiber_g.unwrap_or(0.0)).max(0.0))
    }
}

/// One bout of activity.
#[derive(Clone, Debug, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Activity {
    /// Start, UTC milliseconds.
    pub start_ms: i64,
    /// Length in minutes.
    pub minutes: f64,
    /// Such as `walk`.
    pub kind: String,
    /// light, moderate or vigorous.
    pub effort: Option<String>,
}

/// What the person aims for. There is no default.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Targets {
    /// Rise over the baseline, mg/dL.
    pub rise_mg_dl: Option<f64>,
    /// Highest glucose after a meal, mg/dL.
    pub peak_mg_dl: Option<f64>,
}
