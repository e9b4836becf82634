//! A stream against the whole trace: equal to the last bit.

use super::*;
use crate::panel::ordered::mage;
use crate::panel::registry::Needs;
use crate::panel::{MEASURES, panel};
use crate::series::Builder;
use crate::stats::random::Random;

const T: i64 = 1_741_000_000_000;
const MINUTE: i64 = 60_000;
const HOUR: i64 = 60 * MINUTE;

type Readings = Vec<(i64, f64)>;

/// Days of readings about five minutes apart, with gaps and odd steps.
fn readings(case: u64, unit: Unit) -> Readings {
    let mut random = Random::keyed(30, case, 0);
    let n = 2 + random.below(2500);
    let (mut t, mut g) = (T + random.below(86_400_000) as i64, 140.0_f64);
    let gaps = 1 + random.below(12);
    (0..n)
        .map(|_| {
            let per_step = unit.from_mg_dl(g) / unit.step();
            let shown = match unit {
                Unit::MgDl => per_step.round(),
                Unit::MmolL => unit.to_mg_dl(per_step.round() / 10.0),
            };
            let reading = (t, shown);
            g = (g + 7.0 * random.normal() + 0.03 * (140.0 - g)).clamp(40.0, 400.0);
            t += match random.below(300) {
                k if k < gaps => MINUTE * (16 + random.below(2000) as i64),
                k if k < 40 => 4 * MINUTE + random.below(120) as i64 * 1000,
                40 => 10 * MINUTE,
                41 => 15 * MINUTE,
                _ => 5 * MINUTE,
            };
            reading
        })
        .collect()
}

fn unit(case: u64) -> Unit {
    if case.is_multiple_of(2) { Unit::MgDl } else { Unit::MmolL }
}

/// The same measures by way of the whole trace.
fn whole(readings: &Readings, unit: Unit) -> Vec<(Id, Result<f64, Reason>)> {
    let (times, glucose): (Vec<i64>, Vec<f64>) =
        readings.iter().map(|r| (r.0, unit.from_mg_dl(r.1))).unzip();
    let trace = Builder::new(unit).build(&times, &glucose).unwrap();
    assert_eq!(trace.glucose_mg_dl(), readings.iter().map(|r| r.1).collect::<Vec<_>>());
    let p = panel(trace.view(), &[]);
    let answer = |id| p.get(id).ok_or_else(|| p.reason(id).unwrap().clone());
    MEASURES.iter().map(|m| (m.id, answer(m.id))).collect()
}

fn same(stream: &Stream, readings: &Readings, unit: Unit, said: &str) {
    let expected = whole(readings, unit);
    let got = stream.measures();
    // All but those of local days, the complexity and the episodes.
    let needs = MEASURES.iter().filter(|m| m.needs != Needs::Trace).count();
    assert_eq!(got.len(), needs + 1, "{said}");
    for (id, value) in got {
        let expected = &expected.iter().find(|m| m.0 == id).unwrap().1;
        assert_eq!(&value, expected, "{said}, {id:?}");
    }
    assert_eq!(stream.len(), readings.len(), "{said}");
}

fn stream(unit: Unit, readings: &[(i64, f64)]) -> Stream {
    let mut stream = Stream::new(unit, 5.0, None).unwrap();
    for &(t, g) in readings {
        stream.push(t, g).unwrap();
    }
    stream
}

/// The readings as they might come in: one in five late, by up to almost 25 h.
fn late(readings: &[(i64, f64)], random: &mut Random) -> Readings {
    let mut arrivals: Vec<(i64, (i64, f64))> = readings
        .iter()
        .map(|&r| {
            let late =
                if random.below(5) == 0 { random.below(25 * HOUR as usize) as i64 } else { 0 };
            (r.0 + late, r)
        })
        .collect();
    arrivals.sort_by_key(|a| a.0);
    arrivals.into_iter().map(|a| a.1).collect()
}

/// Whether the whole trace takes the same nominal interval.
fn regular(readings: &Readings) -> bool {
    let times: Vec<i64> = readings.iter().map(|r| r.0).collect();
    let glucose = vec![100.0; times.len()];
    Builder::new(Unit::MgDl).build(&times, &glucose).unwrap().nominal_ms() == 5 * MINUTE
}

#[test]
fn in_order_late_and_joined_equal_the_whole_trace() {
    let mut checked = 0;
    for case in 0..120 {
        let unit = unit(case);
        let all = readings(case, unit);
        if !regular(&all) {
            continue;
        }
        checked += 1;
        let mut random = Random::keyed(31, case, 0);
        same(&stream(unit, &all), &all, unit, &format!("case {case} in order"));
        same(&stream(unit, &late(&all, &mut random)), &all, unit, &format!("case {case} late"));
        // Three to five parts, joined from the left and from the right.
        let mut cuts: Vec<usize> =
            (0..2 + random.below(3)).map(|_| random.below(all.len() + 1)).collect();
        cuts.extend([0, all.len()]);
        cuts.sort_unstable();
        let parts: Vec<Stream> =
            cuts.windows(2).map(|c| stream(unit, &late(&all[c[0]..c[1]], &mut random))).collect();
        let mut left = Stream::new(unit, 5.0, None).unwrap();
        for part in &parts {
            left.join(part).unwrap();
        }
        same(&left, &all, unit, &format!("case {case} from the left at {cuts:?}"));
        let mut right = Stream::new(unit, 5.0, None).unwrap();
        for part in parts.iter().rev() {
            let mut joined = part.clone();
            joined.join(&right).unwrap();
            right = joined;
        }
        same(&right, &all, unit, &format!("case {case} from the right at {cuts:?}"));
    }
    assert!(checked > 100, "{checked}");
}

#[test]
fn a_joined_stream_goes_on() {
    for case in 200..230 {
        let unit = unit(case);
        let all = readings(case, unit);
        if !regular(&all) {
            continue;
        }
        let mut random = Random::keyed(32, case, 0);
        let (a, b) = (random.below(all.len()), random.below(all.len()));
        let (a, b) = (a.min(b), a.max(b));
        let mut joined = stream(unit, &all[..a]);
        joined.join(&stream(unit, &all[a..b])).unwrap();
        for (t, g) in late(&all[b..], &mut random) {
            joined.push(t, g).unwrap();
        }
        same(&joined, &all, unit, &format!("case {case}, {a}, {b}"));
    }
}

/// Few levels, so that many moves are equal; every threshold.
#[test]
fn cycles_equal_the_hysteresis_filter() {
    for case in 0..400 {
        let mut random = Random::keyed(33, case, 0);
        let levels = 2 + random.below(12);
        let n = 1 + random.below(60);
        let mut cycles = cycles::Cycles::default();
        let (mut codes, mut segments) = (Vec::new(), Vec::new());
        let mut start = 0;
        for i in 0..n {
            let joined = i > 0 && random.below(15) > 0;
            if i > 0 && !joined {
                segments.push(start..i);
                start = i;
            }
            codes.push(100 + random.below(levels) as i32);
            cycles.add(codes[i], joined);
        }
        segments.push(start..n);
        for tenths in 0..10 * levels + 5 {
            let threshold = tenths as f64 / 10.0;
            assert_eq!(
                cycles.excursions(threshold),
                mage::excursions(&codes, &segments, threshold),
                "case {case}, threshold {threshold}, {codes:?} in {segments:?}"
            );
        }
    }
}

#[test]
fn memory_does_not_grow_with_the_readings() {
    let kept = |days: i64| {
        let readings: Readings = (0..days * 288)
            .map(|i| (T + i * 5 * MINUTE, 140.0 + (i * 7919 % 101) as f64))
            .collect();
        let s = stream(Unit::MgDl, &readings);
        (s.head.len(), s.recent.len(), s.tail.len())
    };
    assert_eq!(kept(4), kept(40));
    let (head, recent, tail) = kept(4);
    assert!(head + recent + tail < 3 * 302, "{head}, {recent}, {tail}");
}

#[test]
fn what_is_refused_leaves_the_stream_as_it_was() {
    let mut s = stream(Unit::MgDl, &[(T, 100.0), (T + 30 * HOUR, 110.0)]);
    let before = s.clone();
    let mut code = |t, g| s.push(t, g).unwrap_err().code();
    // 25 h older than the latest is too old, a millisecond later is not.
    assert_eq!(code(T + 5 * HOUR, 100.0), "out_of_range");
    assert_eq!(code(T + 30 * HOUR, 111.0), "unordered_time");
    assert_eq!(code(T + 31 * HOUR, 100.5), "off_grid");
    assert_eq!(code(T + 31 * HOUR, f64::NAN), "not_finite");
    assert_eq!(code(T + 31 * HOUR, 0.0), "out_of_range");
    assert_eq!(code(T + 31 * HOUR, 2001.0), "out_of_range");
    assert_eq!(code(T / 1000, 100.0), "implausible_time");
    assert_eq!(s, before);
    assert_eq!(s.push(T + 5 * HOUR + 1, 100.0), Ok(Pushed::Inserted));
    let mut mmol = Stream::new(Unit::MmolL, 5.0, None).unwrap();
    assert_eq!(mmol.push(T, Unit::MmolL.to_mg_dl(7.8)), Ok(Pushed::Added));
    assert_eq!(mmol.push(T + MINUTE, 100.0).unwrap_err().code(), "off_grid");
}

#[test]
fn what_can_not_be_joined() {
    let s = |unit, minutes, clock| Stream::new(unit, minutes, clock).unwrap();
    let mut base = stream(Unit::MgDl, &[(T, 100.0)]);
    let mut code = |later: &Stream| base.join(later).unwrap_err().code();
    assert_eq!(code(&s(Unit::MmolL, 5.0, None)), "unknown_choice");
    assert_eq!(code(&s(Unit::MgDl, 1.0, None)), "out_of_range");
    assert_eq!(code(&s(Unit::MgDl, 5.0, Some(LocalClock::fixed(0)))), "unknown_choice");
    assert_eq!(code(&stream(Unit::MgDl, &[(T, 100.0)])), "out_of_range");
    assert_eq!(base, stream(Unit::MgDl, &[(T, 100.0)]));
    assert!(Stream::new(Unit::MgDl, f64::NAN, None).is_err());
    assert!(Stream::new(Unit::MgDl, 61.0, None).is_err());
}

#[test]
fn an_empty_stream_has_reasons() {
    let s = Stream::new(Unit::MgDl, 5.0, None).unwrap();
    let counts = [Id::N, Id::CensoredLow, Id::CensoredHigh];
    let none = |m: &(Id, Result<f64, Reason>)| m.1.is_err() || counts.contains(&m.0);
    assert!(s.is_empty() && s.measures().iter().all(none));
}

#[test]
#[cfg(feature = "io")]
fn is_the_same_after_a_turn_through_json() {
    let all = readings(4, Unit::MgDl);
    let half = all.len() / 2;
    let text = serde_json::to_string(&stream(Unit::MgDl, &all[..half])).unwrap();
    let mut back: Stream = serde_json::from_str(&text).unwrap();
    for &(t, g) in &all[half..] {
        back.push(t, g).unwrap();
    }
    same(&back, &all, Unit::MgDl, "through JSON");
}
