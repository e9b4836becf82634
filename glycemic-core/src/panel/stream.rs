//! The panel of readings that come one by one, in bounded memory, without what needs whole days.
//!
//! # Method
//! Readings of the last 25 h are kept as they are, so that late ones can be put in their place;
//! older ones are sealed into exact sums. The first 25 h and the last sealed 25 h are kept too:
//! they hold the partners of readings a lag away, also across the border of two streams that are
//! joined. All sums are of whole numbers, so the measures equal those of the whole trace bit for
//! bit, whatever the order of late readings and wherever the stream was cut, provided the
//! trace's nominal interval is the stream's.
//!
//! # Units
//! Times are UTC milliseconds, glucose mg/dL on the step of the stream's unit.
//!
//! # Not here
//! A stream is of one sensor: it knows no change of sensor, only gaps. Measures by local day
//! need the whole trace.

mod cycles;
mod hourly;
mod sealed;

use std::collections::VecDeque;

use self::sealed::Sealed;
use super::ordered::lability::Scale;
use super::ordered::lagged::{self, LAGS_MS};
use super::ordered::number::step_mg_dl;
use super::ordered::{missing, whole_sd};
use super::registry::Id;
use super::{Histogram, grid, options::Options};
use crate::clock::LocalClock;
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::units::Unit;

/// How long a late reading is waited for, and more than any lag with its tolerance.
const KEPT_MS: i64 = 25 * 3_600_000;
const DAY_MS: f64 = 86_400_000.0;
/// 1990-01-01 and 2100-01-01 in UTC milliseconds.
const PLAUSIBLE_MS: (i64, i64) = (631_152_000_000, 4_102_444_800_000);
/// Above any meter or sensor (mg/dL).
const ABSURD_MG_DL: f64 = 2000.0;

/// One reading: an instant and a count of the unit's step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Reading {
    time_ms: i64,
    code: i32,
}

/// What became of a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Pushed {
    /// It is the latest.
    Added,
    /// It came late and was put in its place.
    Inserted,
}

/// Readings of one sensor as they come.
///
/// # Example
/// ```
/// use glycemic_core::Unit;
/// use glycemic_core::panel::Id;
/// use glycemic_core::panel::stream::{Pushed, Stream};
/// let start = 1_741_000_000_000;
/// let mut stream = Stream::new(Unit::MgDl, 5.0, None)?;
/// stream.push(start, 100.0)?;
/// stream.push(start + 600_000, 105.0)?;
/// assert_eq!(stream.push(start + 300_000, 110.0)?, Pushed::Inserted);
/// // 10 and 5 mg/dL in ten minutes.
/// let mag = stream.measures().into_iter().find(|m| m.0 == Id::MagMgDlH);
/// assert_eq!(mag.map(|m| m.1), Some(Ok(90.0)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Stream {
    unit: Unit,
    nominal_ms: i64,
    clock: Option<LocalClock>,
    /// All readings, also those not yet sealed.
    histogram: Histogram,
    sealed: Sealed,
    /// Sealed readings of the first 25 h.
    head: Vec<Reading>,
    /// Sealed readings of the 25 h up to the last sealed one.
    recent: VecDeque<Reading>,
    /// For each lag the first of `recent` that is at or after one lag before the last sealed.
    #[cfg_attr(feature = "serde", serde(skip))]
    partners: [usize; 4],
    /// Readings of the last 25 h, in order, not yet sealed.
    tail: VecDeque<Reading>,
}

impl Stream {
    /// A stream of readings in `unit`, `nominal_min` minutes apart as a rule. `clock` is carried
    /// along for measures by local day.
    ///
    /// # Errors
    /// A nominal interval under a second or over an hour.
    pub fn new(unit: Unit, nominal_min: f64, clock: Option<LocalClock>) -> Result<Stream, Error> {
        require_within("nominal_min", nominal_min, 1.0 / 60.0, 60.0)?;
        Ok(Stream {
            unit,
            nominal_ms: (nominal_min * 60_000.0).round() as i64,
            clock,
            histogram: Histogram::new(unit),
            sealed: Sealed::default(),
            head: Vec::new(),
            recent: VecDeque::new(),
            partners: [0; 4],
            tail: VecDeque::new(),
        })
    }

    /// Number of readings.
    pub fn len(&self) -> usize {
        self.histogram.n() as usize
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.tail.is_empty()
    }

    /// The local clock.
    pub fn clock(&self) -> Option<&LocalClock> {
        self.clock.as_ref()
    }

    /// Takes in a reading in mg/dL. A late one is put in its place if it is less than 25 h older
    /// than the latest. On an error the stream stays as it was.
    ///
    /// # Errors
    /// An implausible instant, one that is there already, or one older than that; glucose not
    /// finite, not positive, over 2000 mg/dL, or off the step of the unit (whole mg/dL, tenths of
    /// mmol/L times 18.0156): such readings need a whole trace.
    pub fn push(&mut self, time_ms: i64, mg_dl: f64) -> Result<Pushed, Error> {
        let code = code(mg_dl, self.unit)?;
        let reading = Reading { time_ms: plausible(time_ms)?, code: i32::from(code) };
        let pushed = match self.tail.back() {
            Some(last) if time_ms <= last.time_ms => self.insert(reading, last.time_ms)?,
            _ => {
                self.append(reading);
                Pushed::Added
            }
        };
        self.histogram.push_code(code)?;
        Ok(pushed)
    }

    fn insert(&mut self, reading: Reading, last_ms: i64) -> Result<Pushed, Error> {
        if reading.time_ms <= last_ms - KEPT_MS {
            return Err(Error::OutOfRange {
                name: "time_ms",
                index: None,
                value: reading.time_ms as f64,
                low: (last_ms - KEPT_MS + 1) as f64,
                high: PLAUSIBLE_MS.1 as f64,
            });
        }
        let at = self.tail.partition_point(|r| r.time_ms < reading.time_ms);
        if self.tail.get(at).is_some_and(|r| r.time_ms == reading.time_ms) {
            return Err(Error::UnorderedTime { index: self.len() });
        }
        self.tail.insert(at, reading);
        Ok(Pushed::Inserted)
    }

    /// Adds the latest reading and seals what no late one can touch any more.
    fn append(&mut self, reading: Reading) {
        self.tail.push_back(reading);
        while let Some(&oldest) = self.tail.front()
            && oldest.time_ms <= reading.time_ms - KEPT_MS
        {
            self.tail.pop_front();
            self.seal(oldest);
        }
    }

    fn seal(&mut self, reading: Reading) {
        self.sealed.add(reading, self.scale());
        self.pair(reading);
        let first_ms = self.head.first().map_or(reading.time_ms, |r| r.time_ms);
        if reading.time_ms <= first_ms + KEPT_MS {
            self.head.push(reading);
        }
        self.recent.push_back(reading);
        self.forget();
    }

    /// Adds the differences to the readings one lag before, where that is not before the first.
    fn pair(&mut self, reading: Reading) {
        let Some(first_ms) = self.head.first().map(|r| r.time_ms) else { return };
        let recent = &self.recent;
        for (i, lag) in LAGS_MS.into_iter().enumerate() {
            let target = reading.time_ms - lag;
            if target < first_ms {
                continue;
            }
            let next = &mut self.partners[i];
            while recent.get(*next).is_some_and(|r| r.time_ms < target) {
                *next += 1;
            }
            let at = |k: usize| recent[k].time_ms;
            let window = lagged::window_ms(lag, self.nominal_ms);
            if let Some(k) = lagged::nearest(at, *next, recent.len(), target, window) {
                self.sealed.lags[i].add(reading.code - recent[k].code);
            }
        }
    }

    /// Drops sealed readings that are too old to be partners.
    fn forget(&mut self) {
        let Some(last_ms) = self.recent.back().map(|r| r.time_ms) else { return };
        while self.recent.front().is_some_and(|r| r.time_ms < last_ms - KEPT_MS) {
            self.recent.pop_front();
            for next in &mut self.partners {
                *next = next.saturating_sub(1);
            }
        }
    }

    /// Joins a stream that begins after this one ends. On an error this one stays as it was.
    ///
    /// # Errors
    /// Another unit, nominal interval or clock; or its first reading is not later than the last
    /// one here.
    pub fn join(&mut self, later: &Stream) -> Result<(), Error> {
        self.require_joinable(later)?;
        let Some(&first) = later.head.first() else {
            for &reading in &later.tail {
                self.append(reading);
            }
            return self.histogram.merge(&later.histogram);
        };
        if self.is_empty() {
            self.clone_from(later);
            return Ok(());
        }
        // What `later` has sealed is over 25 h older than its last reading; so is all that is here.
        for reading in std::mem::take(&mut self.tail) {
            self.seal(reading);
        }
        self.pair_across(later, first.time_ms);
        self.sealed.join(&later.sealed, first, self.scale());
        let head_ends = self.head.first().map_or(i64::MAX, |r| r.time_ms + KEPT_MS);
        self.head.extend(later.head.iter().filter(|r| r.time_ms <= head_ends));
        self.recent.extend(&later.recent);
        self.partners = [0; 4];
        self.forget();
        self.tail.clone_from(&later.tail);
        self.histogram.merge(&later.histogram)
    }

    fn require_joinable(&self, later: &Stream) -> Result<(), Error> {
        if self.unit != later.unit {
            return Err(Error::UnknownChoice {
                name: "unit",
                got: later.unit.code().to_string(),
                choices: self.unit.code(),
            });
        }
        if self.clock != later.clock {
            let name = later.clock.as_ref().map_or("none", LocalClock::name);
            return Err(Error::UnknownChoice {
                name: "clock",
                got: name.to_string(),
                choices: "the clock of the stream that it is joined to",
            });
        }
        let minutes = |ms: i64| ms as f64 / 60_000.0;
        let nominal = minutes(self.nominal_ms);
        require_within("nominal_min", minutes(later.nominal_ms), nominal, nominal)?;
        match (self.tail.back(), later.first()) {
            (Some(last), Some(first)) if first.time_ms <= last.time_ms => Err(Error::OutOfRange {
                name: "later",
                index: Some(0),
                value: first.time_ms as f64,
                low: (last.time_ms + 1) as f64,
                high: PLAUSIBLE_MS.1 as f64,
            }),
            _ => Ok(()),
        }
    }

    /// The differences that `later` left open: from its first hours back to readings here.
    fn pair_across(&mut self, later: &Stream, later_from_ms: i64) {
        let Some(first_ms) = self.head.first().map(|r| r.time_ms) else { return };
        let around: Vec<Reading> = self.recent.iter().chain(&later.head).copied().collect();
        for (i, lag) in LAGS_MS.into_iter().enumerate() {
            let window = lagged::window_ms(lag, self.nominal_ms);
            let mut next = 0;
            for (j, reading) in around.iter().enumerate().skip(self.recent.len()) {
                let target = reading.time_ms - lag;
                if target >= later_from_ms {
                    break;
                }
                while next < j && around[next].time_ms < target {
                    next += 1;
                }
                let at = |k: usize| around[k].time_ms;
                if target >= first_ms
                    && let Some(k) = lagged::nearest(at, next, j, target, window)
                {
                    self.sealed.lags[i].add(reading.code - around[k].code);
                }
            }
        }
    }

    /// Every measure that needs no local day, by the default options: those that need no more than a
    /// histogram, those of order, and the days, active time and nominal interval.
    pub fn measures(&self) -> Vec<(Id, Result<f64, Reason>)> {
        let mut whole = self.clone();
        for reading in std::mem::take(&mut whole.tail) {
            whole.seal(reading);
        }
        whole.pair_before_first();
        let (scale, sealed) = (self.scale(), &whole.sealed);
        let mut out = self.coverage();
        // The default options are in range.
        out.extend(self.histogram.measures(&Options::default()).unwrap_or_default());
        out.extend(match whole_sd(&sealed.readings) {
            Ok(sd) => sealed.cycles.excursions(sd).measures(scale.step_mg_dl),
            Err(reason) => missing(&[Id::MageMgDl, Id::MageUpMgDl, Id::MageDownMgDl], &reason),
        });
        out.extend(lagged::measures(&sealed.lags, scale.step_mg_dl));
        out.extend(sealed.steps.measures(&sealed.readings, scale.step_mg_dl));
        out.push((Id::LabilityIndex, sealed.hourly.index(scale)));
        out
    }

    /// Adds the differences that were left open because the instant one lag before lies before
    /// the first reading: with the first, where it is near enough.
    fn pair_before_first(&mut self) {
        let Some((first, rest)) = self.head.split_first() else { return };
        for (lag, into) in LAGS_MS.into_iter().zip(&mut self.sealed.lags) {
            for reading in rest {
                let short = first.time_ms - (reading.time_ms - lag);
                if short > 0 && 2 * short <= lagged::window_ms(lag, self.nominal_ms) {
                    into.add(reading.code - first.code);
                }
            }
        }
    }

    fn coverage(&self) -> Vec<(Id, Result<f64, Reason>)> {
        let (Some(first), Some(last)) = (self.first(), self.tail.back()) else {
            let reason = Reason::count("too_few_readings", "readings", 0, 1);
            return missing(&[Id::Days, Id::ActivePct, Id::NominalIntervalMin], &reason);
        };
        let span = (last.time_ms - first.time_ms) as f64;
        let possible = (span / self.nominal_ms as f64).round() + 1.0;
        let active = (100.0 * self.len() as f64 / possible).min(100.0);
        vec![
            (Id::Days, Ok(span / DAY_MS)),
            (Id::ActivePct, Ok(active)),
            (Id::NominalIntervalMin, Ok(self.nominal_ms as f64 / 60_000.0)),
        ]
    }

    fn first(&self) -> Option<&Reading> {
        self.head.first().or(self.tail.front())
    }

    fn scale(&self) -> Scale {
        Scale { step_mg_dl: step_mg_dl(self.unit), nominal_ms: self.nominal_ms }
    }
}

fn plausible(time_ms: i64) -> Result<i64, Error> {
    if !(PLAUSIBLE_MS.0..=PLAUSIBLE_MS.1).contains(&time_ms) {
        let why = "it lies before 1990 or after 2100; times are UTC milliseconds";
        return Err(Error::ImplausibleTime { index: 0, value: time_ms, why });
    }
    Ok(time_ms)
}

/// The reading as a count of the unit's step.
fn code(mg_dl: f64, unit: Unit) -> Result<u16, Error> {
    require_within("glucose", mg_dl, unit.to_mg_dl(unit.step()), ABSURD_MG_DL)?;
    let off = || {
        let value = unit.from_mg_dl(mg_dl);
        Error::OffGrid { name: "glucose", index: None, value, unit: unit.code() }
    };
    grid::code_of(mg_dl, unit).ok_or_else(off)
}

#[cfg(test)]
#[path = "stream_tests.rs"]
mod stream_tests;
