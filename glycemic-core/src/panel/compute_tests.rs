use super::*;
use crate::Unit;
use crate::clock::LocalClock;
use crate::panel::Needs;
use crate::series::Builder;

const START: i64 = 1_741_000_000_000;

fn every_five_minutes(n: i64) -> Vec<i64> {
    (0..n).map(|i| START + i * 300_000).collect()
}

/// Nothing is without an answer: a value or a reason, and never both.
#[test]
fn every_measure_has_a_value_or_a_reason() {
    for n in [1, 2, 600] {
        let glucose: Vec<f64> = (0..n).map(|i| 90.0 + (i % 50) as f64).collect();
        for clock in [None, Some(LocalClock::fixed(0))] {
            let builder = Builder::new(Unit::MgDl).clock(clock);
            let trace = builder.build(&every_five_minutes(n), &glucose).unwrap();
            for view in [trace.view(), trace.window(0, 1)] {
                let p = panel(view, &[]);
                for m in MEASURES {
                    let value = p.get(m.id);
                    assert_eq!(value.is_none(), p.reason(m.id).is_some(), "{}", m.name);
                    assert!(value.is_none_or(f64::is_finite), "{}", m.name);
                    assert!(
                        n < 2 || view.is_empty() || m.needs != Needs::Histogram || value.is_some()
                    );
                }
            }
        }
    }
}

/// The same figures as the coverage of the trace.
#[test]
fn what_there_is_is_what_coverage_says() {
    let mut times = every_five_minutes(300);
    times.drain(100..150);
    let trace = Builder::new(Unit::MgDl).build(&times, &[100.0; 250]).unwrap();
    for view in [trace.view(), trace.window(START, START), trace.window(0, 1)] {
        let (p, c) = (panel(view, &[]), view.coverage());
        assert_eq!(p.get(Id::N), Some(c.n as f64));
        assert_eq!(p.get(Id::Days), Some(c.days));
        assert_eq!(p.get(Id::ActivePct), Some(c.active_pct));
        assert_eq!(p.get(Id::NominalIntervalMin), Some(c.nominal_interval_min));
    }
}

/// 144 of the 288 readings that a day can hold; readings outside the period don't count.
#[test]
fn active_time_of_a_reporting_period() {
    let trace = Builder::new(Unit::MgDl).build(&every_five_minutes(144), &[100.0; 144]).unwrap();
    let active = |from: i64, to: i64| {
        let options = Options { reporting_period_ms: Some((from, to)), ..Options::default() };
        panel_with(trace.view(), &[], &options).unwrap().get(Id::ActivePct)
    };
    assert_eq!(active(START, START + 86_400_000), Some(50.0));
    assert_eq!(
        active(START + 3_600_000, START + 3_600_000 + 86_400_000),
        Some(100.0 * 132.0 / 288.0)
    );
    assert_eq!(active(START, START + 3_600_000), Some(100.0));
    assert_eq!(active(START - 86_400_000, START), Some(0.0));
    assert_eq!(active(START, START + 1), Some(100.0));
    let options = Options { reporting_period_ms: Some((2, 1)), ..Options::default() };
    assert_eq!(panel_with(trace.view(), &[], &options).unwrap_err().code(), "out_of_range");
}

/// Of the whole trace, of a part, and where there are none.
#[test]
fn readings_at_a_limit_are_counted() {
    let times = every_five_minutes(6);
    let glucose = [40.0, 40.0, 100.0, 400.0, 100.0, 40.0];
    let mut censor = [Censor::None; 6];
    (censor[0], censor[1], censor[3], censor[5]) =
        (Censor::Low, Censor::Low, Censor::High, Censor::Low);
    let trace = Builder::new(Unit::MgDl).build_censored(&times, &glucose, &censor).unwrap();
    assert_eq!(censored(trace.view()), (3, 1));
    assert_eq!(censored(trace.window(times[1], times[2])), (1, 0));
    let plain = Builder::new(Unit::MgDl).build(&times, &glucose).unwrap();
    assert_eq!(censored(plain.view()), (0, 0));
}
