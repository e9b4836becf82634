//! How long things last when some are still going: product-limit survival, and causes of failure.
//!
//! # Method
//! Survival after time t is the product over failure times up to t of 1 - d / n: d failed and n
//! at risk just before. What is censored at a failure time still counts as at risk there. The
//! standard error is Greenwood's; intervals are made on the scale log(-log S), so they stay
//! between 0 and 1. Before the first failure the lower end is exact binomial on the number at
//! risk. After the last time observed survival is not estimable unless all had failed. With
//! several causes the incidence of one is the sum over its failure times of S just before times
//! d / n (Aalen and Johansen); one minus a curve that censors the other causes would be too high.
//! Pieces are taken as independent: several sensors of one person are not quite.
//!
//! # Units
//! Whatever unit the times have.
//!
//! # Source
//! Kaplan EL, Meier P. J Am Stat Assoc 1958; 53: 457-481. Greenwood M. Rep Public Health Med
//! Subj 1926; 33: 1-26. Kalbfleisch and Prentice, Statistical analysis of failure time data, 2nd
//! ed. (2002), section 1.4 (log-log interval, from memory). Brookmeyer R, Crowley J. Biometrics
//! 1982; 38: 29-41 (interval of the median, from memory). Aalen OO, Johansen S. Scand J Stat
//! 1978; 5: 141-150; variance as in Marubini and Valsecchi, Analysing survival data (1995),
//! section 10.2, from memory: with one cause it is Greenwood's, which is tested.

use super::binomial::clopper_pearson_lower;
use super::distribution::normal_quantile;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::table::Table;

const METHOD: &str = "Kaplan-Meier, Greenwood, log-log interval";

/// One time at which something failed.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Time.
    pub time: f64,
    /// At risk just before it.
    pub at_risk: usize,
    /// Failed at it.
    pub failed: usize,
    /// Censored from it on and before the next failure time.
    pub censored: usize,
    /// Survival after it.
    pub survival: f64,
    /// Greenwood's standard error; `None` when all have failed.
    pub se: Option<f64>,
    /// Lower end of the interval; `None` when all have failed.
    pub low: Option<f64>,
    /// Upper end of the interval; `None` when all have failed.
    pub high: Option<f64>,
}

/// A survival curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Survival {
    /// Pieces.
    pub n: usize,
    /// Pieces that failed.
    pub failures: usize,
    /// A step for each failure time, in order.
    pub steps: Vec<Step>,
    /// Confidence level.
    pub level: f64,
    /// All times, sorted: how many are at risk is counted from them.
    times: Vec<f64>,
}

/// The survival curve of n >= 1 pieces: how long each was watched, and whether it then failed.
///
/// # Errors
/// No piece, different lengths, a time that is NaN or negative, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::stats::survival::kaplan_meier;
/// // Two of four fail at 1, one is taken off at 2, the last fails at 3.
/// let s = kaplan_meier(&[1.0, 1.0, 2.0, 3.0], &[true, true, false, true], 0.95)?;
/// assert_eq!(s.at(2.5)?.value, Some(0.5));
/// assert_eq!(s.at(3.0)?.value, Some(0.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn kaplan_meier(times: &[f64], failed: &[bool], level: f64) -> Result<Survival, Error> {
    let counts = counts(times, failed, level)?;
    let z = normal_quantile(0.5 + level / 2.0);
    let (mut survival, mut sum, mut steps) = (1.0, 0.0, Vec::with_capacity(counts.len()));
    for (k, count) in counts.iter().enumerate() {
        let (n, d) = (count.at_risk as f64, count.failed as f64);
        survival *= (n - d) / n;
        sum += d / (n * (n - d));
        let next = counts.get(k + 1).map_or(0, |c| c.at_risk);
        let ends = log_log(survival, survival * sum.sqrt(), z);
        steps.push(Step {
            time: count.time,
            at_risk: count.at_risk,
            failed: count.failed,
            censored: count.at_risk - count.failed - next,
            survival,
            se: ends.map(|_| survival * sum.sqrt()),
            low: ends.map(|e| e.0),
            high: ends.map(|e| e.1),
        });
    }
    let failures = failed.iter().filter(|f| **f).count();
    let times = super::quantile::sorted(times);
    Ok(Survival { n: times.len(), failures, steps, level, times })
}

impl Survival {
    /// At risk at `time`: neither failed nor censored before it.
    pub fn at_risk(&self, time: f64) -> usize {
        self.times.len() - self.times.partition_point(|&t| t < time)
    }

    /// Share that lasts beyond `time`.
    ///
    /// # Errors
    /// A time that is NaN or negative.
    pub fn at(&self, time: f64) -> Result<Estimate, Error> {
        require_within("time", time, 0.0, f64::MAX)?;
        let before = self.steps.partition_point(|s| s.time <= time);
        let last = before.checked_sub(1).map(|k| &self.steps[k]);
        let missing = |reason| Estimate::missing(self.level, METHOD, self.n, 1, reason);
        let open = |value, low, code, text| Estimate {
            value: Some(value),
            low,
            ..missing(Reason::plain(code, text))
        };
        let risk = self.at_risk(time);
        Ok(match last {
            Some(step) if step.survival <= 0.0 => {
                open(0.0, Some(0.0), "all_failed", "all have failed: the interval has no upper end")
            }
            _ if risk == 0 => {
                let text = "nothing was watched for so long, and not all had failed before";
                missing(Reason::plain("beyond_last_time", text))
            }
            None => Estimate {
                value: Some(1.0),
                low: Some(clopper_pearson_lower(risk, risk, 0.5 + self.level / 2.0)?),
                high: Some(1.0),
                level: self.level,
                method: "none failed so far, exact binomial on the number at risk".to_string(),
                n: risk,
                needed: 1,
                reason: None,
            },
            Some(step) => Estimate {
                value: Some(step.survival),
                low: step.low,
                high: step.high,
                level: self.level,
                method: METHOD.to_string(),
                n: self.n,
                needed: 1,
                reason: None,
            },
        })
    }

    /// The time by which half have failed: the first at which survival is one half or less. The
    /// ends are the first times at which the ends of the curve's interval are so low; an end
    /// that is never reached is open.
    pub fn median(&self) -> Estimate {
        let method = "first time at which survival is one half or less, Brookmeyer and Crowley";
        let first = |f: &dyn Fn(&Step) -> Option<f64>| {
            self.steps.iter().find(|s| f(s).is_some_and(|v| v <= 0.5 + 1e-12)).map(|s| s.time)
        };
        let value = first(&|s| Some(s.survival));
        let low = first(&|s| Some(s.low.unwrap_or(s.survival)));
        let high = first(&|s| s.high);
        let reason = match (value, high) {
            (Some(_), Some(_)) => None,
            (Some(_), None) => Some(Reason::plain(
                "open_interval",
                "the upper end of the curve's interval does not come down to one half",
            )),
            (None, _) => Some(Reason::plain(
                "half_not_failed",
                "the curve does not come down to one half in the time observed",
            )),
        };
        let needed = self.n.div_ceil(2);
        let base =
            Estimate { level: self.level, method: method.to_string(), ..Estimate::default() };
        Estimate { value, low, high, n: self.failures, needed, reason, ..base }
    }

    /// The curve as a table: time, at_risk, failed, censored, survival, se, low, high.
    ///
    /// # Errors
    /// None that a curve should cause.
    pub fn to_table(&self) -> Result<Table, Error> {
        let mut table = Table::new();
        let numbers = |f: fn(&Step) -> Option<f64>| self.steps.iter().map(f).collect();
        let whole = |f: fn(&Step) -> usize| self.steps.iter().map(|s| Some(f(s) as i64)).collect();
        table.push_f64("time", numbers(|s| Some(s.time)))?;
        table.push_i64("at_risk", whole(|s| s.at_risk))?;
        table.push_i64("failed", whole(|s| s.failed))?;
        table.push_i64("censored", whole(|s| s.censored))?;
        table.push_f64("survival", numbers(|s| Some(s.survival)))?;
        table.push_f64("se", numbers(|s| s.se))?;
        table.push_f64("low", numbers(|s| s.low))?;
        table.push_f64("high", numbers(|s| s.high))?;
        Ok(table)
    }
}

/// Incidence of one cause of failure, after one failure time (of any cause).
#[derive(Clone, Debug, PartialEq)]
pub struct Incidence {
    /// Cause, as given.
    pub cause: u32,
    /// Time.
    pub time: f64,
    /// Share that failed by this cause up to and at this time.
    pub incidence: f64,
    /// Standard error.
    pub se: f64,
    /// Lower end of the interval; `None` while the incidence is 0, or when it is 1.
    pub low: Option<f64>,
    /// Upper end of the interval; `None` as `low`.
    pub high: Option<f64>,
}

/// Incidence of each cause of failure for n >= 1 pieces; `cause` is 0 for censored.
///
/// Rows by cause, and for each cause a row for every failure time of any cause. At each time the
/// incidences of all causes and survival add up to 1.
///
/// # Errors
/// As [`kaplan_meier`].
///
/// # Example
/// ```
/// # use glycemic_core::stats::survival::cumulative_incidence;
/// let rows = cumulative_incidence(&[1.0, 2.0, 3.0, 4.0], &[1, 2, 0, 1], 0.95)?;
/// let last = |cause| rows.iter().filter(|r| r.cause == cause).next_back().unwrap().incidence;
/// // 1/4 at once; the half still there before 4 all fails by cause 1.
/// assert_eq!((last(1), last(2)), (0.75, 0.25));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn cumulative_incidence(
    times: &[f64],
    cause: &[u32],
    level: f64,
) -> Result<Vec<Incidence>, Error> {
    let failed: Vec<bool> = cause.iter().map(|c| *c > 0).collect();
    let counts = counts(times, &failed, level)?;
    let z = normal_quantile(0.5 + level / 2.0);
    let mut causes: Vec<u32> = cause.iter().copied().filter(|c| *c > 0).collect();
    causes.sort_unstable();
    causes.dedup();
    let mut rows = Vec::with_capacity(causes.len() * counts.len());
    for own in causes {
        let mut passed: Vec<Passed> = Vec::with_capacity(counts.len());
        let (mut before, mut incidence) = (1.0, 0.0);
        for count in &counts {
            let (n, all) = (count.at_risk as f64, count.failed as f64);
            let mine = |i: usize| cause[i] == own && times[i] == count.time;
            let d = (0..times.len()).filter(|&i| mine(i)).count() as f64;
            incidence += before * d / n;
            passed.push(Passed { n, all, d, before, incidence });
            before *= (n - all) / n;
            let se = incidence_se(&passed, incidence);
            let ends = log_log(incidence, se, z);
            rows.push(Incidence {
                cause: own,
                time: count.time,
                incidence,
                se,
                low: ends.map(|e| e.0),
                high: ends.map(|e| e.1),
            });
        }
    }
    Ok(rows)
}

/// Incidences as a table: cause, time, incidence, se, low, high.
///
/// # Errors
/// None that rows should cause.
pub fn incidence_table(rows: &[Incidence]) -> Result<Table, Error> {
    let number = |f: fn(&Incidence) -> Option<f64>| rows.iter().map(f).collect();
    let mut table = Table::new();
    table.push_i64("cause", rows.iter().map(|r| Some(i64::from(r.cause))).collect())?;
    table.push_f64("time", number(|r| Some(r.time)))?;
    table.push_f64("incidence", number(|r| Some(r.incidence)))?;
    table.push_f64("se", number(|r| Some(r.se)))?;
    table.push_f64("low", number(|r| r.low))?;
    table.push_f64("high", number(|r| r.high))?;
    Ok(table)
}

/// A failure time as one cause sees it.
struct Passed {
    n: f64,
    all: f64,
    d: f64,
    before: f64,
    incidence: f64,
}

fn incidence_se(passed: &[Passed], incidence: f64) -> f64 {
    let mut sum = 0.0;
    for p in passed {
        let later = incidence - p.incidence;
        // Where all fail nothing comes later, and its variance is that of 0.
        if p.n > p.all {
            sum += later * later * p.all / (p.n * (p.n - p.all));
        }
        sum += p.before * p.before * p.d * (p.n - p.d) / (p.n * p.n * p.n);
        sum -= 2.0 * later * p.before * p.d / (p.n * p.n);
    }
    sum.max(0.0).sqrt()
}

/// Ends of the interval of a share on the scale log(-log); `None` at 0 and 1.
fn log_log(share: f64, se: f64, z: f64) -> Option<(f64, f64)> {
    if !(share > 0.0 && share < 1.0 && se.is_finite()) {
        return None;
    }
    let log = libm::log(share);
    let step = z * se / (share * log.abs());
    Some((libm::pow(share, libm::exp(step)), libm::pow(share, libm::exp(-step))))
}

struct Count {
    time: f64,
    at_risk: usize,
    failed: usize,
}

/// Numbers at risk and failed at each failure time, in order.
fn counts(times: &[f64], failed: &[bool], level: f64) -> Result<Vec<Count>, Error> {
    require_same_len("failed", times.len(), failed.len())?;
    require_all_finite("times", times)?;
    require_within("level", level, 0.5, 0.999)?;
    if let Some(index) = times.iter().position(|&t| t < 0.0) {
        let (value, low, high) = (times[index], 0.0, f64::MAX);
        return Err(Error::OutOfRange { name: "times", index: Some(index), value, low, high });
    }
    if times.is_empty() {
        return Err(Error::TooFewValues { measure: "survival", needed: 1, got: 0 });
    }
    let mut order: Vec<usize> = (0..times.len()).collect();
    order.sort_by(|&a, &b| times[a].total_cmp(&times[b]));
    let mut out: Vec<Count> = Vec::new();
    let mut k = 0;
    while k < order.len() {
        let time = times[order[k]];
        let same = order[k..].iter().take_while(|&&i| times[i] == time).count();
        let fails = order[k..k + same].iter().filter(|&&i| failed[i]).count();
        if fails > 0 {
            out.push(Count { time, at_risk: order.len() - k, failed: fails });
        }
        k += same;
    }
    Ok(out)
}

#[cfg(test)]
#[path = "survival_tests.rs"]
mod tests;
