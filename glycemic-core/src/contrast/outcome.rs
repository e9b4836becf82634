//! What is compared, and in which meals.
//!
//! # Method
//! A meal is comparable when its first two hours were seen, the peak among them, from a known
//! baseline, with no other meal in the three hours before, no exercise in the window other than a
//! walk after the meal, and grams in the diary. A meal eaten out is left out unless eating out is
//! what is asked, since its grams are least known.

use crate::meals::Responses;

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Outcome {
    /// Peak less baseline, noise-aware where that could be made, mg/dL.
    Rise,
    /// Highest reading, mg/dL.
    Peak,
    /// Incremental area by the positive rule, mg/dL·min.
    Area,
    /// Minutes from the start to recovery; the whole window where there was none.
    Recovery,
}

impl Outcome {
    /// The word in tables.
    pub fn id(self) -> &'static str {
        match self {
            Outcome::Rise => "rise",
            Outcome::Peak => "peak",
            Outcome::Area => "area",
            Outcome::Recovery => "recovery",
        }
    }

    /// UCUM unit.
    pub fn unit(self) -> &'static str {
        match self {
            Outcome::Rise | Outcome::Peak => "mg/dL",
            Outcome::Area => "mg/dL.min",
            Outcome::Recovery => "min",
        }
    }

    /// A difference that is too small to matter: our own round numbers, not published.
    pub fn margin(self) -> f64 {
        match self {
            Outcome::Rise | Outcome::Peak => 10.0,
            Outcome::Area => 600.0,
            Outcome::Recovery => 20.0,
        }
    }

    /// The outcome of a meal.
    pub fn of(self, meals: &Responses, i: usize) -> Option<f64> {
        let row = meals.rows.get(i)?;
        match self {
            Outcome::Rise => meals.rise(i),
            Outcome::Peak => row.peak_mg_dl,
            Outcome::Area => row.iauc_positive_mg_dl_min,
            Outcome::Recovery => {
                let whole = row.seen_min >= meals.window.after_min - 15.0;
                let never = row.recovery_censored_min.filter(|_| whole);
                row.recovery_min.or(never.map(|_| meals.window.after_min))
            }
        }
    }
}

impl std::str::FromStr for Outcome {
    type Err = crate::error::Error;
    fn from_str(text: &str) -> Result<Outcome, Self::Err> {
        let all = [Outcome::Rise, Outcome::Peak, Outcome::Area, Outcome::Recovery];
        all.into_iter().find(|o| o.id() == text).ok_or(crate::error::Error::UnknownChoice {
            name: "outcome",
            got: text.into(),
            choices: "rise, peak, area, recovery",
        })
    }
}

/// Rows that may be compared; see the module.
pub fn comparable(meals: &Responses, outcome: Outcome, eating_out: bool) -> Vec<usize> {
    (0..meals.rows.len())
        .filter(|&i| meals.rows[i].is_alone())
        .filter(|&i| {
            meals.walks[i].is_some() || !meals.rows[i].flags.contains(&"exercise_in_window")
        })
        .filter(|&i| eating_out || !meals.meals[i].is_eaten_out())
        .filter(|&i| outcome.of(meals, i).is_some() && meals.meals[i].net_carbs_g().is_some())
        .collect()
}
