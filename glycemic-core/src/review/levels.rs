//! Question 3: where does glucose sit?

use super::answer::{Answer, Figure, Options};
use crate::error::Error;
use crate::estimate::Reason;
use crate::panel::{self, Blood, Id};
use crate::stats::quantile;
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
            for (id, estimate) in panel::intervals_in_blood(view, &meals, blood, options.level) {
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
    let mut answer = Answer::new("levels", "Where does glucose sit?", figures, reasons);
    let concerned = super::cautions::concerning(trial);
    answer.cautions = ["fasting_high", "repeated_low", "repeated_high"]
        .into_iter()
        .filter(|c| concerned.contains(c))
        .collect();
    answer.tables.push(("panel".into(), panel_table(trial, &as_read)?));
    answer.tables.push(("modal_day".into(), modal_day(trial)?));
    Ok(answer)
}

fn panel_table(trial: &Trial, as_read: &[(Id, crate::Estimate)]) -> Result<Table, Error> {
    let meals: Vec<i64> = trial.meals.iter().map(|m| m.time_ms).collect();
    let p = panel::panel(trial.sensor.view(), &meals);
    let mut t = Table::new();
    t.push_text("measure", as_read.iter().map(|e| Some(e.0.measure().name.to_string())).collect())?;
    t.push_text("unit", as_read.iter().map(|e| Some(e.0.measure().unit.to_string())).collect())?;
    t.push_f64("value", as_read.iter().map(|e| p.get(e.0)).collect())?;
    t.push_f64("low", as_read.iter().map(|e| e.1.low).collect())?;
    t.push_f64("high", as_read.iter().map(|e| e.1.high).collect())?;
    t.push_text(
        "source",
        as_read.iter().map(|e| Some(e.0.measure().source.to_string())).collect(),
    )?;
    Ok(t)
}

/// Percentiles by half hour of the local day, unsmoothed, with the days behind each.
fn modal_day(trial: &Trial) -> Result<Table, Error> {
    const BINS: usize = 48;
    let clock = trial.clock();
    let mut bins: Vec<Vec<f64>> = vec![Vec::new(); BINS];
    let mut days: Vec<Vec<i64>> = vec![Vec::new(); BINS];
    for (t, g) in trial.sensor.times_ms().iter().zip(trial.sensor.glucose_mg_dl()) {
        let bin = ((clock.minute_of_day(*t) / 30.0) as usize).min(BINS - 1);
        bins[bin].push(*g);
        if days[bin].last() != Some(&clock.day(*t)) {
            days[bin].push(clock.day(*t));
        }
    }
    let mut t = Table::new();
    t.push_f64("minute_of_day", (0..BINS).map(|b| Some(b as f64 * 30.0 + 15.0)).collect())?;
    for (name, p) in [
        ("p05_mg_dl", 0.05),
        ("p25_mg_dl", 0.25),
        ("median_mg_dl", 0.5),
        ("p75_mg_dl", 0.75),
        ("p95_mg_dl", 0.95),
    ] {
        t.push_f64(name, bins.iter().map(|b| quantile::type7(&quantile::sorted(b), p)).collect())?;
    }
    t.push_i64("days", days.iter().map(|d| Some(d.len() as i64)).collect())?;
    Ok(t)
}
