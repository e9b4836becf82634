//! Finger-stick readings: any number at one time, each with what was noted about it.

use super::build::{check_times, check_values};
use crate::error::{Error, require_same_len};
use crate::units::Unit;

/// Meter readings sorted by time; several may share one instant.
#[derive(Clone, Debug, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Meter {
    times_ms: Vec<i64>,
    glucose_mg_dl: Vec<f64>,
    context: Vec<String>,
}

impl Meter {
    /// Makes it from times (UTC ms), glucose in `unit`, and a word of context each (empty if
    /// none), n items each, in any order.
    ///
    /// # Errors
    /// Different lengths, an implausible instant or value, NaN, or the wrong unit.
    pub fn new(
        times_ms: &[i64],
        glucose: &[f64],
        context: &[String],
        unit: Unit,
    ) -> Result<Meter, Error> {
        require_same_len("glucose", times_ms.len(), glucose.len())?;
        require_same_len("context", times_ms.len(), context.len())?;
        if let Some(i) = glucose.iter().position(|g| g.is_nan()) {
            return Err(Error::NotFinite { name: "glucose", index: Some(i), value: glucose[i] });
        }
        check_times(times_ms)?;
        let values = check_values(unit, glucose)?;
        let mut order: Vec<usize> = (0..times_ms.len()).collect();
        order.sort_by_key(|&i| times_ms[i]);
        Ok(Meter {
            times_ms: order.iter().map(|&i| times_ms[i]).collect(),
            glucose_mg_dl: order.iter().map(|&i| values[i]).collect(),
            context: order.iter().map(|&i| context[i].clone()).collect(),
        })
    }

    /// The readings from `from_ms` up to and including `to_ms`.
    pub fn between(&self, from_ms: i64, to_ms: i64) -> Meter {
        let from = self.times_ms.partition_point(|&t| t < from_ms);
        let to = self.times_ms.partition_point(|&t| t <= to_ms).max(from);
        Meter {
            times_ms: self.times_ms[from..to].to_vec(),
            glucose_mg_dl: self.glucose_mg_dl[from..to].to_vec(),
            context: self.context[from..to].to_vec(),
        }
    }

    /// Number of readings.
    pub fn len(&self) -> usize {
        self.times_ms.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.times_ms.is_empty()
    }

    /// Times, UTC milliseconds, not falling.
    pub fn times_ms(&self) -> &[i64] {
        &self.times_ms
    }

    /// Glucose in mg/dL.
    pub fn glucose_mg_dl(&self) -> &[f64] {
        &self.glucose_mg_dl
    }

    /// What was noted, such as `fasting`.
    pub fn context(&self) -> &[String] {
        &self.context
    }
}
