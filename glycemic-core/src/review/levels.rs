//! Question 3: where does glucose sit?

use std::collections::BTreeMap;

use super::answer::{Answer, Figure, Options};
use super::episodes::Found;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::panel::modal_day::{ModalDay, ModalOptions, Smoothing, modal_day};
use crate::panel::{self, Blood, Id, Population, grid, outside_population};
use crate::table::Table;
use crate::trial::Trial;

/// The measures shown, with a few words each.
const SHOWN: &[(Id, &str)] = &[
    (Id::MeanMgDl, "mean"),
    (Id::SdMgDl, "standard deviation"),
    (Id::CvPct, "coefficient of variation"),
    (Id::FastingMgDl, "fasting"),
    (Id::OvernightMgDl, "overnight"),
    (Id::GmiPct, "glucose management indicator"),
    (Id::Ea1cPct, "estimated A1c"),
    (Id::InRangePct, "time in 70-180 mg/dL"),
    (Id::TightRangePct, "time in 70-140 mg/dL"),
    (Id::Below70Pct, "time below 70 mg/dL"),
    (Id::Above180Pct, "time above 180 mg/dL"),
];

/// The levels shown in blood too.
const IN_BLOOD: &[Id] =
    &[Id::MeanMgDl, Id::FastingMgDl, Id::OvernightMgDl, Id::GmiPct, Id::Ea1cPct];

fn words(id: Id) -> &'static str {
    SHOWN.iter().find(|s| s.0 == id).map_or(id.measure().what, |s| s.1)
}

pub(super) fn answer(
    trial: &Trial,
    blood: Option<Blood>,
    options: Options,
) -> Result<Answer, Error> {
    let meals: Vec<i64> = trial.meals.iter().map(|m| m.time_ms).collect();
    let view = trial.sensor.view();
    let as_read = panel::intervals(view, &meals, options.level);
    let mut figures = Vec::new();
    for (id, label) in SHOWN {
        if let Some((_, estimate)) = as_read.iter().find(|e| e.0 == *id) {
            let m = id.measure();
            figures.push(Figure::new(m.name, label, m.unit, "as_sensor_reads", estimate.clone()));
        }
    }
    let mut reasons = Vec::new();
    match blood {
        Some(blood) => {
            let in_blood = panel::intervals_in_blood(view, &meals, blood, options.level);
            for (id, estimate) in in_blood.into_iter().filter(|e| IN_BLOOD.contains(&e.0)) {
                let m = id.measure();
                figures.push(Figure::new(
                    &format!("{}_in_blood", m.name),
                    &format!("{} in blood", words(id)),
                    m.unit,
                    "in_blood",
                    estimate,
                ));
            }
        }
        None => reasons.push(Reason::plain(
            "no_blood",
            "without enough meter pairs nothing can be said of levels in blood",
        )),
    }
    let day = modal_day(view, &ModalOptions::default())?;
    match &day {
        Ok(day) => figures.extend(about_the_modal_day(day)),
        Err(reason) => reasons.push(reason.clone()),
    }
    let mut answer = Answer::new("levels", "Where does glucose sit?", figures, reasons);
    // Says what is not there; the answer is no less whole for it.
    answer.reasons.push(Reason::plain(
        "population_not_stated",
        "population not stated: no published targets stand beside the panel; a measure marked \
         there does not carry over to people without diabetes",
    ));
    let concerned = super::cautions::concerning(trial);
    answer.cautions = ["fasting_high", "repeated_low", "repeated_high"]
        .into_iter()
        .filter(|c| concerned.contains(c))
        .collect();
    let episodes = Found::of(trial)?;
    if episodes.unchecked_at_night(trial) {
        answer.cautions.push("possibly_pressure");
    }
    answer.tables.push(("panel".into(), panel_table(trial, &meals, &as_read)?));
    if let Ok(day) = &day {
        answer.tables.push(("modal_day".into(), day.table()?));
    }
    answer.tables.push(("episodes".into(), episodes.table(trial)?));
    answer.tables.push(("histogram".into(), histogram(trial)?));
    Ok(answer)
}

/// How the modal day was smoothed, and the fewest days that stand behind a point of it.
fn about_the_modal_day(day: &ModalDay) -> Vec<Figure> {
    let fewest = day.points.iter().map(|p| p.days).min().unwrap_or(0) as f64;
    let mut figures = vec![Figure::count(
        "modal_day_fewest_days",
        "modal day: fewest days behind a clock time",
        "1",
        fewest,
    )];
    if let Smoothing::Local { bandwidth_min } = ModalOptions::default().smoothing {
        figures.push(Figure::count(
            "modal_day_bandwidth_min",
            "modal day: reach of the smoothing kernel (tricube) either way",
            "min",
            bandwidth_min,
        ));
    }
    figures
}

/// Every measure with its interval, its source, why something is missing, and why it would not
/// carry over to people without diabetes.
fn panel_table(
    trial: &Trial,
    meals_ms: &[i64],
    as_read: &[(Id, Estimate)],
) -> Result<Table, Error> {
    let p = panel::panel(trial.sensor.view(), meals_ms);
    let text = |f: &dyn Fn(Id) -> &'static str| {
        as_read.iter().map(|e| Some(f(e.0).to_string())).collect::<Vec<_>>()
    };
    let outside = |id: Id| outside_population(id, Population::WithoutDiabetes).map(String::from);
    let mut t = Table::new();
    t.push_text("measure", text(&|id| id.measure().name))?;
    t.push_text("what", text(&|id| id.measure().what))?;
    t.push_text("unit", text(&|id| id.measure().unit))?;
    t.push_f64("value", as_read.iter().map(|e| p.get(e.0)).collect())?;
    t.push_f64("low", as_read.iter().map(|e| e.1.low).collect())?;
    t.push_f64("high", as_read.iter().map(|e| e.1.high).collect())?;
    t.push_text("source", text(&|id| id.measure().source))?;
    let reasons = as_read.iter().map(|e| e.1.reason.as_ref().map(|r| r.text.clone()));
    t.push_text("reason", reasons.collect())?;
    let marks = as_read.iter().map(|e| outside(e.0));
    t.push_text("outside_people_without_diabetes", marks.collect())?;
    Ok(t)
}

/// Readings in bins of five steps of mg/dL or three of mmol/L (0.3): `from_mg_dl` (included),
/// `to_mg_dl` (excluded), `readings`.
fn histogram(trial: &Trial) -> Result<Table, Error> {
    let unit = trial.sensor.unit();
    let steps = match unit {
        crate::Unit::MmolL => 3,
        _ => 5,
    };
    let mut bins: BTreeMap<i64, i64> = BTreeMap::new();
    for &g in trial.sensor.glucose_mg_dl() {
        *bins.entry((grid::nearest_code(g, unit) as i64).div_euclid(steps)).or_default() += 1;
    }
    let edge = |bin: i64| (bin * steps) as f64 * grid::step_mg_dl(unit);
    let mut t = Table::new();
    t.push_f64("from_mg_dl", bins.keys().map(|&b| Some(edge(b))).collect())?;
    t.push_f64("to_mg_dl", bins.keys().map(|&b| Some(edge(b + 1))).collect())?;
    t.push_i64("readings", bins.values().map(|&n| Some(n)).collect())?;
    Ok(t)
}
