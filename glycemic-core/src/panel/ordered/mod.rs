//! Measures that depend on the order of the readings: excursions, steps, lags, days, complexity.
//!
//! # Method
//! Readings become whole numbers (of the unit's step, or of 2^-32 mg/dL off the grid), so sums
//! are exact. An interval longer than three nominal intervals, or a change of sensor, breaks the
//! trace. Each measure's file has its method and source.

pub(crate) mod daily;
pub(crate) mod dawn;
pub(crate) mod days;
pub(crate) mod dfa;
pub(crate) mod entropy;
pub(crate) mod lability;
pub(crate) mod lagged;
pub(crate) mod mage;
pub(crate) mod number;
pub(crate) mod risk;
pub(crate) mod segments;
pub(crate) mod steps;

use self::daily::Daily;
use self::days::Day;
use self::number::{Differences, FINE_STEP_MG_DL, Number, Spread, Whole, fine_codes, step_mg_dl};
use self::segments::Stretches;
use self::steps::Steps;
use super::grid;
use super::options::{MageSd, ModdPairs, Options};
use super::registry::Id;
use crate::clock::LocalClock;
use crate::estimate::Reason;
use crate::series::TraceView;

/// A measure and its value, or why there is none.
type Answer = (Id, Result<f64, Reason>);

const DAILY: [Id; 8] = [
    Id::Adrr,
    Id::SdWithinMgDl,
    Id::SdBetweenDailyMeansMgDl,
    Id::SdOfMeanDayMgDl,
    Id::SdWithinHourMgDl,
    Id::SdBetweenDaysMgDl,
    Id::SdBetweenDaysLessMeansMgDl,
    Id::DawnRiseMgDl,
];

/// Measures that are computed together.
const GROUPS: [&[Id]; 7] = [
    &[Id::MageMgDl, Id::MageUpMgDl, Id::MageDownMgDl],
    &[Id::ModdMgDl, Id::Conga1hMgDl, Id::Conga2hMgDl, Id::Conga4hMgDl],
    &[Id::MagMgDlH, Id::GvpPct, Id::PoincareSd1MgDl, Id::PoincareSd2MgDl, Id::TimeInFluctuationPct],
    &[Id::LabilityIndex],
    &DAILY,
    &[Id::DfaAlpha],
    &[Id::SampleEntropy],
];

/// Every order-dependent measure of a stretch of a trace.
///
/// `meals_ms`: instants of logged meals, for the dawn rise; empty without a diary.
///
/// # Example
/// ```
/// use glycemic_core::panel::{Id, options::Options, ordered};
/// use glycemic_core::{Unit, series::Builder};
/// // Up 60 mg/dL and down again, in two hours.
/// let times: Vec<i64> = (0..5).map(|i| 1_741_000_000_000 + i * 1_800_000).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &[100.0, 130.0, 160.0, 130.0, 100.0])?;
/// let measures = ordered::all(trace.view(), &[], &Options::default());
/// let of = |id| measures.iter().find(|m| m.0 == id).map(|m| m.1.clone());
/// assert_eq!(of(Id::MageMgDl), Some(Ok(60.0)));
/// assert_eq!(of(Id::MagMgDlH), Some(Ok(60.0)));
/// assert_eq!(of(Id::Adrr).and_then(|m| m.err()).map(|r| r.code), Some("no_zone".into()));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn all(
    view: TraceView<'_>,
    meals_ms: &[i64],
    options: &Options,
) -> Vec<(Id, Result<f64, Reason>)> {
    some(view, meals_ms, options, &|_| true)
}

/// As [`all`], leaving out groups of measures of which none is `wanted`.
pub(crate) fn some(
    view: TraceView<'_>,
    meals_ms: &[i64],
    options: &Options,
    wanted: &dyn Fn(Id) -> bool,
) -> Vec<(Id, Result<f64, Reason>)> {
    if !GROUPS.iter().flat_map(|group| *group).any(|&id| wanted(id)) {
        return Vec::new();
    }
    let unit = view.trace().unit();
    match grid::codes(view.glucose_mg_dl(), unit) {
        Some(grid) => {
            let codes: Vec<i32> = grid.codes.into_iter().map(i32::from).collect();
            Pass::new(view, &codes, step_mg_dl(unit)).some(meals_ms, options, wanted)
        }
        None => {
            let codes = fine_codes(view.glucose_mg_dl());
            Pass::new(view, &codes, FINE_STEP_MG_DL).some(meals_ms, options, wanted)
        }
    }
}

/// What the measures share.
struct Pass<'a, N: Number> {
    view: TraceView<'a>,
    codes: &'a [N],
    step_mg_dl: f64,
    stretches: Stretches,
    readings: Spread<N::Wide>,
    days: Option<(&'a LocalClock, Vec<Day>)>,
}

impl<'a, N: Number> Pass<'a, N> {
    fn new(view: TraceView<'a>, codes: &'a [N], step_mg_dl: f64) -> Pass<'a, N> {
        Pass {
            view,
            codes,
            step_mg_dl,
            stretches: Stretches::of(view),
            readings: Spread::of(codes),
            days: view.trace().clock().map(|clock| (clock, days::days(view, clock))),
        }
    }

    fn some(
        &self,
        meals_ms: &[i64],
        options: &Options,
        wanted: &dyn Fn(Id) -> bool,
    ) -> Vec<Answer> {
        let mut out = Vec::new();
        for group in GROUPS.into_iter().filter(|group| group.iter().any(|&id| wanted(id))) {
            out.extend(match group[0] {
                Id::MageMgDl => self.mage(options.mage_sd),
                Id::ModdMgDl => self.lagged(options.modd_pairs),
                Id::LabilityIndex => vec![(Id::LabilityIndex, self.lability(options))],
                Id::Adrr => self.daily(meals_ms),
                Id::DfaAlpha => vec![(Id::DfaAlpha, dfa::exponent(self.longest().1))],
                Id::SampleEntropy => {
                    let (times, codes) = self.longest();
                    vec![(Id::SampleEntropy, entropy::sample_entropy(times, codes))]
                }
                _ => self.steps(),
            });
        }
        out
    }

    fn mage(&self, sd: MageSd) -> Vec<Answer> {
        let threshold = match sd {
            MageSd::WholeTrace => whole_sd(&self.readings),
            MageSd::MeanOfDays => self.by_day().ok_or_else(no_zone).and_then(|d| d.sd_within()),
        };
        match threshold {
            Ok(threshold) => mage::excursions(self.codes, &self.stretches.segments, threshold)
                .measures(self.step_mg_dl),
            Err(reason) => missing(&[Id::MageMgDl, Id::MageUpMgDl, Id::MageDownMgDl], &reason),
        }
    }

    fn lagged(&self, pairs: ModdPairs) -> Vec<Answer> {
        let from = match pairs {
            ModdPairs::All => Ok(i64::MIN),
            ModdPairs::WholeDaysOnly => self.first_whole_day(),
        };
        let nominal = self.view.trace().nominal_ms();
        let mut lags = [Differences::default(); 4];
        for (i, (lag, into)) in lagged::LAGS_MS.into_iter().zip(&mut lags).enumerate() {
            let from = if i == 0 { from.clone().unwrap_or(i64::MIN) } else { i64::MIN };
            for sensor in &self.stretches.sensors {
                let times = &self.view.times_ms()[sensor.clone()];
                lagged::differences(times, &self.codes[sensor.clone()], lag, nominal, from, into);
            }
        }
        let mut out = lagged::measures(&lags, self.step_mg_dl);
        if let (Err(reason), Some(modd)) = (from, out.first_mut()) {
            modd.1 = Err(reason);
        }
        out
    }

    /// The first local midnight that readings reach back to, to within a nominal interval.
    fn first_whole_day(&self) -> Result<i64, Reason> {
        let (_, days) = self.days.as_ref().ok_or_else(no_zone)?;
        Ok(match (days.first(), self.view.times_ms().first()) {
            (Some(day), Some(&t)) if t - day.start_ms > self.view.trace().nominal_ms() => {
                day.end_ms
            }
            _ => i64::MIN,
        })
    }

    fn steps(&self) -> Vec<Answer> {
        let times = self.view.times_ms();
        Steps::of(times, self.codes, &self.stretches.segments, self.step_mg_dl)
            .measures(&self.readings, self.step_mg_dl)
    }

    fn lability(&self, options: &Options) -> Result<f64, Reason> {
        let scale = lability::Scale {
            step_mg_dl: self.step_mg_dl,
            nominal_ms: self.view.trace().nominal_ms(),
        };
        let mut pairs = lability::Pairs::default();
        for sensor in &self.stretches.sensors {
            let times = &self.view.times_ms()[sensor.clone()];
            pairs.add_all(times, &self.codes[sensor.clone()], scale);
        }
        pairs.index(options.lability)
    }

    fn daily(&self, meals_ms: &[i64]) -> Vec<Answer> {
        let Some(daily) = self.by_day() else { return missing(&DAILY, &no_zone()) };
        let mut out = vec![(Id::Adrr, risk::adrr(self.codes, daily.days, self.step_mg_dl))];
        out.extend(daily.measures());
        out.push((Id::DawnRiseMgDl, daily.dawn_rise(meals_ms)));
        out
    }

    fn by_day(&self) -> Option<Daily<'_, N>> {
        let (clock, days) = self.days.as_ref()?;
        Some(Daily {
            times: self.view.times_ms(),
            codes: self.codes,
            days,
            clock,
            nominal_ms: self.view.trace().nominal_ms(),
            step_mg_dl: self.step_mg_dl,
        })
    }

    /// The longest stretch without a gap.
    fn longest(&self) -> (&[i64], &[N]) {
        let longest = self.stretches.longest();
        (&self.view.times_ms()[longest.clone()], &self.codes[longest])
    }
}

/// The threshold of MAGE: the SD of all readings, in counts.
pub(crate) fn whole_sd<W: Whole>(readings: &Spread<W>) -> Result<f64, Reason> {
    let had = readings.n as usize;
    readings.sd().ok_or_else(|| Reason::count("too_few_readings", "readings", had, 2))
}

/// The same reason for each.
pub(crate) fn missing(ids: &[Id], reason: &Reason) -> Vec<Answer> {
    ids.iter().map(|&id| (id, Err(reason.clone()))).collect()
}

fn no_zone() -> Reason {
    Reason::plain("no_zone", "needs local days, and no zone or local clock was given")
}

#[cfg(test)]
mod closed_tests;
#[cfg(test)]
mod naive_tests;
