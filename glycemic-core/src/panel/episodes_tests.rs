use super::episodes::*;
use super::options::{EpisodeLength, Options};
use super::registry::Id;
use crate::clock::LocalClock;
use crate::series::Builder;
use crate::units::{self, Unit};
use crate::{Reason, Trace};

/// Midnight of 4 March 2025, UTC.
const T: i64 = 1_741_046_400_000;
const MIN: i64 = 60_000;
const SPAN: EpisodeLength = EpisodeLength::Span;

/// Runs of (readings, value), one every `step` minutes from T on.
fn runs(step: i64, unit: Unit, runs: &[(usize, f64)]) -> Trace {
    let glucose: Vec<f64> = runs.iter().flat_map(|&(n, v)| vec![v; n]).collect();
    let times: Vec<i64> = (0..glucose.len() as i64).map(|i| T + i * step * MIN).collect();
    Builder::new(unit).clock(Some(LocalClock::fixed(0))).build(&times, &glucose).unwrap()
}

fn five(values: &[(usize, f64)]) -> Trace {
    runs(5, Unit::MgDl, values)
}

fn minutes(trace: &Trace, rule: &Rule) -> Vec<f64> {
    episodes(trace.view(), rule).unwrap().iter().map(|e| e.minutes).collect()
}

fn count(trace: &Trace, id: Id, length: EpisodeLength) -> Result<f64, Reason> {
    let options = Options { episode_length: length, ..Options::default() };
    counts(trace.view(), &options).into_iter().find(|c| c.0 == id).unwrap().1
}

/// Danne 2017, Battelino 2019: at least 15 minutes below the level. By count 15 readings a
/// minute apart are 15 minutes; from first to last they are 14.
#[test]
fn fourteen_fifteen_and_sixteen_minutes() {
    for (n, by_count, by_span) in
        [(14, vec![], vec![]), (15, vec![15.0], vec![]), (16, vec![16.0], vec![16.0])]
    {
        let trace = runs(1, Unit::MgDl, &[(60, 100.0), (n, 69.0), (60, 100.0)]);
        assert_eq!(minutes(&trace, &Rule::LOW), by_count, "{n} readings by count");
        assert_eq!(minutes(&trace, &Rule::LOW.counted(SPAN)), by_span, "{n} readings by span");
    }
}

#[test]
fn three_or_four_readings_five_minutes_apart() {
    for (n, by_count, by_span) in
        [(2, vec![], vec![]), (3, vec![15.0], vec![]), (4, vec![20.0], vec![20.0])]
    {
        let trace = five(&[(12, 100.0), (n, 69.0), (12, 100.0)]);
        assert_eq!(minutes(&trace, &Rule::LOW), by_count);
        assert_eq!(minutes(&trace, &Rule::LOW.counted(SPAN)), by_span);
    }
}

/// Three steps of 299 s, or of 301 s, are 15 minutes; of 14 minutes they are not.
#[test]
fn a_drifting_clock_changes_nothing() {
    for (step_ms, n, found) in [(299_000, 3, 1), (301_000, 3, 1), (299_000, 2, 0), (280_000, 3, 0)]
    {
        let glucose: Vec<f64> =
            (0..30).map(|i| if (10..10 + n).contains(&i) { 60.0 } else { 100.0 }).collect();
        let times: Vec<i64> = (0..30).map(|i| T + i * step_ms).collect();
        let trace = Builder::new(Unit::MgDl).build(&times, &glucose).unwrap();
        assert_eq!(episodes(trace.view(), &Rule::LOW).unwrap().len(), found, "{step_ms}, {n}");
    }
}

/// The level itself is not beyond it, in the unit of the readings.
#[test]
fn at_the_level_is_not_beyond_it() {
    let cases = [
        (Rule::LOW, Unit::MgDl, 70.0, 69.0),
        (Rule::LOW, Unit::MmolL, 3.9, 3.8),
        (Rule::VERY_LOW, Unit::MgDl, 54.0, 53.0),
        (Rule::VERY_LOW, Unit::MmolL, 3.0, 2.9),
        (Rule::HIGH, Unit::MgDl, 180.0, 181.0),
        (Rule::HIGH, Unit::MmolL, 10.0, 10.1),
        (Rule::VERY_HIGH, Unit::MgDl, 250.0, 251.0),
        (Rule::VERY_HIGH, Unit::MmolL, 13.9, 14.0),
    ];
    for (rule, unit, at, beyond) in cases {
        let normal = unit.from_mg_dl(108.0936);
        for (value, found) in [(at, 0), (beyond, 1)] {
            let trace = runs(5, unit, &[(12, normal), (6, value), (12, normal)]);
            let all = episodes(trace.view(), &rule).unwrap();
            assert_eq!(all.len(), found, "{} at {value} {}", rule.name, unit.code());
            assert!(all.iter().all(|e| e.extreme_mg_dl == unit.to_mg_dl(beyond) && !e.cut));
        }
    }
    // 70 mg/dL is above 3.9 mmol/L's 70.26 only in its own unit: back at exactly 3.9.
    let trace = runs(5, Unit::MmolL, &[(12, 6.0), (3, 3.8), (12, 3.9)]);
    assert_eq!(minutes(&trace, &Rule::LOW), [15.0]);
}

#[test]
fn ten_minutes_back_do_not_end_it_and_fifteen_do() {
    let back = |n| five(&[(12, 100.0), (3, 60.0), (n, 75.0), (3, 65.0), (12, 100.0)]);
    assert_eq!(minutes(&back(2), &Rule::LOW), [40.0]);
    assert_eq!(minutes(&back(3), &Rule::LOW), [15.0, 15.0]);
    let four = |n| five(&[(12, 100.0), (4, 60.0), (n, 75.0), (4, 65.0), (12, 100.0)]);
    assert_eq!(minutes(&four(3), &Rule::LOW.counted(SPAN)), [55.0]);
    assert_eq!(minutes(&four(4), &Rule::LOW.counted(SPAN)), [20.0, 20.0]);
}

/// Below 54, then 30 minutes between 54 and 70, then below 54 again.
#[test]
fn a_very_low_episode_ends_at_70_or_by_choice_at_54() {
    let trace = five(&[(12, 100.0), (3, 50.0), (6, 60.0), (3, 48.0), (2, 65.0), (12, 100.0)]);
    assert_eq!(minutes(&trace, &Rule::VERY_LOW), [70.0]);
    let at_54 = Rule { recovery: units::VERY_LOW, ..Rule::VERY_LOW };
    assert_eq!(minutes(&trace, &at_54), [15.0, 15.0]);
    let all = episodes(trace.view(), &Rule::VERY_LOW).unwrap();
    assert_eq!((all[0].start_ms, all[0].end_ms), (T + 60 * MIN, T + 130 * MIN));
    assert_eq!((all[0].extreme_mg_dl, all[0].level_mg_dl), (48.0, 54.0));
}

#[test]
fn a_very_high_episode_ends_at_180_or_by_choice_at_250() {
    let trace = five(&[(12, 100.0), (3, 260.0), (6, 200.0), (3, 270.0), (12, 180.0)]);
    assert_eq!(minutes(&trace, &Rule::VERY_HIGH), [60.0]);
    let at_250 = Rule { recovery: units::VERY_HIGH, ..Rule::VERY_HIGH };
    assert_eq!(minutes(&trace, &at_250), [15.0, 15.0]);
}

/// Readings every 5 minutes with a pause of `pause` minutes after the first `n`.
fn with_pause(n: usize, pause: i64, glucose: &[f64]) -> Trace {
    let at = |i: usize| T + 5 * MIN * i as i64 + if i < n { 0 } else { (pause - 5) * MIN };
    let times: Vec<i64> = (0..glucose.len()).map(at).collect();
    Builder::new(Unit::MgDl).build(&times, glucose).unwrap()
}

#[test]
fn a_gap_ends_an_episode_and_says_so() {
    let mut glucose = vec![100.0; 24];
    glucose[10..16].fill(60.0);
    // Three nominal intervals are no gap yet.
    assert_eq!(minutes(&with_pause(13, 15, &glucose), &Rule::LOW), [40.0]);
    let trace = with_pause(13, 16, &glucose);
    let all = episodes(trace.view(), &Rule::LOW).unwrap();
    let told: Vec<_> = all.iter().map(|e| (e.minutes, e.cut, e.sensor_change)).collect();
    assert_eq!(told, [(15.0, true, false), (15.0, true, false)]);
    // By span it ends at the last reading: two readings before the gap are no episode.
    assert_eq!(minutes(&with_pause(12, 16, &glucose), &Rule::LOW), [20.0]);
    assert_eq!(
        minutes(&trace, &Rule { recovery_min: 15.0, ..Rule::LOW.counted(SPAN) }),
        [] as [f64; 0]
    );
}

#[test]
fn an_unfinished_recovery_before_a_gap_is_where_it_ends() {
    let mut glucose = vec![100.0; 24];
    glucose[8..12].fill(60.0);
    let all = episodes(with_pause(14, 60, &glucose).view(), &Rule::LOW).unwrap();
    assert_eq!(all.len(), 1);
    assert_eq!((all[0].minutes, all[0].cut), (20.0, true));
}

#[test]
fn a_change_of_sensor_ends_an_episode_without_a_pause() {
    let mut glucose = vec![100.0; 24];
    glucose[10..16].fill(60.0);
    let trace = with_pause(13, 5, &glucose).with_breaks(vec![T + 62 * MIN]);
    let all = episodes(trace.view(), &Rule::LOW).unwrap();
    let told: Vec<_> = all.iter().map(|e| (e.minutes, e.cut, e.sensor_change)).collect();
    assert_eq!(told, [(15.0, true, true), (15.0, true, true)]);
    // It never runs past the next sensor's first reading, two minutes later here.
    let trace = with_pause(13, 2, &glucose).with_breaks(vec![T + 61 * MIN]);
    assert_eq!(minutes(&trace, &Rule::LOW), [12.0, 15.0]);
}

#[test]
fn the_ends_of_the_trace_cut() {
    let trace = five(&[(3, 60.0), (6, 100.0), (4, 60.0)]);
    let all = episodes(trace.view(), &Rule::LOW).unwrap();
    let told: Vec<_> = all.iter().map(|e| (e.minutes, e.cut)).collect();
    assert_eq!(told, [(15.0, true), (20.0, true)]);
}

/// Danne 2017: below 54 for 120 minutes in a row; by Battelino 2023 also below 70.
#[test]
fn prolonged_and_extended_lows_are_120_minutes_in_a_row() {
    for (n, found) in [(23, 0.0), (24, 1.0)] {
        let trace = five(&[(12, 100.0), (n, 50.0), (30, 100.0)]);
        for id in [Id::ProlongedVeryLowEpisodes, Id::ExtendedLowEpisodes] {
            assert_eq!(count(&trace, id, EpisodeLength::CountTimesInterval), Ok(found));
            assert_eq!(count(&trace, id, SPAN), Ok(0.0));
        }
    }
    let dip = five(&[(12, 100.0), (12, 60.0), (1, 72.0), (12, 60.0), (30, 100.0)]);
    assert_eq!(minutes(&dip, &Rule::LOW), [125.0]);
    assert_eq!(minutes(&dip, &Rule::EXTENDED_LOW), [] as [f64; 0]);
}

/// Battelino 2023, from memory: above 250 for more than 90 minutes within 120.
#[test]
fn extended_highs_hold_over_90_of_120_minutes() {
    let high = |n| five(&[(12, 150.0), (n, 260.0), (30, 150.0)]);
    assert_eq!(minutes(&high(18), &Rule::EXTENDED_HIGH), [] as [f64; 0]);
    assert_eq!(minutes(&high(19), &Rule::EXTENDED_HIGH), [95.0]);
    // From first to last, 19 readings are 90 minutes.
    assert_eq!(minutes(&high(19), &Rule::EXTENDED_HIGH.counted(SPAN)), [] as [f64; 0]);
    assert_eq!(minutes(&high(20), &Rule::EXTENDED_HIGH.counted(SPAN)), [100.0]);
    // 10 + 9 readings with a pause at 240: 19 of 24 with five in between, 18 of 24 with six.
    let pause = |n| five(&[(12, 150.0), (10, 260.0), (n, 240.0), (9, 260.0), (30, 150.0)]);
    assert_eq!(minutes(&pause(5), &Rule::EXTENDED_HIGH), [120.0]);
    assert_eq!(minutes(&pause(6), &Rule::EXTENDED_HIGH), [] as [f64; 0]);
    // By span the steps into and out of the pause don't count: 45 and 50 minutes are over 90.
    let pause = |n| five(&[(12, 150.0), (10, 260.0), (3, 240.0), (n, 260.0), (30, 150.0)]);
    assert_eq!(minutes(&pause(10), &Rule::EXTENDED_HIGH.counted(SPAN)), [] as [f64; 0]);
    assert_eq!(minutes(&pause(11), &Rule::EXTENDED_HIGH.counted(SPAN)), [120.0]);
}

/// The window slides: readings that fell out of it don't count.
#[test]
fn an_early_high_is_forgotten() {
    let trace = five(&[(12, 150.0), (2, 260.0), (23, 150.0), (18, 260.0), (30, 150.0)]);
    assert_eq!(minutes(&trace, &Rule::EXTENDED_HIGH), [] as [f64; 0]);
    let trace = five(&[(12, 150.0), (2, 260.0), (23, 150.0), (19, 260.0), (30, 150.0)]);
    let all = episodes(trace.view(), &Rule::EXTENDED_HIGH).unwrap();
    assert_eq!((all.len(), all[0].start_ms), (1, T + 37 * 5 * MIN));
    // By span, too: 25 minutes that fell out, and 90 that are not over 90.
    let trace = five(&[(12, 150.0), (6, 260.0), (23, 150.0), (19, 260.0), (30, 150.0)]);
    assert_eq!(minutes(&trace, &Rule::EXTENDED_HIGH.counted(SPAN)), [] as [f64; 0]);
}

#[test]
fn night_is_from_midnight_to_six() {
    // Readings from 00:00 on; low from minute `at` on.
    let night = |at: usize| {
        let trace = runs(5, Unit::MgDl, &[(at / 5, 100.0), (4, 60.0), (40, 100.0)]);
        count(&trace, Id::NocturnalLowEpisodes, EpisodeLength::default())
    };
    assert_eq!((night(30), night(355), night(360)), (Ok(1.0), Ok(1.0), Ok(0.0)));
    let times: Vec<i64> = (0..20).map(|i| T + i * 5 * MIN).collect();
    let trace = Builder::new(Unit::MgDl).build(&times, &[60.0; 20]).unwrap();
    let unknown = count(&trace, Id::NocturnalLowEpisodes, EpisodeLength::default());
    assert_eq!(unknown.unwrap_err().code, "no_zone");
    assert_eq!(count(&trace, Id::LowEpisodes, EpisodeLength::default()), Ok(1.0));
    assert_eq!(episodes(trace.view(), &Rule::LOW).unwrap()[0].nocturnal, None);
}

/// Lisbon, 26 October 2025: 01:00-02:00 comes twice, so 06:00 is 6 h 59 min of readings later.
#[test]
#[cfg(feature = "tz")]
fn night_follows_the_local_clock() {
    let midnight = 1_761_433_200_000; // 2025-10-26T00:00 in Lisbon, 23:00Z the day before
    let clock = LocalClock::from_zone("Europe/Lisbon").unwrap();
    let night = |at_min: i64| {
        let times: Vec<i64> = (0..200).map(|i| midnight + i * 5 * MIN).collect();
        let low = |i: i64| if (at_min / 5..at_min / 5 + 4).contains(&i) { 60.0 } else { 100.0 };
        let glucose: Vec<f64> = (0..200).map(low).collect();
        let builder = Builder::new(Unit::MgDl).clock(Some(clock.clone()));
        let trace = builder.build(&times, &glucose).unwrap();
        count(&trace, Id::NocturnalLowEpisodes, EpisodeLength::default())
    };
    assert_eq!((night(415), night(420)), (Ok(1.0), Ok(0.0)));
}

#[test]
fn no_stretch_long_enough_is_no_zero() {
    let trace = five(&[(23, 100.0)]);
    let of = |id| count(&trace, id, EpisodeLength::default());
    assert_eq!(of(Id::LowEpisodes), Ok(0.0));
    let reason = of(Id::ExtendedLowEpisodes).unwrap_err();
    assert_eq!((reason.had, reason.needed), (Some(23.0), Some(24.0)));
    assert_eq!(of(Id::ExtendedHighEpisodes), Ok(0.0));
    let short = five(&[(18, 260.0)]);
    assert!(count(&short, Id::ExtendedHighEpisodes, EpisodeLength::default()).is_err());
    let two = five(&[(2, 60.0)]);
    assert!(counts(two.view(), &Options::default()).iter().all(|c| c.1.is_err()));
    let empty = trace.window(0, 1);
    assert!(counts(empty, &Options::default()).iter().all(|c| c.1.is_err()));
    let ids: Vec<u32> =
        counts(trace.view(), &Options::default()).iter().map(|c| c.0 as u32).collect();
    assert_eq!(ids, [71, 72, 73, 74, 75, 76, 77, 78]);
}

#[test]
fn a_table_of_all_rules_and_a_summary() {
    let trace = five(&[(12, 100.0), (3, 50.0), (6, 100.0), (5, 65.0), (6, 100.0), (4, 190.0)]);
    let table = table(trace.view(), &Rule::ALL).unwrap();
    assert_eq!(table.rows(), 4);
    let numbers = |name| table.numbers(name).unwrap().into_iter().flatten().collect::<Vec<_>>();
    assert_eq!(numbers("minutes"), [15.0, 25.0, 15.0, 20.0]);
    assert_eq!(numbers("level_mg_dl"), [70.0, 70.0, 54.0, 180.0]);
    assert_eq!(numbers("cut"), [0.0, 0.0, 0.0, 1.0]);
    let low = summary(trace.view(), &Rule::LOW).unwrap();
    // 36 readings stand for 3 h: 2 in 3 h are 112 a week.
    assert_eq!((low.n, low.cut, low.per_week, low.mean_minutes), (2, 0, Some(112.0), Some(20.0)));
    let high = summary(trace.view(), &Rule::HIGH).unwrap();
    assert_eq!((high.n, high.cut, high.mean_minutes), (1, 1, None));
    assert_eq!(high.reason.unwrap().code, "no_whole_episode");
}

#[test]
fn rules_are_checked() {
    let trace = five(&[(12, 100.0)]);
    let code = |rule: Rule| episodes(trace.view(), &rule).unwrap_err().argument().map(String::from);
    let bad = [
        (Rule { recovery_min: f64::NAN, ..Rule::LOW }, "recovery_min"),
        (Rule { hold: Hold::InARow(0.0), ..Rule::LOW }, "hold_min"),
        (
            Rule { hold: Hold::Within { over_min: 90.0, window_min: 60.0 }, ..Rule::LOW },
            "window_min",
        ),
        (Rule { recovery: units::VERY_LOW, ..Rule::LOW }, "recovery"),
        (Rule { recovery: units::VERY_HIGH, ..Rule::HIGH }, "recovery"),
        (Rule { level: units::Limit { mg_dl: 3.9, mmol_l: 3.9 }, ..Rule::LOW }, "level"),
    ];
    for (rule, argument) in bad {
        assert_eq!(code(rule).as_deref(), Some(argument));
    }
}
