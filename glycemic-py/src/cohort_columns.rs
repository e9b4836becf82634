//! Times and glucose of many people where they lie, as the core asks for them.

use std::ops::Range;
use std::rc::Rc;

use glycemic_core::cohort::{NO_TIME, Readings, Stretch};
use glycemic_core::error::require_same_len;
use glycemic_core::series::Censor;
use glycemic_core::units::Unit;
use pyo3::prelude::*;

use crate::arrow_in::{ArrowColumn, Imported};
use crate::convert;
use crate::error::{raise, to_py};
use crate::numbers::{Array, Numbers, Piece, Values};

/// A column as the caller gave it.
pub(crate) enum Given<'py> {
    /// A NumPy array of numbers.
    Array(Array<'py>),
    /// Counts of `count` `unit` since 1970.
    Stamps { array: Array<'py>, unit: String, count: i64, naive: bool },
    /// Codes and what they stand for.
    Codes(Array<'py>, Vec<Bound<'py, PyAny>>),
    /// A column of another library, or a field of its table.
    Arrow { table: Rc<Imported>, field: Option<String>, argument: &'static str },
    /// A list of anything.
    Objects(Bound<'py, PyAny>),
    /// Times that had to be read one by one; `NO_TIME` where missing.
    Times(Vec<i64>, bool),
    /// Readings that had to be read one by one.
    Readings(Vec<f64>, Vec<Censor>),
}

impl<'py> Given<'py> {
    pub(crate) fn new(values: &Bound<'py, PyAny>, argument: &'static str) -> PyResult<Given<'py>> {
        let py = values.py();
        let found = py.import("glycemic._people")?.getattr("column")?.call1((values, argument))?;
        let (kind, data, more, unit, count): (
            String,
            Bound<'_, PyAny>,
            Bound<'_, PyAny>,
            String,
            i64,
        ) = found.extract()?;
        let array = || {
            Array::new(&data).ok_or_else(|| {
                let message = format!("{argument}: an array that can't be read");
                raise(&message, "column_type", argument, None)
            })
        };
        Ok(match kind.as_str() {
            // Whole milliseconds that became floats because some were missing.
            "numbers" if argument == "times" && !array()?.values().are_whole() => {
                return one_by_one(values);
            }
            "numbers" => Given::Array(array()?),
            "naive" | "aware" => {
                Given::Stamps { array: array()?, unit, count, naive: kind == "naive" }
            }
            "codes" => Given::Codes(array()?, more.extract()?),
            "arrow" => {
                let table = Rc::new(Imported::new(&data, argument)?);
                let column = table.column(None, argument)?;
                if argument == "times" && (column.is_text() || column.is_float()) {
                    return one_by_one(values);
                }
                Given::Arrow { table, field: None, argument }
            }
            _ if argument == "times" => return one_by_one(&data),
            _ => Given::Objects(data),
        })
    }

    /// Glucose, which may be text such as `LOW`.
    pub(crate) fn glucose(values: &Bound<'py, PyAny>, unit: Unit) -> PyResult<Given<'py>> {
        let given = Given::new(values, "glucose")?;
        let text = match &given {
            Given::Arrow { .. } => given.arrow()?.is_some_and(|c| c.is_text()),
            Given::Objects(_) => true,
            _ => false,
        };
        if text {
            let (values, censor) = convert::glucose(values, unit)?;
            return Ok(Given::Readings(values, censor));
        }
        Ok(given)
    }

    /// A column of a table.
    pub(crate) fn field(
        table: &Rc<Imported>,
        name: &str,
        argument: &'static str,
    ) -> PyResult<Given<'py>> {
        table.column(Some(name), argument)?;
        Ok(Given::Arrow { table: Rc::clone(table), field: Some(name.to_string()), argument })
    }

    pub(crate) fn arrow(&self) -> PyResult<Option<ArrowColumn<'_>>> {
        match self {
            Given::Arrow { table, field, argument } => {
                table.column(field.as_deref(), argument).map(Some)
            }
            _ => Ok(None),
        }
    }
}

/// Times that are text, datetimes or floats, with the rules and messages of `Trace`.
fn one_by_one<'py>(values: &Bound<'py, PyAny>) -> PyResult<Given<'py>> {
    let present = convert::present(values)?;
    let kept = convert::only(values, &present)?;
    let stamps = convert::stamps(&kept, "times")?;
    let mut found = stamps.ms.into_iter();
    let times = present.iter().map(|&p| if p { found.next() } else { None });
    Ok(Given::Times(times.map(|t| t.unwrap_or(NO_TIME)).collect(), stamps.naive))
}

/// Times as counts of a unit.
pub(crate) struct Times<'a> {
    counts: Numbers<'a>,
    times: i64,
    over: i64,
}

impl<'a> Times<'a> {
    /// The times, and whether they are local ones.
    pub(crate) fn new(given: &'a Given<'_>) -> PyResult<(Times<'a>, bool)> {
        let alone = |values| Numbers::new(vec![Piece { values, valid: None }]);
        if let Some(column) = given.arrow()? {
            let kind = column.format().into_owned();
            let counts = column.numbers()?;
            if column.is_coded() || !counts.are_whole() {
                return Err(not_times());
            }
            let Some(rest) = kind.strip_prefix("ts") else {
                return Ok((Times { counts, times: 1, over: 1 }, false));
            };
            let (unit, zone) = rest.split_once(':').unwrap_or((rest, ""));
            let unit = match unit {
                "m" => "ms",
                "u" => "us",
                "n" => "ns",
                other => other,
            };
            let (times, over) = scale(unit).ok_or_else(not_times)?;
            return Ok((Times { counts, times, over }, zone.is_empty()));
        }
        match given {
            Given::Stamps { array, unit, count, naive } => {
                let (times, over) = scale(unit).ok_or_else(|| {
                    let message = format!("times: datetime64[{unit}] is not a time of day");
                    raise(&message, "time_type", "times", None)
                })?;
                let times = times.saturating_mul(*count);
                Ok((Times { counts: alone(array.values()), times, over }, *naive))
            }
            Given::Array(array) if array.values().are_whole() => {
                Ok((Times { counts: alone(array.values()), times: 1, over: 1 }, false))
            }
            Given::Times(ms, naive) => {
                let counts = alone(Values::I64(ms.as_slice().into()));
                Ok((Times { counts, times: 1, over: 1 }, *naive))
            }
            _ => Err(not_times()),
        }
    }

    fn scaled(&self, counts: &mut [i64]) {
        if (self.times, self.over) == (1, 1) {
            return;
        }
        for t in counts.iter_mut().filter(|t| **t != NO_TIME) {
            *t = t.saturating_mul(self.times).div_euclid(self.over);
        }
    }
}

fn not_times() -> PyErr {
    let message = "times must be datetimes, ISO text or whole epoch milliseconds";
    raise(message, "time_type", "times", None)
}

/// Milliseconds as (times, over) counts of a unit.
fn scale(unit: &str) -> Option<(i64, i64)> {
    Some(match unit {
        "W" => (604_800_000, 1),
        "D" => (86_400_000, 1),
        "h" => (3_600_000, 1),
        "m" => (60_000, 1),
        "s" => (1000, 1),
        "ms" => (1, 1),
        "us" => (1, 1000),
        "ns" => (1, 1_000_000),
        _ => return None,
    })
}

/// Readings as numbers, and which stand at a limit.
pub(crate) struct Glucose<'a> {
    values: Numbers<'a>,
    censor: &'a [Censor],
}

impl<'a> Glucose<'a> {
    pub(crate) fn new(given: &'a Given<'_>) -> PyResult<Glucose<'a>> {
        let alone = |values| Numbers::new(vec![Piece { values, valid: None }]);
        if let Some(column) =
            given.arrow()?.filter(|c| !c.is_coded() && !c.format().starts_with("ts"))
        {
            return Ok(Glucose { values: column.numbers()?, censor: &[] });
        }
        match given {
            Given::Array(array) => Ok(Glucose { values: alone(array.values()), censor: &[] }),
            Given::Readings(values, censor) => {
                let marked = censor.iter().any(|c| *c != Censor::None);
                let values = alone(Values::F64(values.as_slice().into()));
                Ok(Glucose { values, censor: if marked { censor } else { &[] } })
            }
            _ => Err(raise("glucose must be numbers", "not_numbers", "glucose", None)),
        }
    }
}

/// Times and glucose for the core.
pub(crate) struct Source<'a> {
    times: Times<'a>,
    glucose: Glucose<'a>,
}

impl<'a> Source<'a> {
    pub(crate) fn new(times: Times<'a>, glucose: Glucose<'a>) -> PyResult<Source<'a>> {
        require_same_len("glucose", times.counts.len(), glucose.values.len()).map_err(to_py)?;
        Ok(Source { times, glucose })
    }
}

impl Readings for Source<'_> {
    fn len(&self) -> usize {
        self.times.counts.len()
    }

    fn run(&self, rows: Range<usize>, out: &mut Stretch) {
        let before = out.times_ms.len();
        self.times.counts.run(rows.clone(), &mut out.times_ms);
        self.times.scaled(&mut out.times_ms[before..]);
        self.glucose.values.run(rows.clone(), &mut out.glucose);
        out.censor.extend_from_slice(self.glucose.censor.get(rows).unwrap_or(&[]));
    }

    fn pick(&self, rows: &[u32], out: &mut Stretch) {
        let before = out.times_ms.len();
        self.times.counts.pick(rows, &mut out.times_ms);
        self.times.scaled(&mut out.times_ms[before..]);
        self.glucose.values.pick(rows, &mut out.glucose);
        let censor = self.glucose.censor;
        out.censor.extend(rows.iter().filter_map(|&r| censor.get(r as usize)));
    }
}
