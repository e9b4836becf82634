use super::*;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::units::Unit;

const START: i64 = 1_741_046_400_000;
const DAY: i64 = 86_400_000;

fn trace(glucose: impl Fn(i64) -> f64) -> Trace {
    let times: Vec<i64> = (0..12 * 288).map(|i| START + i * 300_000).collect();
    let values: Vec<f64> = times.iter().map(|t| glucose((t - START).div_euclid(DAY))).collect();
    let clock = Some(LocalClock::fixed(0));
    Builder::new(Unit::MgDl).clock(clock).build(&times, &values).unwrap()
}

fn event(day: i64, kind: EventKind) -> WearEvent {
    WearEvent { time_ms: START + day * DAY, kind, sensor: None }
}

fn meter(shown: &[f64]) -> Meter {
    let times: Vec<i64> = (0..shown.len() as i64).map(|d| START + d * DAY + 43_200_000).collect();
    Meter::new(&times, shown, &vec![String::new(); shown.len()], Unit::MgDl).unwrap()
}

/// Against a meter of 100, days 2-5 differ by 0, 4, -2, 1 and days 7-11 by 10, 13, 9, 16, 8; one pair a
/// day, so each side is a sample. scipy 1.17.1, `ttest_ind(after, before, equal_var=False)`, has Welch's
/// 90 % interval 6.8044 to 14.0956 for it; pairs left out by days come close: their variance is that of
/// each side over n - 1 in place of n.
#[test]
fn a_swap_against_welch() {
    let at = [0.0, 0.0, 0.0, 4.0, -2.0, 1.0, 0.0, 10.0, 13.0, 9.0, 16.0, 8.0];
    let trace = trace(|d| 100.0 + at[d as usize]).with_breaks(vec![START + DAY, START + 6 * DAY]);
    let shown = [100.0; 12];
    // The trace begins a day before its first known insertion: that part has its own pairs.
    let events = [
        event(1, EventKind::Inserted),
        event(6, EventKind::Inserted),
        event(6, EventKind::Removed),
    ];
    let found = steps(&meter(&shown), &trace, &events, Pairing::default(), 0.9).unwrap();
    assert_eq!(found.len(), 2);
    let step = &found[1];
    assert_eq!(step.pairs, (4, 5));
    let e = &step.difference_mg_dl;
    assert!((e.value.unwrap() - 10.45).abs() < 1e-9, "{e:?}");
    assert!(
        (e.low.unwrap() - 6.8044).abs() < 0.6 && (e.high.unwrap() - 14.0956).abs() < 0.6,
        "{e:?}"
    );
    // Of the first part no pair is settled.
    assert_eq!(found[0].difference_mg_dl.reason.as_ref().unwrap().code, "too_few_days");
}

/// Nights 1-5 at 100, 104, 98, 101 and 102, nights 6-11 at 10 more: Welch by hand. Night 0 is the
/// insertion's own and counts; a calibration at midnight cuts no night.
#[test]
fn overnight_jump_is_welch_and_labelled() {
    let level = [100.0, 100.0, 104.0, 98.0, 101.0, 102.0, 110.0, 114.0, 108.0, 111.0, 112.0, 110.0];
    let trace = trace(|d| level[d as usize]);
    let found = steps(
        &Meter::default(),
        &trace,
        &[event(6, EventKind::Calibrated)],
        Pairing::default(),
        0.9,
    )
    .unwrap();
    let e = &found[0].overnight_mg_dl;
    let (before, after) = (&level[..6], &level[6..]);
    let value = moments::mean(after).unwrap() - moments::mean(before).unwrap();
    // Equal sides with the same deviations: 10 degrees of freedom, t 1.8125 at 90 %.
    let se = (2.0 * moments::variance(before).unwrap() / 6.0).sqrt();
    assert!((e.value.unwrap() - value).abs() < 1e-9);
    assert!((e.high.unwrap() - value - 1.8125 * se).abs() < 1e-3, "{e:?}");
    assert!(e.method.contains("could be the person"));
    assert_eq!(found[0].difference_mg_dl.value, None);
}
