//! P values when several questions are asked of the same data.
//!
//! # Method
//! *Holm*: the smallest of m is multiplied by m, the next by m - 1 and so on, each at least as
//! large as the one before: the chance of any false claim is held. *Benjamini and Hochberg*: the
//! k-th smallest is multiplied by m / k, each at most as large as the one after: the expected
//! share of false claims among all is held.
//!
//! # Source
//! Holm S. Scand J Stat 1979; 6: 65-70. Benjamini Y, Hochberg Y. J R Stat Soc B 1995; 57: 289-300.
//! Intervals after selection: Benjamini Y, Yekutieli D. J Am Stat Assoc 2005; 100: 71-81, from
//! memory.

use crate::error::{Error, require_within};

fn order(p: &[f64]) -> Result<Vec<usize>, Error> {
    for &value in p {
        require_within("p", value, 0.0, 1.0)?;
    }
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    Ok(order)
}

/// P values adjusted by Holm (1979), in the order given.
///
/// # Errors
/// A p value outside 0 to 1.
///
/// # Example
/// ```
/// # use glycemic_core::stats::multiplicity::holm;
/// // 3 × 0.01, then 2 × 0.04; 1 × 0.05 may not be below the one before.
/// assert_eq!(holm(&[0.05, 0.01, 0.04])?, [0.08, 0.03, 0.08]);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn holm(p: &[f64]) -> Result<Vec<f64>, Error> {
    let mut adjusted = vec![0.0; p.len()];
    let mut least = 0.0_f64;
    for (rank, at) in order(p)?.into_iter().enumerate() {
        least = least.max((p.len() - rank) as f64 * p[at]).min(1.0);
        adjusted[at] = least;
    }
    Ok(adjusted)
}

/// P values adjusted by Benjamini and Hochberg (1995), in the order given.
///
/// # Errors
/// A p value outside 0 to 1.
///
/// # Example
/// ```
/// # use glycemic_core::stats::multiplicity::benjamini_hochberg;
/// // 0.04 × 3 / 2 = 0.06 is more than 0.05 × 3 / 3, which it may not be.
/// let q = benjamini_hochberg(&[0.05, 0.01, 0.04])?;
/// assert!(q.iter().zip([0.05, 0.03, 0.05]).all(|(q, by_hand)| (q - by_hand).abs() < 1e-15));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn benjamini_hochberg(p: &[f64]) -> Result<Vec<f64>, Error> {
    let mut adjusted = vec![0.0; p.len()];
    let mut most = 1.0_f64;
    for (rank, at) in order(p)?.into_iter().enumerate().rev() {
        // The ratio first: it is at least 1, so that rounding can't put a result below its p.
        most = most.min(p[at] * (p.len() as f64 / (rank + 1) as f64));
        adjusted[at] = most;
    }
    Ok(adjusted)
}

/// Level of intervals that go with claims by Benjamini and Hochberg at 1 - `level`: with R of m
/// claimed, 1 - (1 - level) R / m; where nothing is claimed as if one were.
///
/// Source: Benjamini and Yekutieli (2005), from memory.
///
/// # Errors
/// A p value outside 0 to 1, a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// # use glycemic_core::stats::multiplicity::selected_level;
/// // Both of 0.01 and 0.04 of four are claimed at 0.1: 1 - 0.1 × 2 / 4.
/// assert_eq!(selected_level(&[0.01, 0.5, 0.04, 0.9], 0.9)?, 0.95);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn selected_level(p: &[f64], level: f64) -> Result<f64, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let claimed = benjamini_hochberg(p)?.iter().filter(|q| **q <= 1.0 - level).count();
    Ok(1.0 - (1.0 - level) * claimed.max(1) as f64 / p.len().max(1) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ties_and_ends() {
        assert_eq!(holm(&[]).unwrap(), Vec::<f64>::new());
        assert_eq!(holm(&[0.6, 0.6]).unwrap(), [1.0, 1.0]);
        assert_eq!(benjamini_hochberg(&[0.5, 0.5]).unwrap(), [0.5, 0.5]);
        assert!(holm(&[f64::NAN]).is_err() && benjamini_hochberg(&[1.5]).is_err());
        assert!((selected_level(&[0.9, 0.8], 0.95).unwrap() - 0.975).abs() < 1e-15);
    }
}
