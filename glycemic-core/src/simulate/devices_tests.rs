//! The devices and what happens to their files: each knob moves what it should, and only that.

#![allow(clippy::unwrap_used, reason = "a test that cannot unwrap has failed")]

use super::noise::{
    autoregressive, fresh_share, latent, neighbour_correlation, noise, noise_of, noise_sd, outliers,
};
use super::pressure::{from_quantiles, pressure, pressure_lows};
use super::random::{Purpose, Random};
use super::readings::drop_outs;
use super::sensor::Wear;
use super::*;
use crate::stats::{moments, quantile};

const MINUTE_MS: i64 = 60_000;

fn demo(change: impl Fn(&mut Scenario)) -> Scenario {
    let mut scenario = Scenario::DEMO;
    change(&mut scenario);
    scenario
}

/// Closed form: mean 0 by construction; SD from the moments of sinh of a normal with variance
/// 0.49/0.51; the latent correlation is the recursion's 0.7.
#[test]
fn noise_has_the_moments_of_its_source() {
    let mut random = Random::new(3, Purpose::SensorNoise);
    let hidden = latent(&mut random, 400_000);
    let noise: Vec<f64> = hidden.iter().map(|&e| noise_of(e)).collect();
    let n = noise.len() as f64;
    let mean = noise.iter().sum::<f64>() / n;
    let sd = (noise.iter().map(|e| (e - mean) * (e - mean)).sum::<f64>() / n).sqrt();
    // Effective n is n (1-0.7)/(1+0.7) = 70,000: SE 0.044 for the mean, about 0.05 for the SD.
    assert!(mean.abs() < 0.2, "{mean}");
    assert!((sd - noise_sd()).abs() < 0.25, "{sd} against {}", noise_sd());
    // With unit variance the SD would be 12.06; the recursion's variance is 0.961.
    assert!((noise_sd() - 11.73).abs() < 0.01);
    let square: f64 = hidden.iter().map(|e| e * e).sum();
    let lagged: f64 = hidden.windows(2).map(|pair| pair[0] * pair[1]).sum();
    assert!((lagged / square - 0.7).abs() < 0.01, "{}", lagged / square);
}

/// Closed form of a stationary AR(2): variance (1 - a₂) / ((1 + a₂)((1 - a₂)² - a₁²)) times that of
/// its steps, neighbours correlated by a₁/(1 - a₂) = 1.3/1.42, the next by a₁ρ₁ + a₂ (Box GEP,
/// Jenkins GM. *Time series analysis*, 1970, section 3.2.4). The third is Gaussian.
#[test]
fn the_other_noise_has_its_moments_too() {
    let variance = 1.42 / (0.58 * (1.42 * 1.42 - 1.3 * 1.3));
    assert!((fresh_share() * variance - 1.0).abs() < 1e-12);
    assert!((neighbour_correlation() - 1.3 / 1.42).abs() < 1e-15);
    let values = autoregressive(&mut Random::new(3, Purpose::SensorNoise), 400_000);
    let n = values.len() as f64;
    let mean_of = |values: &mut dyn Iterator<Item = f64>| values.sum::<f64>() / n;
    // Correlations die as 0.7ᵏ and 0.6ᵏ: an effective n of about 20,000 for the mean and 35,000
    // for the square: SE 0.007 and 0.0076.
    let square = mean_of(&mut values.iter().map(|x| x * x));
    assert!(mean_of(&mut values.iter().copied()).abs() < 0.03);
    assert!((square - 1.0).abs() < 0.03, "{square}");
    let linked = |steps: usize| {
        mean_of(&mut values.iter().zip(&values[steps..]).map(|(a, b)| a * b)) / square
    };
    let first = 1.3 / 1.42;
    assert!((linked(1) - first).abs() < 0.005, "{}", linked(1));
    assert!((linked(2) - (1.3 * first - 0.42)).abs() < 0.01, "{}", linked(2));
    let fourth = mean_of(&mut values.iter().map(|x| x * x * x * x)) / (square * square);
    assert!((fourth - 3.0).abs() < 0.15, "{fourth}");
}

/// Both kinds have the same SD where they are drawn: Johnson every 15 min, the other every 5.
#[test]
fn a_scale_means_the_same_sd_for_both_kinds() {
    for (kind, step) in [(Noise::Johnson, 15), (Noise::Autoregressive2, 5)] {
        let knobs = Sensor { noise: kind, noise_scale: 0.4, ..Scenario::DEMO.sensor };
        let all: Vec<f64> = noise(&knobs, 5, 3_000_000).into_iter().step_by(step).collect();
        let sd = moments::sd(&all).unwrap();
        assert!((sd - 0.4 * noise_sd()).abs() < 0.12, "{kind:?} {sd}");
    }
}

/// A share p of normals with SD s has variance p s² and fourth moment 3 p s⁴, so the estimated
/// variance has an SE of s² √((3p - p²)/n).
#[test]
fn outliers_have_the_variance_of_their_mixture() {
    let (share, sd, n) = (0.05, 20.0, 200_000);
    let knobs = Sensor { outlier_share: share, outlier_sd_mg_dl: sd, ..Scenario::DEMO.sensor };
    let own = outliers(&knobs, 2, 5 * n);
    let hits = own.iter().filter(|&&e| e != 0.0).count() as f64 / n as f64;
    assert!((hits - share).abs() < 4.0 * (share * (1.0 - share) / n as f64).sqrt());
    let variance = moments::variance(&own).unwrap();
    let se = sd * sd * ((3.0 * share - share * share) / n as f64).sqrt();
    assert!((variance - share * sd * sd).abs() < 4.0 * se, "{variance}");
    assert!(outliers(&Scenario::DEMO.sensor, 2, 5 * n).iter().all(|&e| e == 0.0));
}

/// Facchinetti (2016): durations 45 (30-70) min, depths 24 (10-48) mg/dL, median and 5-95 %.
#[test]
fn pressure_lows_have_the_published_quantiles() {
    for (z, want) in
        [(-1.644_853_626_951_472_2, 10.0), (0.0, 24.0), (1.644_853_626_951_472_2, 48.0)]
    {
        assert!((from_quantiles(10.0, 24.0, 48.0, z) - want).abs() < 1e-12);
    }
    let scenario = demo(|s| s.sensor.pressure_lows = 13);
    let lows: Vec<PressureLow> =
        (0..2000).flat_map(|seed| pressure_lows(&scenario, seed, 700)).collect();
    assert_eq!(lows.len(), 26_000);
    let minutes = |low: &PressureLow| ((low.end_ms - low.start_ms) / MINUTE_MS) as f64;
    let long = quantile::sorted(&lows.iter().map(minutes).collect::<Vec<f64>>());
    let deep = quantile::sorted(&lows.iter().map(|low| low.depth_mg_dl).collect::<Vec<f64>>());
    // Half a minute is rounding. SE of a sample quantile: √(p(1-p)/n) over the density there, at
    // most 0.25 min and 0.2 mg/dL here.
    for (sorted, wanted, allowed) in
        [(long, [30.0, 45.0, 70.0], 1.5), (deep, [10.0, 24.0, 48.0], 0.8)]
    {
        for (p, want) in [0.05, 0.5, 0.95].into_iter().zip(wanted) {
            let got = quantile::type7(&sorted, p).unwrap();
            assert!((got - want).abs() < allowed, "{p}: {got}, not {want}");
        }
    }
    let at_night = |low: &&PressureLow| {
        let minute = (low.start_ms - scenario.midnight_ms) / MINUTE_MS;
        scenario.minute_of_day(minute) < 360
    };
    let share = lows.iter().filter(at_night).count() as f64 / lows.len() as f64;
    // SE 0.0025.
    assert!((share - 0.8).abs() < 0.01, "{share}");
}

/// The step response of a first-order system: depth × (1 - exp(-t/6 min)).
#[test]
fn pressure_falls_as_a_first_order_system() {
    for low in (0..50).flat_map(|seed| pressure_lows(&Scenario::DEMO, seed, 700)) {
        let minutes = (low.end_ms - low.start_ms) / MINUTE_MS;
        let fall = pressure(&[low], low.start_ms, 180);
        for (at, &got) in fall.iter().enumerate().take(minutes as usize + 1) {
            let want = low.depth_mg_dl * (1.0 - libm::exp(-(at as f64) / 6.0));
            assert!((got - want).abs() < 1e-9);
        }
        let after = low.depth_mg_dl * (1.0 - libm::exp(-minutes as f64 / 6.0)) * libm::exp(-5.0);
        assert!((fall[minutes as usize + 30] - after).abs() < 1e-9);
    }
}

#[test]
fn drop_outs_are_as_many_and_as_long_as_they_should_be() {
    let scenario = demo(|s| s.sensor.drop_outs_per_day = 1.71);
    let wear = Wear::of(&scenario);
    let seeds = 300;
    let all: Vec<DropOut> = (0..seeds).flat_map(|seed| drop_outs(&scenario, seed, &wear)).collect();
    let minutes = |out: &DropOut| (out.end_ms - out.start_ms) / MINUTE_MS;
    let short = all.iter().filter(|out| minutes(out) < 20).count() as f64;
    let n = all.len() as f64;
    // About 7000: SE of the share 0.0036.
    assert!((short / n - 0.9).abs() < 0.015, "{}", short / n);
    // They begin only while there are readings; a Poisson count has the SE √n.
    let days = 14.0 * seeds as f64 - all.iter().map(minutes).sum::<i64>() as f64 / 1440.0;
    assert!((n / days - 1.71).abs() < 4.0 * n.sqrt() / days, "{}", n / days);
    let at_night = |out: &&DropOut| {
        scenario.minute_of_day((out.start_ms - scenario.midnight_ms) / MINUTE_MS) < 360
    };
    // A quarter of the day at 0.4 of the rate.
    let share = all.iter().filter(at_night).count() as f64 / n;
    assert!((share - 0.1).abs() < 0.015, "{share}");
    assert!(drop_outs(&Scenario::DEMO, 1, &wear).is_empty());
}

#[test]
fn a_drop_out_takes_its_rows_and_no_others() {
    let (whole, torn) =
        (trial(&Scenario::DEMO, 4), trial(&demo(|s| s.sensor.drop_outs_per_day = 3.0), 4));
    let lost = &torn.truth.drop_outs;
    assert!(lost.len() > 20);
    let kept = |row: &&SensorRow| {
        !lost.iter().any(|out| out.start_ms <= row.time_ms && row.time_ms < out.end_ms)
    };
    let left: Vec<SensorRow> = whole.sensor.iter().filter(kept).copied().collect();
    assert!(left.len() < whole.sensor.len());
    assert_eq!(left, torn.sensor);
}

fn swapped(failed: bool) -> Scenario {
    let swap = Swap { day: 6, minute: 1080, gain: 0.9, offset_mg_dl: -5.0, failed };
    demo(|s| s.sensor.swap = Some(swap))
}

#[test]
fn a_swap_shows_in_the_files_and_in_the_truth() {
    let (before, after) = (trial(&Scenario::DEMO, 3), trial(&swapped(true), 3));
    let swap = after.truth.swap.unwrap();
    assert_eq!(before.truth.swap, None);
    assert_eq!(swap.time_ms, Scenario::DEMO.time_ms(6 * 1440 + 1080));
    assert_eq!(swap.first_reading_ms, swap.time_ms + 60 * MINUTE_MS);
    let events: Vec<(&str, &str)> = after.wear.iter().map(|w| (w.event, w.sensor)).collect();
    let wanted =
        [("inserted", "A"), ("failed", "A"), ("removed", "A"), ("inserted", "B"), ("removed", "B")];
    assert_eq!(events, wanted);
    assert!(after.wear.windows(2).all(|pair| pair[0].time_ms <= pair[1].time_ms));
    // No reading from half an hour before to an hour after; until then, nothing changed.
    let silent = swap.time_ms - 30 * MINUTE_MS..swap.first_reading_ms;
    assert!(after.sensor.iter().all(|row| !silent.contains(&row.time_ms)));
    let early = |s: &Simulated| {
        s.sensor.iter().filter(|row| row.time_ms < silent.start).copied().collect::<Vec<_>>()
    };
    assert_eq!(early(&before), early(&after));
    assert_eq!((&before.meals, &before.meter), (&after.meals, &after.meter));
    // 5 min before the swap the first sensor, from it on the second, with its own first day.
    let place = ((swap.time_ms - after.start_ms) / (5 * MINUTE_MS)) as usize;
    assert_eq!(before.sensor_clean_mg_dl[place - 1], after.sensor_clean_mg_dl[place - 1]);
    assert!(
        (before.sensor_clean_mg_dl[place + 5] - after.sensor_clean_mg_dl[place + 5]).abs() > 1.0
    );
    // 0.14 × some 110 and 8 mg/dL of offset lower, and the drift starts anew: -1.3.
    let (first, second) = (swap.mean_bias_before_mg_dl, swap.mean_bias_after_mg_dl);
    assert!((-28.0..-20.0).contains(&(second - first)), "{first} {second}");
    let share = place as f64 / 4032.0;
    let mixed = share * first + (1.0 - share) * second;
    assert!((mixed - after.truth.mean_bias_mg_dl).abs() < 0.05);
    // Changed, not failed: the first reads to its end.
    let quiet = trial(&swapped(false), 3);
    assert_eq!(quiet.wear.len(), 4);
    assert!(
        quiet.sensor.iter().any(|row| silent.start <= row.time_ms && row.time_ms < swap.time_ms)
    );
    // A swap outside the wear is none.
    let never =
        demo(|s| s.sensor.swap = Some(Swap { day: 40, ..swapped(true).sensor.swap.unwrap() }));
    assert_eq!(trial(&never, 3).sensor, before.sensor);
}

#[test]
fn in_the_long_run_each_sensor_has_its_part() {
    let (one, two) = (long_run(&Scenario::DEMO, 1), long_run(&swapped(false), 1));
    assert_eq!(one.levels.blood, two.levels.blood);
    // 6 days, 6 h 20 min of 14 with the first: gain, offset, drift of half its part.
    let part = (6.0 + 380.0 / 1440.0) / 14.0;
    let blood = two.mean_blood_mg_dl;
    let first = 1.04 * blood + 3.0 + 0.4 * 7.0 * part;
    let second = 0.9 * blood - 5.0 + 0.4 * 7.0 * (1.0 - part);
    let mixed = part * first + (1.0 - part) * second;
    // The two parts meet slightly different blood.
    assert!((two.mean_sensor_mg_dl - mixed).abs() < 0.1, "{} {mixed}", two.mean_sensor_mg_dl);
}

#[test]
fn strips_differ_from_lot_to_lot() {
    let scenario = demo(|s| s.meter.lot_bias_sd_pct = 3.0);
    let biases: Vec<f64> = (0..2000).map(|seed| meter::bias_pct(&scenario, seed)).collect();
    // SE of the mean 0.067, of the SD 0.047.
    assert!((moments::mean(&biases).unwrap() - 2.0).abs() < 0.27);
    assert!((moments::sd(&biases).unwrap() - 3.0).abs() < 0.19);
    let (usual, lot) = (trial(&Scenario::DEMO, 9), trial(&scenario, 9));
    assert_eq!(usual.truth.meter_bias_pct, 2.0);
    assert_eq!(lot.truth.meter_bias_pct, biases[9]);
    assert_eq!((&usual.sensor, &usual.meals), (&lot.sensor, &lot.meals));
    for (a, b) in usual.meter.iter().zip(&lot.meter) {
        // Both are rounded to whole mg/dL, and the error is at most four SD of 2.4 %.
        let moved = (biases[9] - 2.0) / 100.0 * a.glucose_mg_dl;
        assert!((b.glucose_mg_dl - a.glucose_mg_dl - moved).abs() < 1.0 + 0.1 * moved.abs());
    }
}

#[test]
fn a_wrong_clock_moves_the_stamps_and_nothing_else() {
    for ahead in [60, 720] {
        let (right, wrong) =
            (trial(&Scenario::DEMO, 2), trial(&demo(|s| s.meter.clock_ahead_min = ahead), 2));
        assert_eq!(wrong.truth.meter_clock_ahead_min, ahead as f64);
        assert_eq!(right.sensor, wrong.sensor);
        assert_eq!(right.meter.len(), wrong.meter.len());
        for (a, b) in right.meter.iter().zip(&wrong.meter) {
            assert_eq!(b.time_ms - a.time_ms, (ahead - 12) * MINUTE_MS);
            assert_eq!(a.glucose_mg_dl, b.glucose_mg_dl);
        }
    }
}
