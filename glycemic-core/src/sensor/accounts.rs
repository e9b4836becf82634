//! The accounts of a study: from sensors inserted to pairs analysed, how long sensors lasted, and
//! how accurate each was.
//!
//! # Method
//! Each sensor is paired with its person's meter over its own wear. Every meter reading of a wear
//! ends in a pair or under one reason. A sensor that failed is a failure at its end; one that was
//! completed, stopped for another reason or is still worn is censored there, a completed one at
//! its stated length at the least. Survival by Kaplan and Meier, causes by Aalen and Johansen.
//! Capture: readings after the warm-up over what the nominal interval could hold. Parts of the
//! wear are thirds of its stated length, or of the wear itself when none is stated. Clusters
//! are persons when there are three or more, else each person's local days.
//!
//! # Source
//! See [`survival`](crate::stats::survival) and [`accountability`](crate::agreement::accountability).
//! Thirds of the wear: common practice, no source.

use super::counting::Study;
use super::lives::{Life, causes, lasts, survival};
use crate::agreement::Band;
use crate::agreement::accountability::{
    Flow, LevelRate, Repeatability, RequiredShare, SensorSpread, by_sensor, level_by_rate,
    repeatability,
};
use crate::agreement::accuracy::{AccuracyRow, Options, accuracy_table};
use crate::agreement::design::{Design, Device};
use crate::align::{PairOptions, bursts};
use crate::error::{Error, require_within};
use crate::estimate::Estimate;
use crate::series::{Meter, Trace};
use crate::stats::survival::{Incidence, Survival};
use crate::table::Table;

/// How a wear ended.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum End {
    /// It lasted as long as it was meant to.
    Completed,
    /// It stopped for a reason that is none of the sensor's.
    Stopped(String),
    /// The sensor failed, and how.
    Failed(String),
    /// It is still worn.
    Worn,
}

/// One sensor of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorRecord {
    /// Its name, distinct within a person.
    pub sensor: String,
    /// Who wore it.
    pub person: String,
    /// Its lot.
    pub lot: Option<String>,
    /// Where on the body.
    pub site: Option<String>,
    /// When it was put in, UTC milliseconds.
    pub inserted_ms: i64,
    /// When it ended, or was last seen working, UTC milliseconds.
    pub ended_ms: i64,
    /// How it ended.
    pub end: End,
    /// How long it is meant to last, days.
    pub length_days: Option<f64>,
}

/// A sensor with its data.
#[derive(Clone, Copy, Debug)]
pub struct Worn<'a> {
    /// What is known of it.
    pub record: &'a SensorRecord,
    /// Its readings; `None` when there is none.
    pub trace: Option<&'a Trace>,
    /// The person's meter: readings outside the wear don't count.
    pub meter: &'a Meter,
    /// Calibrations by the user, UTC milliseconds.
    pub calibrated_ms: &'a [i64],
}

/// Choices for [`accounts`].
#[derive(Clone, Debug, PartialEq)]
pub struct AccountOptions {
    /// Rules of pairing.
    pub pairing: PairOptions,
    /// Time from insertion in which no reading is expected, minutes, 0 to 2880.
    pub warm_up_min: f64,
    /// Shares of pairs that the protocol asks for.
    pub required: Vec<RequiredShare>,
    /// Confidence level.
    pub level: f64,
}

impl Default for AccountOptions {
    fn default() -> Self {
        let (pairing, required) = (PairOptions::default(), Vec::new());
        AccountOptions { pairing, warm_up_min: 0.0, required, level: 0.95 }
    }
}

/// What one sensor gave.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorAccount {
    /// What is known of it.
    pub record: SensorRecord,
    /// Days from insertion to end.
    pub days: f64,
    /// Readings after the warm-up.
    pub readings: usize,
    /// Readings that the nominal interval could hold; `None` without readings.
    pub expected: Option<usize>,
    /// The former in percent of the latter, 100 at the most.
    pub capture_pct: Option<f64>,
    /// Pairs analysed.
    pub pairs: usize,
    /// Pairs outside the range of a device.
    pub outside: usize,
}

/// All pairs analysed, one item each.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Pooled {
    /// Comparator, mg/dL.
    pub reference_mg_dl: Vec<f64>,
    /// Sensor, mg/dL.
    pub measured_mg_dl: Vec<f64>,
    /// Rate of change by the sensor, mg/dL per minute.
    pub rate_mg_dl_min: Vec<Option<f64>>,
    /// Which of the sensors given, from 0.
    pub sensor: Vec<usize>,
    /// Day of wear, from 1.
    pub wear_day: Vec<Option<i64>>,
    /// Third of the wear: `begin`, `middle` or `end`.
    pub part: Vec<String>,
    /// Cluster for intervals.
    pub cluster: Vec<i64>,
}

/// The accounts of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct Accounts {
    /// Sensors; meter readings while worn; meter readings in pairs.
    pub flows: Vec<Flow>,
    /// A row for each sensor given.
    pub sensors: Vec<SensorAccount>,
    /// Accuracy of each sensor with a pair, named person/sensor; median, best and worst.
    pub spread: SensorSpread,
    /// How long sensors last, in days; `None` without sensors.
    pub survival: Option<Survival>,
    /// Share that lasts the stated length, when all state the same.
    pub lasts: Estimate,
    /// Causes of failure: cause k of `incidence` is the item k - 1.
    pub causes: Vec<String>,
    /// Incidence of each cause.
    pub incidence: Vec<Incidence>,
    /// Accuracy by third of the wear; the first row is all pairs. Empty without pairs.
    pub by_part: Vec<AccuracyRow>,
    /// Accuracy by lot; `unknown` where none is given.
    pub by_lot: Vec<AccuracyRow>,
    /// Accuracy by site.
    pub by_site: Vec<AccuracyRow>,
    /// Spread of the comparator's repeated readings, each meter counted once.
    pub repeatability: Repeatability,
    /// Where the pairs lie by level and rate, and what is asked.
    pub level_rate: Vec<LevelRate>,
    /// All pairs analysed.
    pub pairs: Pooled,
}

/// The accounts of any number of sensors.
///
/// # Errors
/// An end not after the insertion, a length outside 0.01-400 days, an option outside its range.
/// Nothing given, or no pair, is a reason.
///
/// # Example
/// ```
/// # use glycemic_core::sensor::accounts::{AccountOptions, End, SensorRecord, Worn, accounts};
/// # use glycemic_core::{Meter, Unit, series::Builder};
/// let (start, minute) = (1_741_000_000_000, 60_000);
/// let times: Vec<i64> = (0..=288).map(|i| start + i * 5 * minute).collect();
/// let trace = Builder::new(Unit::MgDl).build(&times, &[110.0; 289])?;
/// let taken: Vec<i64> = (1..7).map(|i| start + i * 200 * minute).collect();
/// let meter = Meter::new(&taken, &[100.0; 6], &vec![String::new(); 6], Unit::MgDl)?;
/// let record = SensorRecord {
///     sensor: "A".into(),
///     person: "1".into(),
///     lot: None,
///     site: None,
///     inserted_ms: start,
///     ended_ms: start + 1440 * minute,
///     end: End::Failed("came off".into()),
///     length_days: Some(14.0),
/// };
/// let worn = Worn { record: &record, trace: Some(&trace), meter: &meter, calibrated_ms: &[] };
/// let found = accounts(&[worn], &AccountOptions::default())?;
/// assert!(found.flows.iter().all(|f| f.adds_up()));
/// assert_eq!(found.flows[2].left, 6);
/// assert_eq!(found.lasts.value, Some(0.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn accounts(worn: &[Worn<'_>], options: &AccountOptions) -> Result<Accounts, Error> {
    require_within("level", options.level, 0.5, 0.999)?;
    require_within("warm_up_min", options.warm_up_min, 0.0, 2880.0)?;
    for (index, one) in worn.iter().enumerate() {
        check(index, one.record)?;
    }
    let (mut study, mut sensors) = (Study::default(), Vec::with_capacity(worn.len()));
    for (index, one) in worn.iter().enumerate() {
        sensors.push(study.add(index, one, options)?);
    }
    study.cluster(worn);
    let flows = study.flows(worn.len());
    let pairs = study.pairs;
    let (r, m) = (&pairs.reference_mg_dl, &pairs.measured_mg_dl);
    let label = |f: &dyn Fn(&SensorRecord) -> String| -> Vec<String> {
        pairs.sensor.iter().map(|&s| f(worn[s].record)).collect()
    };
    let name = |word: &Option<String>| word.clone().unwrap_or("unknown".to_string());
    let accuracy = |groups: &[String]| {
        if groups.is_empty() {
            return Ok(Vec::new());
        }
        let (cluster, groups) = (Some(&pairs.cluster[..]), Some(groups));
        accuracy_table(
            r,
            m,
            &Options { groups, cluster, level: options.level, ..Options::default() },
        )
    };
    let lives: Vec<Life> = worn.iter().map(|w| Life::of(w.record)).collect();
    let (causes, incidence) = causes(&lives, options.level)?;
    let survival = if lives.is_empty() { None } else { Some(survival(&lives, options.level)?) };
    Ok(Accounts {
        flows,
        sensors,
        spread: by_sensor(r, m, &label(&|s| format!("{}/{}", s.person, s.sensor)))?,
        lasts: lasts(survival.as_ref(), worn, options.level)?,
        survival,
        causes,
        incidence,
        by_part: accuracy(&pairs.part)?,
        by_lot: accuracy(&label(&|s| name(&s.lot)))?,
        by_site: accuracy(&label(&|s| name(&s.site)))?,
        repeatability: repeatability(&all_bursts(worn, options), options.level)?,
        level_rate: level_by_rate(r, &pairs.rate_mg_dl_min, &Band::CONSENSUS, &options.required)?,
        pairs,
    })
}

fn check(index: usize, record: &SensorRecord) -> Result<(), Error> {
    if record.ended_ms <= record.inserted_ms {
        return Err(Error::OutOfRange {
            name: "ended_ms",
            index: Some(index),
            value: record.ended_ms as f64,
            low: record.inserted_ms as f64 + 1.0,
            high: f64::MAX,
        });
    }
    require_within("length_days", record.length_days.unwrap_or(1.0), 0.01, 400.0)
}

/// Readings in bursts of each meter, over all wears, each meter once.
fn all_bursts(worn: &[Worn<'_>], options: &AccountOptions) -> Vec<Vec<f64>> {
    let mut seen: Vec<&Meter> = Vec::new();
    for one in worn {
        if !seen.iter().any(|m| std::ptr::eq(*m, one.meter)) {
            seen.push(one.meter);
        }
    }
    seen.into_iter().flat_map(|m| bursts(m, options.pairing.burst_min)).collect()
}

impl Accounts {
    /// Readings over expected readings of all sensors that gave any, %; `None` without them.
    pub fn capture_pct(&self) -> Option<f64> {
        let (mut had, mut expected) = (0, 0);
        for sensor in &self.sensors {
            had += sensor.readings.min(sensor.expected.unwrap_or(0));
            expected += sensor.expected.unwrap_or(0);
        }
        (expected > 0).then(|| 100.0 * had as f64 / expected as f64)
    }

    /// What is known of the study's design, for [`checklist`](crate::agreement::design::checklist).
    ///
    /// The comparator and its own rates of change are not known from here.
    pub fn design(&self) -> Design {
        let distinct = |f: &dyn Fn(&SensorRecord) -> Option<String>| {
            let mut all: Vec<String> = self.sensors.iter().filter_map(|s| f(&s.record)).collect();
            all.sort();
            all.dedup();
            all.len()
        };
        let lots = distinct(&|r| r.lot.clone());
        let days = self.pairs.wear_day.iter().flatten();
        let length = self.sensors.first().and_then(|s| s.record.length_days);
        Design {
            device: Some(Device::ContinuousSensor),
            persons: Some(distinct(&|r| Some(r.person.clone()))),
            lots: (lots > 0).then_some(lots),
            wear_days: days.clone().min().zip(days.max()).map(|(a, b)| (*a as f64, *b as f64)),
            wear_length_days: length
                .filter(|_| self.sensors.iter().all(|s| s.record.length_days == length)),
            reference_mg_dl: Some(self.pairs.reference_mg_dl.clone()),
            ..Design::default()
        }
    }

    /// A row for each sensor: who, lot, site, days, how it ended, capture, pairs, MARD, bias.
    ///
    /// # Errors
    /// None that accounts should cause.
    pub fn sensor_table(&self) -> Result<Table, Error> {
        let rows = &self.sensors;
        let mut table = Table::new();
        let text = |f: &dyn Fn(&SensorRecord) -> Option<String>| {
            rows.iter().map(|s| f(&s.record)).collect::<Vec<_>>()
        };
        table.push_text("sensor", text(&|r| Some(r.sensor.clone())))?;
        table.push_text("person", text(&|r| Some(r.person.clone())))?;
        table.push_text("lot", text(&|r| r.lot.clone()))?;
        table.push_text("site", text(&|r| r.site.clone()))?;
        table.push_f64("days", rows.iter().map(|s| Some(s.days)).collect())?;
        let end = |r: &SensorRecord| match r.end {
            End::Completed => "completed",
            End::Stopped(_) => "stopped",
            End::Failed(_) => "failed",
            End::Worn => "worn",
        };
        table.push_text("end", text(&|r| Some(end(r).to_string())))?;
        let cause = |r: &SensorRecord| match &r.end {
            End::Stopped(why) | End::Failed(why) => Some(why.clone()),
            End::Completed | End::Worn => None,
        };
        table.push_text("cause", text(&cause))?;
        table.push_i64("readings", rows.iter().map(|s| Some(s.readings as i64)).collect())?;
        table.push_i64("expected", rows.iter().map(|s| s.expected.map(|e| e as i64)).collect())?;
        table.push_f64("capture_pct", rows.iter().map(|s| s.capture_pct).collect())?;
        table.push_i64("pairs", rows.iter().map(|s| Some(s.pairs as i64)).collect())?;
        table.push_i64("outside", rows.iter().map(|s| Some(s.outside as i64)).collect())?;
        let found = |s: &SensorAccount| {
            let name = format!("{}/{}", s.record.person, s.record.sensor);
            self.spread.sensors.iter().find(|r| r.sensor == name)
        };
        let mard = rows.iter().map(|s| found(s).and_then(|r| r.mard_pct));
        table.push_f64("mard_pct", mard.collect())?;
        let bias = rows.iter().map(|s| found(s).and_then(|r| r.bias_mg_dl));
        table.push_f64("bias_mg_dl", bias.collect())?;
        Ok(table)
    }
}
