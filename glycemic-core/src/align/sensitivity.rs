//! How much the figures of agreement hang on the rules of pairing.
//!
//! # Method
//! The same pairs are made again by every combination of: window 2.5, 5, 10 and 15 minutes;
//! nearest or interpolated; no lag or the estimated one; bursts averaged or their first reading;
//! readings about a calibration left out or in. A choice that can't matter (no lag given, no
//! burst, no calibration) is left out. Each row has MARD, bias and the shares within 15/15 and
//! 20/20, with the switch at 100 mg/dL and days as clusters. The spread is the lowest and
//! highest value over all rows; a choice's effect is the largest difference between two rows
//! that differ in it alone. Verdicts: the limits of ISO 15197:2013, whether the interval of the
//! bias leaves out 0, and whether the interval of 15/15 lies above or below 95 %.
//!
//! # Source
//! Reporting results under other defensible choices: Steegen et al., Perspect Psychol Sci 2016;
//! 11: 702-712. The set of rules is a choice of this library.

use super::pair::{How, bursts};
use super::scale::{Bursts, PairOptions, pair_with};
use super::wear::{EventKind, WearEvent};
use crate::agreement::standards::iso15197_2013;
use crate::agreement::{Rule, Share, Summary, Verdict, summary};
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::{Meter, Trace};
use crate::table::Table;

const WINDOWS_MIN: [f64; 4] = [2.5, 5.0, 10.0, 15.0];
/// Fewest pairs for the figures of a row.
const MIN_PAIRS: usize = 5;

/// The figures by one set of rules.
#[derive(Clone, Debug, PartialEq)]
pub struct SensitivityRow {
    /// The rules.
    pub options: PairOptions,
    /// Pairs.
    pub n: usize,
    /// The figures; `None` with a reason.
    pub figures: Option<Figures>,
    /// Why there are none.
    pub reason: Option<Reason>,
}

/// Figures of agreement.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// MARD and bias.
    pub summary: Summary,
    /// Within 15 mg/dL below 100 mg/dL of reference, 15 % from there on.
    pub within_15: Share,
    /// Within 20 mg/dL below 100 mg/dL of reference, 20 % from there on.
    pub within_20: Share,
    /// The limits of ISO 15197:2013 (15/15): `numerical_limits_met`, `numerical_limits_not_met`
    /// or `too_few`.
    pub iso: &'static str,
    /// The bias: `reads_high`, `reads_low`, `cant_tell`, or `too_few` days for an interval.
    pub bias: &'static str,
    /// The share within 15/15 against 95 %: `above`, `below` or `cant_tell`.
    pub share_95: &'static str,
}

/// How far one figure moves over the rules.
#[derive(Clone, Debug, PartialEq)]
pub struct FigureSpread {
    /// `mard_pct`, `bias_mg_dl`, `within_15_pct` or `within_20_pct`.
    pub figure: &'static str,
    /// By the rules asked for; `None` when they give too few pairs.
    pub base: Option<f64>,
    /// Lowest over all rules.
    pub lowest: f64,
    /// Highest over all rules.
    pub highest: f64,
    /// Largest difference that each choice alone makes: `window`, `how`, `lag`, `bursts`,
    /// `calibrations`.
    pub by_choice: Vec<(&'static str, f64)>,
}

/// Figures over a stated set of rules.
#[derive(Clone, Debug, PartialEq)]
pub struct PairingSensitivity {
    /// By the rules asked for.
    pub base: SensitivityRow,
    /// By each other set of rules, the base among them when it is one of the set.
    pub rows: Vec<SensitivityRow>,
    /// A row for each figure; empty when no rules give enough pairs.
    pub spread: Vec<FigureSpread>,
    /// Verdicts that are not the same by all rules: `iso`, `bias`, `share_95`.
    pub verdicts_that_change: Vec<&'static str>,
    /// Why there is no spread.
    pub reason: Option<Reason>,
}

/// The figures by every set of rules; `base` gives what the set does not vary.
///
/// `estimated_lag_min`: a lag to read the sensor by, such as that of [`lag`](super::lag()).
///
/// # Errors
/// As [`pair_with`], and a level outside 0.5-0.999.
///
/// # Example
/// ```
/// # use glycemic_core::align::{PairOptions, pairing_sensitivity};
/// # use glycemic_core::{Meter, Unit, series::Builder};
/// let (start, minute) = (1_741_000_000_000, 60_000);
/// let times: Vec<i64> = (0..2000).map(|i| start + i * 5 * minute).collect();
/// let sensor = Builder::new(Unit::MgDl).build(&times, &[110.0; 2000])?;
/// let taken: Vec<i64> = (0..20).map(|i| start + (60 + i * 480) * minute).collect();
/// let meter = Meter::new(&taken, &[100.0; 20], &vec![String::new(); 20], Unit::MgDl)?;
/// let found = pairing_sensitivity(&meter, &sensor, &[], None, &PairOptions::default(), 0.95)?;
/// // Four windows, nearest and interpolated; a flat trace gives the same by each.
/// assert_eq!(found.rows.len(), 8);
/// assert_eq!((found.spread[0].lowest, found.spread[0].highest), (10.0, 10.0));
/// assert!(found.verdicts_that_change.is_empty());
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn pairing_sensitivity(
    meter: &Meter,
    sensor: &Trace,
    events: &[WearEvent],
    estimated_lag_min: Option<f64>,
    base: &PairOptions,
    level: f64,
) -> Result<PairingSensitivity, Error> {
    require_within("level", level, 0.5, 0.999)?;
    let row = |options: PairOptions| row(meter, sensor, events, options, level);
    let base_row = row(base.clone())?;
    let has_bursts = !bursts(meter, base.burst_min).is_empty();
    let calibrated = events.iter().any(|e| e.kind == EventKind::Calibrated);
    let mut rows = Vec::new();
    for options in rules(base, estimated_lag_min, has_bursts, calibrated) {
        rows.push(row(options)?);
    }
    let spread = spread(&base_row, &rows);
    let reason = spread.is_empty().then(|| {
        let most = rows.iter().map(|r| r.n).max().unwrap_or(0);
        Reason::count("too_few_pairs", "pairs by the widest rules", most, MIN_PAIRS)
    });
    let verdicts_that_change = changing(&rows);
    Ok(PairingSensitivity { base: base_row, rows, spread, verdicts_that_change, reason })
}

fn rules(
    base: &PairOptions,
    lag_min: Option<f64>,
    has_bursts: bool,
    calibrated: bool,
) -> Vec<PairOptions> {
    let lags: Vec<f64> = std::iter::once(0.0).chain(lag_min.filter(|l| *l != 0.0)).collect();
    let bursts: &[Bursts] =
        if has_bursts { &[Bursts::Averaged, Bursts::First] } else { &[Bursts::Averaged] };
    let inside: &[bool] = if calibrated { &[false, true] } else { &[false] };
    let mut out = Vec::new();
    for &window_min in &WINDOWS_MIN {
        for how in [How::Nearest, How::Interpolate] {
            for &lag_min in &lags {
                for &bursts in bursts {
                    for &calibrations_in in inside {
                        let kept = base.clone();
                        out.push(PairOptions {
                            window_min,
                            how,
                            lag_min,
                            bursts,
                            calibrations_in,
                            ..kept
                        });
                    }
                }
            }
        }
    }
    out
}

fn row(
    meter: &Meter,
    sensor: &Trace,
    events: &[WearEvent],
    options: PairOptions,
    level: f64,
) -> Result<SensitivityRow, Error> {
    let pairs = pair_with(meter, sensor, events, &options)?;
    let n = pairs.len();
    if n < MIN_PAIRS {
        let reason = Some(Reason::count("too_few_pairs", "pairs", n, MIN_PAIRS));
        return Ok(SensitivityRow { options, n, figures: None, reason });
    }
    let (r, m, day) = (&pairs.reference_mg_dl, &pairs.measured_mg_dl, Some(&pairs.day[..]));
    let summary = summary(r, m, day, level)?;
    let within_15 = Rule::same(15.0, 100.0).share(r, m, day, level)?;
    let iso = match iso15197_2013(r, m, day, level)?.first().map(|row| row.verdict) {
        Some(Verdict::NumericalLimitsMet) => "numerical_limits_met",
        Some(Verdict::NumericalLimitsNotMet) => "numerical_limits_not_met",
        _ => "too_few",
    };
    let bias = match (summary.bias_mg_dl.low, summary.bias_mg_dl.high) {
        (Some(low), _) if low > 0.0 => "reads_high",
        (_, Some(high)) if high < 0.0 => "reads_low",
        (Some(_), Some(_)) => "cant_tell",
        _ => "too_few",
    };
    let share_95 = match (within_15.low, within_15.high) {
        (low, _) if low > 0.95 => "above",
        (_, high) if high < 0.95 => "below",
        _ => "cant_tell",
    };
    let within_20 = Rule::same(20.0, 100.0).share(r, m, day, level)?;
    let figures = Some(Figures { summary, within_15, within_20, iso, bias, share_95 });
    Ok(SensitivityRow { options, n, figures, reason: None })
}

type Pick = fn(&Figures) -> Option<f64>;
const FIGURES: [(&str, Pick); 4] = [
    ("mard_pct", |f| f.summary.mard_pct.value),
    ("bias_mg_dl", |f| f.summary.bias_mg_dl.value),
    ("within_15_pct", |f| Some(100.0 * f.within_15.fraction)),
    ("within_20_pct", |f| Some(100.0 * f.within_20.fraction)),
];

type Same = fn(&PairOptions, &PairOptions) -> bool;
const CHOICES: [(&str, Same); 5] = [
    ("window", |a, b| a.window_min == b.window_min),
    ("how", |a, b| a.how == b.how),
    ("lag", |a, b| a.lag_min == b.lag_min),
    ("bursts", |a, b| a.bursts == b.bursts),
    ("calibrations", |a, b| a.calibrations_in == b.calibrations_in),
];

fn spread(base: &SensitivityRow, rows: &[SensitivityRow]) -> Vec<FigureSpread> {
    let mut out = Vec::new();
    for (figure, pick) in FIGURES {
        let value = |row: &SensitivityRow| row.figures.as_ref().and_then(pick);
        let known: Vec<(&PairOptions, f64)> =
            rows.iter().filter_map(|r| Some((&r.options, value(r)?))).collect();
        let Some(&(_, first)) = known.first() else { continue };
        let by_choice = CHOICES.map(|(name, _)| (name, largest(&known, name))).to_vec();
        out.push(FigureSpread {
            figure,
            base: value(base),
            lowest: known.iter().fold(first, |low, k| low.min(k.1)),
            highest: known.iter().fold(first, |high, k| high.max(k.1)),
            by_choice,
        });
    }
    out
}

/// The largest difference between rows that differ in the choice `name` alone.
fn largest(known: &[(&PairOptions, f64)], name: &str) -> f64 {
    let mut most = 0.0_f64;
    for (i, a) in known.iter().enumerate() {
        for b in &known[i + 1..] {
            let alone = CHOICES.iter().all(|(other, same)| *other == name || same(a.0, b.0));
            if alone {
                most = most.max((a.1 - b.1).abs());
            }
        }
    }
    most
}

fn changing(rows: &[SensitivityRow]) -> Vec<&'static str> {
    type Say = fn(&Figures) -> &'static str;
    let verdicts: [(&str, Say); 3] =
        [("iso", |f| f.iso), ("bias", |f| f.bias), ("share_95", |f| f.share_95)];
    let differs = |say: Say| {
        let mut said = rows.iter().filter_map(|r| r.figures.as_ref()).map(say);
        said.next().is_some_and(|first| said.any(|other| other != first))
    };
    verdicts.into_iter().filter(|(_, say)| differs(*say)).map(|(name, _)| name).collect()
}

impl PairingSensitivity {
    /// A row for each set of rules: the rules, n, the figures with their intervals, verdicts.
    ///
    /// # Errors
    /// None that a result should cause.
    pub fn to_table(&self) -> Result<Table, Error> {
        let rows = &self.rows;
        let mut table = Table::new();
        let rule = |f: fn(&PairOptions) -> f64| rows.iter().map(|r| Some(f(&r.options))).collect();
        let word = |f: fn(&PairOptions) -> &'static str| {
            rows.iter().map(|r| Some(f(&r.options).to_string())).collect()
        };
        table.push_f64("window_min", rule(|o| o.window_min))?;
        table.push_text("how", word(|o| o.how.word()))?;
        table.push_f64("lag_min", rule(|o| o.lag_min))?;
        table.push_text("bursts", word(|o| o.bursts.word()))?;
        table.push_bool(
            "calibrations_in",
            rows.iter().map(|r| r.options.calibrations_in).collect(),
        )?;
        table.push_i64("n", rows.iter().map(|r| Some(r.n as i64)).collect())?;
        let figure =
            |pick: Pick| rows.iter().map(|r| r.figures.as_ref().and_then(pick)).collect::<Vec<_>>();
        let columns: [(&str, Pick); 12] = [
            ("mard_pct", |f| f.summary.mard_pct.value),
            ("mard_low_pct", |f| f.summary.mard_pct.low),
            ("mard_high_pct", |f| f.summary.mard_pct.high),
            ("bias_mg_dl", |f| f.summary.bias_mg_dl.value),
            ("bias_low_mg_dl", |f| f.summary.bias_mg_dl.low),
            ("bias_high_mg_dl", |f| f.summary.bias_mg_dl.high),
            ("within_15_pct", |f| Some(100.0 * f.within_15.fraction)),
            ("within_15_low_pct", |f| Some(100.0 * f.within_15.low)),
            ("within_15_high_pct", |f| Some(100.0 * f.within_15.high)),
            ("within_20_pct", |f| Some(100.0 * f.within_20.fraction)),
            ("within_20_low_pct", |f| Some(100.0 * f.within_20.low)),
            ("within_20_high_pct", |f| Some(100.0 * f.within_20.high)),
        ];
        for (name, pick) in columns {
            table.push_f64(name, figure(pick))?;
        }
        let said = |f: fn(&Figures) -> &'static str| {
            rows.iter().map(|r| r.figures.as_ref().map(|x| f(x).to_string())).collect()
        };
        table.push_text("iso_verdict", said(|f| f.iso))?;
        table.push_text("bias_verdict", said(|f| f.bias))?;
        table.push_text("share_95_verdict", said(|f| f.share_95))?;
        let reason = rows.iter().map(|r| r.reason.as_ref().map(|why| why.code.clone()));
        table.push_text("reason", reason.collect())?;
        Ok(table)
    }

    /// A row for each figure and choice: the figure by the rules asked for, lowest and highest over
    /// all rules, and how far the choice alone moves it.
    ///
    /// # Errors
    /// None that a result should cause.
    pub fn spread_table(&self) -> Result<Table, Error> {
        let rows: Vec<(&FigureSpread, (&'static str, f64))> = self
            .spread
            .iter()
            .flat_map(|s| s.by_choice.iter().map(move |choice| (s, *choice)))
            .collect();
        let mut table = Table::new();
        table.push_text("figure", rows.iter().map(|r| Some(r.0.figure.to_string())).collect())?;
        table.push_f64("base", rows.iter().map(|r| r.0.base).collect())?;
        table.push_f64("lowest", rows.iter().map(|r| Some(r.0.lowest)).collect())?;
        table.push_f64("highest", rows.iter().map(|r| Some(r.0.highest)).collect())?;
        table.push_text("choice", rows.iter().map(|r| Some(r.1.0.to_string())).collect())?;
        table.push_f64("moves_by", rows.iter().map(|r| Some(r.1.1)).collect())?;
        Ok(table)
    }
}
