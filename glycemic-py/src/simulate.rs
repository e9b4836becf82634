//! Simulated trials with known truth.

use glycemic_core::simulate::{self, Class, Scenario, Simulated};
use glycemic_core::{Error, Table};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::error::{compute, guard, to_py};
use crate::table::PyTable;

/// Ids of the scenarios that can be simulated.
#[pyfunction]
fn scenarios() -> Vec<&'static str> {
    Scenario::all().iter().map(|s| s.id).collect()
}

/// The scenario asked for, with a person drawn from `people` by the seed and other days of wear.
fn wanted(
    scenario: &str,
    seed: u64,
    people: Option<&str>,
    days: Option<u32>,
) -> Result<Scenario, Error> {
    let unknown =
        |name, got: &str, choices| Error::UnknownChoice { name, got: got.to_string(), choices };
    let mut found = Scenario::named(scenario)
        .ok_or_else(|| unknown("scenario", scenario, "those of simulate.scenarios()"))?;
    if let Some(people) = people {
        let class = match people {
            "healthy" => Class::Healthy,
            "intermediate" => Class::Intermediate,
            "resistant" => Class::Resistant,
            _ => return Err(unknown("people", people, "healthy, intermediate, resistant")),
        };
        found.person = simulate::person(class, seed);
    }
    if let Some(days) = days {
        glycemic_core::error::require_within("days", f64::from(days), 1.0, 400.0)?;
        found.days = days;
    }
    Ok(found)
}

/// A simulated trial as tables, beside its truth.
///
/// Parameters
/// ----------
/// scenario : str
///     One of `scenarios()`.
/// seed : int
///     Same arguments, same trial.
/// people : str, optional
///     "healthy", "intermediate" or "resistant": a person drawn from these by the seed, instead of
///     the scenario's own.
/// days : int, optional
///     Days of wear, 1 to 400, instead of the scenario's.
/// full : bool
///     Whether the truth holds also what takes a second or two (limits, effect of a walk, long run).
///
/// Returns
/// -------
/// SimulatedTrial
///     With `tables` (dict of str to Table: sensor, meter, meals, activity, sleep, notes, wear,
///     true_trace; times in epoch ms UTC) and `truth` (dict; mg/dL, g, minutes).
///
/// Raises
/// ------
/// GlycemicError
///     An unknown scenario or people, or days out of range.
///
/// Notes
/// -----
/// The people are invented. Oral glucose model of Dalla Man (2007), sensor noise of Breton and
/// Kovatchev (2008); no basis for anyone's treatment.
///
/// Examples
/// --------
/// >>> made = gly.simulate.trial("demo", seed=1)
/// >>> made.truth["meter_clock_ahead_min"], len(made.tables["meals"]["label"])
/// (12, 45)
#[pyfunction]
#[pyo3(signature = (scenario="demo", seed=1, people=None, days=None, full=false))]
fn trial(
    py: Python<'_>,
    scenario: &str,
    seed: u64,
    people: Option<&str>,
    days: Option<u32>,
    full: bool,
) -> PyResult<PySimulated> {
    guard(|| {
        let scenario = wanted(scenario, seed, people, days).map_err(to_py)?;
        let make = if full { simulate::full_trial } else { simulate::trial };
        let (people, inner) =
            (people.map(str::to_string), compute(py, || Ok(make(&scenario, seed)))?);
        Ok(PySimulated { inner, people, days, full })
    })
}

/// A simulated trial: what was written down, and what was true.
#[pyclass(name = "SimulatedTrial", module = "glycemic", frozen)]
pub(crate) struct PySimulated {
    inner: Simulated,
    people: Option<String>,
    days: Option<u32>,
    full: bool,
}

#[pymethods]
impl PySimulated {
    /// Id of the scenario.
    #[getter]
    fn scenario(&self) -> &'static str {
        self.inner.scenario.id
    }

    /// The seed.
    #[getter]
    fn seed(&self) -> u64 {
        self.inner.seed
    }

    /// What was written down, and the noise-free trace, by name.
    #[getter]
    fn tables<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (name, table) in self.inner.tables() {
            dict.set_item(name, PyTable::new(table, true))?;
        }
        Ok(dict)
    }

    /// What was true.
    #[getter]
    fn truth<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        py.import("json")?.call_method1("loads", (self.inner.truth.to_json(),))
    }

    /// Name and text of each file of the trial's folder.
    fn files<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (name, text) in self.inner.files() {
            dict.set_item(name, text)?;
        }
        Ok(dict)
    }

    /// Tables and truth as plain dicts.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let (dict, tables) = (PyDict::new(py), PyDict::new(py));
        for (name, table) in self.tables(py)?.iter() {
            tables.set_item(name, table.call_method0("to_dict")?)?;
        }
        dict.set_item("scenario", self.scenario())?;
        dict.set_item("seed", self.seed())?;
        dict.set_item("tables", tables)?;
        dict.set_item("truth", self.truth(py)?)?;
        Ok(dict)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<PySimulated>().is_ok_and(|o| o.get().inner == self.inner)
    }

    /// A pickle holds the arguments; the same arguments make the same trial.
    fn __reduce__<'py>(
        slf: &Bound<'py, Self>,
    ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let (py, s) = (slf.py(), slf.get());
        let make = py.import("glycemic")?.getattr("simulate")?.getattr("trial")?;
        let given = (s.scenario(), s.seed(), s.people.clone(), s.days, s.full);
        Ok((make, given.into_pyobject(py)?))
    }

    fn __repr__(&self) -> String {
        let s = &self.inner;
        format!(
            "SimulatedTrial({}, seed {}, {} days, {} readings, {} meals in the diary)",
            s.scenario.id,
            s.seed,
            s.scenario.days,
            s.sensor.len(),
            s.meals.len()
        )
    }
}

/// One meal of the oral glucose model's normal adult, without anything added.
///
/// Parameters
/// ----------
/// grams : float
///     Glucose eaten, 0 to 300 g.
/// minutes : int
///     Minutes to go on, at most 1440.
///
/// Returns
/// -------
/// Table
///     A row a minute: `minute`, `glucose_mg_dl`, `insulin_pmol_l`, `appearance_mg_kg_min` and
///     `production_mg_kg_min` (of glucose).
///
/// Raises
/// ------
/// GlycemicError
///     Grams or minutes out of range.
///
/// Notes
/// -----
/// Source: Dalla Man, Rizza and Cobelli, IEEE Trans Biomed Eng 2007; 54: 1740-1749; a person of
/// 78 kg, fourth-order Runge-Kutta with steps of a minute.
///
/// Examples
/// --------
/// >>> meal = gly.simulate.oral_meal(78, 300)
/// >>> round(float(max(meal["glucose_mg_dl"])), 1)
/// 158.5
#[pyfunction]
#[pyo3(signature = (grams, minutes=300))]
fn oral_meal(grams: f64, minutes: usize) -> PyResult<PyTable> {
    guard(|| {
        let meal = simulate::oral_meal(grams, minutes).map_err(to_py)?;
        let mut table = Table::new();
        let some = |values: Vec<f64>| values.into_iter().map(Some).collect::<Vec<_>>();
        table.push_i64("minute", (0..=minutes as i64).map(Some).collect()).map_err(to_py)?;
        for (name, values) in [
            ("glucose_mg_dl", meal.glucose_mg_dl),
            ("insulin_pmol_l", meal.insulin_pmol_l),
            ("appearance_mg_kg_min", meal.appearance_mg_kg_min),
            ("production_mg_kg_min", meal.production_mg_kg_min),
        ] {
            table.push_f64(name, some(values)).map_err(to_py)?;
        }
        Ok(PyTable::new(table, true))
    })
}

/// Files of a simulated trial: an invented person whose truth is known.
///
/// Parameters
/// ----------
/// scenario, seed, people, days
///     As for `trial`.
/// full : bool
///     Whether ``truth.json`` holds also the truths that take a second or two.
///
/// Returns
/// -------
/// dict of str to str
///     Name and text of each file: write them to a folder and read it with `Trial.read`.
///
/// Examples
/// --------
/// >>> sorted(gly.simulate.files("demo", seed=1, full=False))[-3:]
/// ['trial.json', 'truth.json', 'wear.csv']
#[pyfunction]
#[pyo3(signature = (scenario="demo", seed=1, full=true, people=None, days=None))]
fn files<'py>(
    py: Python<'py>,
    scenario: &str,
    seed: u64,
    full: bool,
    people: Option<&str>,
    days: Option<u32>,
) -> PyResult<Bound<'py, PyDict>> {
    trial(py, scenario, seed, people, days, full)?.files(py)
}

/// Writes the files of a simulated trial to a folder, which is made if it is not there.
///
/// Parameters
/// ----------
/// folder : path
/// scenario, seed, full, people, days
///     As for `files`.
///
/// Raises
/// ------
/// GlycemicError
///     If the folder can't be written.
#[pyfunction]
#[pyo3(signature = (folder, scenario="demo", seed=1, full=true, people=None, days=None))]
fn write(
    py: Python<'_>,
    folder: std::path::PathBuf,
    scenario: &str,
    seed: u64,
    full: bool,
    people: Option<&str>,
    days: Option<u32>,
) -> PyResult<()> {
    let made = trial(py, scenario, seed, people, days, full)?;
    guard(|| {
        compute(py, || {
            let fault = |path: &std::path::Path, e: std::io::Error| Error::File {
                path: path.display().to_string(),
                why: e.to_string(),
            };
            std::fs::create_dir_all(&folder).map_err(|e| fault(&folder, e))?;
            for (name, text) in made.inner.files() {
                let path = folder.join(name);
                std::fs::write(&path, text).map_err(|e| fault(&path, e))?;
            }
            Ok(())
        })
    })
}

pub(crate) fn register(m: &Bound<'_, PyModule>) -> PyResult<()> {
    let room = PyModule::new(m.py(), "glycemic.simulate")?;
    room.setattr("__doc__", "Simulated trials with known truth.")?;
    for function in [
        wrap_pyfunction!(scenarios, &room)?,
        wrap_pyfunction!(trial, &room)?,
        wrap_pyfunction!(oral_meal, &room)?,
        wrap_pyfunction!(files, &room)?,
        wrap_pyfunction!(write, &room)?,
    ] {
        room.add_function(function)?;
    }
    m.add_class::<PySimulated>()?;
    m.add("simulate", room)
}
