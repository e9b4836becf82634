//! What the sensor itself did: first hours, drift, swaps, silences, possible pressure, alarms, and
//! whether setting it by the meter would help.

use super::answer::{Figure, Options};
use super::trust::against;
use crate::align::WearEvent;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::panel::METER_BIAS_SD_PCT;
use crate::sensor::alarms::{Alarms, Level, Rearm, alarms};
use crate::sensor::drop_outs::{DropOuts, drop_outs};
use crate::sensor::flat::{FlatLines, FlatOptions, flat_lines};
use crate::sensor::pressure::{
    self, Beside, CAUTION, Dip, PressureLows, PressureOptions, pressure_lows,
};
use crate::sensor::{
    Drift, FirstDay, Kind, OfSensor, Pairing, Recalibration, Step, drift, first_day, recalibrate,
    steps, tables,
};
use crate::table::Table;
use crate::trial::Trial;

/// Probability from which on a dip is counted as possible pressure.
const POSSIBLE: f64 = 0.5;
/// Hours after insertion whose silences are told apart.
const FIRST_HOURS: f64 = 24.0;

/// Everything that was looked at.
pub(super) struct Own {
    drift: Vec<Drift>,
    first: Vec<FirstDay>,
    steps: Vec<Step>,
    set: Recalibration,
    lows: PressureLows,
    beside: Option<Beside>,
    flats: FlatLines,
    silences: DropOuts,
    alarms: Alarms,
}

impl Own {
    pub(super) fn of(trial: &Trial, events: &[WearEvent], options: Options) -> Result<Own, Error> {
        let (meter, trace, level) = (&trial.meter, &trial.sensor, options.level);
        let pairing = Pairing::default();
        let meals: Vec<i64> = trial.meals.iter().map(|m| m.time_ms).collect();
        let asked = PressureOptions { level, ..PressureOptions::default() };
        let lows = pressure_lows(trace, &trial.meals, &trial.activity, Some(meter), &asked)?;
        let beside = match lows.at_least(POSSIBLE).next() {
            Some(_) => Some(pressure::beside(trace, &lows, POSSIBLE, &meals, level)?),
            None => None,
        };
        let levels = [Level::low(), Level::high()];
        let rearm = Rearm::default();
        Ok(Own {
            drift: drift(meter, trace, pairing, level)?,
            first: first_day(meter, trace, &meals, pairing, level)?,
            steps: steps(meter, trace, events, pairing, level)?,
            set: recalibrate(meter, trace, pairing, METER_BIAS_SD_PCT, level)?,
            lows,
            beside,
            flats: flat_lines(trace, &trial.meals, &FlatOptions::default())?,
            silences: drop_outs(trace, events, FIRST_HOURS, level)?,
            alarms: alarms(trace, &levels, rearm, Some(meter), 0.0, events, level)?,
        })
    }

    /// Dips that are as likely pressure as not.
    pub(super) fn possible_pressure(&self) -> usize {
        self.lows.at_least(POSSIBLE).count()
    }

    /// Figures of the first sensor; the tables hold all.
    pub(super) fn figures(&self) -> Vec<Figure> {
        let mut out = Vec::new();
        if let Some(d) = self.drift.first() {
            let label = "drift of sensor - meter by wear day";
            out.push(against("drift_mg_dl_day", label, "mg/dL/d", d.mg_dl_day.clone()));
        }
        if let Some(f) = self.first.first() {
            let label = "steady from this hour after insertion on";
            out.push(against("steady_from_h", label, "h", f.steady_from_h.clone()));
        }
        if let Some(s) = self.steps.first() {
            let label = "step of sensor - meter at the swap or calibration";
            out.push(against("step_mg_dl", label, "mg/dL", s.difference_mg_dl.clone()));
        }
        if let Some(r) = self.set.sensors.first() {
            let label = "mean of sensor - meter from the second day on, in blood";
            let e = r.offset_in_blood_mg_dl.clone();
            out.push(Figure::new("offset_in_blood_mg_dl", label, "mg/dL", "in_blood", e));
        }
        let count = |id, label, n: usize| Figure::count(id, label, "1", n as f64);
        out.push(count("possible_pressure", CAUTION, self.possible_pressure()));
        out.push(count("flat_lines", "flat lines longer than chance", self.flats.flats.len()));
        out.push(Figure::new(
            "drop_outs_per_day",
            "drop-outs a day",
            "1/d",
            "data",
            self.silences.per_day.clone(),
        ));
        out
    }

    pub(super) fn tables(&self) -> Result<Vec<(String, Table)>, Error> {
        let mut out = vec![
            ("sensors".to_string(), self.sensors()?),
            ("recalibration_tried".to_string(), tables::tried_table(&self.set)?),
            ("possible_pressure".to_string(), self.lows.table()?),
            ("drop_outs".to_string(), self.silences.table()?),
            ("capture".to_string(), self.silences.capture_table()?),
            ("alarms".to_string(), tables::alarm_levels_table(&self.alarms.levels)?),
        ];
        if let Some(beside) = &self.beside {
            out.push(("without_possible_pressure".into(), beside.table()?));
        }
        if !self.flats.flats.is_empty() {
            out.push(("flat_lines".into(), self.flats.table()?));
        }
        if !self.steps.is_empty() {
            out.push(("steps".into(), tables::steps_table(&self.steps)?));
        }
        Ok(out)
    }

    /// A row for each sensor: first day, drift, and what setting it by the meter would do.
    fn sensors(&self) -> Result<Table, Error> {
        let all = &self.set.sensors;
        let number = |f: &dyn Fn(usize) -> Option<f64>| (0..all.len()).map(f).collect::<Vec<_>>();
        let first = |i: usize| self.first.get(i);
        let drift = |i: usize| self.drift.get(i).map(|d| &d.mg_dl_day);
        let before = |i: usize| all[i].before.as_ref();
        let after = |i: usize| all[i].after.as_ref();
        let mut t = Table::new();
        t.push_i64("sensor", (1..=all.len() as i64).map(Some).collect())?;
        t.push_i64("inserted_ms", all.iter().map(|r| r.sensor.inserted_ms).collect())?;
        t.push_i64("pairs", all.iter().map(|r| Some(r.pairs_ms.len() as i64)).collect())?;
        t.push_f64("steady_from_h", number(&|i| first(i)?.steady_from_h.value))?;
        t.push_f64("mean_mg_dl", number(&|i| Some(first(i)?.mean_mg_dl)))?;
        t.push_f64("mean_without_first_hours_mg_dl", number(&|i| first(i)?.mean_without_mg_dl))?;
        t.push_f64("drift_mg_dl_day", number(&|i| drift(i)?.value))?;
        t.push_f64("drift_low_mg_dl_day", number(&|i| drift(i)?.low))?;
        t.push_f64("drift_high_mg_dl_day", number(&|i| drift(i)?.high))?;
        t.push_f64("offset_mg_dl", number(&|i| all[i].offset_mg_dl.value))?;
        t.push_f64("offset_low_mg_dl", number(&|i| all[i].offset_mg_dl.low))?;
        t.push_f64("offset_high_mg_dl", number(&|i| all[i].offset_mg_dl.high))?;
        let kind = |r: &OfSensor| Some(r.kind.name().to_string());
        t.push_text("recalibration", all.iter().map(kind).collect())?;
        t.push_f64("mard_before_pct", number(&|i| before(i)?.mard_pct.value))?;
        t.push_f64("mard_after_pct", number(&|i| after(i)?.mard_pct.value))?;
        t.push_f64("within_20_before_pct", number(&|i| before(i)?.within_20_pct.value))?;
        t.push_f64("within_20_after_pct", number(&|i| after(i)?.within_20_pct.value))?;
        let why = |r: &OfSensor| r.reason.as_ref().map(|r: &Reason| r.text.clone());
        t.push_text("reason", all.iter().map(why).collect())?;
        Ok(t)
    }

    /// The most probable of the possible pressure dips.
    pub(super) fn worst_dip(&self) -> Option<&Dip> {
        self.lows.at_least(POSSIBLE).max_by(|a, b| a.probability.total_cmp(&b.probability))
    }

    /// Whether no sensor could be set against the meter.
    pub(super) fn untold(&self) -> bool {
        self.set.sensors.iter().all(|r| r.reason.is_some())
    }

    /// Sensors that setting by the meter would bring nearer to it.
    pub(super) fn would_help(&self) -> Option<&OfSensor> {
        self.set.sensors.iter().find(|r| r.kind != Kind::None)
    }

    /// The first sensor's drift.
    pub(super) fn first_drift(&self) -> Option<&Estimate> {
        self.drift.first().map(|d| &d.mg_dl_day)
    }
}
