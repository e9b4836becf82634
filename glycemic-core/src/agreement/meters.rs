//! Criteria for meters: ISO 15197 and the FDA guidances.
//!
//! # Method
//! The observed share is compared with the limit, without a confidence bound (from memory).
//! Strata are by the reference.
//!
//! # Source
//! See the constants; each row says what of it is from memory.

use super::grid::{Grid, Zone, error_grid};
use super::rule::{By, Rule};
use super::standards::{Criterion, Kind, Row, Status, check};
use crate::error::Error;
use crate::units::Unit;

const ISO_2013: &str = "ISO 15197:2013";
const ISO_2013_SOURCE: &str = "ISO 15197:2013, quoted in open papers (PMC4525642, PMC6399804)";
const FDA_SOURCE: &str =
    "FDA guidance 2016, re-issued 2020; numbers in Diabetes Care 2021; 44 (S1): S85, table 7.1";

/// ISO 15197:2013 on pairs in mg/dL: 95 % within 15 mg/dL or 15 %, and 99 % in zones A and B of
/// the consensus grid for type 1 diabetes.
///
/// # Errors
/// No pair, different lengths, NaN, a reference that is not positive, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::standards::iso15197_2013;
/// # use glycemic_core::agreement::Verdict;
/// let rows = iso15197_2013(&[100.0; 200], &[115.0; 200], None, 0.95)?;
/// assert_eq!(rows[0].verdict, Verdict::NumericalLimitsMet);
/// assert_eq!((rows[1].verdict, rows[1].pairs_more), (Verdict::TooFew, Some(400)));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn iso15197_2013(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Vec<Row>, Error> {
    let limits = Meter {
        standard: ISO_2013,
        item: "6.3.3 accuracy",
        rule: Rule::same(15.0, 100.0),
        limit_pct: 95.0,
        pairs: 200,
        source: ISO_2013_SOURCE,
        note: "clause number and 200 pairs a lot from memory",
    };
    let mut rows = vec![limits.row(reference, measured, cluster, level)?];
    let grid = error_grid(reference, measured, Unit::MgDl, Grid::ConsensusType1)?;
    let hits: Vec<bool> = grid.zones.iter().map(|&zone| zone <= Zone::B).collect();
    let criterion = Criterion {
        standard: ISO_2013,
        item: "6.3.3 consensus grid",
        rule: "zones A and B of the consensus grid, type 1".to_string(),
        kind: Kind::ShareAtLeast,
        limit_pct: 99.0,
        pairs: 600,
        source: ISO_2013_SOURCE,
        status: Status::Confirmed,
        note: "vertices of the grid and 600 pairs from memory",
    };
    rows.push(criterion.judge(&hits, cluster, level)?);
    Ok(rows)
}

/// ISO 15197:2003 on pairs in mg/dL: 95 % within 15 mg/dL below 75 or 20 % from it on.
///
/// # Errors
/// As [`iso15197_2013`].
pub fn iso15197_2003(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Vec<Row>, Error> {
    let limits = Meter {
        standard: "ISO 15197:2003",
        item: "accuracy",
        rule: Rule { mg_dl: 15.0, pct: 20.0, switch_mg_dl: 75.0, switch_by: By::Reference },
        limit_pct: 95.0,
        pairs: 200,
        source: "ISO 15197:2003, quoted in an open paper (PMC4525642, table 1)",
        note: "200 pairs from memory",
    };
    Ok(vec![limits.row(reference, measured, cluster, level)?])
}

/// FDA guidance for over-the-counter self-monitoring meters on pairs in mg/dL.
///
/// # Errors
/// As [`iso15197_2013`].
pub fn fda_self_monitoring(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Vec<Row>, Error> {
    let row = |item, pct, limit_pct| {
        let rule = Rule { mg_dl: 0.0, pct, switch_mg_dl: 0.0, switch_by: By::Reference };
        let standard = "FDA self-monitoring meters, 2020";
        let note = "350 pairs (a lay user each) from memory";
        Meter { standard, item, rule, limit_pct, pairs: 350, source: FDA_SOURCE, note }
            .row(reference, measured, cluster, level)
    };
    Ok(vec![row("15 %", 15.0, 95.0)?, row("20 %", 20.0, 99.0)?])
}

/// FDA guidance for prescription point-of-care meters on pairs in mg/dL.
///
/// # Errors
/// As [`iso15197_2013`].
pub fn fda_point_of_care(
    reference: &[f64],
    measured: &[f64],
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Vec<Row>, Error> {
    let row = |item, limit, limit_pct| {
        let standard = "FDA point-of-care meters, 2020";
        let note = "350 pairs (a patient each) from memory";
        let rule = Rule::same(limit, 75.0);
        Meter { standard, item, rule, limit_pct, pairs: 350, source: FDA_SOURCE, note }
            .row(reference, measured, cluster, level)
    };
    Ok(vec![row("12", 12.0, 95.0)?, row("15", 15.0, 98.0)?])
}

/// A criterion for meters: a share within limits.
struct Meter {
    standard: &'static str,
    item: &'static str,
    rule: Rule,
    limit_pct: f64,
    pairs: usize,
    source: &'static str,
    note: &'static str,
}

impl Meter {
    fn row(
        self,
        reference: &[f64],
        measured: &[f64],
        cluster: Option<&[i64]>,
        level: f64,
    ) -> Result<Row, Error> {
        check(reference, measured, cluster, level)?;
        let hits: Vec<bool> =
            reference.iter().zip(measured).map(|(&r, &m)| self.rule.holds(r, m)).collect();
        let criterion = Criterion {
            standard: self.standard,
            item: self.item,
            rule: self.rule.words(),
            kind: Kind::ShareAtLeast,
            limit_pct: self.limit_pct,
            pairs: self.pairs,
            source: self.source,
            status: Status::Confirmed,
            note: self.note,
        };
        criterion.judge(&hits, cluster, level)
    }
}
