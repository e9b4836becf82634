//! Standard deviations within and between days.
//!
//! # Method
//! SDw: mean over local days of the SD within the day. SDdm: SD of the daily means. SDhh:mm: SD
//! of the mean profile over clock times. SDb hh:mm: mean over clock times of the SD between days;
//! //dm: after taking off each day's mean. SDws 1 h: mean of the SDs within hours counted from
//! local midnight. All with n - 1. These conventions are this library's: a day (an hour) counts
//! when it holds at least half of the readings it could, and two; a clock time is a slot as long
//! as the nominal interval (a minute at the least), a day's value there the mean of its readings
//! in the slot; the profile needs half of the slots, and a slot needs two days for SDb.
//!
//! # Source
//! Rodbard D. Diabetes Technol Ther 2009; 11: 551-565 (SDws and both SDb from memory).

use super::days::Day;
use super::number::{Number, Spread};
use crate::clock::{DAY_MS, LocalClock};
use crate::estimate::Reason;
use crate::panel::registry::Id;
use crate::stats::moments;

const HOUR_MS: i64 = 3_600_000;
const MINUTE_MS: i64 = 60_000;

/// Readings by local day.
#[derive(Clone, Copy)]
pub(crate) struct Daily<'a, N> {
    pub(crate) times: &'a [i64],
    pub(crate) codes: &'a [N],
    pub(crate) days: &'a [Day],
    pub(crate) clock: &'a LocalClock,
    pub(crate) nominal_ms: i64,
    pub(crate) step_mg_dl: f64,
}

impl<N: Number> Daily<'_, N> {
    /// The six standard deviations, in mg/dL.
    pub(crate) fn measures(&self) -> Vec<(Id, Result<f64, Reason>)> {
        let full = self.full_days();
        let spreads: Vec<Spread<N::Wide>> =
            full.iter().map(|d| Spread::of(&self.codes[d.range.clone()])).collect();
        let means: Vec<f64> = spreads.iter().filter_map(Spread::mean).collect();
        let slots = self.slots(&full, &means);
        let in_mg_dl = |x: Result<f64, Reason>| x.map(|v| v * self.step_mg_dl);
        vec![
            (Id::SdWithinMgDl, in_mg_dl(within(&spreads))),
            (Id::SdBetweenDailyMeansMgDl, in_mg_dl(of_means(&means))),
            (Id::SdOfMeanDayMgDl, in_mg_dl(profile(&slots))),
            (Id::SdWithinHourMgDl, in_mg_dl(self.within_hours())),
            (Id::SdBetweenDaysMgDl, in_mg_dl(between(&slots, full.len(), |s| s.plain))),
            (Id::SdBetweenDaysLessMeansMgDl, in_mg_dl(between(&slots, full.len(), |s| s.less))),
        ]
    }

    /// SDw alone, in counts.
    pub(crate) fn sd_within(&self) -> Result<f64, Reason> {
        let spreads: Vec<Spread<N::Wide>> =
            self.full_days().iter().map(|d| Spread::of(&self.codes[d.range.clone()])).collect();
        within(&spreads)
    }

    /// Days with at least half of the readings they could hold.
    pub(crate) fn full_days(&self) -> Vec<&Day> {
        self.days.iter().filter(|day| self.full(day)).collect()
    }

    /// Whether a day holds at least half of the readings it could.
    pub(crate) fn full(&self, day: &Day) -> bool {
        day.range.len() >= half(day.possible(self.nominal_ms))
    }

    fn within_hours(&self) -> Result<f64, Reason> {
        let sds: Vec<f64> = self.days.iter().flat_map(|day| self.hour_sds(day)).collect();
        moments::mean(&sds).ok_or_else(|| {
            Reason::count(
                "too_few_readings",
                "hours with half of their readings, two or more",
                0,
                1,
            )
        })
    }

    /// The SDs of a day's hours that count, in counts.
    pub(crate) fn hour_sds(&self, day: &Day) -> Vec<f64> {
        let needed = half((HOUR_MS / self.nominal_ms) as usize) as u64;
        let mut sds: Vec<f64> = Vec::new();
        let mut hour: Spread<N::Wide> = Spread::default();
        let mut end = i64::MIN;
        for (&t, &x) in self.times[day.range.clone()].iter().zip(&self.codes[day.range.clone()]) {
            if t >= end {
                sds.extend(hour.sd().filter(|_| hour.n >= needed));
                hour = Spread::default();
                end = t - (t - day.start_ms).rem_euclid(HOUR_MS) + HOUR_MS;
            }
            hour.add(x);
        }
        sds.extend(hour.sd().filter(|_| hour.n >= needed));
        sds
    }

    /// Each clock time's values over the days, less the rounded mean of all readings so that
    /// squares stay small.
    fn slots(&self, full: &[&Day], means: &[f64]) -> Vec<Slot> {
        let (width, count) = self.slot_width_and_count();
        let centre = moments::mean(means).unwrap_or(0.0).round();
        let mut slots = vec![Slot::default(); count];
        let mut day_values: Vec<(f64, f64)> = vec![(0.0, 0.0); count];
        for (day, mean) in full.iter().zip(means) {
            self.collect(day, width, centre, &mut day_values);
            for (slot, value) in slots.iter_mut().zip(&mut day_values) {
                if value.1 > 0.0 {
                    slot.add(value.0 / value.1, mean - centre);
                }
                *value = (0.0, 0.0);
            }
        }
        slots
    }

    /// Length of a slot in ms, and slots in a day.
    pub(crate) fn slot_width_and_count(&self) -> (i64, usize) {
        let width = self.nominal_ms.max(MINUTE_MS);
        (width, ((DAY_MS + width - 1) / width) as usize)
    }

    /// Sum, less `centre` each, and number of a day's readings in each slot.
    pub(crate) fn collect(&self, day: &Day, width: i64, centre: f64, into: &mut [(f64, f64)]) {
        let (mut slot, mut end) = (0, width);
        for (&t, &x) in self.times[day.range.clone()].iter().zip(&self.codes[day.range.clone()]) {
            if day.even {
                while t - day.start_ms >= end {
                    slot += 1;
                    end += width;
                }
            } else {
                slot = (self.clock.local_ms(t).rem_euclid(DAY_MS) / width) as usize;
            }
            if let Some(value) = into.get_mut(slot) {
                value.0 += x.float() - centre;
                value.1 += 1.0;
            }
        }
    }
}

/// The values of one clock time.
#[derive(Clone, Copy, Default)]
struct Slot {
    plain: Sums,
    less: Sums,
}

impl Slot {
    fn add(&mut self, value: f64, day_mean: f64) {
        self.plain.add(value);
        self.less.add(value - day_mean);
    }
}

#[derive(Clone, Copy, Default)]
struct Sums {
    n: f64,
    sum: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, x: f64) {
        self.n += 1.0;
        self.sum += x;
        self.squares += x * x;
    }

    fn sd(&self) -> Option<f64> {
        let variance = (self.squares - self.sum * self.sum / self.n) / (self.n - 1.0);
        (self.n >= 2.0).then(|| variance.max(0.0).sqrt())
    }
}

/// Half of what is possible, and two at the least.
pub(crate) fn half(possible: usize) -> usize {
    possible.div_ceil(2).max(2)
}

const DAYS: &str = "local days with half of their readings";

fn within<W: super::number::Whole>(spreads: &[Spread<W>]) -> Result<f64, Reason> {
    let sds: Vec<f64> = spreads.iter().filter_map(Spread::sd).collect();
    moments::mean(&sds).ok_or_else(|| Reason::count("too_few_days", DAYS, 0, 1))
}

fn of_means(means: &[f64]) -> Result<f64, Reason> {
    moments::sd(means).ok_or_else(|| Reason::count("too_few_days", DAYS, means.len(), 2))
}

fn profile(slots: &[Slot]) -> Result<f64, Reason> {
    let means: Vec<f64> =
        slots.iter().filter(|s| s.plain.n > 0.0).map(|s| s.plain.sum / s.plain.n).collect();
    let needed = half(slots.len());
    let enough = moments::sd(&means).filter(|_| means.len() >= needed);
    let what = "clock times with a reading on a local day that counts";
    enough.ok_or_else(|| Reason::count("too_few_readings", what, means.len(), needed))
}

fn between(slots: &[Slot], days: usize, part: impl Fn(&Slot) -> Sums) -> Result<f64, Reason> {
    if days < 2 {
        return Err(Reason::count("too_few_days", DAYS, days, 2));
    }
    let sds: Vec<f64> = slots.iter().filter_map(|s| part(s).sd()).collect();
    moments::mean(&sds).ok_or_else(|| {
        Reason::count("too_few_readings", "clock times with readings on two local days", 0, 1)
    })
}
