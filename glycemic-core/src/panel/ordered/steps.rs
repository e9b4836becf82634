//! What follows from the steps between neighbouring readings: MAG, GVP, time in fluctuation and
//! the Poincare plot.
//!
//! # Method
//! A step across a gap or a change of sensor does not count, nor does its time. MAG: sum of the
//! magnitudes over the hours observed. GVP: 100 (sum of sqrt(dt^2 + dG^2) / sum of dt - 1), dt in
//! minutes and dG in mg/dL, so it depends on the sampling. Time in fluctuation: share of the time
//! observed in steps faster than 1.5 mg/dL/min. Poincare: SD1^2 = Var(steps) / 2 and
//! SD2^2 = 2 SD^2 - SD1^2, SD of all readings.
//!
//! # Source
//! Hermanides J et al. Crit Care Med 2010; 38: 838-842 (MAG). Peyser TA et al. Diabetes Technol
//! Ther 2018; 20: 6-16 (GVP; axes from memory). Fluctuation: cohort papers after 2015, from
//! memory. Crenier L. Diabetes Technol Ther 2014; 16: 247-254 and Brennan M et al. IEEE Trans
//! Biomed Eng 2001; 48: 1342-1347 (Poincare), from memory.

use std::ops::Range;

use super::number::{Differences, Number, Spread, Whole, fixed, unfixed};
use crate::estimate::Reason;
use crate::panel::registry::Id;

/// Faster than this, in mg/dL/min, is a fluctuation.
const FAST_MG_DL_MIN: f64 = 1.5;
const MINUTE_MS: f64 = 60_000.0;

/// Sums over steps.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Steps<W> {
    differences: Differences<W>,
    observed_ms: i64,
    fast_ms: i64,
    /// Length of the line less its time, in 2^-40.
    excess: i128,
}

impl<W: Whole> Steps<W> {
    pub(crate) fn add<N: Number<Wide = W>>(&mut self, dt_ms: i64, d: N, step_mg_dl: f64) {
        self.differences.add(d);
        self.observed_ms += dt_ms;
        let rise = d.float() * step_mg_dl;
        let minutes = dt_ms as f64 / MINUTE_MS;
        // Exactly 0 for a level step, since the root of a square is the number.
        self.excess += fixed((minutes * minutes + rise * rise).sqrt() - minutes);
        if rise.abs() * MINUTE_MS > FAST_MG_DL_MIN * dt_ms as f64 {
            self.fast_ms += dt_ms;
        }
    }

    pub(crate) fn of<N: Number<Wide = W>>(
        times: &[i64],
        codes: &[N],
        segments: &[Range<usize>],
        step_mg_dl: f64,
    ) -> Steps<W> {
        let mut all = Steps::default();
        for segment in segments {
            let (times, codes) = (&times[segment.clone()], &codes[segment.clone()]);
            for (t, x) in times.windows(2).zip(codes.windows(2)) {
                all.add(t[1] - t[0], x[1] - x[0], step_mg_dl);
            }
        }
        all
    }

    pub(crate) fn join(&mut self, other: &Steps<W>) {
        self.differences.join(&other.differences);
        self.observed_ms += other.observed_ms;
        self.fast_ms += other.fast_ms;
        self.excess += other.excess;
    }

    pub(crate) fn measures(
        &self,
        readings: &Spread<W>,
        step_mg_dl: f64,
    ) -> Vec<(Id, Result<f64, Reason>)> {
        let observed = self.observed_ms as f64;
        let per_time = |x: f64| if self.observed_ms > 0 { Ok(x) } else { Err(too_few(0, 1)) };
        let mag = self.differences.total() * step_mg_dl / (observed / (60.0 * MINUTE_MS));
        let gvp = 100.0 * unfixed(self.excess) / (observed / MINUTE_MS);
        vec![
            (Id::MagMgDlH, per_time(mag)),
            (Id::GvpPct, per_time(gvp)),
            (Id::TimeInFluctuationPct, per_time(100.0 * self.fast_ms as f64 / observed)),
            (Id::PoincareSd1MgDl, self.sd1_squared().map(|v| v.sqrt() * step_mg_dl)),
            (Id::PoincareSd2MgDl, self.sd2_squared(readings).map(|v| v.sqrt() * step_mg_dl)),
        ]
    }

    fn sd1_squared(&self) -> Result<f64, Reason> {
        let steps = &self.differences.spread;
        steps.variance().map(|v| v / 2.0).ok_or_else(|| too_few(steps.n as usize, 2))
    }

    fn sd2_squared(&self, readings: &Spread<W>) -> Result<f64, Reason> {
        let sd1_squared = self.sd1_squared()?;
        let squared = 2.0 * readings.variance().unwrap_or(0.0) - sd1_squared;
        if squared < 0.0 {
            let text = "the steps vary more than twice as much as the readings, so SD2 has no root";
            return Err(Reason::plain("no_root", text));
        }
        Ok(squared)
    }
}

fn too_few(had: usize, needed: usize) -> Reason {
    Reason::count("too_few_steps", "steps between neighbouring readings", had, needed)
}
