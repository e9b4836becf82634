//! Question 9: what to test next, as a plan that can be stored before the next wear.

use super::answer::{Answer, Figure, Options};
use crate::clock::LocalClock;
use crate::contrast::outcome::comparable;
use crate::contrast::schedule::{self, REPORT_ITEMS, Wish};
use crate::contrast::{Aim, Outcome};
use crate::error::Error;
use crate::estimate::Reason;
use crate::meals::Responses;
use crate::stats::partial::{Basis, partial};
use crate::table::Table;
use crate::trial::{Plan, Trial};

/// Difference in rise that a plan should be able to see, mg/dL (a round number of our own).
const PLAN_EFFECT_MG_DL: f64 = 10.0;
const PLAN_POWER: f64 = 0.8;
/// Days of the next wear, and of those the first, to get used to it (our own).
const PLAN_DAYS: usize = 14;
const PLAN_MASKED_DAYS: usize = 2;
/// Meals from which the spread of single meals is taken.
const MIN_MEALS_FOR_SPREAD: usize = 10;
const SLOTS: [&str; 3] = ["morning", "midday", "evening"];

/// The plan for the next wear, without its date, or why there is none: a walk after the meal, in
/// pairs. Set `date` before the wear begins and store [`Plan::to_json`] under `plan` in
/// `trial.json`.
///
/// # Errors
/// A level outside 0.5 to 0.999.
pub fn next_plan(
    trial: &Trial,
    meals: &Responses,
    options: Options,
) -> Result<Result<Plan, Reason>, Error> {
    Ok(aim(meals, options)?.and_then(|aim| match aim.pairs() {
        Ok(pairs) => Ok(plan(wish(meals, &trial.clock(), pairs, options.seed), aim)),
        Err(error) => Err(Reason::plain("spread_too_wide", &error.to_string())),
    }))
}

fn plan(wish: Wish, aim: Aim) -> Plan {
    Plan {
        date: None,
        question: Some("does a walk after the meal lower the rise, at the same grams?".into()),
        outcome: Some(Outcome::Rise.id().into()),
        contrasts: vec![wish.with.clone()],
        target: Some(aim.effect),
        schedule: Some(wish),
        first_day: None,
    }
}

/// What is to be seen in the spread of this person's single meals, or why that is unknown.
fn aim(meals: &Responses, options: Options) -> Result<Result<Aim, Reason>, Error> {
    let rows = comparable(meals, Outcome::Rise, false);
    let needed = MIN_MEALS_FOR_SPREAD;
    let told = single_meal_sd(meals, &rows)?;
    Ok(told
        .map(|sd| Aim { effect: PLAN_EFFECT_MG_DL, sd, power: PLAN_POWER, level: options.level })
        .ok_or_else(|| Reason::count("too_few_meals", "comparable meals", rows.len(), needed)))
}

pub(super) fn next(trial: &Trial, meals: &Responses, options: Options) -> Result<Answer, Error> {
    const QUESTION: &str = "What should we test next?";
    let aim = match aim(meals, options)? {
        Ok(aim) => aim,
        Err(reason) => return Ok(Answer::new("next", QUESTION, Vec::new(), vec![reason])),
    };
    let walked = meals.walks.iter().filter(|w| w.is_some()).count();
    let pairs = aim.pairs()?;
    let figures = vec![
        Figure::count(
            "single_meal_sd_mg_dl",
            "spread of single meals at the same grams",
            "mg/dL",
            aim.sd,
        ),
        Figure::count(
            "repeats_each",
            "repeats with and without to see 10 mg/dL with 80 % power",
            "1",
            aim.each()? as f64,
        ),
        Figure::count(
            "pairs_needed",
            "pairs of meals, one with and one without, that see the same",
            "1",
            pairs as f64,
        ),
        Figure::count("walks_so_far", "meals with a walk so far", "1", walked as f64),
    ];
    let wish = wish(meals, &trial.clock(), pairs, options.seed);
    let mut answer = Answer::new("next", QUESTION, figures, Vec::new());
    if wish.pairs < pairs {
        let reason =
            Reason::count("too_few_days", "pairs; two weeks hold fewer", wish.pairs, pairs);
        answer.reasons.push(reason);
    }
    let sittings = schedule::schedule(&wish)?;
    answer.tables.push(("schedule".into(), schedule::table(&wish, &sittings)?));
    answer.tables.push(("plan".into(), plan_table(wish, aim)?));
    Ok(answer)
}

/// Residual standard deviation of rises over grams and a walk.
fn single_meal_sd(meals: &Responses, rows: &[usize]) -> Result<Option<f64>, Error> {
    if rows.len() < MIN_MEALS_FOR_SPREAD {
        return Ok(None);
    }
    let rises: Vec<f64> = rows.iter().filter_map(|&i| meals.rise(i)).collect();
    let grams: Vec<f64> = rows.iter().filter_map(|&i| meals.meals[i].net_carbs_g()).collect();
    let walk = rows.iter().map(|&i| f64::from(u8::from(meals.walks[i].is_some()))).collect();
    let fit = partial(&rises, &grams, &Basis::new(rows.len(), &[walk])?)?;
    Ok(fit.map(|f| f.residual_sd).filter(|sd| *sd > 1e-6))
}

/// As many meals of the day as the pairs need, those first that were eaten most.
fn wish(meals: &Responses, clock: &LocalClock, pairs: usize, seed: u64) -> Wish {
    let slot = |t: i64| match clock.minute_of_day(t) / 60.0 {
        h if h < 11.0 => 0,
        h if h < 16.0 => 1,
        _ => 2,
    };
    let count = |s: usize| meals.meals.iter().filter(|m| slot(m.time_ms) == s).count();
    let mut order = [0, 1, 2];
    order.sort_by_key(|&s| std::cmp::Reverse(count(s)));
    let each = (PLAN_DAYS - PLAN_MASKED_DAYS) / 2;
    let slots = pairs.div_ceil(each).clamp(1, SLOTS.len());
    Wish {
        days: PLAN_DAYS,
        masked_days: PLAN_MASKED_DAYS,
        slots: order[..slots].iter().map(|&s| SLOTS[s].to_string()).collect(),
        pairs: pairs.min(each * slots).max(2),
        with: "walk_after".into(),
        without: "no_walk".into(),
        seed,
    }
}

/// What to write into `trial.json` under `plan`, with today's date, before the wear.
fn plan_table(wish: Wish, aim: Aim) -> Result<Table, Error> {
    let power = aim.power_of_pairs(wish.pairs)?;
    let plan = plan(wish.clone(), aim);
    let mut rows: Vec<(String, String)> = [
        ("question", plan.question.clone().unwrap_or_default()),
        ("outcome", Outcome::Rise.id().to_string()),
        ("contrast", wish.with),
        ("target", format!("{} mg/dL", aim.effect)),
        ("pairs", wish.pairs.to_string()),
        ("power", format!("{power:.2}")),
        ("level", aim.level.to_string()),
        ("seed", wish.seed.to_string()),
        ("analysis", "mean difference of pairs, Student's t; signs; carry-over and period".into()),
        ("json", plan.to_json()),
    ]
    .map(|(item, value)| (item.to_string(), value))
    .to_vec();
    rows.extend(
        REPORT_ITEMS.iter().map(|(code, text)| (format!("report:{code}"), text.to_string())),
    );
    let mut t = Table::new();
    t.push_text("item", rows.iter().map(|r| Some(r.0.clone())).collect())?;
    t.push_text("value", rows.into_iter().map(|r| Some(r.1)).collect())?;
    Ok(t)
}
