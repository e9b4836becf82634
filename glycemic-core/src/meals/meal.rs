//! What the diary knows: meals, activity, and the person's targets.

/// The tag of meals whose grams somebody else weighed.
pub const EATEN_OUT: &str = "eating-out";

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
    /// Whether somebody else weighed it: it has the tag `eating-out`.
    pub fn is_eaten_out(&self) -> bool {
        self.tags.iter().any(|t| t == EATEN_OUT)
    }

    /// Net carbohydrate: total less fibre, not under 0; total where fibre is unknown (common
    /// practice, no source).
    pub fn net_carbs_g(&self) -> Option<f64> {
        self.carbs_g.map(|c| (c - self.fiber_g.unwrap_or(0.0)).max(0.0))
    }

    /// Least and most net carbohydrate: the written range less fibre where there is one, else two
    /// SD either way by how the grams came about (see [`GramErrors`]).
    ///
    /// # Example
    /// ```
    /// use glycemic_core::meals::Meal;
    /// let by_eye = Meal { carbs_g: Some(50.0), ..Meal::default() };
    /// assert_eq!(by_eye.grams_range(), Some((30.0, 70.0)));
    /// let weighed = Meal { confidence: Some("weighed".into()), ..by_eye };
    /// assert_eq!(weighed.grams_range(), Some((50.0, 50.0)));
    /// ```
    pub fn grams_range(&self) -> Option<(f64, f64)> {
        let net = self.net_carbs_g()?;
        let less_fiber = |g: f64| (g - self.fiber_g.unwrap_or(0.0)).max(0.0);
        if self.carbs_low_g.is_some() || self.carbs_high_g.is_some() {
            let low = self.carbs_low_g.map_or(net, less_fiber);
            let high = self.carbs_high_g.map_or(net, less_fiber);
            return Some((low.min(net), high.max(net)));
        }
        let sd = self.grams_variance(&GramErrors::default())?.sqrt();
        Some(((net - 2.0 * sd).max(0.0), net + 2.0 * sd))
    }

    /// Variance of the net carbohydrate, g²: of a written range as if every value in it were as
    /// likely (width² / 12), else by how the grams came about.
    pub fn grams_variance(&self, errors: &GramErrors) -> Option<f64> {
        let net = self.net_carbs_g()?;
        if let (Some(low), Some(high)) = (self.carbs_low_g, self.carbs_high_g) {
            return Some((high - low) * (high - low) / 12.0);
        }
        let share = match self.confidence.as_deref() {
            Some("weighed") => errors.weighed,
            Some("label") => errors.label,
            _ => errors.estimate,
        };
        Some(share * net * share * net)
    }
}

/// How far grams are off, as a coefficient of variation by how they came about. The defaults are
/// common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GramErrors {
    /// On a scale.
    pub weighed: f64,
    /// From the pack.
    pub label: f64,
    /// By eye, or not said.
    pub estimate: f64,
}

impl Default for GramErrors {
    fn default() -> Self {
        GramErrors { weighed: 0.0, label: 0.1, estimate: 0.2 }
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
    /// Highest glucose before a meal, mg/dL.
    pub fasting_mg_dl: Option<f64>,
    /// Highest glucose one hour after the start, mg/dL.
    pub at_60_mg_dl: Option<f64>,
    /// Highest glucose two hours after the start, mg/dL.
    pub at_120_mg_dl: Option<f64>,
}

impl Targets {
    /// The targets by name.
    pub(super) fn named(&self) -> [(&'static str, Option<f64>); 5] {
        [
            ("rise_mg_dl", self.rise_mg_dl),
            ("peak_mg_dl", self.peak_mg_dl),
            ("fasting_mg_dl", self.fasting_mg_dl),
            ("at_60_mg_dl", self.at_60_mg_dl),
            ("at_120_mg_dl", self.at_120_mg_dl),
        ]
    }
}
