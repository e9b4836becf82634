//! The review of one trial: ten answers as data, and their renderers.
//!
//! An answer has figures (estimates with ids), tables, reasons for what can't be told, and codes
//! of the cautions that concern it. Sentences are one renderer over that data ([`text`]).

pub mod answer;
pub mod behaviour;
pub mod cautions;
pub mod data;
pub mod enough;
mod episodes;
pub mod intake;
pub mod json;
pub mod levels;
mod local;
pub mod methods;
pub mod next;
mod planned;
pub mod responses;
pub mod text;
pub mod trust;
mod trust_next;
mod trust_sensor;

pub use answer::{Answer, Figure, Options, Review, Status};
pub use next::next_plan;

use crate::error::Error;
use crate::trial::Trial;

/// Reviews a trial. `progress` is called after each answer with its number and may return
/// `false` to stop.
///
/// # Errors
/// A level out of range; [`Error::Cancelled`].
pub fn review(
    trial: &Trial,
    options: Options,
    progress: &mut dyn FnMut(usize) -> bool,
) -> Result<Review, Error> {
    crate::error::require_within("level", options.level, 0.5, 0.999)?;
    let mut tell = |n: usize| if progress(n) { Ok(()) } else { Err(Error::Cancelled) };
    let meals = trial.responses(options.seed)?;
    let mut answers = vec![data::answer(trial)?];
    tell(1)?;
    let (trust, known) = trust::answer(trial, options)?;
    answers.push(trust);
    tell(2)?;
    answers.push(levels::answer(trial, known.blood, options)?);
    tell(3)?;
    answers.push(responses::answer(&meals, options)?);
    tell(4)?;
    let fitted = intake::fit(&meals, options)?;
    answers.push(intake::limits(trial, &meals, fitted.as_ref(), known.lag_min, options)?);
    tell(5)?;
    answers.push(intake::misfits(trial, &meals, fitted.as_ref(), options)?);
    tell(6)?;
    answers.push(behaviour::helps(trial, &meals, options)?);
    tell(7)?;
    answers.push(behaviour::change(trial, &meals, options)?);
    tell(8)?;
    answers.push(next::next(trial, &meals, options)?);
    tell(9)?;
    answers.push(answer::showing(trial));
    tell(10)?;
    let clock = trial.clock();
    for (_, table) in answers.iter_mut().flat_map(|a| &mut a.tables) {
        local::add_local_times(table, &clock)?;
    }
    let cautions = cautions::concerning(trial);
    Ok(Review {
        person: trial.config.person.clone(),
        targets: trial.targets,
        options,
        answers,
        cautions,
    })
}
