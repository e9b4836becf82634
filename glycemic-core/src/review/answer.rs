//! The shape of a review.

use crate::estimate::{Estimate, Reason};
use crate::meals::Targets;
use crate::table::Table;
use crate::trial::Trial;

/// Choices for a review.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Confidence level.
    pub level: f64,
    /// Key of the random streams.
    pub seed: u64,
}

impl Default for Options {
    fn default() -> Options {
        Options { level: 0.95, seed: 1 }
    }
}

/// Whether a question was answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Status {
    /// Yes.
    Answered,
    /// In part; the reasons say what is missing.
    Partly,
    /// No; the reasons say why.
    CantTell,
}

impl Status {
    /// The word in JSON.
    pub fn code(self) -> &'static str {
        match self {
            Status::Answered => "answered",
            Status::Partly => "partly",
            Status::CantTell => "cant_tell",
        }
    }
}

/// One number of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// A stable id, such as `limit_g`.
    pub id: String,
    /// A few words for people.
    pub label: String,
    /// UCUM unit; `1` for a count.
    pub unit: &'static str,
    /// `as_sensor_reads`, `in_blood`, `against_meter` or `diary`.
    pub basis: &'static str,
    /// The estimate.
    pub estimate: Estimate,
}

impl Figure {
    /// A figure.
    pub fn new(
        id: &str,
        label: &str,
        unit: &'static str,
        basis: &'static str,
        estimate: Estimate,
    ) -> Figure {
        Figure { id: id.to_string(), label: label.to_string(), unit, basis, estimate }
    }

    /// A number that describes the data and has no interval.
    pub fn count(id: &str, label: &str, unit: &'static str, value: f64) -> Figure {
        let reason = Reason::plain("a_count", "describes the data");
        let estimate =
            Estimate { value: Some(value), ..Estimate::missing(0.0, "count", 0, 0, reason) };
        Figure::new(id, label, unit, "data", estimate)
    }
}

/// The answer to one question.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Stable id of the question.
    pub id: &'static str,
    /// The question.
    pub question: &'static str,
    /// Whether it was answered.
    pub status: Status,
    /// The numbers.
    pub figures: Vec<Figure>,
    /// What can't be told, and why.
    pub reasons: Vec<Reason>,
    /// Codes of cautions that concern it.
    pub cautions: Vec<&'static str>,
    /// Tables, by name.
    pub tables: Vec<(String, Table)>,
}

impl Answer {
    /// An answer, its status from its figures and reasons.
    pub fn new(
        id: &'static str,
        question: &'static str,
        figures: Vec<Figure>,
        mut reasons: Vec<Reason>,
    ) -> Answer {
        for figure in &figures {
            if let (None, Some(reason)) = (figure.estimate.value, &figure.estimate.reason) {
                reasons.push(Reason {
                    text: format!("{}: {}", figure.label, reason.text),
                    ..reason.clone()
                });
            }
        }
        let told = figures.iter().any(|f| f.estimate.value.is_some() && f.basis != "data");
        let counted = figures.iter().any(|f| f.estimate.value.is_some());
        let status = match (told, reasons.is_empty()) {
            (_, true) if counted => Status::Answered,
            (true, false) => Status::Partly,
            _ => Status::CantTell,
        };
        Answer { id, question, status, figures, reasons, cautions: Vec::new(), tables: Vec::new() }
    }

    /// The figure called `id`.
    pub fn figure(&self, id: &str) -> Option<&Figure> {
        self.figures.iter().find(|f| f.id == id)
    }
}

/// The ten answers of one trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Review {
    /// A name or code for the person.
    pub person: Option<String>,
    /// The person's own targets.
    pub targets: Targets,
    /// The choices.
    pub options: Options,
    /// The answers, in the order of the questions.
    pub answers: Vec<Answer>,
    /// Codes of the cautions that concern this trial, the general ones first.
    pub cautions: Vec<&'static str>,
}

impl Review {
    /// The answer with this id.
    pub fn answer(&self, id: &str) -> Option<&Answer> {
        self.answers.iter().find(|a| a.id == id)
    }

    /// The estimate of a figure, wherever it stands.
    pub fn estimate(&self, figure: &str) -> Option<&Estimate> {
        self.answers.iter().find_map(|a| a.figure(figure)).map(|f| &f.estimate)
    }
}

/// Question 10: what the review can be shown as.
pub fn showing(trial: &Trial) -> Answer {
    let shown = Figure::count(
        "renderings",
        "ways to show it: terminal, JSON, page, tables, methods paragraph",
        "1",
        5.0,
    );
    let mut reasons = Vec::new();
    if trial.config.plan.is_none() {
        reasons.push(Reason::plain(
            "no_plan",
            "trial.json holds no dated plan, so every answer counts as explored, not as tested",
        ));
    }
    let mut answer = Answer::new("showing", "How do I show it?", vec![shown], Vec::new());
    answer.reasons = reasons;
    answer
}
