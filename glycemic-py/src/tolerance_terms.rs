//! What went with the rise beside grams, and limits in blood.

use glycemic_core::tolerance::{blood, terms};
use pyo3::prelude::*;

use crate::error::{compute, guard};
use crate::meals::PyResponses;
use crate::meter::PyMeter;
use crate::table::PyTable;

/// What went with the rise beside grams: a walk, fibre, protein, fat, glucose before the meal.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     A row for each term: `term`, `per` (what the effect is for), `meals` in which it is known,
///     `went_with_mg_dl` with `low_mg_dl` and `high_mg_dl`, root mean square errors of meals left out
///     with it (`left_out_mg_dl`) and without it (`left_out_without_mg_dl`), and `reason` where it
///     can't be told.
///
/// Raises
/// ------
/// GlycemicError
///     For a level out of range.
///
/// Notes
/// -----
/// Each term alone beside grams, least squares with HC3. Glucose before the meal was measured with the
/// noise that is in the rise too: its slope is by moments with known errors (Fuller, Measurement error
/// models, 1987). Several terms are looked at; none is shown to be a cause. For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> t = gly.tolerance.beside_grams(gly.meals.responses(tr, []))
/// >>> list(t["term"])
/// ['walk', 'fiber', 'protein', 'fat', 'before']
#[pyfunction]
#[pyo3(signature = (r, level=0.95))]
fn beside_grams(py: Python<'_>, r: &Bound<'_, PyResponses>, level: f64) -> PyResult<PyTable> {
    guard(|| {
        let r = r.get();
        let nominal_min = r.origin.trace.nominal_ms() as f64 / 60_000.0;
        let table = compute(py, || terms::table(&terms::terms(&r.inner, nominal_min, level)?))?;
        Ok(PyTable::new(table, true))
    })
}

/// Safe grams and mean limit for the rise in blood, by a meter's changes over meals.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`.
/// meter : Meter
///     Finger-stick readings, before meals and 30 to 150 minutes after.
/// rise_mg_dl : float
///     The target, mg/dL of rise in blood; there is no default.
/// probability : float
///     Of the safe grams.
/// meter_bias_sd_pct : float
///     Standard deviation of what isn't known of the meter's own bias, percent; the default is of
///     meters on the market (Freckmann et al., J Diabetes Sci Technol 2012; 6: 1060-1075).
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     Rows `gain` (sensor's rise for one of the meter's), `safe_g` and `limit_g`, each with
///     `value`, `low`, `high`, `n`, `method`, and `reason` where it can't be told: eight meals with
///     both readings are needed.
///
/// Raises
/// ------
/// GlycemicError
///     For a target, probability, bias or level out of range.
///
/// Notes
/// -----
/// About half of the meals at the mean limit go over. For education, coaching and research; not a
/// medical device, no advice to eat less.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> m = gly.Meter([1741046400000], [100])
/// >>> t = gly.tolerance.limits_in_blood(gly.meals.responses(tr, []), m, 30)
/// >>> list(t["name"]), t["reason_code"][0]
/// (['gain', 'safe_g', 'limit_g'], 'too_few_pairs')
#[pyfunction]
#[pyo3(signature = (r, meter, rise_mg_dl, probability=0.8, meter_bias_sd_pct=6.0, level=0.95))]
fn limits_in_blood(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    meter: &Bound<'_, PyMeter>,
    rise_mg_dl: f64,
    probability: f64,
    meter_bias_sd_pct: f64,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, meter) = (r.get(), meter.get());
        let table = compute(py, || {
            let (sensor, bias) = (&r.origin.trace, meter_bias_sd_pct);
            blood::limits_of_responses(
                &r.inner,
                &meter.inner,
                sensor,
                rise_mg_dl,
                probability,
                bias,
                level,
            )?
            .to_table()
        })?;
        Ok(PyTable::new(table, true))
    })
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(beside_grams, room)?)?;
    room.add_function(wrap_pyfunction!(limits_in_blood, room)?)
}
