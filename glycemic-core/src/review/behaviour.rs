//! Questions 7 to 9: what helps, did behaviour change, and what to test next.

use super::answer::{Answer, Figure, Options};
use crate::align::{How, pair};
use crate::clock::LocalClock;
use crate::contrast::change::{self, Daily};
use crate::contrast::outcome::comparable;
use crate::contrast::schedule::{self, REPORT_ITEMS, Wish};
use crate::contrast::{
    self, Aim, Asking, AtSymptoms, Contrast, Diary, Finding, Night, Noted, Outcome,
};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
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

fn diary(trial: &Trial) -> Diary<'_> {
    let poor = |word: &str| ["poor", "bad"].contains(&word);
    let nights = trial.sleep.iter().map(|s| Night {
        start_ms: s.start_ms,
        end_ms: s.end_ms,
        poor: s.quality.as_deref().map(poor),
    });
    let notes = trial.notes.iter().map(|n| Noted { time_ms: n.time_ms, kind: n.kind.clone() });
    Diary {
        activity: &trial.activity,
        nights: nights.collect(),
        notes: notes.collect(),
        clock: trial.clock(),
    }
}

/// What was planned, and a reason where a plan came too late to count.
fn asking(trial: &Trial, options: Options, reasons: &mut Vec<Reason>) -> Result<Asking, Error> {
    let mut asking = Asking { level: options.level, seed: options.seed, ..Asking::rise() };
    let Some(plan) = Plan::of(&trial.config) else { return Ok(asking) };
    let first = trial.clock().text(trial.sensor.times_ms()[0]);
    if !plan.in_advance(first.get(..10).unwrap_or("")) {
        reasons.push(Reason::plain(
            "plan_not_in_advance",
            "the plan has no date on or before the first day of wear, so all is explored",
        ));
        return Ok(asking);
    }
    if let Some(Ok(outcome)) = plan.outcome.as_deref().map(str::parse::<Outcome>) {
        asking = Asking { outcome, margin: outcome.margin(), ..asking };
    }
    asking.planned = plan.contrasts;
    Ok(asking)
}

pub(super) fn helps(trial: &Trial, meals: &Responses, options: Options) -> Result<Answer, Error> {
    const QUESTION: &str = "What helps, and by how much?";
    let diary = diary(trial);
    let mut reasons = Vec::new();
    let asking = asking(trial, options, &mut reasons)?;
    let found = contrast::what_helps(meals, &diary, &asking)?;
    let rise = match asking.outcome {
        Outcome::Rise => None,
        _ => Some(contrast::what_helps(
            meals,
            &diary,
            &Asking { outcome: Outcome::Rise, margin: Outcome::Rise.margin(), ..asking.clone() },
        )?),
    };
    let walk = walk(rise.as_ref().unwrap_or(&found), options.level);
    let mut figures = vec![
        Figure::new(
            "walk_difference_mg_dl",
            "rise with a walk after the meal less without, same grams",
            "mg/dL",
            "as_sensor_reads",
            walk.difference.clone(),
        ),
        Figure::count("meals_with_walk", "meals with a walk", "1", walk.n_exposed as f64),
    ];
    if let Some(v) = walk.smallest_visible {
        figures.push(Figure::count(
            "walk_smallest_visible_mg_dl",
            "smallest effect such a trial sees with 80 % power",
            "mg/dL",
            v,
        ));
    }
    figures.push(Figure::count(
        "exposures_compared",
        "exposures compared, for which the wider intervals of the table allow",
        "1",
        found.iter().filter(|f| f.contrast.p_value.is_some()).count() as f64,
    ));
    let symptoms: Vec<i64> =
        diary.notes.iter().filter(|n| n.kind == "symptom").map(|n| n.time_ms).collect();
    let symptoms = contrast::symptoms::apart(&symptoms);
    let felt = contrast::at_symptoms(
        &trial.sensor,
        meals,
        &symptoms,
        &diary.clock,
        options.level,
        options.seed,
    )?;
    let mut answer = Answer::new("helps", QUESTION, figures, Vec::new());
    answer.reasons.extend(reasons);
    if let (Some(low), Some(high)) = (walk.difference.low, walk.difference.high)
        && low <= 0.0
        && high >= 0.0
    {
        let text = format!(
            "the interval holds zero, and differences from {low:.0} to {high:.0} mg/dL: can't tell whether a walk helps"
        );
        answer.reasons.push(Reason::plain("direction_unclear", &text));
        answer.status = super::Status::Partly;
    }
    if let Some(reason) = felt.first().and_then(|f| f.difference.reason.clone()) {
        answer.reasons.push(reason);
    }
    answer.cautions = vec!["went_with"];
    answer.tables.push(("what_helps".into(), helps_table(&found, asking.outcome)?));
    answer.tables.push(("balance".into(), balance_table(&found)?));
    answer.tables.push(("symptoms".into(), symptoms_table(&felt)?));
    Ok(answer)
}

/// The contrast of a walk, also when there was none.
fn walk(found: &[Finding], level: f64) -> Contrast {
    let own = found.iter().find(|f| f.exposure == "walk_after");
    own.map(|f| f.contrast.clone()).unwrap_or_else(|| {
        let needed = contrast::compare::MIN_EACH;
        let reason = Reason::count("too_few_meals", "meals on each side", 0, needed);
        Contrast {
            difference: Estimate::missing(level, "not told", 0, needed, reason),
            p_value: None,
            n: 0,
            n_exposed: 0,
            smallest_visible: None,
            residual_sd: None,
        }
    })
}

fn helps_table(found: &[Finding], outcome: Outcome) -> Result<Table, Error> {
    let mut t = Table::new();
    let number = |f: &dyn Fn(&Finding) -> Option<f64>| found.iter().map(f).collect::<Vec<_>>();
    let text = |f: &dyn Fn(&Finding) -> Option<String>| found.iter().map(f).collect::<Vec<_>>();
    let reason = |f: &Finding| f.contrast.difference.reason.as_ref().map(|r| r.text.clone());
    t.push_text("exposure", text(&|f| Some(f.exposure.clone())))?;
    t.push_text("outcome", text(&|_| Some(outcome.id().to_string())))?;
    t.push_text("unit", text(&|_| Some(outcome.unit().to_string())))?;
    t.push_text("compared", text(&|f| Some(if f.by_day { "days" } else { "meals" }.into())))?;
    t.push_bool("planned", found.iter().map(|f| f.planned).collect())?;
    t.push_i64("n", found.iter().map(|f| Some(f.contrast.n as i64)).collect())?;
    t.push_i64("n_exposed", found.iter().map(|f| Some(f.contrast.n_exposed as i64)).collect())?;
    t.push_f64("difference", number(&|f| f.contrast.difference.value))?;
    t.push_f64("low", number(&|f| f.contrast.difference.low))?;
    t.push_f64("high", number(&|f| f.contrast.difference.high))?;
    t.push_f64("p_value", number(&|f| f.contrast.p_value))?;
    t.push_f64("adjusted_p", number(&|f| f.adjusted_p))?;
    t.push_f64("adjusted_low", number(&|f| f.adjusted.low))?;
    t.push_f64("adjusted_high", number(&|f| f.adjusted.high))?;
    t.push_text("verdict", text(&|f| Some(f.verdict.code().into())))?;
    t.push_f64("smallest_visible", number(&|f| f.contrast.smallest_visible))?;
    t.push_f64("control_difference", number(&|f| f.control.difference.value))?;
    t.push_f64("control_p_value", number(&|f| f.control.p_value))?;
    t.push_f64("grams_with", number(&|f| f.balance.first().map(|b| b.with)))?;
    t.push_f64("grams_without", number(&|f| f.balance.first().map(|b| b.without)))?;
    t.push_text("adjusted_for", text(&|f| Some(f.adjusted_for.join(";"))))?;
    t.push_text("reason", text(&reason))?;
    Ok(t)
}

fn balance_table(found: &[Finding]) -> Result<Table, Error> {
    let rows = || found.iter().flat_map(|f| f.balance.iter().map(move |b| (f, b)));
    let mut t = Table::new();
    t.push_text("exposure", rows().map(|(f, _)| Some(f.exposure.clone())).collect())?;
    t.push_text("what", rows().map(|(_, b)| Some(b.what.clone())).collect())?;
    t.push_f64("with", rows().map(|(_, b)| Some(b.with)).collect())?;
    t.push_f64("without", rows().map(|(_, b)| Some(b.without)).collect())?;
    t.push_f64("standardised_difference", rows().map(|(_, b)| b.standardised).collect())?;
    Ok(t)
}

fn symptoms_table(felt: &[AtSymptoms]) -> Result<Table, Error> {
    let mut t = Table::new();
    let reason = |e: &Estimate| e.reason.as_ref().map(|r| r.text.clone());
    t.push_text("feature", felt.iter().map(|f| Some(f.feature.to_string())).collect())?;
    t.push_text("unit", felt.iter().map(|f| Some(f.unit.to_string())).collect())?;
    t.push_i64("n", felt.iter().map(|f| Some(f.difference.n as i64)).collect())?;
    t.push_f64("at_symptoms", felt.iter().map(|f| f.at_symptoms).collect())?;
    t.push_f64("difference", felt.iter().map(|f| f.difference.value).collect())?;
    t.push_f64("low", felt.iter().map(|f| f.difference.low).collect())?;
    t.push_f64("high", felt.iter().map(|f| f.difference.high).collect())?;
    t.push_f64("p_value", felt.iter().map(|f| f.p_value).collect())?;
    t.push_text("reason", felt.iter().map(|f| reason(&f.difference)).collect())?;
    Ok(t)
}

pub(super) fn change(trial: &Trial, meals: &Responses, options: Options) -> Result<Answer, Error> {
    const QUESTION: &str = "Did behaviour change during the wear?";
    let clock = trial.clock();
    let means = change::whole_days(&trial.sensor, &clock);
    let grams = |i: usize| meals.meals[i].net_carbs_g();
    let alone = comparable(meals, Outcome::Rise, true);
    let rise = |i: usize| meals.rise(i).filter(|_| alone.contains(&i));
    let daily =
        |sum, of: &dyn Fn(usize) -> Option<f64>| change::by_day(meals, &clock, &means, sum, of);
    let trend = |days: &Daily| change::trend(days, options.level);
    let less_drift =
        change::trend_less_drift(&means, &sensor_less_meter(trial, &clock)?, options.level)?;
    let figure = |id: &str, label: &str, unit, basis, e| Figure::new(id, label, unit, basis, e);
    let figures = vec![
        figure(
            "meal_size_trend_g_week",
            "trend of net carbohydrate per meal",
            "g/wk",
            "diary",
            trend(&daily(false, &grams))?,
        ),
        figure(
            "intake_trend_g_day_week",
            "trend of net carbohydrate logged a day",
            "g/d/wk",
            "diary",
            trend(&daily(true, &grams))?,
        ),
        figure(
            "rise_trend_mg_dl_week",
            "trend of the rise, not adjusted for grams",
            "mg/dL/wk",
            "as_sensor_reads",
            trend(&daily(false, &rise))?,
        ),
        figure(
            "mean_trend_mg_dl_week",
            "trend of mean glucose",
            "mg/dL/wk",
            "as_sensor_reads",
            trend(&means)?,
        ),
        figure(
            "mean_trend_less_drift_mg_dl_week",
            "the same, less the sensor's drift against the meter",
            "mg/dL/wk",
            "against_meter",
            less_drift,
        ),
        figure(
            "next_meal_after_high_g",
            "grams of the meal after a rise over the target, less after one that was not",
            "g",
            "diary",
            next_meal(meals, &clock, options)?,
        ),
    ];
    let table = changes_table(&figures)?;
    let mut answer = Answer::new("change", QUESTION, figures, Vec::new());
    answer.reasons.push(Reason::plain(
        "watched_from_the_first_minute",
        "the effect of being watched from the first minute can't be known",
    ));
    answer.tables.push(("changes".into(), table));
    Ok(answer)
}

/// Day, with its fraction, and sensor less meter.
fn sensor_less_meter(trial: &Trial, clock: &LocalClock) -> Result<Vec<(f64, f64)>, Error> {
    let pairs = pair(&trial.meter, &trial.sensor, 15.0, How::Nearest, 0.0)?;
    let day = |t: i64| clock.day(t) as f64 + clock.minute_of_day(t) / 1440.0;
    let both = pairs.measured_mg_dl.iter().zip(&pairs.reference_mg_dl);
    Ok(pairs.times_ms.iter().zip(both).map(|(&t, (s, m))| (day(t), s - m)).collect())
}

fn next_meal(meals: &Responses, clock: &LocalClock, options: Options) -> Result<Estimate, Error> {
    let missing = |reason| Estimate::missing(options.level, "not told", 0, 0, reason);
    let Some(target) = meals.targets.rise_mg_dl else {
        return Ok(missing(Reason::plain("no_target", "needs a target for the rise")));
    };
    Ok(match change::adaptive_dosing(meals, clock, target, options.seed)? {
        Err(reason) => missing(reason),
        Ok(e) => {
            let (low, high) = e.interval(options.level);
            let n = e.n_exposed.min(e.n - e.n_exposed);
            let value = Estimate::new(e.value, e.value, e.value, options.level, e.method(), n);
            Estimate { low, high, ..value }
        }
    })
}

fn changes_table(figures: &[Figure]) -> Result<Table, Error> {
    let mut t = Table::new();
    let number = |f: &dyn Fn(&Estimate) -> Option<f64>| {
        figures.iter().map(|g| f(&g.estimate)).collect::<Vec<_>>()
    };
    t.push_text("what", figures.iter().map(|f| Some(f.id.clone())).collect())?;
    t.push_text("unit", figures.iter().map(|f| Some(f.unit.to_string())).collect())?;
    t.push_i64("n", figures.iter().map(|f| Some(f.estimate.n as i64)).collect())?;
    t.push_f64("value", number(&|e| e.value))?;
    t.push_f64("low", number(&|e| e.low))?;
    t.push_f64("high", number(&|e| e.high))?;
    t.push_text(
        "reason",
        figures.iter().map(|f| f.estimate.reason.as_ref().map(|r| r.text.clone())).collect(),
    )?;
    Ok(t)
}

pub(super) fn next(trial: &Trial, meals: &Responses, options: Options) -> Result<Answer, Error> {
    const QUESTION: &str = "What should we test next?";
    let rows = comparable(meals, Outcome::Rise, false);
    let Some(sd) = single_meal_sd(meals, &rows)? else {
        let needed = MIN_MEALS_FOR_SPREAD;
        let reason = Reason::count("too_few_meals", "comparable meals", rows.len(), needed);
        return Ok(Answer::new("next", QUESTION, Vec::new(), vec![reason]));
    };
    let aim = Aim { effect: PLAN_EFFECT_MG_DL, sd, power: PLAN_POWER, level: options.level };
    let walked = meals.walks.iter().filter(|w| w.is_some()).count();
    let pairs = aim.pairs()?;
    let figures = vec![
        Figure::count(
            "single_meal_sd_mg_dl",
            "spread of single meals at the same grams",
            "mg/dL",
            sd,
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
    answer.tables.push(("plan".into(), plan_table(&wish, aim)?));
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
fn plan_table(wish: &Wish, aim: Aim) -> Result<Table, Error> {
    let mut rows: Vec<(String, String)> = [
        ("question", "does a walk after the meal lower the rise, at the same grams?".to_string()),
        ("outcome", Outcome::Rise.id().to_string()),
        ("contrast", wish.with.clone()),
        ("target", format!("{} mg/dL", aim.effect)),
        ("pairs", wish.pairs.to_string()),
        ("power", format!("{:.2}", aim.power_of_pairs(wish.pairs)?)),
        ("level", aim.level.to_string()),
        ("seed", wish.seed.to_string()),
        ("analysis", "mean difference of pairs, Student's t; signs; carry-over and period".into()),
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
