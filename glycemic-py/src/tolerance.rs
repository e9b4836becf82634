//! Rise against net carbohydrate, and the grams at which it meets a target.

use glycemic_core::tolerance::fit::usable;
use glycemic_core::tolerance::{self, Fit, Options};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::convert::{self, array, floats};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::meals::PyResponses;

/// A fitted line of rise on grams, with the answers it gives.
///
/// Diary grams as this person logs them, as this sensor reads; nothing is claimed outside the
/// doses eaten. For education, coaching and research; not a medical device, not for dosing
/// insulin or any treatment decision, and no advice to eat less.
#[pyclass(frozen, module = "glycemic._glycemic", name = "Fit")]
pub(crate) struct PyFit {
    inner: Fit,
}

#[pymethods]
impl PyFit {
    /// Grams at which the mean rise meets the target; about half of such meals go over.
    #[getter]
    fn limit_g(&self) -> Option<f64> {
        self.inner.limit_g.value
    }

    /// Lower end of its interval; None when it is open.
    #[getter]
    fn low_g(&self) -> Option<f64> {
        self.inner.limit_g.low
    }

    /// Upper end of its interval; None when it is open.
    #[getter]
    fn high_g(&self) -> Option<f64> {
        self.inner.limit_g.high
    }

    /// The same as an `Estimate`.
    #[getter]
    fn limit(&self) -> PyEstimate {
        self.inner.limit_g.clone().into()
    }

    /// Whether there is a limit.
    #[getter]
    fn estimable(&self) -> bool {
        self.inner.limit_g.estimable()
    }

    /// Why the limit or an end of its interval is missing.
    #[getter]
    fn reason(&self) -> Option<String> {
        self.inner.limit_g.reason.as_ref().map(|r| r.text.clone())
    }

    /// The same as a stable word.
    #[getter]
    fn reason_code(&self) -> Option<String> {
        self.inner.limit_g.reason.as_ref().map(|r| r.code.clone())
    }

    /// Meals used.
    #[getter]
    fn n(&self) -> usize {
        self.inner.n
    }

    /// Target: the rise that a meal should not go over, mg/dL.
    #[getter]
    fn rise_mg_dl(&self) -> f64 {
        self.inner.options.rise_mg_dl
    }

    /// Confidence level.
    #[getter]
    fn level(&self) -> f64 {
        self.inner.options.level
    }

    /// Least and most grams eaten in the meals used; None without meals.
    #[getter]
    fn doses_g(&self) -> Option<(f64, f64)> {
        (self.inner.n > 0).then_some(self.inner.doses_g)
    }

    /// mg/dL per gram, or None without a line.
    #[getter]
    fn slope_mg_dl_per_g(&self) -> Option<f64> {
        self.inner.line.as_ref().map(|l| l.slope)
    }

    /// Grams of the meals used.
    #[getter]
    fn grams(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        array(py, self.inner.data().0)
    }

    /// Their rises, mg/dL.
    #[getter]
    fn rises_mg_dl(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        array(py, self.inner.data().1)
    }

    /// Grams at which a new meal stays under the target with this probability (0.5 to 0.99).
    #[pyo3(signature = (probability=0.8))]
    fn safe_g(&self, py: Python<'_>, probability: f64) -> PyResult<PyEstimate> {
        guard(|| compute(py, || self.inner.safe_g(probability)).map(PyEstimate::from))
    }

    /// Mean rise at these grams, mg/dL; only inside the doses eaten.
    fn predict(&self, py: Python<'_>, grams: f64) -> PyResult<PyEstimate> {
        guard(|| {
            compute(py, || {
                glycemic_core::error::require_finite("grams", grams)?;
                Ok(self.inner.predict(grams))
            })
            .map(PyEstimate::from)
        })
    }

    /// Grams that would have gone with this rise on average: "behaved like about X g".
    fn equivalent_load(&self, py: Python<'_>, rise_mg_dl: f64) -> PyResult<PyEstimate> {
        guard(|| {
            compute(py, || {
                glycemic_core::error::require_finite("rise_mg_dl", rise_mg_dl)?;
                Ok(self.inner.equivalent_load(rise_mg_dl))
            })
            .map(PyEstimate::from)
        })
    }

    /// Limit, options, doses and line as plain data.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("n", self.inner.n)?;
        dict.set_item("rise_mg_dl", self.inner.options.rise_mg_dl)?;
        dict.set_item("level", self.inner.options.level)?;
        dict.set_item("resamples", self.inner.options.resamples)?;
        dict.set_item("seed", self.inner.options.seed)?;
        dict.set_item("limit_g", self.limit().to_dict(py)?)?;
        dict.set_item("doses_g", self.doses_g().map(|d| vec![d.0, d.1]))?;
        dict.set_item("slope_mg_dl_per_g", self.slope_mg_dl_per_g())?;
        dict.set_item("intercept_mg_dl", self.inner.line.as_ref().map(|l| l.intercept))?;
        Ok(dict)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PyFit>().is_ok_and(|o| {
            o.get().inner.data() == self.inner.data() && o.get().inner.options == self.inner.options
        })
    }

    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let (py, fit) = (slf.py(), &slf.get().inner);
        let make = py.import("glycemic._glycemic")?.getattr("_fit")?;
        let (g, r) = fit.data();
        let o = fit.options;
        let numbers = (g.to_vec(), r.to_vec());
        let state =
            (numbers.0, numbers.1, o.rise_mg_dl, o.level, o.resamples, o.seed, o.noise_sd_mg_dl);
        Ok((make, state.into_pyobject(py)?))
    }

    fn __repr__(&self) -> String {
        let limit = self.limit().__repr__().replacen("Estimate", "limit_g", 1);
        format!("Fit({} meals, rise {} mg/dL, {limit})", self.inner.n, self.rise_mg_dl())
    }
}

/// A fit from grams and rises; for pickles.
#[pyfunction]
#[allow(clippy::too_many_arguments, reason = "one for each option")]
fn _fit(
    py: Python<'_>,
    grams: Vec<f64>,
    rises: Vec<f64>,
    rise_mg_dl: f64,
    level: f64,
    resamples: usize,
    seed: u64,
    noise_sd_mg_dl: f64,
) -> PyResult<PyFit> {
    let options = Options { rise_mg_dl, level, resamples, seed, noise_sd_mg_dl };
    guard(|| compute(py, || tolerance::fit(&grams, &rises, options)).map(|inner| PyFit { inner }))
}

/// Grams, rises and noise of a frame's rows that may be used, by the same rule as for responses.
fn from_frame(frame: &Bound<'_, PyAny>) -> PyResult<(Vec<f64>, Vec<f64>, f64)> {
    let columns = convert::columns(frame, "r")?;
    let grams = floats(&convert::column(&columns, "net_carbs_g", "r")?, "net_carbs_g")?;
    let number = |name: &str| -> PyResult<Option<Vec<f64>>> {
        columns.get_item(name)?.map(|c| floats(&c, name)).transpose()
    };
    let (aware, shown) = (number("rise_noise_aware_mg_dl")?, number("rise_mg_dl")?);
    if aware.is_none() && shown.is_none() {
        convert::column(&columns, "rise_mg_dl", "r")?;
    }
    let (clean, out) = (number("clean")?, number("eating_out")?);
    let at = |column: &Option<Vec<f64>>, i: usize| {
        column.as_ref().and_then(|c| c.get(i)).copied().filter(|v| !v.is_nan())
    };
    let noise = number("rise_noise_sd_mg_dl")?;
    let mut variances = Vec::new();
    let mut used = (Vec::new(), Vec::new());
    for (i, &g) in grams.iter().enumerate() {
        let usable = at(&clean, i) != Some(0.0) && at(&out, i).is_none_or(|v| v == 0.0);
        if let (true, false, Some(rise)) = (usable, g.is_nan(), at(&aware, i).or(at(&shown, i))) {
            used.0.push(g);
            used.1.push(rise);
            variances.extend(at(&noise, i).map(|sd| sd * sd));
        }
    }
    let noise_sd = glycemic_core::stats::moments::mean(&variances).unwrap_or(0.0).sqrt();
    Ok((used.0, used.1, noise_sd))
}

/// How much net carbohydrate per meal meets a target rise, for this person.
///
/// Parameters
/// ----------
/// r : Responses or frame
///     From `meals.responses`, or any frame with `net_carbs_g` and `rise_noise_aware_mg_dl` or
///     `rise_mg_dl` (the first where both are there). Rows whose `clean` is false or whose
///     `eating_out` is true are left out where a frame has those columns.
/// rise_mg_dl : float
///     The target, mg/dL over the baseline; there is no default.
/// peak_mg_dl : float, optional
///     Not built yet; anything but None is an error.
/// level : float
///     Confidence level.
/// resamples, seed : int
///     Bootstrap resamples for `safe_g`, and the key of their random streams.
///
/// Returns
/// -------
/// Fit
///     Too few meals or doses, or a line that does not rise, are an answer with a reason.
///
/// Raises
/// ------
/// GlycemicError
///     For a missing column, or a target, level or number of resamples out of range.
///
/// Notes
/// -----
/// Source: Fieller, JRSS B 1954; 16: 175-185 (inverse prediction); MacKinnon and White, J
/// Econometrics 1985; 29: 305-325 (HC3). For education, coaching and research; not a medical
/// device, not for dosing insulin or any treatment decision, and no advice to eat less.
///
/// Examples
/// --------
/// >>> grams = [10, 20, 30, 45, 60] * 3
/// >>> fit = gly.tolerance.fit({"net_carbs_g": grams, "rise_mg_dl": [5 + g for g in grams]}, 35)
/// >>> round(fit.limit_g, 6), fit.n
/// (30.0, 15)
#[pyfunction]
#[pyo3(signature = (r, rise_mg_dl, peak_mg_dl=None, level=0.95, resamples=500, seed=1))]
fn fit(
    py: Python<'_>,
    r: &Bound<'_, PyAny>,
    rise_mg_dl: f64,
    peak_mg_dl: Option<f64>,
    level: f64,
    resamples: usize,
    seed: u64,
) -> PyResult<PyFit> {
    guard(|| {
        if peak_mg_dl.is_some() {
            let message = "a target for the peak is not built yet: give rise_mg_dl only";
            return Err(raise(message, "not_built", "peak_mg_dl", None));
        }
        let (grams, rises, noise_sd_mg_dl) = match r.cast::<PyResponses>() {
            Ok(r) => usable(&r.get().inner),
            Err(_) => from_frame(r)?,
        };
        let options = Options { rise_mg_dl, level, resamples, seed, noise_sd_mg_dl };
        let inner = py.detach(|| tolerance::fit(&grams, &rises, options)).map_err(to_py)?;
        Ok(PyFit { inner })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyFit>()?;
    m.add_function(wrap_pyfunction!(_fit, m)?)?;
    let room = PyModule::new(m.py(), "glycemic.tolerance")?;
    room.setattr("__doc__", "Rise against net carbohydrate, and the grams that meet a target.")?;
    room.add_function(wrap_pyfunction!(fit, &room)?)?;
    m.add("tolerance", room)
}
