//! A schedule carried out: what became of each meal, and what the pairs say.

use chrono::NaiveDate;
use glycemic_core::contrast::schedule::Wish;
use glycemic_core::contrast::{self, tables};
use pyo3::prelude::*;

use crate::contrast_helps::{diary_of, outcome_of};
use crate::contrast_plan::PyPaired;
use crate::error::{compute, guard, raise};
use crate::meals::PyResponses;
use crate::record::record;
use crate::sensor_trace::words;
use crate::table::PyTable;

record! {
    /// A schedule carried out. Only the comparison as assigned rests on the draw. For education,
    /// coaching and research; not a medical device.
    PyCarriedOut as "CarriedOut" {
        /// What was compared.
        outcome: String,
        /// Its unit.
        unit: String,
        /// Pairs drawn.
        pairs: usize,
        /// Pairs with both outcomes, by what was assigned, whatever was done.
        as_assigned: Py<PyPaired>,
        /// Pairs without a deviation: who keeps to a schedule may differ from who doesn't, so it
        /// stands beside, not in place.
        per_protocol: Py<PyPaired>,
        /// A row each for as_assigned, per_protocol, carry_over and period.
        answers: Py<PyTable>,
        /// A row for each meal of the schedule: what was assigned, what was seen, deviations.
        sittings: Py<PyTable>,
        /// Grams, hour and kinds with and without, in the meals compared as assigned.
        balance: Py<PyTable>,
        /// Why no comparison as assigned can be told.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
    }
}

/// Days from 1970 on to a calendar day: a date, a datetime64 or text such as 2025-03-14.
fn day_number(value: &Bound<'_, PyAny>) -> PyResult<i64> {
    let text = value.str()?.to_string();
    let day = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").map_err(|_| {
        let message = format!("first_day: \"{text}\" is not a date such as 2025-03-14");
        raise(&message, "time_format", "first_day", None)
    })?;
    Ok((day - NaiveDate::default()).num_days())
}

/// Matches a schedule, drawn anew, with the diary, and compares its pairs of meals.
///
/// Parameters
/// ----------
/// r : Responses
///     From `meals.responses`, with the activity of the diary, on a trace with local time.
/// first_day : date or str
///     The local calendar day that is day 1 of the schedule, such as "2025-03-14".
/// days, pairs, slots, with_, without, masked_days, seed
///     What the schedule was drawn from, as for `schedule`: same wish and seed, same schedule.
/// sleep, notes : frame, optional
///     As for `what_helps`.
/// outcome : {"rise", "peak", "area", "recovery"}
/// level : float
///     Confidence level, 0.5-0.999.
///
/// Returns
/// -------
/// CarriedOut
///     Deviations are no_meal, no_reading, not_as_assigned, exposure_unknown and earlier_meal. With
///     fewer than three pairs there is a reason in place of a difference.
///
/// Raises
/// ------
/// GlycemicError
///     For what no schedule can be drawn from, a day that is none, an unknown outcome, a trace
///     without local time, a level out of range.
///
/// Notes
/// -----
/// What was done is read from the diary by the clock, never from glucose. Source: Hollis and
/// Campbell, BMJ 1999; 319: 670-674 (by what was assigned); Vohra et al., BMJ 2015; 350: h1738 (one
/// person's trials); both from memory. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> start = np.datetime64("2025-03-10T00:00", "ms")
/// >>> trace = gly.Trace(start + 300_000 * np.arange(4032), [100] * 4032, zone="UTC")
/// >>> lunch = start + np.arange(14) * 86_400_000 + 13 * 3_600_000
/// >>> meals = {"time": lunch, "carbs_g": [40] * 14}
/// >>> drawn = gly.contrast.schedule(14, 6, ["lunch"], "walk_after", "no_walk", seed=7)
/// >>> walks = [lunch[d - 1] for d, e in zip(drawn["day"], drawn["exposed"]) if e == 1]
/// >>> done = {"start": [w + 900_000 for w in walks], "minutes": [20] * 6, "kind": ["walk"] * 6}
/// >>> r = gly.meals.responses(trace, meals, activity=done)
/// >>> out = gly.contrast.carried_out(r, "2025-03-10", 14, 6, ["lunch"], "walk_after", "no_walk", seed=7)
/// >>> out.per_protocol.difference.n, round(out.as_assigned.difference.value, 1)
/// (6, 0.0)
#[pyfunction]
#[pyo3(signature = (r, first_day, days, pairs, slots, with_, without, masked_days=2, seed=1,
                    sleep=None, notes=None, outcome="rise", level=0.95))]
#[allow(clippy::too_many_arguments, reason = "a wish and a diary have several parts")]
fn carried_out(
    py: Python<'_>,
    r: &Bound<'_, PyResponses>,
    first_day: &Bound<'_, PyAny>,
    days: usize,
    pairs: usize,
    slots: Vec<String>,
    with_: String,
    without: String,
    masked_days: usize,
    seed: u64,
    sleep: Option<&Bound<'_, PyAny>>,
    notes: Option<&Bound<'_, PyAny>>,
    outcome: &str,
    level: f64,
) -> PyResult<PyCarriedOut> {
    guard(|| {
        let r = r.get();
        let (first_day, outcome) = (day_number(first_day)?, outcome_of(outcome)?);
        let diary = diary_of(r, sleep, notes)?;
        let wish = Wish { days, masked_days, slots, pairs, with: with_, without, seed };
        let (out, answers, sittings, balance) = compute(py, || {
            let out = contrast::carried_out(&wish, first_day, &r.inner, &diary, outcome, level)?;
            let (answers, sittings) = (out.answers_table()?, out.sittings_table(&r.inner)?);
            let balance = tables::balance_of(&out.balance)?;
            Ok((out, answers, sittings, balance))
        })?;
        let (reason, reason_code) = words(out.reason());
        let table = |t| Py::new(py, PyTable::new(t, r.zoned()));
        Ok(PyCarriedOut {
            outcome: outcome.id().to_string(),
            unit: outcome.unit().to_string(),
            pairs: out.pairs,
            reason,
            reason_code,
            as_assigned: Py::new(py, PyPaired::made(py, out.as_assigned)?)?,
            per_protocol: Py::new(py, PyPaired::made(py, out.per_protocol)?)?,
            answers: table(answers)?,
            sittings: table(sittings)?,
            balance: table(balance)?,
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyCarriedOut>()?;
    room.add_function(wrap_pyfunction!(carried_out, room)?)
}
