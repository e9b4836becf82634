//! The ways in which a sensor could be set by the meter, and the choice among them by left-out days.
//!
//! # Method
//! Sensor = gain × meter + offset + drift × days of wear, least squares of sensor on meter with what a
//! kind leaves out held at gain 1, offset 0, drift 0; a reading is corrected by solving for the meter
//! (classical calibration: the sensor's noise doesn't flatten the gain, as it would the other way
//! round). Each day is predicted from all others; a kind's error is the mean square of meter less
//! prediction. Of all kinds the simplest is chosen whose error is within one standard error, over days,
//! of the least; leaving the sensor as it is wins up to one and a half. A mean difference of three
//! standard errors is then set about every other time, one of four nearly always.
//!
//! # Source
//! One standard error: Breiman L, Friedman J, Olshen R, Stone C. Classification and regression trees,
//! 1984 (from memory), here of the difference in error day
//! by day; the half more for leaving the sensor alone is a convention of this library. Classical calibration: Draper and
//! Smith, Applied regression analysis, 3rd ed. (1998), section 3.2.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::by_day::coefficients;
use super::differences::Differences;
use crate::estimate::Reason;

/// Span of meter values from which a gain can be told, mg/dL.
pub(super) const MIN_SPAN_MG_DL: f64 = 60.0;
/// Days between the first and the last pair from which a drift can be told.
const MIN_SPAN_DAYS: f64 = 4.0;
/// Standard errors by which the best kind must beat leaving the sensor as it is.
const LEAVE_IT_SE: f64 = 1.5;
/// A gain in mean square error that is nothing but rounding, (mg/dL)².
const ROUNDING: f64 = 1e-9;
/// A gain outside is no gain of a sensor that works.
const GAINS: std::ops::RangeInclusive<f64> = 0.5..=2.0;

/// What is set, from simple to less so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum Kind {
    /// Nothing: the sensor is left as it is.
    None,
    /// One number is taken off.
    Offset,
    /// Readings are divided by one number.
    Gain,
    /// Both.
    Both,
    /// A number is taken off that changes evenly with the days of wear.
    DriftingOffset,
}

impl Kind {
    /// All of them, in order of preference at a tie.
    pub const ALL: [Kind; 5] =
        [Kind::None, Kind::Offset, Kind::Gain, Kind::Both, Kind::DriftingOffset];

    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            Kind::None => "none",
            Kind::Offset => "offset",
            Kind::Gain => "gain",
            Kind::Both => "both",
            Kind::DriftingOffset => "drifting_offset",
        }
    }
}

/// Sensor = gain × blood by the meter + offset + drift × days of wear.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Correction {
    /// Without unit.
    pub gain: f64,
    /// mg/dL.
    pub offset_mg_dl: f64,
    /// mg/dL per day since insertion.
    pub drift_mg_dl_day: f64,
}

impl Default for Correction {
    /// A sensor that reads as the meter does.
    fn default() -> Correction {
        Correction { gain: 1.0, offset_mg_dl: 0.0, drift_mg_dl_day: 0.0 }
    }
}

impl Correction {
    /// A reading as the meter would have it, mg/dL; may come out as 0 or less.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::sensor::Correction;
    /// let c = Correction { gain: 1.1, offset_mg_dl: 4.0, drift_mg_dl_day: 0.5 };
    /// assert!((c.corrected(116.0, 4.0) - 100.0).abs() < 1e-12);
    /// ```
    pub fn corrected(&self, measured_mg_dl: f64, wear_days: f64) -> f64 {
        (measured_mg_dl - self.offset_mg_dl - self.drift_mg_dl_day * wear_days) / self.gain
    }
}

/// How one kind did.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tried {
    /// Which.
    pub kind: Kind,
    /// Root mean square of meter less prediction on left-out days, mg/dL.
    pub error_mg_dl: Option<f64>,
    /// Mean square error above that of the best kind, (mg/dL)².
    pub above_best: Option<f64>,
    /// Standard error of that over days.
    pub above_best_se: Option<f64>,
    /// Why it could not be tried.
    pub reason: Option<Reason>,
}

/// Why a kind can't be told from these pairs, if it can't.
pub(super) fn untold(kind: Kind, pairs: &Differences) -> Option<Reason> {
    let of = |code: &str, had: f64, needed: f64, text: String| Reason {
        code: code.into(),
        had: Some(had),
        needed: Some(needed),
        text,
    };
    match kind {
        Kind::Gain | Kind::Both => {
            let values = &pairs.reference_mg_dl;
            let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let low = values.iter().copied().fold(f64::INFINITY, f64::min);
            let span = if values.is_empty() { 0.0 } else { high - low };
            let text = format!(
                "needs meter values that span {MIN_SPAN_MG_DL:.0} mg/dL, they span {span:.0}"
            );
            (span < MIN_SPAN_MG_DL).then(|| of("narrow_meter_values", span, MIN_SPAN_MG_DL, text))
        }
        Kind::DriftingOffset => {
            let span = pairs.span_days();
            let text = format!("needs pairs over {MIN_SPAN_DAYS:.0} days, has {span:.1}");
            (span < MIN_SPAN_DAYS).then(|| of("short_span", span, MIN_SPAN_DAYS, text))
        }
        _ => None,
    }
}

/// The correction of a kind from pairs; `None` where it can't be fitted.
pub(super) fn fitted(kind: Kind, pairs: &Differences) -> Option<Correction> {
    let ones = vec![1.0; pairs.len()];
    let reference = &pairs.reference_mg_dl;
    let plain = Correction::default();
    let found = match kind {
        Kind::None => plain,
        Kind::Offset => {
            let c = coefficients(&[&ones], &pairs.difference_mg_dl())?;
            Correction { offset_mg_dl: c[0], ..plain }
        }
        Kind::Gain => {
            let c = coefficients(&[reference], &pairs.measured_mg_dl)?;
            Correction { gain: c[0], ..plain }
        }
        Kind::Both => {
            let c = coefficients(&[&ones, reference], &pairs.measured_mg_dl)?;
            Correction { offset_mg_dl: c[0], gain: c[1], ..plain }
        }
        Kind::DriftingOffset => {
            let c = coefficients(&[&ones, &pairs.wear_days], &pairs.difference_mg_dl())?;
            Correction { offset_mg_dl: c[0], drift_mg_dl_day: c[1], ..plain }
        }
    };
    GAINS.contains(&found.gain).then_some(found)
}

/// Each day's sensor values corrected by what all other days say; in the order of the pairs. `correct`
/// is given the other days.
pub(super) fn left_out_days(
    pairs: &Differences,
    correct: impl Fn(&Differences) -> Option<Correction>,
) -> Option<Vec<f64>> {
    let mut found: BTreeMap<i64, Correction> = BTreeMap::new();
    for &day in &pairs.day {
        if let Entry::Vacant(place) = found.entry(day) {
            place.insert(correct(&pairs.filtered(|i| pairs.day[i] != day))?);
        }
    }
    let one = |i: usize| {
        let correction = found.get(&pairs.day[i])?;
        Some(correction.corrected(pairs.measured_mg_dl[i], pairs.wear_days[i]))
    };
    (0..pairs.len()).map(one).collect()
}

/// The kind to use, and how each did.
pub(super) fn choose(pairs: &Differences) -> (Kind, Vec<Tried>) {
    let squares = |kind: Kind| -> Result<Vec<f64>, Reason> {
        untold(kind, pairs).map_or(Ok(()), Err)?;
        let text = "can't be fitted when a day is left out";
        let predicted = left_out_days(pairs, |rest| fitted(kind, rest))
            .ok_or_else(|| Reason::plain("not_fitted", text))?;
        let errors = predicted.iter().zip(&pairs.reference_mg_dl).map(|(p, r)| (p - r) * (p - r));
        Ok(errors.collect())
    };
    let n = pairs.len().max(1) as f64;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let tried: Vec<(Kind, Result<Vec<f64>, Reason>)> =
        Kind::ALL.into_iter().map(|kind| (kind, squares(kind))).collect();
    let best = tried
        .iter()
        .filter_map(|(_, squares)| squares.as_ref().ok())
        .min_by(|a, b| mean(a).total_cmp(&mean(b)))
        .cloned()
        .unwrap_or_default();
    let row = |(kind, squares): &(Kind, Result<Vec<f64>, Reason>)| match squares {
        Ok(squares) => {
            let above: Vec<f64> = squares.iter().zip(&best).map(|(a, b)| a - b).collect();
            Tried {
                kind: *kind,
                error_mg_dl: Some(mean(squares).sqrt()),
                above_best: Some(mean(&above)),
                above_best_se: by_days_se(&above, &pairs.day),
                reason: None,
            }
        }
        Err(reason) => Tried {
            kind: *kind,
            error_mg_dl: None,
            above_best: None,
            above_best_se: None,
            reason: Some(reason.clone()),
        },
    };
    let rows: Vec<Tried> = tried.iter().map(row).collect();
    let bar = |kind| if kind == Kind::None { LEAVE_IT_SE } else { 1.0 };
    let tie = |t: &&Tried| {
        let within = |(above, se): (f64, f64)| above <= (bar(t.kind) * se).max(ROUNDING);
        t.above_best.zip(t.above_best_se).is_some_and(within)
    };
    let kind = rows.iter().find(tie).map_or(Kind::None, |t| t.kind);
    (kind, rows)
}

/// Standard error of the mean, days taken as units; `None` for fewer than two days.
fn by_days_se(values: &[f64], day: &[i64]) -> Option<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let mut sums: BTreeMap<i64, f64> = BTreeMap::new();
    for (v, day) in values.iter().zip(day) {
        *sums.entry(*day).or_insert(0.0) += v - mean;
    }
    let g = sums.len() as f64;
    let squares: f64 = sums.values().map(|s| s * s).sum();
    (g >= 2.0).then(|| (g / (g - 1.0) * squares).sqrt() / n)
}
