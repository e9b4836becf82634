//! The person of each reading, from numbers, text, categories or a list.

use std::collections::HashMap;

use glycemic_core::cohort::{Codes, NO_PERSON, Name, Names, People, codes, codes_of_runs};
use pyo3::prelude::*;
use pyo3::types::PyString;

use crate::arrow_in::ArrowColumn;
use crate::cohort_columns::Given;
use crate::error::{raise, to_py};
use crate::numbers::Numbers;

/// Whose reading each row is.
pub(crate) fn people(given: &Given<'_>, argument: &str) -> PyResult<People> {
    if let Some(column) = given.arrow()? {
        return from_arrow(&column, argument);
    }
    match given {
        Given::Array(array) => from_numbers(&alone(array), argument),
        Given::Codes(array, categories) => {
            let names =
                categories.iter().map(|c| name(c, argument)).collect::<PyResult<Vec<_>>>()?;
            let mut joined = Joined::default();
            joined.add(&alone(array), &names, argument)?;
            joined.people(argument)
        }
        Given::Objects(list) => from_objects(list, argument),
        _ => Err(not_people(argument)),
    }
}

fn alone<'a>(array: &'a crate::numbers::Array<'_>) -> Numbers<'a> {
    Numbers::new(vec![crate::numbers::Piece { values: array.values(), valid: None }])
}

fn not_people(argument: &str) -> PyErr {
    let message = format!("{argument} must be whole numbers, text or categories");
    raise(&message, "person_type", argument, None)
}

fn from_arrow(column: &ArrowColumn<'_>, argument: &str) -> PyResult<People> {
    if column.is_coded() {
        let mut joined = Joined::default();
        let numbers = column.numbers()?;
        let mut from = 0;
        for (dictionary, len) in column.dictionaries()?.iter().zip(column.lengths()) {
            let names = dictionary_names(dictionary, argument)?;
            joined.add_rows(&numbers, from..from + len, &names, argument)?;
            from += len;
        }
        return joined.people(argument);
    }
    if column.is_text() {
        let texts = column.texts()?;
        let (codes, names) = codes(texts.each());
        let names = names.into_iter().map(|n| utf8(n, argument)).collect::<PyResult<_>>()?;
        return People::from_codes(codes, Names::Texts(names)).map_err(to_py);
    }
    if column.format().starts_with("ts") {
        return Err(not_people(argument));
    }
    from_numbers(&column.numbers()?, argument)
}

fn utf8(bytes: &[u8], argument: &str) -> PyResult<String> {
    String::from_utf8(bytes.to_vec()).map_err(|_| {
        raise(&format!("{argument}: a name is not UTF-8"), "person_type", argument, None)
    })
}

fn dictionary_names(column: &ArrowColumn<'_>, argument: &str) -> PyResult<Vec<Option<Name>>> {
    if column.is_text() {
        let texts = column.texts()?;
        let name = |n: Option<&[u8]>| n.map(|n| utf8(n, argument).map(Name::Text)).transpose();
        return texts.each().map(name).collect();
    }
    let numbers = column.numbers()?;
    if !numbers.are_whole() || column.is_coded() {
        return Err(not_people(argument));
    }
    Ok(numbers.each::<i64>().map(|n| n.map(Name::Number)).collect())
}

/// Floats are whole numbers that became floats because some were missing.
fn from_numbers(numbers: &Numbers<'_>, argument: &str) -> PyResult<People> {
    if !numbers.are_whole() {
        let part = |v: Option<f64>| v.is_some_and(|v| v.abs() >= 9e15 || v.fract().abs() > 0.0);
        if let Some(index) = numbers.each::<f64>().position(part) {
            let message = format!("{argument}: the item at index {index} is no whole number");
            return Err(raise(&message, "person_type", argument, Some(index)));
        }
        let whole = |v: Option<f64>| v.filter(|v| !v.is_nan()).map(|v| v as i64);
        return Ok(People::from_numbers(numbers.each::<f64>().map(whole)));
    }
    let (codes, names) = match numbers.only_i64() {
        Some(all) => {
            codes_of_runs(all.chunk_by(|a, b| a == b).map(|run| (Some(run[0]), run.len())))
        }
        None => codes(numbers.each::<i64>()),
    };
    People::from_codes(codes, Names::Numbers(names)).map_err(to_py)
}

/// Codes of several dictionaries as codes of one list of names.
#[derive(Default)]
struct Joined {
    codes: Codes,
    names: Vec<Name>,
    seen: HashMap<Name, u32>,
}

impl Joined {
    fn add(&mut self, codes: &Numbers<'_>, names: &[Option<Name>], argument: &str) -> PyResult<()> {
        self.add_rows(codes, 0..codes.len(), names, argument)
    }

    /// Negative codes are missing people, as in pandas.
    fn add_rows(
        &mut self,
        codes: &Numbers<'_>,
        rows: std::ops::Range<usize>,
        names: &[Option<Name>],
        argument: &str,
    ) -> PyResult<()> {
        let own: Vec<u32> =
            names.iter().map(|n| n.as_ref().map_or(NO_PERSON, |n| self.code(n))).collect();
        let mut raw: Vec<i64> = Vec::with_capacity(4096);
        let mut from = rows.start;
        while from < rows.end {
            let to = rows.end.min(from + 4096);
            raw.clear();
            codes.run(from..to, &mut raw);
            for (i, &code) in raw.iter().enumerate() {
                let own = match usize::try_from(code) {
                    Err(_) => NO_PERSON,
                    Ok(at) => *own.get(at).ok_or_else(|| {
                        let message = format!(
                            "{argument}: the code at index {} stands for nothing",
                            from + i
                        );
                        raise(&message, "person_type", argument, Some(from + i))
                    })?,
                };
                self.codes.push(own);
            }
            from = to;
        }
        Ok(())
    }

    fn code(&mut self, name: &Name) -> u32 {
        if let Some(&code) = self.seen.get(name) {
            return code;
        }
        let code = self.names.len() as u32;
        self.names.push(name.clone());
        self.seen.insert(name.clone(), code);
        code
    }

    fn people(self, argument: &str) -> PyResult<People> {
        let numbers: Option<Vec<i64>> = self.names.iter().map(number).collect();
        let texts = || self.names.iter().map(text).collect::<Option<Vec<String>>>();
        let names = match numbers {
            Some(numbers) => Names::Numbers(numbers),
            None => Names::Texts(texts().ok_or_else(|| {
                let message = format!("{argument}: some people are numbers and some are text");
                raise(&message, "mixed_people", argument, None)
            })?),
        };
        People::from_codes(self.codes, names).map_err(to_py)
    }
}

fn number(name: &Name) -> Option<i64> {
    match name {
        Name::Number(number) => Some(*number),
        Name::Text(_) => None,
    }
}

fn text(name: &Name) -> Option<String> {
    match name {
        Name::Text(text) => Some(text.clone()),
        Name::Number(_) => None,
    }
}

/// A person's name; `None` for what libraries write for a missing item.
fn name(item: &Bound<'_, PyAny>, argument: &str) -> PyResult<Option<Name>> {
    if let Ok(text) = item.cast::<PyString>() {
        return Ok(Some(Name::Text(text.to_str()?.to_string())));
    }
    if let Ok(number) = item.extract::<i64>() {
        return Ok(Some(Name::Number(number)));
    }
    if item.is_none() || item.get_type().name()? == "NAType" {
        return Ok(None);
    }
    match item.extract::<f64>() {
        Ok(v) if v.is_nan() => Ok(None),
        Ok(v) if v.fract() == 0.0 && v.abs() < 9e15 => Ok(Some(Name::Number(v as i64))),
        _ => {
            let kind = item.get_type().name()?.to_string();
            let message = format!("{argument}: a {kind} is no person: give whole numbers or text");
            Err(raise(&message, "person_type", argument, None))
        }
    }
}

/// A list, in which one object mostly stands many times.
fn from_objects(list: &Bound<'_, PyAny>, argument: &str) -> PyResult<People> {
    let mut joined = Joined::default();
    // The list keeps its items alive, so an address stands for one object.
    let mut by_address: HashMap<usize, u32> = HashMap::new();
    for item in list.try_iter()? {
        let item = item?;
        let address = item.as_ptr() as usize;
        let code = match by_address.get(&address) {
            Some(&code) => code,
            None => {
                let code = name(&item, argument)?.map_or(NO_PERSON, |n| joined.code(&n));
                by_address.insert(address, code);
                code
            }
        };
        joined.codes.push(code);
    }
    joined.people(argument)
}
