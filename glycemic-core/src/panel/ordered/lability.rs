//! The lability index.
//!
//! # Method
//! The series is thinned to the hour: the first reading in each whole hour of universal time,
//! which does not depend on where the trace begins. Of each two neighbours 1 to 12 h apart,
//! (change in mmol/L)^2 over the hours between them; the first reading of an hour may come up to
//! a nominal interval late, so neighbours that much closer than 1 h (at most half an hour) count
//! too. The sum is scaled from the hours covered by such pairs to the 168 hours of a week; or the mean over the pairs.
//! Neighbours may stand on both sides of a gap, never of a change of sensor.
//!
//! # Source
//! Ryan EA et al. Diabetes 2004; 53: 955-962 (sum over a week; 1 to 12 h from memory). The paper
//! has meter readings; the thinning makes a sensor's series as sparse and is a convention of this
//! library.

use super::number::{Number, fixed, unfixed};
use crate::estimate::Reason;
use crate::panel::options::Lability;
use crate::units::MG_DL_PER_MMOL_L;

const HOUR_MS: i64 = 3_600_000;
const LONGEST_MS: i64 = 12 * HOUR_MS;
const HOURS_PER_WEEK: f64 = 168.0;

/// Sums over pairs of neighbours.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Pairs {
    n: u64,
    covered_ms: i64,
    /// (mmol/L)^2/h in 2^-40.
    sum: i128,
}

impl Pairs {
    /// Adds a pair, if it is neither too close nor too far apart.
    pub(crate) fn add<N: Number>(&mut self, dt_ms: i64, d: N, scale: Scale) {
        let late = scale.nominal_ms.min(HOUR_MS / 2);
        if !(HOUR_MS - late..=LONGEST_MS).contains(&dt_ms) {
            return;
        }
        let change = d.float() * (scale.step_mg_dl / MG_DL_PER_MMOL_L);
        self.n += 1;
        self.covered_ms += dt_ms;
        self.sum += fixed(change * change * HOUR_MS as f64 / dt_ms as f64);
    }

    /// The readings of one sensor.
    pub(crate) fn add_all<N: Number>(&mut self, times: &[i64], codes: &[N], scale: Scale) {
        each_neighbours(times, |i, j| self.add(times[j] - times[i], codes[j] - codes[i], scale));
    }

    pub(crate) fn join(&mut self, other: &Pairs) {
        self.n += other.n;
        self.covered_ms += other.covered_ms;
        self.sum += other.sum;
    }

    pub(crate) fn index(&self, how: Lability) -> Result<f64, Reason> {
        if self.n == 0 {
            let what = "pairs of hourly readings 1 to 12 h apart";
            return Err(Reason::count("too_few_pairs", what, 0, 1));
        }
        let sum = unfixed(self.sum);
        Ok(match how {
            Lability::WeeklySum => sum * HOURS_PER_WEEK / (self.covered_ms as f64 / HOUR_MS as f64),
            Lability::MeanPerPair => sum / self.n as f64,
        })
    }
}

/// What a count and a step stand for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scale {
    pub(crate) step_mg_dl: f64,
    pub(crate) nominal_ms: i64,
}

/// The places of each two neighbours of a sensor's readings thinned to the hour.
pub(crate) fn each_neighbours(times: &[i64], mut found: impl FnMut(usize, usize)) {
    let mut last: Option<usize> = None;
    let mut next_hour = i64::MIN;
    for (j, &t) in times.iter().enumerate() {
        if t < next_hour {
            continue;
        }
        if let Some(i) = last {
            found(i, j);
        }
        last = Some(j);
        next_hour = (hour(t) + 1) * HOUR_MS;
    }
}

/// The whole hour of universal time.
pub(crate) fn hour(t_ms: i64) -> i64 {
    t_ms.div_euclid(HOUR_MS)
}
