//! Limits of agreement with a choice of scale and of interval.
//!
//! # Method
//! As [`bland_altman`](super::bland_altman()), and: exact intervals for independent pairs, from
//! the noncentral t for each limit and from tolerance factors for both together; variance
//! estimates recovery with subjects; or a bootstrap of whole subjects (pairs, without
//! subjects), percentile interval. Differences are taken as they are, in percent of the mean of
//! the two, or as ratios (logarithms, taken back by the exponential).
//!
//! With several pairs of a subject the true value either varies from pair to pair (sensor
//! against meter: the default) or is constant in a subject (replicates): then the variance is
//! that of the subjects' mean differences with what averaging took away put back.
//!
//! # Source
//! Bland and Altman, Stat Methods Med Res 1999; 8: 135-160. Carkeet A, Optom Vis Sci 2015; 92:
//! e71-e80 (exact). Zou GY, Stat Methods Med Res 2013; 22: 630-642 (subjects).

use std::collections::BTreeMap;

use super::bland_altman::components;
use super::mover::{self, Piece};
use super::summary::mean_estimate;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{normal_cdf, t_two_sided};
use crate::stats::random::Random;
use crate::stats::tolerance_factor::{pair_of_limits, single_limit};
use crate::stats::{moments, quantile, resample};

/// Fewest subjects (or pairs) for a bootstrap: fewer have too few different resamples.
const MIN_BOOTSTRAP: usize = 5;

/// How a difference is expressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Scale {
    /// measured - reference, in their unit.
    #[default]
    Difference,
    /// 100 (measured - reference) / mean of the two, %.
    PercentOfMean,
    /// measured / reference, 1 for no bias.
    Ratio,
}

/// How the intervals of the limits are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Interval {
    /// Exact for independent pairs, variance estimates recovery with subjects.
    #[default]
    Analytic,
    /// Percentiles of so many resamples of whole subjects, from a seed.
    Bootstrap {
        /// Resamples, 200 to 100,000.
        resamples: usize,
        /// Seed of the random streams.
        seed: u64,
    },
}

/// What happens to the true value between pairs of one subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Truth {
    /// It moves from pair to pair; the two of a pair belong together.
    #[default]
    Varies,
    /// It stays; pairs of a subject are replicates.
    Constant,
}

/// Choices for [`limits`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options<'a> {
    /// Whose pair it is, when subjects have several.
    pub subject: Option<&'a [i64]>,
    /// How a difference is expressed.
    pub scale: Scale,
    /// What happens to the true value between pairs of a subject.
    pub truth: Truth,
    /// How the intervals are made.
    pub interval: Interval,
    /// SDs from the bias to a limit: 1.96, or 2 as in the paper of 1986.
    pub z: f64,
    /// Confidence level of the intervals.
    pub level: f64,
}

impl Default for Options<'_> {
    fn default() -> Self {
        let (scale, truth, interval) = Default::default();
        Options { subject: None, scale, truth, interval, z: 1.96, level: 0.95 }
    }
}

/// Limits of agreement.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// Pairs.
    pub n: usize,
    /// Subjects, or pairs without subjects.
    pub subjects: usize,
    /// Bias on the scale.
    pub bias: Estimate,
    /// SD of the differences (of the logarithms, for ratios); total, with subjects.
    pub sd: f64,
    /// SD within subjects; `None` without subjects.
    pub sd_within: Option<f64>,
    /// Lower limit.
    pub lower: Estimate,
    /// Upper limit.
    pub upper: Estimate,
    /// Limits that together hold the central share 2 Φ(z) - 1 with confidence (1 - level) / 2 only:
    /// the true pair is hardly narrower. `None` with subjects or a bootstrap.
    pub pair_inner: Option<(f64, f64)>,
    /// The same with confidence (1 + level) / 2: the true pair is hardly wider.
    pub pair_outer: Option<(f64, f64)>,
}

/// Limits of agreement of n >= 2 pairs.
///
/// # Errors
/// Fewer than two pairs or subjects (three values of a bias are needed for its interval with
/// subjects), different lengths, NaN, values that are not positive for percent and ratio, z
/// outside 0.5-5, a level outside 0.5-0.999, resamples outside 200 to 100,000.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::limits::{Options, limits};
/// let l = limits(&[100.0, 100.0, 100.0], &[99.0, 100.0, 101.0], &Options::default())?;
/// assert_eq!((l.sd, l.upper.value), (1.0, Some(1.96)));
/// // Three pairs say little: the upper limit may be eleven.
/// assert!(l.upper.high.unwrap() > 10.0);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn limits(reference: &[f64], measured: &[f64], options: &Options<'_>) -> Result<Limits, Error> {
    let d = differences(reference, measured, options.scale)?;
    require_within("z", options.z, 0.5, 5.0)?;
    require_within("level", options.level, 0.5, 0.999)?;
    if let Some(subject) = options.subject {
        require_same_len("subject", d.len(), subject.len())?;
    }
    if d.len() < 2 {
        return Err(Error::TooFewValues {
            measure: "limits of agreement",
            needed: 2,
            got: d.len(),
        });
    }
    let mut found = match (options.subject, options.truth) {
        (None, _) => independent(&d, options),
        (Some(subject), Truth::Varies) => varying(&d, subject, options)?,
        (Some(subject), Truth::Constant) => {
            constant(&on_scale(reference, options.scale), &d, subject, options)?
        }
    };
    if let Interval::Bootstrap { resamples, seed } = options.interval {
        require_within("resamples", resamples as f64, 200.0, 100_000.0)?;
        bootstrap(&mut found, reference, measured, options, resamples, seed);
    }
    if options.scale == Scale::Ratio {
        found.exponentiate();
    }
    Ok(found)
}

impl Limits {
    fn exponentiate(&mut self) {
        let pair = |p: Option<(f64, f64)>| p.map(|(a, b)| (libm::exp(a), libm::exp(b)));
        (self.pair_inner, self.pair_outer) = (pair(self.pair_inner), pair(self.pair_outer));
        for e in [&mut self.bias, &mut self.lower, &mut self.upper] {
            e.value = e.value.map(libm::exp);
            (e.low, e.high) = (e.low.map(libm::exp), e.high.map(libm::exp));
        }
    }
}

/// Values as they enter a difference: for replicates, where each method has its own variance.
fn on_scale(values: &[f64], scale: Scale) -> Vec<f64> {
    match scale {
        Scale::Ratio => values.iter().map(|v| libm::log(*v)).collect(),
        _ => values.to_vec(),
    }
}

fn differences(reference: &[f64], measured: &[f64], scale: Scale) -> Result<Vec<f64>, Error> {
    require_same_len("measured", reference.len(), measured.len())?;
    for (name, values) in [("reference", reference), ("measured", measured)] {
        require_all_finite(name, values)?;
        let bad = values.iter().position(|&v| scale != Scale::Difference && v <= 0.0);
        if let Some(index) = bad {
            let (value, low, high) = (values[index], f64::MIN_POSITIVE, f64::MAX);
            return Err(Error::OutOfRange { name, index: Some(index), value, low, high });
        }
    }
    let pairs = reference.iter().zip(measured);
    Ok(match scale {
        Scale::Difference => pairs.map(|(r, m)| m - r).collect(),
        Scale::PercentOfMean => pairs.map(|(r, m)| 100.0 * (m - r) / (0.5 * (m + r))).collect(),
        Scale::Ratio => pairs.map(|(r, m)| libm::log(m / r)).collect(),
    })
}

fn independent(d: &[f64], options: &Options<'_>) -> Limits {
    let (n, z, level) = (d.len(), options.z, options.level);
    let mean = moments::mean(d).unwrap_or(f64::NAN);
    let sd = moments::sd(d).unwrap_or(f64::NAN);
    let size = n as f64;
    let half = t_two_sided(level, size - 1.0) * sd / size.sqrt();
    let (tail, head) = (0.5 * (1.0 - level), 0.5 * (1.0 + level));
    let (near, far) = (single_limit(n, z, tail), single_limit(n, z, head));
    const EXACT: &str = "exact, noncentral t";
    let content = 2.0 * normal_cdf(z) - 1.0;
    let pair = |confidence: f64| {
        let k = pair_of_limits(n, content, confidence);
        Some((mean - k * sd, mean + k * sd))
    };
    let estimate = |value, low, high, method| Estimate::new(value, low, high, level, method, n);
    Limits {
        n,
        subjects: n,
        bias: estimate(mean, mean - half, mean + half, "mean, Student's t"),
        sd,
        sd_within: None,
        lower: estimate(mean - z * sd, mean - far * sd, mean - near * sd, EXACT),
        upper: estimate(mean + z * sd, mean + near * sd, mean + far * sd, EXACT),
        pair_inner: pair(tail),
        pair_outer: pair(head),
    }
}

fn varying(d: &[f64], subject: &[i64], options: &Options<'_>) -> Result<Limits, Error> {
    let parts = components(d, subject)?;
    let bias = mean_estimate(d, subject, options.level).0;
    let [lower, upper] =
        mover::limits(&bias, parts.variance, &parts.pieces(), options.z, options.level);
    Ok(Limits {
        n: d.len(),
        subjects: parts.subjects,
        bias,
        sd: parts.variance.sqrt(),
        sd_within: Some(parts.ms_within.sqrt()),
        lower,
        upper,
        pair_inner: None,
        pair_outer: None,
    })
}

/// Replicates: the true value of a subject is one.
fn constant(x: &[f64], d: &[f64], subject: &[i64], options: &Options<'_>) -> Result<Limits, Error> {
    let y: Vec<f64> = x.iter().zip(d).map(|(x, d)| x + d).collect();
    let mut groups: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for (i, s) in subject.iter().enumerate() {
        groups.entry(*s).or_default().push(i);
    }
    let (n, k) = (d.len() as f64, groups.len() as f64);
    if groups.len() < 2 || d.len() <= groups.len() {
        let measure = "limits of agreement with replicates";
        return Err(Error::TooFewValues { measure, needed: 2, got: groups.len() });
    }
    let mean = |v: &[f64], of: &[usize]| of.iter().map(|&i| v[i]).sum::<f64>() / of.len() as f64;
    let within = |v: &[f64]| {
        let squares = |of: &Vec<usize>| {
            let own = mean(v, of);
            of.iter().map(|&i| (v[i] - own) * (v[i] - own)).sum::<f64>()
        };
        groups.values().map(squares).sum::<f64>() / (n - k)
    };
    let means: Vec<f64> = groups.values().map(|of| mean(d, of)).collect();
    let lost = 1.0 - groups.values().map(|of| 1.0 / of.len() as f64).sum::<f64>() / k;
    let (wx, wy) = (within(x), within(&y));
    let pieces = [
        Piece { value: moments::variance(&means).unwrap_or(f64::NAN), df: k - 1.0 },
        Piece { value: lost * wx, df: n - k },
        Piece { value: lost * wy, df: n - k },
    ];
    let each: Vec<i64> = (0..groups.len() as i64).collect();
    let bias = mean_estimate(&means, &each, options.level).0;
    let total: f64 = pieces.iter().map(|p| p.value).sum();
    let [lower, upper] = mover::limits(&bias, total, &pieces, options.z, options.level);
    Ok(Limits {
        n: d.len(),
        subjects: groups.len(),
        bias,
        sd: total.sqrt(),
        sd_within: Some((wx + wy).sqrt()),
        lower,
        upper,
        pair_inner: None,
        pair_outer: None,
    })
}

/// Puts percentile intervals in the place of the analytic ones, on the scale of differences.
fn bootstrap(
    found: &mut Limits,
    reference: &[f64],
    measured: &[f64],
    options: &Options<'_>,
    resamples: usize,
    seed: u64,
) {
    let each: Vec<i64> = (0..reference.len() as i64).collect();
    let mut groups: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for (i, s) in options.subject.unwrap_or(&each).iter().enumerate() {
        groups.entry(*s).or_default().push(i);
    }
    let groups: Vec<Vec<usize>> = groups.into_values().collect();
    let (k, level) = (groups.len(), options.level);
    let method = if options.subject.is_some() {
        "bootstrap of subjects, percentiles"
    } else {
        "bootstrap of pairs, percentiles"
    };
    let ends = [&mut found.bias, &mut found.lower, &mut found.upper];
    (found.pair_inner, found.pair_outer) = (None, None);
    if k < MIN_BOOTSTRAP {
        let reason = Reason::count("too_few_clusters", "subjects", k, MIN_BOOTSTRAP);
        for e in ends {
            *e = Estimate {
                value: e.value,
                ..Estimate::missing(level, method, k, MIN_BOOTSTRAP, reason.clone())
            };
        }
        return;
    }
    let plain = Options { interval: Interval::Analytic, ..*options };
    let one = |resample: u64| -> Option<[f64; 3]> {
        let drawn = Random::keyed(seed, 0, resample).resample_indices(k);
        let (mut r, mut m, mut s) = (Vec::new(), Vec::new(), Vec::new());
        for (place, &group) in drawn.iter().enumerate() {
            for &i in &groups[group] {
                r.push(reference[i]);
                m.push(measured[i]);
                s.push(place as i64);
            }
        }
        point(&r, &m, &s, &plain)
    };
    let drawn: Vec<[f64; 3]> = resample::each(resamples, one).into_iter().flatten().collect();
    let (tail, head) = (0.5 * (1.0 - level), 0.5 * (1.0 + level));
    for (at, e) in ends.into_iter().enumerate() {
        let sorted = quantile::sorted(&drawn.iter().map(|v| v[at]).collect::<Vec<_>>());
        *e = Estimate {
            low: quantile::type7(&sorted, tail),
            high: quantile::type7(&sorted, head),
            method: method.to_string(),
            reason: None,
            ..e.clone()
        };
    }
}

/// Bias and limits of one resample, without intervals.
fn point(r: &[f64], m: &[f64], s: &[i64], options: &Options<'_>) -> Option<[f64; 3]> {
    let d = differences(r, m, options.scale).ok()?;
    let (mean, sd) = match (options.subject, options.truth) {
        (None, _) => (moments::mean(&d)?, moments::sd(&d)?),
        (Some(_), Truth::Varies) => (moments::mean(&d)?, components(&d, s).ok()?.variance.sqrt()),
        (Some(_), Truth::Constant) => {
            let found = constant(&on_scale(r, options.scale), &d, s, options).ok()?;
            (found.bias.value?, found.sd)
        }
    };
    Some([mean, mean - options.z * sd, mean + options.z * sd])
}

#[cfg(test)]
#[path = "limits_tests.rs"]
mod tests;
