//! When the truth of a simulated trial moves, the answer moves with it: the same seeds with one
//! knob turned, the mean of the differences over six seeds against the difference of the truths.
//!
//! Equal seeds draw equal meals, noise and days, so most of the scatter cancels in the
//! difference; what is left sets the bounds, which stand beside each check.

use std::sync::atomic::{AtomicUsize, Ordering};

use glycemic_core::review::{Options, review};
use glycemic_core::simulate::{Scenario, Simulated, rise_curve, trial};
use glycemic_core::trial::{OnBadRows, Trial};

const SEEDS: std::ops::Range<u64> = 401..407;

/// The figure's value in the review of each seed's trial, where it can be told, and the trial.
fn values(scenario: &Scenario, figure: &str) -> Vec<(Option<f64>, Simulated)> {
    static NEXT: AtomicUsize = AtomicUsize::new(0);
    let one = |seed| {
        let simulated = trial(scenario, seed);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let folder =
            std::env::temp_dir().join(format!("glycemic_moves_{}_{number}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        for (name, text) in simulated.files() {
            std::fs::write(folder.join(name), text).unwrap();
        }
        let read = Trial::read(&folder, OnBadRows::Stop).unwrap();
        std::fs::remove_dir_all(&folder).unwrap();
        let options = Options::default();
        let reviewed = review(&read, options, &mut |_| true).unwrap();
        (reviewed.estimate(figure).unwrap().value, simulated)
    };
    SEEDS.map(one).collect()
}

/// Mean difference of the figure, and of a truth of the same trials, after less before, over the
/// seeds that tell both: five of the six at least.
fn moves(
    before: &Scenario,
    after: &Scenario,
    figure: &str,
    truth: fn(&Simulated) -> f64,
) -> (f64, f64) {
    let (before, after) = (values(before, figure), values(after, figure));
    let differences: Vec<(f64, f64)> = after
        .iter()
        .zip(&before)
        .filter_map(|(a, b)| Some((a.0? - b.0?, truth(&a.1) - truth(&b.1))))
        .collect();
    assert!(differences.len() >= 5, "{figure}: told by {} seeds", differences.len());
    let mean = |part: fn(&(f64, f64)) -> f64| {
        differences.iter().map(part).sum::<f64>() / differences.len() as f64
    };
    (mean(|d| d.0), mean(|d| d.1))
}

/// A target of 40 in place of 30 mg/dL: the same meals on the same line, read off higher up, by
/// 10 over the slope of about 1 mg/dL per gram. Over these seeds the shift scatters with an SD of
/// 1.5 g, so its mean has a standard error of 6 %; the true curve bends and the line doesn't. A
/// quarter either way.
#[test]
fn a_higher_target_allows_more() {
    let changed = Scenario { rise_mg_dl: 40.0, ..Scenario::DEMO };
    let curve = rise_curve(&Scenario::DEMO);
    let limit = |target| curve.limits(target).mean_limit_sensor_g.unwrap();
    let truth = limit(40.0) - limit(30.0);
    let (moved, _) = moves(&Scenario::DEMO, &changed, "limit_g", |_| 0.0);
    assert!(truth > 5.0, "{truth}");
    assert!((moved / truth - 1.0).abs() < 0.25, "moved {moved}, truth {truth}");
}

/// The meter's clock from 12 minutes ahead to 10 behind: sensor later than stamps by 22 more.
/// Timing needs readings while glucose moves, and a wrong clock stamps some of them when it
/// stands: the meter is read after ten meals as glucose rises, in place of four. A clock wrong by
/// whole minutes moves the same pairs along the grid of shifts; only readings near a gap or an
/// end of the wear may come or go, and move a trial by a minute or two. Bound: 1 in the mean.
#[test]
fn a_slower_meter_clock_moves_the_lag() {
    let mut before = Scenario::DEMO;
    before.meter.rising = 10;
    let mut after = before;
    after.meter.clock_ahead_min = -10;
    let (moved, truth) =
        moves(&before, &after, "lag_less_clock_min", |s| s.truth.lag_minus_clock_min);
    assert_eq!(truth, 22.0);
    assert!((moved - truth).abs() < 1.0, "moved {moved}, truth {truth}");
}

/// An offset of 18 in place of 3 mg/dL: every reading rises by 15, a whole number, so that
/// rounding changes nothing; only the three readings shown as LOW stay where they are, which is
/// 0.01 in the mean. Bound: 0.1.
#[test]
fn a_sensor_that_reads_higher_has_more_bias() {
    let mut changed = Scenario::DEMO;
    changed.sensor.offset_mg_dl = 18.0;
    let (moved, truth) =
        moves(&Scenario::DEMO, &changed, "bias_mg_dl", |s| s.truth.mean_bias_mg_dl);
    assert!((truth - 15.0).abs() < 1e-9, "{truth}");
    assert!((moved - truth).abs() < 0.1, "moved {moved}, truth {truth}");
    // What is said of blood stays where it is, as far as the meter's readings tell.
    let (moved, _) = moves(&Scenario::DEMO, &changed, "mean_mg_dl_in_blood", |_| 0.0);
    assert!(moved.abs() < 0.1, "moved {moved}");
}

/// Walks that do nothing against walks that take up twice as much as the demo's. Over these seeds
/// the difference moves by 12 with an SD of 4 mg/dL, so the mean has a standard error of 13 %.
/// Truths are at 40 g, the figures at the mean grams of each trial's meals, which are some more or
/// fewer. Half either way.
#[test]
fn walks_that_take_up_more_help_more() {
    let with = |uptake| {
        let mut scenario = Scenario::DEMO;
        scenario.person.walk_uptake = uptake;
        scenario
    };
    let (none, strong) = (with(0.0), with(0.048));
    let truth = |scenario| rise_curve(scenario).walk.difference_mg_dl;
    assert_eq!(truth(&none), 0.0);
    let truth = truth(&strong);
    let (moved, _) = moves(&none, &strong, "walk_difference_mg_dl", |_| 0.0);
    assert!(truth < -8.0, "{truth}");
    assert!((moved / truth - 1.0).abs() < 0.5, "moved {moved}, truth {truth}");
}
