//! Correlations of agreement, two sensors worn together, and what two stated errors promise.

use glycemic_core::agreement::{self, Stated};
use pyo3::prelude::*;

use crate::agreement_words::{estimate, matrix};
use crate::convert::{codes, floats};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::record::record;

record! {
    /// Concordance and its parts. For education, coaching and research; not a medical device.
    PyConcordance as "Concordance" {
        /// Pairs.
        n: usize,
        /// Concordance correlation from -1 to 1, an Estimate.
        concordance: Py<PyEstimate>,
        /// The same with moments divided by n - 1; None without spread.
        with_n_minus_1: Option<f64>,
        /// Pearson's correlation: scatter about the best line.
        correlation: Option<f64>,
        /// How far that line is from identity; 1 is on it.
        bias_correction: Option<f64>,
        /// SD of x over SD of y.
        scale_shift: Option<f64>,
        /// (mean x - mean y) / sqrt(SD x * SD y).
        location_shift: Option<f64>,
    }
}

record! {
    /// The six intraclass correlations. For education, coaching and research; not a medical
    /// device.
    PyIntraclass as "Intraclass" {
        /// Targets.
        targets: usize,
        /// Raters (methods, sensors) of each target.
        raters: usize,
        /// Mean square between targets.
        between: f64,
        /// Mean square within targets.
        within: f64,
        /// Mean square between raters.
        raters_square: f64,
        /// Residual mean square.
        residual: f64,
        /// One rating, raters differ from target to target; an Estimate, as all six.
        icc_1_1: Py<PyEstimate>,
        /// One rating, raters a sample, absolute agreement.
        icc_2_1: Py<PyEstimate>,
        /// One rating, these raters, consistency.
        icc_3_1: Py<PyEstimate>,
        /// Mean of all ratings, raters differ from target to target.
        icc_1_k: Py<PyEstimate>,
        /// Mean of all ratings, absolute agreement.
        icc_2_k: Py<PyEstimate>,
        /// Mean of all ratings, consistency.
        icc_3_k: Py<PyEstimate>,
    }
}

record! {
    /// How far two devices differ from each other. For education, coaching and research; not a
    /// medical device.
    PyPairedPrecision as "PairedPrecision" {
        /// Pairs.
        n: usize,
        /// Mean of 100 |a - b| over the mean of the two, percent; an Estimate.
        pard_pct: Py<PyEstimate>,
        /// Median of the same, percent.
        median_pct: f64,
        /// Pooled coefficient of variation, percent.
        pooled_cv_pct: f64,
        /// Mean of the pairs' coefficients of variation, percent.
        mean_cv_pct: f64,
        /// Mean of b - a in percent of the mean of the two; an Estimate.
        offset_pct: Py<PyEstimate>,
    }
}

record! {
    /// The difference of two devices at one moment, as a normal variable. For education, coaching
    /// and research; not a medical device.
    PyExpectedDifference as "ExpectedDifference" {
        /// SD of the first device's error; None, as all that follows, when it can't be told.
        sd_first: Option<f64>,
        /// SD of the second device's error.
        sd_second: Option<f64>,
        /// Mean of first less second.
        mean: Option<f64>,
        /// SD of first less second.
        sd: Option<f64>,
        /// Median size of the difference.
        median_size: Option<f64>,
        /// Size that 95 % of differences stay within.
        size_95: Option<f64>,
        /// Why it can't be told.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }

    /// Whether there is something to tell.
    #[getter]
    fn estimable(&self) -> bool {
        self.sd.is_some()
    }

    /// How often the two differ by a size or more, from 0 to 1; None when it can't be told.
    ///
    /// Parameters
    /// ----------
    /// size : float
    ///     In the unit of the stated errors, from 0 on.
    ///
    /// Returns
    /// -------
    /// float or None
    ///
    /// Raises
    /// ------
    /// GlycemicError
    ///     For a size that is negative or not finite.
    ///
    /// Notes
    /// -----
    /// Source: closed form of the normal distribution. For education, coaching and research; not
    /// a medical device.
    ///
    /// Examples
    /// --------
    /// >>> d = gly.agreement.expected_difference((15, 0.95), (15, 0.95))
    /// >>> round(d.share_at_least(15), 3)
    /// 0.166
    fn share_at_least(&self, size: f64) -> PyResult<Option<f64>> {
        guard(|| match (self.sd_first, self.sd_second, self.mean, self.sd) {
            (Some(first), Some(second), Some(mean), Some(sd)) => {
                let found = agreement::ExpectedDifference {
                    sds: (first, second),
                    mean,
                    sd,
                    median_size: self.median_size.unwrap_or_default(),
                    size_95: self.size_95.unwrap_or_default(),
                };
                found.share_at_least(size).map(Some).map_err(to_py)
            }
            _ => Ok(None),
        })
    }
}

/// Concordance correlation: how far pairs lie from the line of identity.
///
/// Parameters
/// ----------
/// x, y : array_like, shape (n,)
///     Values of the two methods in one unit; n of at least 3, pairs taken as independent.
/// level : float
///     Confidence level of the interval.
///
/// Returns
/// -------
/// Concordance
///     It grows with the range of the values, so it is no verdict on a device.
///
/// Raises
/// ------
/// GlycemicError
///     For fewer than three pairs, different lengths, NaN, a level outside 0.5-0.999.
///
/// Notes
/// -----
/// Source: Lin, Biometrics 1989; 45: 255-268; correction 2000; 56: 324-325. For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> c = gly.agreement.concordance([1, 2, 3], [2, 3, 4])
/// >>> round(c.concordance.value, 6), round(c.correlation, 6)
/// (0.571429, 1.0)
#[pyfunction]
#[pyo3(signature = (x, y, level=0.95))]
fn concordance(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    level: f64,
) -> PyResult<PyConcordance> {
    guard(|| {
        let (x, y) = (floats(x, "x")?, floats(y, "y")?);
        let found = compute(py, || agreement::concordance(&x, &y, level))?;
        Ok(PyConcordance {
            n: found.n,
            concordance: estimate(py, found.concordance)?,
            with_n_minus_1: found.with_n_minus_1,
            correlation: found.correlation,
            bias_correction: found.bias_correction,
            scale_shift: found.scale_shift,
            location_shift: found.location_shift,
        })
    })
}

/// Intraclass correlation: the six forms for targets that the same number of raters rated.
///
/// Parameters
/// ----------
/// ratings : array_like, shape (targets, raters)
///     A row for each target, a column for each rater (method, sensor), in one unit; at least
///     three targets and two raters.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// Intraclass
///     `icc_2_1` is absolute agreement of one rating, `icc_3_1` consistency; the forms with k are
///     for the mean of all raters.
///
/// Raises
/// ------
/// GlycemicError
///     For fewer raters or targets, another shape, or NaN; its index counts row after row.
///
/// Notes
/// -----
/// Source: Shrout and Fleiss, Psychol Bull 1979; 86: 420-428; McGraw and Wong, Psychol Methods
/// 1996; 1: 30-46 (interval of form 2). For education, coaching and research; not a medical
/// device.
///
/// Examples
/// --------
/// >>> i = gly.agreement.icc([[1, 2], [3, 4.1], [5, 6]])
/// >>> i.icc_3_1.value > 0.99, i.icc_2_1.value < 0.9
/// (True, True)
#[pyfunction]
#[pyo3(signature = (ratings, level=0.95))]
fn icc(py: Python<'_>, ratings: &Bound<'_, PyAny>, level: f64) -> PyResult<PyIntraclass> {
    guard(|| {
        let (ratings, raters) = matrix(ratings, "ratings")?;
        let found = compute(py, || agreement::icc(&ratings, raters, level))?;
        Ok(PyIntraclass {
            targets: found.targets,
            raters: found.raters,
            between: found.between,
            within: found.within,
            raters_square: found.raters_square,
            residual: found.residual,
            icc_1_1: estimate(py, found.icc_1_1)?,
            icc_2_1: estimate(py, found.icc_2_1)?,
            icc_3_1: estimate(py, found.icc_3_1)?,
            icc_1_k: estimate(py, found.icc_1_k)?,
            icc_2_k: estimate(py, found.icc_2_k)?,
            icc_3_k: estimate(py, found.icc_3_k)?,
        })
    })
}

/// How far two sensors worn together differ from each other; agreeing, both may be wrong.
///
/// Parameters
/// ----------
/// a, b : array_like, shape (n,)
///     Positive values at the same times in one unit; n of at least 1.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together, such as the local day; without it pairs are taken as
///     independent.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// PairedPrecision
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, different lengths, NaN, values that are not positive, a level outside
///     0.5-0.999.
///
/// Notes
/// -----
/// Source: Obermaier et al., J Diabetes Sci Technol 2013; 7: 824-832 (formula from memory). For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> p = gly.agreement.paired_precision([90, 110], [110, 90])
/// >>> p.pard_pct.value, p.offset_pct.value
/// (20.0, 0.0)
#[pyfunction]
#[pyo3(signature = (a, b, cluster=None, level=0.95))]
fn paired_precision(
    py: Python<'_>,
    a: &Bound<'_, PyAny>,
    b: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyPairedPrecision> {
    guard(|| {
        let (a, b, cluster) = (floats(a, "a")?, floats(b, "b")?, codes(cluster)?);
        let found = compute(py, || agreement::paired_precision(&a, &b, cluster.as_deref(), level))?;
        Ok(PyPairedPrecision {
            n: found.n,
            pard_pct: estimate(py, found.pard_pct)?,
            median_pct: found.median_pct,
            pooled_cv_pct: found.pooled_cv_pct,
            mean_cv_pct: found.mean_cv_pct,
            offset_pct: estimate(py, found.offset_pct)?,
        })
    })
}

/// How far two devices that each meet their stated error would differ at one moment.
///
/// Parameters
/// ----------
/// first, second : tuple of float
///     Stated errors (within, share) or (within, share, bias): that share of readings, from 0 to
///     1, lies within so much of the truth. Any one unit: mg/dL, or percent.
/// correlation : float
///     Correlation of the two errors, 0 unless they share a cause.
///
/// Returns
/// -------
/// ExpectedDifference
///     Not estimable with a bias as large as the width. Errors are taken as normal, without
///     lag: real differences are larger when glucose moves.
///
/// Raises
/// ------
/// GlycemicError
///     For a width that is not positive, a share outside 0.01-0.9999, a correlation outside
///     -0.99-0.99.
///
/// Notes
/// -----
/// Source: closed form; normal model of a meter's relative error: Boyd and Bruns, Clin Chem
/// 2001; 47: 209-214. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> d = gly.agreement.expected_difference((19.6, 0.95), (19.6, 0.95))
/// >>> round(d.sd, 2), round(d.size_95, 1)
/// (14.14, 27.7)
#[pyfunction]
#[pyo3(signature = (first, second, correlation=0.0))]
fn expected_difference(
    first: &Bound<'_, PyAny>,
    second: &Bound<'_, PyAny>,
    correlation: f64,
) -> PyResult<PyExpectedDifference> {
    guard(|| {
        let (first, second) = (stated(first, "first")?, stated(second, "second")?);
        let found = agreement::expected_difference(first, second, correlation).map_err(to_py)?;
        let (found, reason) = match found {
            Ok(found) => (Some(found), None),
            Err(reason) => (None, Some(reason)),
        };
        let found = found.as_ref();
        Ok(PyExpectedDifference {
            sd_first: found.map(|d| d.sds.0),
            sd_second: found.map(|d| d.sds.1),
            mean: found.map(|d| d.mean),
            sd: found.map(|d| d.sd),
            median_size: found.map(|d| d.median_size),
            size_95: found.map(|d| d.size_95),
            reason: reason.as_ref().map(|r| r.text.clone()),
            reason_code: reason.map(|r| r.code),
        })
    })
}

fn stated(values: &Bound<'_, PyAny>, argument: &str) -> PyResult<Stated> {
    match floats(values, argument)?.as_slice() {
        &[within, share] => Ok(Stated { within, share, bias: 0.0 }),
        &[within, share, bias] => Ok(Stated { within, share, bias }),
        other => {
            let n = other.len();
            let message = format!("{argument} must be (within, share) or with a bias, got {n}");
            Err(raise(&message, "shape", argument, None))
        }
    }
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyConcordance>()?;
    m.add_class::<PyIntraclass>()?;
    m.add_class::<PyPairedPrecision>()?;
    m.add_class::<PyExpectedDifference>()?;
    room.add_function(wrap_pyfunction!(concordance, room)?)?;
    room.add_function(wrap_pyfunction!(icc, room)?)?;
    room.add_function(wrap_pyfunction!(paired_precision, room)?)?;
    room.add_function(wrap_pyfunction!(expected_difference, room)?)
}
