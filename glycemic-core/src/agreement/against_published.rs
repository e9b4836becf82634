//! These pairs against a published accuracy table.
//!
//! # Method
//! For each published cell (band, rule, pairs, percent) the same share is taken here, and the
//! difference of the two gets the hybrid score interval, so both samples' errors count; with
//! clusters the share here has its effective number of pairs. Against a margin the caller
//! states, the interval of level 1 - 2α decides (two one-sided tests at α each): wholly inside
//! is `equivalent`, wholly beyond is `different_by_more`; anything else can't be told, and a
//! difference that is not seen is no agreement. The published pairs come from many persons,
//! whose clustering their count does not show: the interval is then too narrow.
//!
//! # Source
//! Newcombe RG. Stat Med 1998; 17: 873-890, method 10. Schuirmann DJ. J Pharmacokinet Biopharm
//! 1987; 15: 657-680 (two one-sided tests).

use super::band::Band;
use super::rule::{By, Rule};
use super::within::{Share, share_of_hits};
use crate::error::{Error, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::share_difference::newcombe;

/// A cell of a published table.
#[derive(Clone, Debug, PartialEq)]
pub struct PublishedCell {
    /// Band of level.
    pub band: Band,
    /// Whose value falls into the band.
    pub band_by: By,
    /// Rule of the share.
    pub rule: Rule,
    /// Published number of pairs.
    pub n: usize,
    /// Published percentage within the rule.
    pub percent: f64,
}

/// What a difference says against a margin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Equivalence {
    /// The difference is shown to be smaller than the margin.
    Equivalent,
    /// It is shown to be larger.
    DifferentByMore,
    /// It can't be told from these pairs.
    CannotTell,
}

/// A published cell beside the same share here.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// The share here; `None` without pairs in the band.
    pub here: Option<Share>,
    /// Published pairs.
    pub published_n: usize,
    /// Published percentage.
    pub published_pct: f64,
    /// Here less published, in percentage points, at the level asked for.
    pub difference_pct: Estimate,
    /// Ends of the interval of level 1 - 2α in percentage points, which the verdict rests on.
    pub equivalence_interval_pct: Option<(f64, f64)>,
    /// Against the margin.
    pub verdict: Equivalence,
}

/// Compares n pairs in mg/dL with published cells; `margin_pct` is the largest difference, in
/// percentage points, that would not matter.
///
/// # Errors
/// Different lengths, NaN, a published percentage outside 0-100 or of no pairs, a margin outside
/// 0-100 (0 can never be met), a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::against_published::*;
/// # use glycemic_core::agreement::{By, Rule, band::Band};
/// let cell = PublishedCell {
///     band: Band::ALL, band_by: By::Reference, rule: Rule::same(20.0, 100.0), n: 2000, percent: 93.0,
/// };
/// // 20 of 20 within, against 93 %: that is not yet a difference, and no agreement either.
/// let c = against_published(&[100.0; 20], &[100.0; 20], None, &[cell], 5.0, 0.95)?;
/// assert_eq!(c[0].verdict, Equivalence::CannotTell);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn against_published(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    cells: &[PublishedCell],
    margin_pct: f64,
    level: f64,
) -> Result<Vec<Compared>, Error> {
    super::check_pairs(reference, measured)?;
    require_within("level", level, 0.5, 0.999)?;
    require_within("margin_pct", margin_pct, 0.0, 100.0)?;
    require_same_len("cluster", reference.len(), cluster.map_or(reference.len(), <[i64]>::len))?;
    cells
        .iter()
        .map(|cell| {
            cell.rule.check()?;
            require_within("percent", cell.percent, 0.0, 100.0)?;
            require_within("n", cell.n as f64, 1.0, 1e12)?;
            let inside = |i: &usize| cell.band.holds(cell.band_by.of(reference[*i], measured[*i]));
            let kept: Vec<usize> = (0..reference.len()).filter(inside).collect();
            let hits: Vec<bool> =
                kept.iter().map(|&i| cell.rule.holds(reference[i], measured[i])).collect();
            let own: Option<Vec<i64>> =
                cluster.map(|cluster| kept.iter().map(|&i| cluster[i]).collect());
            let here = match hits.len() {
                0 => None,
                _ => Some(share_of_hits(&hits, own.as_deref(), level)?),
            };
            compared(here, cell, margin_pct, level)
        })
        .collect()
}

fn compared(
    here: Option<Share>,
    cell: &PublishedCell,
    margin_pct: f64,
    level: f64,
) -> Result<Compared, Error> {
    const METHOD: &str = "Newcombe 1998, hybrid score";
    let (published_n, published_pct) = (cell.n, cell.percent);
    let Some(share) = &here else {
        let reason = Reason::count("too_few_pairs", "pairs in the band", 0, 1);
        return Ok(Compared {
            here,
            published_n,
            published_pct,
            difference_pct: Estimate::missing(level, METHOD, 0, 1, reason),
            equivalence_interval_pct: None,
            verdict: Equivalence::CannotTell,
        });
    };
    let first = (share.fraction, share.n_effective);
    let second = (published_pct / 100.0, published_n as f64);
    let (difference, low, high) = newcombe(first, second, level)?;
    let (_, inner_low, inner_high) = newcombe(first, second, 2.0 * level - 1.0)?;
    let (inner_low, inner_high) = (100.0 * inner_low, 100.0 * inner_high);
    let verdict = if inner_low > -margin_pct && inner_high < margin_pct {
        Equivalence::Equivalent
    } else if inner_low > margin_pct || inner_high < -margin_pct {
        Equivalence::DifferentByMore
    } else {
        Equivalence::CannotTell
    };
    let pct = |v: f64| 100.0 * v;
    let n = share.n;
    Ok(Compared {
        difference_pct: Estimate::new(pct(difference), pct(low), pct(high), level, METHOD, n),
        here,
        published_n,
        published_pct,
        equivalence_interval_pct: Some((inner_low, inner_high)),
        verdict,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(n: usize, percent: f64) -> PublishedCell {
        let rule = Rule::same(20.0, 100.0);
        PublishedCell { band: Band::ALL, band_by: By::Reference, rule, n, percent }
    }

    /// `k` of `n` here.
    fn compare(k: usize, n: usize, cell: PublishedCell, margin: f64) -> Compared {
        let m: Vec<f64> = (0..n).map(|i| if i < k { 120.0 } else { 121.0 }).collect();
        against_published(&vec![100.0; n], &m, None, &[cell], margin, 0.95).unwrap().remove(0)
    }

    /// Newcombe's first example, 56 of 70 against 48 of 80: 0.2, 0.0524 to 0.3339.
    #[test]
    fn newcombe_in_percentage_points() {
        let d = compare(56, 70, cell(80, 60.0), 5.0).difference_pct;
        assert!((d.value.unwrap() - 20.0).abs() < 1e-9);
        assert!((d.low.unwrap() - 5.24).abs() < 0.005 && (d.high.unwrap() - 33.39).abs() < 0.005);
    }

    #[test]
    fn verdicts() {
        assert_eq!(compare(930, 1000, cell(5000, 93.0), 5.0).verdict, Equivalence::Equivalent);
        assert_eq!(compare(700, 1000, cell(5000, 93.0), 5.0).verdict, Equivalence::DifferentByMore);
        // Two one-sided tests at 5 %: the 90 % interval ends near 1.5 points, the 95 % one near 1.8.
        assert_eq!(compare(930, 1000, cell(5000, 93.0), 1.6).verdict, Equivalence::Equivalent);
        assert_eq!(compare(930, 1000, cell(5000, 93.0), 1.3).verdict, Equivalence::CannotTell);
        // Not different, and far from shown to be the same.
        let small = compare(14, 15, cell(5000, 93.0), 5.0);
        assert!(small.difference_pct.covers(0.0));
        assert_eq!(small.verdict, Equivalence::CannotTell);
        // Different from 0, but not by more than the margin, nor shown to be within it.
        let some = compare(900, 1000, cell(5000, 93.0), 4.0);
        assert!(!some.difference_pct.covers(0.0));
        assert_eq!(some.verdict, Equivalence::CannotTell);
        assert_eq!(compare(930, 1000, cell(5000, 93.0), 0.0).verdict, Equivalence::CannotTell);
    }

    /// A small published table carries its own error: what 5,000 pairs show, 30 can't.
    #[test]
    fn the_published_table_has_error_too() {
        assert_eq!(compare(930, 1000, cell(30, 93.0), 5.0).verdict, Equivalence::CannotTell);
    }

    #[test]
    fn an_empty_band_and_bad_cells() {
        let band = Band::CONSENSUS[0];
        let c = compare(5, 5, PublishedCell { band, ..cell(100, 90.0) }, 5.0);
        assert_eq!((c.here, c.difference_pct.value), (None, None));
        assert_eq!(c.difference_pct.reason.unwrap().code, "too_few_pairs");
        for bad in [cell(0, 90.0), cell(10, 101.0), cell(10, f64::NAN)] {
            assert!(against_published(&[1.0], &[1.0], None, &[bad], 5.0, 0.95).is_err());
        }
    }
}
