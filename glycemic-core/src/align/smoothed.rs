//! The sensor's trace, smoothed, minute by minute: what shifts and delays are read from.
//!
//! # Method
//! Stretches without a gap over 16 minutes, a change of sensor or a reading at the sensor's limit
//! are joined by straight lines and averaged twice over a running window. That flattens a bend by
//! half the kernel's variance times the curvature; half of it is put back, since all of it would
//! bring the noise back too. The slope is taken over ten minutes.
//!
//! # Source
//! Bias of a kernel mean: Wand MP, Jones MC. Kernel Smoothing (1995), section 5.3, from memory.

use crate::series::{Censor, Trace};
use crate::stats::quantile;

const MINUTE: i64 = 60_000;
/// Readings further apart are not joined, minutes.
const JOINED_MIN: i64 = 16;
/// Reach of the second difference, minutes.
const BEND_MIN: usize = 10;
/// Reach of the slope either way, minutes.
const SLOPE_MIN: i64 = 5;
/// Length of the blocks among which the quiet ones are looked for, minutes.
const BLOCK_MIN: usize = 120;

/// Glucose each minute over stretches without a gap.
pub(super) struct Smoothed {
    pieces: Vec<Piece>,
}

struct Piece {
    start_ms: i64,
    level: Vec<f64>,
}

impl Smoothed {
    /// The readings joined by straight lines.
    pub(super) fn joined(sensor: &Trace) -> Smoothed {
        let (times, values) = (sensor.times_ms(), sensor.glucose_mg_dl());
        let view = sensor.view();
        let mut pieces: Vec<Piece> = Vec::new();
        let mut last: Option<usize> = None;
        for i in (0..times.len()).filter(|&i| view.censor()[i] == Censor::None) {
            let before = last.filter(|&k| {
                times[i] - times[k] <= JOINED_MIN * MINUTE && !view.spans_break(times[k], times[i])
            });
            match (before, pieces.last_mut()) {
                (Some(k), Some(piece)) => piece.join((times[k], values[k]), (times[i], values[i])),
                _ => pieces.push(Piece { start_ms: times[i], level: vec![values[i]] }),
            }
            last = Some(i);
        }
        Smoothed { pieces }
    }

    /// Averaged twice over `half` minutes either way; `bend` is added to the variance, min², of
    /// which half the flattening is put back.
    pub(super) fn smooth(&self, half: usize, bend: f64) -> Smoothed {
        let variance = 2.0 * (half * (half + 1)) as f64 / 3.0 + bend;
        let pieces = self.pieces.iter().filter_map(|piece| {
            let level = box_mean(&box_mean(&piece.level, half), half);
            let back = 0.25 * variance / (BEND_MIN * BEND_MIN) as f64;
            let level: Vec<f64> = level
                .windows(2 * BEND_MIN + 1)
                .map(|w| w[BEND_MIN] - back * (w[0] - 2.0 * w[BEND_MIN] + w[2 * BEND_MIN]))
                .collect();
            let lost = (2 * half + BEND_MIN) as i64;
            (!level.is_empty()).then(|| Piece { start_ms: piece.start_ms + lost * MINUTE, level })
        });
        Smoothed { pieces: pieces.collect() }
    }

    /// Glucose at an instant.
    pub(super) fn at(&self, time_ms: i64) -> Option<f64> {
        let place = self.pieces.partition_point(|p| p.start_ms <= time_ms).checked_sub(1)?;
        let piece = &self.pieces[place];
        let after = time_ms - piece.start_ms;
        let k = (after / MINUTE) as usize;
        let low = piece.level.get(k)?;
        let share = (after % MINUTE) as f64 / MINUTE as f64;
        if share <= 0.0 {
            return Some(*low);
        }
        piece.level.get(k + 1).map(|high| low + share * (high - low))
    }

    /// Slope at an instant, mg/dL per minute.
    pub(super) fn slope(&self, time_ms: i64) -> Option<f64> {
        let (before, after) =
            (self.at(time_ms - SLOPE_MIN * MINUTE)?, self.at(time_ms + SLOPE_MIN * MINUTE)?);
        Some((after - before) / (2 * SLOPE_MIN) as f64)
    }

    /// Mean square of the slope where glucose is quietest (lower quartile of two-hour blocks):
    /// what the sensor's noise alone makes of a slope, (mg/dL per minute)².
    pub(super) fn quiet_slope(&self) -> f64 {
        let reach = SLOPE_MIN as usize;
        let mut blocks = Vec::new();
        for piece in &self.pieces {
            for block in piece.level.chunks_exact(BLOCK_MIN) {
                let slopes = block.windows(2 * reach + 1).map(|w| {
                    let slope = (w[2 * reach] - w[0]) / (2 * reach) as f64;
                    slope * slope
                });
                blocks.push(slopes.sum::<f64>() / (BLOCK_MIN - 2 * reach) as f64);
            }
        }
        quantile::type7(&quantile::sorted(&blocks), 0.25).unwrap_or(0.0)
    }

    /// By how much the best shift of a first-order lag of `tau_min` lies from `tau_min` on this
    /// trace, minutes: the lag is undone (glucose + tau × slope) and the two are matched.
    pub(super) fn shift_less_tau(&self, tau_min: f64) -> f64 {
        const MOST: usize = 40;
        let reach = SLOPE_MIN as usize;
        let mut sums = [0.0; MOST + 1];
        for piece in self.pieces.iter().filter(|p| p.level.len() > MOST + 2 * reach) {
            for i in reach..piece.level.len() - MOST {
                let slope = (piece.level[i + reach] - piece.level[i - reach]) / (2 * reach) as f64;
                let blood = piece.level[i] + tau_min * slope;
                for (sum, later) in sums.iter_mut().zip(&piece.level[i..]) {
                    *sum += (later - blood) * (later - blood);
                }
            }
        }
        let minutes: Vec<f64> = (0..=MOST).map(|d| d as f64).collect();
        if sums[0] > 0.0 { lowest(&minutes, &sums) - tau_min } else { 0.0 }
    }
}

impl Piece {
    /// Adds the minutes after the last one up to the second reading, on the line between the two.
    fn join(&mut self, from: (i64, f64), to: (i64, f64)) {
        let mut at = self.start_ms + self.level.len() as i64 * MINUTE;
        while at <= to.0 {
            let share = (at - from.0) as f64 / (to.0 - from.0) as f64;
            self.level.push(from.1 + share * (to.1 - from.1));
            at += MINUTE;
        }
    }
}

/// Means over `half` items either way; `half` fewer at each end.
fn box_mean(values: &[f64], half: usize) -> Vec<f64> {
    let width = 2 * half + 1;
    let mut sums = Vec::with_capacity(values.len() + 1);
    sums.push(0.0);
    let mut sum = 0.0;
    for value in values {
        sum += value;
        sums.push(sum);
    }
    sums.windows(width + 1).map(|w| (w[width] - w[0]) / width as f64).collect()
}

/// Where the values are least, by a parabola through the three around it.
pub(super) fn lowest(at: &[f64], values: &[f64]) -> f64 {
    let least = (0..values.len()).min_by(|&a, &b| values[a].total_cmp(&values[b])).unwrap_or(0);
    if least == 0 || least + 1 >= values.len() {
        return at.get(least).copied().unwrap_or(0.0);
    }
    let (a, b, c) = (values[least - 1], values[least], values[least + 1]);
    let bend = a - 2.0 * b + c;
    let part = if bend > 0.0 { 0.5 * (a - c) / bend } else { 0.0 };
    at[least] + part * (at[least + 1] - at[least])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::Builder;
    use crate::units::Unit;

    fn trace(f: impl Fn(f64) -> f64) -> Trace {
        let times: Vec<i64> = (0..400).map(|i| 1_741_000_000_000 + i * 300_000).collect();
        let values: Vec<f64> = (0..400).map(|i| f(f64::from(i) * 5.0)).collect();
        Builder::new(Unit::MgDl).build(&times, &values).unwrap()
    }

    /// A straight line has no bend: smoothing leaves it as it is, at 80 + 0.05 t.
    #[test]
    fn a_line_stays() {
        let smooth = Smoothed::joined(&trace(|t| 80.0 + 0.05 * t)).smooth(16, 64.0);
        let at = 1_741_000_000_000 + 300 * MINUTE + 30_000;
        assert!((smooth.at(at).unwrap() - (80.0 + 0.05 * 300.5)).abs() < 1e-9);
        assert!((smooth.slope(at).unwrap() - 0.05).abs() < 1e-9);
        assert_eq!(smooth.at(1_741_000_000_000), None);
    }

    /// Of a sine of angular frequency w a first-order lag makes one that is later by
    /// atan(w tau) / w: closed form. Period 240 min, tau 8 min: 7.89, so 0.11 less than tau.
    #[test]
    fn the_best_shift_of_a_sine_is_its_phase() {
        let w = core::f64::consts::TAU / 240.0;
        let joined = Smoothed::joined(&trace(|t| 120.0 + 30.0 * libm::sin(w * t)));
        let truth = libm::atan(w * 8.0) / w - 8.0;
        assert!((joined.shift_less_tau(8.0) - truth).abs() < 0.05, "{truth}");
    }
}
