//! Per-day sums from which every order-free measure follows.
//!
//! # Method
//! Each different level has a row: 1, its distance from a whole-number centre, the square of that, which
//! band it is in, its weights. A day's sums add the rows of its readings. A level may be spread
//! evenly over a step (in blood, where readings are moved off their grid): then bands count
//! parts of a reading.

use super::jackknife::Join;
use crate::panel::count::Summary;
use crate::panel::options::Options;
use crate::panel::order_free::measures;
use crate::panel::registry::Id;
use crate::panel::risk::{self, Terms};
use crate::units::{self, Unit};

/// Bands are handed on as whole numbers: of thousandths of a reading.
const PARTS: f64 = 1000.0;

/// The different levels of a trace, and each reading's place among them.
pub(crate) struct Distinct {
    /// Rising, mg/dL.
    pub(crate) values: Vec<f64>,
    /// A place in `values` for each reading.
    pub(crate) places: Vec<u32>,
}

impl Distinct {
    pub(crate) fn of(glucose_mg_dl: &[f64]) -> Distinct {
        let mut values = glucose_mg_dl.to_vec();
        values.sort_unstable_by(f64::total_cmp);
        values.dedup();
        let place = |g: &f64| values.partition_point(|v| v < g) as u32;
        let places = glucose_mg_dl.iter().map(place).collect();
        Distinct { values, places }
    }

    /// Readings at each level.
    pub(crate) fn counts(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.values.len()];
        for &place in &self.places {
            out[place as usize] += 1.0;
        }
        out
    }
}

/// Sums over readings.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Sums {
    n: f64,
    sum: f64,
    squares: f64,
    bands: [f64; 6],
    terms: [Terms; 3],
}

impl Join for Sums {
    fn join(&mut self, other: &Sums) {
        self.add(other, 1.0);
    }
}

impl Sums {
    fn add(&mut self, row: &Sums, times: f64) {
        self.n += times * row.n;
        self.sum += times * row.sum;
        self.squares += times * row.squares;
        for (a, b) in self.bands.iter_mut().zip(&row.bands) {
            *a += times * b;
        }
        for (a, b) in self.terms.iter_mut().flatten().zip(row.terms.iter().flatten()) {
            *a += times * b;
        }
    }
}

/// Rows of levels, mapped and spread.
pub(crate) struct Rows {
    rows: Vec<Sums>,
    centre: f64,
}

impl Rows {
    /// `half`: half the step that a level is spread over, 0 for not at all.
    pub(crate) fn new(levels: &[f64], half: f64, unit: Unit) -> Rows {
        let middle = levels.get(levels.len() / 2).copied().unwrap_or(0.0);
        let centre = middle.round();
        let rows = levels.iter().map(|&level| row(level, half, unit, centre)).collect();
        Rows { rows, centre }
    }

    /// The sums of some readings, given by their places.
    pub(crate) fn sums(&self, places: &[u32]) -> Sums {
        let mut all = Sums::default();
        for &place in places {
            all.join(&self.rows[place as usize]);
        }
        all
    }

    /// The sums of all readings, from how many there are of each level.
    pub(crate) fn weighed(&self, counts: &[f64]) -> Sums {
        let mut all = Sums::default();
        for (row, &count) in self.rows.iter().zip(counts) {
            all.add(row, count);
        }
        all
    }

    /// Every order-free measure but percentiles and extremes.
    pub(crate) fn measures(&self, sums: &Sums) -> Vec<(Id, Option<f64>)> {
        let summary = self.summary(sums);
        let all = measures(summary.as_ref(), &Options::default());
        all.into_iter().filter(|m| !ORDERED.contains(&m.0)).map(|(id, v)| (id, v.ok())).collect()
    }

    fn summary(&self, s: &Sums) -> Option<Summary> {
        let parts = |x: f64| (PARTS * x).round().max(0.0) as u64;
        let about = (s.squares - s.sum * s.sum / s.n).max(0.0);
        (s.n > 0.0).then(|| Summary {
            n: parts(s.n),
            mean_mg_dl: self.centre + s.sum / s.n,
            sd_mg_dl: (s.n >= 2.0).then(|| (about / (s.n - 1.0)).sqrt()),
            percentiles: [0.0; 7],
            bands: s.bands.map(parts),
            sums: s.terms.map(|terms| terms.map(|x| PARTS * x)),
            m_sum: None,
            grade_median: None,
        })
    }
}

/// What a summary of sums has no value for.
const ORDERED: [Id; 8] = [
    Id::MinMgDl,
    Id::P05MgDl,
    Id::P25MgDl,
    Id::MedianMgDl,
    Id::P75MgDl,
    Id::P95MgDl,
    Id::MaxMgDl,
    Id::IqrMgDl,
];

fn row(level: f64, half: f64, unit: Unit, centre: f64) -> Sums {
    let below = below_limits(level, half, unit);
    let mut bands = [0.0; 6];
    let mut last = 0.0;
    for (band, share) in bands.iter_mut().zip(below.into_iter().chain([1.0])) {
        *band = share - last;
        last = share;
    }
    let terms = risk::terms(level.max(1.0));
    let [_, low, tight, ..] = below;
    let groups = [low, tight - low, 1.0 - tight];
    let x = level - centre;
    Sums { n: 1.0, sum: x, squares: x * x, bands, terms: groups.map(|g| terms.map(|t| g * t)) }
}

/// The part of a level that lies below each limit between bands.
fn below_limits(level: f64, half: f64, unit: Unit) -> [f64; 5] {
    // A reading at a lower limit lies above it, one at an upper limit below.
    [
        (units::VERY_LOW, false),
        (units::LOW, false),
        (units::TIGHT, true),
        (units::HIGH, true),
        (units::VERY_HIGH, true),
    ]
    .map(|(limit, with)| {
        let limit = limit.in_source(unit);
        if half > 0.0 {
            return ((limit - level + half) / (2.0 * half)).clamp(0.0, 1.0);
        }
        f64::from(u8::from(level < limit || (with && level <= limit)))
    })
}
