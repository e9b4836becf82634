//! Excursions for any threshold, in one pass and bounded memory.
//!
//! # Method
//! Of four turning points in a row whose middle move is no larger than both outer ones, the two
//! in the middle are taken out as a closed cycle (four-point rainflow counting). For every
//! threshold the hysteresis filter gives the same sum with and without them: over its amplitude
//! the cycle is one move up and one down, under it none. What is left of a segment is moves that
//! grow and then shrink; those over a threshold are excursions as they stand. So a histogram of
//! amplitudes up and down holds all. The first excursion's way: the way of the first move that
//! stretches the range of its segment beyond the threshold, kept as a list of ever larger ranges.
//! Joining feeds what is left of the later first segment to the earlier last one.
//!
//! # Source
//! Four-point counting: Amzallag C et al. Int J Fatigue 1994; 16: 287-293, from memory.

use crate::panel::ordered::mage::{Amplitudes, Excursions, Way};

/// Closed cycles and what is left of the open ones.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Cycles {
    /// Number of moves by amplitude.
    up: Vec<u64>,
    down: Vec<u64>,
    /// Ever larger ranges, and which way each was reached.
    ranges: Vec<(i32, Way)>,
    /// What is left of the first segment, once it has ended: another stream may go before it.
    head: Option<Vec<i32>>,
    /// What is left of the last segment.
    open: Vec<i32>,
    /// Lowest and highest of the last segment.
    low: i32,
    high: i32,
}

impl Cycles {
    /// Adds a reading; `joined`: no gap lies before it.
    pub(super) fn add(&mut self, code: i32, joined: bool) {
        if !joined {
            self.part();
        }
        self.extend(code);
    }

    /// Ends the last segment, if it has readings.
    fn part(&mut self) {
        if self.open.is_empty() {
            return;
        }
        let left = std::mem::take(&mut self.open);
        if self.head.is_none() {
            self.head = Some(left);
            return;
        }
        for pair in left.windows(2) {
            self.count(pair[1] - pair[0]);
        }
    }

    fn extend(&mut self, code: i32) {
        let Some(&last) = self.open.last() else {
            self.open.push(code);
            (self.low, self.high) = (code, code);
            return;
        };
        if code > self.high {
            self.high = code;
            self.range(code - self.low, Way::Up);
        } else if code < self.low {
            self.low = code;
            self.range(self.high - code, Way::Down);
        }
        match self.open[..] {
            [.., before, _] if (last > before) == (code > last) && code != last => {
                self.open.pop();
            }
            _ if code == last => return,
            _ => {}
        }
        self.open.push(code);
        self.close();
    }

    /// Takes out the cycles that the last point closes.
    fn close(&mut self) {
        while let [.., a, b, c, d] = self.open[..] {
            let inner = (c - b).abs();
            if inner > (b - a).abs() || inner > (d - c).abs() {
                return;
            }
            self.count(inner);
            self.count(-inner);
            self.open.truncate(self.open.len() - 3);
            self.open.push(d);
        }
    }

    fn count(&mut self, change: i32) {
        let amplitudes = if change > 0 { &mut self.up } else { &mut self.down };
        *slot(amplitudes, change.unsigned_abs() as usize) += 1;
    }

    fn range(&mut self, range: i32, way: Way) {
        match self.ranges.last_mut() {
            Some(last) if range <= last.0 => {}
            Some(last) if way == last.1 => last.0 = range,
            _ => self.ranges.push((range, way)),
        }
    }

    /// Joins what comes later; `joined`: no gap lies between.
    pub(super) fn join(&mut self, later: &Cycles, joined: bool) {
        if !joined {
            self.part();
        }
        for &code in later.head.as_ref().unwrap_or(&later.open) {
            self.extend(code);
        }
        if later.head.is_some() {
            self.part();
            self.open.clone_from(&later.open);
            (self.low, self.high) = (later.low, later.high);
        }
        for (mine, theirs) in [(&mut self.up, &later.up), (&mut self.down, &later.down)] {
            for (amplitude, n) in theirs.iter().enumerate() {
                *slot(mine, amplitude) += n;
            }
        }
        for &(range, way) in &later.ranges {
            self.range(range, way);
        }
    }

    /// The excursions over a threshold in counts.
    pub(super) fn excursions(&self, threshold: f64) -> Excursions<i64> {
        let limit = threshold as i32;
        let over = |amplitudes: &[u64]| {
            let mut all = Amplitudes::default();
            for (amplitude, n) in amplitudes.iter().enumerate().skip(limit as usize + 1) {
                all.n += n;
                all.sum += amplitude as i64 * *n as i64;
            }
            all
        };
        let mut found = Excursions {
            up: over(&self.up),
            down: over(&self.down),
            first: self.ranges.iter().find(|r| r.0 > limit).map(|r| r.1),
        };
        for left in [self.head.as_deref().unwrap_or(&[]), &self.open] {
            for pair in left.windows(2).filter(|p| (p[1] - p[0]).abs() > limit) {
                let side = if pair[1] > pair[0] { &mut found.up } else { &mut found.down };
                side.n += 1;
                side.sum += i64::from((pair[1] - pair[0]).abs());
            }
        }
        found
    }
}

fn slot(amplitudes: &mut Vec<u64>, amplitude: usize) -> &mut u64 {
    if amplitudes.len() <= amplitude {
        amplitudes.resize(amplitude + 1, 0);
    }
    &mut amplitudes[amplitude]
}
