//! Counting: where each sensor and each meter reading of a study ends.

use std::collections::BTreeMap;

use super::accounts::{AccountOptions, Pooled, SensorAccount, SensorRecord, Worn};
use crate::agreement::accountability::Flow;
use crate::align::{EventKind, Pairs, WearEvent, pair_with};
use crate::clock::DAY_MS;
use crate::error::Error;
use crate::series::Trace;

/// The reasons under which a meter reading of a wear may end, in the order of the rules.
const REASONS: [&str; 10] = [
    "sensor_without_readings",
    "calibration",
    "outside_wear",
    "no_reading_near",
    "sensor_reading_used",
    "not_first_of_burst",
    "sensor_low",
    "sensor_high",
    "meter_low",
    "meter_high",
];

/// What is counted while sensors are added.
#[derive(Default)]
pub(super) struct Study {
    pub(super) pairs: Pooled,
    /// Each pair's local day.
    day: Vec<i64>,
    readings: usize,
    in_pairs: usize,
    left_out: BTreeMap<&'static str, usize>,
    without_readings: usize,
    without_meter: usize,
    without_pair: usize,
}

impl Study {
    pub(super) fn add(
        &mut self,
        index: usize,
        worn: &Worn<'_>,
        options: &AccountOptions,
    ) -> Result<SensorAccount, Error> {
        let record = worn.record;
        let meter = worn.meter.between(record.inserted_ms, record.ended_ms);
        self.readings += meter.len();
        let days = (record.ended_ms - record.inserted_ms) as f64 / DAY_MS as f64;
        let mut account = SensorAccount {
            record: record.clone(),
            days,
            readings: 0,
            expected: None,
            capture_pct: None,
            pairs: 0,
            outside: 0,
        };
        let Some(trace) = worn.trace else {
            self.without_readings += 1;
            *self.left_out.entry(REASONS[0]).or_default() += meter.len();
            return Ok(account);
        };
        capture(&mut account, trace, options.warm_up_min);
        let event = |time_ms, kind| WearEvent { time_ms, kind, sensor: None };
        let mut events = vec![event(record.inserted_ms, EventKind::Inserted)];
        events.extend(worn.calibrated_ms.iter().map(|&t| event(t, EventKind::Calibrated)));
        let pairs = pair_with(&meter, trace, &events, &options.pairing)?;
        (account.pairs, account.outside) = (pairs.len(), pairs.outside.len());
        match (meter.is_empty(), pairs.is_empty()) {
            (true, _) => self.without_meter += 1,
            (false, true) => self.without_pair += 1,
            (false, false) => {}
        }
        self.take(index, record, pairs);
        Ok(account)
    }

    fn take(&mut self, index: usize, record: &SensorRecord, pairs: Pairs) {
        for lost in &pairs.unpaired {
            *self.left_out.entry(lost.why).or_default() += lost.readings;
        }
        for apart in &pairs.outside {
            *self.left_out.entry(apart.why).or_default() += apart.readings;
        }
        *self.left_out.entry("not_first_of_burst").or_default() += pairs.left_in_bursts;
        self.in_pairs += pairs.readings.iter().sum::<usize>();
        let length = record
            .length_days
            .map_or((record.ended_ms - record.inserted_ms) as f64, |days| days * DAY_MS as f64);
        let part = |t: &i64| match (t - record.inserted_ms) as f64 / length {
            share if share < 1.0 / 3.0 => "begin".to_string(),
            share if share < 2.0 / 3.0 => "middle".to_string(),
            _ => "end".to_string(),
        };
        let all = &mut self.pairs;
        all.part.extend(pairs.times_ms.iter().map(part));
        all.sensor.extend(vec![index; pairs.len()]);
        all.reference_mg_dl.extend(pairs.reference_mg_dl);
        all.measured_mg_dl.extend(pairs.measured_mg_dl);
        all.rate_mg_dl_min.extend(pairs.rate_mg_dl_min);
        all.wear_day.extend(pairs.wear_day);
        self.day.extend(pairs.day);
    }

    /// Persons as clusters from three on, else each person's days.
    pub(super) fn cluster(&mut self, worn: &[Worn<'_>]) {
        let mut persons: BTreeMap<&str, i64> = BTreeMap::new();
        for &sensor in &self.pairs.sensor {
            let next = persons.len() as i64;
            persons.entry(&worn[sensor].record.person).or_insert(next);
        }
        let few = persons.len() < 3;
        let mut ids: BTreeMap<(i64, i64), i64> = BTreeMap::new();
        for (&sensor, &day) in self.pairs.sensor.iter().zip(&self.day) {
            let person = persons.get(&worn[sensor].record.person[..]).copied().unwrap_or(0);
            let next = ids.len() as i64;
            let id = *ids.entry((person, if few { day } else { 0 })).or_insert(next);
            self.pairs.cluster.push(id);
        }
    }

    pub(super) fn flows(&self, sensors: usize) -> Vec<Flow> {
        let mut with_pairs = self.pairs.sensor.clone();
        with_pairs.dedup();
        let reason = |why: &str, n| (why.to_string(), n);
        let out = |why: &&str| reason(why, self.left_out.get(why).copied().unwrap_or(0));
        let pairs = self.pairs.sensor.len();
        vec![
            Flow {
                unit: "sensors inserted".into(),
                had: sensors,
                left_out: vec![
                    reason("no_readings", self.without_readings),
                    reason("no_meter_reading_while_worn", self.without_meter),
                    reason("no_pair", self.without_pair),
                ],
                left: with_pairs.len(),
            },
            Flow {
                unit: "meter readings while worn".into(),
                had: self.readings,
                left_out: REASONS.iter().map(out).collect(),
                left: self.in_pairs,
            },
            Flow {
                unit: "meter readings in pairs".into(),
                had: self.in_pairs,
                left_out: vec![reason("averaged_in_a_burst", self.in_pairs - pairs)],
                left: pairs,
            },
        ]
    }
}

fn capture(account: &mut SensorAccount, trace: &Trace, warm_up_min: f64) {
    let from = account.record.inserted_ms + (warm_up_min * 60_000.0).round() as i64;
    let to = account.record.ended_ms;
    account.readings = trace.window(from, to).len();
    let expected = ((to - from).max(0) / trace.nominal_ms().max(1)) as usize;
    account.expected = Some(expected);
    account.capture_pct =
        (expected > 0).then(|| (100.0 * account.readings as f64 / expected as f64).min(100.0));
}
