//! Published values of people without diabetes, and measures that come from other people.
//!
//! # Source
//! Beside each value. Left out on purpose, of the normal ranges of Hill et al. 2011: CONGA (their
//! range is about that of the mean glucose, so another quantity of the same name), the lability
//! index (another scale), GRADE (there a median), M (the abstract doesn't state the reference) and
//! MAGE (its upper end lies below that of the SD, but excursions over 1 SD are larger). Values in
//! mmol/L are converted with 18.0156.

use super::population::Population;
use super::registry::Id;
use crate::units::MG_DL_PER_MMOL_L;

/// A published value of people without diabetes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Normal {
    /// The middle, in the measure's unit, where one is printed.
    pub centre: Option<f64>,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// What the middle and the ends are.
    pub what: &'static str,
    /// Who was measured, and where it is published.
    pub source: &'static str,
    /// How sure this library is of the numbers.
    pub status: &'static str,
}

const SHAH: &str =
    "Shah et al., J Clin Endocrinol Metab 2019; 104:4356-4364; 153 people, 7-80 years";
const FRECKMANN: &str = "Freckmann et al., J Diabetes Sci Technol 2007; 1:695-703; 24 young adults";
const HILL: &str = "Hill et al., Diabetes Technol Ther 2011; 13:921-928; 70 people";
const BERGENSTAL: &str = "Bergenstal, Diabetes Care 2015; 38:1615, table";
const ABSTRACT: &str = "read in the abstract";
const CITATION: &str = "numbers read in an abstract or table; citation from memory";
const TWO_SD: &str = "mean +- 2 SD over people, lower end cut at 0";

const fn normal(
    centre: Option<f64>,
    low: f64,
    high: f64,
    what: &'static str,
    source: &'static str,
    status: &'static str,
) -> Normal {
    Normal { centre, low, high, what, source, status }
}

const fn hill(low: f64, high: f64) -> Normal {
    normal(None, low, high, TWO_SD, HILL, ABSTRACT)
}

const MEAN: &[Normal] = &[
    normal(None, 98.0, 99.0, "means of the age groups up to 60 years", SHAH, ABSTRACT),
    normal(Some(89.3), 83.1, 95.5, "mean +- SD over people", FRECKMANN, CITATION),
];
const CV: &[Normal] = &[
    normal(Some(17.0), 14.0, 20.0, "mean +- SD over people", SHAH, ABSTRACT),
    normal(None, 19.0, 25.0, "range", BERGENSTAL, CITATION),
];
const SD: &[Normal] =
    &[normal(None, 10.0, 26.0, "range", BERGENSTAL, CITATION), hill(0.0, 3.0 * MG_DL_PER_MMOL_L)];
const IQR: &[Normal] = &[normal(None, 13.0, 29.0, "range", BERGENSTAL, CITATION)];
const TIGHT: &[Normal] =
    &[normal(Some(96.0), 93.0, 98.0, "median and quartiles over people", SHAH, ABSTRACT)];
const J: &[Normal] = &[hill(4.7, 23.6)];
const LBGI: &[Normal] = &[hill(0.0, 6.9)];
const HBGI: &[Normal] = &[hill(0.0, 7.7)];
const ADRR: &[Normal] = &[hill(0.0, 8.7)];
const MODD: &[Normal] = &[hill(0.0, 3.5 * MG_DL_PER_MMOL_L)];
const MAG: &[Normal] = &[hill(0.5 * MG_DL_PER_MMOL_L, 2.2 * MG_DL_PER_MMOL_L)];

/// Published values of a measure in people without diabetes; empty where this library knows of
/// none that is safely the same quantity.
///
/// Sources differ in people, sensors and what they print: `what` says which. They are no limits
/// of health.
///
/// # Example
/// ```
/// use glycemic_core::panel::{Id, normals};
/// assert_eq!(normals(Id::CvPct)[0].centre, Some(17.0));
/// assert!(normals(Id::Conga1hMgDl).is_empty());
/// ```
pub fn normals(id: Id) -> &'static [Normal] {
    match id {
        Id::MeanMgDl => MEAN,
        Id::CvPct => CV,
        Id::SdMgDl => SD,
        Id::IqrMgDl => IQR,
        Id::TightRangePct => TIGHT,
        Id::JIndex => J,
        Id::Lbgi => LBGI,
        Id::Hbgi => HBGI,
        Id::Adrr => ADRR,
        Id::ModdMgDl => MODD,
        Id::MagMgDlH => MAG,
        _ => &[],
    }
}

/// Why a measure, or the classes published for it, does not carry over to a population; `None`
/// where nothing is known against it.
///
/// # Example
/// ```
/// use glycemic_core::panel::{Id, Population, outside_population};
/// assert!(outside_population(Id::GmiPct, Population::WithoutDiabetes).is_some());
/// assert!(outside_population(Id::GmiPct, Population::Type1).is_none());
/// ```
pub fn outside_population(id: Id, population: Population) -> Option<&'static str> {
    if population != Population::WithoutDiabetes {
        return None;
    }
    Some(match id {
        Id::GmiPct | Id::GmiMmolMol => {
            "the line was fitted in people with diabetes (Bergenstal 2018)"
        }
        Id::Ea1cPct => {
            "the line was fitted mostly in people with diabetes (Nathan 2008; 80 of 507 had none, \
             from memory)"
        }
        Id::Lbgi | Id::Hbgi | Id::Bgri | Id::Adrr => {
            "the risk classes come from people with diabetes and a meter (Kovatchev 1998, 2006)"
        }
        Id::Grade | Id::GradeHypoPct | Id::GradeEuPct | Id::GradeHyperPct => {
            "weighted by clinicians for people with diabetes (Hill 2007)"
        }
        Id::MValue => "the classes come from people with diabetes (Schlichtkrull 1965)",
        Id::JIndex => "the classes come from people with diabetes (Wojcicki 1995)",
        Id::Gri | Id::GriHypoComponent | Id::GriHyperComponent => {
            "weighted by clinicians for people with diabetes (Klonoff 2022)"
        }
        Id::Cogi => "made for people with type 1 diabetes (Leelarathna 2020)",
        Id::Igc | Id::HyperIndex | Id::HypoIndex => {
            "weights chosen for people with diabetes (Rodbard 2009, from memory)"
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::MEASURES;

    #[test]
    fn ends_are_in_order_and_say_where_they_come_from() {
        let all = MEASURES.iter().flat_map(|m| normals(m.id));
        let mut seen = 0;
        for n in all {
            assert!(n.low < n.high && !n.source.is_empty() && !n.status.is_empty(), "{n:?}");
            assert!(n.centre.is_none_or(|c| n.low < c && c < n.high), "{n:?}");
            seen += 1;
        }
        assert_eq!(seen, 14);
    }

    /// J of the lowest and the highest mean and SD of the sources (mg/dL): 0.001 (89 + 10)^2 and
    /// 0.001 (99 + 26)^2 lie in the range printed for it, so the ranges are in one scale.
    #[test]
    fn j_is_in_the_scale_of_its_range() {
        let j = |mean: f64, sd: f64| 0.001 * (mean + sd) * (mean + sd);
        let [range] = normals(Id::JIndex) else { panic!("one range") };
        assert!(range.low < j(89.0, 10.0) && j(99.0, 26.0) < range.high);
    }

    #[test]
    fn only_people_without_diabetes_are_outside() {
        for population in Population::ALL {
            let outside = MEASURES.iter().any(|m| outside_population(m.id, population).is_some());
            assert_eq!(outside, population == Population::WithoutDiabetes);
        }
        assert_eq!(outside_population(Id::MeanMgDl, Population::WithoutDiabetes), None);
    }
}
