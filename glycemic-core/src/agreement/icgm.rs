//! Special controls for integrated continuous glucose monitors.
//!
//! # Method
//! Shares with a one-sided 95 % lower bound that must exceed a limit, pairs that must not occur,
//! and rates that may point the wrong way in 1 % at most. Strata are by the device's value;
//! percentages are of the reference.
//!
//! # Source
//! 21 CFR 862.1355(b)(1)(v), Federal Register 2022; 87: 9237-9239. Citation confirmed, item A in a
//! secondary source; all other numbers are from memory and their rows say unconfirmed.

use super::rule::{By, Rule};
use super::standards::{Criterion, Kind, Row, Status, check};
use crate::error::{Error, require_all_finite, require_same_len};

const ICGM: &str = "21 CFR 862.1355, integrated continuous glucose monitors";
const ICGM_SOURCE: &str = "21 CFR 862.1355(b)(1)(v), Federal Register 2022; 87: 9237-9239";

/// Rates of change beside pairs: the true one and the device's, mg/dL/min.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates<'a> {
    /// From the reference, one for each pair.
    pub reference: &'a [f64],
    /// As the device says.
    pub measured: &'a [f64],
}

/// The special controls for integrated continuous glucose monitors on pairs in mg/dL: items A
/// to I, and J and K when rates are given. Strata are by the device's value.
///
/// The 1 % of items J and K is taken of the pairs whose true rate qualifies (the stricter
/// reading); with fewer than 100 of those one reading alone would decide, so they are too few.
///
/// # Errors
/// As `iso15197_2013` beside it, and for rates of another length or NaN among them.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::standards::icgm;
/// # use glycemic_core::agreement::Verdict;
/// // 100 faultless pairs at 120 mg/dL: enough for 70 % (item B), too few for 99 % (item E).
/// let rows = icgm(&[120.0; 100], &[120.0; 100], None, None, 0.95)?;
/// let verdict = |item| rows.iter().find(|r| r.item == item).unwrap().verdict;
/// assert_eq!(verdict("B"), Verdict::NumericalLimitsMet);
/// assert_eq!(verdict("E"), Verdict::TooFew);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn icgm(
    reference: &[f64],
    measured: &[f64],
    rates: Option<Rates<'_>>,
    cluster: Option<&[i64]>,
    level: f64,
) -> Result<Vec<Row>, Error> {
    check(reference, measured, cluster, level)?;
    let low = |m: f64| m < 70.0;
    let middle = |m: f64| (70.0..=180.0).contains(&m);
    let high = |m: f64| m > 180.0;
    let any = |_: f64| true;
    let mg_dl = |limit| Rule { mg_dl: limit, pct: 0.0, switch_mg_dl: 1e6, switch_by: By::Measured };
    let pct = |limit| Rule { mg_dl: 0.0, pct: limit, switch_mg_dl: 0.0, switch_by: By::Measured };
    type Stratum<'a> = &'a dyn Fn(f64) -> bool;
    let shares: [(&'static str, &str, Stratum<'_>, Rule, f64); 7] = [
        ("A", "reading below 70: within 15 mg/dL", &low, mg_dl(15.0), 85.0),
        ("B", "reading 70-180: within 15 %", &middle, pct(15.0), 70.0),
        ("C", "reading above 180: within 15 %", &high, pct(15.0), 80.0),
        ("D", "reading below 70: within 40 mg/dL", &low, mg_dl(40.0), 98.0),
        ("E", "reading 70-180: within 40 %", &middle, pct(40.0), 99.0),
        ("F", "reading above 180: within 40 %", &high, pct(40.0), 99.0),
        ("G", "all readings: within 20 %", &any, pct(20.0), 87.0),
    ];
    let pick = |of: &dyn Fn(usize) -> bool, hit: &dyn Fn(usize) -> bool| {
        let kept: Vec<usize> = (0..reference.len()).filter(|&i| of(i)).collect();
        let hits: Vec<bool> = kept.iter().map(|&i| hit(i)).collect();
        let own: Option<Vec<i64>> = cluster.map(|c| kept.iter().map(|&i| c[i]).collect());
        (hits, own)
    };
    let mut rows = Vec::new();
    for (item, words, stratum, rule, limit_pct) in shares {
        let (hits, own) =
            pick(&|i| stratum(measured[i]), &|i| rule.holds(reference[i], measured[i]));
        let criterion = icgm_item(item, words, Kind::BoundAbove, limit_pct, 0);
        rows.push(criterion.judge(&hits, own.as_deref(), level)?);
    }
    let (hits, own) = pick(&|i| low(measured[i]), &|i| reference[i] > 180.0);
    let none = icgm_item("H", "reading below 70: blood above 180", Kind::ShareAtMost, 0.0, 1);
    rows.push(none.judge(&hits, own.as_deref(), level)?);
    let (hits, own) = pick(&|i| high(measured[i]), &|i| reference[i] < 70.0);
    let none = icgm_item("I", "reading above 180: blood below 70", Kind::ShareAtMost, 0.0, 1);
    rows.push(none.judge(&hits, own.as_deref(), level)?);
    if let Some(rates) = rates {
        for (name, of) in [("rates.reference", rates.reference), ("rates.measured", rates.measured)]
        {
            require_same_len(name, reference.len(), of.len())?;
            require_all_finite(name, of)?;
        }
        let (true_rate, shown) = (rates.reference, rates.measured);
        let (hits, own) = pick(&|i| true_rate[i] < -2.0, &|i| shown[i] > 1.0);
        let words = "true rate below -2 mg/dL/min: device above +1";
        let most = icgm_item("J", words, Kind::ShareAtMost, 1.0, 100);
        rows.push(most.judge(&hits, own.as_deref(), level)?);
        let (hits, own) = pick(&|i| true_rate[i] > 2.0, &|i| shown[i] < -1.0);
        let words = "true rate above +2 mg/dL/min: device below -1";
        let most = icgm_item("K", words, Kind::ShareAtMost, 1.0, 100);
        rows.push(most.judge(&hits, own.as_deref(), level)?);
    }
    Ok(rows)
}

fn icgm_item(
    item: &'static str,
    words: &str,
    kind: Kind,
    limit_pct: f64,
    pairs: usize,
) -> Criterion {
    let (status, note) = match item {
        "A" => {
            (Status::Confirmed, "confirmed in a secondary source; the bound's method is a choice")
        }
        "J" | "K" => {
            (Status::Unconfirmed, "numbers from memory; of which measurements the 1 % is, a choice")
        }
        "H" | "I" => (Status::Unconfirmed, "numbers from memory"),
        _ => (Status::Unconfirmed, "numbers from memory; the bound's method is a choice"),
    };
    Criterion {
        standard: ICGM,
        item,
        rule: words.to_string(),
        kind,
        limit_pct,
        pairs,
        source: ICGM_SOURCE,
        status,
        note,
    }
}
