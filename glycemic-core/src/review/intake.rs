//! Questions 5 and 6: how much net carbohydrate, and which meals behaved like more.

use super::answer::{Answer, Figure, Options};
use crate::agreement::summary::mean_estimate;
use crate::error::Error;
use crate::estimate::Reason;
use crate::meals::Responses;
use crate::table::Table;
use crate::tolerance::{self, Fit};
use crate::trial::Trial;

/// Probability of the safe grams.
pub const SAFE_PROBABILITY: f64 = 0.8;

/// The fit, if there is a target for the rise.
pub(super) fn fit(meals: &Responses, options: Options) -> Result<Option<Fit>, Error> {
    let Some(target) = meals.targets.rise_mg_dl else { return Ok(None) };
    let (grams, rises, noise_sd_mg_dl) = tolerance::fit::usable(meals);
    let choices = tolerance::Options {
        rise_mg_dl: target,
        level: options.level,
        resamples: options.resamples,
        seed: options.seed,
        noise_sd_mg_dl,
    };
    tolerance::fit(&grams, &rises, choices).map(Some)
}

pub(super) fn limits(
    trial: &Trial,
    meals: &Responses,
    fit: Option<&Fit>,
    options: Options,
) -> Result<Answer, Error> {
    const QUESTION: &str =
        "How much net carbohydrate can this person eat in a meal and stay under the target?";
    let Some(fit) = fit else {
        let reason = Reason::plain(
            "no_target",
            "trial.json names no target for the rise, and there is no default",
        );
        return Ok(Answer::new("tolerance", QUESTION, Vec::new(), vec![reason]));
    };
    let mut figures = vec![
        Figure::count("meals_used", "clean meals with grams, not eaten out", "1", fit.n as f64),
        Figure::new(
            "safe_g",
            "safe grams: a new meal stays under with 80 %",
            "g",
            "as_sensor_reads",
            fit.safe_g(SAFE_PROBABILITY)?,
        ),
        Figure::new(
            "limit_g",
            "mean limit: about half of such meals go over",
            "g",
            "as_sensor_reads",
            fit.limit_g.clone(),
        ),
    ];
    if let Some(line) = &fit.line {
        let slope = line.slope_estimate(options.level, "weighted line, HC3");
        figures.push(Figure::new(
            "slope_mg_dl_g",
            "rise per gram",
            "mg/dL/g",
            "as_sensor_reads",
            slope,
        ));
    }
    let mut reasons = vec![in_blood(trial)];
    if meals.targets.peak_mg_dl.is_some() {
        reasons.push(Reason::plain("peak_not_modelled", "the limit keeps the rise under its target; the target for the peak is counted under question 4, not modelled"));
    }
    let mut answer = Answer::new("tolerance", QUESTION, figures, Vec::new());
    answer.reasons.append(&mut reasons);
    answer.cautions = vec!["mean_limit", "not_lower_is_better", "licensed_care"];
    answer.tables.push(("dose_response".into(), curve(fit)?));
    answer.tables.push(("doses".into(), doses(fit)?));
    Ok(answer)
}

/// Why the limit is not given in blood.
fn in_blood(trial: &Trial) -> Reason {
    let text = if trial.meter.is_empty() {
        "the limit is as the sensor reads; in blood it needs a meter"
    } else {
        "the limit is as the sensor reads; in blood it needs rises by meter before and after meals (question 2), which are too few or not used yet"
    };
    Reason::plain("limit_not_in_blood", text)
}

fn curve(fit: &Fit) -> Result<Table, Error> {
    let mut t = Table::new();
    if fit.line.is_none() {
        return Ok(t);
    }
    let (least, most) = fit.doses_g;
    let grams: Vec<f64> = (0..=40).map(|i| least + (most - least) * f64::from(i) / 40.0).collect();
    let means: Vec<crate::Estimate> = grams.iter().map(|&g| fit.predict(g.min(most))).collect();
    t.push_f64("net_carbs_g", grams.iter().map(|g| Some(*g)).collect())?;
    t.push_f64("mean_rise_mg_dl", means.iter().map(|e| e.value).collect())?;
    t.push_f64("low_mg_dl", means.iter().map(|e| e.low).collect())?;
    t.push_f64("high_mg_dl", means.iter().map(|e| e.high).collect())?;
    Ok(t)
}

fn doses(fit: &Fit) -> Result<Table, Error> {
    let (grams, rises) = fit.data();
    let mut t = Table::new();
    t.push_f64("net_carbs_g", grams.iter().map(|g| Some(*g)).collect())?;
    t.push_f64("rise_mg_dl", rises.iter().map(|r| Some(*r)).collect())?;
    Ok(t)
}

/// Meals eaten out against the fit of the others. They are named by their tag before any rise is
/// looked at, so none is picked for being extreme.
pub(super) fn misfits(
    meals: &Responses,
    fit: Option<&Fit>,
    options: Options,
) -> Result<Answer, Error> {
    const QUESTION: &str = "Which meals behaved like more carbohydrate than the diary says?";
    let Some(fit) = fit.filter(|f| f.line.is_some()) else {
        let reason = Reason::plain("no_fit", "needs the dose-response of question 5");
        return Ok(Answer::new("misfits", QUESTION, Vec::new(), vec![reason]));
    };
    let mut rows = Vec::new();
    for (i, meal) in meals.meals.iter().enumerate() {
        let out = meal.tags.iter().any(|t| t == "eating-out");
        if let (true, true, Some(grams), Some(rise)) =
            (out, meals.is_clean(i), meal.net_carbs_g(), meals.rise(i))
        {
            rows.push((i, grams, rise, fit.equivalent_load(rise)));
        }
    }
    if rows.is_empty() {
        let reason = Reason::count("too_few_meals", "clean meals eaten out with grams", 0, 1);
        return Ok(Answer::new("misfits", QUESTION, Vec::new(), vec![reason]));
    }
    let mut figures = vec![Figure::count(
        "meals_compared",
        "meals eaten out, compared with the others",
        "1",
        rows.len() as f64,
    )];
    let line_at = |g: f64| fit.line.as_ref().map_or(0.0, |l| l.at(g));
    let extra: Vec<f64> = rows.iter().map(|r| r.2 - line_at(r.1)).collect();
    let each: Vec<i64> = (0..extra.len() as i64).collect();
    let mean = mean_with_line(
        &extra,
        &each,
        &rows.iter().map(|r| r.1).collect::<Vec<_>>(),
        fit,
        options.level,
    );
    figures.push(Figure::new(
        "eating_out_extra_rise_mg_dl",
        "rise of meals eaten out beyond what their diary grams give",
        "mg/dL",
        "as_sensor_reads",
        mean,
    ));
    let mut answer = Answer::new("misfits", QUESTION, figures, Vec::new());
    answer.reasons.push(Reason::plain("only_eaten_out", "only meals tagged eating-out are compared; a search over all meals needs a stated false-discovery rate"));
    answer.cautions = vec!["behaved_like"];
    let mut t = Table::new();
    t.push_i64("time_ms", rows.iter().map(|r| Some(meals.rows[r.0].time_ms)).collect())?;
    t.push_text("label", rows.iter().map(|r| meals.meals[r.0].label.clone()).collect())?;
    t.push_f64("diary_net_carbs_g", rows.iter().map(|r| Some(r.1)).collect())?;
    t.push_f64("rise_mg_dl", rows.iter().map(|r| Some(r.2)).collect())?;
    t.push_f64("equivalent_g", rows.iter().map(|r| r.3.value).collect())?;
    t.push_f64("equivalent_low_g", rows.iter().map(|r| r.3.low).collect())?;
    t.push_f64("equivalent_high_g", rows.iter().map(|r| r.3.high).collect())?;
    answer.tables.push(("equivalent_loads".into(), t));
    Ok(answer)
}

/// Mean of residuals from the line, the line's own variance at these doses added.
fn mean_with_line(
    extra: &[f64],
    each: &[i64],
    grams: &[f64],
    fit: &Fit,
    level: f64,
) -> crate::Estimate {
    let (mut e, se) = mean_estimate(extra, each, level);
    let (Some(line), Some(se), Some(value)) = (&fit.line, se, e.value) else { return e };
    let centre = grams.iter().sum::<f64>() / grams.len() as f64;
    let variance = se * se + crate::stats::line::Line::variance_at(centre, &line.cov_hc3).max(0.0);
    let half =
        crate::stats::distribution::t_two_sided(level, extra.len() as f64 - 1.0) * variance.sqrt();
    e.low = Some(value - half);
    e.high = Some(value + half);
    e.method = "mean residual from the dose-response, its variance added, Student's t".into();
    e
}
