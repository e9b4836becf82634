use super::blocks::*;
use super::compute::order_free;
use crate::Trace;
use crate::clock::LocalClock;
use crate::series::{Builder, Censor};
use crate::table::Items;
use crate::units::Unit;

/// Midnight of Tuesday, 4 March 2025, UTC.
const T: i64 = 1_741_046_400_000;
const MIN: i64 = 60_000;
const DAY: i64 = 1440 * MIN;

fn trace(clock: Option<LocalClock>, start: i64, n: usize) -> Trace {
    let times: Vec<i64> = (0..n as i64).map(|i| start + i * 5 * MIN).collect();
    let glucose: Vec<f64> = (0..n).map(|i| 60.0 + (i * 37 % 150) as f64).collect();
    Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose).unwrap()
}

fn utc(n: usize) -> Trace {
    trace(Some(LocalClock::fixed(0)), T, n)
}

fn texts(items: &Items) -> Vec<String> {
    match items {
        Items::Text(t) => t.clone(),
        _ => panic!("not text"),
    }
}

/// Danne 2017: 00:00-06:00 and 06:00-24:00, which between them are the day.
#[test]
fn night_and_day_are_the_whole() {
    let trace = utc(2 * 288);
    let night = readings_in_block(trace.view(), &Block::night()).unwrap();
    let day = readings_in_block(trace.view(), &Block::day()).unwrap();
    assert_eq!((night.times_ms.len(), day.times_ms.len()), (144, 432));
    assert_eq!((night.local_days, day.local_days), (2, 2));
    assert_eq!(night.times_ms[71], T + 355 * MIN);
    assert_eq!(day.times_ms[0], T + 360 * MIN);
    assert_eq!(night.glucose_mg_dl[..72], trace.glucose_mg_dl()[..72]);
}

#[test]
fn a_block_may_wrap_midnight() {
    let late = Block::new("late", 22 * 60, 6 * 60).unwrap();
    // From noon to noon: one such block, of the day on which it began.
    let trace = trace(Some(LocalClock::fixed(0)), T + DAY / 2, 288);
    let got = readings_in_block(trace.view(), &late).unwrap();
    assert_eq!((got.times_ms.len(), got.local_days), (96, 1));
    assert_eq!(got.times_ms[0], T + 22 * 60 * MIN);
    assert_eq!(got.times_ms[95], T + DAY + 355 * MIN);
    // The whole day, from eight to eight.
    let round = Block::new("round", 480, 480).unwrap();
    assert_eq!(readings_in_block(trace.view(), &round).unwrap().times_ms.len(), 288);
}

#[test]
fn blocks_are_checked() {
    assert_eq!(Block::new("x", 1440, 0).unwrap_err().argument(), Some("from_min"));
    assert_eq!(Block::new("x", 0, 1441).unwrap_err().argument(), Some("to_min"));
    assert!(table_by(utc(9).view(), &By::Block(vec![])).is_err());
}

#[test]
#[cfg(feature = "tz")]
fn days_are_contiguous_and_as_long_as_their_clock_says() {
    let clock = LocalClock::from_zone("Europe/Lisbon").unwrap();
    for (midnight, n, lengths) in [
        (1_761_433_200_000, 300 + 288, [300, 288]), // 26 October 2025
        (1_743_292_800_000, 276 + 288, [276, 288]), // 30 March 2025
    ] {
        let trace = trace(Some(clock.clone()), midnight, n);
        let days = by_day(trace.view()).unwrap();
        assert_eq!(days.iter().map(|d| d.1.len()).collect::<Vec<_>>(), lengths);
        assert_eq!(days[1].0, days[0].0 + 1);
        let joined: Vec<i64> = days.iter().flat_map(|d| d.1.times_ms().to_vec()).collect();
        assert_eq!(joined, trace.times_ms());
        let night = readings_in_block(trace.view(), &Block::night()).unwrap();
        assert_eq!(night.times_ms.len(), 144 + lengths[0] - 288);
    }
}

/// A view of a view keeps to its readings.
#[test]
fn days_of_a_stretch() {
    let trace = utc(3 * 288);
    let part = trace.window(T + DAY / 2, T + 2 * DAY);
    let days = by_day(part).unwrap();
    assert_eq!(days.iter().map(|d| d.1.len()).collect::<Vec<_>>(), [144, 288, 1]);
    assert_eq!(days[1].1.times_ms()[0], T + DAY);
}

/// Flying west over midnight: the evening comes twice, the day is one row.
#[test]
fn a_day_that_comes_twice_is_one_row() {
    let clock = LocalClock::from_steps("trip", &[(0, 0), (T + DAY + 60 * MIN, -180)]).unwrap();
    let trace = trace(Some(clock), T + DAY - 60 * MIN, 60);
    let parts: Vec<i64> = by_day(trace.view()).unwrap().iter().map(|d| d.0 - T / DAY).collect();
    assert_eq!(parts, [0, 1, 0, 1]);
    let table = table_by(trace.view(), &By::Day).unwrap().unwrap();
    assert_eq!(texts(&table.column("part").unwrap().items), ["2025-03-04", "2025-03-05"]);
    assert_eq!(table.numbers("n").unwrap(), [Some(36.0), Some(24.0)]);
}

#[test]
fn a_row_for_each_day() {
    let trace = utc(3 * 288);
    let table = table_by(trace.view(), &By::Day).unwrap().unwrap();
    let dates = ["2025-03-04", "2025-03-05", "2025-03-06"];
    assert_eq!(texts(&table.column("part").unwrap().items), dates);
    for (i, (_, day)) in by_day(trace.view()).unwrap().iter().enumerate() {
        for (id, value) in order_free(day.glucose_mg_dl(), Unit::MgDl) {
            assert_eq!(table.numbers(id.measure().name).unwrap()[i], Some(value));
        }
    }
}

/// 8 and 9 March 2025 are a Saturday and a Sunday.
#[test]
fn weekdays_and_weekends() {
    let table = table_by(utc(7 * 288).view(), &By::WeekPart).unwrap().unwrap();
    assert_eq!(texts(&table.column("part").unwrap().items), ["weekday", "weekend"]);
    assert_eq!(table.numbers("local_days").unwrap(), [Some(5.0), Some(2.0)]);
    let friday = table_by(utc(4 * 288).view(), &By::WeekPart).unwrap().unwrap();
    assert_eq!(friday.numbers("n").unwrap(), [Some(1152.0), Some(0.0)]);
    assert_eq!(friday.numbers("mean_mg_dl").unwrap()[1], None);
}

#[test]
fn censored_readings_are_counted_and_no_zone_is_a_reason() {
    let times: Vec<i64> = (0..3).map(|i| T + i * 300 * MIN).collect();
    let censor = [Censor::Low, Censor::High, Censor::High];
    let clock = Some(LocalClock::fixed(0));
    let builder = Builder::new(Unit::MgDl).clock(clock);
    let trace = builder.build_censored(&times, &[40.0, 400.0, 400.0], &censor).unwrap();
    let by = By::Block(vec![Block::night(), Block::day()]);
    let table = table_by(trace.view(), &by).unwrap().unwrap();
    assert_eq!(texts(&table.column("part").unwrap().items), ["night", "day"]);
    assert_eq!(table.numbers("censored_low").unwrap(), [Some(1.0), Some(0.0)]);
    assert_eq!(table.numbers("censored_high").unwrap(), [Some(1.0), Some(1.0)]);
    // One reading has a mean and no SD.
    assert_eq!(table.numbers("mean_mg_dl").unwrap()[1], Some(400.0));
    assert_eq!(table.numbers("sd_mg_dl").unwrap()[1], None);
    let unknown = Builder::new(Unit::MgDl).build(&[T], &[100.0]).unwrap();
    assert_eq!(by_day(unknown.view()).unwrap_err().code, "no_zone");
    assert_eq!(table_by(unknown.view(), &by).unwrap().unwrap_err().code, "no_zone");
}
