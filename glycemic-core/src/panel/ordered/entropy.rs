//! Sample entropy.
//!
//! # Method
//! On the longest stretch without a gap (of equals the first; of a stretch over 14 days its first
//! 14), with m = 2 and r = 0.2 SD (n - 1) of the stretch: B counts pairs of two readings in a row
//! that differ by at most r place by place, A those whose third readings do so too, no pair with
//! itself, both over the starts that have a third reading; -ln(A / B). Starts are sorted by their
//! first reading, so that only those within r of each other are looked at.
//!
//! # Source
//! Richman JS, Moorman JR. Am J Physiol 2000; 278: H2039-H2049, from memory (there 10^m readings
//! or more: 100). The stretch: a convention of this library.

use super::number::{Number, Spread};
use crate::estimate::Reason;

/// Readings that the stretch must hold: 10^m.
const MIN_READINGS: usize = 100;
const MOST_MS: i64 = 14 * 86_400_000;

/// Of one stretch without a gap.
pub(crate) fn sample_entropy<N: Number>(times: &[i64], codes: &[N]) -> Result<f64, Reason> {
    let end = times.first().map_or(0, |&first| times.partition_point(|&t| t - first < MOST_MS));
    let stretch = &codes[..end];
    if stretch.len() < MIN_READINGS {
        let what = "readings in a row without a gap";
        return Err(Reason::count("too_short", what, stretch.len(), MIN_READINGS));
    }
    let sd = Spread::of(stretch).sd().unwrap_or(0.0);
    if sd == 0.0 {
        return Err(Reason::plain("no_variation", "all readings of the stretch are the same"));
    }
    let (longer, shorter) = matches(stretch, N::floor(0.2 * sd));
    if longer == 0 {
        let what = "pairs of three readings in a row that are alike";
        return Err(Reason::count("no_matches", what, 0, 1));
    }
    Ok(libm::log(shorter as f64 / longer as f64))
}

/// Pairs alike in three places, and in two.
fn matches<N: Number>(stretch: &[N], r: N) -> (u64, u64) {
    let mut starts: Vec<(N, N, N)> = stretch.windows(3).map(|w| (w[0], w[1], w[2])).collect();
    starts.sort_unstable();
    let second: Vec<N> = starts.iter().map(|s| s.1).collect();
    let third: Vec<N> = starts.iter().map(|s| s.2).collect();
    let (mut longer, mut shorter) = (0_u64, 0_u64);
    let mut end = 0;
    for (i, start) in starts.iter().enumerate() {
        while end < starts.len() && starts[end].0 - start.0 <= r {
            end += 1;
        }
        let (mut a, mut b) = (0_u32, 0_u32);
        for (&y, &z) in second[i + 1..end].iter().zip(&third[i + 1..end]) {
            let alike = u32::from((y - start.1).magnitude() <= r);
            b += alike;
            a += alike & u32::from((z - start.2).magnitude() <= r);
        }
        shorter += u64::from(b);
        longer += u64::from(a);
    }
    (longer, shorter)
}
