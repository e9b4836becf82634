//! The search: every place and length of a dip, and which of them are one.
//!
//! The clearest is taken first and what overlaps it struck out; the odds of those that begin and
//! end within 20 min of it are its own.

use super::evidence::{Evidence, rates};
use super::model::{Lens, PAD, Weighed, depth};
use super::{Dip, FAST_MG_DL_MIN, MINUTE, PressureOptions};
use crate::error::Error;
use crate::estimate::Estimate;
use crate::interpolate::Method;
use crate::series::{Censor, Trace};
use crate::stats::distribution::normal_quantile;
use crate::stats::quantile;

/// A dip is looked for where readings fall so far within 15 min, and rise within 20, mg/dL.
const LEAST_EDGE: f64 = 6.0;
const FIRST_HOURS_MS: i64 = 12 * 60 * MINUTE;
/// Steps by which two readings of the same dip may differ at either end.
const SAME_STEPS: usize = 4;
/// Median size of a standard normal.
const NORMAL_MEDIAN: f64 = 0.674_489_750_196_081_7;

/// What readings astray add to the variance of one reading, (mg/dL)²: that of second differences
/// under the noise less what their median size tells, which a few readings don't move. The model
/// counts readings astray by themselves. At most the part of the noise that is not linked.
pub(super) fn astray(trace: &Trace, covariance: &dyn Fn(f64) -> f64) -> f64 {
    let (times, y) = (trace.times_ms(), trace.glucose_mg_dl());
    let (nominal, view) = (trace.nominal_ms(), trace.view());
    let near = |i: usize| 2 * (times[i + 2] - times[i]) <= 5 * nominal;
    let seconds: Vec<f64> = (0..y.len().saturating_sub(2))
        .filter(|&i| near(i) && !view.spans_break(times[i], times[i + 2]))
        .map(|i| (y[i] - 2.0 * y[i + 1] + y[i + 2]).abs())
        .collect();
    let Some(middle) = quantile::median(&seconds) else { return 0.0 };
    let typical = (middle / NORMAL_MEDIAN) * (middle / NORMAL_MEDIAN);
    let h = nominal as f64 / MINUTE as f64;
    let expected = 6.0 * covariance(0.0) - 8.0 * covariance(h) + 2.0 * covariance(2.0 * h);
    let alone = (covariance(0.0) - covariance(1e-6)).max(0.0);
    ((expected - typical) / 6.0).clamp(0.0, alone)
}

/// A place and length that stand out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    place: usize,
    length: usize,
    /// Its share of the odds.
    odds: f64,
    weighed: Weighed,
}

/// The readings on an even grid.
pub(super) struct Search<'a> {
    trace: &'a Trace,
    step_min: f64,
    times: Vec<i64>,
    y: Vec<Option<f64>>,
}

impl<'a> Search<'a> {
    pub(super) fn new(trace: &'a Trace, step_min: f64) -> Result<Self, Error> {
        let (times, mut y) = trace.resample(step_min, Method::Linear, 3.2 * step_min)?;
        let view = trace.view();
        for (t, censor) in view.times_ms().iter().zip(view.censor()) {
            if *censor != Censor::None {
                let from = times.partition_point(|x| *x <= t - trace.nominal_ms());
                let to = times.partition_point(|x| *x < t + trace.nominal_ms());
                y[from..to.max(from)].fill(None);
            }
        }
        Ok(Search { trace, step_min, times, y })
    }

    /// The readings around a dip; `None` when one is missing or the sensor was changed.
    fn window(&self, place: usize, length: usize) -> Option<Vec<f64>> {
        let (from, to) = (place.checked_sub(PAD)?, place + length + PAD);
        let part = self.y.get(from..=to)?;
        let whole = part.iter().copied().collect::<Option<Vec<f64>>>()?;
        (!self.trace.view().spans_break(self.times[from], self.times[to])).then_some(whole)
    }

    /// Places at which a dip of 45 min could be seen.
    pub(super) fn places(&self) -> usize {
        let length = (45.0 / self.step_min) as usize;
        (0..self.y.len()).filter(|i| self.window(*i, length).is_some()).count()
    }

    pub(super) fn candidates(
        &self,
        lenses: &[Lens],
        evidence: &Evidence<'_>,
        options: &PressureOptions,
    ) -> Vec<Candidate> {
        let mut out = Vec::new();
        for place in PAD..self.y.len() {
            let night = evidence.night(self.times[place]);
            let per_step = self.step_min / 60.0
                * match night {
                    Some(true) => options.per_night / 6.0,
                    Some(false) => options.per_day / 18.0,
                    None => (options.per_night + options.per_day) / 24.0,
                };
            for lens in lenses {
                if !self.has_edges(place, lens.length) {
                    continue;
                }
                let Some(window) = self.window(place, lens.length) else { continue };
                let prior =
                    evidence.states(self.times[place - PAD], self.times[place + lens.length + PAD]);
                let Some(weighed) = lens.weigh(&window, prior) else { continue };
                let odds = per_step * lens.weight * libm::exp(weighed.log_ratio.min(600.0));
                out.push(Candidate { place, length: lens.length, odds, weighed });
            }
        }
        out
    }

    /// Whether readings fall at the start and rise at the end at all.
    fn has_edges(&self, place: usize, length: usize) -> bool {
        let lowest = |from: usize, to: usize| {
            let part = self.y.get(from..to).unwrap_or(&[]);
            part.iter().flatten().copied().fold(f64::INFINITY, f64::min)
        };
        let end = place + length;
        let (Some(Some(before)), Some(Some(after))) = (self.y.get(place), self.y.get(end)) else {
            return false;
        };
        before - lowest(place + 1, (place + 4).min(end)) >= LEAST_EDGE
            && after - lowest((end - 4.min(length)).max(place + 1), end) >= LEAST_EDGE
    }

    /// The clearest first, its neighbourhood struck out; the odds of what is the same dip add up.
    pub(super) fn dips(
        &self,
        mut all: Vec<Candidate>,
        evidence: &Evidence<'_>,
        options: &PressureOptions,
        covariance: &dyn Fn(f64) -> f64,
    ) -> Vec<Dip> {
        let by_odds = |a: &Candidate, b: &Candidate| {
            b.odds.total_cmp(&a.odds).then((a.place, a.length).cmp(&(b.place, b.length)))
        };
        all.sort_by(by_odds);
        let mut taken: Vec<(usize, usize)> = Vec::new();
        let mut dips = Vec::new();
        for c in &all {
            let (from, to) = (c.place, c.place + c.length);
            if taken.iter().any(|t| from < t.1 && t.0 < to) {
                continue;
            }
            taken.push((from, to));
            let same = |o: &&Candidate| {
                o.place.abs_diff(from) <= SAME_STEPS
                    && (o.place + o.length).abs_diff(to) <= SAME_STEPS
            };
            let odds: f64 = all.iter().filter(same).map(|o| o.odds).sum();
            dips.extend(self.dip(c, odds, evidence, options, covariance));
        }
        dips.sort_by_key(|d| d.start_ms);
        dips
    }

    fn dip(
        &self,
        c: &Candidate,
        odds: f64,
        evidence: &Evidence<'_>,
        options: &PressureOptions,
        covariance: &dyn Fn(f64) -> f64,
    ) -> Option<Dip> {
        let (start_ms, end_ms) = (self.times[c.place], self.times[c.place + c.length]);
        let window = self.window(c.place, c.length)?;
        let moving =
            evidence.active(start_ms, end_ms) || evidence.after_meal_min(start_ms).is_some();
        let (depth, sd) = depth(&window, &c.weighed, self.step_min, covariance, moving);
        let half = normal_quantile(0.5 + 0.5 * options.level) * sd;
        let step_ms = (self.step_min * MINUTE as f64) as i64;
        let inside = (
            start_ms + step_ms * c.weighed.fall as i64,
            end_ms - step_ms * c.weighed.recovery as i64,
        );
        let (meter, factor) = evidence.meter((start_ms, end_ms), inside, depth, sd);
        let odds = odds * factor;
        let probability = if odds.is_finite() { odds / (1.0 + odds) } else { 1.0 };
        if probability < options.least_probability || depth < options.least_depth_mg_dl {
            return None;
        }
        let part: Vec<f64> =
            self.y[c.place..=c.place + c.length].iter().flatten().copied().collect();
        let (fall_mg_dl_min, recovery_mg_dl_min) = rates(&part, self.step_min);
        let lowest_mg_dl = part.iter().copied().fold(f64::INFINITY, f64::min);
        let inserted = self.trace.breaks_ms().iter().copied().filter(|b| *b <= start_ms).max();
        let inserted = inserted.or(self.times.first().copied()).unwrap_or(start_ms);
        let method = "flanks less plateau, under the sensor's noise and slow glucose";
        Some(Dip {
            start_ms,
            end_ms,
            minutes: (end_ms - start_ms) as f64 / MINUTE as f64,
            depth_mg_dl: Estimate::new(
                depth,
                (depth - half).max(0.0),
                depth + half,
                options.level,
                method,
                c.length,
            ),
            probability,
            fall_mg_dl_min,
            recovery_mg_dl_min,
            faster_than_glucose: fall_mg_dl_min.min(recovery_mg_dl_min) > FAST_MG_DL_MIN,
            fall_min: c.weighed.fall as f64 * self.step_min,
            recovery_min: c.weighed.recovery as f64 * self.step_min,
            lowest_mg_dl,
            reads_low: lowest_mg_dl < crate::units::LOW.in_source(self.trace.unit()),
            night: evidence.night(start_ms),
            after_meal_min: evidence.after_meal_min(start_ms),
            activity_near: evidence.active(start_ms, end_ms),
            first_hours: start_ms - inserted < FIRST_HOURS_MS,
            meter,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::Builder;
    use crate::units::Unit;

    /// Readings of 99 and 101 in turn: second differences of 4, as of a noise of variance
    /// (4 / 0.6745)² / 6 = 5.862; of a white noise of 10 the rest is astray, of 5 nothing.
    #[test]
    fn variance_astray_by_hand() {
        let times: Vec<i64> = (0..288).map(|i| 1_741_046_400_000 + i * 5 * MINUTE).collect();
        let values: Vec<f64> = (0..288).map(|i| if i % 2 == 0 { 99.0 } else { 101.0 }).collect();
        let trace = Builder::new(Unit::MgDl).build(&times, &values).unwrap();
        let white = |variance: f64| move |h: f64| if h == 0.0 { variance } else { 0.0 };
        assert!((astray(&trace, &white(10.0)) - (10.0 - 5.862)).abs() < 1e-3);
        assert_eq!(astray(&trace, &white(5.0)), 0.0);
    }
}
