//! Reading a trial's folder.
//!
//! Only `sensor.csv` is needed. Every bad row of every file is found before anything is said;
//! by default they stop the read, all of them in one error.

use std::path::Path;

use super::columns::COLUMNS;
use super::config::Config;
use super::files;
use super::records::{Note, Sleep, Wear};
use super::rows::Rows;
use crate::clock::LocalClock;
use crate::error::{Error, Problem};
use crate::meals::{Activity, Meal, Responses, Targets, Window, responses};
use crate::series::{Meter, Trace};

/// What to do about rows that can't be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum OnBadRows {
    /// Stop, and say all of them.
    #[default]
    Stop,
    /// Read on without them, and list them in the review.
    Skip,
}

impl std::str::FromStr for OnBadRows {
    type Err = Error;
    fn from_str(text: &str) -> Result<OnBadRows, Error> {
        match text {
            "stop" => Ok(OnBadRows::Stop),
            "skip" => Ok(OnBadRows::Skip),
            _ => Err(Error::UnknownChoice {
                name: "on_bad_rows",
                got: text.into(),
                choices: "stop, skip",
            }),
        }
    }
}

/// One person's trial.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Trial {
    /// The sensor.
    pub sensor: Trace,
    /// The finger-stick meter; empty without one.
    pub meter: Meter,
    /// The diary's meals, in order of time.
    pub meals: Vec<Meal>,
    /// Walks and exercise.
    pub activity: Vec<Activity>,
    /// Nights.
    pub sleep: Vec<Sleep>,
    /// Symptoms, stress and the rest.
    pub notes: Vec<Note>,
    /// What happened to the sensor.
    pub wear: Vec<Wear>,
    /// The person's own targets.
    pub targets: Targets,
    /// What `trial.json` said.
    pub config: Config,
    /// Rows left out, when the read was told to skip them.
    pub problems: Vec<Problem>,
    /// Optional tables that the folder does not have.
    pub absent: Vec<String>,
}

impl Trial {
    /// Reads a folder.
    ///
    /// # Errors
    /// [`Error::File`] for a folder or file that can't be read, [`Error::MissingColumn`],
    /// [`Error::UnknownZone`], and [`Error::BadRows`] unless they are skipped.
    pub fn read(folder: impl AsRef<Path>, on_bad_rows: OnBadRows) -> Result<Trial, Error> {
        let folder = folder.as_ref();
        if !folder.is_dir() {
            let why =
                "not a folder; a trial is a folder with at least sensor.csv in it".to_string();
            return Err(Error::File { path: folder.display().to_string(), why });
        }
        let config = Config::read(folder)?;
        let clock = match &config.zone {
            Some(name) => LocalClock::from_zone(name)?,
            None => LocalClock::floating(),
        };
        let mut problems = Vec::new();
        let Some(rows) = open(folder, &config, "sensor")? else {
            let why = "there is no sensor.csv; name another file in trial.json".to_string();
            return Err(Error::File { path: folder.display().to_string(), why });
        };
        let read_sensor = files::sensor(&rows, &config, &clock, &mut problems);
        let trial = match read_sensor {
            Ok(sensor) => rest(folder, config, &clock, sensor, problems)?,
            Err(error) if problems.is_empty() => return Err(error),
            // Without the bad rows it still is no trace: that is the news.
            Err(error) if on_bad_rows == OnBadRows::Skip && error.code() != "file" => {
                return Err(error);
            }
            Err(error) => {
                // That no row is left follows from the bad rows.
                if error.code() != "file" {
                    problems.push(whole_file(&error));
                }
                return Err(Error::BadRows { problems });
            }
        };
        if on_bad_rows == OnBadRows::Stop && !trial.problems.is_empty() {
            return Err(Error::BadRows { problems: trial.problems });
        }
        Ok(trial)
    }

    /// The responses to all meals, with everything the diary knows; window 30 minutes before to
    /// 180 after.
    ///
    /// # Errors
    /// As [`responses()`].
    pub fn responses(&self, seed: u64) -> Result<Responses, Error> {
        let window = Window { before_min: 30.0, after_min: 180.0 };
        responses(&self.sensor, &self.meals, &self.activity, self.targets, window, seed)
    }

    /// The local clock of the trial; a read trial always has one.
    pub fn clock(&self) -> LocalClock {
        self.sensor.clock().cloned().unwrap_or_else(LocalClock::floating)
    }
}

/// What is wrong with a file as a whole, beside its bad rows.
fn whole_file(error: &Error) -> Problem {
    Problem {
        file: error.file().unwrap_or_default().to_string(),
        line: 0,
        column: String::new(),
        code: error.code().to_string(),
        message: error.to_string(),
    }
}

fn open(folder: &Path, config: &Config, name: &str) -> Result<Option<Rows>, Error> {
    match COLUMNS.iter().find(|c| c.0 == name) {
        Some((_, required, optional)) => {
            Rows::read(folder, name, &config.file(name), required, optional)
        }
        None => Ok(None),
    }
}

fn rest(
    folder: &Path,
    config: Config,
    clock: &LocalClock,
    sensor: Trace,
    problems: Vec<Problem>,
) -> Result<Trial, Error> {
    let times = sensor.times_ms();
    let span = (times[0], times[times.len() - 1]);
    let mut trial = Trial {
        targets: config.targets,
        sensor,
        meter: Meter::default(),
        meals: Vec::new(),
        activity: Vec::new(),
        sleep: Vec::new(),
        notes: Vec::new(),
        wear: Vec::new(),
        config,
        problems,
        absent: Vec::new(),
    };
    let mut problems = std::mem::take(&mut trial.problems);
    for (name, _, _) in &COLUMNS[1..] {
        let Some(rows) = open(folder, &trial.config, name)? else {
            trial.absent.push(name.to_string());
            continue;
        };
        match *name {
            "meter" => {
                trial.meter = files::meter(&rows, &trial.config, clock, span, &mut problems)?
            }
            "meals" => trial.meals = files::meals(&rows, clock, span, &mut problems),
            "activity" => trial.activity = files::activity(&rows, clock, &mut problems),
            "sleep" => trial.sleep = files::sleep(&rows, clock, &mut problems),
            "wear" => trial.wear = files::wear(&rows, clock, &mut problems),
            _ => trial.notes = files::notes(&rows, clock, &mut problems),
        }
    }
    trial.problems = problems;
    let inserted: Vec<i64> =
        trial.wear.iter().filter(|w| w.event == "inserted").map(|w| w.time_ms).collect();
    let later: Vec<i64> = inserted.into_iter().filter(|t| *t > span.0).collect();
    trial.sensor = trial.sensor.with_breaks(later);
    Ok(trial)
}
