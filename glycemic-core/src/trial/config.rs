//! `trial.json`: who, which zone and unit, the person's own targets, and how files and columns
//! are called.

use std::collections::BTreeMap;
use std::path::Path;

use super::columns::COLUMNS;
use crate::error::Error;
use crate::meals::Targets;
use crate::units::Unit;

/// What `trial.json` says; everything has a default.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Config {
    /// A name or code for the person.
    pub person: Option<String>,
    /// IANA zone of naive times; without it they are a floating local clock.
    pub zone: Option<String>,
    /// Unit of glucose unless a file says otherwise.
    pub unit: Option<String>,
    /// What the sensor shows as below and above its range, in `unit`.
    pub sensor_limits: Option<SensorLimits>,
    /// The person's own targets, mg/dL.
    pub targets: Targets,
    /// Path, column names, time format and unit of each file, by its default name without `.csv`.
    pub files: BTreeMap<String, FileConfig>,
    /// A dated plan, written before the data were seen.
    pub plan: Option<serde_json::Value>,
    /// Free text.
    pub note: Option<String>,
}

/// The sensor's reporting range.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SensorLimits {
    /// Readings below are shown as text.
    pub low: f64,
    /// Readings above are shown as text.
    pub high: f64,
}

/// Where a table is and how it is written.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FileConfig {
    /// File name inside the folder.
    pub path: Option<String>,
    /// Our column name to the file's.
    pub columns: BTreeMap<String, String>,
    /// strftime format of times; ISO 8601 without it.
    pub time_format: Option<String>,
    /// Unit of glucose in this file.
    pub unit: Option<String>,
}

impl Config {
    /// Reads `trial.json` of a folder; a folder without one has the defaults.
    ///
    /// # Errors
    /// [`Error::File`] for JSON that can't be read, a field nobody knows, or a bad unit or target.
    pub fn read(folder: &Path) -> Result<Config, Error> {
        let path = folder.join("trial.json");
        if !path.exists() {
            return Ok(Config::default());
        }
        let fail = |why: String| Error::File { path: path.display().to_string(), why };
        let text = std::fs::read_to_string(&path).map_err(|e| fail(e.to_string()))?;
        let config: Config = serde_json::from_str(&text).map_err(|e| fail(e.to_string()))?;
        // A list would pass as the fields in their order.
        if !text.trim_start().starts_with('{') {
            return Err(fail("trial.json must be an object, in braces".into()));
        }
        config.known_names().map_err(fail)?;
        super::plan::Plan::of(&config).map_err(|e| fail(e.to_string()))?;
        for name in ["sensor", "meter"] {
            config.unit_of(name).map_err(|e| fail(e.to_string()))?;
        }
        let targets =
            [("rise_mg_dl", config.targets.rise_mg_dl), ("peak_mg_dl", config.targets.peak_mg_dl)];
        for (name, target) in targets {
            if let Some(value) = target {
                crate::error::require_within(name, value, 1.0, 1000.0)
                    .map_err(|e| fail(e.to_string()))?;
            }
        }
        Ok(config)
    }

    /// Refuses files and columns that no trial has: a slip of the pen would be passed over.
    fn known_names(&self) -> Result<(), String> {
        for (name, file) in &self.files {
            let Some((_, required, optional)) = COLUMNS.iter().find(|c| c.0 == name) else {
                let known: Vec<&str> = COLUMNS.iter().map(|c| c.0).collect();
                return Err(format!(
                    "files: unknown file \"{name}\", expected {}",
                    known.join(", ")
                ));
            };
            let known: Vec<&str> = required.iter().chain(*optional).copied().collect();
            if let Some(column) = file.columns.keys().find(|c| !known.contains(&c.as_str())) {
                return Err(format!(
                    "files, {name}: unknown column \"{column}\", expected {}",
                    known.join(", ")
                ));
            }
        }
        Ok(())
    }

    /// The settings of a file, by its default name without `.csv`.
    pub fn file(&self, name: &str) -> FileConfig {
        self.files.get(name).cloned().unwrap_or_default()
    }

    /// Unit of glucose in a file.
    ///
    /// # Errors
    /// A word that is neither mg/dL nor mmol/L.
    pub fn unit_of(&self, name: &str) -> Result<Unit, Error> {
        match self.file(name).unit.or_else(|| self.unit.clone()) {
            Some(text) => text.parse(),
            None => Ok(Unit::MgDl),
        }
    }

    /// The sensor's reporting range in `unit`; 40-400 mg/dL or 2.2-22.2 mmol/L without one
    /// (common practice, no source).
    pub fn limits(&self, unit: Unit) -> SensorLimits {
        self.sensor_limits.unwrap_or(match unit {
            Unit::MgDl => SensorLimits { low: 40.0, high: 400.0 },
            Unit::MmolL => SensorLimits { low: 2.2, high: 22.2 },
        })
    }
}
