//! Accuracy tables: relative difference, bias and shares within limits by group and band.
//!
//! # Method
//! A row for each group and band, with margins: all pairs, each band over all groups, each
//! group over all bands. Bands are of the reference or of the measured value. Groups are any
//! labels: wear day, rate class, hour, context. Figures and intervals are those of
//! [`summary`](super::summary()) and [`Rule::share`](super::Rule::share): with clusters (persons,
//! days) intervals rest on clusters, and shares on an effective number of pairs. A cell without
//! pairs is a row with nothing in it.
//!
//! # Source
//! Absolute relative difference by reference: Reiterer et al., J Diabetes Sci Technol 2017; 11:
//! 59-67.

use super::band::Band;
use super::rule::{By, Rule};
use super::summary::{Summary, summary};
use super::within::Share;
use crate::error::{Error, require_same_len, require_within};
use crate::estimate::Estimate;
use crate::table::Table;

/// Choices for [`accuracy_table`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options<'a> {
    /// Rules of the shares, a column each.
    pub rules: &'a [Rule],
    /// Bands of level; none for no split.
    pub bands: &'a [Band],
    /// Whose value falls into a band.
    pub band_by: By,
    /// A label for each pair; `None` for no groups.
    pub groups: Option<&'a [String]>,
    /// Each pair's cluster; `None` when pairs are independent.
    pub cluster: Option<&'a [i64]>,
    /// Confidence level.
    pub level: f64,
}

impl Default for Options<'_> {
    fn default() -> Self {
        let (rules, bands): (&[Rule], &[Band]) = (&USUAL, &[]);
        Options { rules, bands, band_by: By::Reference, groups: None, cluster: None, level: 0.95 }
    }
}

/// 15/15, 20/20, 30/30 and 40/40 with the switch at 100 mg/dL of reference.
const USUAL: [Rule; 4] = [
    Rule { mg_dl: 15.0, pct: 15.0, switch_mg_dl: 100.0, switch_by: By::Reference },
    Rule { mg_dl: 20.0, pct: 20.0, switch_mg_dl: 100.0, switch_by: By::Reference },
    Rule { mg_dl: 30.0, pct: 30.0, switch_mg_dl: 100.0, switch_by: By::Reference },
    Rule { mg_dl: 40.0, pct: 40.0, switch_mg_dl: 100.0, switch_by: By::Reference },
];

/// One cell of an accuracy table.
#[derive(Clone, Debug, PartialEq)]
pub struct AccuracyRow {
    /// Group, `None` for all.
    pub group: Option<String>,
    /// Band, [`Band::ALL`] for all.
    pub band: Band,
    /// Pairs.
    pub n: usize,
    /// What the pairs say; `None` without pairs.
    pub summary: Option<Summary>,
    /// Share within each rule, in the order asked; empty without pairs.
    pub within: Vec<Share>,
}

/// The table of n >= 1 pairs in mg/dL.
///
/// # Errors
/// No pair, different lengths, NaN, a reference that is not positive, a rule with negative
/// limits, a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::accuracy::{Options, accuracy_table};
/// # use glycemic_core::agreement::band::Band;
/// let options = Options { bands: &Band::CONSENSUS, ..Options::default() };
/// let rows = accuracy_table(&[60.0, 120.0], &[66.0, 120.0], &options)?;
/// // All pairs, then the five bands.
/// assert_eq!(rows.iter().map(|r| r.n).collect::<Vec<_>>(), [2, 0, 1, 1, 0, 0]);
/// assert_eq!(rows[2].summary.as_ref().unwrap().mard_pct.value, Some(10.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn accuracy_table(
    reference: &[f64],
    measured: &[f64],
    options: &Options<'_>,
) -> Result<Vec<AccuracyRow>, Error> {
    super::check_pairs(reference, measured)?;
    require_within("level", options.level, 0.5, 0.999)?;
    options.rules.iter().try_for_each(Rule::check)?;
    let n = reference.len();
    if n == 0 {
        return Err(Error::TooFewValues { measure: "accuracy table", needed: 1, got: 0 });
    }
    require_same_len("groups", n, options.groups.map_or(n, <[String]>::len))?;
    require_same_len("cluster", n, options.cluster.map_or(n, <[i64]>::len))?;
    let mut groups: Vec<Option<&String>> = vec![None];
    for group in options.groups.unwrap_or_default() {
        if !groups.contains(&Some(group)) {
            groups.push(Some(group));
        }
    }
    let bands: Vec<Band> = std::iter::once(Band::ALL).chain(options.bands.to_vec()).collect();
    let mut rows = Vec::with_capacity(groups.len() * bands.len());
    for &group in &groups {
        for &band in &bands {
            let inside = |i: &usize| {
                let own = options.groups.map(|labels| &labels[*i]);
                (group.is_none() || own == group)
                    && band.holds(options.band_by.of(reference[*i], measured[*i]))
            };
            let kept: Vec<usize> = (0..n).filter(inside).collect();
            rows.push(cell(group.cloned(), band, &kept, reference, measured, options)?);
        }
    }
    Ok(rows)
}

fn cell(
    group: Option<String>,
    band: Band,
    kept: &[usize],
    reference: &[f64],
    measured: &[f64],
    options: &Options<'_>,
) -> Result<AccuracyRow, Error> {
    let n = kept.len();
    if n == 0 {
        return Ok(AccuracyRow { group, band, n, summary: None, within: Vec::new() });
    }
    let pick = |values: &[f64]| -> Vec<f64> { kept.iter().map(|&i| values[i]).collect() };
    let (r, m) = (pick(reference), pick(measured));
    let cluster: Option<Vec<i64>> =
        options.cluster.map(|cluster| kept.iter().map(|&i| cluster[i]).collect());
    let (cluster, level) = (cluster.as_deref(), options.level);
    let within = options.rules.iter().map(|rule| rule.share(&r, &m, cluster, level));
    Ok(AccuracyRow {
        group,
        band,
        n,
        summary: Some(summary(&r, &m, cluster, level)?),
        within: within.collect::<Result<_, _>>()?,
    })
}

/// The rows as a table; shares in percent, columns `within_1_pct`, `within_1_low_pct`, ... in
/// the order of `rules`, whose words stand in `within_1_rule`.
///
/// # Errors
/// None that rows of [`accuracy_table`] should cause.
pub fn to_table(rows: &[AccuracyRow], rules: &[Rule]) -> Result<Table, Error> {
    let mut table = Table::new();
    let text = |f: &dyn Fn(&AccuracyRow) -> Option<String>| rows.iter().map(f).collect::<Vec<_>>();
    table.push_text("group", text(&|r| r.group.clone()))?;
    table.push_text("band_mg_dl", text(&|r| Some(r.band.words())))?;
    table.push_i64("n", rows.iter().map(|r| Some(r.n as i64)).collect())?;
    let clusters = |r: &AccuracyRow| r.summary.as_ref().map(|s| s.clusters as i64);
    table.push_i64("clusters", rows.iter().map(clusters).collect())?;
    type Pick = fn(&Summary) -> &Estimate;
    let estimates: [(&str, Pick); 3] = [
        ("mard", |s| &s.mard_pct),
        ("bias", |s| &s.bias_mg_dl),
        ("relative_bias", |s| &s.bias_pct),
    ];
    for (name, pick) in estimates {
        let unit = if name == "bias" { "mg_dl" } else { "pct" };
        let column = |end: fn(&Estimate) -> Option<f64>| {
            rows.iter().map(|r| r.summary.as_ref().and_then(|s| end(pick(s)))).collect()
        };
        table.push_f64(&format!("{name}_{unit}"), column(|e| e.value))?;
        table.push_f64(&format!("{name}_low_{unit}"), column(|e| e.low))?;
        table.push_f64(&format!("{name}_high_{unit}"), column(|e| e.high))?;
    }
    let one = |f: fn(&Summary) -> Option<f64>| {
        rows.iter().map(|r| r.summary.as_ref().and_then(f)).collect::<Vec<_>>()
    };
    table.push_f64("median_ard_pct", one(|s| Some(s.median_ard_pct)))?;
    table.push_f64("sd_mg_dl", one(|s| s.sd_mg_dl))?;
    for (k, rule) in rules.iter().enumerate() {
        let name = format!("within_{}", k + 1);
        let share = |f: fn(&Share) -> f64| {
            rows.iter().map(|r| r.within.get(k).map(f)).collect::<Vec<Option<f64>>>()
        };
        table.push_text(&format!("{name}_rule"), vec![Some(rule.words()); rows.len()])?;
        table.push_f64(&format!("{name}_pct"), share(|s| 100.0 * s.fraction))?;
        table.push_f64(&format!("{name}_low_pct"), share(|s| 100.0 * s.low))?;
        table.push_f64(&format!("{name}_high_pct"), share(|s| 100.0 * s.high))?;
        table.push_f64(&format!("{name}_n_effective"), share(|s| s.n_effective))?;
    }
    Ok(table)
}

#[cfg(test)]
#[path = "accuracy_tests.rs"]
mod tests;
