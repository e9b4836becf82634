//! Question 4: what did each meal do?

use super::answer::{Answer, Figure, Options};
use crate::agreement::summary::mean_estimate;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::meals::{Responses, suspected_table};

pub(super) fn answer(meals: &Responses, options: Options) -> Result<Answer, Error> {
    let clean: Vec<usize> = (0..meals.rows.len()).filter(|&i| meals.is_clean(i)).collect();
    let mut figures = vec![
        Figure::count(
            "meals_with_response",
            "meals with a response",
            "1",
            meals.rows.iter().filter(|r| r.rise_mg_dl.is_some()).count() as f64,
        ),
        Figure::count("clean_meals", "meals alone in their window", "1", clean.len() as f64),
    ];
    let mut reasons = Vec::new();
    let mut mean_of = |id: &str, label: &str, unit, f: &dyn Fn(usize) -> Option<f64>| {
        let values: Vec<f64> = clean.iter().filter_map(|&i| f(i)).collect();
        if values.is_empty() {
            reasons.push(Reason::count("too_few_meals", &format!("clean meals for {label}"), 0, 3));
            return;
        }
        let each: Vec<i64> = (0..values.len() as i64).collect();
        figures.push(Figure::new(
            id,
            label,
            unit,
            "as_sensor_reads",
            mean_estimate(&values, &each, options.level).0,
        ));
    };
    mean_of("mean_rise_mg_dl", "mean rise as displayed", "mg/dL", &|i| meals.rows[i].rise_mg_dl);
    mean_of(
        "mean_rise_noise_aware_mg_dl",
        "mean rise with the noise's part taken off",
        "mg/dL",
        &|i| meals.rows[i].rise_noise_aware_mg_dl,
    );
    mean_of("mean_time_to_peak_min", "mean time to peak", "min", &|i| {
        meals.rows[i].time_to_peak_min
    });
    let over: Vec<bool> = (0..meals.rows.len()).filter_map(|i| meals.over_target(i)).collect();
    if over.is_empty() {
        reasons.push(Reason::plain(
            "no_target",
            "trial.json names no target, so no meal is over or under one",
        ));
    } else {
        let count = over.iter().filter(|o| **o).count();
        let (low, high) =
            crate::stats::binomial::clopper_pearson(count, over.len(), options.level)?;
        let e = Estimate::new(
            100.0 * count as f64 / over.len() as f64,
            100.0 * low,
            100.0 * high,
            options.level,
            "exact binomial, meals taken as independent",
            over.len(),
        );
        figures.push(Figure::new(
            "over_target_pct",
            "meals whose displayed rise or peak went over a target",
            "%",
            "as_sensor_reads",
            e,
        ));
    }
    match &meals.noise {
        Ok(n) => {
            figures.push(Figure::count(
                "noise_sd_mg_dl",
                "noise in windows without food",
                "mg/dL",
                n.sd_mg_dl,
            ));
            figures.push(Figure::count(
                "floor_rise_mg_dl",
                "rise that 95 % of windows without food stay under",
                "mg/dL",
                n.floor_rise_mg_dl,
            ));
        }
        Err(reason) => reasons.push(reason.clone()),
    }
    figures.extend(meals.smallest_rise_mg_dl().map(|rise| {
        let label = "smallest rise that can be told from none";
        Figure::count("smallest_rise_mg_dl", label, "mg/dL", rise)
    }));
    let suspected =
        meals.suspected.iter().filter(|s| s.probability > crate::meals::unlogged::FOUND).count();
    figures.push(Figure::count(
        "suspected_meals",
        "meals that the trace suggests and the diary lacks (offered, not assumed)",
        "1",
        suspected as f64,
    ));
    let mut answer = Answer::new("meals", "What did each meal do?", figures, reasons);
    answer.tables.push(("meals".into(), meals.table()?));
    if !meals.suspected.is_empty() {
        answer.tables.push(("suspected_meals".into(), suspected_table(&meals.suspected)?));
    }
    Ok(answer)
}
