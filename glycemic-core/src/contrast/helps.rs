//! What helps, and by how much: a contrast for each exposure of a diary.
//!
//! # Method
//! Each exposure (see [`exposure`](mod@super::exposure)) is compared in comparable meals (see
//! [`outcome`](super::outcome)), adjusted (see [`design`](super::design)), by meals or by days
//! (see [`effect`](super::effect)). Beside it stands its *negative control*: the same contrast
//! with the exposure one step later, which can't have caused the outcome; one that differs from
//! zero says that the meals with and without differ in something else. What a dated plan asked is
//! kept apart: Holm over the planned, intervals at 1 - (1 - level) / their number; Benjamini and
//! Hochberg over the explored, intervals at the level that goes with it. The verdict comes from
//! these wider intervals.
//!
//! # Source
//! Multiplicity: [`crate::stats::multiplicity`]. Negative control: Lipsitch M et al. Epidemiology
//! 2010; 21: 383-388, from memory. Too small to matter: Schuirmann DJ. J Pharmacokinet Biopharm
//! 1987; 15: 657-680, from memory.

use super::compare::{Contrast, MIN_EACH};
use super::design::{Balance, Design, balance, design};
use super::effect::{MIN_DAYS_EACH, Told, by_days, by_meals};
use super::exposure::{By, Diary, Exposure, exposures};
use super::outcome::{Outcome, comparable};
use crate::error::{Error, require_within};
use crate::estimate::Estimate;
use crate::meals::Responses;
use crate::stats::multiplicity;

/// Choices for [`what_helps`].
#[derive(Clone, Debug, PartialEq)]
pub struct Asking {
    /// What is compared.
    pub outcome: Outcome,
    /// Confidence level.
    pub level: f64,
    /// Key of the random streams.
    pub seed: u64,
    /// A difference within this either way is too small to matter, in the outcome's unit.
    pub margin: f64,
    /// Ids of exposures that a plan named before the data were seen.
    pub planned: Vec<String>,
    /// P values of planned questions answered elsewhere, such as by a schedule: they count among
    /// the planned.
    pub elsewhere: Vec<f64>,
}

impl Asking {
    /// The rise at 95 %, nothing planned.
    pub fn rise() -> Asking {
        let outcome = Outcome::Rise;
        let (planned, elsewhere) = (Vec::new(), Vec::new());
        Asking { outcome, level: 0.95, seed: 1, margin: outcome.margin(), planned, elsewhere }
    }
}

/// What an interval says. A lower outcome counts as help where the exposure is something to do
/// for it, a walk or exercise; of all else it is only said that the outcome was lower or higher.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Verdict {
    /// The whole interval lies below zero, and not within the margin.
    Helps,
    /// The same for what no one does for its help: a kind of meal, a note, a night.
    LowerWith,
    /// The whole interval lies above zero, and not within the margin.
    HigherWith,
    /// The whole interval lies within the margin.
    TooSmallToMatter,
    /// None of these.
    CantTell,
}

impl Verdict {
    /// From the ends of an interval, open where `None`, and a margin.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::contrast::Verdict;
    /// assert_eq!(Verdict::of(Some(-22.0), Some(-3.0), 10.0), Verdict::Helps);
    /// assert_eq!(Verdict::of(Some(-8.0), Some(-3.0), 10.0), Verdict::TooSmallToMatter);
    /// assert_eq!(Verdict::of(Some(-22.0), Some(3.0), 10.0), Verdict::CantTell);
    /// assert_eq!(Verdict::of(None, Some(-12.0), 10.0), Verdict::Helps);
    /// ```
    pub fn of(low: Option<f64>, high: Option<f64>, margin: f64) -> Verdict {
        if low.is_some_and(|l| l >= -margin) && high.is_some_and(|h| h <= margin) {
            Verdict::TooSmallToMatter
        } else if high.is_some_and(|h| h < 0.0) {
            Verdict::Helps
        } else if low.is_some_and(|l| l > 0.0) {
            Verdict::HigherWith
        } else {
            Verdict::CantTell
        }
    }

    /// Without a word of help, unless the exposure is something to do.
    fn of_exposure(self, id: &str) -> Verdict {
        let to_do = id.starts_with("walk") || id.starts_with("exercise");
        if self == Verdict::Helps && !to_do { Verdict::LowerWith } else { self }
    }

    /// The word in tables.
    pub fn code(self) -> &'static str {
        match self {
            Verdict::Helps => "helps",
            Verdict::LowerWith => "lower_with",
            Verdict::HigherWith => "higher_with",
            Verdict::TooSmallToMatter => "too_small_to_matter",
            Verdict::CantTell => "cant_tell",
        }
    }
}

/// What was found for one exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Id of the exposure.
    pub exposure: String,
    /// Whether days, not meals, were compared.
    pub by_day: bool,
    /// Whether a plan named it.
    pub planned: bool,
    /// The contrast, its interval at the level asked for.
    pub contrast: Contrast,
    /// P value adjusted within the planned or the explored.
    pub adjusted_p: Option<f64>,
    /// The interval that allows for the number of questions.
    pub adjusted: Estimate,
    /// What that interval says.
    pub verdict: Verdict,
    /// The same contrast with the exposure one step later.
    pub control: Contrast,
    /// What it was adjusted for.
    pub adjusted_for: Vec<String>,
    /// How alike the meals with and without are.
    pub balance: Vec<Balance>,
}

/// A contrast for every exposure that the diary holds, those planned first.
///
/// # Errors
/// A level outside 0.5 to 0.999, a margin that is not positive.
pub fn what_helps(
    meals: &Responses,
    diary: &Diary<'_>,
    asking: &Asking,
) -> Result<Vec<Finding>, Error> {
    require_within("level", asking.level, 0.5, 0.999)?;
    require_within("margin", asking.margin, 1e-9, 1e9)?;
    let mut found = Vec::new();
    for exposure in exposures(meals, diary) {
        found.push(one(meals, diary, &exposure, asking)?);
    }
    for planned in [true, false] {
        adjust(&mut found, planned, asking)?;
    }
    found.sort_by_key(|f| !f.0.planned);
    Ok(found.into_iter().map(|f| f.0).collect())
}

fn one(
    meals: &Responses,
    diary: &Diary<'_>,
    exposure: &Exposure,
    asking: &Asking,
) -> Result<(Finding, Told), Error> {
    let rows = comparable(meals, asking.outcome, exposure.id == "eating_out");
    let (told, used) = told(meals, diary, exposure, &exposure.by, &rows, asking)?;
    let (later, _) = self::told(meals, diary, exposure, &exposure.after(meals), &rows, asking)?;
    let by_day = matches!(exposure.by, By::Day(_));
    let finding = Finding {
        exposure: exposure.id.clone(),
        by_day,
        planned: asking.planned.contains(&exposure.id),
        contrast: contrast(&told, &used, by_day, asking.level),
        adjusted_p: None,
        adjusted: Estimate::default(),
        verdict: Verdict::CantTell,
        control: contrast(&later, &used, by_day, asking.level),
        adjusted_for: used.design.names,
        balance: balance(meals, &used.rows, &used.exposed, &diary.clock),
    };
    Ok((finding, told))
}

struct Used {
    rows: Vec<usize>,
    exposed: Vec<bool>,
    design: Design,
}

fn told(
    meals: &Responses,
    diary: &Diary<'_>,
    exposure: &Exposure,
    by: &By,
    rows: &[usize],
    asking: &Asking,
) -> Result<(Told, Used), Error> {
    let day = |i: usize| diary.clock.day(meals.meals[i].time_ms);
    let of = |i: usize| match by {
        By::Meal(own) => own[i],
        By::Day(days) => days.iter().find(|d| d.0 == day(i)).map(|d| d.1),
    };
    let (rows, exposed): (Vec<usize>, Vec<bool>) =
        rows.iter().filter_map(|&i| of(i).map(|e| (i, e))).unzip();
    let outcome: Vec<f64> = rows.iter().filter_map(|&i| asking.outcome.of(meals, i)).collect();
    let days: Vec<i64> = rows.iter().map(|&i| day(i)).collect();
    let design = design(meals, &rows, exposure, &diary.clock);
    let told = match by {
        By::Meal(_) => by_meals(&outcome, &exposed, &design.columns, &days, asking.seed)?,
        By::Day(own) => by_days(&outcome, &design.columns, &days, own, asking.seed)?,
    };
    Ok((told, Used { rows, exposed, design }))
}

/// The shape that every contrast has.
fn contrast(told: &Told, used: &Used, by_day: bool, level: f64) -> Contrast {
    let n = used.rows.len();
    let n_exposed = used.exposed.iter().filter(|e| **e).count();
    match told {
        Err(reason) => {
            let needed = if by_day { MIN_DAYS_EACH } else { MIN_EACH };
            let fewest = n_exposed.min(n - n_exposed);
            Contrast {
                difference: Estimate::missing(level, "not told", fewest, needed, reason.clone()),
                p_value: None,
                n,
                n_exposed,
                smallest_visible: None,
                residual_sd: None,
            }
        }
        Ok(e) => Contrast {
            difference: estimate(told, level),
            p_value: Some(e.p_value()),
            n: e.n,
            n_exposed: e.n_exposed,
            smallest_visible: e.smallest_visible(level),
            residual_sd: Some(e.residual_sd),
        },
    }
}

/// What was told, as an estimate at a level; open where days can't be arranged often enough.
pub fn estimate(told: &Told, level: f64) -> Estimate {
    match told {
        Err(reason) => Estimate::missing(level, "not told", 0, 0, reason.clone()),
        Ok(e) => {
            let (low, high) = e.interval(level);
            let open = (low.is_none() || high.is_none()).then(|| {
                crate::estimate::Reason::plain(
                    "too_few_arrangements",
                    "the days could stand in too few other orders for an interval at this level",
                )
            });
            let n = e.n_exposed.min(e.n - e.n_exposed);
            Estimate {
                low,
                high,
                reason: open,
                ..Estimate::new(e.value, e.value, e.value, level, e.method(), n)
            }
        }
    }
}

fn adjust(found: &mut [(Finding, Told)], planned: bool, asking: &Asking) -> Result<(), Error> {
    let own: Vec<usize> = (0..found.len()).filter(|&i| found[i].0.planned == planned).collect();
    let told: Vec<usize> = own.iter().copied().filter(|&i| found[i].1.is_ok()).collect();
    let mut p: Vec<f64> = told.iter().filter_map(|&i| found[i].0.contrast.p_value).collect();
    let (adjusted, level) = if planned {
        p.extend(&asking.elsewhere);
        let level = 1.0 - (1.0 - asking.level) / p.len().max(1) as f64;
        (multiplicity::holm(&p)?, level)
    } else {
        let level = multiplicity::selected_level(&p, asking.level)?;
        (multiplicity::benjamini_hochberg(&p)?, level)
    };
    for &i in &own {
        found[i].0.adjusted = estimate(&found[i].1, level);
    }
    for (&i, p) in told.iter().zip(adjusted) {
        let finding = &mut found[i].0;
        finding.adjusted_p = Some(p);
        let said = Verdict::of(finding.adjusted.low, finding.adjusted.high, asking.margin);
        finding.verdict = said.of_exposure(&finding.exposure);
    }
    Ok(())
}
