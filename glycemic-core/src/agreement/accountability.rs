//! What a validation must account for: every exclusion, each sensor, the comparator's own
//! spread, and where the pairs lie.
//!
//! # Method
//! A flow counts what there was, what was left out and why, and what is left; what is left is
//! counted on its own, so the numbers can be seen to add up. Sensors are ranked by their MARD,
//! those with too few pairs left out with a reason. Repeatability of the comparator: variance
//! within bursts pooled by degrees of freedom, with a chi-squared interval; in percent each burst
//! is taken relative to its mean. Pairs by level and rate are counted in a grid, beside the shares
//! a protocol asks for. Requirements of published standards: [`design`](super::design).
//!
//! # Source
//! Flow of exclusions: STARD 2015, Bossuyt et al., BMJ 2015; 351: h5527 (items 19 and 20, from
//! memory). Pooled variance and its interval: NIST/SEMATECH e-Handbook of statistical methods,
//! sections 2.4.4 and 7.2.3, from memory. Rates of 1 and 2 mg/dL/min: Kovatchev et al., Diabetes
//! Care 2004; 27: 1922-1928.

use super::band::Band;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::chi2_quantile;
use crate::stats::{moments, quantile};
use crate::table::Table;

/// Fewest pairs for a sensor's MARD.
pub const MIN_PAIRS_PER_SENSOR: usize = 5;

/// What was left out on the way from one count to the next.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Flow {
    /// What is counted, such as `meter readings`.
    pub unit: String,
    /// How many there were.
    pub had: usize,
    /// Reason and number left out, in the order of the rules; also those with none.
    pub left_out: Vec<(String, usize)>,
    /// How many are left, counted on its own.
    pub left: usize,
}

impl Flow {
    /// Whether what is left and what was left out make up what there was.
    pub fn adds_up(&self) -> bool {
        self.left + self.left_out.iter().map(|l| l.1).sum::<usize>() == self.had
    }
}

/// The flows as a table, a row for each count: unit, step (`had`, `left_out`, `left`), reason, n.
///
/// # Errors
/// None that flows should cause.
pub fn flow_table(flows: &[Flow]) -> Result<Table, Error> {
    let mut rows: Vec<(&str, &str, Option<&str>, usize)> = Vec::new();
    for flow in flows {
        rows.push((&flow.unit, "had", None, flow.had));
        let out =
            flow.left_out.iter().map(|(why, n)| (&flow.unit[..], "left_out", Some(&why[..]), *n));
        rows.extend(out);
        rows.push((&flow.unit, "left", None, flow.left));
    }
    let mut table = Table::new();
    table.push_text("unit", rows.iter().map(|r| Some(r.0.to_string())).collect())?;
    table.push_text("step", rows.iter().map(|r| Some(r.1.to_string())).collect())?;
    table.push_text("reason", rows.iter().map(|r| r.2.map(str::to_string)).collect())?;
    table.push_i64("n", rows.iter().map(|r| Some(r.3 as i64)).collect())?;
    Ok(table)
}

/// One sensor's accuracy.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorRow {
    /// Which sensor.
    pub sensor: String,
    /// Pairs.
    pub n: usize,
    /// Mean absolute relative difference, %; `None` with a reason.
    pub mard_pct: Option<f64>,
    /// Mean difference, mg/dL; `None` with a reason.
    pub bias_mg_dl: Option<f64>,
    /// Why there is none.
    pub reason: Option<Reason>,
}

/// Sensors beside each other.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorSpread {
    /// A row for each sensor, in the order in which they come.
    pub sensors: Vec<SensorRow>,
    /// Sensors with enough pairs.
    pub ranked: usize,
    /// The median sensor's MARD, %; `None` with a reason.
    pub median_pct: Option<f64>,
    /// The sensor with the lowest MARD, and its MARD.
    pub best: Option<(String, f64)>,
    /// The sensor with the highest.
    pub worst: Option<(String, f64)>,
    /// Why there is no ranking: fewer than two sensors have enough pairs.
    pub reason: Option<Reason>,
}

/// Accuracy of each sensor of n pairs in mg/dL; `sensor` names each pair's sensor.
///
/// # Errors
/// Different lengths, NaN, a reference that is not positive.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::accountability::by_sensor;
/// let sensor: Vec<String> = (0..10).map(|i| if i < 5 { "A" } else { "B" }.into()).collect();
/// let mut measured = [110.0; 10];
/// measured[5..].fill(80.0);
/// let found = by_sensor(&[100.0; 10], &measured, &sensor)?;
/// assert_eq!((found.best, found.worst), (Some(("A".into(), 10.0)), Some(("B".into(), 20.0))));
/// assert_eq!(found.median_pct, Some(15.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn by_sensor(
    reference: &[f64],
    measured: &[f64],
    sensor: &[String],
) -> Result<SensorSpread, Error> {
    super::check_pairs(reference, measured)?;
    require_same_len("sensor", reference.len(), sensor.len())?;
    let mut names: Vec<&String> = Vec::new();
    for name in sensor {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let row = |name: &String| {
        let own: Vec<usize> = (0..sensor.len()).filter(|&i| sensor[i] == *name).collect();
        let mean = |f: &dyn Fn(usize) -> f64| {
            moments::mean(&own.iter().map(|&i| f(i)).collect::<Vec<_>>())
                .filter(|_| own.len() >= MIN_PAIRS_PER_SENSOR)
        };
        let size = |i: usize| 100.0 * (measured[i] - reference[i]).abs() / reference[i];
        let reason = Reason::count("too_few_pairs", "pairs", own.len(), MIN_PAIRS_PER_SENSOR);
        SensorRow {
            sensor: name.clone(),
            n: own.len(),
            mard_pct: mean(&size),
            bias_mg_dl: mean(&|i| measured[i] - reference[i]),
            reason: (own.len() < MIN_PAIRS_PER_SENSOR).then_some(reason),
        }
    };
    let sensors: Vec<SensorRow> = names.into_iter().map(row).collect();
    let mut order: Vec<(&String, f64)> =
        sensors.iter().filter_map(|r| Some((&r.sensor, r.mard_pct?))).collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let ranked = order.len();
    let owned = |one: Option<&(&String, f64)>| {
        one.filter(|_| ranked > 1).map(|(name, mard)| ((*name).clone(), *mard))
    };
    let (best, worst) = (owned(order.first()), owned(order.last()));
    let values: Vec<f64> = order.iter().map(|o| o.1).collect();
    let median_pct = quantile::median(&values).filter(|_| ranked > 1);
    let reason = (ranked < 2)
        .then(|| Reason::count("too_few_sensors", "sensors with 5 pairs or more", ranked, 2));
    Ok(SensorSpread { sensors, ranked, median_pct, best, worst, reason })
}

impl SensorSpread {
    /// A row for each sensor: sensor, n, mard_pct, bias_mg_dl, reason.
    ///
    /// # Errors
    /// None that a result should cause.
    pub fn to_table(&self) -> Result<Table, Error> {
        let mut table = Table::new();
        let rows = &self.sensors;
        table.push_text("sensor", rows.iter().map(|r| Some(r.sensor.clone())).collect())?;
        table.push_i64("n", rows.iter().map(|r| Some(r.n as i64)).collect())?;
        table.push_f64("mard_pct", rows.iter().map(|r| r.mard_pct).collect())?;
        table.push_f64("bias_mg_dl", rows.iter().map(|r| r.bias_mg_dl).collect())?;
        let reason = rows.iter().map(|r| r.reason.as_ref().map(|w| w.code.clone()));
        table.push_text("reason", reason.collect())?;
        Ok(table)
    }
}

/// Spread of a comparator's repeated readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeatability {
    /// Bursts of two readings or more.
    pub bursts: usize,
    /// Readings in them less bursts.
    pub freedom: usize,
    /// Within-burst SD, mg/dL.
    pub sd_mg_dl: Estimate,
    /// Within-burst coefficient of variation, %.
    pub cv_pct: Estimate,
}

/// Repeatability of bursts of readings in mg/dL; a burst of one counts for nothing.
///
/// The interval takes errors within a burst as normal.
///
/// # Errors
/// NaN, a value that is not positive, a level outside 0.5-0.999. No burst is a reason.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::accountability::repeatability;
/// // Duplicates 4 apart: variance 4²/2 each, SD 4/√2.
/// let found = repeatability(&[vec![98.0, 102.0], vec![198.0, 202.0]], 0.95)?;
/// assert!((found.sd_mg_dl.value.unwrap() - 4.0 / 2.0_f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn repeatability(bursts: &[Vec<f64>], level: f64) -> Result<Repeatability, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let (mut count, mut freedom, mut squares, mut relative) = (0, 0, 0.0, 0.0);
    for burst in bursts {
        require_all_finite("bursts", burst)?;
        if let Some(&value) = burst.iter().find(|v| **v <= 0.0) {
            let (low, high) = (f64::MIN_POSITIVE, f64::MAX);
            return Err(Error::OutOfRange { name: "bursts", index: None, value, low, high });
        }
        let (Some(mean), Some(variance)) = (moments::mean(burst), moments::variance(burst)) else {
            continue;
        };
        let own = variance * (burst.len() as f64 - 1.0);
        count += 1;
        freedom += burst.len() - 1;
        squares += own;
        relative += own / (mean * mean);
    }
    let method = "pooled within bursts, chi-squared interval";
    let estimate = |sum: f64, factor: f64| {
        if freedom == 0 {
            let reason = Reason::count("no_bursts", "bursts of two readings or more", 0, 1);
            return Estimate::missing(level, method, 0, 1, reason);
        }
        let df = freedom as f64;
        let root = |df: f64| factor * (sum / df).sqrt();
        let (low, high) = (
            root(chi2_quantile(0.5 + level / 2.0, df)),
            root(chi2_quantile(0.5 - level / 2.0, df)),
        );
        Estimate::new(root(df), low, high, level, method, count).needing(1)
    };
    let (sd_mg_dl, cv_pct) = (estimate(squares, 1.0), estimate(relative, 100.0));
    Ok(Repeatability { bursts: count, freedom, sd_mg_dl, cv_pct })
}

/// Rates of change: below -2, -2 to below -1, -1 to 1, above 1 to 2, above 2 mg/dL/min.
pub const RATE_BANDS: [Band; 5] = [
    Band { low: None, low_inside: false, high: Some(-2.0), high_inside: false },
    Band { low: Some(-2.0), low_inside: true, high: Some(-1.0), high_inside: false },
    Band { low: Some(-1.0), low_inside: true, high: Some(1.0), high_inside: true },
    Band { low: Some(1.0), low_inside: false, high: Some(2.0), high_inside: true },
    Band { low: Some(2.0), low_inside: false, high: None, high_inside: false },
];

/// A share of pairs that a protocol asks for in a region of level and rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RequiredShare {
    /// Levels, mg/dL.
    pub level: Band,
    /// Rates, mg/dL per minute; [`Band::ALL`] also holds pairs whose rate is not known.
    pub rate: Band,
    /// At least so many percent of all pairs.
    pub pct: f64,
}

/// Pairs in a region of level and rate.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelRate {
    /// Levels, mg/dL.
    pub level: Band,
    /// Rates; `None` for the pairs whose rate is not known.
    pub rate: Option<Band>,
    /// Pairs.
    pub n: usize,
    /// Percent of all pairs; `None` without pairs.
    pub pct: Option<f64>,
    /// Percent asked for, where any is.
    pub required_pct: Option<f64>,
    /// Whether it is reached; `None` where nothing is asked or there is no pair.
    pub met: Option<bool>,
}

/// Where n pairs lie by the reference's level and the rate of change; then what is asked.
///
/// A row for each level band and rate band and for unknown rates, which together hold every pair
/// once when the level bands do; after them a row for each required share.
///
/// # Errors
/// Different lengths, NaN, a required percentage outside 0-100.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::accountability::{RequiredShare, level_by_rate};
/// # use glycemic_core::agreement::Band;
/// let low = RequiredShare { level: Band::CONSENSUS[0], rate: Band::ALL, pct: 7.5 };
/// let rows = level_by_rate(&[50.0, 100.0], &[Some(-1.5), None], &Band::CONSENSUS, &[low])?;
/// assert_eq!(rows.len(), 5 * 6 + 1);
/// assert_eq!((rows[30].pct, rows[30].met), (Some(50.0), Some(true)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn level_by_rate(
    reference: &[f64],
    rate: &[Option<f64>],
    levels: &[Band],
    required: &[RequiredShare],
) -> Result<Vec<LevelRate>, Error> {
    require_same_len("rate", reference.len(), rate.len())?;
    require_all_finite("reference", reference)?;
    let known: Vec<f64> = rate.iter().flatten().copied().collect();
    require_all_finite("rate", &known)?;
    let all = reference.len();
    let row = |level: Band, band: Option<Band>, asked: Option<f64>| {
        let inside = |i: &usize| {
            level.holds(reference[*i])
                && match (band, rate[*i]) {
                    (Some(band), _) if band == Band::ALL => true,
                    (None, None) => true,
                    (Some(band), Some(rate)) => band.holds(rate),
                    _ => false,
                }
        };
        let n = (0..all).filter(inside).count();
        let pct = (all > 0).then(|| 100.0 * n as f64 / all as f64);
        let met = pct.zip(asked).map(|(pct, asked)| pct >= asked - 1e-9);
        LevelRate { level, rate: band, n, pct, required_pct: asked, met }
    };
    let mut out = Vec::new();
    for &level in levels {
        let bands = RATE_BANDS.iter().copied().map(Some).chain([None]);
        out.extend(bands.map(|band| row(level, band, None)));
    }
    for asked in required {
        require_within("required", asked.pct, 0.0, 100.0)?;
        out.push(row(asked.level, Some(asked.rate), Some(asked.pct)));
    }
    Ok(out)
}

/// Rows of [`level_by_rate`] as a table: level_mg_dl, rate_mg_dl_min, n, pct, required_pct, met
/// (text: met, not_met, or missing where nothing is asked).
///
/// # Errors
/// None that rows should cause.
pub fn level_rate_table(rows: &[LevelRate]) -> Result<Table, Error> {
    let mut table = Table::new();
    table.push_text("level_mg_dl", rows.iter().map(|r| Some(r.level.words())).collect())?;
    let rate = |r: &LevelRate| r.rate.map_or("unknown".to_string(), |b| b.words());
    table.push_text("rate_mg_dl_min", rows.iter().map(|r| Some(rate(r))).collect())?;
    table.push_i64("n", rows.iter().map(|r| Some(r.n as i64)).collect())?;
    table.push_f64("pct", rows.iter().map(|r| r.pct).collect())?;
    table.push_f64("required_pct", rows.iter().map(|r| r.required_pct).collect())?;
    let met = |r: &LevelRate| r.met.map(|m| if m { "met" } else { "not_met" }.to_string());
    table.push_text("met", rows.iter().map(met).collect())?;
    Ok(table)
}

#[cfg(test)]
#[path = "accountability_tests.rs"]
mod tests;
