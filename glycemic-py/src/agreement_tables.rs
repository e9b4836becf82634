//! Accuracy by group and band, concurrence of ranges, and a published table beside the data.

use glycemic_core::agreement::accuracy::{Options, to_table};
use glycemic_core::agreement::against_published::{Compared, Equivalence, PublishedCell};
use glycemic_core::agreement::band::Band;
use glycemic_core::agreement::concurrence::{Concurrence, Shown, USUAL_CUTS};
use glycemic_core::agreement::{self, By, Rule, Share};
use glycemic_core::{Error, Table};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::agreement_words::{by, choice, pairs, percent};
use crate::convert::{self, codes, column, floats, texts};
use crate::error::{compute, guard, raise, to_py};
use crate::table::PyTable;

/// Relative difference, bias and shares within limits by group and band.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL; n of at least 1, references positive.
/// rules : list of (mg_dl, pct, switch_mg_dl), optional
///     Limits of the shares: so many mg/dL below the switch, so many percent of the reference
///     from it on. Without it 15, 20, 30 and 40 of each, with the switch at 100 mg/dL.
/// bands : "consensus" or rising cuts in mg/dL, optional
///     Bands of level; each between two cuts holds its upper end.
/// band_by, switch_by : {"reference", "measured"}
///     Whose value falls into a band, and whose is set against a rule's switch.
/// groups : array_like of str, shape (n,), optional
///     A label for each pair: day of wear, class of rate, hour, context.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together; without it pairs are taken as independent.
/// level : float
///     Confidence level of the intervals.
///
/// Returns
/// -------
/// Table
///     A row for each group and band, all of them first (`group` missing, `band_mg_dl` "all").
///     Columns `n`, `clusters`, `mard_pct`, `bias_mg_dl`, `relative_bias_pct` with their ends
///     (`mard_low_pct`, ...), `median_ard_pct`, `sd_mg_dl`, and for each rule `within_1_rule`,
///     `within_1_pct`, `within_1_low_pct`, `within_1_high_pct`, `within_1_n_effective`. A cell
///     without pairs has nothing in it.
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, different lengths, NaN, a reference that is not positive, negative limits,
///     cuts that don't rise, a missing label, a level outside 0.5-0.999.
///
/// Notes
/// -----
/// Source: Reiterer et al., J Diabetes Sci Technol 2017; 11: 59-67. For education, coaching and
/// research; not a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.accuracy_table([60, 120], [66, 120], bands="consensus")
/// >>> t["band_mg_dl"].tolist()[:3], t["n"].tolist()[:3]
/// (['all', '<54', '54-<70'], [2, 0, 1])
#[pyfunction]
#[pyo3(signature = (reference, measured, rules=None, bands=None, band_by="reference",
                    switch_by="reference", groups=None, cluster=None, level=0.95))]
#[allow(clippy::too_many_arguments, reason = "each is a choice")]
fn accuracy_table(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    rules: Option<&Bound<'_, PyAny>>,
    bands: Option<&Bound<'_, PyAny>>,
    band_by: &str,
    switch_by: &str,
    groups: Option<&Bound<'_, PyAny>>,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let (band_by, switch_by) = (by("band_by", band_by)?, by("switch_by", switch_by)?);
        let rules = match rules {
            Some(rules) => limit_rules(rules, switch_by)?,
            None => {
                let usual = Options::default().rules.iter();
                usual.map(|rule| Rule { switch_by, ..*rule }).collect()
            }
        };
        let (bands, groups) = (level_bands(bands)?, labels(groups)?);
        let cluster = codes(cluster)?;
        let options = Options {
            rules: &rules,
            bands: &bands,
            band_by,
            groups: groups.as_deref(),
            cluster: cluster.as_deref(),
            level,
        };
        let found =
            compute(py, || to_table(&agreement::accuracy_table(&r, &m, &options)?, &rules))?;
        Ok(PyTable::new(found, true))
    })
}

fn limit_rules(rules: &Bound<'_, PyAny>, switch_by: By) -> PyResult<Vec<Rule>> {
    let mut out = Vec::new();
    for (k, item) in rules.try_iter()?.enumerate() {
        match floats(&item?, "rules")?.as_slice() {
            &[mg_dl, pct, switch_mg_dl] => out.push(Rule { mg_dl, pct, switch_mg_dl, switch_by }),
            other => {
                let n = other.len();
                let message =
                    format!("rules must hold (mg_dl, pct, switch_mg_dl), got {n} at index {k}");
                return Err(raise(&message, "shape", "rules", Some(k)));
            }
        }
    }
    Ok(out)
}

fn level_bands(bands: Option<&Bound<'_, PyAny>>) -> PyResult<Vec<Band>> {
    let Some(bands) = bands else { return Ok(Vec::new()) };
    match bands.extract::<String>() {
        Ok(word) => {
            choice("bands", &word, &[("consensus", ())], "consensus, or a list of cuts")?;
            Ok(Band::CONSENSUS.to_vec())
        }
        Err(_) => Band::between(&floats(bands, "bands")?).map_err(to_py),
    }
}

fn labels(groups: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Vec<String>>> {
    let Some(groups) = groups else { return Ok(None) };
    let whole = |(index, label): (usize, Option<String>)| {
        label.ok_or_else(|| {
            let message = format!("groups must have a label for each pair, at index {index}");
            raise(&message, "missing", "groups", Some(index))
        })
    };
    texts(groups)?.into_iter().enumerate().map(whole).collect::<PyResult<_>>().map(Some)
}

/// Concurrence of ranges: bands of the device's readings against bands of the reference.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL; n of at least 1, references positive.
/// shown : array_like of {"number", "below", "above"}, shape (n,), optional
///     How the device showed each reading; one below or above its range counts in its own row.
/// cuts : array_like, optional
///     Rising cuts between bands, mg/dL; a value on a cut belongs to the band below. Without it
///     40, 60, 80, 120, 160, 200, 250, 300, 350, 400.
///
/// Returns
/// -------
/// Table
///     A row for each cell: `measured_band`, `reference_band`, `count`, `row_pct` (percent of the
///     pairs in the device's band; missing without any), `same_band`.
///
/// Raises
/// ------
/// GlycemicError
///     For no pair, no cut, different lengths, NaN, cuts that don't rise, another word.
///
/// Notes
/// -----
/// Layout and usual cuts: common practice, no source. For education, coaching and research; not
/// a medical device.
///
/// Examples
/// --------
/// >>> t = gly.agreement.concurrence([60, 61, 130], [61, 75, 110], cuts=[60, 80, 120])
/// >>> len(t), int(t["count"].sum()), int(t["count"][t["same_band"]].sum())
/// (24, 3, 1)
#[pyfunction]
#[pyo3(signature = (reference, measured, shown=None, cuts=None))]
fn concurrence(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    shown: Option<&Bound<'_, PyAny>>,
    cuts: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let shown = shown.map(how_shown).transpose()?;
        let cuts = match cuts {
            Some(cuts) => floats(cuts, "cuts")?,
            None => USUAL_CUTS.to_vec(),
        };
        let found =
            compute(py, || cells(&agreement::concurrence(&r, &m, shown.as_deref(), &cuts)?))?;
        Ok(PyTable::new(found, true))
    })
}

fn how_shown(words: &Bound<'_, PyAny>) -> PyResult<Vec<Shown>> {
    let known = [("number", Shown::Number), ("below", Shown::Below), ("above", Shown::Above)];
    let one = |(index, word): (usize, Option<String>)| {
        let word = word.unwrap_or_default();
        known.iter().find(|k| k.0 == word).map(|k| k.1).ok_or_else(|| {
            let message =
                format!("shown must be number, below or above, got \"{word}\" at index {index}");
            raise(&message, "unknown_choice", "shown", Some(index))
        })
    };
    texts(words)?.into_iter().enumerate().map(one).collect()
}

fn cells(found: &Concurrence) -> Result<Table, Error> {
    let (mut measured, mut reference) = (Vec::new(), Vec::new());
    let (mut count, mut share, mut same) = (Vec::new(), Vec::new(), Vec::new());
    let rows = found.rows.iter().zip(&found.counts).zip(&found.row_percent);
    for ((row, counts), percents) in rows {
        for (k, (column, n)) in found.columns.iter().zip(counts).enumerate() {
            measured.push(Some(row.clone()));
            reference.push(Some(column.clone()));
            count.push(Some(*n as i64));
            share.push(percents.as_ref().and_then(|p| p.get(k).copied()));
            same.push(row == column);
        }
    }
    let mut table = Table::new();
    table.push_text("measured_band", measured)?;
    table.push_text("reference_band", reference)?;
    table.push_i64("count", count)?;
    table.push_f64("row_pct", share)?;
    table.push_bool("same_band", same)?;
    Ok(table)
}

/// These pairs against a published accuracy table.
///
/// Parameters
/// ----------
/// reference, measured : array_like, shape (n,)
///     Glucose in mg/dL, references positive.
/// cells : frame
///     A row for each published cell, with columns `n` and `percent` (pairs, and how many percent
///     of them lay within), `mg_dl`, `pct`, `switch_mg_dl` (the rule); and optionally `low_mg_dl`,
///     `high_mg_dl` (ends of the band; missing is open), `low_inside`, `high_inside` (whether
///     they belong to it: both do unless said otherwise), `band_by`, `switch_by` ("reference",
///     the default, or "measured").
/// margin_pct : float
///     The largest difference, in percentage points, that would not matter; there is no default.
/// cluster : array_like, shape (n,), optional
///     Which pairs belong together; without it pairs are taken as independent.
/// level : float
///     Confidence level of the difference's interval. Two one-sided tests at 1 - level each
///     decide.
///
/// Returns
/// -------
/// Table
///     A row for each cell: `band_mg_dl`, `rule`, `n`, `count`, `percent`, `percent_low`,
///     `percent_high`, `published_n`, `published_pct`, `difference_pct`, `difference_low_pct`,
///     `difference_high_pct`, `equivalence_low_pct`, `equivalence_high_pct`, `verdict`
///     (equivalent, different_by_more or cannot_tell), `reason`.
///
/// Raises
/// ------
/// GlycemicError
///     For different lengths, NaN, a missing column, a published percentage outside 0-100 or of
///     no pairs, a margin outside 0-100, a level outside 0.5-0.999.
///
/// Notes
/// -----
/// Source: Newcombe, Stat Med 1998; 17: 873-890, method 10; Schuirmann, J Pharmacokinet Biopharm
/// 1987; 15: 657-680. For education, coaching and research; not a medical device.
///
/// Examples
/// --------
/// >>> cell = {"n": [2000], "percent": [93], "mg_dl": [20], "pct": [20], "switch_mg_dl": [100]}
/// >>> gly.agreement.against_published([100] * 20, [100] * 20, cell, margin_pct=5)["verdict"][0]
/// 'cannot_tell'
#[pyfunction]
#[pyo3(signature = (reference, measured, cells, margin_pct, cluster=None, level=0.95))]
fn against_published(
    py: Python<'_>,
    reference: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    cells: &Bound<'_, PyAny>,
    margin_pct: f64,
    cluster: Option<&Bound<'_, PyAny>>,
    level: f64,
) -> PyResult<PyTable> {
    guard(|| {
        let (r, m) = pairs(reference, measured)?;
        let (cells, cluster) = (published(cells)?, codes(cluster)?);
        let found = compute(py, || {
            let cluster = cluster.as_deref();
            let rows = agreement::against_published(&r, &m, cluster, &cells, margin_pct, level)?;
            beside(&rows, &cells)
        })?;
        Ok(PyTable::new(found, true))
    })
}

/// Reads the cells; every column must have the length of `n`.
fn published(frame: &Bound<'_, PyAny>) -> PyResult<Vec<PublishedCell>> {
    let columns = convert::columns(frame, "cells")?;
    let counts = floats(&column(&columns, "n", "cells")?, "n")?;
    let rows = counts.len();
    let same =
        |got: usize| glycemic_core::error::require_same_len("cells", rows, got).map_err(to_py);
    let needed = |name: &str| -> PyResult<Vec<f64>> {
        let values = floats(&column(&columns, name, "cells")?, name)?;
        same(values.len())?;
        Ok(values)
    };
    let or = |name: &str, instead: f64| -> PyResult<Vec<f64>> {
        if columns.contains(name)? { needed(name) } else { Ok(vec![instead; rows]) }
    };
    let percents = needed("percent")?;
    let (mg_dl, pct, switch) = (needed("mg_dl")?, needed("pct")?, needed("switch_mg_dl")?);
    let (low, high) = (or("low_mg_dl", f64::NAN)?, or("high_mg_dl", f64::NAN)?);
    let (low_inside, high_inside) = (or("low_inside", 1.0)?, or("high_inside", 1.0)?);
    let (band_by, switch_by) =
        (sides(&columns, "band_by", rows)?, sides(&columns, "switch_by", rows)?);
    let end = |v: f64| (!v.is_nan()).then_some(v);
    let one = |i: usize| {
        let n = counts[i];
        if !(n >= 1.0 && n.fract() == 0.0 && n < 1e15) {
            let message = format!("n must be a whole number from 1 on, got {n} at index {i}");
            return Err(raise(&message, "out_of_range", "n", Some(i)));
        }
        let band = Band {
            low: end(low[i]),
            low_inside: low_inside[i] != 0.0,
            high: end(high[i]),
            high_inside: high_inside[i] != 0.0,
        };
        let rule =
            Rule { mg_dl: mg_dl[i], pct: pct[i], switch_mg_dl: switch[i], switch_by: switch_by[i] };
        Ok(PublishedCell { band, band_by: band_by[i], rule, n: n as usize, percent: percents[i] })
    };
    (0..rows).map(one).collect()
}

fn sides(columns: &Bound<'_, PyDict>, name: &'static str, rows: usize) -> PyResult<Vec<By>> {
    if !columns.contains(name)? {
        return Ok(vec![By::Reference; rows]);
    }
    let words = texts(&column(columns, name, "cells")?)?;
    glycemic_core::error::require_same_len("cells", rows, words.len()).map_err(to_py)?;
    words.iter().map(|w| by(name, w.as_deref().unwrap_or("reference"))).collect()
}

fn beside(rows: &[Compared], cells: &[PublishedCell]) -> Result<Table, Error> {
    let number = |f: &dyn Fn(&Compared) -> Option<f64>| rows.iter().map(f).collect::<Vec<_>>();
    let share = |f: fn(&Share) -> f64| number(&|r| percent(r.here.as_ref(), f));
    let count =
        |f: &dyn Fn(&Compared) -> usize| rows.iter().map(|r| Some(f(r) as i64)).collect::<Vec<_>>();
    let here = |f: fn(&Share) -> usize| count(&|r| r.here.as_ref().map_or(0, f));
    let verdict = |r: &Compared| match r.verdict {
        Equivalence::Equivalent => "equivalent",
        Equivalence::DifferentByMore => "different_by_more",
        _ => "cannot_tell",
    };
    let reason = |r: &Compared| r.difference_pct.reason.as_ref().map(|why| why.text.clone());
    let mut t = Table::new();
    t.push_text("band_mg_dl", cells.iter().map(|c| Some(c.band.words())).collect())?;
    t.push_text("rule", cells.iter().map(|c| Some(c.rule.words())).collect())?;
    t.push_i64("n", here(|s| s.n))?;
    t.push_i64("count", here(|s| s.count))?;
    t.push_f64("percent", share(|s| s.fraction))?;
    t.push_f64("percent_low", share(|s| s.low))?;
    t.push_f64("percent_high", share(|s| s.high))?;
    t.push_i64("published_n", count(&|r| r.published_n))?;
    t.push_f64("published_pct", number(&|r| Some(r.published_pct)))?;
    t.push_f64("difference_pct", number(&|r| r.difference_pct.value))?;
    t.push_f64("difference_low_pct", number(&|r| r.difference_pct.low))?;
    t.push_f64("difference_high_pct", number(&|r| r.difference_pct.high))?;
    t.push_f64("equivalence_low_pct", number(&|r| r.equivalence_interval_pct.map(|p| p.0)))?;
    t.push_f64("equivalence_high_pct", number(&|r| r.equivalence_interval_pct.map(|p| p.1)))?;
    t.push_text("verdict", rows.iter().map(|r| Some(verdict(r).to_string())).collect())?;
    t.push_text("reason", rows.iter().map(reason).collect())?;
    Ok(t)
}

pub(crate) fn register(room: &Bound<'_, PyModule>) -> PyResult<()> {
    room.add_function(wrap_pyfunction!(accuracy_table, room)?)?;
    room.add_function(wrap_pyfunction!(concurrence, room)?)?;
    room.add_function(wrap_pyfunction!(against_published, room)?)
}
