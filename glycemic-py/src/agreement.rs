//! Agreement of paired numbers.

use glycemic_core::Estimate;
use glycemic_core::agreement::{self, Share};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::agreement_words::pairs;
use crate::convert::codes;
use crate::error::{compute, guard};
use crate::estimate::PyEstimate;
use crate::record::record;
use crate::{
    agreement_grids, agreement_limits, agreement_lines, agreement_methods, agreement_standards,
    agreement_tables,
};

record! {
    /// What paired values say about a device. For education, coaching and research.
    PySummary as "Summary" {
        /// Pairs.
        n: usize,
        /// Independent clusters of pairs.
        clusters: usize,
        /// Mean absolute relative difference, percent of the reference.
        mard_pct: Option<f64>,
        /// Median absolute relative difference, percent of the reference.
        median_ard_pct: f64,
        /// Mean of measured - reference, mg/dL.
        bias_mg_dl: Option<f64>,
        /// Mean of measured - reference, percent of the reference.
        bias_pct: Option<f64>,
        /// Standard deviation of the differences, n-1, mg/dL; None for one pair.
        sd_mg_dl: Option<f64>,
        /// Standard error of the bias, clustered, mg/dL; None for few clusters.
        bias_se_mg_dl: Option<f64>,
        /// Estimates with their intervals: mard_pct, bias_mg_dl, bias_pct.
        intervals: Py<PyDict>,
    }
}

record! {
    /// Share of pairs within limits, with its interval. For education, coaching and research.
    PyShare as "Share" {
        /// Pairs within the limits.
        count: usize,
        /// Pairs.
        n: usize,
        /// Effective number of independent pairs; equals n without clusters.
        n_effective: f64,
        /// count / n, from 0 to 1.
        fraction: f64,
        /// Lower end of the interval.
        low: f64,
        /// Upper end of the interval.
        high: f64,
        /// Confidence level.
        level: f64,
        /// How the interval was made.
        method: String,
    }
}

record! {
    /// Limits of agreement. For education, coaching and research.
    PyBlandAltman as "BlandAltman" {
        /// Pairs.
        n: usize,
        /// Mean of measured - reference.
        bias: Option<f64>,
        /// Standard deviation of the differences.
        sd: f64,
        /// Lower limit of agreement.
        lower: Option<f64>,
        /// Upper limit of agreement.
        upper: Option<f64>,
        /// Estimates with their intervals: bias, lower, upper.
        intervals: Py<PyDict>,
    }
}

pub(crate) fn share(s: Share) -> PyShare {
    PyShare {
        count: s.count,
        n: s.n,
        n_effective: s.n_effective,
        fraction: s.fraction,
        low: s.low,
        high: s.high,
        level: s.level,
        method: s.method,
    }
}

fn estimates(py: Python<'_>, items: &[(&str, &Estimate)]) -> PyResult<Py<PyDict>> {
    let dict = PyDict::new(py);
    for (name, estimate) in items {
        dict.set_item(name, PyEstimate::from(Estimate::clone(estimate)).into_pyobject(py)?)?;
    }
    Ok(dict.unbind())
}

/// Relative difference and bias of paired glucose values.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL; n of at least 1, references positive.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together, such as the local day; without it pairs are taken as
///     independent.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// Summary
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, different lengths, NaN, or a reference that is not positive.
///
/// Notes
/// -----
/// Source: Reiterer et al., J Diabetes Sci Technol 2017; 11: 59-67. For education, coaching and
/// research; not a medical device.
///
/// Examples
/// --------
/// >>> s = gly.agreement.summary([100, 200], [110, 180])
/// >>> s.mard_pct, s.bias_mg_dl
/// (10.0, -5.0)
#[pyfunction]
#[pyo3(signature = (reference, measured, cluster=None, level=0.95))]
fn summary(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PySummary> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let cluster = codes(cluster)?;
        let s = compute(py, || agreement::summary(&r, &m, cluster.as_deref(), level))?;
        let named =
            [("mard_pct", &s.mard_pct), ("bias_mg_dl", &s.bias_mg_dl), ("bias_pct", &s.bias_pct)];
        Ok(PySummary {
            n: s.n,
            clusters: s.clusters,
            mard_pct: s.mard_pct.value,
            median_ard_pct: s.median_ard_pct,
            bias_mg_dl: s.bias_mg_dl.value,
            bias_pct: s.bias_pct.value,
            sd_mg_dl: s.sd_mg_dl,
            bias_se_mg_dl: s.bias_se_mg_dl,
            intervals: estimates(py, &named)?,
        })
    })
}

/// Share of pairs within a number of mg/dL below a switch point and a percentage from it on.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL.
/// mg_dl, pct : float
///     The limits, which count as within.
/// switch_mg_dl : float
///     Reference from which the percentage holds.
/// cluster, level
///     As for `summary`.
///
/// Returns
/// -------
/// Share
///     With an exact binomial interval, on an effective number of pairs when there are clusters.
///
/// Raises
/// ------
/// GlycemicError
///     As `summary`, and for negative limits.
///
/// Notes
/// -----
/// Source: ISO 15197:2013, 6.3.3, for 15 mg/dL, 15 % and 100 mg/dL; Clopper and Pearson,
/// Biometrika 1934; 26: 404-413. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> s = gly.agreement.within([60, 200], [75, 230])
/// >>> s.count, s.n, s.fraction
/// (2, 2, 1.0)
#[pyfunction]
#[pyo3(signature = (reference, measured, mg_dl=15.0, pct=15.0, switch_mg_dl=100.0, cluster=None, level=0.95))]
#[allow(clippy::too_many_arguments, reason = "the criterion has three numbers")]
fn within(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    mg_dl: f64,
    pct: f64,
    switch_mg_dl: f64,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyShare> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let cluster = codes(cluster)?;
        let found = compute(py, || {
            agreement::within(&r, &m, mg_dl, pct, switch_mg_dl, cluster.as_deref(), level)
        })?;
        Ok(share(found))
    })
}

/// Limits of agreement of paired values.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     At least two pairs, in any one unit.
/// subject : array_like, shape (n,), optional
///     Whose pair it is, when subjects have several.
/// level : float
///     Confidence level of the intervals; the limits themselves are bias -/+ 1.96 SD.
///
/// Returns
/// -------
/// BlandAltman
///
/// Raises
/// ------
/// GlycemicError
///     For fewer than two pairs or subjects, different lengths, or NaN.
///
/// Notes
/// -----
/// Source: Bland and Altman, Lancet 1986; i: 307-310; Stat Methods Med Res 1999; 8: 135-160. For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> b = gly.agreement.bland_altman([100, 100, 100], [99, 100, 101])
/// >>> b.bias, b.sd, b.upper
/// (0.0, 1.0, 1.96)
#[pyfunction]
#[pyo3(signature = (reference, measured, subject=None, level=0.95))]
fn bland_altman(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    subject: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyBlandAltman> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let subject = codes(subject)?;
        let b = compute(py, || agreement::bland_altman(&r, &m, subject.as_deref(), level))?;
        let named = [("bias", &b.bias), ("lower", &b.lower), ("upper", &b.upper)];
        Ok(PyBlandAltman {
            n: b.n,
            bias: b.bias.value,
            sd: b.sd,
            lower: b.lower.value,
            upper: b.upper.value,
            intervals: estimates(py, &named)?,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PySummary>()?;
    m.add_class::<PyShare>()?;
    m.add_class::<PyBlandAltman>()?;
    let room = PyModule::new(m.py(), "glycemic.agreement")?;
    room.setattr("__doc__", "Agreement of paired numbers: a device's against a reference's.")?;
    room.add_function(wrap_pyfunction!(summary, &room)?)?;
    room.add_function(wrap_pyfunction!(within, &room)?)?;
    room.add_function(wrap_pyfunction!(bland_altman, &room)?)?;
    crate::agreement_changes::register(m, &room)?;
    agreement_grids::register(m, &room)?;
    agreement_lines::register(m, &room)?;
    agreement_methods::register(m, &room)?;
    agreement_limits::register(m, &room)?;
    agreement_standards::register(&room)?;
    agreement_tables::register(&room)?;
    m.add("agreement", room)
}
