//! Question 1: is there enough data, and is it clean?

use super::answer::{Answer, Figure};
use super::enough;
use crate::error::Error;
use crate::estimate::Reason;
use crate::panel::local;
use crate::panel::sufficiency::{CONSENSUS_ACTIVE_PCT, CONSENSUS_DAYS, Sufficiency, sufficiency};
use crate::table::Table;
use crate::trial::Trial;

pub(super) fn answer(trial: &Trial) -> Result<Answer, Error> {
    let coverage = trial.sensor.coverage();
    let cleaning = trial.sensor.cleaning();
    let there = sufficiency(trial.sensor.view(), None)?;
    let mut figures = vec![
        Figure::count("readings", "readings", "1", coverage.n as f64),
        Figure::count("days", "days from first to last reading", "d", coverage.days),
        Figure::count("active_pct", "active time", "%", coverage.active_pct),
        Figure::count("gaps", "gaps", "1", coverage.gaps as f64),
        Figure::count("longest_gap_min", "longest gap", "min", coverage.longest_gap_min),
        Figure::count("duplicates", "duplicated readings dropped", "1", cleaning.duplicates as f64),
        Figure::count(
            "conflicts",
            "conflicting readings set aside",
            "1",
            cleaning.conflicts as f64,
        ),
        Figure::count("missing", "rows without a value", "1", cleaning.missing as f64),
        Figure::count("sorted", "readings out of order, sorted", "1", cleaning.sorted as f64),
        Figure::count(
            "censored_low",
            "readings below the sensor's limit",
            "1",
            cleaning.censored_low as f64,
        ),
        Figure::count(
            "censored_high",
            "readings above the sensor's limit",
            "1",
            cleaning.censored_high as f64,
        ),
        Figure::count(
            "problem_rows",
            "rows that could not be used",
            "1",
            trial.problems.len() as f64,
        ),
        Figure::count("meals", "meals in the diary", "1", trial.meals.len() as f64),
        Figure::count("meter_readings", "meter readings", "1", trial.meter.len() as f64),
    ];
    figures.extend(enough::figures(&there));
    if let Some(ratio) = first_day_ratio(trial) {
        figures.push(Figure::count(
            "first_day_wobble_ratio",
            "step-to-step movement of the first day over that of the rest",
            "1",
            ratio,
        ));
    }
    let mut reasons = shortages(&there);
    for name in &trial.absent {
        reasons.push(Reason::plain(
            "no_file",
            &format!("no {name}.csv: the answers that need it say so"),
        ));
    }
    let mut answer =
        Answer::new("data", "Is there enough data, and is it clean?", figures, Vec::new());
    answer.reasons = reasons;
    if answer.reasons.iter().any(|r| r.code != "no_file") {
        answer.status = super::Status::Partly;
    }
    answer.tables.push(("sufficiency".into(), enough::table(&there)?));
    answer.tables.push(("days".into(), days(trial)?));
    if let Ok(local) = &there.local {
        answer.tables.push(("hours".into(), enough::hours(local)?));
    }
    answer.tables.push(("strips".into(), enough::strips(trial.sensor.view())?));
    answer.tables.push(("gaps".into(), gaps(trial)?));
    if !trial.problems.is_empty() {
        answer.tables.push(("problems".into(), problems(trial)?));
    }
    Ok(answer)
}

/// Where the consensus is missed by more than half a day, or in active time.
fn shortages(there: &Sufficiency) -> Vec<Reason> {
    let short = |code: &str, had: f64, needed: f64, text: String| Reason {
        code: code.into(),
        had: Some(had),
        needed: Some(needed),
        text,
    };
    let mut reasons = Vec::new();
    if there.days < CONSENSUS_DAYS - enough::HALF_DAY {
        let text = format!("{CONSENSUS_DAYS} days are advised, there are {:.1}", there.days);
        reasons.push(short("too_few_days", there.days, CONSENSUS_DAYS, text));
    }
    if !there.enough_active {
        let (had, needed) = (there.active_pct, CONSENSUS_ACTIVE_PCT);
        let text = format!("{needed} % active time is advised, there is {had:.0} %");
        reasons.push(short("low_coverage", had, needed, text));
    }
    reasons
}

/// Mean absolute step of the first 24 hours over that of the rest.
fn first_day_ratio(trial: &Trial) -> Option<f64> {
    let (times, glucose) = (trial.sensor.times_ms(), trial.sensor.glucose_mg_dl());
    let split = times.partition_point(|&t| t < times[0] + crate::clock::DAY_MS);
    let steps = |g: &[f64]| -> Option<f64> {
        crate::stats::moments::mean(&g.windows(2).map(|w| (w[1] - w[0]).abs()).collect::<Vec<_>>())
    };
    Some(steps(&glucose[..split])? / steps(&glucose[split..]).filter(|s| *s > 0.0)?)
}

fn days(trial: &Trial) -> Result<Table, Error> {
    let clock = trial.clock();
    let numbers = local::days(trial.sensor.view(), &clock);
    let mut t = Table::new();
    let start = |d: i64| clock.day_start(d);
    let view = |d: i64| trial.sensor.window(start(d), start(d + 1) - 1);
    let date = |d: i64| clock.text(start(d)).chars().take(10).collect::<String>();
    t.push_text("day", numbers.iter().map(|&d| Some(date(d))).collect())?;
    t.push_i64("readings", numbers.iter().map(|&d| Some(view(d).len() as i64)).collect())?;
    t.push_f64(
        "mean_mg_dl",
        numbers.iter().map(|&d| crate::stats::moments::mean(view(d).glucose_mg_dl())).collect(),
    )?;
    t.push_f64(
        "longest_gap_min",
        numbers.iter().map(|&d| Some(view(d).coverage().longest_gap_min)).collect(),
    )?;
    Ok(t)
}

fn gaps(trial: &Trial) -> Result<Table, Error> {
    let clock = trial.clock();
    let gaps = trial.sensor.gaps();
    let mut t = Table::new();
    t.push_text("from", gaps.iter().map(|g| Some(clock.text(g.from_ms))).collect())?;
    t.push_text("to", gaps.iter().map(|g| Some(clock.text(g.to_ms))).collect())?;
    t.push_f64("minutes", gaps.iter().map(|g| Some(g.minutes)).collect())?;
    t.push_bool("sensor_change", gaps.iter().map(|g| g.sensor_change).collect())?;
    Ok(t)
}

fn problems(trial: &Trial) -> Result<Table, Error> {
    let all = &trial.problems;
    let mut t = Table::new();
    t.push_text("file", all.iter().map(|p| Some(p.file.clone())).collect())?;
    t.push_i64("line", all.iter().map(|p| Some(p.line as i64)).collect())?;
    t.push_text("column", all.iter().map(|p| Some(p.column.clone())).collect())?;
    t.push_text("message", all.iter().map(|p| Some(p.message.clone())).collect())?;
    Ok(t)
}
