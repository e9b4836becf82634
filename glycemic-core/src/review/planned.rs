//! What a plan asked: kept apart from what is explored, and answered by its schedule where one
//! was drawn before the wear and carried out.

use super::answer::{Figure, Options};
use crate::contrast::{Asking, CarriedOut, Diary, Finding, Outcome, Verdict, carried_out};
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::stats::multiplicity;
use crate::table::Table;
use crate::trial::{Plan, Trial};

/// A plan beside what became of it.
pub(super) struct Planned {
    /// What the diary is asked.
    pub(super) asking: Asking,
    carried: Option<Carried>,
    sittings: Option<Table>,
    reasons: Vec<Reason>,
}

/// A schedule and what became of it.
struct Carried {
    contrast: String,
    target: Option<f64>,
    out: CarriedOut,
    /// Drawn before the wear, and enough of it carried out.
    caused: bool,
}

/// What the answer shows of it.
pub(super) struct Told {
    pub(super) figures: Vec<Figure>,
    pub(super) reasons: Vec<Reason>,
    pub(super) cautions: Vec<&'static str>,
    pub(super) tables: Vec<(String, Table)>,
}

impl Planned {
    pub(super) fn of(
        trial: &Trial,
        meals: &Responses,
        diary: &Diary<'_>,
        options: Options,
    ) -> Result<Planned, Error> {
        let asking = Asking { level: options.level, seed: options.seed, ..Asking::rise() };
        let mut own = Planned { asking, carried: None, sittings: None, reasons: Vec::new() };
        let Some(plan) = Plan::of(&trial.config)? else { return Ok(own) };
        let start = trial.sensor.times_ms()[0];
        let first = diary.clock.text(start);
        let in_advance = plan.in_advance(first.get(..10).unwrap_or(""));
        let outcome = plan.outcome.as_deref().and_then(|o| o.parse::<Outcome>().ok());
        if in_advance {
            let outcome = outcome.unwrap_or(Outcome::Rise);
            own.asking = Asking { outcome, margin: outcome.margin(), ..own.asking };
            own.asking.planned = plan.contrasts.clone();
        } else {
            own.reasons.push(Reason::plain(
                "plan_not_in_advance",
                "the plan has no date on or before the first day of wear, so all is explored",
            ));
        }
        if let Some(wish) = &plan.schedule {
            let outcome = outcome.unwrap_or(Outcome::Rise);
            let first_day = plan.first_day_number().unwrap_or(diary.clock.day(start));
            let out = carried_out(wish, first_day, meals, diary, outcome, options.level)?;
            let caused = in_advance && out.reason().is_none();
            own.sittings = Some(out.sittings_table(meals)?);
            own.with(Carried { contrast: wish.with.clone(), target: plan.target, out, caused });
        }
        Ok(own)
    }

    fn with(&mut self, carried: Carried) {
        let all = &carried.out.sittings;
        let went_otherwise = all.iter().filter(|s| !s.deviations.is_empty()).count();
        if went_otherwise > 0 {
            let text = format!(
                "{went_otherwise} of {} meals of the schedule went otherwise than drawn; the table says how",
                all.len()
            );
            self.reasons.push(Reason::plain("protocol_deviations", &text));
        }
        if let Some(reason) = carried.out.reason() {
            let text = format!("the schedule: {}", reason.text);
            self.reasons.push(Reason { text, ..reason.clone() });
        }
        if carried.caused {
            // The draw answers this question; what was observed of it is explored.
            self.asking.planned.retain(|id| *id != carried.contrast);
            self.asking.elsewhere.extend(carried.out.as_assigned.p_value);
        }
        self.carried = Some(carried);
    }

    /// Figures, reasons, cautions and tables, once the other planned questions are answered.
    pub(super) fn told(self, found: &[Finding]) -> Result<Told, Error> {
        let mut told = Told {
            figures: Vec::new(),
            reasons: self.reasons,
            cautions: vec!["went_with"],
            tables: Vec::new(),
        };
        let Some(carried) = self.carried else { return Ok(told) };
        let others = found.iter().filter(|f| f.planned).filter_map(|f| f.contrast.p_value);
        let own = carried.adjusted(others.collect(), self.asking.level)?;
        if carried.caused {
            told.cautions.push("caused");
        }
        if let (Some(low), Some(high)) = (own.estimate.low, own.estimate.high)
            && low <= 0.0
            && high >= 0.0
        {
            let unit = carried.out.outcome.unit();
            let text = format!(
                "by the schedule, differences from {low:.0} to {high:.0} {unit} are possible: can't tell in which direction"
            );
            told.reasons.push(Reason::plain("direction_unclear", &text));
        }
        told.figures.push(carried.figure(&own.estimate));
        told.tables.push(("planned_answer".into(), carried.table(&own)?));
        told.tables.push(("carried_out".into(), carried.out.answers_table()?));
        told.tables.extend(self.sittings.map(|t| ("sittings".to_string(), t)));
        Ok(told)
    }
}

/// The planned answer with the other planned questions allowed for.
struct Adjusted {
    estimate: Estimate,
    p_value: Option<f64>,
}

impl Carried {
    /// Holm among the planned, where this is one of them.
    fn adjusted(&self, mut others: Vec<f64>, level: f64) -> Result<Adjusted, Error> {
        let p = self.out.as_assigned.p_value;
        if !self.caused {
            others.clear();
        }
        let level = 1.0 - (1.0 - level) / (others.len() + 1) as f64;
        others.extend(p);
        let adjusted = multiplicity::holm(&others)?;
        Ok(Adjusted {
            estimate: self.out.as_assigned_at(level)?.difference,
            p_value: p.and(adjusted.last().copied()),
        })
    }

    fn figure(&self, estimate: &Estimate) -> Figure {
        let id = if self.caused { "randomised_difference" } else { "assigned_difference" };
        let label = format!(
            "{} in meals assigned {}, less in meals assigned without",
            self.out.outcome.id(),
            self.contrast
        );
        Figure::new(id, &label, self.out.outcome.unit(), "as_sensor_reads", estimate.clone())
    }

    fn table(&self, own: &Adjusted) -> Result<Table, Error> {
        let (out, e) = (&self.out, &own.estimate);
        let verdict = Verdict::of(e.low, e.high, out.outcome.margin()).code();
        let grams = out.balance.first();
        let mut t = Table::new();
        let text = |v: &str| vec![Some(v.to_string())];
        t.push_text("contrast", text(&self.contrast))?;
        t.push_text("outcome", text(out.outcome.id()))?;
        t.push_text("unit", text(out.outcome.unit()))?;
        t.push_text("says", text(if self.caused { "caused" } else { "went_with" }))?;
        t.push_i64("pairs_drawn", vec![Some(out.pairs as i64)])?;
        t.push_i64("pairs_compared", vec![Some(e.n as i64)])?;
        t.push_f64("difference", vec![e.value])?;
        t.push_f64("low", vec![e.low])?;
        t.push_f64("high", vec![e.high])?;
        t.push_f64("level", vec![Some(e.level)])?;
        t.push_f64("p_value", vec![out.as_assigned.p_value])?;
        t.push_f64("adjusted_p", vec![own.p_value])?;
        t.push_text("verdict", text(verdict))?;
        t.push_f64("target", vec![self.target])?;
        t.push_f64("grams_with", vec![grams.map(|b| b.with)])?;
        t.push_f64("grams_without", vec![grams.map(|b| b.without)])?;
        Ok(t)
    }
}
