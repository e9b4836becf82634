//! What the caller may choose.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::people::Name;
use crate::clock::LocalClock;
use crate::error::Error;
use crate::panel::{self, Id, MEASURES};
use crate::units::Unit;

/// Choices for the panels of many people.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Unit of the glucose column.
    pub unit: Unit,
    /// Where the people were; without it measures of local time can't be told.
    pub clock: Option<LocalClock>,
    /// Where some of them were instead.
    pub clocks: BTreeMap<Name, Arc<LocalClock>>,
    /// Whether times are local ones, to be read on the person's clock (a floating one if none is
    /// given). A person with a time that occurs twice or never gets a row that says so.
    pub local: bool,
    /// The measures wanted, in this order; all if `None`.
    pub only: Option<Vec<Id>>,
    /// Choices where publications disagree.
    pub panel: panel::Options,
    /// Number of threads; all cores if `None`. Without the feature `parallel` there is one.
    pub threads: Option<usize>,
}

impl Options {
    /// Refuses what can't be meant.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for no thread or over 1024, [`Error::UnknownChoice`] for a measure
    /// asked for twice; as [`panel::Options::check`].
    pub fn check(&self) -> Result<(), Error> {
        self.panel.check()?;
        if let Some(threads) = self.threads {
            crate::error::require_within("threads", threads as f64, 1.0, 1024.0)?;
        }
        let ids = self.only.as_deref().unwrap_or_default();
        for (i, id) in ids.iter().enumerate() {
            if ids[..i].contains(id) {
                let got = format!("{} twice", id.measure().name);
                let choices = "the measures of the registry, each once";
                return Err(Error::UnknownChoice { name: "measures", got, choices });
            }
        }
        Ok(())
    }

    pub(super) fn measures(&self) -> Vec<Id> {
        let all = || MEASURES.iter().map(|m| m.id).collect();
        self.only.clone().unwrap_or_else(all)
    }

    /// The clock of a person; a floating one where times are local and no zone is known.
    pub(super) fn clock_of(&self, name: &Name) -> Option<LocalClock> {
        let own = self.clocks.get(name).map(|c| LocalClock::clone(c));
        let found = own.or_else(|| self.clock.clone());
        if self.local { found.or_else(|| Some(LocalClock::floating())) } else { found }
    }
}
