//! Area under a curve, by the trapezoidal rule.
//!
//! # Method
//! Points are joined by straight lines. The *incremental* area is measured from a
//! baseline. By the positive rule, where a line crosses the baseline the triangle above
//! counts and the part below is dropped, not subtracted.
//!
//! # Units
//! Minutes, and whatever unit the values have: for mg/dL the area is in mg/dL·min.
//!
//! # Source
//! FAO/WHO, *Carbohydrates in human nutrition*, FAO Food and Nutrition Paper 66
//! (1998), chapter 4; there the baseline is the fasting level and the rule positive.
//! Wolever TMS. Br J Nutr 2004; 91: 295-301 (the other rules).
//!
//! # Not here
//! Gaps and meals: see `interpolate` and `meals`.

use crate::error::{self, Error};
use std::str::FromStr;

/// What becomes of the part of a curve below the baseline.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Rule {
    /// It is dropped. FAO/WHO (1998).
    #[default]
    Positive,
    /// It is subtracted. Wolever (2004), there netAUC.
    Net,
    /// As positive, but only until the curve, once above the baseline, first returns to it.
    /// Wolever (2004), there AUCcut.
    UntilReturn,
}

impl Rule {
    /// The word for this rule.
    pub fn name(self) -> &'static str {
        match self {
            Rule::Positive => "positive",
            Rule::Net => "net",
            Rule::UntilReturn => "until_return",
        }
    }
}

impl FromStr for Rule {
    type Err = Error;

    fn from_str(word: &str) -> Result<Self, Error> {
        match word {
            "positive" => Ok(Rule::Positive),
            "net" => Ok(Rule::Net),
            "until_return" => Ok(Rule::UntilReturn),
            _ => Err(Error::UnknownChoice {
                name: "rule",
                got: word.to_string(),
                choices: "positive, net, until_return",
            }),
        }
    }
}

/// Area of a curve measured from zero.
///
/// `minutes` and `values` hold the same n ≥ 2 points, evenly spaced or not.
///
/// # Errors
/// [`TooFewValues`](Error::TooFewValues), [`LengthMismatch`](Error::LengthMismatch),
/// [`UnorderedTime`](Error::UnorderedTime), or [`NotFinite`](Error::NotFinite).
///
/// # Example
/// ```
/// # use glycemic_core::area::total;
/// // Means of 120 over 30 min and 120 over 30 min.
/// assert_eq!(total(&[0.0, 30.0, 60.0], &[90.0, 150.0, 90.0])?, 7200.0);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn total(minutes: &[f64], values: &[f64]) -> Result<f64, Error> {
    Ok(Curve::new(minutes, values)?.segments_above(0.0).map(signed_area).sum())
}

/// Area of a curve measured from `baseline` (the first value if `None`), by `rule`.
///
/// `minutes` and `values` hold the same n ≥ 2 points, evenly spaced or not. One pass, no
/// allocation. Source: FAO/WHO (1998) for [`Rule::Positive`].
///
/// # Errors
/// [`TooFewValues`](Error::TooFewValues), [`LengthMismatch`](Error::LengthMismatch),
/// [`UnorderedTime`](Error::UnorderedTime), or [`NotFinite`](Error::NotFinite), also for a
/// NaN baseline: every comparison with it is false, so the area would come out as 0.
///
/// # Example
/// ```
/// # use glycemic_core::area::{Rule, incremental};
/// // Up 60 mg/dL in 30 min and down again in 30: a triangle, 60 × 60 / 2.
/// let (minutes, glucose) = ([0.0, 30.0, 60.0], [90.0, 150.0, 90.0]);
/// assert_eq!(incremental(&minutes, &glucose, None, Rule::Positive)?, 1800.0);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn incremental(
    minutes: &[f64],
    values: &[f64],
    baseline: Option<f64>,
    rule: Rule,
) -> Result<f64, Error> {
    let curve = Curve::new(minutes, values)?;
    let baseline = baseline.unwrap_or(curve.first_value());
    error::require_finite("baseline", baseline)?;
    let segments = curve.segments_above(baseline);
    Ok(match rule {
        Rule::Positive => segments.map(positive_area).sum(),
        Rule::Net => segments.map(signed_area).sum(),
        Rule::UntilReturn => area_until_return(segments),
    })
}

/// Points that are known to be good: at least two, finite, times rising strictly.
struct Curve<'a> {
    minutes: &'a [f64],
    values: &'a [f64],
}

/// One straight piece: heights above the baseline at its two ends, and its length.
#[derive(Clone, Copy)]
struct Segment {
    left: f64,
    right: f64,
    minutes: f64,
}

impl<'a> Curve<'a> {
    fn new(minutes: &'a [f64], values: &'a [f64]) -> Result<Self, Error> {
        error::require_same_len("values", minutes.len(), values.len())?;
        let got = values.len();
        if got < 2 {
            return Err(Error::TooFewValues { measure: "an area", needed: 2, got });
        }
        error::require_all_finite("minutes", minutes)?;
        error::require_all_finite("values", values)?;
        match minutes.windows(2).position(|pair| pair[1] <= pair[0]) {
            Some(before) => Err(Error::UnorderedTime { index: before + 1 }),
            None => Ok(Self { minutes, values }),
        }
    }

    fn first_value(&self) -> f64 {
        self.values[0]
    }

    fn segments_above(&self, baseline: f64) -> impl Iterator<Item = Segment> + use<'a> {
        self.minutes.windows(2).zip(self.values.windows(2)).map(move |(t, v)| Segment {
            left: v[0] - baseline,
            right: v[1] - baseline,
            minutes: t[1] - t[0],
        })
    }
}

fn signed_area(s: Segment) -> f64 {
    (s.left + s.right) * s.minutes / 2.0
}

/// The part above the baseline: a trapezoid, a triangle up to the crossing, or nothing.
fn positive_area(s: Segment) -> f64 {
    match (s.left > 0.0, s.right > 0.0) {
        (false, false) => 0.0,
        (true, true) => signed_area(s),
        (false, true) => s.right * (s.right / (s.right - s.left)) * s.minutes / 2.0,
        (true, false) => s.left * (s.left / (s.left - s.right)) * s.minutes / 2.0,
    }
}

fn area_until_return(segments: impl Iterator<Item = Segment>) -> f64 {
    let mut area = 0.0;
    for segment in segments {
        area += positive_area(segment);
        if segment.left > 0.0 && segment.right <= 0.0 {
            break;
        }
    }
    area
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTES: [f64; 7] = [0.0, 15.0, 30.0, 45.0, 60.0, 90.0, 120.0];

    /// FAO Food and Nutrition Paper 66 (1998), chapter 4: blood glucose in mmol/L after three
    /// standard meals and one test meal, with the printed whole-number areas; beside them the
    /// areas, net areas and total areas that follow by hand from each row.
    const MEALS: [([f64; 7], f64, f64, f64, f64); 4] = [
        ([4.3, 6.3, 7.9, 5.3, 4.1, 4.6, 4.9], 114.0, 113.95, 112.5, 628.5),
        ([4.0, 6.0, 6.7, 5.5, 5.3, 5.0, 4.2], 155.0, 155.25, 155.25, 635.25),
        ([4.1, 5.8, 8.0, 6.5, 5.9, 4.8, 3.9], 179.0, 179.0 + 1.0 / 6.0, 178.5, 670.5),
        ([4.0, 5.0, 5.8, 5.4, 4.8, 4.2, 4.4], 93.0, 93.0, 93.0, 573.0),
    ];

    #[test]
    fn fao_who_1998() {
        for (glucose, printed, by_hand, net, all) in MEALS {
            let area = |rule| incremental(&MINUTES, &glucose, None, rule).unwrap();
            assert_eq!(area(Rule::Positive).round(), printed);
            assert!((area(Rule::Positive) - by_hand).abs() < 1e-10);
            assert!((area(Rule::Net) - net).abs() < 1e-10);
            assert!((total(&MINUTES, &glucose).unwrap() - all).abs() < 1e-10);
        }
    }

    /// The first standard meal falls below its baseline at 57.5 min: 15 + 42 + 34.5 + 6.25.
    #[test]
    fn until_the_first_return() {
        let area = incremental(&MINUTES, &MEALS[0].0, None, Rule::UntilReturn).unwrap();
        assert!((area - 97.75).abs() < 1e-10);
        // A dip before the rise is not a return; touching the baseline is one.
        let dip = [5.0, 4.0, 6.0, 5.0, 7.0, 7.0, 7.0];
        let area = incremental(&MINUTES, &dip, None, Rule::UntilReturn).unwrap();
        assert!((area - (3.75 + 7.5)).abs() < 1e-10);
    }

    #[test]
    fn refuses_bad_curves() {
        let code = |m: &[f64], v: &[f64], b| {
            incremental(m, v, b, Rule::Positive).unwrap_err().code().to_string()
        };
        assert_eq!(code(&[0.0], &[1.0], None), "too_few_values");
        assert_eq!(code(&[0.0, 1.0], &[1.0], None), "length_mismatch");
        assert_eq!(code(&[0.0, 0.0], &[1.0, 1.0], None), "unordered_time");
        assert_eq!(code(&[0.0, 1.0], &[1.0, f64::NAN], None), "not_finite");
        assert_eq!(code(&[0.0, f64::INFINITY], &[1.0, 1.0], None), "not_finite");
        assert_eq!(code(&[0.0, 1.0], &[1.0, 1.0], Some(f64::NAN)), "not_finite");
    }

    #[test]
    fn words() {
        for rule in [Rule::Positive, Rule::Net, Rule::UntilReturn] {
            assert_eq!(rule.name().parse(), Ok(rule));
        }
        assert_eq!("clipped".parse::<Rule>().unwrap_err().code(), "unknown_choice");
    }
}
