//! Tests that only shuffle what was observed, and the intervals that follow from them.
//!
//! # Method
//! *Signs*: under no effect each difference of a pair is as likely to have the other sign; all 2^n
//! patterns are counted up to n = 20, else draws. *Runs*: an exposure that comes day by day and
//! may last for several days is compared with all ways to place the same number of exposed days
//! in the same number of runs, with the same first and last day. If it is a chain in which only
//! the day before matters (Markov), these ways are equally likely whatever it depends on, so the
//! test holds however strongly the outcome is linked from day to day. *Interval*: the effects
//! that the test doesn't reject; for the correlation of what is left after projection on other
//! columns each arrangement rejects outside an interval with ends in closed form.
//!
//! # Source
//! Fisher RA. The design of experiments, 1935 (signs). Freedman D, Lane D. J Bus Econ Stat 1983;
//! 1: 292-298, from memory (other columns projected out first). Sampling given the counts of a
//! chain's transitions: Besag J, Mondal D. Biometrics 2013; 69: 488-496, from memory.

use super::partial::Basis;
use super::quantile;
use super::random::Random;
use crate::error::{Error, require_all_finite, require_same_len};

/// Pairs up to which every pattern of signs is counted.
const ALL_SIGNS: usize = 20;

/// P values of a sign test of the mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Signs {
    /// Patterns with a mean at least as far from 0, over all.
    pub two_sided: f64,
    /// Patterns with a mean at least as large, over all.
    pub greater: f64,
    /// Patterns counted or drawn.
    pub patterns: usize,
}

/// Compares the sum of `differences` with the sums under other signs: all of them up to 20,
/// else `draws` and the observed one.
///
/// # Errors
/// NaN, or no difference.
///
/// # Example
/// ```
/// # use glycemic_core::stats::permutation::signs;
/// // Of 8 patterns only one has a sum of 6 or more.
/// let p = signs(&[1.0, 2.0, 3.0], 0, 1)?;
/// assert_eq!((p.greater, p.two_sided), (0.125, 0.25));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn signs(differences: &[f64], draws: usize, seed: u64) -> Result<Signs, Error> {
    require_all_finite("differences", differences)?;
    let n = differences.len();
    if n == 0 {
        return Err(Error::TooFewValues { measure: "a test of signs", needed: 1, got: 0 });
    }
    let observed: f64 = differences.iter().sum();
    let slack = 1e-9 * differences.iter().map(|d| d.abs()).sum::<f64>();
    let sum = |minus: &dyn Fn(usize) -> bool| -> f64 {
        differences.iter().enumerate().map(|(i, d)| if minus(i) { -d } else { *d }).sum()
    };
    let (mut greater, mut far) = (0usize, 0usize);
    let mut count = |s: f64| {
        greater += usize::from(s >= observed - slack);
        far += usize::from(s.abs() >= observed.abs() - slack);
    };
    let patterns = if n <= ALL_SIGNS {
        for pattern in 0..1u64 << n {
            count(sum(&|i| pattern >> i & 1 == 1));
        }
        1 << n
    } else {
        count(observed);
        let mut random = Random::keyed(seed, 0, 0);
        for _ in 0..draws {
            let pattern: Vec<bool> = (0..n).map(|_| random.below(2) == 1).collect();
            count(sum(&|i| pattern[i]));
        }
        draws + 1
    };
    let share = |k: usize| k as f64 / patterns as f64;
    Ok(Signs { two_sided: share(far), greater: share(greater), patterns })
}

/// All ways to place the `true` of `exposed` in as many runs, with the same first and last item;
/// the observed one first. Where there are more than `most`, that many are drawn.
///
/// # Example
/// ```
/// # use glycemic_core::stats::permutation::same_runs;
/// // Two single exposed days inside five: they fit in one way only.
/// let days = [false, true, false, true, false];
/// assert_eq!(same_runs(&days, 1000, 1).len(), 1);
/// // Inside six the long gap may be the first, the second or the third.
/// let days = [false, true, false, true, false, false];
/// assert_eq!(same_runs(&days, 1000, 1).len(), 3);
/// ```
pub fn same_runs(exposed: &[bool], most: usize, seed: u64) -> Vec<Vec<bool>> {
    let runs: Vec<(bool, usize)> =
        exposed.chunk_by(|a, b| a == b).map(|run| (run[0], run.len())).collect();
    let lengths =
        |of: bool| -> Vec<usize> { runs.iter().filter(|r| r.0 == of).map(|r| r.1).collect() };
    let (on, off) = (lengths(true), lengths(false));
    let ways =
        |l: &[usize]| choose(l.iter().sum::<usize>().saturating_sub(1), l.len().saturating_sub(1));
    let laid = |on: &[usize], off: &[usize]| -> Vec<bool> {
        let (mut on, mut off) = (on.iter(), off.iter());
        runs.iter()
            .flat_map(|r| {
                let n = if r.0 { on.next() } else { off.next() };
                std::iter::repeat_n(r.0, n.copied().unwrap_or(0))
            })
            .collect()
    };
    let mut all = vec![exposed.to_vec()];
    if ways(&on) * ways(&off) <= most as f64 {
        let off_ways = splits(off.iter().sum(), off.len());
        for on_way in splits(on.iter().sum(), on.len()) {
            all.extend(off_ways.iter().map(|off_way| laid(&on_way, off_way)));
        }
        // The observed one came first; it is not counted twice.
        let mut first = true;
        all.retain(|way| way.as_slice() != exposed || std::mem::take(&mut first));
    } else {
        let mut random = Random::keyed(seed, 0, 0);
        for _ in 1..most {
            let on_way = split(on.iter().sum(), on.len(), &mut random);
            let off_way = split(off.iter().sum(), off.len(), &mut random);
            all.push(laid(&on_way, &off_way));
        }
    }
    all
}

fn choose(n: usize, k: usize) -> f64 {
    (0..k.min(n)).map(|i| (n - i) as f64 / (i + 1) as f64).product()
}

/// All ways to write `sum` as `parts` whole numbers from 1 on, in order.
fn splits(sum: usize, parts: usize) -> Vec<Vec<usize>> {
    match parts {
        0 => vec![Vec::new()],
        1 => vec![vec![sum]],
        _ => (1..=sum.saturating_sub(parts - 1))
            .flat_map(|first| {
                splits(sum - first, parts - 1).into_iter().map(move |mut rest| {
                    rest.insert(0, first);
                    rest
                })
            })
            .collect(),
    }
}

/// One of [`splits`], each equally likely: parts - 1 of the sum - 1 borders.
fn split(sum: usize, parts: usize, random: &mut Random) -> Vec<usize> {
    if parts == 0 {
        return Vec::new();
    }
    let mut borders: Vec<usize> = (1..sum).collect();
    random.permute(&mut borders);
    let mut cuts = borders[..parts - 1].to_vec();
    cuts.push(0);
    cuts.push(sum);
    cuts.sort_unstable();
    cuts.windows(2).map(|w| w[1] - w[0]).collect()
}

/// What a permutation of an exposure says of its effect.
#[derive(Clone, Debug, PartialEq)]
pub struct Permuted {
    /// The effect: coefficient of the exposure beside the other columns.
    pub value: f64,
    /// Lower ends of what each arrangement doesn't reject, sorted; -∞ for the observed one.
    lows: Vec<f64>,
    /// The upper ends, sorted.
    highs: Vec<f64>,
}

impl Permuted {
    /// Share of arrangements at least as far out as the observed one if the effect is `effect`.
    pub fn p_value(&self, effect: f64) -> f64 {
        let slack = 1e-9 * (1.0 + self.value.abs());
        let inside = if effect <= self.value {
            self.lows.iter().filter(|l| **l <= effect + slack).count()
        } else {
            self.highs.iter().filter(|h| **h >= effect - slack).count()
        };
        inside as f64 / self.lows.len() as f64
    }

    /// The effects with a p value above 1 - `level`; an end that no effect reaches is `None`.
    pub fn interval(&self, level: f64) -> (Option<f64>, Option<f64>) {
        // As many arrangements must stay outside as make the p value exceed 1 - level.
        let k = ((1.0 - level) * self.lows.len() as f64 + 1e-9).floor() as usize;
        let at = |v: f64| Some(v).filter(|v| v.is_finite());
        let low = self.lows.get(k).copied();
        let high = self.highs.len().checked_sub(k + 1).and_then(|i| self.highs.get(i)).copied();
        (low.and_then(at), high.and_then(at))
    }

    /// Number of arrangements.
    pub fn arrangements(&self) -> usize {
        self.lows.len()
    }
}

/// The effect of `arrangements[0]`, the observed exposure, on `y` beside the columns of `basis`,
/// judged by the other arrangements; `None` when the columns make up the exposure.
///
/// # Errors
/// Lengths that differ.
///
/// # Example
/// ```
/// # use glycemic_core::stats::{partial::Basis, permutation::permuted};
/// let ways = [vec![true, false, false, true], vec![true, true, false, false],
///             vec![false, false, true, true], vec![true, false, true, false],
///             vec![false, true, false, true], vec![false, true, true, false]];
/// let p = permuted(&[9.0, 1.0, 2.0, 8.0], &ways, &Basis::new(4, &[])?)?.unwrap();
/// assert!((p.value - 7.0).abs() < 1e-12);
/// // Only the observed arrangement and its mirror image differ by as much.
/// assert!((p.p_value(0.0) - 2.0 / 6.0).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn permuted(
    y: &[f64],
    arrangements: &[Vec<bool>],
    basis: &Basis,
) -> Result<Option<Permuted>, Error> {
    let ry = basis.residual(y);
    let Some(first) = arrangements.first() else { return Ok(None) };
    let Some((observed, scale)) = direction(first, basis, y.len())? else { return Ok(None) };
    let along = |x: &[f64], v: &[f64]| x.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
    // In units in which the observed exposure has length 1.
    let mine = along(&observed, &ry);
    let (mut lows, mut highs) = (Vec::new(), Vec::new());
    for exposed in arrangements {
        let Some((x, _)) = direction(exposed, basis, y.len())? else { continue };
        let (theirs, common) = (along(&x, &ry), along(&x, &observed));
        // |theirs - common b| >= |mine - b| holds between these two.
        let end = |numerator: f64, denominator: f64| {
            if denominator > 1e-9 { Some(numerator / denominator) } else { None }
        };
        let ends = [end(mine - theirs, 1.0 - common), end(mine + theirs, 1.0 + common)];
        let open = ends.iter().any(Option::is_none);
        let known: Vec<f64> = ends.iter().flatten().copied().collect();
        let low = known.iter().copied().fold(f64::INFINITY, f64::min);
        let high = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        lows.push(if open { f64::NEG_INFINITY } else { low / scale });
        highs.push(if open { f64::INFINITY } else { high / scale });
    }
    Ok(Some(Permuted {
        value: mine / scale,
        lows: quantile::sorted(&lows),
        highs: quantile::sorted(&highs),
    }))
}

/// What is left of an exposure after projection: its direction and its length.
fn direction(exposed: &[bool], basis: &Basis, n: usize) -> Result<Option<(Vec<f64>, f64)>, Error> {
    require_same_len("arrangements", n, exposed.len())?;
    let x: Vec<f64> = exposed.iter().map(|&e| f64::from(u8::from(e))).collect();
    let mut left = basis.residual(&x);
    let length = left.iter().map(|v| v * v).sum::<f64>().sqrt();
    left.iter_mut().for_each(|v| *v /= length);
    Ok((length > 1e-8).then_some((left, length)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_keep_their_number_and_are_counted() {
        // Three exposed days in two runs, ten others in three: 2 × C(9, 2) ways.
        let days = "0011000010000".chars().map(|c| c == '1').collect::<Vec<_>>();
        let ways = same_runs(&days, 10_000, 1);
        assert_eq!(ways.len(), 2 * 36);
        assert_eq!(ways[0], days);
        for way in &ways {
            assert_eq!(way.iter().filter(|e| **e).count(), 3);
            assert_eq!(way.chunk_by(|a, b| a == b).count(), 5);
        }
        let drawn = same_runs(&days, 50, 1);
        assert!(drawn.len() == 50 && drawn.iter().all(|w| ways.contains(w)));
    }

    /// The interval holds just the effects whose p value, computed anew, exceeds the level.
    #[test]
    fn the_interval_is_what_the_test_does_not_reject() {
        let y = [3.0, 1.0, 4.0, 1.5, 5.0, 9.0, 2.0, 6.0, 5.5, 3.5];
        let days = "0100110010".chars().map(|c| c == '1').collect::<Vec<_>>();
        let ways = same_runs(&days, 10_000, 1);
        let trend: Vec<f64> = (0..10).map(f64::from).collect();
        let basis = Basis::new(10, &[trend]).unwrap();
        let p = permuted(&y, &ways, &basis).unwrap().unwrap();
        let by_hand = |effect: f64| {
            let moved: Vec<f64> =
                y.iter().zip(&days).map(|(y, e)| if *e { y - effect } else { *y }).collect();
            let r = basis.residual(&moved);
            let far = |way: &Vec<bool>| {
                let x: Vec<f64> = way.iter().map(|&e| f64::from(u8::from(e))).collect();
                let x = basis.residual(&x);
                let length = x.iter().map(|v| v * v).sum::<f64>().sqrt();
                (x.iter().zip(&r).map(|(a, b)| a * b).sum::<f64>() / length).abs()
            };
            let mine = far(&days);
            ways.iter().filter(|w| far(w) >= mine - 1e-9).count() as f64 / ways.len() as f64
        };
        for effect in [-8.0, -3.0, -0.5, 0.0, 1.0, 2.5, 6.0] {
            assert!((p.p_value(effect) - by_hand(effect)).abs() < 1e-12, "{effect}");
        }
        let (low, high) = p.interval(0.8);
        let (low, high) = (low.unwrap(), high.unwrap());
        assert!(by_hand(low - 0.01) <= 0.2 && by_hand(low + 0.01) > 0.2);
        assert!(by_hand(high + 0.01) <= 0.2 && by_hand(high - 0.01) > 0.2);
        // Too few arrangements for such a level: open ends.
        assert_eq!(p.interval(0.999), (None, None));
    }

    #[test]
    fn drawn_signs_are_near_the_counted_ones() {
        let d: Vec<f64> = (0..24).map(|i| f64::from(i % 7) - 2.2).collect();
        let drawn = signs(&d, 20_000, 3).unwrap();
        // The sum is 17.2 - ...: compare with the normal approximation within a hundredth.
        let (sum, squares) = (d.iter().sum::<f64>(), d.iter().map(|d| d * d).sum::<f64>().sqrt());
        let z = crate::stats::distribution::normal_cdf(-sum.abs() / squares);
        assert!((drawn.two_sided - 2.0 * z).abs() < 0.02, "{drawn:?} {z}");
        assert!(signs(&[], 99, 1).is_err() && signs(&[f64::NAN], 99, 1).is_err());
    }
}
