//! How often each level occurs, and what follows from that.
//!
//! # Method
//! Readings on the grid are counted by code; sums of codes and of their squares are whole
//! numbers, so mean and SD don't depend on the order of the readings. Weights are added level by
//! level, rising. Readings off the grid are sorted and each different value is a level; the same
//! sums are then formed over those. Percentiles: Hyndman and Fan, type 7.

use super::grid::{self, Codes};
use super::options::{GradeRule, Options};
use super::risk::{self, Terms};
use crate::stats::{moments, quantile};
use crate::units::{self, Limit, Unit};

/// Shares at which the panel has percentiles.
pub(super) const PLACES: [f64; 7] = [0.0, 0.05, 0.25, 0.5, 0.75, 0.95, 1.0];

/// What the readings come down to, before any measure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Summary {
    pub(super) n: u64,
    pub(super) mean_mg_dl: f64,
    pub(super) sd_mg_dl: Option<f64>,
    /// At [`PLACES`], mg/dL.
    pub(super) percentiles: [f64; 7],
    /// Readings below 54; 54 to below 70; 70-140; above 140 to 180; to 250; above.
    pub(super) bands: [u64; 6],
    /// Sums of the weights below 70, from 70 to 140, and above.
    pub(super) sums: [Terms; 3],
    /// Sum of the terms of M for a reference that is not in the tables.
    pub(super) m_sum: Option<f64>,
    pub(super) grade_median: Option<f64>,
}

/// Counts of codes from `first` on; whole numbers only, so any order of readings gives the same.
#[derive(Clone, Copy, Debug)]
pub(super) struct Counts<'a> {
    pub(super) unit: Unit,
    pub(super) first: usize,
    pub(super) counts: &'a [u64],
}

/// Counts codes, place 0 being `codes.first`.
///
/// Four lanes in turn: a reading equal to the one before it would have to wait for that count to
/// reach memory.
pub(super) fn count(codes: &Codes) -> Vec<u64> {
    let first = usize::from(codes.first);
    let width = (usize::from(codes.last) + 1).saturating_sub(first);
    let mut out = vec![0_u64; width];
    // A lane holds no more than u32 can.
    for block in codes.codes.chunks(1 << 31) {
        let mut lanes = vec![[0_u32; 4]; width];
        let (fours, rest) = block.as_chunks::<4>();
        for &[a, b, c, d] in fours {
            lanes[usize::from(a) - first][0] += 1;
            lanes[usize::from(b) - first][1] += 1;
            lanes[usize::from(c) - first][2] += 1;
            lanes[usize::from(d) - first][3] += 1;
        }
        for &code in rest {
            lanes[usize::from(code) - first][0] += 1;
        }
        for (count, lane) in out.iter_mut().zip(&lanes) {
            *count += lane.iter().map(|&n| u64::from(n)).sum::<u64>();
        }
    }
    out
}

impl Counts<'_> {
    /// The summary; `None` when there is no reading. The first and last place may be empty.
    pub(super) fn summary(self, options: &Options) -> Option<Summary> {
        let from = self.counts.iter().position(|&n| n > 0)?;
        let to = self.counts.iter().rposition(|&n| n > 0)? + 1;
        let me = Counts { first: self.first + from, counts: &self.counts[from..to], ..self };
        let edges = me.edges();
        let bands: [u64; 6] =
            std::array::from_fn(|i| me.counts[edges[i]..edges[i + 1]].iter().sum());
        let n = bands.iter().sum();
        let (mean_mg_dl, sd_mg_dl) = me.moments(n);
        let sum = |from: usize, to: usize| {
            risk::sum_of_codes(me.unit, me.first + from, &me.counts[from..to])
        };
        let levels = || me.counts.iter().enumerate().map(|(i, &n)| (me.value(i), n));
        Some(Summary {
            n,
            mean_mg_dl,
            sd_mg_dl,
            percentiles: me.percentiles(n),
            bands,
            sums: [sum(0, edges[2]), sum(edges[2], edges[3]), sum(edges[3], me.counts.len())],
            m_sum: m_sum(levels(), options),
            grade_median: grade_median(levels(), n, options),
        })
    }

    fn value(&self, place: usize) -> f64 {
        grid::value_of((self.first + place) as u16, self.unit)
    }

    /// Places where the bands begin and the last ends.
    fn edges(&self) -> [usize; 7] {
        let code =
            |limit: Limit| grid::nearest_code(limit.in_source(self.unit), self.unit) as usize;
        let place = |code: usize| code.saturating_sub(self.first).min(self.counts.len());
        [
            0,
            place(code(units::VERY_LOW)),
            place(code(units::LOW)),
            place(code(units::TIGHT) + 1),
            place(code(units::HIGH) + 1),
            place(code(units::VERY_HIGH) + 1),
            self.counts.len(),
        ]
    }

    /// Mean and SD (n - 1) in mg/dL, from whole-number sums.
    fn moments(&self, n: u64) -> (f64, Option<f64>) {
        let (mut sum, mut squares) = (0_u128, 0_u128);
        for (code, &count) in (self.first as u64..).zip(self.counts) {
            sum += u128::from(code * count);
            squares += u128::from(code) * u128::from(code * count);
        }
        let steps = sum as f64 / n as f64;
        let mean = match self.unit {
            Unit::MgDl => steps,
            Unit::MmolL => Unit::MmolL.to_mg_dl(steps / 10.0),
        };
        let pairs = n as f64 * (n as f64 - 1.0);
        let spread = u128::from(n) * squares - sum * sum;
        let sd = || (spread as f64 / pairs).sqrt() * grid::step_mg_dl(self.unit);
        (mean, (n > 1).then(sd))
    }

    /// As [`quantile::type7`] of the sorted readings, in one walk over the counts.
    fn percentiles(&self, n: u64) -> [f64; 7] {
        let (mut place, mut through) = (0, self.counts[0]);
        PLACES.map(|p| {
            let rank = (n - 1) as f64 * p;
            let below = rank as u64;
            while through <= below && place + 1 < self.counts.len() {
                place += 1;
                through += self.counts[place];
            }
            let low = self.value(place);
            let part = rank - below as f64;
            if part <= 0.0 || below + 1 < through {
                return low;
            }
            let next = (place + 1..self.counts.len()).find(|&i| self.counts[i] > 0);
            next.map_or(low, |i| low + part * (self.value(i) - low))
        })
    }
}

/// The summary of readings that are not all on the grid of `unit`; `None` without a reading.
///
/// Those that are on it take its values, so that they fall in the same bands as elsewhere.
pub(super) fn off_grid(mg_dl: &[f64], unit: Unit, options: &Options) -> Option<Summary> {
    let on_grid = |&g: &f64| grid::code_of(g, unit).map_or(g, |code| grid::value_of(code, unit));
    let mut sorted: Vec<f64> = mg_dl.iter().map(on_grid).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let levels: Vec<(f64, u64)> =
        sorted.chunk_by(|a, b| a == b).map(|run| (run[0], run.len() as u64)).collect();
    let below = |limit: Limit| levels.partition_point(|l| l.0 < limit.in_source(unit));
    let through = |limit: Limit| levels.partition_point(|l| l.0 <= limit.in_source(unit));
    let (low, tight) = (below(units::LOW), through(units::TIGHT));
    let edges = [
        0,
        below(units::VERY_LOW),
        low,
        tight,
        through(units::HIGH),
        through(units::VERY_HIGH),
        levels.len(),
    ];
    let sum = risk::sum_of_levels;
    let n = sorted.len() as u64;
    Some(Summary {
        n,
        mean_mg_dl: moments::mean(&sorted)?,
        sd_mg_dl: moments::sd(&sorted),
        percentiles: PLACES.map(|p| quantile::type7(&sorted, p).unwrap_or(f64::NAN)),
        bands: std::array::from_fn(|i| levels[edges[i]..edges[i + 1]].iter().map(|l| l.1).sum()),
        sums: [sum(&levels[..low]), sum(&levels[low..tight]), sum(&levels[tight..])],
        m_sum: m_sum(levels.iter().copied(), options),
        grade_median: grade_median(levels.iter().copied(), n, options),
    })
}

fn m_sum(levels: impl Iterator<Item = (f64, u64)>, options: &Options) -> Option<f64> {
    let reference = options.m_reference_mg_dl;
    (reference != risk::M_REFERENCE_MG_DL).then(|| {
        let occurring = levels.filter(|l| l.1 > 0);
        occurring.map(|(level, n)| n as f64 * risk::m_term(level, reference)).sum()
    })
}

/// The middle GRADE of the readings, or the mean of the two in the middle.
fn grade_median(
    levels: impl Iterator<Item = (f64, u64)>,
    n: u64,
    options: &Options,
) -> Option<f64> {
    if options.grade == GradeRule::Mean {
        return None;
    }
    let mut grades: Vec<(f64, u64)> =
        levels.filter(|l| l.1 > 0).map(|(level, n)| (risk::grade(level), n)).collect();
    grades.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let at = |rank: u64| {
        let mut through = 0;
        let found = grades.iter().find(|g| {
            through += g.1;
            rank < through
        });
        found.map(|g| g.0)
    };
    Some((at((n - 1) / 2)? + at(n / 2)?) / 2.0)
}

#[cfg(test)]
#[path = "count_tests.rs"]
mod tests;
