//! The sensor against the meter: intervals of offset, drift and step, and what recalibration does.
//!
//! The truth of an offset is the mean of noise-free sensor less blood, times what this trial's meter
//! makes of it, at the moments of the pairs, over all trials of the scenario: what such a wear would
//! come to in the long run. What recalibration can remove is the bias against *this* meter: noise-free
//! sensor less blood × (1 + the meter's bias), over a sensor's wear from the second day on.

use glycemic_core::align::{EventKind, WearEvent, lag};
use glycemic_core::sensor::{
    Kind, OfSensor, Pairing, Recalibration, differences, drift, recalibrate, steps,
};
use glycemic_core::series::{Meter, Trace};
use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::stats::distribution::normal_quantile;
use glycemic_core::stats::moments::mean;
use glycemic_core::{Error, Estimate};

use super::{Asked, LEVEL, Row, each_seed, rows};
use crate::{simulated_meter, simulated_trace};

const DAY_MS: f64 = 86_400_000.0;
const METER_BIAS_SD_PCT: f64 = 6.0;

/// Scenarios whose intervals are looked at; others of the simulator don't touch sensor or meter.
pub const SCENARIOS: &[&str] =
    &["demo", "free_days", "low_noise", "high_noise", "linked_days", "other_noise", "mmol_dst"];

/// Where the lag of pairs comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lag {
    /// The sum of lag and clock that makes sensor and meter agree best, without error.
    Known,
    /// Estimated from the trial's own pairs, with its standard error.
    Estimated,
}

/// A demo trial with other knobs of sensor and meter.
#[derive(Clone, Copy)]
pub struct Variant {
    /// What is different.
    pub name: &'static str,
    /// The knobs.
    pub scenario: Scenario,
}

/// Trials in which nothing, an offset, a gain, both, a drift, or one of two sensors is to be mended.
pub fn variants() -> Vec<Variant> {
    let demo = Scenario::DEMO;
    let swap = Scenario::named("other_noise").and_then(|s| s.sensor.swap);
    let of = |name: &'static str, gain, offset_mg_dl, drift_mg_dl_day, noise_scale, bias_pct| {
        let mut scenario = demo;
        scenario.sensor.gain = gain;
        scenario.sensor.offset_mg_dl = offset_mg_dl;
        scenario.sensor.drift_mg_dl_day = drift_mg_dl_day;
        scenario.sensor.noise_scale = noise_scale;
        scenario.meter.bias_pct = bias_pct;
        Variant { name, scenario }
    };
    let mut all = vec![
        of("nothing", 1.0, 0.0, 0.0, 0.4, 0.0),
        of("nothing, low noise", 1.0, 0.0, 0.0, 0.1, 0.0),
        of("nothing, high noise", 1.0, 0.0, 0.0, 1.0, 0.0),
        of("offset +6", 1.0, 6.0, 0.0, 0.4, 0.0),
        of("offset -15", 1.0, -15.0, 0.0, 0.4, 0.0),
        of("offset +15, high noise", 1.0, 15.0, 0.0, 1.0, 0.0),
        of("gain 1.15", 1.15, 0.0, 0.0, 0.4, 0.0),
        of("gain 0.8, offset +10", 0.8, 10.0, 0.0, 0.4, 0.0),
        of("drift 1 a day", 1.0, 0.0, 1.0, 0.4, 0.0),
        of("meter +6 %", 1.0, 0.0, 0.0, 0.4, 6.0),
        of("demo's own", 1.04, 3.0, 0.4, 0.4, 2.0),
    ];
    if let Some(mut swap) = swap {
        let mut two = of("two sensors, +10 and -8", 1.0, 10.0, 0.0, 0.4, 0.0);
        (swap.gain, swap.offset_mg_dl) = (1.0, -8.0);
        two.scenario.sensor.swap = Some(swap);
        all.push(two);
    }
    all
}

/// A trial as the caller has it.
pub(super) struct Ready {
    pub(super) trace: Trace,
    pub(super) meter: Meter,
    pub(super) pairing: Pairing,
}

pub(super) fn ready(s: &Simulated, known: Lag) -> Result<Ready, Error> {
    let inserted = s.wear.iter().filter(|w| w.event == "inserted").map(|w| w.time_ms);
    let trace = simulated_trace(s)?.with_breaks(inserted.collect());
    let meter = simulated_meter(s)?;
    let (lag_min, lag_se_min) = match known {
        Lag::Known => (s.truth.lag_minus_clock_min, 0.0),
        Lag::Estimated => {
            let found = lag(&meter, &trace, LEVEL)?;
            let width = found.low.zip(found.high).map_or(0.0, |(low, high)| high - low);
            (found.value.unwrap_or(0.0), width / (2.0 * normal_quantile(0.5 + LEVEL / 2.0)))
        }
    };
    Ok(Ready { trace, meter, pairing: Pairing { lag_min, lag_se_min, ..Pairing::default() } })
}

/// What the noise-free sensor and the meter without its random error show.
struct Truly<'a> {
    s: &'a Simulated,
}

impl Truly<'_> {
    fn of(&self, values: &[f64], time_ms: f64) -> Option<f64> {
        let place = (time_ms - self.s.start_ms as f64) / 300_000.0;
        let (low, part) = (place.floor(), place - place.floor());
        let (a, b) = (values.get(low as usize)?, values.get(low as usize + 1)?);
        (place >= 0.0).then_some(a + part * (b - a))
    }

    fn sensor(&self, time_ms: f64) -> Option<f64> {
        self.of(&self.s.sensor_clean_mg_dl, time_ms)
    }

    fn meter(&self, time_ms: f64) -> Option<f64> {
        let factor = 1.0 + self.s.truth.meter_bias_pct / 100.0;
        self.of(&self.s.blood_mg_dl, time_ms).map(|blood| blood * factor)
    }

    /// Sensor less meter for a pair whose sensor is read at `time_ms`.
    fn pair(&self, time_ms: i64, lag_min: f64) -> Option<f64> {
        let pricked = time_ms as f64 - 60_000.0 * (lag_min + self.s.truth.meter_clock_ahead_min);
        Some(self.sensor(time_ms as f64)? - self.meter(pricked)?)
    }
}

/// A figure of a trial before the truth over all trials is known.
struct Found {
    figure: &'static str,
    truth: Option<f64>,
    here: Option<f64>,
    estimate: Estimate,
}

/// Coverage of offset, drift and step.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn study(scenario: &Scenario, known: Lag, first: u64, trials: u64) -> Result<Vec<Row>, Error> {
    let found = each_seed(first, trials, |seed| ask(&trial(scenario, seed), known))?;
    let long_run = |figure| {
        let all = found.iter().flatten().filter(|f| f.figure == figure);
        mean(&all.filter_map(|f| f.here).collect::<Vec<f64>>()).unwrap_or(0.0)
    };
    let asked = |f: &Found| Asked {
        figure: f.figure,
        truth: f.truth.unwrap_or_else(|| long_run(f.figure)),
        estimate: f.estimate.clone(),
    };
    let answers: Vec<Vec<Asked>> =
        found.iter().map(|trial| trial.iter().map(asked).collect()).collect();
    Ok(rows(scenario.id, &answers))
}

fn ask(s: &Simulated, known: Lag) -> Result<Vec<Found>, Error> {
    let r = ready(s, known)?;
    let truly = Truly { s };
    let lag_min = r.pairing.lag_min;
    let here = |times: &[i64]| {
        mean(&times.iter().filter_map(|t| truly.pair(*t, lag_min)).collect::<Vec<f64>>())
    };
    let mut out = Vec::new();
    let recalibration = recalibrate(&r.meter, &r.trace, r.pairing, METER_BIAS_SD_PCT, LEVEL)?;
    let names = ["offset, mg/dL", "offset of the second sensor, mg/dL"];
    for (sensor, figure) in recalibration.sensors.iter().zip(names) {
        let estimate = sensor.offset_mg_dl.clone();
        out.push(Found { figure, truth: None, here: here(&sensor.pairs_ms), estimate });
    }
    let names = ["drift, mg/dL a day", "drift of the second sensor, mg/dL a day"];
    for (sensor, figure) in drift(&r.meter, &r.trace, r.pairing, LEVEL)?.into_iter().zip(names) {
        let truth = Some(s.truth.drift_mg_dl_day);
        out.push(Found { figure, truth, here: None, estimate: sensor.mg_dl_day });
    }
    let event = |w: &glycemic_core::simulate::WearRow| WearEvent {
        time_ms: w.time_ms,
        kind: if w.event == "inserted" { EventKind::Inserted } else { EventKind::Removed },
        sensor: None,
    };
    let events: Vec<WearEvent> = s.wear.iter().map(event).collect();
    let pairs = differences(&r.meter, &r.trace, r.pairing)?;
    for step in steps(&r.meter, &r.trace, &events, r.pairing, LEVEL)? {
        let side = |late| {
            let at = step.at.time_ms;
            here(&pairs.filtered(|i| (pairs.times_ms[i] >= at) == late).times_ms)
        };
        let here = side(true).zip(side(false)).map(|(after, before)| after - before);
        let (figure, estimate) = ("step at the swap, mg/dL", step.difference_mg_dl);
        out.push(Found { figure, truth: None, here, estimate });
    }
    Ok(out)
}

/// What recalibration did to one trial.
struct Done {
    kinds: Vec<Kind>,
    /// RMS of the trace less what the meter would show, before and after.
    rms: (f64, f64),
    /// Size of the error of the trace's mean, before and after.
    mean_error: (f64, f64),
    /// Of sensors whose bias can be seen: size of the bias against the meter, before and after.
    bias: Vec<(f64, f64)>,
}

fn recalibrated(s: &Simulated, known: Lag) -> Result<Done, Error> {
    let r = ready(s, known)?;
    let truly = Truly { s };
    let found = recalibrate(&r.meter, &r.trace, r.pairing, METER_BIAS_SD_PCT, LEVEL)?;
    let set = found.apply(&r.trace)?.trace;
    let errors = |trace: &Trace| -> Vec<f64> {
        let one = |(t, g): (&i64, &f64)| Some(g - truly.meter(*t as f64)?);
        trace.times_ms().iter().zip(trace.glucose_mg_dl()).filter_map(one).collect()
    };
    let rms = |e: &[f64]| mean(&e.iter().map(|e| e * e).collect::<Vec<f64>>()).map(f64::sqrt);
    let size = |e: &[f64]| mean(e).map(f64::abs);
    let (before, after) = (errors(&r.trace), errors(&set));
    Ok(Done {
        kinds: found.sensors.iter().map(|sensor| sensor.kind).collect(),
        rms: (rms(&before).unwrap_or(0.0), rms(&after).unwrap_or(0.0)),
        mean_error: (size(&before).unwrap_or(0.0), size(&after).unwrap_or(0.0)),
        bias: visible_bias(&truly, &found),
    })
}

/// Hours of a sensor from the second day on.
fn settled_hours(sensor: &OfSensor) -> impl Iterator<Item = i64> + use<> {
    let (from, to) = (sensor.sensor.start_ms() + DAY_MS as i64, sensor.sensor.last_ms);
    (from..to).step_by(3_600_000)
}

fn wear_days(sensor: &OfSensor, time_ms: i64) -> f64 {
    (time_ms - sensor.sensor.start_ms()) as f64 / DAY_MS
}

/// Biases of more than three standard errors of the sensor's own estimate.
fn visible_bias(truly: &Truly<'_>, found: &Recalibration) -> Vec<(f64, f64)> {
    let of = |sensor: &OfSensor| {
        let se = sensor.offset_se_mg_dl?;
        let mut sums = (Vec::new(), Vec::new());
        for time in settled_hours(sensor) {
            let (Some(shown), Some(meter)) = (truly.sensor(time as f64), truly.meter(time as f64))
            else {
                continue;
            };
            sums.0.push(shown - meter);
            sums.1.push(sensor.correction.corrected(shown, wear_days(sensor, time)) - meter);
        }
        let (before, after) = (mean(&sums.0)?.abs(), mean(&sums.1)?.abs());
        (before > 3.0 * se).then_some((before, after))
    };
    found.sensors.iter().filter_map(of).collect()
}

/// What recalibration does, as a table in Markdown.
///
/// # Errors
/// None that a simulated trial should cause.
pub fn table(variants: &[Variant], known: Lag, first: u64, trials: u64) -> Result<String, Error> {
    let mut text = String::from(
        "| to mend | trials | left % | offset % | gain % | both % | drifting % | RMS to the meter: before | after | change % | error of the mean: before | after | visible biases | mean | left over | removed % | trials with 80 % removed % |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for variant in variants {
        let done =
            each_seed(first, trials, |seed| recalibrated(&trial(&variant.scenario, seed), known))?;
        let kinds: Vec<Kind> = done.iter().flat_map(|d| d.kinds.clone()).collect();
        let share = |kind: Kind| {
            let n = kinds.iter().filter(|k| **k == kind).count();
            100.0 * n as f64 / kinds.len().max(1) as f64
        };
        let over = |f: &dyn Fn(&Done) -> f64| mean(&done.iter().map(f).collect::<Vec<f64>>());
        let of = |f: &dyn Fn(&Done) -> f64| over(f).unwrap_or(0.0);
        let bias: Vec<(f64, f64)> = done.iter().flat_map(|d| d.bias.clone()).collect();
        let sum = |f: &dyn Fn(&(f64, f64)) -> f64| bias.iter().map(f).sum::<f64>();
        let n = bias.len().max(1) as f64;
        let (before, after) = (sum(&|b| b.0) / n, sum(&|b| b.1) / n);
        let most = bias.iter().filter(|b| b.1 <= 0.2 * b.0).count() as f64;
        let seen = |text: String| if bias.is_empty() { "-".to_string() } else { text };
        let change = 100.0 * (of(&|d| d.rms.1 / d.rms.0) - 1.0);
        text.push_str(&format!(
            "| {} | {trials} | {:.0} | {:.0} | {:.0} | {:.0} | {:.0} | {:.2} | {:.2} | {change:+.1} | {:.2} | {:.2} | {} | {} | {} | {} | {} |\n",
            variant.name,
            share(Kind::None),
            share(Kind::Offset),
            share(Kind::Gain),
            share(Kind::Both),
            share(Kind::DriftingOffset),
            of(&|d| d.rms.0),
            of(&|d| d.rms.1),
            of(&|d| d.mean_error.0),
            of(&|d| d.mean_error.1),
            bias.len(),
            seen(format!("{before:.1}")),
            seen(format!("{after:.1}")),
            seen(format!("{:.0}", 100.0 * (1.0 - after / before))),
            seen(format!("{:.0}", 100.0 * most / n)),
        ));
    }
    Ok(text)
}
