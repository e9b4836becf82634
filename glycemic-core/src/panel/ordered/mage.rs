//! MAGE: the mean amplitude of glycaemic excursions.
//!
//! # Method
//! Excursions run between turning points of the unsmoothed trace; those that don't exceed one
//! standard deviation (n - 1) are removed, which merges their neighbours. That is a hysteresis
//! filter: a turn counts once glucose has moved back from it by more than the threshold. The
//! first and the last turning point of a segment are its extremes so far, so an excursion under
//! way at an end counts. No excursion is carried across a gap or a change of sensor.
//!
//! # Source
//! Service FJ et al. Diabetes 1970; 19: 644-655 (more than one SD; the direction of the first).
//! Up and down apart: Baghurst PA. Diabetes Technol Ther 2011; 13: 296-302, from memory.

use std::ops::Range;

use super::number::{Number, Whole};
use crate::estimate::Reason;
use crate::panel::registry::Id;

/// Which way an excursion goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) enum Way {
    Up,
    Down,
}

/// Count and summed amplitude of the excursions that qualify.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Excursions<W> {
    pub(crate) up: Amplitudes<W>,
    pub(crate) down: Amplitudes<W>,
    pub(crate) first: Option<Way>,
}

/// Excursions of one way.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Amplitudes<W> {
    pub(crate) n: u64,
    pub(crate) sum: W,
}

impl<W: Whole> Excursions<W> {
    pub(crate) fn add(&mut self, way: Way, amplitude: W) {
        self.first.get_or_insert(way);
        let side = match way {
            Way::Up => &mut self.up,
            Way::Down => &mut self.down,
        };
        side.n += 1;
        side.sum += amplitude;
    }

    /// The three forms of MAGE, in mg/dL.
    pub(crate) fn measures(&self, step_mg_dl: f64) -> Vec<(Id, Result<f64, Reason>)> {
        let mean = |side: &Amplitudes<W>, what: &str| {
            let sum: i128 = side.sum.into();
            if side.n == 0 {
                let what = format!("{what} over one standard deviation");
                return Err(Reason::count("no_excursions", &what, 0, 1));
            }
            Ok(sum as f64 / side.n as f64 * step_mg_dl)
        };
        let up = mean(&self.up, "upward excursions");
        let down = mean(&self.down, "downward excursions");
        let first = match self.first {
            Some(Way::Up) => up.clone(),
            Some(Way::Down) => down.clone(),
            None => mean(&Amplitudes::default(), "excursions"),
        };
        vec![(Id::MageMgDl, first), (Id::MageUpMgDl, up), (Id::MageDownMgDl, down)]
    }
}

/// The excursions over `threshold` counts, segment by segment.
pub(crate) fn excursions<N: Number>(
    codes: &[N],
    segments: &[Range<usize>],
    threshold: f64,
) -> Excursions<N::Wide> {
    let mut found = Excursions::default();
    each_excursion(codes, segments, threshold, |way, amplitude, _| found.add(way, amplitude));
    found
}

/// Way, amplitude and place of the end of each excursion over `threshold` counts.
pub(crate) fn each_excursion<N: Number>(
    codes: &[N],
    segments: &[Range<usize>],
    threshold: f64,
    mut found: impl FnMut(Way, N::Wide, usize),
) {
    // A whole number exceeds the threshold just if it exceeds its whole part.
    let limit = N::floor(threshold);
    for segment in segments {
        let from = segment.start;
        filter(&codes[segment.clone()], limit, |way, amplitude, end| {
            found(way, amplitude, from + end);
        });
    }
}

fn filter<N: Number>(codes: &[N], limit: N, mut found: impl FnMut(Way, N::Wide, usize)) {
    let Some((mut way, mut turn, mut at)) = first_way(codes, limit) else { return };
    let (mut extreme, mut end) = (codes[at], at);
    while let Some(next) = (at + 1..).zip(&codes[at + 1..]).position(|(place, &x)| {
        let back = match way {
            Way::Up => extreme - x,
            Way::Down => x - extreme,
        };
        if back < N::default() {
            (extreme, end) = (x, place);
        }
        back > limit
    }) {
        found(way, (extreme - turn).magnitude().wide(), end);
        turn = extreme;
        at += 1 + next;
        (extreme, end) = (codes[at], at);
        way = match way {
            Way::Up => Way::Down,
            Way::Down => Way::Up,
        };
    }
    found(way, (extreme - turn).magnitude().wide(), end);
}

/// The way of the first excursion, the turning point it starts from, and the position at which
/// it exceeds the limit.
fn first_way<N: Number>(codes: &[N], limit: N) -> Option<(Way, N, usize)> {
    let (mut low, mut high) = (*codes.first()?, *codes.first()?);
    let at = codes.iter().position(|&x| {
        low = low.min(x);
        high = high.max(x);
        high - low > limit
    })?;
    Some(if codes[at] == high { (Way::Up, low, at) } else { (Way::Down, high, at) })
}
