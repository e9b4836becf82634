//! Published numerical criteria, a row each.

use glycemic_core::Error;
use glycemic_core::agreement::standards::{self, Rates, Row};
use glycemic_core::agreement::standards_table::to_table;
use pyo3::prelude::*;

use crate::agreement_words::{choice, pairs};
use crate::convert::{codes, floats};
use crate::error::{compute, guard, raise, to_py};
use crate::table::PyTable;

type Judge = fn(&[f64], &[f64], Option<&[i64]>, f64) -> Result<Vec<Row>, Error>;

fn judged(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
    judge: Judge,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let cluster = codes(cluster)?;
        let found = compute(py, || to_table(&judge(&r, &m, cluster.as_deref(), level)?))?;
        Ok(PyTable::new(found, true))
    })
}

/// The numerical limits of ISO 15197, a row for each criterion.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL; n of at least 1, references positive.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together, such as the person or the local day; without it pairs are
///     taken as independent.
/// level : float
///     Confidence level of the observed share's interval.
/// edition : {2013, 2003}
///     Year: 15 mg/dL below 100 mg/dL and 15 % from it on (and 99 % in zones A and B of the
///     consensus error grid), or 15 mg/dL below 75 mg/dL and 20 % from it on.
///
/// Returns
/// -------
/// Table
///     Columns `standard`, `item`, `rule`, `kind`, `count`, `n`, `n_effective`, `percent`,
///     `percent_low`, `percent_high`, `bound_pct`, `limit_pct`, `verdict`
///     (numerical_limits_met, numerical_limits_not_met or too_few), `pairs_more` (missing when
///     no number of pairs would do), `source`, `status`, `note`. A verdict speaks of the numbers
///     only; what a standard asks of a study's design is told by `checklist`.
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, different lengths, NaN, a reference that is not positive, a level outside
///     0.5-0.999, another edition.
///
/// Notes
/// -----
/// Source: ISO 15197:2013, 6.3.3, and ISO 15197:2003; each row says what of it is from memory.
/// For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.iso15197([100] * 200, [115] * 200)
/// >>> t["verdict"].tolist(), t["pairs_more"].tolist()
/// (['numerical_limits_met', 'too_few'], [0, 400])
/// >>> gly.agreement.iso15197([60, 100], [76, 120], edition=2003)["count"].tolist()
/// [1]
#[pyfunction]
#[pyo3(signature = (reference, measured, cluster=None, level=0.95, edition=2013))]
fn iso15197(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
    edition: i64,
) -> PyResult<PyTable> {
    let editions: [(&str, Judge); 2] =
        [("2013", standards::iso15197_2013), ("2003", standards::iso15197_2003)];
    let judge = choice("edition", &edition.to_string(), &editions, "2013, 2003")?;
    judged(py, reference, measured, cluster, level, judge)
}

/// The numerical limits of the FDA guidance for over-the-counter self-monitoring meters.
///
/// Parameters
/// ----------
/// reference, measured, cluster, level
///     As for `iso15197`.
///
/// Returns
/// -------
/// Table
///     As for `iso15197`.
///
/// Raises
/// ------
/// GlycemicError
///     As for `iso15197`.
///
/// Notes
/// -----
/// Source: FDA guidance for self-monitoring meters, 2016, re-issued 2020; each row says what of
/// it is from memory. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> gly.agreement.fda_self_monitoring([100], [115])["count"].tolist()
/// [1, 1]
#[pyfunction]
#[pyo3(signature = (reference, measured, cluster=None, level=0.95))]
fn fda_self_monitoring(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTable> {
    judged(py, reference, measured, cluster, level, standards::fda_self_monitoring)
}

/// The numerical limits of the FDA guidance for prescription point-of-care meters.
///
/// Parameters
/// ----------
/// reference, measured, cluster, level
///     As for `iso15197`.
///
/// Returns
/// -------
/// Table
///     As for `iso15197`.
///
/// Raises
/// ------
/// GlycemicError
///     As for `iso15197`.
///
/// Notes
/// -----
/// Source: FDA guidance for point-of-care meters, 2016, re-issued 2020; each row says what of it
/// is from memory. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> gly.agreement.fda_point_of_care([100], [110])["count"].tolist()
/// [1, 1]
#[pyfunction]
#[pyo3(signature = (reference, measured, cluster=None, level=0.95))]
fn fda_point_of_care(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTable> {
    judged(py, reference, measured, cluster, level, standards::fda_point_of_care)
}

/// The special controls for integrated continuous glucose monitors, a row for each criterion.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL; strata are by the device's value.
/// reference_rate, measured_rate : array_like, shape (n,), optional
///     Rates of change beside the pairs, mg/dL/min; both or none. With them the rows have items
///     J and K too.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together; without it pairs are taken as independent, which is too
///     favourable when a person gave several.
/// level : float
///     Confidence level of the observed share's interval. The bound that decides, `bound_pct`, is
///     always the one-sided 95 % one that the source asks for.
///
/// Returns
/// -------
/// Table
///     As for `iso15197`.
///
/// Raises
/// ------
/// GlycemicError
///     As for `iso15197`, and for one rate without the other.
///
/// Notes
/// -----
/// Source: 21 CFR 862.1355(b)(1)(v), Federal Register 2022; 87: 9237-9239; most numbers from
/// memory, and their rows say unconfirmed. For education, coaching and research; not a medical
/// device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.icgm([120] * 100, [120] * 100)
/// >>> dict(zip(t["item"], t["verdict"]))["B"]
/// 'numerical_limits_met'
#[pyfunction]
#[pyo3(signature = (reference, measured, reference_rate=None, measured_rate=None,
                    cluster=None, level=0.95))]
fn icgm(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    reference_rate: Option<&Bound<'_, PyAny>>,
    measured_rate: Option<&Bound<'_, PyAny>>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let rates = match (reference_rate, measured_rate) {
            (Some(r), Some(m)) => Some((floats(r, "reference_rate")?, floats(m, "measured_rate")?)),
            (None, None) => None,
            (given, _) => {
                let argument = if given.is_some() { "measured_rate" } else { "reference_rate" };
                let message = format!("{argument} is missing: rates are needed on both sides");
                return Err(raise(&message, "missing", argument, None));
            }
        };
        let cluster = codes(cluster)?;
        let rows = py.detach(|| {
            let rates = rates.as_ref().map(|(r, m)| Rates { reference: r, measured: m });
            standards::icgm(&r, &m, rates, cluster.as_deref(), level)
        });
        let found = to_table(&rows.map_err(to_py)?).map_err(to_py)?;
        Ok(PyTable::new(found, true))
    })
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(iso15197, room)?)?;
    room.add_function(wrap_pyfunction!(fda_self_monitoring, room)?)?;
    room.add_function(wrap_pyfunction!(fda_point_of_care, room)?)?;
    room.add_function(wrap_pyfunction!(icgm, room)?)
}
