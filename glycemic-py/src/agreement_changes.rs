//! Agreement of changes, sensors beside each other, repeatability, a study's design.

use glycemic_core::agreement::ChangeOptions;
use glycemic_core::agreement::accountability;
use glycemic_core::agreement::design::{
    self, Comparator, Design, Device, Standard, checklist_table,
};
use pyo3::prelude::*;

use crate::agreement_words::{choice, estimate, pairs};
use crate::convert::{self, codes, floats, texts};
use crate::error::{compute, guard, raise};
use crate::estimate::PyEstimate;
use crate::record::record;
use crate::table::PyTable;

record! {
    /// Agreement of changes. For education, coaching and research; not a medical device.
    PyChanges as "Changes" {
        /// Meals given.
        meals: usize,
        /// A row for each meal that has both pairs, in order of time.
        table: Py<PyTable>,
        /// The other meals, counted from 0, and why.
        skipped: Vec<(usize, String)>,
        /// Sensor's change less meter's, mg/dL, an Estimate.
        bias_mg_dl: Py<PyEstimate>,
        /// SD of those differences, mg/dL; None with too few.
        sd_mg_dl: Option<f64>,
        /// Lower limit of agreement, mg/dL, an Estimate.
        lower_mg_dl: Py<PyEstimate>,
        /// Upper limit of agreement, mg/dL, an Estimate.
        upper_mg_dl: Py<PyEstimate>,
        /// mg/dL by the sensor for one by the meter, an Estimate.
        slope: Py<PyEstimate>,
    }

    fn __len__(&self) -> usize {
        self.table.get().inner.rows()
    }
}

/// What meals did by the meter against what they did by the sensor.
///
/// Parameters
/// ----------
/// times : array_like, shape (n,)
///     Times of the pairs, as for `Trace`: `Pairs.times_ms`.
/// reference, measured : array_like, shape (n,)
///     Meter and sensor, mg/dL.
/// day : array_like of int, shape (n,)
///     Local day of each pair, the unit of the intervals: `Pairs.day`.
/// meals : array_like, shape (m,)
///     When meals began, as for `Trace`.
/// before, after : tuple of float
///     Where the first and the second pair may lie, minutes from the meal's start.
/// meter_sd_mg_dl : float, optional
///     SD of repeated readings of the meter (`repeatability`); without it Deming's line.
/// variance_ratio : float
///     Without it: variance of the sensor's error over that of the meter's.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Changes
///     The sensor's lag is in its changes: a slope below 1 may be a late sensor.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, NaN, spans that fall or overlap, or an option out of range.
///
/// Notes
/// -----
/// Source: Bland and Altman, Stat Methods Med Res 1999; 8: 135-160; Fuller, Measurement error models,
/// 1987, section 1.2. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> start = 1_741_046_400_000
/// >>> meals = start + np.arange(5) * 86_400_000
/// >>> times = np.sort(np.r_[meals, meals + 3_600_000])
/// >>> c = gly.agreement.changes(times, [100, 160] * 5, [105, 155] * 5, np.repeat(range(5), 2), meals)
/// >>> c.bias_mg_dl.value, len(c)
/// (-10.0, 5)
#[pyfunction]
#[pyo3(signature = (times, reference, measured, day, meals, before=(-45.0, 5.0),
                    after=(30.0, 150.0), meter_sd_mg_dl=None, variance_ratio=1.0, level=0.95),
       text_signature = "(times, reference, measured, day, meals, before=(-45.0, 5.0), \
                         after=(30.0, 150.0), meter_sd_mg_dl=None, variance_ratio=1.0, level=0.95)")]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn changes(
    py: Python<'_>,
    times: &Bound<'_, PyAny>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    day: &Bound<'_, PyAny>,
    meals: &Bound<'_, PyAny>,
    before: (f64, f64),
    after: (f64, f64),
    meter_sd_mg_dl: Option<f64>,
    variance_ratio: f64,
    level: f64,
) -> PyResult<PyChanges> {
    guard(|| {
        let (times, meals) = (convert::stamps(times, "times")?, convert::stamps(meals, "meals")?);
        if times.naive != meals.naive && !times.ms.is_empty() && !meals.ms.is_empty() {
            let message = "one of times and meals is local times, the other is not";
            return Err(raise(message, "mixed_times", "meals", None));
        }
        let (r, m) = pairs(reference, measured)?;
        let day = codes(Some(day))?.unwrap_or_default();
        let options = ChangeOptions {
            before_from_min: before.0,
            before_to_min: before.1,
            after_from_min: after.0,
            after_to_min: after.1,
            meter_sd_mg_dl,
            variance_ratio,
            level,
        };
        let (found, rows) = compute(py, || {
            let found =
                glycemic_core::agreement::changes(&times.ms, &r, &m, &day, &meals.ms, &options)?;
            let rows = found.to_table()?;
            Ok((found, rows))
        })?;
        let skipped = found.skipped.iter().map(|(meal, why)| (*meal, why.to_string()));
        Ok(PyChanges {
            meals: found.meals,
            table: Py::new(py, PyTable::new(rows, !times.naive))?,
            skipped: skipped.collect(),
            bias_mg_dl: estimate(py, found.bias_mg_dl)?,
            sd_mg_dl: found.sd_mg_dl,
            lower_mg_dl: estimate(py, found.lower_mg_dl)?,
            upper_mg_dl: estimate(py, found.upper_mg_dl)?,
            slope: estimate(py, found.slope)?,
        })
    })
}

/// Accuracy of each sensor.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL, references positive.
/// sensor : array_like of str, shape (n,)
///     Each pair's sensor.
///
/// Returns
/// -------
/// Table
///     A row for each sensor in the order in which they come: `sensor`, `n`, `mard_pct`,
///     `bias_mg_dl`, `reason` with fewer than five pairs.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, NaN, a reference that is not positive, or a missing sensor.
///
/// Notes
/// -----
/// Five pairs: a convention of this library, no source. For education, coaching and research; not a
/// medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.by_sensor([100] * 10, [110] * 5 + [80] * 5, ["A"] * 5 + ["B"] * 5)
/// >>> t["sensor"].tolist(), t["mard_pct"].tolist()
/// (['A', 'B'], [10.0, 20.0])
#[pyfunction]
fn by_sensor(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    sensor: &Bound<'_, PyAny>,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let named = |(index, name): (usize, Option<String>)| {
            let message = format!("sensor is missing at index {index}");
            name.ok_or_else(|| raise(&message, "value_missing", "sensor", Some(index)))
        };
        let sensor: Vec<String> =
            texts(sensor)?.into_iter().enumerate().map(named).collect::<PyResult<_>>()?;
        let table = compute(py, || accountability::by_sensor(&r, &m, &sensor)?.to_table())?;
        Ok(PyTable::new(table, true))
    })
}

/// Spread of repeated readings of the comparator.
///
/// Parameters
/// ----------
/// bursts : list of lists of float
///     Readings in quick succession, mg/dL; a burst of one counts for nothing.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Table
///     Rows `sd_mg_dl` and `cv_pct`: `value`, `low`, `high`, `n` (bursts), `reason`, as estimates.
///
/// Raises
/// ------
/// GlycemicError
///     For NaN, a value that is not positive, or a level out of range.
///
/// Notes
/// -----
/// Source: any textbook (SD pooled within bursts, chi-squared interval for normal errors). For
/// education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.repeatability([[98, 102], [198, 202]])
/// >>> t["name"].tolist(), t["value"].round(3).tolist()
/// (['sd_mg_dl', 'cv_pct'], [2.828, 2.236])
#[pyfunction]
#[pyo3(signature = (bursts, level=0.95))]
fn repeatability(py: Python<'_>, bursts: &Bound<'_, PyAny>, level: f64) -> PyResult<PyTable> {
    guard(|| {
        let bursts: Vec<Vec<f64>> =
            bursts.try_iter()?.map(|burst| floats(&burst?, "bursts")).collect::<PyResult<_>>()?;
        let table = compute(py, || accountability::repeatability(&bursts, level)?.table())?;
        Ok(PyTable::new(table, true))
    })
}

/// What a standard asks of a study's design, and how it stands: met, not met, or unknown.
///
/// Parameters
/// ----------
/// standard : {"iso15197", "fda_self_monitoring", "fda_point_of_care", "icgm", "comparator_data"}
/// device : {"meter", "continuous_sensor"}, optional
/// comparator : {"laboratory", "home_meter"}, optional
/// persons, children, lots, results_per_lot : int, optional
///     Numbers of them; children are those under 18.
/// wear_days : tuple of float, optional
///     First and last day of wear with pairs, counted from 1.
/// wear_length_days : float, optional
///     Length of a wear as its maker states it.
/// reference, rates : array_like, optional
///     Comparator values, mg/dL, and rates of change beside them, mg/dL per minute.
///
/// Returns
/// -------
/// Table
///     A row for each requirement: `what`, `asked`, `had`, `state`, `source`, `status`. What is not
///     said is unknown, never met; numbers alone can't meet a standard.
///
/// Raises
/// ------
/// GlycemicError
///     For an unknown word, NaN, or days below 0.
///
/// Notes
/// -----
/// Source: named in each row; most numbers are from memory, and `status` says so. For education,
/// coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.checklist("icgm", device="continuous_sensor", comparator="home_meter")
/// >>> dict(zip(t["what"], t["state"]))["comparator"]
/// 'not_met'
#[pyfunction]
#[pyo3(signature = (standard, device=None, comparator=None, persons=None, children=None,
                    lots=None, results_per_lot=None, wear_days=None, wear_length_days=None,
                    reference=None, rates=None))]
#[allow(clippy::too_many_arguments, reason = "each is something known of a study")]
fn checklist(
    py: Python<'_>,
    standard: &str,
    device: Option<&str>,
    comparator: Option<&str>,
    persons: Option<usize>,
    children: Option<usize>,
    lots: Option<usize>,
    results_per_lot: Option<usize>,
    wear_days: Option<(f64, f64)>,
    wear_length_days: Option<f64>,
    reference: Option<&Bound<'_, PyAny>>,
    rates: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyTable> {
    guard(|| {
        let standards = [
            ("iso15197", Standard::Iso15197),
            ("fda_self_monitoring", Standard::FdaSelfMonitoring),
            ("fda_point_of_care", Standard::FdaPointOfCare),
            ("icgm", Standard::Icgm),
            ("comparator_data", Standard::ComparatorData),
        ];
        let known = "iso15197, fda_self_monitoring, fda_point_of_care, icgm, comparator_data";
        let standard = choice("standard", standard, &standards, known)?;
        let devices = [("meter", Device::Meter), ("continuous_sensor", Device::ContinuousSensor)];
        let made = |word| choice("device", word, &devices, "meter, continuous_sensor");
        let comparators =
            [("laboratory", Comparator::Laboratory), ("home_meter", Comparator::HomeMeter)];
        let compared = |word| choice("comparator", word, &comparators, "laboratory, home_meter");
        let study = Design {
            device: device.map(made).transpose()?,
            comparator: comparator.map(compared).transpose()?,
            persons,
            children,
            lots,
            results_per_lot,
            wear_days,
            wear_length_days,
            reference_mg_dl: reference.map(|v| floats(v, "reference")).transpose()?,
            rates_mg_dl_min: rates.map(|v| floats(v, "rates")).transpose()?,
        };
        let table = compute(py, || checklist_table(&design::checklist(standard, &study)?))?;
        Ok(PyTable::new(table, true))
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyChanges>()?;
    room.add_function(wrap_pyfunction!(changes, room)?)?;
    room.add_function(wrap_pyfunction!(by_sensor, room)?)?;
    room.add_function(wrap_pyfunction!(repeatability, room)?)?;
    room.add_function(wrap_pyfunction!(checklist, room)?)
}
