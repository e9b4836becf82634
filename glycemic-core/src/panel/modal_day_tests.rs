use super::modal_day::*;
use crate::Trace;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::stats::quantile;
use crate::units::Unit;

/// Midnight of 4 March 2025, UTC.
const T: i64 = 1_741_046_400_000;
const MIN: i64 = 60_000;

/// Readings five minutes apart from `start` on.
fn trace(clock: LocalClock, start: i64, n: usize, value: impl Fn(usize) -> f64) -> Trace {
    let times: Vec<i64> = (0..n as i64).map(|i| start + i * 5 * MIN).collect();
    let glucose: Vec<f64> = (0..n).map(value).collect();
    Builder::new(Unit::MgDl).clock(Some(clock)).build(&times, &glucose).unwrap()
}

fn options(step_min: u32, smoothing: Smoothing) -> ModalOptions {
    ModalOptions { step_min, smoothing, ..ModalOptions::default() }
}

fn made(trace: &Trace, options: &ModalOptions) -> ModalDay {
    modal_day(trace.view(), options).unwrap().unwrap()
}

/// A day without two equal neighbours.
fn of_day(i: usize) -> f64 {
    80.0 + (i * 37 % 101) as f64
}

#[test]
fn identical_days_are_the_day() {
    let trace = trace(LocalClock::fixed(0), T, 7 * 288, |i| of_day(i % 288));
    for smoothing in [
        Smoothing::None,
        Smoothing::Window { minutes: 5.0 },
        Smoothing::Local { bandwidth_min: 5.0 },
    ] {
        let day = made(&trace, &options(5, smoothing));
        assert_eq!(day.points.len(), 288);
        for (i, point) in day.points.iter().enumerate() {
            assert_eq!(point.values_mg_dl, [Some(of_day(i)); 5], "{smoothing:?} at {i}");
            assert_eq!((point.n, point.days), (7, 7));
        }
    }
}

/// High from 23:55 to 00:05 only: what stands before midnight stands after it.
#[test]
fn a_peak_at_midnight_is_the_same_on_both_sides() {
    let peak = |i: usize| if [287, 0, 1].contains(&(i % 288)) { 240.0 } else { of_day(50) };
    let trace = trace(LocalClock::fixed(0), T, 10 * 288, peak);
    for smoothing in [Smoothing::Window { minutes: 40.0 }, Smoothing::Local { bandwidth_min: 30.0 }]
    {
        let mut wanted = options(5, smoothing);
        wanted.percentiles = vec![5.0, 50.0, 80.0, 95.0];
        let points = made(&trace, &wanted).points;
        let apart: Vec<usize> =
            (1..144).filter(|&i| points[i].values_mg_dl != points[288 - i].values_mg_dl).collect();
        assert_eq!(apart, [] as [usize; 0], "{smoothing:?}");
        assert_eq!(points[0].values_mg_dl[3], Some(240.0));
        assert!(points[3].values_mg_dl[3] > points[30].values_mg_dl[3]);
    }
    // The window round midnight is of one day, though it holds two calendar days' readings.
    assert_eq!(made(&trace, &options(15, Smoothing::None)).points[0].days, 11);
}

/// Of equal weights the percentiles are those of definition 7.
#[test]
fn equal_weights_are_type_7() {
    let trace = trace(LocalClock::fixed(0), T, 9 * 288, |i| 70.0 + (i * i % 173) as f64);
    let day = made(&trace, &options(60, Smoothing::Window { minutes: 60.0 }));
    // 07:30 to 08:30, both ends in: 13 readings a day.
    let near: Vec<f64> = (0..9)
        .flat_map(|d| trace.glucose_mg_dl()[d * 288 + 90..=d * 288 + 102].iter().copied())
        .collect();
    let sorted = quantile::sorted(&near);
    assert_eq!(day.points[8].n, 9 * 13);
    for (value, p) in day.points[8].values_mg_dl.iter().zip([0.05, 0.25, 0.5, 0.75, 0.95]) {
        let truth = quantile::type7(&sorted, p).unwrap();
        assert!((value.unwrap() - truth).abs() < 1e-9, "{value:?} and {truth} at {p}");
    }
}

/// By hand: at the point 100 with weight 1; half a bandwidth either side 110 and 120, each with
/// w = (7/8)³. 110 stands at (1 + w) / 2 of 1 / 2 + 3 w / 2.
#[test]
fn three_weighted_readings() {
    let value = |i: usize| [110.0, 100.0, 120.0][i];
    let trace = trace(LocalClock::fixed(0), T - 5 * MIN, 3, value);
    let day = made(&trace, &options(15, Smoothing::Local { bandwidth_min: 10.0 }));
    let w = 343.0 / 512.0;
    let place = (1.0 + w) / (1.0 + 3.0 * w);
    let median = day.points[0].values_mg_dl[2].unwrap();
    assert!((median - (100.0 + 10.0 * 0.5 / place)).abs() < 1e-12);
    let p75 = day.points[0].values_mg_dl[3].unwrap();
    assert!((p75 - (110.0 + 10.0 * (0.75 - place) / (1.0 - place))).abs() < 1e-12);
}

#[test]
fn each_reading_counts_in_one_bin() {
    let times: Vec<i64> = (0..3000).map(|i| T + i * 297_311).collect();
    let clock = Some(LocalClock::fixed(60));
    let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &[100.0; 3000]).unwrap();
    let counted = |trace: &Trace, step| {
        made(trace, &options(step, Smoothing::None)).points.iter().map(|p| p.n).sum::<usize>()
    };
    for step in [5, 15, 60, 480, 1440] {
        assert_eq!(counted(&trace, step), 3000, "{step}");
    }
    // Steps of ten minutes put every other reading on the border of two bins.
    let on_borders = self::trace(LocalClock::fixed(0), T, 2 * 288, |_| 100.0);
    assert_eq!(counted(&on_borders, 10), 2 * 288);
    // A kernel of half a day: every reading counts everywhere, but for the far end's weight 0.
    let wide = made(&trace, &options(60, Smoothing::Local { bandwidth_min: 720.0 }));
    assert!(wide.points.iter().all(|p| p.n >= 2999), "{:?}", wide.points[0]);
}

/// Lisbon, a week round 26 October 2025: 01:00-02:00 comes twice on that day; and round 30 March
/// 2025: it doesn't come.
#[test]
#[cfg(feature = "tz")]
fn a_doubled_and_a_missing_hour() {
    let clock = LocalClock::from_zone("Europe/Lisbon").unwrap();
    let around = |midnight: i64, n: usize| {
        let trace = trace(clock.clone(), midnight - 3 * 1440 * MIN, n, |_| 100.0);
        let day = made(&trace, &options(5, Smoothing::None));
        let at = |minute: usize| (day.points[minute / 5].n, day.points[minute / 5].days);
        [at(30), at(60), at(115), at(120)]
    };
    let autumn = around(1_761_433_200_000, 7 * 288 + 12);
    assert_eq!(autumn, [(7, 7), (8, 7), (8, 7), (7, 7)]);
    let spring = around(1_743_292_800_000, 7 * 288 - 12);
    assert_eq!(spring, [(7, 7), (6, 6), (6, 6), (7, 7)]);
}

/// A common caution, from memory: no 5th or 95th percentile from fewer than five days.
#[test]
fn outer_curves_take_five_days() {
    for (days, outer) in [(4, false), (5, true)] {
        let trace = trace(LocalClock::fixed(0), T, days * 288, of_day);
        let mut wanted = options(60, Smoothing::None);
        wanted.percentiles = vec![2.5, 10.0, 50.0, 90.0, 95.0];
        let day = made(&trace, &wanted);
        // 12:00, so that no window crosses the ends of the trace.
        let point = &day.points[12];
        let there: Vec<bool> = point.values_mg_dl.iter().map(Option::is_some).collect();
        assert_eq!(there, [outer, true, true, true, outer]);
        assert_eq!(point.reason.as_ref().map(|r| r.had), (!outer).then_some(Some(4.0)));
        let table = day.table().unwrap();
        let names: Vec<&str> = table.columns().iter().map(|c| c.name.as_str()).collect();
        let percentiles = ["p02_5_mg_dl", "p10_mg_dl", "p50_mg_dl", "p90_mg_dl", "p95_mg_dl"];
        assert_eq!(names[..3], ["minute_of_day", "days", "n"]);
        assert_eq!(names[3..8], percentiles);
        assert_eq!((names[8], table.rows()), ("reason", 24));
    }
}

#[test]
fn an_empty_hour_and_no_clock() {
    let trace = trace(LocalClock::fixed(0), T, 36, of_day);
    let day = made(&trace, &options(60, Smoothing::None));
    assert_eq!(day.points[12].values_mg_dl, [None; 5]);
    assert_eq!(day.points[12].reason.as_ref().unwrap().code, "too_few_readings");
    let unknown = Builder::new(Unit::MgDl).build(&[T], &[100.0]).unwrap();
    let reason = modal_day(unknown.view(), &ModalOptions::default()).unwrap().unwrap_err();
    assert_eq!(reason.code, "no_zone");
}

#[test]
fn options_are_checked() {
    let trace = trace(LocalClock::fixed(0), T, 36, of_day);
    let argument = |o: ModalOptions| {
        let error = modal_day(trace.view(), &o).unwrap_err();
        error.argument().unwrap_or(error.code()).to_string()
    };
    let percentiles = |p: &[f64]| ModalOptions { percentiles: p.to_vec(), ..Default::default() };
    assert_eq!(argument(options(0, Smoothing::None)), "step_min");
    assert_eq!(argument(options(7, Smoothing::None)), "step_min");
    assert_eq!(argument(percentiles(&[])), "too_few_values");
    for bad in [&[50.0, 25.0][..], &[5.0, 5.0], &[-1.0], &[100.5], &[f64::NAN], &[f64::INFINITY]] {
        assert_eq!(argument(percentiles(bad)), "percentiles", "{bad:?}");
    }
    let window = |minutes| options(15, Smoothing::Window { minutes });
    let local = |bandwidth_min| options(15, Smoothing::Local { bandwidth_min });
    assert_eq!(argument(window(0.0)), "minutes");
    assert_eq!(argument(local(f64::NAN)), "bandwidth_min");
    assert_eq!(argument(local(721.0)), "bandwidth_min");
    let ends = percentiles(&[0.0, 100.0]);
    assert!(modal_day(trace.view(), &ends).is_ok());
}
