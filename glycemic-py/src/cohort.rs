//! Many people at once: columns in, a table out.

use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use glycemic_core::Error;
use glycemic_core::clock::LocalClock;
use glycemic_core::cohort::{self, Name, Options};
use glycemic_core::panel::Id;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict};

use crate::arrow_in::Imported;
use crate::cohort_columns::{Given, Glucose, Source, Times};
use crate::cohort_people::people;
use crate::convert;
use crate::error::{guard, raise, to_py};
use crate::table::PyTable;

/// Measures of many people at once: a row for each.
///
/// Parameters
/// ----------
/// data : array_like or frame
///     The person of each reading (whole numbers, text, or categories), with `times` and
///     `glucose`; or a frame with all three as columns: pandas, polars, pyarrow, a dict, or
///     anything that gives an Arrow stream.
/// times : array_like, shape (n,), optional
///     As for `Trace`: datetime64, datetimes, ISO text, or whole epoch milliseconds. Naive times
///     are read in the person's zone. A missing time is counted.
/// glucose : array_like, shape (n,), or str
///     Readings in `unit`; missing ones are NaN or null. With a frame, the name of the column.
/// unit : {"mg/dL", "mmol/L"}
/// zone : str, ZoneInfo, timezone, list of (int, int), or dict, optional
///     As for `Trace`, one for all; or a dict from person to zone.
/// measures : list of str, optional
///     Names of the measures wanted, see `glycemic.measures()`. Default: all. Fewer cost less
///     where none of them depends on the order of readings.
/// threads : int, optional
///     Default: all cores. Results have the same bits for any number.
/// person, time : str
///     Names of the other columns of a frame.
/// progress : callable, optional
///     Called with the number of people done; may return False to stop.
///
/// Returns
/// -------
/// Table
///     `person`, the measures, then `given`, `duplicates`, `conflicts`, `missing` (no value),
///     `missing_time`, `reasons` (``measure:code``, joined with ``;``, of measures that can't be
///     told), `error_code` and `error`. Rows are ordered by person; a person who can't be
///     answered has a row that says why. Readings without a person are counted in a last row.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, unknown measures, columns that can't be read; ``cancelled``.
///
/// Notes
/// -----
/// Contiguous NumPy arrays and Arrow columns are read where they lie, while other threads may
/// run: don't write to them during the call. For education, coaching and research; not a medical
/// device, not for dosing insulin or any treatment decision.
///
/// Examples
/// --------
/// >>> times = np.array(["2025-03-14T07:30", "2025-03-14T07:35", "2025-03-14T07:30"], "datetime64[m]")
/// >>> t = gly.panels(["ann", "ann", "ben"], times, [100, 110, 9000], measures=["n", "mean_mg_dl"])
/// >>> t["person"].tolist(), t["mean_mg_dl"].tolist(), t["error_code"].tolist()
/// (['ann', 'ben'], [105.0, nan], [None, 'out_of_range'])
#[pyfunction]
#[pyo3(signature = (data, times=None, glucose=None, unit="mg/dL", zone=None, measures=None,
                    threads=None, *, person="person", time="time", progress=None))]
#[allow(clippy::too_many_arguments, reason = "keywords in Python")]
fn panels(
    py: Python<'_>,
    data: &Bound<'_, PyAny>,
    times: Option<&Bound<'_, PyAny>>,
    glucose: Option<&Bound<'_, PyAny>>,
    unit: &str,
    zone: Option<&Bound<'_, PyAny>>,
    measures: Option<Vec<String>>,
    threads: Option<usize>,
    person: &str,
    time: &str,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyTable> {
    guard(|| {
        let mut options =
            Options { unit: unit.parse().map_err(to_py)?, threads, ..Options::default() };
        options.only = measures.map(|names| ids(&names)).transpose()?;
        (options.clock, options.clocks) = clocks(zone)?;
        let [who, when, what] = match (times, glucose) {
            (Some(times), Some(glucose)) => [
                Given::new(data, "person")?,
                Given::new(times, "times")?,
                Given::glucose(glucose, options.unit)?,
            ],
            (None, _) => from_frame(data, person, time, glucose, options.unit)?,
            (Some(_), None) => {
                let message = "glucose is missing: give person, times and glucose, or a frame";
                return Err(raise(message, "frame_type", "glucose", None));
            }
        };
        let people = people(&who, "person")?;
        let (times, local) = Times::new(&when)?;
        options.local = local;
        let source = Source::new(times, Glucose::new(&what)?)?;
        run(py, &people, &source, &options, progress)
    })
}

/// The three columns of a frame.
fn from_frame<'py>(
    data: &Bound<'py, PyAny>,
    person: &str,
    time: &str,
    glucose: Option<&Bound<'py, PyAny>>,
    unit: glycemic_core::Unit,
) -> PyResult<[Given<'py>; 3]> {
    let glucose = match glucose {
        None => "glucose".to_string(),
        Some(name) => name.extract::<String>().map_err(|_| {
            raise("times are missing: give person, times and glucose", "frame_type", "times", None)
        })?,
    };
    let named = data.hasattr("column_names")? || data.hasattr("columns")?;
    if data.hasattr("__arrow_c_stream__")? && !named {
        let table = Rc::new(Imported::new(data, "data")?);
        let one = |name: &str, argument| Given::field(&table, name, argument);
        return Ok([one(person, "person")?, one(time, "times")?, one(&glucose, "glucose")?]);
    }
    let columns = convert::columns(data, "data")?;
    let one = |name: &str| convert::column(&columns, name, "data");
    Ok([
        Given::new(&one(person)?, "person")?,
        Given::new(&one(time)?, "times")?,
        Given::glucose(&one(&glucose)?, unit)?,
    ])
}

/// Numbers of the measures with these names.
fn ids(names: &[String]) -> PyResult<Vec<Id>> {
    let id = |name: &String| {
        Id::from_name(name).ok_or_else(|| {
            let choices = "the names in glycemic.measures()";
            to_py(Error::UnknownChoice { name: "measures", got: name.clone(), choices })
        })
    };
    names.iter().map(id).collect()
}

type Clocks = (Option<LocalClock>, BTreeMap<Name, Arc<LocalClock>>);

/// One zone for all, or a dict from person to zone.
fn clocks(zone: Option<&Bound<'_, PyAny>>) -> PyResult<Clocks> {
    let mut each = BTreeMap::new();
    let Some(dict) = zone.and_then(|z| z.cast::<PyDict>().ok()) else {
        return Ok((convert::zone(zone)?, each));
    };
    let mut made: BTreeMap<String, Arc<LocalClock>> = BTreeMap::new();
    for (person, zone) in dict.iter() {
        let name = match person.extract::<i64>() {
            Ok(number) => Name::Number(number),
            Err(_) => Name::Text(person.str()?.to_string()),
        };
        let spelled = zone.repr()?.to_string();
        let clock = match made.get(&spelled) {
            Some(clock) => Arc::clone(clock),
            None => match convert::zone(Some(&zone))? {
                Some(clock) => Arc::clone(made.entry(spelled).or_insert(Arc::new(clock))),
                None => continue,
            },
        };
        each.insert(name, clock);
    }
    Ok((None, each))
}

/// Computes with the interpreter free; now and then signals are looked at and `progress` called.
fn run(
    py: Python<'_>,
    people: &cohort::People,
    source: &Source<'_>,
    options: &Options,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyTable> {
    let progress = progress.map(|f| f.clone().unbind());
    let mut raised: Option<PyErr> = None;
    let mut tell = |done: usize| {
        Python::attach(|py| {
            let go = py.check_signals().and_then(|()| match &progress {
                None => Ok(true),
                Some(f) => Ok(!f.bind(py).call1((done,))?.is(PyBool::new(py, false))),
            });
            go.unwrap_or_else(|error| {
                raised = Some(error);
                false
            })
        })
    };
    let found = py.detach(|| cohort::panels(people, source, options, &mut tell));
    match (found, raised) {
        (Ok(table), _) => Ok(PyTable::new(table, true)),
        (Err(_), Some(error)) => Err(error),
        (Err(error), None) => Err(to_py(error)),
    }
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_function(wrap_pyfunction!(panels, m)?)
}
