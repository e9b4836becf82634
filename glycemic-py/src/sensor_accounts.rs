//! The accounts of a study of sensors.

use std::sync::Arc;

use glycemic_core::agreement::Band;
use glycemic_core::agreement::accountability::{RequiredShare, flow_table, level_rate_table};
use glycemic_core::clock::LocalClock;
use glycemic_core::sensor::accounts::{self, AccountOptions, End, SensorRecord, Worn};
use glycemic_core::sensor::accounts_tables::accuracy_by_group;
use glycemic_core::{Error, Meter, Table, Trace};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::align::check_clocks;
use crate::align_rules::pairing_rules;
use crate::convert::{self, Stamps, amounts, texts};
use crate::error::{compute, guard, raise, to_py};
use crate::estimate::PyEstimate;
use crate::meals::{same, time_column};
use crate::meter::PyMeter;
use crate::record::record;
use crate::sensor_trace::words;
use crate::series::PyTrace;
use crate::table::PyTable;

record! {
    /// The accounts of a study of sensors. For education, coaching and research; not a medical
    /// device.
    PyAccounts as "Accounts" {
        /// From sensors inserted to pairs analysed: unit, step (had, left_out, left), reason, n.
        flow: Py<PyTable>,
        /// A row for each sensor: who, lot, site, days, end, capture, pairs, MARD, bias.
        sensors: Py<PyTable>,
        /// Readings over readings that could have come, all sensors, percent.
        capture_pct: Option<f64>,
        /// MARD of the median sensor, percent; None with a reason.
        median_mard_pct: Option<f64>,
        /// The sensor with the lowest MARD, as person/sensor, and its MARD.
        best: Option<(String, f64)>,
        /// The sensor with the highest.
        worst: Option<(String, f64)>,
        /// Why sensors can't be ranked.
        reason: Option<String>,
        /// The same as a stable word.
        reason_code: Option<String>,
        /// How long sensors last, in days, as from `sensor.survival`.
        survival: Py<PyTable>,
        /// Share that lasts the stated length.
        lasts: Py<PyEstimate>,
        /// Incidence of each cause of failure: cause, time (days), incidence, se, low, high.
        incidence: Py<PyTable>,
        /// Accuracy of all pairs, then by third of the wear.
        by_part: Py<PyTable>,
        /// The same by lot.
        by_lot: Py<PyTable>,
        /// The same by site.
        by_site: Py<PyTable>,
        /// SD of the meter's readings within bursts, mg/dL.
        repeat_sd_mg_dl: Py<PyEstimate>,
        /// The same in percent of the burst's mean.
        repeat_cv_pct: Py<PyEstimate>,
        /// Pairs by level and rate of change, then the shares asked for.
        level_rate: Py<PyTable>,
        /// A row for each pair analysed.
        pairs: Py<PyTable>,
    }
}

/// A sensor with its data, as Python gave them.
struct Given {
    record: SensorRecord,
    trace: Option<Arc<Trace>>,
    meter: Arc<Meter>,
    calibrated_ms: Vec<i64>,
}

/// Which end it was, and why.
fn end(word: Option<&str>, cause: Option<String>) -> PyResult<End> {
    let why = cause.unwrap_or_else(|| "unknown".to_string());
    match word {
        Some("completed") => Ok(End::Completed),
        Some("stopped") => Ok(End::Stopped(why)),
        Some("failed") => Ok(End::Failed(why)),
        Some("worn") => Ok(End::Worn),
        other => {
            let got = other.unwrap_or_default().to_string();
            let choices = "completed, stopped, failed, worn";
            Err(to_py(Error::UnknownChoice { name: "end", got, choices }))
        }
    }
}

/// Times of one sensor, on its own clock.
fn instants(
    values: &Bound<'_, PyAny>,
    clock: Option<&LocalClock>,
    name: &str,
) -> PyResult<Vec<i64>> {
    convert::on_clock(convert::stamps(values, name)?, clock, name)
}

/// The columns of the frame of sensors.
struct Columns {
    sensor: Vec<Option<String>>,
    person: Vec<Option<String>>,
    inserted: Stamps,
    ended: Stamps,
    end: Vec<Option<String>>,
    cause: Vec<Option<String>>,
    lot: Vec<Option<String>>,
    site: Vec<Option<String>>,
    length_days: Vec<Option<f64>>,
}

impl Columns {
    fn read(frame: &Bound<'_, PyAny>) -> PyResult<Columns> {
        let columns = convert::columns(frame, "sensors")?;
        let sensor = texts(&convert::column(&columns, "sensor", "sensors")?)?;
        let n = sensor.len();
        let text = |name: &'static str| {
            same(texts(&convert::column(&columns, name, "sensors")?)?, n, name)
        };
        let some_text = |name: &'static str| match columns.get_item(name)? {
            Some(column) => same(texts(&column)?, n, name),
            None => Ok(vec![None; n]),
        };
        let times = |name: &'static str| {
            let stamps = convert::stamps(&time_column(&columns, name, "sensors")?, name)?;
            same(stamps.ms, n, name).map(|ms| Stamps { ms, naive: stamps.naive })
        };
        let length_days = match columns.get_item("length_days")? {
            Some(column) => same(amounts(&column, "length_days")?, n, "length_days")?,
            None => vec![None; n],
        };
        Ok(Columns {
            person: text("person")?,
            inserted: times("inserted")?,
            ended: times("ended")?,
            end: text("end")?,
            cause: some_text("cause")?,
            lot: some_text("lot")?,
            site: some_text("site")?,
            length_days,
            sensor,
        })
    }

    fn record(&self, i: usize, clock: Option<&LocalClock>) -> PyResult<SensorRecord> {
        let at = |stamps: &Stamps, name: &str| {
            let one = Stamps { ms: vec![stamps.ms[i]], naive: stamps.naive };
            convert::on_clock(one, clock, name).map(|ms| ms[0])
        };
        let needed = |column: &[Option<String>], name: &str| {
            let missing = || {
                let message = format!("sensors: no {name} at index {i}");
                raise(&message, "missing", name, Some(i))
            };
            column[i].clone().ok_or_else(missing)
        };
        Ok(SensorRecord {
            sensor: needed(&self.sensor, "sensor")?,
            person: needed(&self.person, "person")?,
            lot: self.lot[i].clone(),
            site: self.site[i].clone(),
            inserted_ms: at(&self.inserted, "inserted")?,
            ended_ms: at(&self.ended, "ended")?,
            end: end(self.end[i].as_deref(), self.cause[i].clone())?,
            length_days: self.length_days[i],
        })
    }
}

/// A list as long as the sensors.
fn items<'py>(
    list: &Bound<'py, PyAny>,
    n: usize,
    name: &'static str,
) -> PyResult<Vec<Bound<'py, PyAny>>> {
    same(list.try_iter()?.collect::<PyResult<Vec<_>>>()?, n, name)
}

fn given(
    sensors: &Bound<'_, PyAny>,
    traces: &Bound<'_, PyAny>,
    meters: &Bound<'_, PyDict>,
    calibrated: Option<&Bound<'_, PyAny>>,
) -> PyResult<Vec<Given>> {
    let columns = Columns::read(sensors)?;
    let n = columns.sensor.len();
    let traces = items(traces, n, "traces")?;
    let calibrated = calibrated.map(|c| items(c, n, "calibrated")).transpose()?;
    let one = |i: usize| {
        let trace = match traces[i].is_none() {
            true => None,
            false => Some(traces[i].cast::<PyTrace>()?.get()),
        };
        let person = columns.person[i].clone().unwrap_or_default();
        let unknown = || {
            let message = format!("meters holds no Meter of person \"{person}\"");
            raise(&message, "missing", "meters", Some(i))
        };
        let meter = meters.get_item(&person)?.ok_or_else(unknown)?;
        let meter = meter.cast::<PyMeter>()?.get();
        if let Some(trace) = trace {
            check_clocks(meter, trace)?;
        }
        let clock = trace.map_or(meter.clock.as_ref(), |t| t.inner.clock());
        let calibrated_ms = match calibrated.as_ref().map(|c| &c[i]) {
            Some(times) if !times.is_none() => instants(times, clock, "calibrated")?,
            _ => Vec::new(),
        };
        Ok(Given {
            record: columns.record(i, clock)?,
            trace: trace.map(|t| Arc::clone(&t.inner)),
            meter: Arc::clone(&meter.inner),
            calibrated_ms,
        })
    };
    (0..n).map(one).collect()
}

/// Level from and below, rate from and below, percent of all pairs.
type Required = (Option<f64>, Option<f64>, Option<f64>, Option<f64>, f64);

fn asked(required: Required) -> RequiredShare {
    let band = |low: Option<f64>, high: Option<f64>| Band {
        low,
        low_inside: low.is_some(),
        high,
        high_inside: false,
    };
    let (from, below, rate_from, rate_below, pct) = required;
    RequiredShare { level: band(from, below), rate: band(rate_from, rate_below), pct }
}

/// The accounts of a study: from sensors inserted to pairs analysed, how long sensors lasted, how
/// accurate each was, and where the pairs lie.
///
/// Parameters
/// ----------
/// sensors : frame
///     A row for each sensor: `sensor`, `person`, `inserted` and `ended` (as for `Trace`, or with
///     `_ms`), `end` ("completed", "stopped", "failed", "worn") and, where known, `cause`, `lot`,
///     `site`, `length_days` (how long it is meant to last).
/// traces : list of Trace or None
///     The readings of each row; None where there is none.
/// meters : dict of str to Meter
///     Each person's meter; readings outside a wear don't count for it.
/// calibrated : list, optional
///     Times of each row's calibrations by the user, or None.
/// required : list of tuple
///     Shares of pairs that a protocol asks for: (level from, level below, rate from, rate below,
///     percent), mg/dL and mg/dL per minute; None for an open end. Two open ends of the rate also
///     hold pairs whose rate is not known.
/// warm_up_min : float
///     Time from insertion in which no reading is expected, minutes, 0 to 2880.
/// window_min, how, lag_min, bursts, once, calibrations_in, calibration_min, sensor_range, meter_range
///     Rules of pairing, as for `align.pair_by_rules`.
/// level : float
///     Confidence level of the intervals, 0.5-0.999.
///
/// Returns
/// -------
/// Accounts
///     Every meter reading of a wear is in a pair or under one reason of `flow`. Clusters are
///     persons when there are three or more, else each person's local days.
///
/// Raises
/// ------
/// GlycemicError
///     For an end not after the insertion, a missing column or meter, an unknown word, an option
///     out of range, or clocks that don't match. No sensor and no pair are answers with a reason.
///
/// Notes
/// -----
/// Source: STARD 2015, Bossuyt et al., BMJ 2015; 351: h5527 (flow; from memory); survival and causes
/// as for `sensor.survival` and `sensor.incidence`. Thirds of the wear: common practice, no source.
/// One person's sensor against a home meter can't pass a device standard. For education, coaching
/// and research; not a medical device.
///
/// Examples
/// --------
/// >>> start = 1_741_046_400_000
/// >>> trace = gly.Trace(start + np.arange(289) * 300_000, [110] * 289)
/// >>> meter = gly.Meter(start + np.arange(1, 7) * 12_000_000, [100] * 6)
/// >>> sensors = {"sensor": ["A"], "person": ["1"], "inserted_ms": [start],
/// ...            "ended_ms": [start + 86_400_000], "end": ["failed"], "cause": ["came off"],
/// ...            "length_days": [14]}
/// >>> found = gly.sensor.accounts(sensors, [trace], {"1": meter})
/// >>> found.sensors["mard_pct"].tolist(), found.lasts.value, found.incidence["cause"].tolist()
/// ([10.0], 0.0, ['came off'])
#[pyfunction(name = "accounts")]
#[pyo3(signature = (sensors, traces, meters, calibrated=None, required=Vec::new(), warm_up_min=0.0,
                    window_min=5.0, how="nearest", lag_min=0.0, bursts="averaged", once=true,
                    calibrations_in=false, calibration_min=15.0, sensor_range=None,
                    meter_range=None, level=0.95),
       text_signature = "(sensors, traces, meters, calibrated=None, required=[], warm_up_min=0.0, \
                         window_min=5.0, how='nearest', lag_min=0.0, bursts='averaged', once=True, \
                         calibrations_in=False, calibration_min=15.0, sensor_range=None, \
                         meter_range=None, level=0.95)")]
#[allow(clippy::too_many_arguments, reason = "each is a part of the study or a rule")]
fn of_study(
    py: Python<'_>,
    sensors: &Bound<'_, PyAny>,
    traces: &Bound<'_, PyAny>,
    meters: &Bound<'_, PyDict>,
    calibrated: Option<&Bound<'_, PyAny>>,
    required: Vec<Required>,
    warm_up_min: f64,
    window_min: f64,
    how: &str,
    lag_min: f64,
    bursts: &str,
    once: bool,
    calibrations_in: bool,
    calibration_min: f64,
    sensor_range: Option<(f64, f64)>,
    meter_range: Option<(f64, f64)>,
    level: f64,
) -> PyResult<PyAccounts> {
    guard(|| {
        let given = given(sensors, traces, meters, calibrated)?;
        let pairing = pairing_rules(
            window_min,
            how,
            lag_min,
            bursts,
            once,
            calibrations_in,
            calibration_min,
            sensor_range,
            meter_range,
        )?;
        let required = required.into_iter().map(asked).collect();
        let options = AccountOptions { pairing, warm_up_min, required, level };
        let (found, tables) = compute(py, || {
            let worn: Vec<Worn<'_>> = given.iter().map(Given::worn).collect();
            let found = accounts::accounts(&worn, &options)?;
            let tables = tables(&found)?;
            Ok((found, tables))
        })?;
        let [flow, rows, survival, incidence, by_part, by_lot, by_site, level_rate, pairs] = tables;
        let table = |t: Table| Py::new(py, PyTable::new(t, true));
        let estimate = |e| Py::new(py, PyEstimate::from(e));
        let (reason, reason_code) = words(found.spread.reason.as_ref());
        Ok(PyAccounts {
            flow: table(flow)?,
            sensors: table(rows)?,
            capture_pct: found.capture_pct(),
            median_mard_pct: found.spread.median_pct,
            best: found.spread.best,
            worst: found.spread.worst,
            reason,
            reason_code,
            survival: table(survival)?,
            lasts: estimate(found.lasts)?,
            incidence: table(incidence)?,
            by_part: table(by_part)?,
            by_lot: table(by_lot)?,
            by_site: table(by_site)?,
            repeat_sd_mg_dl: estimate(found.repeatability.sd_mg_dl)?,
            repeat_cv_pct: estimate(found.repeatability.cv_pct)?,
            level_rate: table(level_rate)?,
            pairs: table(pairs)?,
        })
    })
}

impl Given {
    fn worn(&self) -> Worn<'_> {
        Worn {
            record: &self.record,
            trace: self.trace.as_deref(),
            meter: &self.meter,
            calibrated_ms: &self.calibrated_ms,
        }
    }
}

/// Flow, sensors, survival, incidence, by part, lot and site, level and rate, pairs.
fn tables(found: &accounts::Accounts) -> Result<[Table; 9], Error> {
    Ok([
        flow_table(&found.flows)?,
        found.sensor_table()?,
        found.survival_table()?,
        found.incidence_table()?,
        accuracy_by_group(&found.by_part)?,
        accuracy_by_group(&found.by_lot)?,
        accuracy_by_group(&found.by_site)?,
        level_rate_table(&found.level_rate)?,
        found.pairs_table()?,
    ])
}

pub(crate) fn register(m: &Bound<'_, PyModule>, room: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add_class::<PyAccounts>()?;
    room.add_function(wrap_pyfunction!(of_study, room)?)
}
