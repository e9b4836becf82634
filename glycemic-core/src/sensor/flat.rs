//! Flat-lines: readings that stay the same for longer than chance allows.
//!
//! # Method
//! A run is a row of readings, none missing, whose values are all the same, or all within one step
//! of the display. How long runs get by chance follows from the noise: the change from one reading
//! to the next, given four changes of nothing before it, is normal with a variance that the
//! noise's covariance gives (glucose taken to be still, which makes runs longer), and a run goes
//! on when that change rounds to no more than allowed. Where the short runs of the trace itself
//! (four to nine readings) go on more often than that, their share is taken. The threshold is the
//! shortest run of which a trace of so many readings holds fewer than `chance` by expectation.
//!
//! Runs are reported, not removed. A reading at the sensor's limit belongs to no run.
//!
//! # Units
//! mg/dL, minutes, UTC milliseconds. A step is 1 mg/dL or 0.1 mmol/L.
//!
//! # Source
//! Conditional normal distribution: any textbook. Expected runs: Feller W. An introduction to
//! probability theory, vol. 1 (1968), chapter XIII, from memory. The four changes and the default
//! chance are conventions of this library.

use super::noise::{Reckoned, reckoned};
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::meals::Meal;
use crate::series::{Censor, Trace};
use crate::stats::cholesky::{factor, matrix, solve};
use crate::stats::distribution::normal_cdf;
use crate::table::Table;
use crate::units::Unit;

const MINUTE: f64 = 60_000.0;
/// Changes of nothing that are taken as given.
const GIVEN: usize = 4;
/// Readings of the short runs that show how often runs go on, and runs of them that must have ended.
const SHORT: (usize, usize) = (4, 9);
const MIN_ENDED: usize = 10;
/// A longer threshold than this many readings says that nothing can be told.
const MOST_READINGS: usize = 2000;

/// How flat-lines are looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FlatOptions {
    /// Whether values within one step of each other count as the same.
    pub within_one_step: bool,
    /// Runs expected by chance in the whole trace, at the threshold.
    pub chance: f64,
}

impl Default for FlatOptions {
    fn default() -> Self {
        FlatOptions { within_one_step: false, chance: 0.01 }
    }
}

/// A run longer than the threshold.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Flat {
    /// First reading, UTC milliseconds.
    pub start_ms: i64,
    /// Last reading, UTC milliseconds.
    pub end_ms: i64,
    /// From first to last.
    pub minutes: f64,
    /// Readings in it.
    pub readings: usize,
    /// The value; the mean where it takes two, mg/dL.
    pub value_mg_dl: f64,
    /// Runs so long that chance would put into this trace.
    pub by_chance: f64,
}

/// Flat-lines and the threshold they are over.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FlatLines {
    /// In order of time.
    pub flats: Vec<Flat>,
    /// Fewest readings in a row that count; `None` with a reason.
    pub threshold_readings: Option<usize>,
    /// Minutes from first to last reading of such a run.
    pub threshold_min: Option<f64>,
    /// Longest run seen, in readings.
    pub longest_readings: usize,
    /// SD of the noise that was reckoned with, mg/dL.
    pub noise_sd_mg_dl: f64,
    /// Whether that noise is assumed, for want of windows without food.
    pub noise_assumed: bool,
    /// Why there is no threshold.
    pub reason: Option<Reason>,
}

/// The flat-lines of a trace.
///
/// # Errors
/// A chance outside 1e-9 to 1.
///
/// # Example
/// ```
/// use glycemic_core::sensor::flat::{FlatOptions, flat_lines};
/// use glycemic_core::{Unit, series::Builder};
/// // Two days that move, with two hours at 104 mg/dL.
/// let times: Vec<i64> = (0..576).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// let glucose: Vec<f64> = (0..576_i32)
///     .map(|i| if (200..225).contains(&i) { 104.0 } else { f64::from(100 + (i * 7) % 11) })
///     .collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &glucose)?;
/// let found = flat_lines(&trace, &[], &FlatOptions::default())?;
/// assert_eq!(found.flats.len(), 1);
/// assert_eq!((found.flats[0].minutes, found.flats[0].value_mg_dl), (120.0, 104.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn flat_lines(
    trace: &Trace,
    meals: &[Meal],
    options: &FlatOptions,
) -> Result<FlatLines, Error> {
    require_within("chance", options.chance, 1e-9, 1.0)?;
    let noise = reckoned(trace, meals);
    let step_mg_dl = match trace.unit() {
        Unit::MmolL => Unit::MmolL.to_mg_dl(0.1),
        _ => 1.0,
    };
    let runs = runs(trace, if options.within_one_step { 1.001 * step_mg_dl } else { 0.001 });
    let odds = odds(trace, &noise, step_mg_dl, options.within_one_step).map(|o| o.beside(&runs));
    let threshold = odds.and_then(|o| o.threshold(trace.len(), options.chance));
    let flat = |r: &(usize, usize)| {
        let (times, values) = (trace.times_ms(), trace.glucose_mg_dl());
        let readings = r.1 - r.0;
        Flat {
            start_ms: times[r.0],
            end_ms: times[r.1 - 1],
            minutes: (times[r.1 - 1] - times[r.0]) as f64 / MINUTE,
            readings,
            value_mg_dl: values[r.0..r.1].iter().sum::<f64>() / readings.max(1) as f64,
            by_chance: odds.map_or(1.0, |o| o.expected(trace.len(), readings)),
        }
    };
    let long = |r: &&(usize, usize)| threshold.is_some_and(|t| r.1 - r.0 >= t);
    let nominal_min = trace.nominal_ms() as f64 / MINUTE;
    Ok(FlatLines {
        flats: runs.iter().filter(long).map(flat).collect(),
        threshold_readings: threshold,
        threshold_min: threshold.map(|t| (t - 1) as f64 * nominal_min),
        longest_readings: runs.iter().map(|r| r.1 - r.0).max().unwrap_or(0),
        noise_sd_mg_dl: noise.sd_mg_dl(),
        noise_assumed: noise.assumed(),
        reason: threshold.is_none().then(|| {
            let text = "the noise is so small beside a step that any run may be chance";
            Reason::plain("too_little_noise", text)
        }),
    })
}

/// The longest runs whose values span no more than `span`, as places (from, to); they don't
/// overlap.
fn runs(trace: &Trace, span: f64) -> Vec<(usize, usize)> {
    let (times, values) = (trace.times_ms(), trace.glucose_mg_dl());
    let view = trace.view();
    let mut out = Vec::new();
    let mut from = 0;
    while from < values.len() {
        let (mut low, mut high) = (values[from], values[from]);
        let mut to = from + 1;
        while to < values.len() && view.censor()[from] == Censor::None {
            let next_to = times[to] - times[to - 1] <= trace.nominal_ms() * 3 / 2
                && !view.spans_break(times[to - 1], times[to])
                && view.censor()[to] == Censor::None;
            let (l, h) = (low.min(values[to]), high.max(values[to]));
            if !next_to || h - l > span {
                break;
            }
            (low, high) = (l, h);
            to += 1;
        }
        out.push((from, to));
        from = to;
    }
    out
}

/// Chances that a run begins, and that it goes on.
#[derive(Clone, Copy, Debug)]
struct Odds {
    begins: f64,
    goes_on: f64,
}

impl Odds {
    /// Runs of at least so many readings expected in a trace of n.
    fn expected(&self, n: usize, readings: usize) -> f64 {
        let further = readings.saturating_sub(2) as f64;
        n as f64 * self.begins * libm::pow(self.goes_on, further)
    }

    /// What the short runs of the trace itself show, where that is more.
    fn beside(self, runs: &[(usize, usize)]) -> Odds {
        let (mut further, mut ended) = (0, 0);
        for length in runs.iter().map(|r| r.1 - r.0).filter(|l| *l >= SHORT.0) {
            further += length.min(SHORT.1) - SHORT.0;
            ended += usize::from(length < SHORT.1);
        }
        if ended < MIN_ENDED {
            return self;
        }
        let goes_on = further as f64 / (further + ended) as f64;
        Odds { goes_on: self.goes_on.max(goes_on), ..self }
    }

    fn threshold(&self, n: usize, chance: f64) -> Option<usize> {
        (3..MOST_READINGS).find(|k| self.expected(n, *k) <= chance)
    }
}

/// From the noise's covariance: `None` when it can't be factored.
fn odds(trace: &Trace, noise: &Reckoned, step: f64, within_one: bool) -> Option<Odds> {
    let minutes = trace.nominal_ms() as f64 / MINUTE;
    let rounding = step * step / 12.0;
    let at = |k: f64| {
        let own = if k == 0.0 { rounding } else { 0.0 };
        noise.covariance(k * minutes) + own
    };
    let change = |k: usize| {
        let k = k as f64;
        2.0 * at(k) - at((k - 1.0).abs()) - at(k + 1.0)
    };
    let variance = change(0);
    let given = factor(&matrix(GIVEN, |i, j| change(i.abs_diff(j))))?;
    let with: Vec<f64> = (1..=GIVEN).map(change).collect();
    let told: f64 = solve(&given, with.clone()).iter().zip(&with).map(|(a, b)| a * b).sum();
    let left = (variance - told).max(rounding);
    // The next value may be the same; or, of two values next to each other, either.
    let chance = |v: f64| {
        let sd = v.sqrt();
        let top = if within_one { 1.5 } else { 0.5 };
        normal_cdf(top * step / sd) - normal_cdf(-0.5 * step / sd)
    };
    let first = if within_one {
        2.0 * normal_cdf(1.5 * step / variance.sqrt()) - 1.0
    } else {
        chance(variance)
    };
    Some(Odds { begins: first, goes_on: chance(left) })
}

impl FlatLines {
    /// A row for each flat-line.
    ///
    /// # Errors
    /// None that they can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let f64s = |f: fn(&Flat) -> f64| self.flats.iter().map(|x| Some(f(x))).collect();
        let i64s = |f: fn(&Flat) -> i64| self.flats.iter().map(|x| Some(f(x))).collect();
        let mut t = Table::new();
        t.push_i64("start_ms", i64s(|f| f.start_ms))?;
        t.push_i64("end_ms", i64s(|f| f.end_ms))?;
        t.push_f64("minutes", f64s(|f| f.minutes))?;
        t.push_i64("readings", i64s(|f| f.readings as i64))?;
        t.push_f64("value_mg_dl", f64s(|f| f.value_mg_dl))?;
        t.push_f64("by_chance", f64s(|f| f.by_chance))?;
        Ok(t)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::Builder;
    use crate::stats::random::Random;

    fn trace(unit: Unit, values: &[f64]) -> Trace {
        let times: Vec<i64> =
            (0..values.len() as i64).map(|i| 1_741_000_000_000 + i * 300_000).collect();
        Builder::new(unit).build(&times, values).unwrap()
    }

    /// White noise of SD 2 about 100, rounded: changes have variance 8 + 2/12, and given four
    /// changes of nothing the variance is σ²(1 + 1/5) of the level's prediction: by hand 6/5 σ².
    #[test]
    fn white_noise_in_closed_form() {
        let noise = Reckoned::white(4.0);
        let t = trace(Unit::MgDl, &[100.0, 101.0]);
        let o = odds(&t, &noise, 1.0, false).unwrap();
        let all = 4.0 + 1.0 / 12.0;
        let share = |v: f64| 2.0 * normal_cdf(0.5 / v.sqrt()) - 1.0;
        assert!((o.begins - share(2.0 * all)).abs() < 1e-9);
        assert!((o.goes_on - share(1.2 * all)).abs() < 1e-9, "{o:?}");
        // 1000 readings: the first k with 1000 p q^(k - 2) at most 0.01.
        let k = o.threshold(1000, 0.01).unwrap();
        assert!(o.expected(1000, k) <= 0.01 && o.expected(1000, k - 1) > 0.01);
        assert_eq!(k, 8);
    }

    /// Runs of white noise are no more frequent than expected (they are rarer after a while: the
    /// changes must also add up to nothing).
    #[test]
    fn chance_is_not_understated() {
        let mut random = Random::keyed(1, 0, 0);
        let values: Vec<f64> =
            (0..60_000).map(|_| (100.0 + 2.0 * random.normal()).round()).collect();
        let t = trace(Unit::MgDl, &values);
        let o = odds(&t, &Reckoned::white(4.0), 1.0, false).unwrap();
        let seen = runs(&t, 0.001);
        for k in [3, 4, 5] {
            let counted = seen.iter().filter(|r| r.1 - r.0 >= k).count() as f64;
            assert!(
                counted <= 1.15 * o.expected(60_000, k),
                "{k} {counted} {}",
                o.expected(60_000, k)
            );
            assert!(
                counted >= 0.4 * o.expected(60_000, k),
                "{k} {counted} {}",
                o.expected(60_000, k)
            );
        }
    }

    #[test]
    fn gaps_and_limits_end_a_run() {
        let times = [0_i64, 1, 2, 9, 10, 11, 12].map(|i| 1_741_000_000_000 + i * 300_000);
        let censor = [
            Censor::None,
            Censor::None,
            Censor::None,
            Censor::None,
            Censor::Low,
            Censor::Low,
            Censor::Low,
        ];
        let t = Builder::new(Unit::MgDl).build_censored(&times, &[40.0; 7], &censor).unwrap();
        assert_eq!(runs(&t, 0.001), [(0, 3), (3, 4), (4, 5), (5, 6), (6, 7)]);
        assert!(
            flat_lines(&t, &[], &FlatOptions { chance: f64::NAN, ..FlatOptions::default() })
                .is_err()
        );
    }

    #[test]
    fn within_one_step_in_mmol() {
        let values: Vec<f64> = (0..40).map(|i| if i % 2 == 0 { 5.5 } else { 5.6 }).collect();
        let t = trace(Unit::MmolL, &values);
        let step = Unit::MmolL.to_mg_dl(0.1);
        assert_eq!(runs(&t, 1.001 * step), [(0, 40)]);
        assert_eq!(runs(&t, 0.001).len(), 40);
    }
}
