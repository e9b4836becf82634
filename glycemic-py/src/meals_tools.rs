//! Meals the diary lacks, recovery compared, glycaemic index and load.

use std::sync::Arc;

use glycemic_core::Error;
use glycemic_core::meals::index::{self, Subject};
use glycemic_core::meals::recovery::{self, Followed};
use glycemic_core::meals::{self, UnloggedOptions, suspected_table};
use pyo3::prelude::*;

use crate::convert::{self, floats};
use crate::error::{compute, guard, to_py};
use crate::estimate::PyEstimate;
use crate::meals::{read_activity, read_meals};
use crate::record::record;
use crate::series::PyTrace;
use crate::table::PyTable;

/// Meals that the trace suggests and the diary lacks: offered, never assumed.
///
/// Parameters
/// ----------
/// trace : Trace
/// meals : frame
///     The diary, as for `responses`.
/// activity : frame, optional
///     As for `responses`.
/// least_probability : float
///     Only those at least so probable are given.
/// least_size_mg_dl : float
///     The smallest size given.
///
/// Returns
/// -------
/// Table
///     `onset_ms`, `size_mg_dl`, `probability` (that a meal began within half an hour of then),
///     `first_hours` (in the first twelve hours of a sensor), `activity_near`.
///
/// Raises
/// ------
/// GlycemicError
///     For a missing column, or an option out of range.
///
/// Examples
/// --------
/// >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
/// >>> gly.meals.unlogged(tr, []).column_names[:3]
/// ['onset_ms', 'size_mg_dl', 'probability']
#[pyfunction]
#[pyo3(signature = (trace, meals, activity=None, least_probability=0.2, least_size_mg_dl=15.0))]
fn unlogged(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    meals: &Bound<'_, PyAny>,
    activity: Option<&Bound<'_, PyAny>>,
    least_probability: f64,
    least_size_mg_dl: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let trace = Arc::clone(&trace.get().inner);
        let meals = read_meals(meals, trace.clock())?;
        let activity = read_activity(activity, trace.clock())?;
        let defaults = UnloggedOptions::default();
        let options = UnloggedOptions { least_probability, least_size_mg_dl, ..defaults };
        let table =
            compute(py, || suspected_table(&meals::unlogged(&trace, &meals, &activity, options)?))?;
        let floating = trace.clock().is_some_and(glycemic_core::clock::LocalClock::is_floating);
        Ok(PyTable::new(table, !floating))
    })
}

record! {
    /// The recovery of two groups of meals compared, those not yet recovered counted as such.
    PyRecovery as "Recovery" {
        /// Meals with the column true, and without.
        n: (usize, usize),
        /// Those of each that were seen to recover.
        recovered: (usize, usize),
        /// Up to when the means are taken, minutes: what both groups reach.
        until_min: f64,
        /// Mean minutes to recovery within that time, with and without.
        restricted_mean_min: (f64, f64),
        /// With less without, minutes.
        difference: Py<PyEstimate>,
        /// Log-rank statistic.
        log_rank_chi2: f64,
        /// Its p value by the chi-squared distribution.
        p_value_chi2: f64,
        /// Its p value by shuffling the groups.
        p_value: f64,
    }
}

/// Minutes to recovery with and without something, by restricted mean and log-rank permutation.
///
/// Parameters
/// ----------
/// r : Responses or frame
///     Rows with `recovery_min`, and `recovery_censored_min` for those not yet recovered.
/// by : str
///     A column of true and false, or 0 and 1.
/// level : float
///     Confidence level.
/// shuffles, seed : int
///     Permutations and their key.
///
/// Returns
/// -------
/// Recovery
///     Never the mean of those that recovered alone.
///
/// Raises
/// ------
/// GlycemicError
///     For a missing column, an empty group, or a number out of range.
///
/// Notes
/// -----
/// Source: Royston and Parmar, BMC Med Res Methodol 2013; 13: 152 (restricted mean); Mantel, Cancer
/// Chemother Rep 1966; 50: 163-170 (log-rank). For education, coaching and research.
///
/// Examples
/// --------
/// >>> rows = {"recovery_min": [40, 55, 60, 70, 75, 90, 95, 120, 130, 150], "walk": [1] * 5 + [0] * 5}
/// >>> gly.meals.compare_recovery(rows, "walk").restricted_mean_min
/// (60.0, 75.0)
#[pyfunction]
#[pyo3(signature = (r, by, level=0.95, shuffles=4999, seed=1))]
fn compare_recovery(
    py: Python<'_>,
    r: &Bound<'_, PyAny>,
    by: &str,
    level: f64,
    shuffles: usize,
    seed: u64,
) -> PyResult<PyRecovery> {
    guard(|| {
        let columns = convert::columns(r, "r")?;
        let read = |name: &str| floats(&convert::column(&columns, name, "r")?, name);
        let (side, back) = (read(by)?, read("recovery_min")?);
        let until = match columns.get_item("recovery_censored_min")? {
            Some(column) => floats(&column, "recovery_censored_min")?,
            None => vec![f64::NAN; back.len()],
        };
        for column in [&back, &until] {
            glycemic_core::error::require_same_len("by", column.len(), side.len())
                .map_err(to_py)?;
        }
        let group = |wanted: f64| -> Vec<Followed> {
            let one = |i: usize| {
                let (minutes, recovered) =
                    if back[i].is_nan() { (until[i], false) } else { (back[i], true) };
                (side[i] == wanted && !minutes.is_nan()).then_some(Followed { minutes, recovered })
            };
            (0..side.len()).filter_map(one).collect()
        };
        let (with, without) = (group(1.0), group(0.0));
        let c = compute(py, || recovery::compare(&with, &without, level, shuffles, seed))?;
        Ok(PyRecovery {
            n: c.n,
            recovered: c.recovered,
            until_min: c.until_min,
            restricted_mean_min: c.restricted_mean_min,
            difference: Py::new(py, PyEstimate::from(c.difference))?,
            log_rank_chi2: c.log_rank_chi2,
            p_value_chi2: c.p_value_chi2,
            p_value: c.p_value,
        })
    })
}

record! {
    /// The glycaemic index of a food.
    PyIndex as "GlycaemicIndex" {
        /// Mean of the subjects' indices, percent.
        index_pct: f64,
        /// Its standard error; None with one subject.
        sem_pct: Option<f64>,
        /// Each subject's index, percent.
        subjects_pct: Vec<f64>,
        /// Variation of each subject's reference areas, percent; None with one area.
        reference_cv_pct: Vec<Option<f64>>,
        /// Which subjects lie beyond 2 SD from the mean.
        outliers: Vec<bool>,
        /// Whether there were ten subjects with two references each.
        enough: bool,
    }
}

/// The glycaemic index of a food, by ISO 26642.
///
/// Parameters
/// ----------
/// test_areas : array_like, shape (n,)
///     Incremental area of each subject after the test food.
/// reference_areas : list of n lists
///     The same after the reference food, a value each time it was eaten.
///
/// Returns
/// -------
/// GlycaemicIndex
///     Percent of the reference; `enough` says whether the standard's numbers were met.
///
/// Raises
/// ------
/// GlycemicError
///     For no subject, a subject without a reference, or negative areas.
///
/// Notes
/// -----
/// Source: ISO 26642:2010; FAO/WHO, Carbohydrates in human nutrition, 1998, chapter 4.
///
/// Examples
/// --------
/// >>> food = gly.meals.glycaemic_index([93], [[113.95, 155.25, 179.1667]])
/// >>> round(food.index_pct), food.enough
/// (62, False)
#[pyfunction]
fn glycaemic_index(
    py: Python<'_>,
    test_areas: &Bound<'_, PyAny>,
    reference_areas: &Bound<'_, PyAny>,
) -> PyResult<PyIndex> {
    guard(|| {
        let tests = floats(test_areas, "test_areas")?;
        let references: Vec<Vec<f64>> = reference_areas
            .try_iter()?
            .map(|item| floats(&item?, "reference_areas"))
            .collect::<PyResult<_>>()?;
        let found = compute(py, || {
            glycemic_core::error::require_same_len(
                "reference_areas",
                tests.len(),
                references.len(),
            )?;
            let pairs = tests.iter().zip(references);
            let subjects: Vec<Subject> = pairs
                .map(|(&test_area, reference_areas)| Subject { test_area, reference_areas })
                .collect();
            index::glycaemic_index(&subjects)
        })?;
        Ok(PyIndex {
            index_pct: found.index_pct,
            sem_pct: found.sem_pct,
            subjects_pct: found.subjects.iter().map(|s| s.index_pct).collect(),
            reference_cv_pct: found.subjects.iter().map(|s| s.reference_cv_pct).collect(),
            outliers: found.subjects.iter().map(|s| s.outlier).collect(),
            enough: found.enough,
        })
    })
}

/// The glycaemic load of a serving: index times available carbohydrate over 100.
///
/// Parameters
/// ----------
/// index_pct : float
/// net_carbs_g : float
///
/// Returns
/// -------
/// float
///     Grams.
///
/// Raises
/// ------
/// GlycemicError
///     For an index outside 0 to 1000 or grams outside 0 to 10,000.
///
/// Notes
/// -----
/// Source: Salmeron et al., JAMA 1997; 277: 472-477.
///
/// Examples
/// --------
/// >>> gly.meals.glycaemic_load(60, 25)
/// 15.0
#[pyfunction]
fn glycaemic_load(py: Python<'_>, index_pct: f64, net_carbs_g: f64) -> PyResult<f64> {
    guard(|| compute(py, || -> Result<f64, Error> { index::load(index_pct, net_carbs_g) }))
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyRecovery>()?;
    m.add_class::<PyIndex>()?;
    room.add_function(wrap_pyfunction!(unlogged, room)?)?;
    room.add_function(wrap_pyfunction!(compare_recovery, room)?)?;
    room.add_function(wrap_pyfunction!(glycaemic_index, room)?)?;
    room.add_function(wrap_pyfunction!(glycaemic_load, room)?)
}
