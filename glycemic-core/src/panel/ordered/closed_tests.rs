//! Closed forms, gaps and changes of sensor.

use super::*;
use crate::series::{Builder, Trace};
use crate::units::Unit;

const T: i64 = 1_741_046_400_000; // 2025-03-04T00:00Z
const MINUTE: i64 = 60_000;

fn times(n: usize, step_min: i64) -> Vec<i64> {
    (0..n as i64).map(|i| T + i * step_min * MINUTE).collect()
}

fn trace(times: &[i64], glucose: &[f64]) -> Trace {
    Builder::new(Unit::MgDl).clock(Some(LocalClock::fixed(0))).build(times, glucose).unwrap()
}

fn of(trace: &Trace, id: Id) -> Result<f64, Reason> {
    with(trace, id, &[], &Options::default())
}

fn with(trace: &Trace, id: Id, meals: &[i64], options: &Options) -> Result<f64, Reason> {
    all(trace.view(), meals, options).into_iter().find(|m| m.0 == id).unwrap().1
}

fn close(got: Result<f64, Reason>, expected: f64, tolerance: f64) {
    let got = got.unwrap();
    assert!((got - expected).abs() <= tolerance, "{got}, expected {expected} +- {tolerance}");
}

fn code(got: Result<f64, Reason>) -> String {
    got.unwrap_err().code
}

/// m + A sin(2 pi t / P), off the grid.
fn sine(days: usize, period_h: f64, amplitude: f64, step_min: i64) -> Trace {
    let times = times(days * (1440 / step_min) as usize, step_min);
    let glucose: Vec<f64> = times
        .iter()
        .map(|t| {
            let hours = (t - T) as f64 / 3_600_000.0;
            140.0 + amplitude * libm::sin(2.0 * std::f64::consts::PI * hours / period_h)
        })
        .collect();
    trace(&times, &glucose)
}

#[test]
fn every_id_of_this_room_is_answered_once() {
    let got: Vec<Id> =
        all(sine(2, 6.0, 40.0, 5).view(), &[], &Options::default()).iter().map(|m| m.0).collect();
    let mut numbers: Vec<u32> = got.iter().map(|&id| id as u32).collect();
    numbers.sort_unstable();
    let expected: Vec<u32> = (32..=40).chain([49, 54]).chain(58..=65).chain(67..=70).collect();
    assert_eq!(numbers, expected);
}

#[test]
fn sine_with_period_that_divides_a_day() {
    let (period, a) = (6.0, 40.0);
    let t = sine(4, period, a, 5);
    // Sampled every 5 min the peaks are hit exactly: 6 h is 72 readings.
    close(of(&t, Id::ModdMgDl), 0.0, 1e-9);
    for (id, n) in [(Id::Conga1hMgDl, 1.0), (Id::Conga2hMgDl, 2.0), (Id::Conga4hMgDl, 4.0)] {
        let expected = 2.0_f64.sqrt() * a * libm::sin(std::f64::consts::PI * n / period).abs();
        // The pairs don't cover whole periods, and n - 1: under 1 % over four days.
        close(of(&t, id), expected, 0.01 * expected);
    }
    close(of(&t, Id::MageDownMgDl), 2.0 * a, 1e-8);
    // From peak to peak every excursion is whole.
    let whole = t.window(T + 90 * MINUTE, T + (90 + 14 * 360) * MINUTE);
    for m in &all(whole, &[], &Options::default())[..3] {
        close(m.1.clone(), 2.0 * a, 1e-8);
    }
    // The first move is up from the mean to the peak, A > SD = A / sqrt 2; the last is up from
    // the trough to almost the mean, short of one reading.
    let last = a - a * libm::sin(2.0 * std::f64::consts::PI / 72.0);
    close(of(&t, Id::MageUpMgDl), (a + 15.0 * 2.0 * a + last) / 17.0, 1e-8);
}

#[test]
fn sine_mag_approaches_four_amplitudes_a_period() {
    let t = sine(3, 6.0, 40.0, 1);
    // All turns are hit; the part after the last reading is missing.
    close(of(&t, Id::MagMgDlH), 4.0 * 40.0 / 6.0, 1e-3 * 160.0 / 6.0);
}

#[test]
fn sine_that_does_not_fit_the_day_has_a_modd() {
    // P = 48 h: G(t) - G(t - 24 h) = 2 A sin(wt), mean magnitude 4 A / pi over whole periods.
    let t = sine(3, 48.0, 50.0, 5);
    close(of(&t, Id::ModdMgDl), 4.0 * 50.0 / std::f64::consts::PI, 0.01);
}

#[test]
fn poincare_of_a_sine() {
    // Steps have the SD sqrt2 A sin(pi dt / P), SD1 that over sqrt2; SD2^2 = A^2 - SD1^2.
    let (a, period) = (40.0, 6.0);
    let t = sine(20, period, a, 5);
    let sd1 = a * libm::sin(std::f64::consts::PI / 72.0);
    close(of(&t, Id::PoincareSd1MgDl), sd1, 1e-3 * sd1);
    close(of(&t, Id::PoincareSd2MgDl), (a * a - sd1 * sd1).sqrt(), 1e-3 * a);
}

#[test]
fn constant_trace() {
    let t = trace(&times(2 * 288, 5), &[110.0; 2 * 288]);
    for id in [
        Id::ModdMgDl,
        Id::Conga1hMgDl,
        Id::Conga4hMgDl,
        Id::MagMgDlH,
        Id::GvpPct,
        Id::LabilityIndex,
        Id::TimeInFluctuationPct,
        Id::PoincareSd1MgDl,
        Id::PoincareSd2MgDl,
        Id::SdWithinMgDl,
        Id::SdBetweenDailyMeansMgDl,
        Id::SdOfMeanDayMgDl,
        Id::SdWithinHourMgDl,
        Id::SdBetweenDaysMgDl,
        Id::SdBetweenDaysLessMeansMgDl,
        Id::DawnRiseMgDl,
    ] {
        assert_eq!(of(&t, id), Ok(0.0), "{id:?}");
    }
    for id in [Id::MageMgDl, Id::MageUpMgDl, Id::MageDownMgDl] {
        assert_eq!(code(of(&t, id)), "no_excursions");
    }
    assert_eq!(code(of(&t, Id::DfaAlpha)), "no_variation");
    assert_eq!(code(of(&t, Id::SampleEntropy)), "no_variation");
}

#[test]
fn ramp() {
    // 1 mg/dL every 5 min for a day: 12 mg/dL/h.
    let glucose: Vec<f64> = (0..288).map(|i| 60.0 + f64::from(i)).collect();
    let t = trace(&times(288, 5), &glucose);
    close(of(&t, Id::MagMgDlH), 12.0, 1e-12);
    close(of(&t, Id::GvpPct), 100.0 * (26.0_f64.sqrt() / 5.0 - 1.0), 1e-10);
    assert_eq!(of(&t, Id::Conga2hMgDl), Ok(0.0));
    assert_eq!(of(&t, Id::PoincareSd1MgDl), Ok(0.0));
    assert_eq!(of(&t, Id::MageMgDl), Ok(287.0));
    assert_eq!(code(of(&t, Id::MageDownMgDl)), "no_excursions");
    assert_eq!(of(&t, Id::TimeInFluctuationPct), Ok(0.0));
    // (12 / 18.0156)^2 every hour for 168 h.
    close(of(&t, Id::LabilityIndex), 168.0 * (12.0_f64 / 18.0156) * (12.0 / 18.0156), 1e-8);
    let per_pair =
        Options { lability: crate::panel::options::Lability::MeanPerPair, ..Options::default() };
    let mean = with(&t, Id::LabilityIndex, &[], &per_pair);
    close(mean, (12.0_f64 / 18.0156) * (12.0 / 18.0156), 1e-10);
    // The hour 06:00-07:00 lies 72 readings after 00:00-01:00.
    assert_eq!(of(&t, Id::DawnRiseMgDl), Ok(72.0));
}

#[test]
fn square_wave() {
    // 8 h at 100, 8 h at 160, and so on: 3 days, 9 half periods.
    let glucose: Vec<f64> = (0..864).map(|i| if i / 96 % 2 == 0 { 100.0 } else { 160.0 }).collect();
    let t = trace(&times(864, 5), &glucose);
    for id in [Id::MageMgDl, Id::MageUpMgDl, Id::MageDownMgDl] {
        assert_eq!(of(&t, id), Ok(60.0));
    }
    // 24 h is three half periods: every pair differs by 60.
    assert_eq!(of(&t, Id::ModdMgDl), Ok(60.0));
    // Eight steps of 60 mg/dL in 863 steps of 5 min, each faster than 1.5 mg/dL/min.
    close(of(&t, Id::TimeInFluctuationPct), 100.0 * 8.0 / 863.0, 1e-12);
    close(of(&t, Id::MagMgDlH), 480.0 / (863.0 / 12.0), 1e-12);
}

#[test]
fn speed_of_exactly_the_limit_is_no_fluctuation() {
    let t = trace(&times(3, 10), &[100.0, 115.0, 131.0]);
    assert_eq!(of(&t, Id::TimeInFluctuationPct), Ok(50.0));
}

#[test]
fn an_excursion_of_exactly_one_sd_does_not_count() {
    // Deviations -2, -2, 2, 2 and 0 about 102: the squares sum to 16, over 4 is 4; SD 2.
    let t = trace(&times(5, 5), &[100.0, 100.0, 102.0, 104.0, 104.0]);
    assert_eq!(of(&t, Id::MageMgDl), Ok(4.0));
    // Down 2, up 4, down 2 with an SD of sqrt 2: all count, and the first is down.
    let t = trace(&times(5, 5), &[100.0, 98.0, 100.0, 102.0, 100.0]);
    assert_eq!(of(&t, Id::MageMgDl), Ok(2.0));
    assert_eq!(of(&t, Id::MageUpMgDl), Ok(4.0));
    // SD 2 exactly by -2, 0, 2: two moves of 2 in parts of their own don't count.
    let apart = [T, T + 5 * MINUTE, T + 60 * MINUTE];
    let t = trace(&apart, &[98.0, 100.0, 102.0]).with_breaks(vec![T + 10 * MINUTE]);
    assert_eq!(code(of(&t, Id::MageMgDl)), "no_excursions");
}

#[test]
fn nothing_is_carried_across_a_gap() {
    // 100 ... 130 | two hours | 190 ... 160: one excursion up of 30, one down of 30; SD 35.
    let mut when = times(4, 5);
    when.extend(when.clone().iter().map(|t| t + 120 * MINUTE));
    let glucose = [100.0, 110.0, 120.0, 140.0, 200.0, 190.0, 180.0, 160.0];
    let t = trace(&when, &glucose);
    let sd = crate::stats::moments::sd(&glucose).unwrap();
    assert!(sd < 40.0 && sd > 30.0);
    assert_eq!(of(&t, Id::MageUpMgDl), Ok(40.0));
    assert_eq!(of(&t, Id::MageDownMgDl), Ok(40.0));
    // 80 mg/dL in half an hour observed.
    assert_eq!(of(&t, Id::MagMgDlH), Ok(160.0));
    // Two readings may stand on both sides of a gap: differences 100, 80, 60, 20, mean 65.
    let squares = 35.0 * 35.0 + 15.0 * 15.0 + 25.0 + 45.0 * 45.0_f64;
    close(of(&t, Id::Conga2hMgDl), (squares / 3.0).sqrt(), 1e-12);
    // Not of a change of sensor.
    let t = t.with_breaks(vec![T + 60 * MINUTE]);
    assert_eq!(code(of(&t, Id::Conga2hMgDl)), "too_few_pairs");
}

#[test]
fn a_change_of_sensor_breaks_steps_without_a_gap() {
    let t = trace(&times(4, 5), &[100.0, 105.0, 200.0, 205.0]).with_breaks(vec![T + 10 * MINUTE]);
    assert_eq!(of(&t, Id::MagMgDlH), Ok(60.0));
    assert_eq!(of(&t, Id::PoincareSd1MgDl), Ok(0.0));
}

#[test]
fn three_intervals_are_a_step_and_more_are_a_gap() {
    let at = |minutes: &[i64]| minutes.iter().map(|m| T + m * MINUTE).collect::<Vec<_>>();
    let t = trace(&at(&[0, 5, 10, 25]), &[100.0, 100.0, 100.0, 125.0]);
    assert_eq!(of(&t, Id::MagMgDlH), Ok(60.0));
    let t = trace(&at(&[0, 5, 10, 26]), &[100.0, 100.0, 100.0, 125.0]);
    assert_eq!(of(&t, Id::MagMgDlH), Ok(0.0));
}

#[test]
fn partner_ties_go_to_the_earlier() {
    // One hour before 10:02:30 lie 09:00 and 09:05 alike.
    let when = [T, T + 5 * MINUTE, T + 10 * MINUTE, T + 62 * MINUTE + MINUTE / 2];
    let pairs = |t: &[i64]| {
        let mut d = Differences::default();
        lagged::differences(t, &[100, 110, 130, 200], 60 * MINUTE, 5 * MINUTE, i64::MIN, &mut d);
        d.total()
    };
    assert_eq!(pairs(&when), 100.0);
}

#[test]
fn whole_days_only_leaves_out_the_partial_first_day() {
    // From 22:00 on: 2 h at 100 that day, then 26 h: pairs with the first day differ by 50.
    let when: Vec<i64> = (0..28 * 12 + 12).map(|i| T + (22 * 60 + i * 5) * MINUTE).collect();
    let glucose: Vec<f64> = (0..when.len()).map(|i| if i < 24 { 100.0 } else { 150.0 }).collect();
    let t = trace(&when, &glucose);
    close(of(&t, Id::ModdMgDl), 50.0 * 24.0 / 60.0, 1e-12);
    let whole = Options { modd_pairs: ModdPairs::WholeDaysOnly, ..Options::default() };
    assert_eq!(with(&t, Id::ModdMgDl, &[], &whole), Ok(0.0));
    let no_clock = Builder::new(Unit::MgDl).build(&when, &glucose).unwrap();
    assert_eq!(code(with(&no_clock, Id::ModdMgDl, &[], &whole)), "no_zone");
}

#[test]
fn mage_by_the_mean_of_daily_sds() {
    // Day 1 and 2: 100 and 110 by turns (SD 5), day 3 the same at 300: the whole SD is over 90.
    let glucose: Vec<f64> = (0..3 * 288)
        .map(|i| f64::from(if i < 576 { 100 } else { 300 } + 10 * (i / 12 % 2)))
        .collect();
    let t = trace(&times(864, 5), &glucose);
    let daily = Options { mage_sd: MageSd::MeanOfDays, ..Options::default() };
    assert_eq!(with(&t, Id::MageDownMgDl, &[], &daily), Ok(10.0));
    assert_eq!(code(of(&t, Id::MageDownMgDl)), "no_excursions");
}

#[test]
fn dawn_rise_with_a_diary() {
    // 90 all night but 80 from 03:00 to 04:00; 100 from 06:00 on; breakfast at 08:00.
    let glucose: Vec<f64> = (0..288)
        .map(|i| match i / 12 {
            3 => 80.0,
            0..=5 => 90.0,
            _ => 100.0 + f64::from(i / 12),
        })
        .collect();
    let t = trace(&times(288, 5), &glucose);
    assert_eq!(of(&t, Id::DawnRiseMgDl), Ok(26.0));
    let breakfast = [T + 8 * 60 * MINUTE, T + 9 * 60 * MINUTE];
    assert_eq!(with(&t, Id::DawnRiseMgDl, &breakfast, &Options::default()), Ok(27.0));
    // Breakfast at 04:30: what comes after it is no night; 90 before, 80 at the lowest.
    let early = [T + 270 * MINUTE];
    assert_eq!(with(&t, Id::DawnRiseMgDl, &early, &Options::default()), Ok(5.0));
    let low_later: Vec<f64> = t
        .glucose_mg_dl()
        .iter()
        .enumerate()
        .map(|(i, &g)| if i / 12 == 5 { 60.0 } else { g })
        .collect();
    let t = trace(&times(288, 5), &low_later);
    assert_eq!(with(&t, Id::DawnRiseMgDl, &early, &Options::default()), Ok(5.0));
    let lunch = [T + 13 * 60 * MINUTE];
    assert_eq!(code(with(&t, Id::DawnRiseMgDl, &lunch, &Options::default())), "too_few_days");
}

#[test]
fn one_reading_and_none() {
    let t = trace(&[T], &[100.0]);
    let answers = all(t.view(), &[], &Options::default());
    assert!(answers.iter().all(|m| m.1.is_err()), "{answers:?}");
    let answers = all(t.window(T + 1, T + 2), &[], &Options::default());
    assert!(answers.iter().all(|m| m.1.is_err()), "{answers:?}");
}

/// The clock goes from 60 to 0 minutes east at 01:00 UTC of the second day, and back to 60 at
/// 01:00 UTC of the third: days of 25 and of 23 hours.
fn odd_days() -> LocalClock {
    let day = |n: i64| T + n * 1440 * MINUTE + 60 * MINUTE;
    LocalClock::from_steps("odd", &[(0, 60), (day(1), 0), (day(2), 60)]).unwrap()
}

#[test]
fn days_of_23_and_25_hours() {
    let clock = odd_days();
    let start = clock.day_start(clock.day(T + 120 * MINUTE));
    assert_eq!(start, T - 60 * MINUTE);
    let when: Vec<i64> = (0..4 * 288).map(|i| start + i * 5 * MINUTE).collect();
    // Glucose is the number of the local hour, plus 100 for the day of 25 h.
    let glucose: Vec<f64> = when
        .iter()
        .map(|&t| {
            let day = f64::from(clock.day(t) == clock.day(start) + 1);
            100.0 + (clock.minute_of_day(t) / 60.0).floor() + 100.0 * day
        })
        .collect();
    let t = Builder::new(Unit::MgDl).clock(Some(clock.clone())).build(&when, &glucose).unwrap();
    let days = days::days(t.view(), &clock);
    assert_eq!(days.iter().map(|d| d.range.len()).collect::<Vec<_>>(), [288, 300, 276, 288]);
    assert_eq!(days.iter().map(|d| d.even).collect::<Vec<_>>(), [true, false, false, true]);
    // 06:00-07:00 is 6 above 00:00-01:00 on every day, the 25-hour one too.
    for day in &days {
        let one = all(t.window(day.start_ms, day.end_ms - 1), &[], &Options::default());
        let rise = one.into_iter().find(|m| m.0 == Id::DawnRiseMgDl).unwrap().1;
        assert_eq!(rise, Ok(6.0), "day {}", day.number);
    }
    assert_eq!(of(&t, Id::SdWithinHourMgDl), Ok(0.0));
    // Within a slot the days differ by the 100 only: 1 of 4 days (of 3 where the clock skips an
    // hour); SD of 0, 0, 0, 100 is 50, of 0, 100, 0 is 57.735.
    close(of(&t, Id::SdBetweenDaysMgDl), (23.0 * 50.0 + 100.0 / 3.0_f64.sqrt()) / 24.0, 1e-9);
    // Without the days' means, which the hours repeated or skipped move a little.
    assert!(of(&t, Id::SdBetweenDaysLessMeansMgDl).unwrap() < 0.5);
}

#[test]
fn rodbard_by_hand() {
    // Two days of four readings, six hours apart, at 100 120 140 120 and 20 more.
    let glucose = [100.0, 120.0, 140.0, 120.0, 120.0, 140.0, 160.0, 140.0];
    let t = trace(&times(8, 360), &glucose);
    // Deviations -20, 0, 20, 0: 800 / 3.
    close(of(&t, Id::SdWithinMgDl), (800.0_f64 / 3.0).sqrt(), 1e-12);
    close(of(&t, Id::SdBetweenDailyMeansMgDl), 200.0_f64.sqrt(), 1e-12);
    close(of(&t, Id::SdOfMeanDayMgDl), (800.0_f64 / 3.0).sqrt(), 1e-12);
    close(of(&t, Id::SdBetweenDaysMgDl), 200.0_f64.sqrt(), 1e-12);
    close(of(&t, Id::SdBetweenDaysLessMeansMgDl), 0.0, 1e-12);
    // A third day with one reading of four does not count.
    let mut longer = glucose.to_vec();
    longer.push(400.0);
    let t = trace(&times(9, 360), &longer);
    close(of(&t, Id::SdBetweenDailyMeansMgDl), 200.0_f64.sqrt(), 1e-12);
}

#[test]
fn adrr_by_hand() {
    // f(112.5) = 0 within 0.0003; day 1 from 70 to 180: 7.755 + 7.729 (Kovatchev's scale is
    // symmetric there), day 2 from 54 to 250: 18.461 + 22.44; values of the scale to three places.
    let glucose = [70.0, 112.0, 180.0, 54.0, 112.0, 250.0, 20.0, 600.0];
    let t = trace(&times(8, 480), &glucose);
    close(of(&t, Id::Adrr), (7.755 + 7.729 + 18.461 + 22.44) / 2.0, 0.005);
    let t = trace(&times(2, 480), &glucose[..2]);
    assert_eq!(code(of(&t, Id::Adrr)), "too_few_days");
}

#[test]
fn readings_two_hours_apart_have_no_partner_one_hour_before() {
    let glucose: Vec<f64> = (0..26).map(|i| f64::from(100 + i % 7)).collect();
    let t = trace(&times(26, 120), &glucose);
    assert_eq!(code(of(&t, Id::Conga1hMgDl)), "too_few_pairs");
    assert!(of(&t, Id::Conga2hMgDl).is_ok() && of(&t, Id::ModdMgDl).is_ok());
}

#[test]
fn days_hold_every_reading_once_whatever_the_clock_does() {
    let mut random = crate::stats::random::Random::keyed(40, 0, 0);
    for _ in 0..200 {
        let steps: Vec<(i64, i32)> = (0..6)
            .map(|i| {
                (
                    T + (i * 20 + random.below(20) as i64) * 60 * MINUTE,
                    random.below(1500) as i32 - 750,
                )
            })
            .collect();
        let clock = LocalClock::from_steps("travel", &steps).unwrap();
        let when = times(130, 60);
        let t = Builder::new(Unit::MgDl).clock(Some(clock.clone())).build(&when, &[100.0; 130]);
        let t = t.unwrap();
        let days = days::days(t.view(), &clock);
        let (mut at, mut number) = (0, i64::MIN);
        for day in &days {
            assert!(day.range.start == at && !day.range.is_empty() && day.number > number);
            (at, number) = (day.range.end, day.number);
        }
        assert_eq!(at, 130);
        // Nothing panics.
        all(t.view(), &[T + 7 * 60 * MINUTE], &Options::default());
    }
}
