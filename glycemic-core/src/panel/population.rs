//! Published targets by population, and a panel beside them.
//!
//! # Method
//! Targets are looked up, not computed, and compared strictly as the source prints them ("over
//! 70 %", "under 4 %", "at most 36 %"). In pregnancy the ranges are 63-140 mg/dL (3.5-7.8 mmol/L)
//! and are counted from the trace.
//!
//! # Source
//! Battelino et al., Diabetes Care 2019; 42:1593-1603.

use super::compute::Panel;
use super::registry::Id;
use super::shares::inside;
use crate::error::Error;
use crate::series::TraceView;
use crate::table::{Items, Table};
use crate::units::Limit;

/// Whose glucose it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Population {
    /// Adults without diabetes.
    WithoutDiabetes,
    /// Adults with type 1 diabetes.
    Type1,
    /// Adults with type 2 diabetes.
    Type2,
    /// Pregnancy with type 1 diabetes; the source sets nothing for other diabetes in pregnancy.
    Pregnancy,
    /// Older people, or people at high risk, with type 1 or type 2 diabetes.
    Older,
}

impl Population {
    /// Every population.
    pub const ALL: [Population; 5] = [
        Population::WithoutDiabetes,
        Population::Type1,
        Population::Type2,
        Population::Pregnancy,
        Population::Older,
    ];

    /// The word for this population.
    pub fn name(self) -> &'static str {
        match self {
            Population::WithoutDiabetes => "without_diabetes",
            Population::Type1 => "type1",
            Population::Type2 => "type2",
            Population::Pregnancy => "pregnancy",
            Population::Older => "older",
        }
    }
}

impl std::str::FromStr for Population {
    type Err = Error;

    fn from_str(word: &str) -> Result<Population, Error> {
        let found = Population::ALL.into_iter().find(|p| p.name() == word);
        found.ok_or_else(|| Error::UnknownChoice {
            name: "population",
            got: word.to_string(),
            choices: "without_diabetes, type1, type2, pregnancy, older",
        })
    }
}

/// Which side of a target is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// Over it.
    Above,
    /// Under it.
    Below,
    /// Under it or equal.
    AtMost,
    /// The source sets none.
    NoneSet,
}

impl Bound {
    /// The word for this bound.
    pub fn name(self) -> &'static str {
        match self {
            Bound::Above => "above",
            Bound::Below => "below",
            Bound::AtMost => "at_most",
            Bound::NoneSet => "none_set",
        }
    }

    fn met(self, value: f64, target: f64) -> Option<bool> {
        match self {
            Bound::Above => Some(value > target),
            Bound::Below => Some(value < target),
            Bound::AtMost => Some(value <= target),
            Bound::NoneSet => None,
        }
    }
}

/// What a target is about.
#[derive(Clone, Copy, Debug, PartialEq)]
enum About {
    /// A measure of the panel.
    Measure(Id),
    /// The share of readings below a limit, between two (ends included), or above one.
    Below(Limit),
    Within(Limit, Limit),
    Over(Limit),
}

/// A published target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Name of the measure: that of the panel, or of a range that only this population has.
    pub name: &'static str,
    /// Which side of the target is met.
    pub bound: Bound,
    /// The target in the measure's unit, percent; `None` where the source sets none.
    pub value: Option<f64>,
    /// Where it is published.
    pub source: &'static str,
    /// How sure this library is of the number.
    pub status: &'static str,
    about: About,
}

impl Target {
    /// The panel's measure that it is about; `None` for a range that the panel doesn't have.
    pub fn id(&self) -> Option<Id> {
        match self.about {
            About::Measure(id) => Some(id),
            _ => None,
        }
    }

    /// The range of readings that such a target of pregnancy is about, as mg/dL pairs of lower
    /// and upper limit; `None` where it is open, and for measures of the panel.
    pub fn range(&self) -> (Option<Limit>, Option<Limit>) {
        match self.about {
            About::Measure(_) => (None, None),
            About::Below(limit) => (None, Some(limit)),
            About::Within(low, high) => (Some(low), Some(high)),
            About::Over(limit) => (Some(limit), None),
        }
    }
}

const BATTELINO: &str = "Battelino et al., Diabetes Care 2019; 42:1593-1603";
const READ: &str = "read in a table of the consensus";
const MEMORY: &str = "from memory";
/// The target range in pregnancy.
const PREGNANCY_LOW: Limit = Limit { mg_dl: 63.0, mmol_l: 3.5 };
const PREGNANCY_HIGH: Limit = Limit { mg_dl: 140.0, mmol_l: 7.8 };

fn target(id: Id, bound: Bound, value: f64) -> Target {
    Target {
        name: id.measure().name,
        bound,
        value: Some(value),
        source: BATTELINO,
        status: READ,
        about: About::Measure(id),
    }
}

fn none_set(id: Id) -> Target {
    Target { bound: Bound::NoneSet, value: None, ..target(id, Bound::NoneSet, 0.0) }
}

fn of_pregnancy(name: &'static str, bound: Bound, value: f64, about: About) -> Target {
    Target { name, about, ..target(Id::N, bound, value) }
}

/// The consensus targets of a population; where the source sets none, the row says so.
///
/// Source: Battelino et al. 2019; CV at most 36 % as its text has it (its table prints "< 36 %").
///
/// # Example
/// ```
/// use glycemic_core::panel::{Population, targets};
/// let in_range = targets(Population::Older)[0];
/// assert_eq!((in_range.name, in_range.value), ("in_range_pct", Some(50.0)));
/// ```
pub fn targets(population: Population) -> Vec<Target> {
    use Bound::{Above, AtMost, Below};
    match population {
        Population::WithoutDiabetes => [
            Id::InRangePct,
            Id::Below70Pct,
            Id::VeryLowPct,
            Id::Above180Pct,
            Id::VeryHighPct,
            Id::CvPct,
        ]
        .map(none_set)
        .to_vec(),
        Population::Type1 | Population::Type2 => vec![
            target(Id::InRangePct, Above, 70.0),
            target(Id::Below70Pct, Below, 4.0),
            target(Id::VeryLowPct, Below, 1.0),
            target(Id::Above180Pct, Below, 25.0),
            target(Id::VeryHighPct, Below, 5.0),
            target(Id::CvPct, AtMost, 36.0),
        ],
        Population::Older => vec![
            target(Id::InRangePct, Above, 50.0),
            target(Id::Below70Pct, Below, 1.0),
            none_set(Id::VeryLowPct),
            Target { status: MEMORY, ..target(Id::Above180Pct, Below, 50.0) },
            target(Id::VeryHighPct, Below, 10.0),
            target(Id::CvPct, AtMost, 36.0),
        ],
        Population::Pregnancy => vec![
            of_pregnancy(
                "in_63_to_140_pct",
                Above,
                70.0,
                About::Within(PREGNANCY_LOW, PREGNANCY_HIGH),
            ),
            of_pregnancy("below_63_pct", Below, 4.0, About::Below(PREGNANCY_LOW)),
            target(Id::VeryLowPct, Below, 1.0),
            of_pregnancy("above_140_pct", Below, 25.0, About::Over(PREGNANCY_HIGH)),
            none_set(Id::VeryHighPct),
            none_set(Id::CvPct),
        ],
    }
}

/// A panel beside the targets of a population, a row per target.
///
/// `trace`: the readings of the panel, for the ranges that only pregnancy has; without them those
/// rows have no value. Columns: `measure`, `value`, `target`, `bound` (`above`, `below`,
/// `at_most`, `none_set`), `met` (null without a value or a target), `source`, `status`.
///
/// # Errors
/// None that a caller can bring about; columns of different lengths would be one.
///
/// # Example
/// ```
/// use glycemic_core::{panel::{assess, panel, Population}, series::Builder, Unit};
/// let times = [1_741_000_000_000, 1_741_000_300_000];
/// let trace = Builder::new(Unit::MgDl).build(&times, &[100.0, 110.0])?;
/// let table = assess(&panel(trace.view(), &[]), Some(trace.view()), Population::Type1)?;
/// assert_eq!(table.numbers("value").unwrap()[0], Some(100.0));
/// assert_eq!(table.numbers("met").unwrap()[0], Some(1.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn assess(
    panel: &Panel,
    trace: Option<TraceView<'_>>,
    population: Population,
) -> Result<Table, Error> {
    let rows = targets(population);
    let values: Vec<Option<f64>> = rows.iter().map(|t| value(t, panel, trace)).collect();
    let met: Vec<Option<bool>> =
        rows.iter().zip(&values).map(|(t, v)| t.bound.met((*v)?, t.value?)).collect();
    let text = |of: fn(&Target) -> &str| rows.iter().map(|t| Some(of(t).to_string())).collect();
    let mut table = Table::new();
    table.push_text("measure", text(|t| t.name))?;
    table.push_f64("value", values)?;
    table.push_f64("target", rows.iter().map(|t| t.value).collect())?;
    table.push_text("bound", text(|t| t.bound.name()))?;
    let valid = met.iter().map(Option::is_some).collect();
    table.push("met", Items::Bool(met.iter().map(|m| m.unwrap_or(false)).collect()), valid)?;
    table.push_text("source", text(|t| t.source))?;
    table.push_text("status", text(|t| t.status))?;
    Ok(table)
}

fn value(target: &Target, panel: &Panel, trace: Option<TraceView<'_>>) -> Option<f64> {
    if let Some(id) = target.id() {
        return panel.get(id);
    }
    let view = trace.filter(|v| !v.is_empty())?;
    let unit = view.trace().unit();
    let limit = |l: Limit| l.in_source(unit);
    let share = |counts: &dyn Fn(f64) -> bool| {
        let count = view.glucose_mg_dl().iter().filter(|&&g| counts(g)).count();
        100.0 * count as f64 / view.len() as f64
    };
    Some(match target.about {
        About::Measure(id) => panel.get(id)?,
        About::Below(low) => {
            let from_it_on = inside(unit, limit(low), f64::INFINITY);
            share(&|g| !from_it_on(g))
        }
        About::Within(low, high) => share(&inside(unit, limit(low), limit(high))),
        About::Over(high) => {
            let up_to_it = inside(unit, 0.0, limit(high));
            share(&|g| !up_to_it(g))
        }
    })
}

#[cfg(test)]
#[path = "population_tests.rs"]
mod tests;
