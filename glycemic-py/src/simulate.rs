//! Simulated trials with known truth.

use glycemic_core::Error;
use glycemic_core::simulate::{self, Scenario};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::error::{compute, guard, to_py};

/// Ids of the scenarios that can be simulated.
#[pyfunction]
fn scenarios() -> Vec<&'static str> {
    Scenario::all().iter().map(|s| s.id).collect()
}

/// Files of a simulated trial: an invented person whose truth is known.
///
/// Parameters
/// ----------
/// scenario : str
///     One of `scenarios()`.
/// seed : int
///     Same scenario and seed, same trial.
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
#[pyo3(signature = (scenario="demo", seed=1, full=true))]
fn files<'py>(
    py: Python<'py>,
    scenario: &str,
    seed: u64,
    full: bool,
) -> PyResult<Bound<'py, PyDict>> {
    guard(|| {
        let unknown = || Error::UnknownChoice {
            name: "scenario",
            got: scenario.to_string(),
            choices: "those of simulate.scenarios()",
        };
        let scenario = Scenario::named(scenario).ok_or_else(|| to_py(unknown()))?;
        let made = compute(py, || {
            let make = if full { simulate::full_trial } else { simulate::trial };
            Ok(make(&scenario, seed).files())
        })?;
        let dict = PyDict::new(py);
        for (name, text) in made {
            dict.set_item(name, text)?;
        }
        Ok(dict)
    })
}

/// Writes the files of a simulated trial to a folder, which is made if it is not there.
///
/// Parameters
/// ----------
/// folder : path
/// scenario, seed, full
///     As for `files`.
///
/// Raises
/// ------
/// GlycemicError
///     If the folder can't be written.
#[pyfunction]
#[pyo3(signature = (folder, scenario="demo", seed=1, full=true))]
fn write(
    py: Python<'_>,
    folder: std::path::PathBuf,
    scenario: &str,
    seed: u64,
    full: bool,
) -> PyResult<()> {
    guard(|| {
        let files: Vec<(String, String)> = files(py, scenario, seed, full)?.items().extract()?;
        compute(py, || {
            let fault = |path: &std::path::Path, e: std::io::Error| Error::File {
                path: path.display().to_string(),
                why: e.to_string(),
            };
            std::fs::create_dir_all(&folder).map_err(|e| fault(&folder, e))?;
            for (name, text) in &files {
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
    room.add_function(wrap_pyfunction!(scenarios, &room)?)?;
    room.add_function(wrap_pyfunction!(files, &room)?)?;
    room.add_function(wrap_pyfunction!(write, &room)?)?;
    m.add("simulate", room)
}
