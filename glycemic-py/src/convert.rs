//! What Python hands over, as what the core takes: instants, columns of numbers, glucose.
//!
//! The small module `_coerce` finds the numbers in a column of any library; the meaning of a
//! time (zone, unit, NaT, doubled hour) and of text in place of a number is settled here.

use chrono::{DateTime, NaiveDateTime};
use glycemic_core::Error;
use glycemic_core::clock::{LocalClock, Resolved};
use glycemic_core::series::Censor;
use glycemic_core::units::Unit;
use numpy::{PyArray1, PyReadonlyArray1};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::error::{raise, to_py};

/// Instants outside 1990 to 2100 are taken as mistakes of unit.
const PLAUSIBLE_MS: std::ops::RangeInclusive<i64> = 631_152_000_000..=4_102_444_800_000;

/// Times as given: milliseconds since 1970, UTC or on a local clock.
pub(crate) struct Stamps {
    pub(crate) ms: Vec<i64>,
    /// Written without a zone or an offset.
    pub(crate) naive: bool,
}

fn coerce<'py>(py: Python<'py>, function: &str) -> PyResult<Bound<'py, PyAny>> {
    py.import("glycemic._coerce")?.getattr(function)
}

/// Reads a column of times.
pub(crate) fn stamps(values: &Bound<'_, PyAny>, argument: &str) -> PyResult<Stamps> {
    let py = values.py();
    let (kind, data, unit, count): (String, Bound<'_, PyAny>, String, i64) =
        coerce(py, "times")?.call1((values, argument))?.extract()?;
    if kind == "objects" {
        return from_objects(&data, argument);
    }
    let raw: PyReadonlyArray1<'_, i64> = data.extract()?;
    let raw = raw.as_array();
    if kind == "int" {
        return Ok(Stamps { ms: raw.to_vec(), naive: false });
    }
    let (times, over) = match unit.as_str() {
        "W" => (604_800_000, 1),
        "D" => (86_400_000, 1),
        "h" => (3_600_000, 1),
        "m" => (60_000, 1),
        "s" => (1000, 1),
        "ms" => (1, 1),
        "us" => (1, 1000),
        "ns" => (1, 1_000_000),
        _ => {
            let message = format!("{argument}: datetime64[{unit}] is not a time of day");
            return Err(raise(&message, "time_type", argument, None));
        }
    };
    let mut ms = Vec::with_capacity(raw.len());
    for (index, &value) in raw.iter().enumerate() {
        if value == i64::MIN {
            return Err(missing_time(argument, index));
        }
        let scaled = value.checked_mul(count).and_then(|v| v.checked_mul(times));
        let Some(scaled) = scaled else {
            let why = "it is outside what can be counted";
            return Err(to_py(Error::ImplausibleTime { index, value, why }));
        };
        ms.push(scaled.div_euclid(over));
    }
    Ok(Stamps { ms, naive: kind == "naive" })
}

fn missing_time(argument: &str, index: usize) -> PyErr {
    let message = format!("{argument}: there is no time at index {index}");
    raise(&message, "missing_time", argument, Some(index))
}

fn from_objects(list: &Bound<'_, PyAny>, argument: &str) -> PyResult<Stamps> {
    let mut out = Stamps { ms: Vec::with_capacity(list.len()?), naive: false };
    for (index, item) in list.try_iter()?.enumerate() {
        let (ms, naive) = one(&item?, argument, index)?;
        if index > 0 && naive != out.naive {
            let message = format!(
                "{argument}: some times have an offset from UTC and some have none, first at index {index}"
            );
            return Err(raise(&message, "mixed_times", argument, Some(index)));
        }
        out.naive = naive;
        out.ms.push(ms);
    }
    Ok(out)
}

/// One time: (milliseconds, whether naive).
fn one(item: &Bound<'_, PyAny>, argument: &str, index: usize) -> PyResult<(i64, bool)> {
    if item.is_none() || item.ne(item)? || item.get_type().name()? == "NAType" {
        return Err(missing_time(argument, index));
    }
    if let Ok(text) = item.cast::<PyString>() {
        let text = text.to_string();
        return parse(&text).ok_or_else(|| {
            let message = format!(
                "{argument}: \"{text}\" at index {index} is not an ISO 8601 date and time, such as 2025-03-14T07:30"
            );
            raise(&message, "time_format", argument, Some(index))
        });
    }
    if let Ok(ms) = item.extract::<i64>() {
        return Ok((ms, false));
    }
    if item.hasattr("utcoffset")? && item.hasattr("replace")? {
        let naive = item.call_method0("utcoffset")?.is_none();
        let py = item.py();
        let aware = if naive {
            let fields = PyDict::new(py);
            fields
                .set_item("tzinfo", py.import("datetime")?.getattr("timezone")?.getattr("utc")?)?;
            item.call_method("replace", (), Some(&fields))?
        } else {
            item.clone()
        };
        let seconds: f64 = aware.call_method0("timestamp")?.extract()?;
        return Ok(((seconds * 1e6).round().div_euclid(1e3) as i64, naive));
    }
    let message = format!(
        "{argument}: the item at index {index} is a {}, not a time",
        item.get_type().name()?
    );
    Err(raise(&message, "time_type", argument, Some(index)))
}

/// ISO 8601 with or without offset and seconds: (milliseconds, whether naive).
fn parse(text: &str) -> Option<(i64, bool)> {
    let mut text = text.trim().replacen(' ', "T", 1).replace(' ', "");
    if text.ends_with(['Z', 'z']) {
        text.pop();
        text.push_str("+00:00");
    }
    for format in ["%Y-%m-%dT%H:%M:%S%.f%z", "%Y-%m-%dT%H:%M%z"] {
        if let Ok(at) = DateTime::parse_from_str(&text, format) {
            return Some((at.timestamp_millis(), false));
        }
    }
    for format in ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M"] {
        if let Ok(at) = NaiveDateTime::parse_from_str(&text, format) {
            return Some((at.and_utc().timestamp_millis(), true));
        }
    }
    None
}

/// Local times as instants; the doubled and the missing hour are errors with their index.
fn resolve(local: &[i64], clock: &LocalClock) -> PyResult<Vec<i64>> {
    if clock.is_floating() {
        return Ok(local.to_vec());
    }
    let one = |(index, &ms): (usize, &i64)| {
        let what = match clock.resolve(ms) {
            Resolved::One(utc) => return Ok(utc),
            Resolved::Doubled(..) => "occurs twice",
            _ => "does not occur",
        };
        let text = LocalClock::floating().text(ms);
        Err(to_py(Error::LocalTime { index, text, zone: clock.name().to_string(), what }))
    };
    local.iter().enumerate().map(one).collect()
}

/// Instants and clock of a series that is being made.
pub(crate) fn located(
    stamps: Stamps,
    zone: Option<LocalClock>,
) -> PyResult<(Vec<i64>, Option<LocalClock>)> {
    match (stamps.naive, zone) {
        (false, zone) => Ok((stamps.ms, zone)),
        (true, None) => Ok((stamps.ms, Some(LocalClock::floating()))),
        (true, Some(clock)) => Ok((resolve(&stamps.ms, &clock)?, Some(clock))),
    }
}

/// Instants on the clock of a series that exists.
pub(crate) fn on_clock(
    stamps: Stamps,
    clock: Option<&LocalClock>,
    argument: &str,
) -> PyResult<Vec<i64>> {
    if let Some(index) = stamps.ms.iter().position(|t| !PLAUSIBLE_MS.contains(t)) {
        let why = "it lies outside 1990 to 2100; are these milliseconds?";
        return Err(to_py(Error::ImplausibleTime { index, value: stamps.ms[index], why }));
    }
    match (stamps.naive, clock) {
        (false, _) => Ok(stamps.ms),
        (true, Some(clock)) => resolve(&stamps.ms, clock),
        (true, None) if stamps.ms.is_empty() => Ok(Vec::new()),
        (true, None) => {
            let message = format!(
                "{argument} are local times, but the trace has no zone: give it one, or use times with an offset"
            );
            Err(raise(&message, "no_zone", argument, None))
        }
    }
}

/// A column of times in which some may be missing.
pub(crate) fn some_on_clock(
    values: &Bound<'_, PyAny>,
    clock: Option<&LocalClock>,
    argument: &str,
) -> PyResult<Vec<Option<i64>>> {
    let present = present(values)?;
    let kept = only(values, &present)?;
    let mut found = on_clock(stamps(&kept, argument)?, clock, argument)?.into_iter();
    Ok(present.iter().map(|&p| if p { found.next() } else { None }).collect())
}

/// Which items of a column of times are there.
pub(crate) fn present(values: &Bound<'_, PyAny>) -> PyResult<Vec<bool>> {
    coerce(values.py(), "present")?.call1((values,))?.extract()
}

/// The items of a column to keep.
pub(crate) fn only<'py>(values: &Bound<'py, PyAny>, keep: &[bool]) -> PyResult<Bound<'py, PyAny>> {
    coerce(values.py(), "only")?.call1((values, keep))
}

/// A zone: an IANA name, a `ZoneInfo`, a fixed `timezone`, or (from_utc_ms, offset_min) steps.
pub(crate) fn zone(value: Option<&Bound<'_, PyAny>>) -> PyResult<Option<LocalClock>> {
    let Some(value) = value else { return Ok(None) };
    if let Ok(name) = value.extract::<String>() {
        return LocalClock::from_zone(&name).map(Some).map_err(to_py);
    }
    if let Ok(steps) = value.extract::<Vec<(i64, i32)>>() {
        return LocalClock::from_steps("given offsets", &steps).map(Some).map_err(to_py);
    }
    if let Ok(name) = value.getattr("key").and_then(|k| k.extract::<String>()) {
        return LocalClock::from_zone(&name).map(Some).map_err(to_py);
    }
    if value.hasattr("utcoffset")? {
        let offset = value.call_method1("utcoffset", (value.py().None(),))?;
        if !offset.is_none() {
            let seconds: f64 = offset.call_method0("total_seconds")?.extract()?;
            return Ok(Some(LocalClock::fixed((seconds / 60.0) as i32)));
        }
    }
    let message = "zone must be a name such as Europe/Lisbon, a ZoneInfo, a timezone with a fixed \
                   offset, or a list of (from_utc_ms, offset_min)";
    Err(raise(message, "unknown_zone", "zone", None))
}

/// A column of numbers; missing items are NaN.
pub(crate) fn floats(values: &Bound<'_, PyAny>, argument: &str) -> PyResult<Vec<f64>> {
    let array: PyReadonlyArray1<'_, f64> =
        coerce(values.py(), "floats")?.call1((values, argument))?.extract()?;
    Ok(array.as_array().to_vec())
}

/// A column of numbers, missing items as `None`; an infinite or negative one is an error.
pub(crate) fn amounts(
    values: &Bound<'_, PyAny>,
    argument: &'static str,
) -> PyResult<Vec<Option<f64>>> {
    let values = floats(values, argument)?;
    let bad = |v: &f64| v.is_infinite() || *v < 0.0;
    if let Some(index) = values.iter().position(bad) {
        let (low, high, value) = (0.0, f64::MAX, values[index]);
        let name = argument;
        return Err(to_py(Error::OutOfRange { name, index: Some(index), value, low, high }));
    }
    Ok(values.into_iter().map(|v| if v.is_nan() { None } else { Some(v) }).collect())
}

/// A column of text.
pub(crate) fn texts(values: &Bound<'_, PyAny>) -> PyResult<Vec<Option<String>>> {
    coerce(values.py(), "texts")?.call1((values,))?.extract()
}

/// Whole numbers that stand for labels.
pub(crate) fn codes(values: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Vec<i64>>> {
    let Some(values) = values else { return Ok(None) };
    let array: PyReadonlyArray1<'_, i64> =
        coerce(values.py(), "codes")?.call1((values,))?.extract()?;
    Ok(Some(array.as_array().to_vec()))
}

/// The columns of any frame.
pub(crate) fn columns<'py>(
    frame: &Bound<'py, PyAny>,
    argument: &str,
) -> PyResult<Bound<'py, PyDict>> {
    Ok(coerce(frame.py(), "columns")?.call1((frame, argument))?.cast_into::<PyDict>()?)
}

/// One column of a frame, or an error that names those there are.
pub(crate) fn column<'py>(
    columns: &Bound<'py, PyDict>,
    name: &str,
    frame: &str,
) -> PyResult<Bound<'py, PyAny>> {
    match columns.get_item(name)? {
        Some(column) => Ok(column),
        None => {
            let found: Vec<String> = columns.keys().iter().map(|k| k.to_string()).collect();
            let found = found.join(", ");
            let (file, column) = (frame.to_string(), name.to_string());
            Err(to_py(Error::MissingColumn { file, column, found }))
        }
    }
}

/// Glucose in `unit`: values, NaN where missing, and which stand at a limit of the device.
pub(crate) fn glucose(values: &Bound<'_, PyAny>, unit: Unit) -> PyResult<(Vec<f64>, Vec<Censor>)> {
    let data = coerce(values.py(), "glucose")?.call1((values,))?;
    if let Ok(array) = data.extract::<PyReadonlyArray1<'_, f64>>() {
        let values = array.as_array().to_vec();
        let censor = vec![Censor::None; values.len()];
        return Ok((values, censor));
    }
    let mut out = (Vec::new(), Vec::new());
    for (index, item) in data.try_iter()?.enumerate() {
        let item = item?;
        let (value, censor) = if item.is_none() {
            (f64::NAN, Censor::None)
        } else if let Ok(text) = item.cast::<PyString>() {
            reading(&text.to_string(), unit).ok_or_else(|| {
                let message = format!("glucose: \"{text}\" at index {index} is not a reading");
                raise(&message, "not_numbers", "glucose", Some(index))
            })?
        } else if let Ok(number) = item.extract::<f64>() {
            (number, Censor::None)
        } else {
            let message = format!("glucose: the item at index {index} is not a reading");
            return Err(raise(&message, "not_numbers", "glucose", Some(index)));
        };
        out.0.push(value);
        out.1.push(censor);
    }
    Ok(out)
}

/// A reading written as text: a number, `LOW`, `HIGH`, `<40` or `>400`; empty is missing.
fn reading(text: &str, unit: Unit) -> Option<(f64, Censor)> {
    let text = text.trim().to_ascii_lowercase();
    let (low, high) = match unit {
        Unit::MmolL => (2.2, 22.2),
        _ => (40.0, 400.0),
    };
    match text.as_str() {
        "" => return Some((f64::NAN, Censor::None)),
        "low" | "lo" => return Some((low, Censor::Low)),
        "high" | "hi" => return Some((high, Censor::High)),
        _ => {}
    }
    let number = |rest: &str| rest.trim().parse::<f64>().ok();
    if let Some(rest) = text.strip_prefix('<') {
        return number(rest).map(|v| (v, Censor::Low));
    }
    if let Some(rest) = text.strip_prefix('>') {
        return number(rest).map(|v| (v, Censor::High));
    }
    number(&text).map(|v| (v, Censor::None))
}

/// Numbers as a NumPy array that can't be written to.
pub(crate) fn array<T: numpy::Element>(py: Python<'_>, values: &[T]) -> PyResult<Py<PyAny>> {
    let array = PyArray1::from_slice(py, values);
    array.getattr("flags")?.setattr("writeable", false)?;
    Ok(array.into_any().unbind())
}

/// The same where some are missing, as NaN.
pub(crate) fn array_of_some(py: Python<'_>, values: &[Option<f64>]) -> PyResult<Py<PyAny>> {
    let values: Vec<f64> = values.iter().map(|v| v.unwrap_or(f64::NAN)).collect();
    array(py, &values)
}
