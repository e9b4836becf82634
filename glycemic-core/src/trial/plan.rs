//! The dated plan of `trial.json`.
//!
//! A plan counts as made in advance when its date is not after the first day of wear; what it
//! names is then kept apart from what is merely explored.

use super::config::Config;

/// What a plan says; all but the date and the contrast is for people.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// Date, as `2025-03-14`.
    pub date: Option<String>,
    /// The primary question.
    pub question: Option<String>,
    /// The outcome: rise, peak, area or recovery.
    pub outcome: Option<String>,
    /// Ids of the contrasts, such as `walk_after`: one word or a list.
    pub contrasts: Vec<String>,
}

impl Plan {
    /// The plan of a trial, if it has one.
    pub fn of(config: &Config) -> Option<Plan> {
        let plan = config.plan.as_ref()?;
        let word = |key: &str| plan.get(key).and_then(|v| v.as_str()).map(str::to_string);
        let contrasts = match plan.get("contrast") {
            Some(serde_json::Value::Array(list)) => {
                list.iter().filter_map(|v| v.as_str()).map(str::to_string).collect()
            }
            _ => word("contrast").into_iter().collect(),
        };
        Some(Plan {
            date: word("date"),
            question: word("question"),
            outcome: word("outcome"),
            contrasts,
        })
    }

    /// Whether it was dated on or before `first_day` (`2025-03-14`).
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::trial::Plan;
    /// let plan = Plan { date: Some("2025-03-13".into()), ..Plan::default() };
    /// assert!(plan.in_advance("2025-03-14") && !plan.in_advance("2025-03-12"));
    /// assert!(!Plan::default().in_advance("2025-03-14"));
    /// ```
    pub fn in_advance(&self, first_day: &str) -> bool {
        let parsed = |text: &str| chrono::NaiveDate::parse_from_str(text, "%Y-%m-%d").ok();
        match (self.date.as_deref().and_then(parsed), parsed(first_day)) {
            (Some(plan), Some(first)) => plan <= first,
            _ => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_contrast_or_a_list() {
        let of = |json: &str| {
            let plan = Some(serde_json::from_str(json).unwrap());
            Plan::of(&Config { plan, ..Config::default() }).unwrap()
        };
        assert_eq!(of(r#"{"contrast": "walk_after"}"#).contrasts, ["walk_after"]);
        let list = of(r#"{"date": "2025-05-01", "contrast": ["a", "b"], "outcome": "peak"}"#);
        assert_eq!(list.contrasts, ["a", "b"]);
        assert_eq!(list.outcome.as_deref(), Some("peak"));
        assert_eq!(of("{}"), Plan::default());
        assert_eq!(Plan::of(&Config::default()), None);
    }
}
