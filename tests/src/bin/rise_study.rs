//! How far the rise as displayed and the noise-aware rise lie from the noise-free one, over
//! simulated trials: mean error and root mean square, mg/dL, by noise level.
//!
//! `cargo run --release -p glycemic-tests --bin rise_study [TRIALS] [FIRST_SEED]`

use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_tests::simulated_responses;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let trials: u64 = words.next().unwrap_or_else(|| "40".into()).parse()?;
    let first: u64 = words.next().unwrap_or_else(|| "301".into()).parse()?;
    println!(
        "noise scale, meals, noise-free rise, as displayed: error rmse, noise-aware: error rmse; noise SD found, autocorrelation"
    );
    for scale in [0.0, 0.25, 0.4, 0.7, 1.0] {
        let mut scenario = Scenario::DEMO;
        scenario.sensor.noise_scale = scale;
        let mut rows = Vec::new();
        let mut noise = Vec::new();
        for seed in first..first + trials {
            let s = trial(&scenario, seed);
            collect(&s, &mut rows, &mut noise)?;
        }
        let n = rows.len() as f64;
        let mean = |f: &dyn Fn(&(f64, f64, f64)) -> f64| rows.iter().map(f).sum::<f64>() / n;
        println!(
            "{scale:.2} {n} {:.1} | {:.2} {:.2} | {:.2} {:.2} | {:.2} {:.3}",
            mean(&|r| r.0),
            mean(&|r| r.1 - r.0),
            mean(&|r| (r.1 - r.0) * (r.1 - r.0)).sqrt(),
            mean(&|r| r.2 - r.0),
            mean(&|r| (r.2 - r.0) * (r.2 - r.0)).sqrt(),
            noise.iter().map(|n: &(f64, f64)| n.0).sum::<f64>() / noise.len() as f64,
            noise.iter().map(|n| n.1).sum::<f64>() / noise.len() as f64,
        );
    }
    Ok(())
}

fn collect(
    s: &Simulated,
    rows: &mut Vec<(f64, f64, f64)>,
    noise: &mut Vec<(f64, f64)>,
) -> Result<(), Box<dyn std::error::Error>> {
    let r = simulated_responses(s)?;
    if let Ok(n) = &r.noise {
        noise.push((n.sd_mg_dl, n.autocorrelation));
    }
    for i in 0..r.rows.len() {
        let (Some(raw), Some(aware), true) =
            (r.rows[i].rise_mg_dl, r.rows[i].rise_noise_aware_mg_dl, r.is_clean(i))
        else {
            continue;
        };
        let at = |min: i64| ((r.rows[i].time_ms + min * 60_000 - s.start_ms) / 300_000) as usize;
        let end = (r.rows[i].seen_min / 5.0).floor() as usize;
        let before = &s.sensor_clean_mg_dl[at(-30)..=at(0)];
        let after = &s.sensor_clean_mg_dl[at(0)..(at(0) + end + 1).min(s.sensor_clean_mg_dl.len())];
        let base = before.iter().sum::<f64>() / before.len() as f64;
        rows.push((after.iter().copied().fold(f64::MIN, f64::max) - base, raw, aware));
    }
    Ok(())
}
