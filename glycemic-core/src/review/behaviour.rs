//! Questions 7 to 9: what helps, did behaviour change, and what to test next.

use super::answer::{Answer, Figure, Options};
use crate::contrast::{self, Contrast};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::stats::distribution::normal_quantile;
use crate::stats::line;
use crate::tolerance::Fit;
use crate::trial::Trial;

/// Difference in rise that a plan should be able to see, mg/dL (a round number of our own).
const PLAN_EFFECT_MG_DL: f64 = 10.0;

/// Meals that may be compared: clean but for the exposure itself.
fn comparable(meals: &Responses) -> Vec<usize> {
    let spoilt =
        ["previous_meal_under_3h", "gap_at_peak", "no_baseline", "sensor_change", "outside_wear"];
    (0..meals.rows.len())
        .filter(|&i| {
            let r = &meals.rows[i];
            r.seen_min >= 115.0 && !spoilt.iter().any(|f| r.flags.contains(f))
        })
        .filter(|&i| meals.rise(i).is_some() && meals.meals[i].net_carbs_g().is_some())
        .collect()
}

pub(super) fn helps(meals: &Responses, options: Options) -> Result<Answer, Error> {
    let rows: Vec<usize> = comparable(meals)
        .into_iter()
        .filter(|&i| !meals.meals[i].tags.iter().any(|t| t == "eating-out"))
        // Exercise other than a walk after the meal is no part of this comparison.
        .filter(|&i| {
            meals.walks[i].is_some() || !meals.rows[i].flags.contains(&"exercise_in_window")
        })
        .collect();
    let outcome: Vec<f64> = rows.iter().filter_map(|&i| meals.rise(i)).collect();
    let grams: Vec<f64> = rows.iter().filter_map(|&i| meals.meals[i].net_carbs_g()).collect();
    let walked: Vec<bool> = rows.iter().map(|&i| meals.walks[i].is_some()).collect();
    // A walk lowers a rise in proportion: the difference is that at the mean grams.
    let walk: Contrast = contrast::compare(&outcome, &walked, &[grams], options.level)?;
    let mut figures = vec![Figure::new(
        "walk_difference_mg_dl",
        "rise with a walk after the meal less without, same grams",
        "mg/dL",
        "as_sensor_reads",
        walk.difference.clone(),
    )];
    figures.push(Figure::count("meals_with_walk", "meals with a walk", "1", walk.n_exposed as f64));
    if let Some(v) = walk.smallest_visible {
        figures.push(Figure::count(
            "walk_smallest_visible_mg_dl",
            "smallest effect such a trial sees with 80 % power",
            "mg/dL",
            v,
        ));
    }
    let mut answer = Answer::new("helps", "What helps, and by how much?", figures, Vec::new());
    answer.reasons.push(Reason::plain(
        "walk_only",
        "exercise days, sleep, stress and symptoms are read but not compared yet",
    ));
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
    answer.cautions = vec!["went_with"];
    Ok(answer)
}

pub(super) fn change(trial: &Trial, meals: &Responses, options: Options) -> Result<Answer, Error> {
    const QUESTION: &str = "Did behaviour change during the wear?";
    let start = trial.sensor.times_ms()[0];
    let day = |t: i64| (t - start) as f64 / 86_400_000.0;
    let logged: Vec<(f64, f64)> =
        meals.meals.iter().filter_map(|m| m.net_carbs_g().map(|g| (day(m.time_ms), g))).collect();
    let rises: Vec<(f64, f64)> = comparable(meals)
        .into_iter()
        .filter_map(|i| meals.rise(i).map(|r| (day(meals.rows[i].time_ms), r)))
        .collect();
    let figures = vec![
        Figure::new(
            "meal_size_trend_g_week",
            "trend of net carbohydrate per meal",
            "g/wk",
            "diary",
            trend(&logged, options.level)?,
        ),
        Figure::new(
            "rise_trend_mg_dl_week",
            "trend of the rise, not adjusted for grams",
            "mg/dL/wk",
            "as_sensor_reads",
            trend(&rises, options.level)?,
        ),
    ];
    let mut answer = Answer::new("change", QUESTION, figures, Vec::new());
    answer.reasons.push(Reason::plain(
        "watched_from_the_start",
        "the effect of being watched from the first minute can't be known",
    ));
    Ok(answer)
}

/// Slope per week of values over days, HC3.
fn trend(points: &[(f64, f64)], level: f64) -> Result<Estimate, Error> {
    const METHOD: &str = "straight line over the wear, HC3";
    const NEEDED: usize = 10;
    if points.len() < NEEDED {
        let reason = Reason::count("too_few_meals", "meals for a trend", points.len(), NEEDED);
        return Ok(Estimate::missing(level, METHOD, points.len(), NEEDED, reason));
    }
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let line = line::weighted(&x, &y, &vec![1.0; x.len()])?;
    Ok(line.slope_estimate(level, METHOD).needing(NEEDED).scaled(7.0, 0.0))
}

pub(super) fn next(
    meals: &Responses,
    fit: Option<&Fit>,
    options: Options,
) -> Result<Answer, Error> {
    const QUESTION: &str = "What should we test next?";
    let spread = fit.and_then(|f| f.line.as_ref().map(|l| (f, l)));
    let Some((fit, line)) = spread else {
        let reason = Reason::plain("no_fit", "needs the spread of single meals from question 5");
        return Ok(Answer::new("next", QUESTION, Vec::new(), vec![reason]));
    };
    let (grams, rises) = fit.data();
    let squares: f64 =
        grams.iter().zip(rises).map(|(&g, &r)| (r - line.at(g)) * (r - line.at(g))).sum();
    let sd = (squares / (fit.n as f64 - 2.0)).sqrt();
    let z = normal_quantile(0.5 + options.level / 2.0) + normal_quantile(0.8);
    let each = (2.0 * z * z * sd * sd / (PLAN_EFFECT_MG_DL * PLAN_EFFECT_MG_DL)).ceil().max(2.0);
    let walked = meals.walks.iter().filter(|w| w.is_some()).count();
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
            each,
        ),
        Figure::count("walks_so_far", "meals with a walk so far", "1", walked as f64),
    ];
    let mut answer = Answer::new("next", QUESTION, figures, Vec::new());
    answer.reasons.push(Reason::plain(
        "no_schedule",
        "a randomised schedule is not made yet; draw lots before each meal",
    ));
    Ok(answer)
}
