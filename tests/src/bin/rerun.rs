//! Reruns the whole review on simulated trials whose truth is known, and prints for each figure
//! how often the truth lies inside its interval. Nothing is hidden: what could not be told is
//! counted too.
//!
//! `cargo run --release -p glycemic-tests --bin rerun [SEEDS] [FIRST_SEED]`

use glycemic_core::review::{Options, Review, review};
use glycemic_core::simulate::{
    Limits, RiseCurve, Scenario, Simulated, WalkEffect, long_run, rise_curve, trial,
};
use glycemic_core::trial::{OnBadRows, Trial};

const SCENARIOS: &[&str] = &["demo", "no_walks", "few_doses", "mmol_dst"];

/// A figure of the review and how to find its truth.
struct Check {
    figure: &'static str,
    truth: fn(&Simulated, &Limits, &WalkEffect) -> Option<f64>,
}

const CHECKS: &[Check] = &[
    Check { figure: "limit_g", truth: |_, l, _| l.mean_limit_sensor_g },
    Check { figure: "safe_g", truth: |_, l, _| l.safe80_sensor_g },
    Check {
        figure: "mean_mg_dl",
        truth: |s, _, _| s.truth.long_run.as_ref().map(|r| r.mean_sensor_mg_dl),
    },
    Check {
        figure: "tight_range_pct",
        truth: |s, _, _| s.truth.long_run.as_ref().map(|r| r.tight_sensor_pct),
    },
    Check {
        figure: "mean_mg_dl_in_blood",
        truth: |s, _, _| s.truth.long_run.as_ref().map(|r| r.mean_blood_mg_dl),
    },
    Check {
        figure: "bias_mg_dl",
        truth: |s, _, _| {
            Some(
                s.truth.mean_bias_mg_dl - s.truth.meter_bias_pct / 100.0 * s.truth.mean_blood_mg_dl,
            )
        },
    },
    Check { figure: "lag_less_clock_min", truth: |s, _, _| Some(s.truth.lag_minus_clock_min) },
    Check {
        figure: "walk_difference_mg_dl",
        truth: |s, _, w| (s.scenario.behaviour.walk_share > 0.0).then_some(w.difference_mg_dl),
    },
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let seeds: u64 = words.next().unwrap_or_else(|| "20".into()).parse()?;
    let first: u64 = words.next().unwrap_or_else(|| "101".into()).parse()?;
    println!(
        "{:<10} {:<22} {:>7} {:>9} {:>10} {:>12} {:>12} {:>12}",
        "scenario", "figure", "trials", "told", "inside", "truth", "mean value", "median width"
    );
    let mut inside_all = (0, 0);
    for id in SCENARIOS {
        let scenario = Scenario::named(id).ok_or("no such scenario")?;
        let curve = rise_curve(&scenario);
        let reviews = run(&scenario, first..first + seeds)?;
        for check in CHECKS {
            let (hit, told) = row(id, check, &reviews, &curve);
            inside_all = (inside_all.0 + hit, inside_all.1 + told);
        }
    }
    println!("inside their 95 % intervals: {} of {} told", inside_all.0, inside_all.1);
    Ok(())
}

fn run(
    scenario: &Scenario,
    seeds: std::ops::Range<u64>,
) -> Result<Vec<(Simulated, Review)>, Box<dyn std::error::Error>> {
    let mut out = Vec::new();
    for seed in seeds {
        let mut simulated = trial(scenario, seed);
        simulated.truth.long_run = Some(long_run(scenario, 1));
        let folder = std::env::temp_dir().join(format!(
            "glycemic_rerun_{}_{seed}_{}",
            scenario.id,
            std::process::id()
        ));
        std::fs::create_dir_all(&folder)?;
        for (name, text) in simulated.files() {
            std::fs::write(folder.join(name), text)?;
        }
        let read = Trial::read(&folder, OnBadRows::Stop)?;
        std::fs::remove_dir_all(&folder)?;
        out.push((simulated, review(&read, Options::default(), &mut |_| true)?));
    }
    Ok(out)
}

fn row(
    id: &str,
    check: &Check,
    reviews: &[(Simulated, Review)],
    curve: &RiseCurve,
) -> (usize, usize) {
    let (mut hit, mut told, mut with_truth) = (0, 0, 0);
    let (mut values, mut widths, mut truths) = (Vec::new(), Vec::new(), Vec::new());
    for (simulated, review) in reviews {
        let limits = curve.limits(simulated.scenario.rise_mg_dl);
        let Some(truth) = (check.truth)(simulated, &limits, &curve.walk) else { continue };
        with_truth += 1;
        truths.push(truth);
        let Some(e) = review.estimate(check.figure).filter(|e| e.estimable()) else { continue };
        told += 1;
        hit += usize::from(e.covers(truth));
        values.extend(e.value);
        widths.extend(e.low.zip(e.high).map(|(l, h)| h - l));
    }
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    widths.sort_by(f64::total_cmp);
    let width = widths.get(widths.len() / 2).copied().unwrap_or(f64::NAN);
    println!(
        "{id:<10} {:<22} {with_truth:>7} {told:>9} {hit:>10} {:>12.2} {:>12.2} {width:>12.2}",
        check.figure,
        mean(&truths),
        mean(&values)
    );
    (hit, told)
}
