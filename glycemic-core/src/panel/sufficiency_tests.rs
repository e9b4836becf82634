use super::registry::Id;
use super::sufficiency::*;
use crate::Trace;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::units::Unit;

/// Midnight of 4 March 2025, UTC.
const T: i64 = 1_741_046_400_000;
const FIVE: i64 = 300_000;
const DAY: i64 = 86_400_000;

fn at(clock: Option<LocalClock>, times: &[i64], glucose: &[f64]) -> Trace {
    Builder::new(Unit::MgDl).clock(clock).build(times, glucose).unwrap()
}

fn flat(clock: Option<LocalClock>, times: &[i64]) -> Trace {
    at(clock, times, &vec![100.0; times.len()])
}

fn every_five(from: i64, n: i64) -> Vec<i64> {
    (0..n).map(|i| from + i * FIVE).collect()
}

/// Battelino 2019: 14 days, 70 % of their readings. 14 x 288 x 0.7 is 2822.4.
#[test]
fn fourteen_days_and_seventy_percent() {
    for (n, active) in [(2822, false), (2823, true)] {
        let trace = flat(None, &every_five(T, n));
        let s = sufficiency(trace.view(), Some((T, T + 14 * DAY))).unwrap();
        assert_eq!((s.n as i64, s.days, s.enough_days, s.enough_active), (n, 14.0, true, active));
        assert_eq!(s.active_pct, 100.0 * n as f64 / 4032.0);
        // Without a period it is all there, and too short.
        let s = sufficiency(trace.view(), None).unwrap();
        assert_eq!((s.active_pct, s.enough_days, s.enough_active), (100.0, false, true));
    }
    for (n, enough) in [(4031, false), (4032, true)] {
        let trace = flat(None, &every_five(T, n));
        assert_eq!(sufficiency(trace.view(), None).unwrap().enough_days, enough);
    }
}

#[test]
fn a_period_cuts_and_its_ends_can_be_gaps() {
    let trace = flat(None, &every_five(T, 288));
    let s = sufficiency(trace.view(), Some((T - DAY, T + DAY / 2))).unwrap();
    assert_eq!((s.n, s.days), (144, 1.5));
    assert_eq!((s.longest_gap_min, s.longest_gap_from_ms), (1440.0, Some(T - DAY)));
    let none = sufficiency(trace.view(), Some((T + 2 * DAY, T + 3 * DAY))).unwrap();
    assert_eq!((none.n, none.active_pct, none.longest_gap_min), (0, 0.0, 1440.0));
    assert_eq!(sufficiency(trace.view(), None).unwrap().longest_gap_from_ms, None);
    let empty = sufficiency(trace.window(0, 1), None).unwrap();
    assert_eq!((empty.n, empty.days, empty.active_pct), (0, 0.0, 0.0));
    for bad in [(T, T), (T, T - 1), (i64::MIN, i64::MAX), (T, i64::MAX)] {
        let error = sufficiency(trace.view(), Some(bad)).unwrap_err();
        assert_eq!(error.argument(), Some("reporting_period"));
    }
}

#[test]
fn hours_unseen_and_thin() {
    // Three days without 03:00-04:00, and with 11 or 12 readings in all from 05:00 to 06:00.
    for (fives, thin) in [(11, vec![5]), (12, vec![])] {
        let mut left = fives;
        let times: Vec<i64> = every_five(T, 3 * 288)
            .into_iter()
            .filter(|t| match (t - T) % DAY / 3_600_000 {
                3 => false,
                5 => {
                    left -= 1;
                    left >= 0
                }
                _ => true,
            })
            .collect();
        // The mean hour has (22 x 36 + 11) / 24 = 33.5 readings, a third of it is 11.2; with 12
        // it is 33.5, too.
        let trace = flat(Some(LocalClock::fixed(0)), &times);
        let local = sufficiency(trace.view(), None).unwrap().local.unwrap();
        assert_eq!((local.readings_by_hour[0], local.readings_by_hour[5]), (36, fives as usize));
        assert_eq!((local.hours_unseen, local.hours_thin), (vec![3], thin));
        assert_eq!((local.days_touched, local.full_days), (3, 3));
    }
    let floating = flat(None, &every_five(T, 9));
    let reason = sufficiency(floating.view(), None).unwrap().local.unwrap_err();
    assert_eq!(reason.code, "no_zone");
}

/// 70 % of 276, 288 and 300 readings are 193.2, 201.6 and 210.
#[test]
#[cfg(feature = "tz")]
fn a_day_is_as_long_as_its_clock_says() {
    let clock = LocalClock::from_zone("Europe/Lisbon").unwrap();
    // 30 March 2025 (23 h), 26 October 2025 (25 h), and the 27th; each from local midnight.
    for (midnight, full) in
        [(1_743_292_800_000, 194), (1_761_433_200_000, 210), (1_761_523_200_000, 202)]
    {
        for n in [full - 1, full] {
            let trace = flat(Some(clock.clone()), &every_five(midnight, n));
            let local = sufficiency(trace.view(), None).unwrap().local.unwrap();
            assert_eq!((local.days_touched, local.full_days), (1, usize::from(n == full)));
        }
    }
    let hours = |midnight, n| {
        let trace = flat(Some(clock.clone()), &every_five(midnight, n));
        sufficiency(trace.view(), None).unwrap().local.unwrap()
    };
    assert_eq!(hours(1_743_292_800_000, 276).hours_unseen, [1]);
    assert_eq!(hours(1_761_433_200_000, 300).readings_by_hour[..3], [12, 24, 12]);
}

/// By hand from a printed table of Student's t: the last n that is too few and the first that is
/// enough. 95 %: t(17) 2.110, t(16) 2.120; t(6) 2.447, t(5) 2.571; t(3) 3.182, t(2) 4.303.
/// 90 %: t(12) 1.782, t(11) 1.796. 99 %: t(10) 3.169, t(9) 3.250.
#[test]
fn days_needed_from_printed_tables() {
    let table = [
        (2.0, 0.95, 18, 2.110, 2.120),
        (1.0, 0.95, 7, 2.447, 2.571),
        (0.5, 0.95, 4, 3.182, 4.303),
        (2.0, 0.90, 13, 1.782, 1.796),
        (1.0, 0.99, 11, 3.169, 3.250),
    ];
    for (ratio, level, n, t, t_before) in table {
        assert!(t * ratio / f64::from(n).sqrt() <= 1.0, "the table's own arithmetic");
        assert!(t_before * ratio / f64::from(n - 1).sqrt() > 1.0);
        assert_eq!(days_needed(10.0 * ratio, 10.0, level).unwrap(), Some(n as usize));
    }
}

/// For many days t is z (1 + (z² + 1) / 4n), so n is (z SD / h)² + (z² + 1) / 2: with z 1.959964
/// and SD / h 50, 9603.65 + 2.42 days.
#[test]
fn many_days_are_the_normal_approximation() {
    assert_eq!(days_needed(10.0, 0.2, 0.95).unwrap(), Some(9607));
    assert_eq!(days_needed(100.0, 1.0, 0.95).unwrap(), None);
    assert_eq!(days_needed(0.0, 1.0, 0.95).unwrap(), Some(2));
}

#[test]
fn days_needed_refuses_nonsense() {
    let argument =
        |sd, h, level| days_needed(sd, h, level).unwrap_err().argument().map(String::from);
    assert_eq!(argument(f64::NAN, 1.0, 0.95).as_deref(), Some("sd"));
    assert_eq!(argument(-1.0, 1.0, 0.95).as_deref(), Some("sd"));
    assert_eq!(argument(1.0, 0.0, 0.95).as_deref(), Some("half_width"));
    assert_eq!(argument(1.0, 1.0, 1.0).as_deref(), Some("level"));
}

/// Eight days at 90, 110, 90, … and a ninth of an hour at 300, which is not full.
fn eight_days() -> Trace {
    let times = every_five(T, 8 * 288 + 12);
    let value = |i: usize| match i / 288 {
        8 => 300.0,
        day if day % 2 == 0 => 90.0,
        _ => 110.0,
    };
    let glucose: Vec<f64> = (0..times.len()).map(value).collect();
    at(Some(LocalClock::fixed(0)), &times, &glucose)
}

#[test]
fn days_needed_for_a_mean() {
    let trace = eight_days();
    // The SD of the eight means is √(8 × 100 / 7); half of it takes 18 days, as above.
    let sd = (800.0_f64 / 7.0).sqrt();
    let days = |id, h| days_needed_for(trace.view(), id, h, 0.95).unwrap();
    assert_eq!(days(Id::MeanMgDl, sd / 2.0), Ok(18));
    assert_eq!(days(Id::GmiPct, 0.02392 * sd / 2.0), Ok(18));
    let code = |id| days(id, 1.0).unwrap_err().code;
    assert_eq!(code(Id::InRangePct), "no_spread");
    assert_eq!(code(Id::CvPct), "not_a_mean");
    assert_eq!(code(Id::MedianMgDl), "not_a_mean");
    assert_eq!(days(Id::MeanMgDl, 0.01).unwrap_err().code, "out_of_reach");
    assert!(days_needed_for(trace.view(), Id::MeanMgDl, -1.0, 0.95).is_err());
    let week = trace.window(T, T + 7 * DAY - 1);
    assert_eq!(days_needed_for(week, Id::MeanMgDl, sd, 0.95).unwrap().map(|n| n > 2), Ok(true));
    let six = trace.window(T, T + 6 * DAY - 1);
    let reason = days_needed_for(six, Id::MeanMgDl, sd, 0.95).unwrap().unwrap_err();
    assert_eq!((reason.had, reason.needed), (Some(6.0), Some(7.0)));
}
