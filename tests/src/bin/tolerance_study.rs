//! How often the interval of the limit and of the safe grams holds the truth, over simulated
//! trials in scenarios fixed in advance; beside it what could not be told, and how wide it is.
//!
//! `cargo run --release -p glycemic-tests --bin tolerance_study [TRIALS] [FIRST_SEED]`
//!
//! A trial is *told* when its estimate has a value; *bound* when it has none but an end (the
//! answer lies outside the doses eaten). Coverage is among the told, an open end reaching to
//! infinity; `se` is its Monte Carlo standard error, `low` and `high` its exact 99 % interval.
//! Width is of the intervals closed at both ends; bias is value less truth, both medians. The
//! order of threads changes nothing.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use glycemic_core::simulate::{Limits, Scenario, Simulated, rise_curve, trial};
use glycemic_core::stats::binomial::clopper_pearson;
use glycemic_core::{Error, Estimate, tolerance};
use glycemic_tests::simulated_responses;

const SCENARIOS: [&str; 6] =
    ["demo", "few_doses", "high_noise", "low_noise", "skewed_diary", "linked_days"];
const LEVEL: f64 = 0.90;
const SAFE_PROBABILITY: f64 = 0.8;
/// Seeds from here on are for final figures and never for tuning.
const FIRST_SEED: u64 = 2_000_000;

type Answers = (Estimate, Estimate);

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let trials: u64 = words.next().map_or(Ok(500), |w| w.parse())?;
    let first: u64 = words.next().map_or(Ok(FIRST_SEED), |w| w.parse())?;
    println!("level {LEVEL}, seeds {first} to {}", first + trials - 1);
    println!(
        "{:<13} {:<8} {:>6} {:>7} {:>7} {:>7} {:>9} {:>6} {:>6} {:>6} {:>6} {:>7} {:>6}",
        "scenario",
        "figure",
        "truth",
        "trials",
        "told %",
        "bound %",
        "covered %",
        "se",
        "low",
        "high",
        "open %",
        "width g",
        "bias g"
    );
    for id in SCENARIOS {
        let scenario = Scenario::named(id).ok_or("no such scenario")?;
        let truth: Limits = rise_curve(&scenario).limits(scenario.rise_mg_dl);
        let answers = run(&scenario, first, trials)?;
        let limits: Vec<&Estimate> = answers.iter().map(|a| &a.0).collect();
        let safes: Vec<&Estimate> = answers.iter().map(|a| &a.1).collect();
        row(id, "limit_g", truth.mean_limit_sensor_g.ok_or("no true limit")?, &limits)?;
        row(id, "safe_g", truth.safe80_sensor_g.ok_or("no true safe grams")?, &safes)?;
    }
    Ok(())
}

/// The answers in the order of their seeds, whichever thread made them.
fn run(scenario: &Scenario, first: u64, trials: u64) -> Result<Vec<Answers>, Error> {
    let next = AtomicU64::new(0);
    let made = Mutex::new(Vec::new());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let place = next.fetch_add(1, Ordering::Relaxed);
                    if place >= trials {
                        break;
                    }
                    let answer = answer(&trial(scenario, first + place));
                    made.lock().unwrap_or_else(|e| e.into_inner()).push((place, answer));
                }
            });
        }
    });
    let mut made = made.into_inner().unwrap_or_else(|e| e.into_inner());
    made.sort_by_key(|m| m.0);
    made.into_iter().map(|m| m.1).collect()
}

/// What the review does for question 5, without files in between.
fn answer(s: &Simulated) -> Result<Answers, Error> {
    let found = simulated_responses(s)?;
    let (grams, rises, noise_sd_mg_dl) = tolerance::fit::usable(&found);
    let options = tolerance::Options {
        level: LEVEL,
        seed: s.seed,
        noise_sd_mg_dl,
        ..tolerance::Options::new(s.scenario.rise_mg_dl)
    };
    let fit = tolerance::fit(&grams, &rises, options)?;
    let safe = fit.safe_g(SAFE_PROBABILITY)?;
    Ok((fit.limit_g, safe))
}

fn row(id: &str, figure: &str, truth: f64, all: &[&Estimate]) -> Result<(), Error> {
    let told: Vec<&Estimate> = all.iter().copied().filter(|e| e.estimable()).collect();
    let ends = |e: &Estimate| usize::from(e.low.is_some()) + usize::from(e.high.is_some());
    let bound = all.iter().filter(|e| !e.estimable() && ends(e) > 0).count();
    let covered = told.iter().filter(|e| e.covers(truth)).count();
    let open = told.iter().filter(|e| ends(e) < 2).count();
    let widths = told.iter().filter_map(|e| e.low.zip(e.high)).map(|(l, h)| h - l);
    let biases = told.iter().filter_map(|e| e.value).map(|v| v - truth);
    let share = |k: usize, n: usize| 100.0 * k as f64 / n.max(1) as f64;
    let p = share(covered, told.len()) / 100.0;
    let se = 100.0 * (p * (1.0 - p) / told.len().max(1) as f64).sqrt();
    let (low, high) =
        if told.is_empty() { (0.0, 1.0) } else { clopper_pearson(covered, told.len(), 0.99)? };
    println!(
        "{id:<13} {figure:<8} {truth:>6.2} {:>7} {:>7.1} {:>7.1} {:>9.1} {se:>6.1} {:>6.1} {:>6.1} {:>6.1} {:>7.2} {:>6.2}",
        all.len(),
        share(told.len(), all.len()),
        share(bound, all.len()),
        100.0 * p,
        100.0 * low,
        100.0 * high,
        share(open, told.len()),
        median(widths),
        median(biases)
    );
    Ok(())
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    glycemic_core::stats::quantile::median(&values.collect::<Vec<f64>>()).unwrap_or(f64::NAN)
}
