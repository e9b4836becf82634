//! Questions 7 and 8: what helps, and did behaviour change.

use super::answer::{Answer, Figure, Options};
use super::planned::Planned;
use crate::align::{How, pair};
use crate::clock::LocalClock;
use crate::contrast::change::{self, Daily};
use crate::contrast::outcome::comparable;
use crate::contrast::{self, Asking, Contrast, Diary, Finding, Night, Noted, Outcome, tables};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::table::Table;
use crate::trial::Trial;

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

pub(super) fn helps(trial: &Trial, meals: &Responses, options: Options) -> Result<Answer, Error> {
    const QUESTION: &str = "What helps, and by how much?";
    let diary = diary(trial);
    let planned = Planned::of(trial, meals, &diary, options)?;
    let asking = planned.asking.clone();
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
    let told = planned.told(&found)?;
    let mut figures = told.figures;
    figures.extend([
        Figure::new(
            "walk_difference_mg_dl",
            "rise with a walk after the meal less without, same grams",
            "mg/dL",
            "as_sensor_reads",
            walk.difference.clone(),
        ),
        Figure::count("meals_with_walk", "meals with a walk", "1", walk.n_exposed as f64),
    ]);
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
    answer.reasons.extend(told.reasons);
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
    answer.cautions = told.cautions;
    answer.tables.push(("what_helps".into(), tables::findings(&found, asking.outcome)?));
    answer.tables.push(("balance".into(), tables::balance(&found)?));
    answer.tables.push(("symptoms".into(), tables::symptoms(&felt)?));
    answer.tables.extend(told.tables);
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
    let told = change::adaptive_dosing(meals, clock, target, options.seed)?;
    Ok(contrast::helps::estimate(&told, options.level))
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
