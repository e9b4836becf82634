//! The effect of an exposure on an outcome, by meals or by days, with an interval at any level.
//!
//! # Method
//! *By meals* (a walk after the meal): the exposure's coefficient in a linear model with the
//! columns to adjust for; t by HC3, judged by shuffled residuals (see
//! [`permuted_t`](crate::stats::permuted_t)). Where the exposure comes in clusters of days more
//! than chance would have it (10 %, by shuffling it), each day gets a level of its own, since
//! linked days would otherwise pass for an effect. *By days* (a poor night): the columns' slopes
//! are found within days, where nothing that lasts all day can reach them, and taken off; the
//! days' means are then compared beside a straight trend over the days, by permuting the exposure
//! among days in as many runs (see [`permutation`]), so that linked days don't matter. The
//! exposure must be no consequence of the outcome. Where the exposed days fall in few runs there
//! are few arrangements and p takes few values, so that the test errs less often than its level
//! allows (in two weeks with days linked and in runs, 2 to 3 % at 5 %); that is the price of
//! holding it without knowing how the days are linked.
//!
//! # Units
//! Those of the outcome. Days are whole numbers that rise with time.
//!
//! # Source
//! See [`crate::stats::permuted_t`] and [`permutation`]; the switch is our own.

use crate::error::{Error, require_all_finite, require_same_len};
use crate::estimate::Reason;
use crate::stats::partial::{Basis, Partial, partial};
use crate::stats::permutation::{self, Permuted};
use crate::stats::permuted_t::{PermutedT, permuted_t};
use crate::stats::random::Random;

use super::compare::MIN_EACH;

/// Days needed on each side.
pub const MIN_DAYS_EACH: usize = 2;
/// Arrangements of exposed days up to which all are looked at.
const MOST_ARRANGEMENTS: usize = 5000;
/// Shuffles of residuals, and of the exposure for whether it is clustered.
const SHUFFLES: usize = 999;
const CLUSTER_SHUFFLES: usize = 199;
const CLUSTERED_P: f64 = 0.10;
/// Residual degrees of freedom needed by meals.
const MIN_FREEDOM: usize = 4;

/// What an interval is made of.
#[derive(Clone, Debug, PartialEq)]
enum Judge {
    Shuffled(PermutedT),
    Arranged(Permuted),
}

/// An effect, and how its interval is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Effect {
    /// Outcome with the exposure less without it.
    pub value: f64,
    /// Standard error: HC3 by meals, of the model by days.
    pub se: f64,
    /// Its degrees of freedom.
    pub freedom: f64,
    /// Residual standard deviation, of meals or of days.
    pub residual_sd: f64,
    /// Meals or days used.
    pub n: usize,
    /// How many of them with the exposure.
    pub n_exposed: usize,
    /// Whether days got a level each, by meals.
    pub within_days: bool,
    judge: Judge,
}

impl Effect {
    /// Two-sided p value of no effect.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::contrast::by_meals;
    /// let y = [1.0, 2.0, 3.0, 4.0, 4.0, 3.0, 2.0, 1.0];
    /// let walked = [true, false, true, false, true, false, true, false];
    /// let e = by_meals(&y, &walked, &[], &[1, 1, 2, 2, 3, 3, 4, 4], 1)?.unwrap();
    /// assert!(e.value.abs() < 1e-12 && e.p_value() > 0.9);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn p_value(&self) -> f64 {
        match &self.judge {
            Judge::Shuffled(p) => p.p_value(),
            Judge::Arranged(p) => p.p_value(0.0),
        }
    }

    /// The interval at `level`; an end is open where too few arrangements exist for that level.
    pub fn interval(&self, level: f64) -> (Option<f64>, Option<f64>) {
        match &self.judge {
            Judge::Arranged(p) => p.interval(level),
            Judge::Shuffled(p) => {
                let half = p.half(level);
                (half.map(|h| self.value - h), half.map(|h| self.value + h))
            }
        }
    }

    /// The effect that such data would show at `level` with a power of 80 %: it must lie half the
    /// interval away from zero, and four times in five chance takes it no further back than half
    /// of the interval at 60 %. `None` where an end is open, so that no effect is.
    ///
    /// Source: Bloom (1995), from memory, with the test's own quantiles in place of Student's.
    pub fn smallest_visible(&self, level: f64) -> Option<f64> {
        let half = |level: f64| {
            let (low, high) = self.interval(level);
            Some((high? - low?) / 2.0)
        };
        Some(half(level)? + half(0.6)?)
    }

    /// In a few words.
    pub fn method(&self) -> &'static str {
        match (&self.judge, self.within_days) {
            (Judge::Arranged(_), _) => "means of days, permuted in runs, trend taken off",
            (_, true) => "within days, robust t, shuffled residuals",
            (_, false) => "least squares, robust t, shuffled residuals",
        }
    }
}

/// Whether an effect can be told, or why not.
pub type Told = Result<Effect, Reason>;

/// The effect of what differs from meal to meal: n rows, `adjust` of n each, and their days;
/// `seed` keys the shuffles.
///
/// # Errors
/// Lengths that differ, NaN.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::by_meals;
/// let y = [20.0, 31.0, 19.0, 33.0, 21.0, 29.0, 18.0, 30.0];
/// let walked = [true, false, true, false, true, false, true, false];
/// let e = by_meals(&y, &walked, &[], &[1, 1, 2, 2, 3, 3, 4, 4], 1)?.unwrap();
/// assert!((e.value + 11.25).abs() < 1e-12 && e.interval(0.9).1.unwrap() < 0.0);
/// // Three on a side are too few.
/// let few = by_meals(&y[..7], &walked[..7], &[], &[1; 7], 1)?;
/// assert_eq!(few.unwrap_err().had, Some(3.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn by_meals(
    outcome: &[f64],
    exposed: &[bool],
    adjust: &[Vec<f64>],
    day: &[i64],
    seed: u64,
) -> Result<Told, Error> {
    check(outcome, adjust, day)?;
    require_same_len("exposed", outcome.len(), exposed.len())?;
    let n = outcome.len();
    let with = exposed.iter().filter(|&&e| e).count();
    let fewest = with.min(n - with);
    if fewest < MIN_EACH {
        let reason = Reason::count("too_few_meals", "meals on each side", fewest, MIN_EACH);
        return Ok(Err(reason));
    }
    let x = numbers(exposed);
    let within_days = clustered(&x, day, seed);
    let mut columns = adjust.to_vec();
    if within_days {
        columns.extend(day_levels(day));
    }
    let basis = Basis::new(n, &columns)?;
    let Some(found) = permuted_t(outcome, &x, &basis, SHUFFLES, seed)? else {
        return Ok(Err(not_separable()));
    };
    let Partial { value, se_hc3: se, freedom, residual_sd, .. } = found.fit;
    if freedom < MIN_FREEDOM {
        let text = "meals beyond the columns adjusted for";
        return Ok(Err(Reason::count("too_few_meals", text, freedom, MIN_FREEDOM)));
    }
    let (freedom, judge) = (freedom as f64, Judge::Shuffled(found));
    Ok(Ok(Effect { value, se, freedom, residual_sd, n, n_exposed: with, within_days, judge }))
}

/// A column for each day but the first.
fn day_levels(day: &[i64]) -> Vec<Vec<f64>> {
    let mut names = day.to_vec();
    names.sort_unstable();
    names.dedup();
    let column = |name: &i64| day.iter().map(|d| f64::from(u8::from(d == name))).collect();
    names.iter().skip(1).map(column).collect()
}

/// Whether the exposed stand on fewer days than chance would have it.
fn clustered(x: &[f64], day: &[i64], seed: u64) -> bool {
    let mut names = day.to_vec();
    names.sort_unstable();
    names.dedup();
    let rows: Vec<Vec<usize>> =
        names.iter().map(|d| (0..day.len()).filter(|&i| day[i] == *d).collect()).collect();
    let gathered = |x: &[f64]| -> f64 {
        let of = |own: &Vec<usize>| {
            let sum: f64 = own.iter().map(|&i| x[i]).sum();
            sum * sum / own.len() as f64
        };
        rows.iter().map(of).sum()
    };
    let observed = gathered(x) - 1e-9;
    let mut random = Random::keyed(seed, 1, 0);
    let mut shuffled = x.to_vec();
    let as_much = (0..CLUSTER_SHUFFLES).filter(|_| {
        random.permute(&mut shuffled);
        gathered(&shuffled) >= observed
    });
    (as_much.count() + 1) as f64 / (CLUSTER_SHUFFLES + 1) as f64 <= CLUSTERED_P
}

fn not_separable() -> Reason {
    Reason::plain(
        "not_separable",
        "the exposure can't be told apart from the columns adjusted for, or stands on one day",
    )
}

fn check(outcome: &[f64], adjust: &[Vec<f64>], day: &[i64]) -> Result<(), Error> {
    require_all_finite("outcome", outcome)?;
    require_same_len("day", outcome.len(), day.len())?;
    for column in adjust {
        require_same_len("adjust", outcome.len(), column.len())?;
        require_all_finite("adjust", column)?;
    }
    Ok(())
}

fn numbers(exposed: &[bool]) -> Vec<f64> {
    exposed.iter().map(|&e| f64::from(u8::from(e))).collect()
}

/// The effect of what differs from day to day: n meals with their day, and `exposed` for days in
/// order (days that nobody knows of are left out); `seed` keys the draws, if there are any.
///
/// # Errors
/// Lengths that differ, NaN, days that don't rise.
///
/// # Example
/// ```
/// # use glycemic_core::contrast::by_days;
/// // One meal a day; after a poor night 10 more.
/// let poor = [false, true, false, false, true, false, false, true, false, true, false, false];
/// let days: Vec<i64> = (0..12).collect();
/// let y: Vec<f64> = poor.iter().map(|&p| if p { 40.0 } else { 30.0 }).collect();
/// let exposed: Vec<(i64, bool)> = days.iter().copied().zip(poor).collect();
/// let e = by_days(&y, &[], &days, &exposed, 1)?.unwrap();
/// assert!((e.value - 10.0).abs() < 1e-9);
/// // Four runs and five gaps: C(3, 3) × C(7, 4) = 35 arrangements, one of them this.
/// assert!((e.p_value() - 1.0 / 35.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn by_days(
    outcome: &[f64],
    adjust: &[Vec<f64>],
    day: &[i64],
    exposed: &[(i64, bool)],
    seed: u64,
) -> Result<Told, Error> {
    check(outcome, adjust, day)?;
    if let Some(at) = exposed.windows(2).position(|w| w[0].0 >= w[1].0) {
        return Err(Error::UnorderedTime { index: at + 1 });
    }
    let flags: Vec<bool> = exposed.iter().map(|e| e.1).collect();
    let left = within_days(outcome, adjust, day)?;
    // Days known, of which those with a meal are compared.
    let seen: Vec<(usize, f64)> = exposed
        .iter()
        .enumerate()
        .filter_map(|(at, (name, _))| {
            let own: Vec<f64> =
                (0..day.len()).filter(|&i| day[i] == *name).map(|i| left[i]).collect();
            crate::stats::moments::mean(&own).map(|m| (at, m))
        })
        .collect();
    let with = seen.iter().filter(|s| flags[s.0]).count();
    let fewest = with.min(seen.len() - with);
    if fewest < MIN_DAYS_EACH {
        let reason = Reason::count("too_few_days", "days on each side", fewest, MIN_DAYS_EACH);
        return Ok(Err(reason));
    }
    let means: Vec<f64> = seen.iter().map(|s| s.1).collect();
    let trend: Vec<f64> = seen.iter().map(|s| (exposed[s.0].0 - exposed[0].0) as f64).collect();
    let basis = Basis::new(means.len(), &[trend])?;
    let pick = |way: &Vec<bool>| seen.iter().map(|s| way[s.0]).collect::<Vec<bool>>();
    let ways: Vec<Vec<bool>> =
        permutation::same_runs(&flags, MOST_ARRANGEMENTS, seed).iter().map(pick).collect();
    let x = numbers(&ways[0]);
    let found = partial(&means, &x, &basis)?;
    let (Some(Partial { value, se, freedom, residual_sd, .. }), Some(permuted)) =
        (found, permutation::permuted(&means, &ways, &basis)?)
    else {
        return Ok(Err(not_separable()));
    };
    let (n, freedom) = (means.len(), freedom as f64);
    Ok(Ok(Effect {
        value,
        se,
        freedom,
        residual_sd,
        n,
        n_exposed: with,
        within_days: false,
        judge: Judge::Arranged(permuted),
    }))
}

/// The outcome with the columns' part taken off, their slopes found within days.
fn within_days(outcome: &[f64], adjust: &[Vec<f64>], day: &[i64]) -> Result<Vec<f64>, Error> {
    let centred = |v: &[f64]| -> Vec<f64> {
        (0..v.len())
            .map(|i| {
                let own = (0..v.len()).filter(|&j| day[j] == day[i]);
                let (sum, n) = own.fold((0.0, 0.0), |(s, n), j| (s + v[j], n + 1.0));
                v[i] - sum / n
            })
            .collect()
    };
    let columns: Vec<Vec<f64>> = adjust.iter().map(|c| centred(c)).collect();
    let y = centred(outcome);
    let mut left = outcome.to_vec();
    for (at, column) in columns.iter().enumerate() {
        let others: Vec<Vec<f64>> =
            columns.iter().enumerate().filter(|c| c.0 != at).map(|c| c.1.clone()).collect();
        let Some(found) = partial(&y, column, &Basis::new(y.len(), &others)?)? else { continue };
        let mean = crate::stats::moments::mean(&adjust[at]).unwrap_or(0.0);
        for (l, value) in left.iter_mut().zip(&adjust[at]) {
            *l -= found.value * (value - mean);
        }
    }
    Ok(left)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days differ by 5 each, grams by 0.5 mg/dL per g: both come off exactly.
    #[test]
    fn slopes_within_days_are_not_moved_by_days() {
        let (mut y, mut g, mut day) = (vec![], vec![], vec![]);
        for d in 0..8i64 {
            for grams in [10.0 + d as f64, 30.0 - d as f64, 50.0 + 3.0 * d as f64] {
                y.push(0.5 * grams + 5.0 * (d % 3) as f64);
                g.push(grams);
                day.push(d);
            }
        }
        let left = within_days(&y, &[g], &day).unwrap();
        for i in 0..left.len() {
            let other = (0..left.len()).find(|&j| day[j] % 3 == day[i] % 3).unwrap();
            assert!((left[i] - left[other]).abs() < 1e-9);
        }
    }

    /// One run in the middle of the days: ten places, so p can't fall under a tenth.
    #[test]
    fn one_run_of_days_can_hardly_be_told() {
        let days: Vec<i64> = (0..14).collect();
        let exposed: Vec<(i64, bool)> = days.iter().map(|&d| (d, (5..9).contains(&d))).collect();
        let y: Vec<f64> = exposed.iter().map(|e| if e.1 { 90.0 } else { 10.0 }).collect();
        let e = by_days(&y, &[], &days, &exposed, 1).unwrap().unwrap();
        assert!(e.p_value() >= 1.0 / 9.0 - 1e-9, "{}", e.p_value());
        assert_eq!(e.interval(0.95), (None, None));
        // From day 8 on for good: one arrangement only.
        let onward: Vec<(i64, bool)> = days.iter().map(|&d| (d, d >= 8)).collect();
        let e = by_days(&y, &[], &days, &onward, 1).unwrap().unwrap();
        assert_eq!(e.p_value(), 1.0);
    }

    #[test]
    fn reasons_and_errors() {
        let y = [1.0, 2.0, 3.0, 4.0];
        let r =
            by_days(&y, &[], &[1, 2, 3, 4], &[(1, true), (2, false), (3, false), (4, false)], 1);
        assert_eq!(r.unwrap().unwrap_err().code, "too_few_days");
        assert!(by_days(&y, &[], &[1, 2, 3, 4], &[(2, true), (1, false)], 1).is_err());
        assert!(by_meals(&[f64::NAN], &[true], &[], &[1], 1).is_err());
        // On two days of four, and on no other: nothing differs within days.
        let all = [true, true, true, true, false, false, false, false];
        let told = by_meals(&[1.0; 8], &all, &[], &[1, 1, 2, 2, 3, 3, 4, 4], 1).unwrap();
        assert_eq!(told.unwrap_err().code, "not_separable");
    }
}
