//! Targets for glucose after meals: the person's own, and published ones.
//!
//! # Units
//! mg/dL.

use super::meal::Targets;

/// A published target, with the people it was written for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Published {
    /// Short name.
    pub id: &'static str,
    /// For whom.
    pub population: &'static str,
    /// The limits.
    pub targets: Targets,
    /// Where they stand.
    pub source: &'static str,
    /// How the value came here.
    pub status: &'static str,
}

const NONE: Targets = Targets {
    rise_mg_dl: None,
    peak_mg_dl: None,
    fasting_mg_dl: None,
    at_60_mg_dl: None,
    at_120_mg_dl: None,
};

/// The published targets. None speaks of the rise over the baseline, and there is no published
/// basis for how often healthy people go over any of them on a sensor.
pub const PUBLISHED: &[Published] = &[
    Published {
        id: "ada_peak",
        population: "many non-pregnant adults with diabetes",
        targets: Targets { peak_mg_dl: Some(180.0), fasting_mg_dl: Some(130.0), ..NONE },
        source: "American Diabetes Association. Standards of Care in Diabetes, 2011-2024: peak one to two hours after the beginning of the meal, capillary plasma",
        status: "verified",
    },
    Published {
        id: "ada_easd_type1",
        population: "adults with type 1 diabetes",
        targets: Targets { at_60_mg_dl: Some(180.0), at_120_mg_dl: Some(180.0), ..NONE },
        source: "Holt et al., Diabetologia 2021; 64: 2609-2652, table 1: one to two hours after",
        status: "verified",
    },
    Published {
        id: "ada_easd_type1_tight",
        population: "adults with type 1 diabetes, where it can be reached safely",
        targets: Targets { at_60_mg_dl: Some(140.0), at_120_mg_dl: Some(140.0), ..NONE },
        source: "Holt et al., Diabetologia 2021; 64: 2609-2652, table 1: one to two hours after",
        status: "verified",
    },
    Published {
        id: "idf_2007",
        population: "people with diabetes",
        targets: Targets { at_120_mg_dl: Some(140.0), ..NONE },
        source: "International Diabetes Federation, Guideline for management of postmeal glucose, 2007; Ceriello and Colagiuri, Diabet Med 2008; 25: 1151-1156",
        status: "value from memory",
    },
    Published {
        id: "idf_2011",
        population: "people with diabetes",
        targets: Targets { at_60_mg_dl: Some(160.0), at_120_mg_dl: Some(160.0), ..NONE },
        source: "International Diabetes Federation, Guideline for management of postmeal glucose, 2011: one to two hours after",
        status: "value from memory",
    },
    Published {
        id: "ada_pregnancy",
        population: "pregnancy with diabetes",
        targets: Targets {
            fasting_mg_dl: Some(95.0),
            at_60_mg_dl: Some(140.0),
            at_120_mg_dl: Some(120.0),
            ..NONE
        },
        source: "American Diabetes Association. Standards of Care in Diabetes: one and two hours after",
        status: "one and two hours verified, fasting from memory",
    },
];

/// The published targets called `id`.
///
/// # Example
/// ```
/// use glycemic_core::meals::targets::published;
/// assert_eq!(published("ada_peak").unwrap().targets.peak_mg_dl, Some(180.0));
/// assert!(published("healthy").is_none());
/// ```
pub fn published(id: &str) -> Option<&'static Published> {
    PUBLISHED.iter().find(|p| p.id == id)
}
