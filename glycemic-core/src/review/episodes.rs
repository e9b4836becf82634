//! Episodes of low and high glucose in question 3.

use crate::error::Error;
use crate::panel::episodes::{Episode, Rule, Side, episodes};
use crate::table::Table;
use crate::trial::Trial;

/// What is said of a low at night that no meter reading checked.
const POSSIBLY_PRESSURE: &str =
    "possibly pressure; a true low can't be excluded without a meter reading";
/// A meter reading so near checks an episode, in milliseconds.
const NEAR_MS: i64 = 15 * 60_000;

/// Every episode by the published rules, in order of time.
pub(super) struct Found(Vec<(Rule, Episode)>);

impl Found {
    /// The episodes of a trial.
    pub(super) fn of(trial: &Trial) -> Result<Found, Error> {
        let mut all = Vec::new();
        for rule in Rule::ALL {
            let found = episodes(trial.sensor.view(), &rule)?;
            all.extend(found.into_iter().map(|episode| (rule, episode)));
        }
        // Of one start, the order of the rules.
        all.sort_by_key(|(_, episode)| episode.start_ms);
        Ok(Found(all))
    }

    /// Whether a low at night went without a meter reading.
    pub(super) fn unchecked_at_night(&self, trial: &Trial) -> bool {
        self.0.iter().any(|(rule, episode)| possibly_pressure(trial, rule, episode))
    }

    /// As a table: `rule`, `from` and `to` (local), `start_min` (minute of the local day),
    /// `minutes`, `extreme_mg_dl`, `at_night`, `cut`, `note`.
    pub(super) fn table(&self, trial: &Trial) -> Result<Table, Error> {
        let clock = trial.clock();
        let rows = &self.0;
        let text = |f: &dyn Fn(&Episode) -> String| rows.iter().map(|r| Some(f(&r.1))).collect();
        let number = |f: &dyn Fn(&Episode) -> f64| rows.iter().map(|r| Some(f(&r.1))).collect();
        let mut t = Table::new();
        t.push_text("rule", rows.iter().map(|r| Some(r.0.name.to_string())).collect())?;
        t.push_text("from", text(&|e| clock.text(e.start_ms)))?;
        t.push_text("to", text(&|e| clock.text(e.end_ms)))?;
        t.push_f64("start_min", number(&|e| clock.minute_of_day(e.start_ms)))?;
        t.push_f64("minutes", number(&|e| e.minutes))?;
        t.push_f64("extreme_mg_dl", number(&|e| e.extreme_mg_dl))?;
        t.push_bool("at_night", rows.iter().map(|r| at_night(trial, &r.1)).collect())?;
        t.push_bool("cut", rows.iter().map(|r| r.1.cut).collect())?;
        let note = |(rule, e): &(Rule, Episode)| {
            possibly_pressure(trial, rule, e).then(|| POSSIBLY_PRESSURE.to_string())
        };
        t.push_text("note", rows.iter().map(note).collect())?;
        Ok(t)
    }
}

/// Whether it starts when most people lie: 22:00-07:00, as in question 2 (a convention of this
/// library). The panel's own count of nocturnal lows is of 00:00-06:00.
fn at_night(trial: &Trial, episode: &Episode) -> bool {
    !(420.0..1320.0).contains(&trial.clock().minute_of_day(episode.start_ms))
}

fn possibly_pressure(trial: &Trial, rule: &Rule, episode: &Episode) -> bool {
    let near = (episode.start_ms - NEAR_MS)..=(episode.end_ms + NEAR_MS);
    let checked = trial.meter.times_ms().iter().any(|t| near.contains(t));
    rule.side == Side::Below && at_night(trial, episode) && !checked
}
