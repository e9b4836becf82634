use super::scale::Scale;
use super::*;
use crate::panel::compare;
use crate::series::{Builder, Trace};
use crate::stats::distribution::t_two_sided;
use crate::stats::moments;
use crate::stats::random::Random;
use crate::units::Unit;

const DAY: i64 = 86_400_000;
/// The 90th percentile of the normal distribution.
const Z80: f64 = 1.281_551_565_545;
const MIDNIGHT: i64 = 1_741_046_400_000;

/// Days from midnight on, a reading each 5 min.
fn trace(days: usize, unit: Unit, level: impl Fn(usize, usize) -> f64) -> Trace {
    let times: Vec<i64> = (0..days as i64 * 288).map(|i| MIDNIGHT + i * DAY / 288).collect();
    let values: Vec<f64> = (0..days * 288).map(|i| level(i / 288, i % 288)).collect();
    Builder::new(unit).clock(Some(LocalClock::fixed(0))).build(&times, &values).unwrap()
}

/// Meals as waves, days of different height.
fn waves(days: usize, seed: u64) -> Trace {
    let mut random = Random::keyed(seed, 0, 0);
    let heights: Vec<f64> = (0..days).map(|_| 40.0 + 10.0 * random.normal()).collect();
    let base: Vec<f64> = (0..days).map(|_| 110.0 + 6.0 * random.normal()).collect();
    let noise: Vec<f64> = (0..days * 288).map(|_| 3.0 * random.normal()).collect();
    trace(days, Unit::MgDl, move |day, i| {
        let wave = libm::sin(i as f64 * std::f64::consts::TAU / 96.0);
        (base[day] + heights[day] * wave + noise[day * 288 + i]).round()
    })
}

fn of(all: &[(Id, Estimate)], id: Id) -> Estimate {
    all.iter().find(|e| e.0 == id).unwrap().1.clone()
}

fn width(e: &Estimate) -> f64 {
    e.high.unwrap() - e.low.unwrap()
}

fn code(e: &Estimate) -> String {
    e.reason.as_ref().map_or(String::new(), |r| r.code.clone())
}

/// Days of equal counts: the jackknife of a mean is Student's t of the daily means (Efron and
/// Tibshirani 1993), where neighbouring days don't follow each other (here in turn high and low).
#[test]
fn the_mean_of_equal_days_has_the_t_interval_of_daily_means() {
    let means: Vec<f64> = (0..9).map(|d| 100.0 + f64::from(d % 2) * 12.0 + f64::from(d)).collect();
    let t = trace(9, Unit::MgDl, |day, i| means[day] + if i % 2 == 0 { 20.0 } else { -20.0 });
    let mean = of(&intervals(t.view(), &[], 0.9), Id::MeanMgDl);
    let half = t_two_sided(0.9, 8.0) * moments::sd(&means).unwrap() / 3.0;
    let centre = moments::mean(&means).unwrap();
    assert!((mean.low.unwrap() - (centre - half)).abs() < 1e-9, "{mean:?}");
    assert!((mean.high.unwrap() - (centre + half)).abs() < 1e-9);
    assert_eq!(mean.n, 9);
}

/// Daily means 1 to 8: r by hand is 26.25 / 42 = 0.625, plus 1/8 is 0.75, so the variance is
/// 1.75 / 0.25 = 7 times that of independent days.
#[test]
fn days_that_follow_each_other_widen() {
    let t = trace(8, Unit::MgDl, |day, i| 101.0 + day as f64 + if i % 2 == 0 { 9.0 } else { -9.0 });
    let mean = of(&intervals(t.view(), &[], 0.9), Id::MeanMgDl);
    let days: Vec<f64> = (0..8).map(f64::from).collect();
    let se = moments::sd(&days).unwrap() / 8f64.sqrt() * 7f64.sqrt();
    assert!((width(&mean) - 2.0 * t_two_sided(0.9, 7.0) * se).abs() < 1e-9, "{mean:?}");
}

#[test]
fn equal_days_leave_nothing_open() {
    let t = trace(10, Unit::MgDl, |_, i| {
        (120.0 + 70.0 * libm::sin(i as f64 * std::f64::consts::TAU / 96.0)).round()
    });
    let all = intervals(t.view(), &[], 0.95);
    let open = |id: Id| {
        let e = of(&all, id);
        width(&e) / e.value.unwrap()
    };
    use Id::*;
    for id in [
        MeanMgDl,
        GmiPct,
        InRangePct,
        TightRangePct,
        Lbgi,
        Hbgi,
        Grade,
        Adrr,
        SdWithinMgDl,
        OvernightMgDl,
        FastingMgDl,
    ] {
        assert!(open(id).abs() < 1e-9, "{id:?}");
    }
    // The n - 1 of all readings makes the SD larger by 1 in 2 n, which leaving out days finds.
    for id in [SdMgDl, CvPct, JIndex] {
        assert!(open(id).abs() < 1.01 * 2.0 / (2.0 * 2880.0), "{id:?}");
    }
}

#[test]
fn every_interval_is_ordered_holds_its_value_and_stays_in_range() {
    for (unit, t) in [
        (Unit::MgDl, waves(14, 1)),
        (Unit::MmolL, trace(9, Unit::MmolL, |d, i| 5.0 + ((d * 7 + i / 12) % 13) as f64 / 10.0)),
        (Unit::MgDl, trace(9, Unit::MgDl, |d, i| 90.3 + ((d * 7 + i / 12) % 13) as f64 * 3.7)),
    ] {
        for (id, e) in intervals(t.view(), &[], 0.95) {
            assert_eq!(e.low.is_some(), e.high.is_some());
            let (Some(low), Some(high)) = (e.low, e.high) else {
                assert!(e.reason.is_some(), "{id:?}");
                continue;
            };
            let value = e.value.unwrap();
            assert!(low <= value && value <= high, "{unit:?} {id:?} {e:?}");
            let free = matches!(id, Id::DawnRiseMgDl);
            assert!(free || low >= 0.0, "{id:?} {e:?}");
            if Scale::of(id) == Scale::Logit {
                assert!(high <= 100.0, "{id:?} {e:?}");
            }
        }
    }
}

#[test]
fn a_wider_level_is_wider_and_blood_wider_still() {
    let t = waves(14, 2);
    let (narrow, wide) = (intervals(t.view(), &[], 0.8), intervals(t.view(), &[], 0.99));
    for ((id, n), (_, w)) in narrow.iter().zip(&wide) {
        if n.low.is_some() {
            assert!(w.low <= n.low && n.high <= w.high, "{id:?}");
        }
    }
    let known = Blood { meter_bias_sd_pct: 0.0, ..Blood::default() };
    let unknown = Blood { se_mg_dl: 2.0, ..Blood::default() };
    let exact = intervals_in_blood(t.view(), &[], known, 0.8);
    let vague = intervals_in_blood(t.view(), &[], unknown, 0.8);
    for id in [Id::MeanMgDl, Id::GmiPct, Id::OvernightMgDl, Id::FastingMgDl, Id::MedianMgDl] {
        let [read, exact, vague] = [&narrow, &exact, &vague].map(|all| of(all, id));
        // Blood is not rounded to a step.
        let rounding = if id == Id::MedianMgDl { 0.6 } else { 1e-9 };
        assert!(width(&exact) >= width(&read) - rounding, "{id:?}");
        assert!(width(&vague) > width(&read), "{id:?}");
    }
    // Two standard errors of bias and 6 % of the level, with z at 80 %.
    let (mean, read) = (of(&vague, Id::MeanMgDl), of(&narrow, Id::MeanMgDl));
    let meter = 0.06 * mean.value.unwrap();
    let extra = Z80 * Z80 * (4.0 + meter * meter);
    let expected = (width(&read) * width(&read) + 4.0 * extra).sqrt();
    assert!((width(&mean) - expected).abs() < 1e-6);
}

#[test]
fn noise_is_taken_off_the_sd() {
    let t = waves(14, 3);
    let sd = of(&intervals(t.view(), &[], 0.9), Id::SdMgDl).value.unwrap();
    let with = |noise_sd_mg_dl| {
        let blood = Blood { noise_sd_mg_dl, ..Blood::default() };
        intervals_in_blood(t.view(), &[], blood, 0.9)
    };
    let freed = of(&with(Some(9.0)), Id::SdMgDl).value.unwrap();
    assert!((freed - (sd * sd - 81.0).sqrt()).abs() < 1e-6);
    assert_eq!(code(&of(&with(None), Id::SdMgDl)), "no_noise");
    assert_eq!(code(&of(&with(Some(500.0)), Id::SdMgDl)), "noise_too_large");
    assert_eq!(code(&of(&with(Some(9.0)), Id::MageMgDl)), "not_carried_over");
    assert_eq!(code(&of(&with(Some(9.0)), Id::N)), "a_count");
}

/// No day had any: at most 1 - 0.05^(1/10) of days do, at 90 % two-sided (exact binomial).
#[test]
fn a_share_of_nothing_has_the_binomial_bound() {
    let t = trace(10, Unit::MgDl, |day, i| 100.0 + day as f64 + (i % 20) as f64);
    let all = intervals(t.view(), &[], 0.9);
    let (low, full) = (of(&all, Id::Below70Pct), of(&all, Id::InRangePct));
    let bound = 100.0 * (1.0 - libm::pow(0.05, 0.1));
    assert_eq!((low.low, full.high), (Some(0.0), Some(100.0)));
    assert!((low.high.unwrap() - bound).abs() < 1e-9);
    assert!((full.low.unwrap() - (100.0 - bound)).abs() < 1e-9);
}

#[test]
fn too_little_and_what_has_no_interval_say_why() {
    let few = intervals(waves(6, 4).view(), &[], 0.9);
    let mean = of(&few, Id::MeanMgDl);
    assert!(mean.value.is_some() && mean.low.is_none());
    let reason = mean.reason.unwrap();
    assert_eq!((reason.code.as_str(), reason.had), ("too_few_days", Some(6.0)));
    let enough = intervals(waves(8, 4).view(), &[], 0.9);
    for (id, expected) in [
        (Id::N, "a_count"),
        (Id::LowEpisodes, "a_count"),
        (Id::MinMgDl, "no_method"),
        (Id::DfaAlpha, "no_method"),
    ] {
        assert_eq!(code(&of(&enough, id)), expected);
    }
    let times: Vec<i64> = (0..2000).map(|i| MIDNIGHT + i * 600_000).collect();
    let without = Builder::new(Unit::MgDl).build(&times, &vec![100.0; 2000]).unwrap();
    assert_eq!(code(&of(&intervals(without.view(), &[], 0.9), Id::MeanMgDl)), "no_zone");
}

/// Seven days of 24 h from noon on touch eight local days; the two halves count as one.
#[test]
fn the_ends_of_a_wear_count_as_one_day() {
    let whole = waves(8, 5);
    let (from, to) = (MIDNIGHT + DAY / 2, MIDNIGHT + 7 * DAY + DAY / 2 - 1);
    let e = of(&intervals(whole.window(from, to), &[], 0.9), Id::MeanMgDl);
    assert_eq!((e.n, e.low.is_some()), (7, true));
    assert_eq!(of(&intervals(whole.view(), &[], 0.9), Id::MeanMgDl).n, 8);
}

#[test]
fn on_the_grid_and_off_it_agree() {
    let t = waves(10, 6);
    let off: Vec<f64> = t.glucose_mg_dl().iter().map(|g| g + 1e-7).collect();
    let clock = Some(LocalClock::fixed(0));
    let off = Builder::new(Unit::MgDl).clock(clock).build(t.times_ms(), &off).unwrap();
    let (a, b) = (intervals(t.view(), &[], 0.9), intervals(off.view(), &[], 0.9));
    for id in [Id::MeanMgDl, Id::SdMgDl, Id::Hbgi, Id::Conga2hMgDl, Id::ModdMgDl, Id::MagMgDlH] {
        let (a, b) = (of(&a, id), of(&b, id));
        assert!((width(&a) - width(&b)).abs() < 1e-4 * width(&a), "{id:?} {a:?} {b:?}");
    }
}

/// For a mean the recovered ends are those of Welch's interval.
#[test]
fn two_periods_are_compared_as_welch_does() {
    let step = |day: usize| if day < 8 { [0.0, 7.0][day % 2] } else { 20.0 + [0.0, 16.0][day % 2] };
    let t = trace(17, Unit::MgDl, |day, i| 100.0 + step(day) + (i % 2) as f64 * 10.0);
    let middle = MIDNIGHT + 8 * DAY;
    let (a, b) = ((MIDNIGHT, middle), (middle, MIDNIGHT + 17 * DAY));
    let e = of(&compare(t.view(), a, b, &[], 0.9).unwrap(), Id::MeanMgDl);
    let days: Vec<f64> = (0..17).map(step).collect();
    let (va, vb) = (
        moments::variance(&days[..8]).unwrap() / 8.0,
        moments::variance(&days[8..]).unwrap() / 9.0,
    );
    let df = (va + vb) * (va + vb) / (va * va / 7.0 + vb * vb / 8.0);
    let change = moments::mean(&days[8..]).unwrap() - moments::mean(&days[..8]).unwrap();
    assert!((e.value.unwrap() - change).abs() < 1e-9);
    assert!((width(&e) - 2.0 * t_two_sided(0.9, df) * (va + vb).sqrt()).abs() < 1e-6, "{e:?}");
    // The other way round it is the same with the sign changed.
    let back = of(&compare(t.view(), b, a, &[], 0.9).unwrap(), Id::MeanMgDl);
    assert!((back.low.unwrap() + e.high.unwrap()).abs() < 1e-9);
}

#[test]
fn periods_that_cannot_be_compared_are_refused_or_explained() {
    let t = waves(17, 7);
    let at = |day: i64| MIDNIGHT + day * DAY;
    let run = |a, b, level| compare(t.view(), a, b, &[], level);
    let error = run((at(3), at(3)), (at(4), at(9)), 0.9).unwrap_err();
    assert_eq!((error.code(), error.argument()), ("out_of_range", Some("period_a")));
    let error = run((at(0), at(9)), (at(8), at(17)), 0.9).unwrap_err();
    assert_eq!(error.argument(), Some("period_b"));
    assert_eq!(run((at(0), at(8)), (at(8), at(17)), 1.0).unwrap_err().argument(), Some("level"));
    let short = of(&run((at(0), at(8)), (at(8), at(11)), 0.9).unwrap(), Id::MeanMgDl);
    let reason = short.reason.unwrap();
    assert_eq!((reason.code.as_str(), reason.had), ("too_few_days", Some(3.0)));
    assert!(reason.text.starts_with("second period"));
    let empty = of(&run((at(0), at(8)), (at(40), at(50)), 0.9).unwrap(), Id::MeanMgDl);
    assert!(empty.value.is_none() && empty.reason.is_some());
}
