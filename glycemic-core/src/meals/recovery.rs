//! How long glucose takes to come back, compared between two groups of meals.
//!
//! # Method
//! A meal whose recovery was not seen counts until it was looked for (censored): the mean of those
//! that recovered would leave out the slowest. The restricted mean is the area under the
//! Kaplan-Meier curve up to a time that both groups reach: mean minutes above the baseline within
//! that time. Its difference has a normal interval with Greenwood's variance. The log-rank test
//! compares the whole curves; its p-value comes from shuffling the groups.
//!
//! # Units
//! Minutes.
//!
//! # Source
//! Kaplan EL, Meier P. J Am Stat Assoc 1958; 53: 457-481. Log-rank: Mantel N. Cancer Chemother Rep
//! 1966; 50: 163-170. Restricted mean: Irwin JO. J Hyg 1949; 47: 188-189; Royston P, Parmar MKB.
//! BMC Med Res Methodol 2013; 13: 152. From memory.

use super::responses::Responses;
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{chi2_cdf, normal_quantile};
use crate::stats::random::Random;

const METHOD: &str = "difference of restricted means, Kaplan-Meier with Greenwood's variance";
/// Meals in each group under which nothing is said.
pub const MIN_MEALS: usize = 5;

/// One meal: until when it was followed, and whether it had recovered then.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Followed {
    /// Minutes from the meal's start.
    pub minutes: f64,
    /// Recovered at that time; else not yet.
    pub recovered: bool,
}

/// Two groups compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Meals in each group.
    pub n: (usize, usize),
    /// Those that were seen to recover.
    pub recovered: (usize, usize),
    /// Up to when the means are taken, minutes: what both groups reach.
    pub until_min: f64,
    /// Mean minutes to recovery within that time.
    pub restricted_mean_min: (f64, f64),
    /// First less second.
    pub difference: Estimate,
    /// Log-rank statistic.
    pub log_rank_chi2: f64,
    /// Recoveries expected in the first group if the groups were alike.
    pub expected: f64,
    /// Its p-value by the chi-squared distribution with one degree of freedom.
    pub p_value_chi2: f64,
    /// Its p-value by shuffling the groups.
    pub p_value: f64,
}

/// The meals of these rows as followed times; rows without a peak are left out.
pub fn followed(responses: &Responses, rows: &[usize]) -> Vec<Followed> {
    rows.iter()
        .filter_map(|&i| responses.rows.get(i))
        .filter_map(|r| match (r.recovery_min, r.recovery_censored_min) {
            (Some(minutes), _) => Some(Followed { minutes, recovered: true }),
            (None, Some(minutes)) => Some(Followed { minutes, recovered: false }),
            _ => None,
        })
        .collect()
}

/// Compares the recovery of group `a` with that of group `b`.
///
/// # Errors
/// An empty group, times that are negative or not finite, a level outside 0.5-0.999, or shuffles
/// outside 99 to 100 000.
///
/// # Example
/// ```
/// use glycemic_core::meals::recovery::{Followed, compare};
/// let group = |minutes: &[f64]| -> Vec<Followed> {
///     minutes.iter().map(|&minutes| Followed { minutes, recovered: true }).collect()
/// };
/// let (quick, slow) = (group(&[40.0, 55.0, 60.0, 70.0, 75.0]), group(&[90.0, 95.0, 120.0, 130.0, 150.0]));
/// let found = compare(&quick, &slow, 0.95, 999, 1)?;
/// // All of the first are back by 75 min: mean 60; the second had none back by then.
/// assert_eq!(found.restricted_mean_min, (60.0, 75.0));
/// assert!(found.p_value < 0.05);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn compare(
    a: &[Followed],
    b: &[Followed],
    level: f64,
    shuffles: usize,
    seed: u64,
) -> Result<Comparison, Error> {
    require_within("level", level, 0.5, 0.999)?;
    require_within("shuffles", shuffles as f64, 99.0, 100_000.0)?;
    for (name, group) in [("a", a), ("b", b)] {
        if group.is_empty() {
            return Err(Error::TooFewValues { measure: "recovery", needed: 1, got: 0 });
        }
        for one in group {
            require_within(name, one.minutes, 0.0, 1e6)?;
        }
    }
    let longest = |g: &[Followed]| g.iter().map(|f| f.minutes).fold(0.0, f64::max);
    let until_min = longest(a).min(longest(b));
    let (one, other) = (restricted(a, until_min), restricted(b, until_min));
    let (log_rank_chi2, expected) = log_rank(a, b);
    Ok(Comparison {
        n: (a.len(), b.len()),
        recovered: (count(a), count(b)),
        until_min,
        restricted_mean_min: (one.0, other.0),
        difference: difference(a, b, one, other, level),
        log_rank_chi2,
        expected,
        p_value_chi2: 1.0 - chi2_cdf(log_rank_chi2, 1.0),
        p_value: shuffled(a, b, log_rank_chi2, shuffles, seed),
    })
}

fn count(group: &[Followed]) -> usize {
    group.iter().filter(|f| f.recovered).count()
}

fn difference(
    a: &[Followed],
    b: &[Followed],
    one: (f64, f64),
    other: (f64, f64),
    level: f64,
) -> Estimate {
    let fewest = a.len().min(b.len());
    if fewest < MIN_MEALS {
        let reason = Reason::count("too_few_meals", "meals in each group", fewest, MIN_MEALS);
        return Estimate::missing(level, METHOD, fewest, MIN_MEALS, reason);
    }
    let half = normal_quantile(0.5 + level / 2.0) * (one.1 + other.1).sqrt();
    let value = one.0 - other.0;
    Estimate::new(value, value - half, value + half, level, METHOD, a.len() + b.len())
        .needing(2 * MIN_MEALS)
}

/// Times at which someone recovered: (time, at risk, recovered).
fn steps(group: &[Followed]) -> Vec<(f64, usize, usize)> {
    let mut times: Vec<f64> = group.iter().filter(|f| f.recovered).map(|f| f.minutes).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let at = |t: f64| {
        let risk = group.iter().filter(|f| f.minutes >= t).count();
        let events = group.iter().filter(|f| f.recovered && f.minutes == t).count();
        (t, risk, events)
    };
    times.into_iter().map(at).collect()
}

/// The restricted mean and its variance.
fn restricted(group: &[Followed], until: f64) -> (f64, f64) {
    let steps: Vec<_> = steps(group).into_iter().filter(|s| s.0 < until).collect();
    let mut share = 1.0;
    let mut from = 0.0;
    let mut parts = Vec::with_capacity(steps.len() + 1);
    for &(t, risk, events) in &steps {
        parts.push(share * (t - from));
        share *= 1.0 - events as f64 / risk as f64;
        from = t;
    }
    parts.push(share * (until - from));
    let mut left = 0.0;
    let mut variance = 0.0;
    for (k, &(_, risk, events)) in steps.iter().enumerate().rev() {
        left += parts[k + 1];
        if risk > events {
            variance += left * left * events as f64 / (risk * (risk - events)) as f64;
        }
    }
    (parts.iter().sum(), variance)
}

/// Mantel's statistic and the recoveries expected in `a`.
fn log_rank(a: &[Followed], b: &[Followed]) -> (f64, f64) {
    let both: Vec<Followed> = a.iter().chain(b).copied().collect();
    let (mut observed, mut expected, mut variance) = (0.0, 0.0, 0.0);
    for (t, risk, events) in steps(&both) {
        let (n, d) = (risk as f64, events as f64);
        let in_a = a.iter().filter(|f| f.minutes >= t).count() as f64;
        observed += a.iter().filter(|f| f.recovered && f.minutes == t).count() as f64;
        expected += d * in_a / n;
        if risk > 1 {
            variance += d * (in_a / n) * (1.0 - in_a / n) * (n - d) / (n - 1.0);
        }
    }
    let off = observed - expected;
    (if variance > 0.0 { off * off / variance } else { 0.0 }, expected)
}

fn shuffled(a: &[Followed], b: &[Followed], seen: f64, shuffles: usize, seed: u64) -> f64 {
    let both: Vec<Followed> = a.iter().chain(b).copied().collect();
    let as_far = (0..shuffles as u64)
        .filter(|&k| {
            let mut mixed = both.clone();
            Random::keyed(seed, 0, k).permute(&mut mixed);
            let (first, second) = mixed.split_at(a.len());
            log_rank(first, second).0 >= seen - 1e-9
        })
        .count();
    (as_far + 1) as f64 / (shuffles + 1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(minutes: &[i32]) -> Vec<Followed> {
        let one = |m: &i32| Followed { minutes: f64::from(m.abs()), recovered: *m > 0 };
        minutes.iter().map(one).collect()
    }

    /// 2 of 4 by 10, the third censored at 20, the last at 30: S is 1, 1/2, then 0 at 30.
    /// Area to 30: 10 + 20 / 2 = 20. Greenwood: left area 10, 10² × 2 / (4 × 2) = 25.
    #[test]
    fn a_restricted_mean_by_hand() {
        assert_eq!(restricted(&group(&[10, 10, -20, 30]), 30.0), (20.0, 25.0));
    }

    /// Two and two: at 1 the first of a (risk 2 of 4), at 2 of b (1 of 3), at 3 of a (1 of 2), at
    /// 4 of b (0 of 1): expected 1/2 + 1/3 + 1/2, variance 1/4 + 2/9 + 1/4.
    #[test]
    fn a_log_rank_by_hand() {
        let (chi2, expected) = log_rank(&group(&[1, 3]), &group(&[2, 4]));
        assert!((expected - 4.0 / 3.0).abs() < 1e-12);
        assert!((chi2 - (4.0 / 9.0) / (13.0 / 18.0)).abs() < 1e-12);
    }

    #[test]
    fn groups_that_are_alike() {
        let g = group(&[30, 45, 60, -90, 75, -180]);
        let found = compare(&g, &g, 0.95, 199, 1).unwrap();
        assert_eq!((found.difference.value, found.log_rank_chi2), (Some(0.0), 0.0));
        assert!(found.p_value > 0.9);
        let few = compare(&g[..3], &g, 0.95, 199, 1).unwrap();
        assert_eq!(few.difference.reason.unwrap().code, "too_few_meals");
        assert!(compare(&[], &g, 0.95, 199, 1).is_err());
        assert!(
            compare(&g, &[Followed { minutes: f64::NAN, recovered: true }], 0.95, 199, 1).is_err()
        );
    }
}
