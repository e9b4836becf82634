//! The dated plan of `trial.json`.
//!
//! A plan counts as made in advance when its date is not after the first day of wear; what it
//! names is then kept apart from what is merely explored. A plan may hold a schedule, as the wish
//! it was drawn from: same wish and seed, same schedule.

use super::config::Config;
use crate::contrast::schedule::{Sitting, Wish, schedule};
use crate::error::{Error, require_within};
use serde_json::{Map, Value};

/// What a plan says. Other keys of the JSON are for people and are passed over.
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
    /// The difference it wants to see, more than 0, in the unit of the outcome.
    pub target: Option<f64>,
    /// What the schedule is drawn from.
    pub schedule: Option<Wish>,
    /// Day 1 of the schedule, as `2025-03-14`; without it the first day of wear.
    pub first_day: Option<String>,
}

impl Plan {
    /// The plan of a trial, if it has one.
    ///
    /// # Errors
    /// As [`from_json`](Plan::from_json).
    pub fn of(config: &Config) -> Result<Option<Plan>, Error> {
        config.plan.as_ref().map(Plan::from_json).transpose()
    }

    /// Reads what stands under `plan`.
    ///
    /// # Errors
    /// [`Error::File`] for a key of the wrong kind, a date that is none, an unknown outcome; a
    /// schedule that can't be drawn.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::trial::Plan;
    /// let plan = Plan::from_json(&serde_json::json!({"date": "2025-05-01", "outcome": "rise",
    ///     "contrast": "walk_after", "target": 10, "schedule": {"days": 14, "masked_days": 2,
    ///     "slots": ["lunch"], "pairs": 6, "with": "walk_after", "without": "no_walk", "seed": 7}}))?;
    /// assert_eq!(plan.sittings()?.unwrap().len(), 12);
    /// // What is written is what was read.
    /// assert_eq!(Plan::from_json(&serde_json::from_str(&plan.to_json()).unwrap())?, plan);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn from_json(plan: &Value) -> Result<Plan, Error> {
        let Value::Object(plan) = plan else { return Err(wrong("must be an object, in braces")) };
        let plan = Plan {
            date: date(plan, "date")?,
            question: word(plan, "question")?,
            outcome: word(plan, "outcome")?,
            contrasts: contrasts(plan)?,
            target: target(plan)?,
            schedule: match plan.get("schedule") {
                None | Some(Value::Null) => None,
                Some(wish) => Some(
                    serde_json::from_value(wish.clone())
                        .map_err(|e| wrong(&format!("schedule: {e}")))?,
                ),
            },
            first_day: date(plan, "first_day")?,
        };
        if let Some(outcome) = &plan.outcome {
            outcome.parse::<crate::contrast::Outcome>()?;
        }
        plan.sittings()?;
        Ok(plan)
    }

    /// The plan as indented JSON, to be stored in `trial.json` under `plan`; what it doesn't say
    /// is left out.
    pub fn to_json(&self) -> String {
        let mut all = Map::new();
        let mut put = |key: &str, value: Option<Value>| {
            if let Some(value) = value {
                all.insert(key.to_string(), value);
            }
        };
        put("date", self.date.clone().map(Value::from));
        put("question", self.question.clone().map(Value::from));
        put("outcome", self.outcome.clone().map(Value::from));
        put(
            "contrast",
            match self.contrasts.as_slice() {
                [] => None,
                [one] => Some(one.clone().into()),
                list => Some(list.into()),
            },
        );
        put("target", self.target.map(Value::from));
        put("schedule", self.schedule.as_ref().and_then(|w| serde_json::to_value(w).ok()));
        put("first_day", self.first_day.clone().map(Value::from));
        format!("{:#}", Value::Object(all))
    }

    /// Number of the local day that [`first_day`](Plan::first_day) names, as
    /// [`LocalClock::day`](crate::clock::LocalClock::day) counts them.
    pub fn first_day_number(&self) -> Option<i64> {
        let first = self.first_day.as_deref().and_then(parsed)?;
        Some(first.signed_duration_since(chrono::NaiveDate::default()).num_days())
    }

    /// The schedule, drawn anew; `None` without one.
    ///
    /// # Errors
    /// A wish that no schedule can be drawn from.
    pub fn sittings(&self) -> Result<Option<Vec<Sitting>>, Error> {
        self.schedule.as_ref().map(schedule).transpose()
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
        match (self.date.as_deref().and_then(parsed), parsed(first_day)) {
            (Some(plan), Some(first)) => plan <= first,
            _ => false,
        }
    }
}

fn wrong(why: &str) -> Error {
    Error::File { path: "trial.json, plan".into(), why: why.into() }
}

fn parsed(text: &str) -> Option<chrono::NaiveDate> {
    chrono::NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()
}

fn word(plan: &Map<String, Value>, key: &str) -> Result<Option<String>, Error> {
    match plan.get(key) {
        None | Some(Value::Null) => Ok(None),
        Some(Value::String(text)) => Ok(Some(text.clone())),
        Some(_) => Err(wrong(&format!("{key} must be text"))),
    }
}

fn date(plan: &Map<String, Value>, key: &str) -> Result<Option<String>, Error> {
    match word(plan, key)? {
        Some(text) if parsed(&text).is_none() => {
            Err(wrong(&format!("{key} must be a date such as 2025-03-14, got \"{text}\"")))
        }
        told => Ok(told),
    }
}

fn contrasts(plan: &Map<String, Value>) -> Result<Vec<String>, Error> {
    let Some(Value::Array(list)) = plan.get("contrast") else {
        return Ok(word(plan, "contrast")?.into_iter().collect());
    };
    let text = |v: &Value| v.as_str().map(str::to_string);
    let all: Option<Vec<String>> = list.iter().map(text).collect();
    all.ok_or_else(|| wrong("contrast must be text or a list of text"))
}

fn target(plan: &Map<String, Value>) -> Result<Option<f64>, Error> {
    match plan.get("target") {
        None | Some(Value::Null) => Ok(None),
        Some(value) => {
            let number = value.as_f64().ok_or_else(|| wrong("target must be a number"))?;
            require_within("target", number, 1e-9, 1e9)?;
            Ok(Some(number))
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
            Plan::of(&Config { plan, ..Config::default() }).unwrap().unwrap()
        };
        assert_eq!(of(r#"{"contrast": "walk_after"}"#).contrasts, ["walk_after"]);
        let list = of(r#"{"date": "2025-05-01", "contrast": ["a", "b"], "outcome": "peak"}"#);
        assert_eq!(list.contrasts, ["a", "b"]);
        assert_eq!(list.outcome.as_deref(), Some("peak"));
        assert_eq!(of("{}"), Plan::default());
        assert_eq!(Plan::of(&Config::default()).unwrap(), None);
    }
    #[test]
    fn what_is_wrong_is_said() {
        let wrong = |json: &str| {
            let error = Plan::from_json(&serde_json::from_str(json).unwrap()).unwrap_err();
            error.to_string()
        };
        assert!(wrong("[]").contains("object"));
        assert!(wrong(r#"{"date": "May 1"}"#).contains("date"));
        assert!(wrong(r#"{"target": "10 mg/dL"}"#).contains("target"));
        assert!(wrong(r#"{"target": 0}"#).contains("target"));
        assert!(wrong(r#"{"contrast": [1]}"#).contains("contrast"));
        assert!(wrong(r#"{"outcome": "joy"}"#).contains("outcome"));
        assert!(wrong(r#"{"schedule": {"days": 14}}"#).contains("schedule"));
        // Two days hold one pair, not six.
        let few = r#"{"schedule": {"days": 2, "slots": ["lunch"], "pairs": 6, "with": "a",
            "without": "b", "seed": 1}}"#;
        assert!(wrong(few).contains("pairs"));
        let slip = r#"{"schedule": {"days": 14, "slot": ["lunch"], "pairs": 6, "with": "a",
            "without": "b", "seed": 1}}"#;
        assert!(wrong(slip).contains("slot"));
    }
}
