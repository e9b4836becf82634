//! Single things that a sensor does: flat lines, drop-outs and alarms; see `behaviour`.

use glycemic_core::sensor::alarms::{Alarms, Level, Rearm, alarms};
use glycemic_core::sensor::drop_outs::{DropOut, drop_outs};
use glycemic_core::sensor::flat::{Flat, FlatOptions, flat_lines};
use glycemic_core::simulate::{self, Scenario, Simulated, trial};
use glycemic_core::stats::{moments, random::Random};
use glycemic_core::{Error, Estimate, Trace};

use super::behaviour::{HOUR_MS, MINUTE, STEP_MS, median, pct, shown};
use super::{LEVEL, each_seed};
use crate::{simulated_diary, simulated_trace};

/// The displayed value of one reading repeated over `k` readings; gives first and last.
fn flatten(s: &mut Simulated, k: usize) -> Option<(i64, i64)> {
    let mut random = Random::keyed(s.seed, 73, k as u64);
    let mut rows: Vec<_> = s.sensor.iter().map(|r| (r.time_ms, r.text.is_none())).collect();
    rows.sort_unstable();
    rows.dedup_by_key(|r| r.0);
    let whole = |p: &[(i64, bool)]| {
        p.iter().all(|r| r.1) && p[k - 1].0 - p[0].0 == (k as i64 - 1) * STEP_MS
    };
    let places: Vec<(i64, i64)> =
        rows.windows(k).filter(|p| whole(p)).map(|p| (p[0].0, p[k - 1].0)).collect();
    let (from, to) = *places.get(random.below(places.len().max(1)))?;
    let value = s.sensor.iter().find(|r| r.time_ms == from)?.value_mg_dl;
    for row in s.sensor.iter_mut().filter(|r| (from..=to).contains(&r.time_ms)) {
        row.value_mg_dl = value;
    }
    Some((from, to))
}

/// Flat lines: the displayed value repeated over so many readings, once in a trial.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn flats(seed: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | readings planted | found % | false in 14 days | threshold, readings (median) |\n\
         | --- | --- | --- | --- | --- |\n",
    );
    for id in ["demo", "low_noise", "high_noise", "other_noise", "mmol_dst"] {
        let Some(scenario) = Scenario::named(id) else { continue };
        for k in [9, 15, 24, 36] {
            let all = each_seed(seed, trials, |seed| {
                let mut s = trial(&scenario, seed);
                let planted = flatten(&mut s, k);
                let (trace, meals, _) = simulated_diary(&s)?;
                let found = flat_lines(&trace, &meals, &FlatOptions::default())?;
                let (from, to) = planted.unwrap_or((0, 0));
                let hit = |f: &&_| overlaps(f, from, to);
                let hits = found.flats.iter().filter(hit).count();
                Ok((hits > 0, found.flats.len() - hits, found.threshold_readings))
            })?;
            let fortnights = (trials * u64::from(scenario.days)) as f64 / 14.0;
            text.push_str(&format!(
                "| {id} | {k} | {} | {:.2} | {} |\n",
                pct(all.iter().filter(|a| a.0).count(), all.len()),
                all.iter().map(|a| a.1).sum::<usize>() as f64 / fortnights,
                median(all.iter().filter_map(|a| a.2.map(|t| t as f64))),
            ));
        }
    }
    Ok(text)
}

fn overlaps(flat: &Flat, from: i64, to: i64) -> bool {
    flat.start_ms < to && flat.end_ms > from
}

/// Drop-outs of the simulator and no other gaps.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn lost(seed: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| drop-outs a day | simulated | found % | false | readings lost: simulated | told | rate told % | covered % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for rate in [0.5, 1.71, 5.0] {
        let mut scenario = Scenario::DEMO;
        (scenario.sensor.drop_outs_per_day, scenario.sensor.gaps) = (rate, 0);
        let all = each_seed(seed, trials, |seed| {
            let s = trial(&scenario, seed);
            let trace = simulated_trace(&s)?;
            let found = drop_outs(&trace, &[], 12.0, LEVEL)?;
            let (first, last) = ends(&trace);
            let inside = |d: &&simulate::DropOut| first < d.start_ms && d.end_ms <= last;
            let real: Vec<_> = s.truth.drop_outs.iter().filter(inside).copied().collect();
            let hits = real
                .iter()
                .filter(|d| {
                    found.drop_outs.iter().any(|f| f.from_ms < d.start_ms && d.end_ms <= f.to_ms)
                })
                .count();
            let is_false =
                |f: &&DropOut| !real.iter().any(|d| f.from_ms < d.start_ms && d.end_ms <= f.to_ms);
            let none = found.drop_outs.iter().filter(is_false).count();
            let away: i64 = real.iter().map(|d| (d.end_ms - d.start_ms) / STEP_MS).sum();
            let told: usize = found.drop_outs.iter().map(|f| f.lost).sum();
            let days = (last - first) as f64 / (24 * HOUR_MS) as f64;
            Ok((real.len(), hits, none, away as usize, told, found.per_day, days))
        })?;
        let sum = |f: &dyn Fn(usize) -> usize| (0..all.len()).map(f).sum::<usize>();
        let real = sum(&|i| all[i].0);
        let truth = real as f64 / all.iter().map(|a| a.6).sum::<f64>();
        let told = all.iter().filter(|a| a.5.estimable());
        text.push_str(&format!(
            "| {rate} | {real} | {} | {} | {} | {} | {} | {} |\n",
            pct(sum(&|i| all[i].1), real),
            sum(&|i| all[i].2),
            sum(&|i| all[i].3),
            sum(&|i| all[i].4),
            pct(told.clone().count(), all.len()),
            pct(told.clone().filter(|a| a.5.covers(truth)).count(), told.count()),
        ));
    }
    Ok(text)
}

fn ends(trace: &Trace) -> (i64, i64) {
    let times = trace.times_ms();
    (times.first().copied().unwrap_or(0), times.last().copied().unwrap_or(0))
}

/// Alarms at 70 and 180 mg/dL beside those that the sensor without noise and pressure would sound.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn alarms_table(seed: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | level | alarms a day | without noise | of the alarms also without noise % | of those without noise sounded % | rate covers its long run % |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let levels = [Level::low(), Level::high()];
    for id in ["demo", "lows", "low_noise", "high_noise", "other_noise", "free_days"] {
        let Some(scenario) = Scenario::named(id) else { continue };
        let all = each_seed(seed, trials, |seed| {
            let mut s = trial(&scenario, seed);
            let of = |s: &Simulated| {
                let trace = simulated_trace(s)?;
                alarms(&trace, &levels, Rearm::default(), None, 0.0, &[], LEVEL)
            };
            let sounded = of(&s)?;
            shown(&mut s, |_, _, clean| clean);
            Ok((sounded, of(&s)?))
        })?;
        for (k, level) in levels.iter().enumerate() {
            let own = |a: &Alarms| -> Vec<i64> {
                a.alarms.iter().filter(|a| a.level == level.name).map(|a| a.time_ms).collect()
            };
            let (mut sounded, mut clean, mut both, mut heard) = (0, 0, 0, 0);
            for (noisy, quiet) in &all {
                let (a, b) = (own(noisy), own(quiet));
                let near =
                    |t: &i64, of: &[i64]| of.iter().any(|u| t.abs_diff(*u) <= 30 * MINUTE as u64);
                sounded += a.len();
                clean += b.len();
                both += a.iter().filter(|t| near(t, &b)).count();
                heard += b.iter().filter(|t| near(t, &a)).count();
            }
            let rates: Vec<&Estimate> = all.iter().map(|a| &a.0.levels[k].per_day).collect();
            let told: Vec<f64> = rates.iter().filter_map(|e| e.value).collect();
            let long_run = moments::mean(&told).unwrap_or(0.0);
            let days = (trials * u64::from(scenario.days)) as f64;
            text.push_str(&format!(
                "| {id} | {} | {:.2} | {:.2} | {} | {} | {} |\n",
                level.name,
                sounded as f64 / days,
                clean as f64 / days,
                pct(both, sounded),
                pct(heard, clean),
                pct(rates.iter().filter(|e| e.covers(long_run)).count(), told.len()),
            ));
        }
    }
    Ok(text)
}
