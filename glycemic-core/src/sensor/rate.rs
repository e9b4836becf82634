//! How often something happens in a day, with days as the unit.
//!
//! # Method
//! Events over days seen. The interval is the exact one of a Poisson count; where days differ by
//! more than chance the count and the time are both divided by the dispersion (Pearson's
//! chi-square over its degrees of freedom, at least 1), so that events that come in bunches count
//! for less.
//!
//! # Source
//! Exact limits: Garwood F. Biometrika 1936; 28: 437-442. Dispersion: McCullagh and Nelder,
//! Generalized Linear Models (1989), from memory.

use crate::error::{Error, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::chi2_quantile;

/// Days under which no rate is told.
pub const MIN_DAYS: usize = 3;
/// A day of which less was seen does not count as a day.
const LEAST_DAY: f64 = 0.05;

/// Events a day. `counts`: events of each day; `seen`: how much of each day was seen, in days;
/// n items each.
///
/// # Errors
/// Different lengths, a part of a day that is negative or over 2, a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// use glycemic_core::sensor::rate::per_day;
/// // Nothing in ten days: the upper end solves exp(-10 x) = 0.025.
/// let e = per_day(&[0; 10], &[1.0; 10], 0.95)?;
/// assert_eq!((e.value, e.low), (Some(0.0), Some(0.0)));
/// assert!((e.high.unwrap() - 0.368_887_9).abs() < 1e-6);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn per_day(counts: &[usize], seen: &[f64], level: f64) -> Result<Estimate, Error> {
    require_same_len("seen", counts.len(), seen.len())?;
    require_within("level", level, 0.5, 0.999)?;
    for s in seen {
        require_within("seen", *s, 0.0, 2.0)?;
    }
    let method = "exact for a count, divided by the dispersion between days";
    let days = seen.iter().filter(|s| **s >= LEAST_DAY).count();
    let total: f64 = seen.iter().sum();
    if days < MIN_DAYS || total <= 0.0 {
        let reason = Reason::count("too_few_days", "days with readings", days, MIN_DAYS);
        return Ok(Estimate::missing(level, method, days, MIN_DAYS, reason));
    }
    let events = counts.iter().sum::<usize>() as f64;
    let rate = events / total;
    let dispersion = dispersion(counts, seen, rate);
    let (count, time) = (events / dispersion, total / dispersion);
    let tail = 0.5 * (1.0 - level);
    let low = if count > 0.0 { 0.5 * chi2_quantile(tail, 2.0 * count) / time } else { 0.0 };
    let high = 0.5 * chi2_quantile(1.0 - tail, 2.0 * count + 2.0) / time;
    Ok(Estimate::new(rate, low, high, level, method, days).needing(MIN_DAYS))
}

fn dispersion(counts: &[usize], seen: &[f64], rate: f64) -> f64 {
    if rate <= 0.0 {
        return 1.0;
    }
    let whole = counts.iter().zip(seen).filter(|d| *d.1 >= LEAST_DAY);
    let terms = whole.map(|(c, s)| {
        let expected = rate * s;
        (*c as f64 - expected) * (*c as f64 - expected) / expected
    });
    let (sum, n) = terms.fold((0.0, 0_usize), |a, t| (a.0 + t, a.1 + 1));
    (sum / (n.max(2) - 1) as f64).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::random::Random;

    /// Ten events: Garwood's limits 4.795 and 18.39 (95 %), as in his table.
    #[test]
    fn ten_events_are_garwood() {
        let e = per_day(&[2; 5], &[1.0; 5], 0.95).unwrap();
        assert!((e.low.unwrap() * 5.0 - 4.795).abs() < 1e-3, "{e:?}");
        assert!((e.high.unwrap() * 5.0 - 18.390).abs() < 1e-3, "{e:?}");
    }

    /// 20 events on two of ten days: dispersion (2 × 8²/2 + 8 × 2)/9 = 80/9, so as if 2.25 events.
    #[test]
    fn bunches_count_for_less() {
        let counts = [10, 10, 0, 0, 0, 0, 0, 0, 0, 0];
        assert!((dispersion(&counts, &[1.0; 10], 2.0) - 80.0 / 9.0).abs() < 1e-12);
        let bunched = per_day(&counts, &[1.0; 10], 0.95).unwrap();
        let spread = per_day(&[2; 10], &[1.0; 10], 0.95).unwrap();
        assert_eq!(bunched.value, spread.value);
        assert!(bunched.high > spread.high && bunched.low < spread.low);
    }

    #[test]
    fn two_days_are_too_few() {
        let e = per_day(&[1, 2], &[1.0, 1.0], 0.95).unwrap();
        assert_eq!(e.reason.map(|r| (r.had, r.needed)), Some((Some(2.0), Some(3.0))));
        assert!(per_day(&[1], &[f64::NAN], 0.95).is_err());
        assert!(per_day(&[1], &[], 0.95).is_err());
    }

    /// Poisson counts of 0.7 a day over 14 days: 90 % intervals hold the rate in at least 88 %
    /// (exact ones hold it more often; the dispersion may only widen them).
    #[test]
    fn holds_the_rate_of_poisson_days() {
        let mut held = 0;
        for seed in 0..1000 {
            let mut random = Random::keyed(seed, 0, 0);
            let counts: Vec<usize> = (0..14)
                .map(|_| {
                    let (mut left, mut n) = (random.uniform(), 0_usize);
                    let mut p = libm::exp(-0.7);
                    while left > p && n < 50 {
                        left -= p;
                        n += 1;
                        p *= 0.7 / n as f64;
                    }
                    n
                })
                .collect();
            held += usize::from(per_day(&counts, &[1.0; 14], 0.9).unwrap().covers(0.7));
        }
        assert!((880..=990).contains(&held), "{held}");
    }
}
