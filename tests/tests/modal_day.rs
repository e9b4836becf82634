//! The modal day of any trace: curves that never cross, within the readings they come from.

use glycemic_core::Unit;
use glycemic_core::clock::LocalClock;
use glycemic_core::panel::modal_day::{ModalOptions, Smoothing, modal_day};
use glycemic_core::series::Builder;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const START: i64 = 1_741_000_000_000;

fn smoothing() -> impl Strategy<Value = Smoothing> {
    prop_oneof![
        Just(Smoothing::None),
        (1.0..720.0_f64).prop_map(|minutes| Smoothing::Window { minutes }),
        (1.0..720.0_f64).prop_map(|bandwidth_min| Smoothing::Local { bandwidth_min }),
    ]
}

/// Readings at uneven times, some days long, some of equal value.
fn readings() -> impl Strategy<Value = Vec<(i64, f64)>> {
    prop::collection::vec((60_000..3_000_000_i64, 40..400_i32), 1..600).prop_map(|steps| {
        let mut at = START;
        steps
            .into_iter()
            .map(|(step, value)| {
                at += step;
                (at, f64::from(value))
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig {
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn curves_keep_their_order(
        readings in readings(),
        smoothing in smoothing(),
        step in prop::sample::select(vec![15_u32, 60, 240]),
        offset in -720..720_i32,
    ) {
        let (times, glucose): (Vec<i64>, Vec<f64>) = readings.into_iter().unzip();
        let clock = Some(LocalClock::fixed(offset));
        let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose).unwrap();
        let mut options = ModalOptions::default();
        options.step_min = step;
        options.smoothing = smoothing;
        options.percentiles = vec![0.0, 5.0, 12.5, 25.0, 50.0, 75.0, 90.0, 95.0, 100.0];
        let day = modal_day(trace.view(), &options).unwrap().unwrap();
        let low = glucose.iter().copied().fold(f64::INFINITY, f64::min);
        let high = glucose.iter().copied().fold(0.0, f64::max);
        for point in &day.points {
            let values: Vec<f64> = point.values_mg_dl.iter().copied().flatten().collect();
            prop_assert!(values.is_sorted(), "{smoothing:?}: {values:?}");
            prop_assert!(values.iter().all(|v| (low..=high).contains(v)));
            prop_assert_eq!(point.reason.is_some(), values.len() < 9);
            prop_assert_eq!(point.n == 0, values.is_empty());
            prop_assert!(point.days <= point.n);
        }
    }

    /// Another offset turns the day round and changes nothing else.
    #[test]
    fn a_turned_clock_turns_the_curves(readings in readings(), smoothing in smoothing()) {
        let (times, glucose): (Vec<i64>, Vec<f64>) = readings.into_iter().unzip();
        let made = |offset: i32| {
            let clock = Some(LocalClock::fixed(offset));
            let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose).unwrap();
            let mut options = ModalOptions::default();
            options.smoothing = smoothing;
            options.step_min = 60;
            modal_day(trace.view(), &options).unwrap().unwrap().points
        };
        let (here, there) = (made(0), made(180));
        for (hour, point) in here.iter().enumerate() {
            let turned = &there[(hour + 3) % 24];
            // Across midnight a reading's distance is rounded differently, so to rounding; and a
            // reading on a window's very edge may be in or out.
            if point.n == turned.n {
                for (a, b) in point.values_mg_dl.iter().zip(&turned.values_mg_dl) {
                    let same = match (a, b) {
                        (Some(a), Some(b)) => (a - b).abs() < 1e-6,
                        (None, None) => true,
                        _ => false,
                    };
                    prop_assert!(same, "{smoothing:?} at {hour}: {point:?} and {turned:?}");
                }
            } else {
                prop_assert_eq!(point.n.abs_diff(turned.n), 1);
            }
        }
    }
}
