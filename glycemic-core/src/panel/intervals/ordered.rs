//! Per-day sums of the measures that depend on the order of readings.
//!
//! # Method
//! A step and a difference belong to the local day of their later reading, an excursion to the
//! day it ends. The threshold and the direction of MAGE are those of the whole wear.

use std::ops::Range;

use super::jackknife::{Join, LeftOut, leave_out};
use super::units::Units;
use crate::panel::options::Lability;
use crate::panel::ordered::daily::Daily;
use crate::panel::ordered::days::Day;
use crate::panel::ordered::number::{Differences, Number, Spread, Whole};
use crate::panel::ordered::segments::Stretches;
use crate::panel::ordered::steps::Steps;
use crate::panel::ordered::{lability, lagged, mage, risk};
use crate::panel::registry::Id;
use crate::stats::moments;

/// What the parts share.
pub(crate) struct Days<'a, N> {
    pub(crate) daily: Daily<'a, N>,
    pub(crate) stretches: &'a Stretches,
    pub(crate) units: Units,
}

impl<N: Number> Days<'_, N> {
    /// Every measure of this file, of all days and of all but each.
    pub(crate) fn left_out(&self, nights: &[(i64, Vec<f64>)]) -> Vec<LeftOut> {
        let mut out = self.steps();
        out.extend(self.lags());
        out.extend(self.mage());
        out.extend(self.lability());
        out.extend(self.ratios(nights));
        out
    }

    /// The day of each reading.
    fn day_of(&self) -> Vec<usize> {
        let days = self.daily.days.iter().enumerate();
        days.flat_map(|(i, day)| std::iter::repeat_n(i, day.range.len())).collect()
    }

    fn per_day<T: Clone + Default>(&self) -> Vec<T> {
        vec![T::default(); self.daily.days.len()]
    }

    fn steps(&self) -> Vec<LeftOut> {
        let (times, codes, step) = (self.daily.times, self.daily.codes, self.daily.step_mg_dl);
        let mut days: Vec<StepDay<N::Wide>> = self.per_day();
        let day_of = self.day_of();
        for segment in &self.stretches.segments {
            for j in segment.start + 1..segment.end {
                let day = &mut days[day_of[j]];
                day.steps.add(times[j] - times[j - 1], codes[j] - codes[j - 1], step);
            }
        }
        for (sums, day) in days.iter_mut().zip(self.daily.days) {
            sums.readings = Spread::of(&codes[day.range.clone()]);
        }
        leave_out(&self.units.join(days), |d| answers(d.steps.measures(&d.readings, step)))
    }

    fn lags(&self) -> Vec<LeftOut> {
        let (times, codes) = (self.daily.times, self.daily.codes);
        let day_of = self.day_of();
        let ids = [Id::ModdMgDl, Id::Conga1hMgDl, Id::Conga2hMgDl, Id::Conga4hMgDl];
        let mut out = Vec::new();
        for ((place, id), lag) in ids.into_iter().enumerate().zip(lagged::LAGS_MS) {
            let mut days: Vec<LagDay<N::Wide>> = self.per_day();
            for sensor in &self.stretches.sensors {
                let from = sensor.start;
                lagged::each_pair(&times[sensor.clone()], lag, self.daily.nominal_ms, |i, j| {
                    days[day_of[from + j]].0.add(codes[from + j] - codes[from + i]);
                });
            }
            let mut days = self.units.join(days);
            days.retain(|day| day.0.spread.n > 0);
            out.extend(leave_out(&days, |day| {
                let mut lags = [Differences::default(); 4];
                lags[place] = day.0;
                let all = lagged::measures(&lags, self.daily.step_mg_dl);
                answers(all.into_iter().filter(|m| m.0 == id).collect())
            }));
        }
        out
    }

    /// The threshold moves too when a day is left out: by its slope over a tenth to either side.
    fn mage(&self) -> Vec<LeftOut> {
        let codes = self.daily.codes;
        let by_day =
            self.units.of(self.daily.days, |d| Spreads(Spread::of(&codes[d.range.clone()])));
        let thresholds = leave_out(&by_day, |all| vec![(Id::SdMgDl, all.0.sd())]);
        let Some(LeftOut { whole: Some(threshold), left, .. }) = thresholds.first() else {
            return Vec::new();
        };
        let mut rows = self.mage_at(*threshold);
        let (less, more) = (self.mage_at(0.9 * threshold), self.mage_at(1.1 * threshold));
        for ((row, less), more) in rows.iter_mut().zip(less).zip(more) {
            let change = less.whole.zip(more.whole).map_or(0.0, |(l, m)| m - l);
            for (value, without) in row.left.iter_mut().zip(left) {
                let moved = without.unwrap_or(*threshold) / threshold - 1.0;
                *value = value.map(|v| v + change / 0.2 * moved);
            }
        }
        rows
    }

    fn mage_at(&self, threshold: f64) -> Vec<LeftOut> {
        let day_of = self.day_of();
        let mut days: Vec<MageDay<N::Wide>> = self.per_day();
        let mut first = None;
        let segments = &self.stretches.segments;
        mage::each_excursion(self.daily.codes, segments, threshold, |way, amplitude, end| {
            first.get_or_insert(way);
            days[day_of[end]].0.add(way, amplitude);
        });
        leave_out(&self.units.join(days), |day| {
            let day = mage::Excursions { first, ..day.0 };
            answers(day.measures(self.daily.step_mg_dl))
        })
    }

    fn lability(&self) -> Vec<LeftOut> {
        let (times, codes) = (self.daily.times, self.daily.codes);
        let day_of = self.day_of();
        let mut days: Vec<lability::Pairs> = self.per_day();
        let (step_mg_dl, nominal_ms) = (self.daily.step_mg_dl, self.daily.nominal_ms);
        for sensor in &self.stretches.sensors {
            let from = sensor.start;
            lability::each_neighbours(&times[sensor.clone()], |i, j| {
                let (i, j) = (from + i, from + j);
                let scale = lability::Scale { step_mg_dl, nominal_ms };
                days[day_of[j]].add(times[j] - times[i], codes[j] - codes[i], scale);
            });
        }
        let mut days = self.units.join(days);
        days.retain(|day| *day != lability::Pairs::default());
        leave_out(&days, |day| vec![(Id::LabilityIndex, day.index(Lability::WeeklySum).ok())])
    }

    /// Means over days, hours or readings of what each day has by itself.
    fn ratios(&self, nights: &[(i64, Vec<f64>)]) -> Vec<LeftOut> {
        let step = self.daily.step_mg_dl;
        let codes = |range: &Range<usize>| &self.daily.codes[range.clone()];
        let needed = |day: &Day| self.daily.full(day);
        let days = self.daily.days;
        let within = |day: &Day| {
            let sd = Spread::of(codes(&day.range)).sd().filter(|_| needed(day));
            Ratio::one(sd.map(|sd| sd * step))
        };
        let hours = |day: &Day| {
            let sds = self.daily.hour_sds(day);
            Ratio { sum: sds.iter().sum::<f64>() * step, n: sds.len() as f64 }
        };
        let risks = |day: &Day| {
            let enough = day.range.len() >= risk::MIN_READINGS;
            Ratio::one(risk::range(codes(&day.range), step).filter(|_| enough))
        };
        let night = |day: &Day| {
            let found = nights.iter().find(|n| n.0 == day.number);
            found.map_or(Ratio::default(), |(_, night)| Ratio {
                sum: moments::mean(night).unwrap_or(0.0) * night.len() as f64,
                n: night.len() as f64,
            })
        };
        let of = |id: Id, days: Vec<Ratio>| {
            let days: Vec<Ratio> = days.into_iter().filter(|d| d.n > 0.0).collect();
            leave_out(&days, move |all| vec![(id, (all.n > 0.0).then(|| all.sum / all.n))])
        };
        [
            of(Id::SdWithinMgDl, self.units.of(days, within)),
            of(Id::SdWithinHourMgDl, self.units.of(days, hours)),
            of(Id::Adrr, self.units.of(days, risks)),
            of(Id::OvernightMgDl, self.units.of(days, night)),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

fn answers(all: Vec<(Id, Result<f64, crate::estimate::Reason>)>) -> Vec<(Id, Option<f64>)> {
    all.into_iter().map(|(id, value)| (id, value.ok())).collect()
}

/// A sum over how many.
#[derive(Clone, Copy, Default)]
struct Ratio {
    sum: f64,
    n: f64,
}

impl Ratio {
    fn one(value: Option<f64>) -> Ratio {
        value.map_or(Ratio::default(), |sum| Ratio { sum, n: 1.0 })
    }
}

impl Join for Ratio {
    fn join(&mut self, other: &Ratio) {
        self.sum += other.sum;
        self.n += other.n;
    }
}

#[derive(Clone, Default)]
struct StepDay<W> {
    steps: Steps<W>,
    readings: Spread<W>,
}

impl<W: Whole> Join for StepDay<W> {
    fn join(&mut self, other: &StepDay<W>) {
        self.steps.join(&other.steps);
        self.readings.join(&other.readings);
    }
}

#[derive(Clone, Default)]
struct LagDay<W>(Differences<W>);

impl<W: Whole> Join for LagDay<W> {
    fn join(&mut self, other: &LagDay<W>) {
        self.0.join(&other.0);
    }
}

/// The readings alone.
#[derive(Clone, Default)]
struct Spreads<W>(Spread<W>);

impl<W: Whole> Join for Spreads<W> {
    fn join(&mut self, other: &Spreads<W>) {
        self.0.join(&other.0);
    }
}

#[derive(Clone, Default)]
struct MageDay<W>(mage::Excursions<W>);

impl<W: Whole> Join for MageDay<W> {
    fn join(&mut self, other: &MageDay<W>) {
        for (side, more) in [(&mut self.0.up, &other.0.up), (&mut self.0.down, &other.0.down)] {
            side.n += more.n;
            side.sum += more.sum;
        }
    }
}

impl Join for lability::Pairs {
    fn join(&mut self, other: &lability::Pairs) {
        lability::Pairs::join(self, other);
    }
}
