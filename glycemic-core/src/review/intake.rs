//! Questions 5 and 6: how much net carbohydrate, and which meals behaved like more.

use super::answer::{Answer, Figure, Options};
use crate::agreement::summary::mean_estimate;
use crate::error::Error;
use crate::estimate::Reason;
use crate::meals::{EATEN_OUT, Responses};
use crate::panel::METER_BIAS_SD_PCT;
use crate::table::Table;
use crate::tolerance::model::{self, Points};
use crate::tolerance::tagged::{self, Load};
use crate::tolerance::{self, Fit, blood, portions, search, tables, terms};
use crate::trial::Trial;

/// Probability of the safe grams.
pub const SAFE_PROBABILITY: f64 = 0.8;

/// The fit over the person's own mix of kinds, if there is a target for the rise.
pub(super) fn fit(meals: &Responses, options: Options) -> Result<Option<Fit>, Error> {
    let Some(target) = meals.targets.rise_mg_dl else { return Ok(None) };
    // The time of day is left out here: it made the interval no better in the study.
    let points = model::points(meals, |_| None);
    let choices = choices(target, &points, options);
    Ok(Some(model::fit_meals(&points.meals, &points.mix, choices)?.fit))
}

fn choices(rise_mg_dl: f64, points: &Points, options: Options) -> tolerance::Options {
    tolerance::Options {
        rise_mg_dl,
        level: options.level,
        noise_sd_mg_dl: points.noise_sd_mg_dl,
        noise_shift: points.noise_shift,
    }
}

/// The meals with kind of food and part of the day, by the trial's clock.
fn sorted_points(trial: &Trial, meals: &Responses) -> Points {
    let clock = trial.clock();
    model::points(meals, |ms| Some(clock.minute_of_day(ms)))
}

pub(super) fn limits(
    trial: &Trial,
    meals: &Responses,
    fit: Option<&Fit>,
    lag_min: Option<f64>,
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
    if let Some(peak) = meals.targets.peak_mg_dl {
        figures.push(Figure::new(
            "safe_under_peak_g",
            "safe grams: a new meal stays under both targets with 80 %",
            "g",
            "as_sensor_reads",
            fit.safe_under_peak_g(SAFE_PROBABILITY, peak, &tolerance::glucose_before(meals))?,
        ));
    }
    let safe = figures.iter().find(|f| f.id == "safe_g").and_then(|f| f.estimate.value);
    let mut answer = Answer::new("tolerance", QUESTION, figures, Vec::new());
    match in_blood(trial, fit, lag_min, options.level)? {
        Ok(figures) => answer.figures.extend(figures),
        Err(reason) => answer.reasons.push(reason),
    }
    let points = sorted_points(trial, meals);
    let sorts = model::fit_meals(&points.meals, &points.mix, fit.options)?;
    answer.tables.push(("limits_by_sort".into(), tables::limits_by_sort(&sorts, options.level)?));
    answer.tables.push(("forms".into(), tables::forms(&sorts.plain)?));
    let nominal_min = trial.sensor.nominal_ms() as f64 / 60_000.0;
    let beside = terms::terms(meals, nominal_min, options.level)?;
    answer.tables.push(("beside_grams".into(), terms::table(&beside)?));
    answer.tables.push(("portions".into(), own_foods(meals, safe)?));
    answer.cautions = vec!["mean_limit", "not_lower_is_better", "licensed_care"];
    answer.tables.push(("dose_response".into(), curve(fit)?));
    answer.tables.push(("doses".into(), doses(fit)?));
    Ok(answer)
}

/// The foods eaten at least twice, beside the safe grams.
fn own_foods(meals: &Responses, safe_g: Option<f64>) -> Result<Table, Error> {
    let named: Vec<(&str, f64)> =
        meals.meals.iter().filter_map(|m| m.label.as_deref().zip(m.net_carbs_g())).collect();
    tables::own_foods(&portions(&named, safe_g))
}

/// The limits in blood, where the meter saw enough meals; else why not.
fn in_blood(
    trial: &Trial,
    fit: &Fit,
    lag_min: Option<f64>,
    level: f64,
) -> Result<Result<[Figure; 2], Reason>, Error> {
    let clock = trial.clock();
    let meals: Vec<i64> = trial.meals.iter().map(|m| m.time_ms).collect();
    let (day, lag_min) = (|ms: i64| clock.day(ms), lag_min.unwrap_or(0.0));
    let (meter, sensor, events) = (&trial.meter, &trial.sensor, super::trust::events(trial));
    let changes = blood::changes_in_time(meter, sensor, &events, &meals, day, lag_min, level)?;
    let found = blood::limits_in_blood(fit, &changes, SAFE_PROBABILITY, METER_BIAS_SD_PCT)?;
    if let (None, Some(why)) = (found.gain.value, found.gain.reason) {
        let text = format!("no limits in blood: {}", why.text);
        return Ok(Err(Reason { code: "limit_not_in_blood".into(), text, ..why }));
    }
    let figure = |id, label, estimate| Figure::new(id, label, "g", "in_blood", estimate);
    let (safe, limit) = (found.safe_g, found.limit_g);
    Ok(Ok([
        figure("safe_in_blood_g", "safe grams for the rise in blood, by the meter", safe),
        figure("limit_in_blood_g", "mean limit for the rise in blood, by the meter", limit),
    ]))
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

/// Meals that do not fit: a search over all of them at a stated false-discovery rate; and, apart,
/// meals eaten out, which are named by their tag before any rise is looked at.
pub(super) fn misfits(
    trial: &Trial,
    meals: &Responses,
    fit: Option<&Fit>,
    options: Options,
) -> Result<Answer, Error> {
    const QUESTION: &str = "Which meals behaved like more carbohydrate than the diary says?";
    let Some(fit) = fit.filter(|f| f.line.is_some()) else {
        let reason = Reason::plain("no_fit", "needs the dose-response of question 5");
        return Ok(Answer::new("misfits", QUESTION, Vec::new(), vec![reason]));
    };
    let out = tagged::loads_against(meals, EATEN_OUT, fit)?;
    let mut figures = Vec::new();
    if !out.is_empty() {
        figures = eaten_out_figures(&out, fit, options);
    }
    let rate = tolerance::misfits::FALSE_DISCOVERY_RATE;
    let clock = trial.clock();
    let found = search::search(meals, |ms| Some(clock.minute_of_day(ms)), fit.options, rate)?;
    let (tested, listed) = (found.found.tested.len(), found.listed());
    figures.push(Figure::count("meals_tested", "meals set against the others", "1", tested as f64));
    figures.push(Figure::count(
        "meals_listed",
        "meals that rose more than their diary grams give",
        "1",
        listed.len() as f64,
    ));
    let mut answer = Answer::new("misfits", QUESTION, figures, Vec::new());
    if out.is_empty() {
        let what = "clean meals eaten out with grams";
        answer.reasons.push(Reason::count("too_few_meals", what, 0, 1));
    }
    answer.reasons.push(Reason::plain("repeat_to_know", "of the meals listed about one in ten is there by chance; what may have been the reason is not shown to be it until the meal is repeated"));
    answer.cautions = vec!["behaved_like"];
    if !out.is_empty() {
        answer.tables.push(("equivalent_loads".into(), tagged::table(meals, &out)?));
    }
    answer.tables.push((
        "misfits".into(),
        search::table(meals, &listed, rate, |i| reasons(trial, meals, i))?,
    ));
    Ok(answer)
}

fn eaten_out_figures(out: &[Load], fit: &Fit, options: Options) -> Vec<Figure> {
    let line_at = |g: f64| fit.line.as_ref().map_or(0.0, |l| l.at(g));
    let extra: Vec<f64> = out.iter().map(|l| l.rise_mg_dl - line_at(l.net_carbs_g)).collect();
    let each: Vec<i64> = (0..extra.len() as i64).collect();
    let grams: Vec<f64> = out.iter().map(|l| l.net_carbs_g).collect();
    let mean = mean_with_line(&extra, &each, &grams, fit, options.level);
    vec![
        Figure::count(
            "meals_compared",
            "meals eaten out, compared with the others",
            "1",
            out.len() as f64,
        ),
        Figure::new(
            "eating_out_extra_rise_mg_dl",
            "rise of meals eaten out beyond what their diary grams give",
            "mg/dL",
            "as_sensor_reads",
            mean,
        ),
    ]
}

/// What may have been the reason of a meal's rise, by the diary and the trace.
fn reasons(trial: &Trial, meals: &Responses, place: usize) -> Vec<&'static str> {
    const DAY: i64 = 86_400_000;
    let clock = trial.clock();
    let first = trial.sensor.times_ms().first().copied().unwrap_or(0);
    let at = meals.rows[place].time_ms;
    let unwell = |n: &crate::trial::Note| ["stress", "illness"].contains(&n.kind.as_str());
    let noted = trial.notes.iter().any(|n| unwell(n) && clock.day(n.time_ms) == clock.day(at));
    tolerance::misfits::possible_reasons(meals, place, noted, at - first < DAY)
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
