//! Limits of agreement with choices, and limits that follow the level.

use glycemic_core::agreement::limits::{Interval, Options, Scale, Truth};
use glycemic_core::agreement::{self, Trend};
use pyo3::prelude::*;

use crate::agreement_words::{choice, estimate, pairs};
use crate::convert::codes;
use crate::error::{compute, guard};
use crate::estimate::PyEstimate;
use crate::record::record;

record! {
    /// Limits of agreement. For education, coaching and research; not a medical device.
    PyLimits as "Limits" {
        /// Pairs.
        n: usize,
        /// Subjects, or pairs without subjects.
        subjects: usize,
        /// Bias on the scale, an Estimate.
        bias: Py<PyEstimate>,
        /// SD of the differences (of the logarithms, for ratios); total, with subjects.
        sd: f64,
        /// SD within subjects; None without subjects.
        sd_within: Option<f64>,
        /// Lower limit, an Estimate.
        lower: Py<PyEstimate>,
        /// Upper limit, an Estimate.
        upper: Py<PyEstimate>,
        /// (low, high) that the true pair of limits is hardly narrower than; None with subjects
        /// or a bootstrap.
        pair_inner: Option<(f64, f64)>,
        /// (low, high) that the true pair of limits is hardly wider than; None as before.
        pair_outer: Option<(f64, f64)>,
    }
}

record! {
    /// Differences against the level. For education, coaching and research; not a medical
    /// device.
    PyTrend as "Trend" {
        /// Pairs.
        n: usize,
        /// Difference at level 0, in the unit of the values.
        intercept: f64,
        /// Proportional bias: difference for each unit of level; an Estimate.
        slope: Py<PyEstimate>,
        /// Two-sided p value of no proportional bias.
        slope_p: Option<f64>,
        /// Mean size of a residual at level 0.
        spread_intercept: f64,
        /// Growth of that size for each unit of level; an Estimate.
        spread_slope: Py<PyEstimate>,
        /// Two-sided p value of an even spread.
        spread_slope_p: Option<f64>,
    }

    /// Bias, lower and upper limit at a level, or None where the fitted spread is negative.
    ///
    /// Parameters
    /// ----------
    /// level : float
    ///     Mean of the two methods, in their unit.
    /// z : float
    ///     SDs from the bias to a limit.
    ///
    /// Returns
    /// -------
    /// tuple of float, or None
    ///
    /// Notes
    /// -----
    /// Source: Bland and Altman, Stat Methods Med Res 1999; 8: 135-160 (from memory). For
    /// education, coaching and research; not a medical device.
    ///
    /// Examples
    /// --------
    /// >>> t = gly.agreement.trend([50, 100, 150, 200], [55, 110, 165, 220])
    /// >>> [round(v, 6) for v in t.at(105)]
    /// [10.0, 10.0, 10.0]
    #[pyo3(signature = (level, z=1.96))]
    fn at(&self, level: f64, z: f64) -> Option<(f64, f64, f64)> {
        let plain = Trend {
            n: self.n,
            intercept: self.intercept,
            slope: self.slope.get().inner.clone(),
            slope_p: self.slope_p,
            spread_intercept: self.spread_intercept,
            spread_slope: self.spread_slope.get().inner.clone(),
            spread_slope_p: self.spread_slope_p,
        };
        plain.at(level, z)
    }
}

/// Limits of agreement with a choice of scale and of interval.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     At least two pairs, in any one unit; positive for percent and ratio.
/// subject : array_like, shape (n,), optional
///     Whose pair it is, when subjects have several (repeated measures).
/// scale : {"difference", "percent_of_mean", "ratio"}
///     measured - reference, in percent of the mean of the two, or measured / reference.
/// truth : {"varies", "constant"}
///     Whether a subject's true value moves from pair to pair, or pairs are replicates.
/// interval : {"analytic", "bootstrap"}
///     Exact for independent pairs, variance estimates recovery with subjects; or percentiles of
///     resampled subjects.
/// z : float
///     SDs from the bias to a limit, 0.5-5.
/// level : float
///     Confidence level of the intervals.
/// resamples, seed : int
///     For the bootstrap: 200 to 100,000 resamples, and the key of their random streams.
///
/// Returns
/// -------
/// Limits
///     `bias`, `lower` and `upper` are Estimates.
///
/// Raises
/// ------
/// GlycemicError
///     For fewer than two pairs or subjects, different lengths, NaN, values that are not positive
///     for percent and ratio, or a choice out of range.
///
/// Notes
/// -----
/// Source: Bland and Altman, Stat Methods Med Res 1999; 8: 135-160; Carkeet, Optom Vis Sci 2015;
/// 92: e71-e80 (exact); Zou, Stat Methods Med Res 2013; 22: 630-642 (subjects). For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> found = gly.agreement.limits([100, 100, 100], [99, 100, 101])
/// >>> found.sd, found.upper.value, found.upper.high > 10
/// (1.0, 1.96, True)
#[pyfunction]
#[pyo3(signature = (reference, measured, subject=None, scale="difference", truth="varies",
                    interval="analytic", z=1.96, level=0.95, resamples=2000, seed=1))]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn limits(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    subject: Option<&Bound<'_, PyAny>>,
    scale: &str,
    truth: &str,
    interval: &str,
    z: f64,
    level: f64,
    resamples: usize,
    seed: u64,
) -> PyResult<PyLimits> {
    guard(|| {
        let scales = [
            ("difference", Scale::Difference),
            ("percent_of_mean", Scale::PercentOfMean),
            ("ratio", Scale::Ratio),
        ];
        let scale = choice("scale", scale, &scales, "difference, percent_of_mean, ratio")?;
        let truths = [("varies", Truth::Varies), ("constant", Truth::Constant)];
        let truth = choice("truth", truth, &truths, "varies, constant")?;
        let known = [
            ("analytic", Interval::Analytic),
            ("bootstrap", Interval::Bootstrap { resamples, seed }),
        ];
        let interval = choice("interval", interval, &known, "analytic, bootstrap")?;
        let (r, m) = pairs(reference, measured)?;
        let subject = codes(subject)?;
        let options = Options { subject: subject.as_deref(), scale, truth, interval, z, level };
        let found = compute(py, || agreement::limits(&r, &m, &options))?;
        Ok(PyLimits {
            n: found.n,
            subjects: found.subjects,
            bias: estimate(py, found.bias)?,
            sd: found.sd,
            sd_within: found.sd_within,
            lower: estimate(py, found.lower)?,
            upper: estimate(py, found.upper)?,
            pair_inner: found.pair_inner,
            pair_outer: found.pair_outer,
        })
    })
}

/// Whether differences depend on the level, and limits that follow it.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     At least four pairs, in any one unit.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together, such as the local day; without it pairs are taken as
///     independent.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// Trend
///     A slope also arises when the two methods have unequal errors: `deming` tells them apart.
///
/// Raises
/// ------
/// GlycemicError
///     For fewer than four pairs, different lengths, NaN, a level outside 0.5-0.999.
///
/// Notes
/// -----
/// Source: Bland and Altman, Stat Methods Med Res 1999; 8: 135-160 (from memory). For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.trend([50, 100, 150, 200], [55, 110, 165, 220])
/// >>> round(t.slope.value, 6)
/// 0.095238
#[pyfunction]
#[pyo3(signature = (reference, measured, cluster=None, level=0.95))]
fn trend(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTrend> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let cluster = codes(cluster)?;
        let found = compute(py, || agreement::trend(&r, &m, cluster.as_deref(), level))?;
        Ok(PyTrend {
            n: found.n,
            intercept: found.intercept,
            slope: estimate(py, found.slope)?,
            slope_p: found.slope_p,
            spread_intercept: found.spread_intercept,
            spread_slope: estimate(py, found.spread_slope)?,
            spread_slope_p: found.spread_slope_p,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyLimits>()?;
    m.add_class::<PyTrend>()?;
    room.add_function(wrap_pyfunction!(limits, room)?)?;
    room.add_function(wrap_pyfunction!(trend, room)?)
}
