//! What to test next: repeats, power, a randomised schedule, and the analysis that goes with it.

use glycemic_core::contrast::schedule::{self, Wish};
use glycemic_core::contrast::{self, Aim, Pair, Paired};
use pyo3::prelude::*;

use crate::agreement_words::choice;
use crate::convert::floats;
use crate::error::{compute, guard, raise};
use crate::estimate::PyEstimate;
use crate::record::record;
use crate::table::PyTable;

const DESIGNS: &str = "pairs, groups";

fn is_paired(design: &str) -> PyResult<bool> {
    choice("design", design, &[("pairs", true), ("groups", false)], DESIGNS)
}

/// Repeats that see an effect with a power, from the spread of this person's single meals.
///
/// Parameters
/// ----------
/// effect : float
///     What is to be seen, in the unit of the outcome.
/// sd : float
///     Standard deviation of single meals at the same grams.
/// power : float
///     Chance to see it, 0.5 to 0.999.
/// level : float
///     Level of the interval.
/// design : {"pairs", "groups"}
///     With and without one after the other, or two groups of meals.
///
/// Returns
/// -------
/// int
///     Pairs, or meals on each side.
///
/// Raises
/// ------
/// GlycemicError
///     For a number out of range, or more than 100,000.
///
/// Notes
/// -----
/// Source: Cohen, Statistical power analysis for the behavioral sciences, 2nd ed., 1988, chapter 2.
///
/// Examples
/// --------
/// >>> gly.contrast.repeats(0.5, 1.0, design="groups")  # Cohen (1988): 64
/// 64
#[pyfunction]
#[pyo3(signature = (effect, sd, power=0.8, level=0.95, design="pairs"))]
fn repeats(
    py: Python<'_>,
    effect: f64,
    sd: f64,
    power: f64,
    level: f64,
    design: &str,
) -> PyResult<usize> {
    guard(|| {
        let (aim, paired) = (Aim { effect, sd, power, level }, is_paired(design)?);
        compute(py, || if paired { aim.pairs() } else { aim.each() })
    })
}

/// The chance to see an effect with so many repeats.
///
/// Parameters
/// ----------
/// effect, sd, level, design
///     As for `repeats`.
/// n : int
///     Pairs, or meals on each side; 2 or more.
///
/// Returns
/// -------
/// float
///     From 0 to 1.
///
/// Raises
/// ------
/// GlycemicError
///     For a number out of range.
///
/// Examples
/// --------
/// >>> round(gly.contrast.power(0.5, 1.0, 64, design="groups"), 2)
/// 0.8
#[pyfunction]
#[pyo3(signature = (effect, sd, n, level=0.95, design="pairs"))]
fn power(
    py: Python<'_>,
    effect: f64,
    sd: f64,
    n: usize,
    level: f64,
    design: &str,
) -> PyResult<f64> {
    guard(|| {
        let (aim, paired) = (Aim { effect, sd, power: 0.8, level }, is_paired(design)?);
        compute(py, || if paired { aim.power_of_pairs(n) } else { aim.power_of_groups(n) })
    })
}

/// A randomised, balanced schedule of pairs of meals; same wish and seed, same schedule.
///
/// Parameters
/// ----------
/// days : int
///     Days of wear, 2 to 365.
/// pairs : int
///     Pairs of the same meal on two days running, 2 or more.
/// slots : list of str
///     Meals of the day that take part: "breakfast", "lunch", "dinner" or a tag of the diary.
/// with_, without : str
///     Ids of what is done in one meal of a pair and in the other, such as ``walk_after`` and
///     ``no_walk``.
/// masked_days : int
///     Days at the start without a task, on which the display may be masked.
/// seed : int
///     Key of the draw.
///
/// Returns
/// -------
/// Table
///     `day`, `slot`, `pair`, `condition`, `exposed`; masked days have no slot.
///
/// Raises
/// ------
/// GlycemicError
///     For too few days for the pairs, no slot, or a number out of range.
///
/// Notes
/// -----
/// Source: Kravitz and Duan (eds), Design and implementation of N-of-1 trials, AHRQ 2014, from
/// memory; what to report: Vohra et al., BMJ 2015; 350: h1738.
///
/// Examples
/// --------
/// >>> t = gly.contrast.schedule(14, 6, ["lunch"], "walk_after", "no_walk", seed=7)
/// >>> len(t), int(np.nansum(t["exposed"]))
/// (14, 6)
#[pyfunction]
#[pyo3(name = "schedule", signature = (days, pairs, slots, with_, without, masked_days=2, seed=1))]
#[allow(clippy::too_many_arguments, reason = "a wish has several parts")]
fn drawn(
    py: Python<'_>,
    days: usize,
    pairs: usize,
    slots: Vec<String>,
    with_: String,
    without: String,
    masked_days: usize,
    seed: u64,
) -> PyResult<PyTable> {
    guard(|| {
        let wish = Wish { days, masked_days, slots, pairs, with: with_, without, seed };
        let table = compute(py, || schedule::table(&wish, &schedule::schedule(&wish)?))?;
        Ok(PyTable::new(table, true))
    })
}

record! {
    /// What pairs of meals say. After a randomised schedule the difference was *caused* by the
    /// exposure, else it *went with* it.
    PyPaired as "Paired" {
        /// With less without.
        difference: Py<PyEstimate>,
        /// Its two-sided p value by Student's t.
        p_value: Option<f64>,
        /// The same by the exact test of signs.
        p_signs: Option<f64>,
        /// Sum of pairs that began with the exposure less sum of the others.
        carry_over: Py<PyEstimate>,
        /// Second meal less first.
        period: Py<PyEstimate>,
    }
}

impl PyPaired {
    pub(crate) fn made(py: Python<'_>, found: Paired) -> PyResult<PyPaired> {
        Ok(PyPaired {
            difference: Py::new(py, PyEstimate::from(found.difference))?,
            p_value: found.p_value,
            p_signs: found.p_signs,
            carry_over: Py::new(py, PyEstimate::from(found.carry_over))?,
            period: Py::new(py, PyEstimate::from(found.period))?,
        })
    }
}

/// The analysis of pairs: mean difference, test of signs, carry-over and period.
///
/// Parameters
/// ----------
/// with_, without : array_like, shape (n,)
///     The outcome of both meals of each pair.
/// with_first : array_like of bool, shape (n,)
///     Whether the meal with came first.
/// level : float
///     Confidence level.
///
/// Returns
/// -------
/// Paired
///     Not estimable with fewer than three pairs.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, NaN, a level out of range.
///
/// Notes
/// -----
/// Source: Student, Biometrika 1908; 6: 1-25; Hills and Armitage, Br J Clin Pharmacol 1979; 8: 7-20.
///
/// Examples
/// --------
/// >>> p = gly.contrast.paired([20, 24, 18, 25], [31, 33, 28, 35], [True, False, True, False])
/// >>> p.difference.value, p.carry_over.value
/// (-10.0, -10.0)
#[pyfunction]
#[pyo3(signature = (with_, without, with_first, level=0.95))]
fn paired(
    py: Python<'_>,
    with_: &Bound<'_, PyAny>,
    without: &Bound<'_, PyAny>,
    with_first: &Bound<'_, PyAny>,
    level: f64,
) -> PyResult<PyPaired> {
    guard(|| {
        let (x, y) = (floats(with_, "with_")?, floats(without, "without")?);
        let first = floats(with_first, "with_first")?;
        if let Some(index) = first.iter().position(|f| *f != 0.0 && *f != 1.0) {
            let message = format!("with_first must be true or false at index {index}");
            return Err(raise(&message, "out_of_range", "with_first", Some(index)));
        }
        let found = compute(py, || {
            glycemic_core::error::require_same_len("without", x.len(), y.len())?;
            glycemic_core::error::require_same_len("with_first", x.len(), first.len())?;
            let pair = |i: usize| Pair { with: x[i], without: y[i], with_first: first[i] == 1.0 };
            contrast::paired(&(0..x.len()).map(pair).collect::<Vec<_>>(), level)
        })?;
        PyPaired::made(py, found)
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyPaired>()?;
    room.add_function(wrap_pyfunction!(repeats, room)?)?;
    room.add_function(wrap_pyfunction!(power, room)?)?;
    room.add_function(wrap_pyfunction!(drawn, room)?)?;
    room.add_function(wrap_pyfunction!(paired, room)?)
}
