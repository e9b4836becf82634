//! Agreement with plain transcriptions of the formulas in mg/dL on random traces with gaps and
//! changes of sensor, on the grid of both units and off it.

use super::*;
use crate::series::{Builder, Trace};
use crate::stats::random::Random;
use crate::stats::{moments, quantile};
use crate::units::Unit;

const T: i64 = 1_741_000_000_000;
const HOUR: i64 = 3_600_000;

/// A random walk of a few days: steps of five minutes, some irregular, with gaps.
pub(crate) fn random_trace(case: u64) -> Trace {
    let mut random = Random::keyed(20, case, 0);
    let unit = if case.is_multiple_of(2) { Unit::MgDl } else { Unit::MmolL };
    let on_grid = case % 5 != 4;
    let n = 200 + random.below(900);
    let (mut times, mut glucose) = (Vec::new(), Vec::new());
    let (mut t, mut g) = (T + random.below(86_400_000) as i64, 140.0_f64);
    for _ in 0..n {
        times.push(t);
        let shown = unit.from_mg_dl(g);
        let step = unit.step();
        glucose.push(if on_grid { (shown / step).round() * step } else { shown });
        g = (g + 7.0 * random.normal() + 0.03 * (140.0 - g)).clamp(40.0, 400.0);
        t += match random.below(100) {
            0 => 60_000 * (16 + random.below(900) as i64),
            1..=9 => 240_000 + random.below(120_000) as i64,
            10 => 600_000,
            _ => 300_000,
        };
    }
    let clock = LocalClock::from_steps("x", &[(0, 60), (T + 2 * 24 * HOUR, 120)]).unwrap();
    let trace = Builder::new(unit).clock(Some(clock)).build(&times, &glucose).unwrap();
    if case.is_multiple_of(3) {
        let at = times[random.below(n)];
        trace.with_breaks(vec![at, at + 7 * HOUR])
    } else {
        trace
    }
}

#[test]
fn agrees_with_plain_transcriptions() {
    let mut told = 0;
    for case in 0..200 {
        let trace = random_trace(case);
        let got = all(trace.view(), &[], &Options::default());
        let plain = Plain { t: trace.times_ms(), g: trace.glucose_mg_dl(), trace: &trace };
        let expected = plain.all();
        for (id, expected) in expected {
            let got = &got.iter().find(|m| m.0 == id).unwrap().1;
            match (got, expected) {
                (Ok(got), Some(expected)) => {
                    told += 1;
                    let near = (got - expected).abs() <= 1e-9 * expected.abs().max(1e-3);
                    assert!(near, "case {case}, {id:?}: {got}, plainly {expected}");
                }
                (Err(_), None) => {}
                (got, expected) => panic!("case {case}, {id:?}: {got:?}, plainly {expected:?}"),
            }
        }
    }
    assert!(told > 3500, "only {told} values compared");
}

/// The readings as they are.
struct Plain<'a> {
    t: &'a [i64],
    g: &'a [f64],
    trace: &'a Trace,
}

impl Plain<'_> {
    fn all(&self) -> Vec<(Id, Option<f64>)> {
        let mut out = self.mage();
        out.push((Id::ModdMgDl, moments::mean(&abs(self.lagged(24)))));
        out.push((Id::Conga1hMgDl, moments::sd(&self.lagged(1))));
        out.push((Id::Conga2hMgDl, moments::sd(&self.lagged(2))));
        out.push((Id::Conga4hMgDl, moments::sd(&self.lagged(4))));
        out.extend(self.steps());
        out.push((Id::LabilityIndex, self.lability()));
        out.extend(self.days());
        let longest = self.segments().into_iter().rev().max_by_key(Vec::len).unwrap();
        let g: Vec<f64> = longest.iter().map(|&i| self.g[i]).collect();
        out.push((Id::SampleEntropy, sample_entropy(&g)));
        out.push((Id::DfaAlpha, dfa(&g)));
        out
    }

    fn joined(&self, i: usize) -> bool {
        let (from, to) = (self.t[i], self.t[i + 1]);
        to - from <= 3 * self.trace.nominal_ms() && !self.trace.view().spans_break(from, to)
    }

    fn segments(&self) -> Vec<Vec<usize>> {
        let mut out = vec![vec![0]];
        for i in 1..self.t.len() {
            if !self.joined(i - 1) {
                out.push(Vec::new());
            }
            out.last_mut().unwrap().push(i);
        }
        out
    }

    /// Turning points, of which the smallest excursion is removed until all are over one SD.
    fn mage(&self) -> Vec<(Id, Option<f64>)> {
        let sd = moments::sd(self.g).unwrap();
        let mut moves: Vec<f64> = Vec::new();
        for segment in self.segments() {
            let mut points: Vec<f64> = Vec::new();
            for &i in &segment {
                let g = self.g[i];
                if let [.., a, b] = points[..]
                    && (b - a) * (g - b) >= 0.0
                {
                    points.pop();
                }
                if points.last() != Some(&g) {
                    points.push(g);
                }
            }
            remove_small(&mut points, sd);
            moves.extend(points.windows(2).map(|p| p[1] - p[0]));
        }
        let up: Vec<f64> = moves.iter().copied().filter(|&m| m > 0.0).collect();
        let down: Vec<f64> = moves.iter().copied().filter(|&m| m < 0.0).map(f64::abs).collect();
        let (up, down) = (moments::mean(&up), moments::mean(&down));
        let first = moves.first().and_then(|&m| if m > 0.0 { up } else { down });
        vec![(Id::MageMgDl, first), (Id::MageUpMgDl, up), (Id::MageDownMgDl, down)]
    }

    /// G(t) - G(t - hours) for the reading nearest to that instant, each with each.
    fn lagged(&self, hours: i64) -> Vec<f64> {
        let mut out = Vec::new();
        for j in 0..self.t.len() {
            let target = self.t[j] - hours * HOUR;
            let mut best: Option<usize> = None;
            for i in 0..j {
                let sensor_change = self.trace.view().spans_break(self.t[i], self.t[j]);
                let far = |k: usize| (self.t[k] - target).abs();
                if 2 * far(i) <= self.trace.nominal_ms()
                    && !sensor_change
                    && best.is_none_or(|b| far(i) < far(b))
                {
                    best = Some(i);
                }
            }
            out.extend(best.map(|i| self.g[j] - self.g[i]));
        }
        out
    }

    fn steps(&self) -> Vec<(Id, Option<f64>)> {
        let steps: Vec<(f64, f64)> = (0..self.t.len() - 1)
            .filter(|&i| self.joined(i))
            .map(|i| ((self.t[i + 1] - self.t[i]) as f64 / 60_000.0, self.g[i + 1] - self.g[i]))
            .collect();
        let minutes: f64 = steps.iter().map(|s| s.0).sum();
        let magnitude: f64 = steps.iter().map(|s| s.1.abs()).sum();
        let length: f64 = steps.iter().map(|s| (s.0 * s.0 + s.1 * s.1).sqrt()).sum();
        let fast: f64 = steps.iter().filter(|s| s.1.abs() / s.0 > 1.5).map(|s| s.0).sum();
        let rises: Vec<f64> = steps.iter().map(|s| s.1).collect();
        let sd1 = moments::variance(&rises).unwrap() / 2.0;
        let sd2 = 2.0 * moments::variance(self.g).unwrap() - sd1;
        vec![
            (Id::MagMgDlH, Some(magnitude / (minutes / 60.0))),
            (Id::GvpPct, Some(100.0 * (length / minutes - 1.0))),
            (Id::TimeInFluctuationPct, Some(100.0 * fast / minutes)),
            (Id::PoincareSd1MgDl, Some(sd1.sqrt())),
            (Id::PoincareSd2MgDl, Some(sd2.sqrt())),
        ]
    }

    fn lability(&self) -> Option<f64> {
        let hour = |i: usize| self.t[i].div_euclid(HOUR);
        let break_before = |i: usize| self.trace.view().spans_break(self.t[i - 1], self.t[i]);
        let kept: Vec<usize> = (0..self.t.len())
            .filter(|&i| i == 0 || hour(i) != hour(i - 1) || break_before(i))
            .collect();
        let (mut sum, mut hours) = (0.0, 0.0);
        for pair in kept.windows(2) {
            let (from, to) = (self.t[pair[0]], self.t[pair[1]]);
            let apart = (to - from) as f64 / HOUR as f64;
            let least = 1.0 - self.trace.nominal_ms() as f64 / HOUR as f64;
            if (least..=12.0).contains(&apart) && !self.trace.view().spans_break(from, to) {
                let change = (self.g[pair[1]] - self.g[pair[0]]) / 18.0156;
                sum += change * change / apart;
                hours += apart;
            }
        }
        (hours > 0.0).then(|| 168.0 * sum / hours)
    }

    fn days(&self) -> Vec<(Id, Option<f64>)> {
        let clock = self.trace.clock().unwrap();
        let nominal = self.trace.nominal_ms();
        let mut days: Vec<(i64, Vec<usize>)> = Vec::new();
        for i in 0..self.t.len() {
            let day = clock.day(self.t[i]);
            if days.last().is_none_or(|d| d.0 != day) {
                days.push((day, Vec::new()));
            }
            days.last_mut().unwrap().1.push(i);
        }
        let of = |is: &[usize]| is.iter().map(|&i| self.g[i]).collect::<Vec<f64>>();
        let risks: Vec<f64> =
            days.iter().filter(|d| d.1.len() >= 3).map(|d| risk(&of(&d.1))).collect();
        let hours = self.hours(&days);
        let dawn: Vec<f64> = days.iter().filter_map(|d| self.dawn(d.0)).collect();
        days.retain(|d| {
            let possible = (clock.day_start(d.0 + 1) - clock.day_start(d.0)) / nominal;
            d.1.len() as f64 >= possible as f64 / 2.0
        });
        let sds: Vec<f64> = days.iter().filter_map(|d| moments::sd(&of(&d.1))).collect();
        let means: Vec<f64> = days.iter().filter_map(|d| moments::mean(&of(&d.1))).collect();
        let (mut profile, mut plain, mut less) = (Vec::new(), Vec::new(), Vec::new());
        for slot in 0..(86_400_000 + nominal - 1) / nominal {
            let (mut values, mut rest) = (Vec::new(), Vec::new());
            for (day, mean) in days.iter().zip(&means) {
                let inside =
                    |&i: &usize| clock.local_ms(self.t[i]).rem_euclid(86_400_000) / nominal == slot;
                let at: Vec<usize> = day.1.iter().copied().filter(inside).collect();
                if let Some(value) = moments::mean(&of(&at)) {
                    values.push(value);
                    rest.push(value - mean);
                }
            }
            profile.extend(moments::mean(&values));
            plain.extend(moments::sd(&values));
            less.extend(moments::sd(&rest));
        }
        let enough = 2 * profile.len() as i64 >= (86_400_000 + nominal - 1) / nominal;
        vec![
            (Id::Adrr, moments::mean(&risks)),
            (Id::SdWithinMgDl, moments::mean(&sds)),
            (Id::SdBetweenDailyMeansMgDl, moments::sd(&means)),
            (Id::SdOfMeanDayMgDl, moments::sd(&profile).filter(|_| enough)),
            (Id::SdWithinHourMgDl, moments::mean(&hours)),
            (Id::SdBetweenDaysMgDl, moments::mean(&plain)),
            (Id::SdBetweenDaysLessMeansMgDl, moments::mean(&less)),
            (Id::DawnRiseMgDl, quantile::median(&dawn)),
        ]
    }

    fn hours(&self, days: &[(i64, Vec<usize>)]) -> Vec<f64> {
        let clock = self.trace.clock().unwrap();
        let needed = HOUR as f64 / self.trace.nominal_ms() as f64 / 2.0;
        let mut out = Vec::new();
        for (day, readings) in days {
            for hour in 0..25 {
                let from = clock.day_start(*day) + hour * HOUR;
                let g: Vec<f64> = readings
                    .iter()
                    .filter(|&&i| from <= self.t[i] && self.t[i] < from + HOUR)
                    .map(|&i| self.g[i])
                    .collect();
                if g.len() as f64 >= needed {
                    out.extend(moments::sd(&g));
                }
            }
        }
        out
    }

    fn dawn(&self, day: i64) -> Option<f64> {
        let start = self.trace.clock().unwrap().day_start(day);
        let needed = HOUR as f64 / self.trace.nominal_ms() as f64 / 2.0;
        let mean = |hour: i64| {
            let inside = |t: i64| start + hour * HOUR <= t && t < start + (hour + 1) * HOUR;
            let g: Vec<f64> =
                (0..self.t.len()).filter(|&i| inside(self.t[i])).map(|i| self.g[i]).collect();
            moments::mean(&g).filter(|_| g.len() as f64 >= needed)
        };
        let night: Option<Vec<f64>> = (0..6).map(mean).collect();
        Some(mean(6)? - night?.into_iter().fold(f64::MAX, f64::min))
    }
}

fn remove_small(points: &mut Vec<f64>, sd: f64) {
    loop {
        let size = |i: usize, points: &[f64]| (points[i + 1] - points[i]).abs();
        let smallest = (0..points.len().saturating_sub(1))
            .min_by(|&a, &b| size(a, points).total_cmp(&size(b, points)));
        let Some(i) = smallest else { return };
        if size(i, points) > sd {
            return;
        }
        if i == 0 {
            points.remove(0);
        } else if i + 2 == points.len() {
            points.pop();
        } else {
            points.drain(i..i + 2);
        }
    }
}

fn risk(g: &[f64]) -> f64 {
    let f = |g: f64| 1.509 * (libm::pow(libm::log(g), 1.084) - 5.381);
    let low = g.iter().map(|&g| if f(g) < 0.0 { 10.0 * f(g) * f(g) } else { 0.0 });
    let high = g.iter().map(|&g| if f(g) > 0.0 { 10.0 * f(g) * f(g) } else { 0.0 });
    low.fold(0.0, f64::max) + high.fold(0.0, f64::max)
}

fn sample_entropy(g: &[f64]) -> Option<f64> {
    if g.len() < 100 {
        return None;
    }
    // A difference of whole tenths of mmol/L comes with rounding in mg/dL.
    let r = 0.2 * moments::sd(g)? + 1e-9;
    let alike = |i: usize, j: usize, m: usize| (0..m).all(|k| (g[i + k] - g[j + k]).abs() <= r);
    let (mut a, mut b) = (0.0, 0.0);
    for i in 0..g.len() - 2 {
        for j in i + 1..g.len() - 2 {
            b += f64::from(alike(i, j, 2));
            a += f64::from(alike(i, j, 3));
        }
    }
    (a > 0.0).then(|| -libm::log(a / b))
}

fn dfa(g: &[f64]) -> Option<f64> {
    if g.len() < 256 {
        return None;
    }
    let mean = moments::mean(g)?;
    let y: Vec<f64> = (0..g.len()).map(|k| g[..=k].iter().map(|x| x - mean).sum::<f64>()).collect();
    let (mut sizes, mut roots) = (Vec::new(), Vec::new());
    for n in [8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512, 768, 1024] {
        if n > g.len() / 4 {
            continue;
        }
        let x: Vec<f64> = (0..n).map(|i| i as f64).collect();
        let (mut left, mut count) = (0.0, 0.0);
        for part in y.chunks_exact(n) {
            let slope = moments::slope(&x, part)?;
            let (mx, my) = (moments::mean(&x)?, moments::mean(part)?);
            for (a, b) in x.iter().zip(part) {
                let rest = b - my - slope * (a - mx);
                left += rest * rest;
                count += 1.0;
            }
        }
        sizes.push(libm::log(n as f64));
        roots.push(libm::log((left / count).sqrt()));
    }
    moments::slope(&sizes, &roots)
}

/// Mean exponent of 60 series of 2048 readings, and its standard error.
fn mean_exponent(walk: bool) -> (f64, f64) {
    let exponents: Vec<f64> = (0..60)
        .map(|case| {
            let mut random = Random::keyed(21, case, u64::from(walk));
            let mut sum = 0.0;
            let series: Vec<i32> = (0..2048)
                .map(|_| {
                    let noise = 100.0 * random.normal();
                    sum = if walk { sum + noise } else { noise };
                    sum.round() as i32
                })
                .collect();
            dfa::exponent(&series).unwrap()
        })
        .collect();
    (moments::mean(&exponents).unwrap(), moments::sd(&exponents).unwrap() / 60.0_f64.sqrt())
}

/// What white noise gives in truth: E F(n)^2 = s^2 (n^2 - 4) / (15 n) for a line fitted to a
/// random walk of n points (checked against the trace of the covariance below).
#[test]
fn dfa_of_white_noise_and_of_a_random_walk() {
    let sizes: Vec<f64> =
        [8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512].map(f64::from).to_vec();
    let expected: Vec<f64> =
        sizes.iter().map(|n| 0.5 * libm::log((n * n - 4.0) / (15.0 * n))).collect();
    let logs: Vec<f64> = sizes.iter().map(|n| libm::log(*n)).collect();
    let alpha = moments::slope(&logs, &expected).unwrap();
    assert!((alpha - 0.5).abs() < 0.01, "{alpha}");
    // Four standard errors; the mean of a logarithm lies below the logarithm of the mean most
    // where there are few boxes, hence 0.02 more.
    let (mean, se) = mean_exponent(false);
    assert!((mean - alpha).abs() < 4.0 * se + 0.02, "{mean} +- {se}, expected {alpha}");
    let (mean, se) = mean_exponent(true);
    assert!((mean - 1.5).abs() < 4.0 * se + 0.03, "{mean} +- {se}");
}

#[test]
fn line_fitted_to_a_random_walk() {
    for n in [8_usize, 12, 32] {
        // Residual of unit noise e_k summed up: y_i = sum of e_k for k <= i.
        let x: Vec<f64> = (0..n).map(|i| i as f64).collect();
        let mut left = 0.0;
        for k in 0..n {
            let y: Vec<f64> = (0..n).map(|i| f64::from(i >= k)).collect();
            let (slope, mx) = (moments::slope(&x, &y).unwrap(), moments::mean(&x).unwrap());
            let my = moments::mean(&y).unwrap();
            left += (0..n).map(|i| y[i] - my - slope * (x[i] - mx)).map(|r| r * r).sum::<f64>();
        }
        let expected = ((n * n) as f64 - 4.0) / (15.0 * n as f64);
        assert!((left / n as f64 - expected).abs() < 1e-12, "{n}");
    }
}

/// White normal noise: two readings differ by at most r with probability p = erf(r / 2 SD), so
/// -ln(A/B) is -ln p, p = erf(0.1) = 0.1124629 (Abramowitz and Stegun, table 7.1).
#[test]
fn sample_entropy_of_white_noise() {
    let mut random = Random::keyed(22, 0, 0);
    let series: Vec<i64> = (0..4000).map(|_| (1e6 * random.normal()) as i64).collect();
    let times: Vec<i64> = (0..4000).map(|i| i * 300_000).collect();
    let got = entropy::sample_entropy(&times, &series).unwrap();
    // About 8e6 p^2 = 1e5 pairs, of which A is 1.1e4: standard error about 0.01.
    let expected = -libm::log(0.112_462_9);
    assert!((got - expected).abs() < 0.04, "{got}, expected {expected}");
}

fn abs(values: Vec<f64>) -> Vec<f64> {
    values.into_iter().map(f64::abs).collect()
}
