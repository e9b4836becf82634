//! Percentiles, their difference, and medians over days.
//!
//! # Method
//! Woodruff: the share of readings below the percentile has a standard error over days; the
//! interval of that share (on the logit scale) is carried back through the distribution of the readings. For the
//! IQR each day's influence on the two quartiles is taken together, with the density at a
//! quartile from the width of its own interval, on the log scale. A median of day values is
//! treated the same way, each day being one value.
//!
//! # Source
//! Woodruff RS. J Am Stat Assoc 1952; 47:635-646. Influence of a quantile: Serfling,
//! Approximation Theorems of Mathematical Statistics (1980), section 2.5, from memory.

use std::rc::Rc;

use super::jackknife::standard_error;
use super::readings::Distinct;
use super::scale::Scale;
use super::told::{Shape, Told, enough};
use crate::estimate::Reason;
use crate::panel::registry::Id;

/// The percentiles of the panel.
const PLACES: [(Id, f64); 5] = [
    (Id::P05MgDl, 0.05),
    (Id::P25MgDl, 0.25),
    (Id::MedianMgDl, 0.5),
    (Id::P75MgDl, 0.75),
    (Id::P95MgDl, 0.95),
];

/// The readings of a day; of two stretches where the ends of a wear count as one day.
type DayRanges = Vec<std::ops::Range<usize>>;

/// How often each level occurs.
#[derive(Clone, Debug)]
pub(crate) struct Levels {
    values: Vec<f64>,
    /// Readings up to and including each level.
    through: Vec<f64>,
    /// Half the step that a level is spread over.
    half: f64,
}

impl Levels {
    pub(crate) fn new(values: &[f64], counts: &[f64], half: f64) -> Levels {
        let mut sum = 0.0;
        let through = counts.iter().map(|n| {
            sum += n;
            sum
        });
        Levels { values: values.to_vec(), through: through.collect(), half }
    }

    fn total(&self) -> f64 {
        self.through.last().copied().unwrap_or(0.0)
    }

    /// The level below which a share `p` lies, evenly spread within a step; where levels are
    /// not spread, straight lines between them.
    pub(crate) fn quantile(&self, p: f64) -> f64 {
        let rank = p * self.total();
        let last = self.values.len().saturating_sub(1);
        let place = self.through.partition_point(|&n| n < rank).min(last);
        let value = self.values.get(place).copied().unwrap_or(0.0);
        let before = place.checked_sub(1).map_or(0.0, |i| self.through[i]);
        let here = self.through.get(place).copied().unwrap_or(0.0) - before;
        let part = if here > 0.0 { ((rank - before) / here).clamp(0.0, 1.0) } else { 0.5 };
        if self.half > 0.0 {
            return value + (2.0 * part - 1.0) * self.half;
        }
        // The middle of a level's readings stands at the level.
        let other = if part < 0.5 { place.checked_sub(1) } else { Some(place + 1) };
        match other.and_then(|i| self.values.get(i)) {
            Some(next) => value + (part - 0.5).abs() * (next - value),
            None => value,
        }
    }

    /// The part of a reading at this level that lies below `limit`.
    fn part_below(&self, level: f64, limit: f64) -> f64 {
        if self.half > 0.0 {
            return ((limit - level + self.half) / (2.0 * self.half)).clamp(0.0, 1.0);
        }
        0.5 * f64::from(u8::from(level < limit)) + 0.5 * f64::from(u8::from(level <= limit))
    }
}

/// A percentile of the levels, or their IQR.
pub(crate) fn value(levels: &Levels, id: Id) -> Option<f64> {
    let at = |id: Id| PLACES.iter().find(|p| p.0 == id).map(|p| levels.quantile(p.1));
    match id {
        Id::IqrMgDl => Some(at(Id::P75MgDl)? - at(Id::P25MgDl)?),
        _ => at(id),
    }
}

/// The percentiles and the IQR with their spread. `days` are ranges of `distinct.places`;
/// `value` gives the panel's own.
pub(crate) fn percentiles(
    levels: &Rc<Levels>,
    distinct: &Distinct,
    days: &[DayRanges],
    value: impl Fn(Id) -> Option<f64>,
) -> Vec<(Id, Result<Told, Reason>)> {
    let mut out = Vec::new();
    let mut quartiles: Vec<Vec<f64>> = Vec::new();
    for (id, p) in PLACES {
        let at = levels.quantile(p);
        let below: Vec<f64> = levels.values.iter().map(|&v| levels.part_below(v, at)).collect();
        let per_day = levels.total() / days.len().max(1) as f64;
        let residual = |day: &DayRanges| {
            let places = day.iter().flat_map(|range| &distinct.places[range.clone()]);
            places.map(|&i| below[i as usize] - p).sum::<f64>() / per_day
        };
        let residuals: Vec<f64> = days.iter().map(residual).collect();
        let told = value(id).map(|value| placed(levels, p, &residuals, value));
        if let (Id::P25MgDl | Id::P75MgDl, Some(Ok(_))) = (id, &told) {
            let se = standard_error(&residuals);
            let width = levels.quantile((p + se).min(1.0)) - levels.quantile((p - se).max(0.0));
            let density = if width > 0.0 { 2.0 * se / width } else { 0.0 };
            let influence = residuals.iter().map(|r| if density > 0.0 { r / density } else { 0.0 });
            quartiles.push(influence.collect());
        }
        out.extend(told.map(|told| (id, told)));
    }
    if let ([low, high], Some(value)) = (quartiles.as_slice(), value(Id::IqrMgDl)) {
        out.push((Id::IqrMgDl, iqr(low, high, value, 2.0 * levels.half)));
    }
    out
}

fn placed(levels: &Rc<Levels>, p: f64, residuals: &[f64], value: f64) -> Result<Told, Reason> {
    enough(residuals.len())?;
    let se = standard_error(residuals);
    // A percentile of readings in whole steps is rounded to one.
    let step = 2.0 * levels.half;
    Ok(Told {
        value,
        n: residuals.len(),
        pairs: false,
        shape: Shape::Quantile {
            levels: Rc::clone(levels),
            shift: 0.0,
            p,
            se: se / (p * (1.0 - p)),
        },
        extra: step * step / 12.0,
        method: "share below it over local days, carried back (Woodruff), Student's t".to_string(),
    })
}

fn iqr(low: &[f64], high: &[f64], value: f64, step: f64) -> Result<Told, Reason> {
    enough(low.len())?;
    if value <= 0.0 {
        return Err(Reason::plain("none_seen", "it is 0, and nothing is known of its spread"));
    }
    let influence: Vec<f64> = low.iter().zip(high).map(|(l, h)| l - h).collect();
    let se = standard_error(&influence);
    // Two quartiles are rounded to the step here, and two in the long run.
    let extra = 4.0 * step * step / 12.0 / (value * value);
    Ok(Told {
        value,
        n: low.len(),
        pairs: false,
        shape: Shape::Scaled { scale: Scale::Log, centre: libm::log(value), se: se / value },
        extra,
        method: "influence of local days on both quartiles on the log scale, Student's t".into(),
    })
}

/// A median of day values.
pub(crate) fn day_median(values: &[f64], median: f64) -> Result<Told, Reason> {
    enough(values.len())?;
    let sorted = crate::stats::quantile::sorted(values);
    let levels = Rc::new(Levels::new(&sorted, &vec![1.0; sorted.len()], 0.0));
    let residuals: Vec<f64> = values.iter().map(|&v| levels.part_below(v, median) - 0.5).collect();
    let told = placed(&levels, 0.5, &residuals, median)?;
    let method = "share of local days below it, carried back (Woodruff), Student's t".to_string();
    Ok(Told { method, ..told })
}
