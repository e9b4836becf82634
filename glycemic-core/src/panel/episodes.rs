//! Episodes of low and high glucose.
//!
//! # Method
//! An episode starts when glucose has been beyond a level for long enough (15 minutes in a row),
//! at the first of those readings. It ends when glucose has been back at its recovery level for
//! 15 minutes in a row, at the first of those. A shorter return does not end it, and its minutes
//! run from start to end.
//!
//! A gap (longer than three nominal intervals) or a change of sensor ends an episode there:
//! nobody knows what happened inside. Such an episode, one that is open when the trace ends, and
//! one that is under way at the first reading after a gap are marked `cut`: they lasted at least
//! as long as stated. A cut episode ends at its unfinished recovery if it has one; else at its
//! last reading, and by count one nominal interval later, since each reading stands for one.
//!
//! A reading is classified in the unit it was measured in. Lengths are compared to half a
//! percent, because sensors' clocks drift: three steps of 299 s are 15 minutes.
//!
//! # Choices
//! - [`EpisodeLength`]: readings times the nominal interval, or first to last reading.
//! - [`Rule::recovery`]: an episode below 54 mg/dL ends at 70 (default) or already at 54; one
//!   above 250 ends at 180 (default) or at 250.
//! - *Prolonged* and *extended* lows are a run of 120 minutes in a row below the level, not an
//!   episode whose minutes come to 120 with short returns in it.
//!
//! # Source
//! Danne et al., Diabetes Care 2017; 40:1631-1640 (15 minutes; prolonged below 54 mg/dL).
//! Battelino et al., Diabetes Care 2019; 42:1593-1603. Recovery, from memory; highs, extended
//! lows and highs: Battelino et al., Lancet Diabetes Endocrinol 2023; 11:42-57, from memory.

use super::episode_pass::{find, pieces, readings_needed};
use super::options::{EpisodeLength, Options};
use super::registry::Id;
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::TraceView;
use crate::table::{Items, Table};
use crate::units::{self, Limit};

/// On which side of the level an episode lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Glucose is below the level.
    Below,
    /// Glucose is above the level.
    Above,
}

/// How long glucose must be beyond the level for an episode to start.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Hold {
    /// At least so many minutes in a row.
    InARow(f64),
    /// More than `over_min` minutes within any `window_min`.
    Within {
        /// Minutes that must be exceeded.
        over_min: f64,
        /// Minutes of the window.
        window_min: f64,
    },
}

/// What counts as an episode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// A word for it, such as `low`.
    pub name: &'static str,
    /// Below or above the level.
    pub side: Side,
    /// The level, not part of the episode itself.
    pub level: Limit,
    /// Glucose is back when it is at or on the other side of this limit.
    pub recovery: Limit,
    /// How long it must be beyond the level.
    pub hold: Hold,
    /// Minutes in a row that glucose must be back.
    pub recovery_min: f64,
    /// How minutes in a row are counted.
    pub length: EpisodeLength,
}

impl Rule {
    const fn new(name: &'static str, side: Side, level: Limit, recovery: Limit) -> Rule {
        let (hold, length) = (Hold::InARow(15.0), EpisodeLength::CountTimesInterval);
        Rule { name, side, level, recovery, hold, recovery_min: 15.0, length }
    }

    /// Below 70 mg/dL (3.9 mmol/L) for 15 minutes.
    pub const LOW: Rule = Rule::new("low", Side::Below, units::LOW, units::LOW);
    /// Below 54 mg/dL (3.0 mmol/L) for 15 minutes, until 70 mg/dL (3.9 mmol/L).
    pub const VERY_LOW: Rule = Rule::new("very_low", Side::Below, units::VERY_LOW, units::LOW);
    /// Below 54 mg/dL for 120 minutes in a row.
    pub const PROLONGED_VERY_LOW: Rule =
        Rule { name: "prolonged_very_low", hold: Hold::InARow(120.0), ..Rule::VERY_LOW };
    /// Below 70 mg/dL for 120 minutes in a row.
    pub const EXTENDED_LOW: Rule =
        Rule { name: "extended_low", hold: Hold::InARow(120.0), ..Rule::LOW };
    /// Above 180 mg/dL (10.0 mmol/L) for 15 minutes.
    pub const HIGH: Rule = Rule::new("high", Side::Above, units::HIGH, units::HIGH);
    /// Above 250 mg/dL (13.9 mmol/L) for 15 minutes, until 180 mg/dL (10.0 mmol/L).
    pub const VERY_HIGH: Rule = Rule::new("very_high", Side::Above, units::VERY_HIGH, units::HIGH);
    /// Above 250 mg/dL for more than 90 of 120 minutes.
    pub const EXTENDED_HIGH: Rule = Rule {
        name: "extended_high",
        hold: Hold::Within { over_min: 90.0, window_min: 120.0 },
        ..Rule::VERY_HIGH
    };

    /// The published rules.
    pub const ALL: [Rule; 7] = [
        Rule::LOW,
        Rule::VERY_LOW,
        Rule::PROLONGED_VERY_LOW,
        Rule::EXTENDED_LOW,
        Rule::HIGH,
        Rule::VERY_HIGH,
        Rule::EXTENDED_HIGH,
    ];

    /// The same rule with lengths counted in another way.
    pub const fn counted(self, length: EpisodeLength) -> Rule {
        Rule { length, ..self }
    }

    /// Refuses a rule that no trace could follow.
    ///
    /// # Errors
    /// Minutes that are not finite, not positive or over a week; a window shorter than what it
    /// must hold; levels under 10 or over 2000 mg/dL; a recovery on the wrong side of the level.
    pub fn check(&self) -> Result<(), Error> {
        const WEEK: f64 = 7.0 * 1440.0;
        require_within("recovery_min", self.recovery_min, 0.1, WEEK)?;
        match self.hold {
            Hold::InARow(minutes) => require_within("hold_min", minutes, 0.1, WEEK)?,
            Hold::Within { over_min, window_min } => {
                require_within("over_min", over_min, 0.1, WEEK)?;
                require_within("window_min", window_min, over_min, WEEK)?;
            }
        }
        for (level, recovery, to_mg_dl) in [
            (self.level.mg_dl, self.recovery.mg_dl, 1.0),
            (self.level.mmol_l, self.recovery.mmol_l, units::MG_DL_PER_MMOL_L),
        ] {
            require_within("level", level * to_mg_dl, 10.0, 2000.0)?;
            let (low, high) = match self.side {
                Side::Below => (level * to_mg_dl, 2000.0),
                Side::Above => (10.0, level * to_mg_dl),
            };
            require_within("recovery", recovery * to_mg_dl, low, high)?;
        }
        Ok(())
    }
}

/// One episode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Episode {
    /// The first reading beyond the level, UTC milliseconds.
    pub start_ms: i64,
    /// The first reading of the recovery, UTC milliseconds; for a cut one, see the module.
    pub end_ms: i64,
    /// From start to end.
    pub minutes: f64,
    /// The lowest (or highest) reading, mg/dL.
    pub extreme_mg_dl: f64,
    /// The level, for readings in the unit they were measured in, as mg/dL.
    pub level_mg_dl: f64,
    /// Whether it starts from 00:00 on and before 06:00 local time; unknown without a zone.
    pub nocturnal: Option<bool>,
    /// Whether it touches a gap or an end of the trace: it lasted at least so long.
    pub cut: bool,
    /// Whether what it touches is a change of sensor.
    pub sensor_change: bool,
}

/// The episodes of a stretch of a trace by one rule, in order. One pass.
///
/// # Errors
/// As [`Rule::check`].
///
/// # Example
/// ```
/// use glycemic_core::{panel::episodes::{Rule, episodes}, series::Builder, Unit};
/// let times: Vec<i64> = (0..9).map(|i| 1_741_000_000_000 + i * 300_000).collect();
/// let glucose = [80.0, 75.0, 69.0, 60.0, 66.0, 71.0, 80.0, 90.0, 95.0];
/// let trace = Builder::new(Unit::MgDl).build(&times, &glucose)?;
/// let found = episodes(trace.view(), &Rule::LOW)?;
/// // Three readings below 70, then back: 15 minutes.
/// assert_eq!((found.len(), found[0].minutes, found[0].extreme_mg_dl), (1, 15.0, 60.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn episodes(view: TraceView<'_>, rule: &Rule) -> Result<Vec<Episode>, Error> {
    rule.check()?;
    Ok(find(view, &pieces(view), rule))
}

/// Episodes by several rules as a table: `rule`, `start_ms`, `end_ms`, `minutes`,
/// `extreme_mg_dl`, `level_mg_dl`, `nocturnal`, `cut`, `sensor_change`.
///
/// # Errors
/// As [`Rule::check`].
pub fn table(view: TraceView<'_>, rules: &[Rule]) -> Result<Table, Error> {
    let mut rows: Vec<(&'static str, Episode)> = Vec::new();
    for rule in rules {
        rows.extend(episodes(view, rule)?.into_iter().map(|e| (rule.name, e)));
    }
    let f64s = |f: fn(&Episode) -> f64| rows.iter().map(|(_, e)| Some(f(e))).collect();
    let i64s = |f: fn(&Episode) -> i64| rows.iter().map(|(_, e)| Some(f(e))).collect();
    let nights = rows.iter().map(|(_, e)| e.nocturnal.unwrap_or(false)).collect();
    let mut table = Table::new();
    table.push_text("rule", rows.iter().map(|(name, _)| Some(name.to_string())).collect())?;
    table.push_i64("start_ms", i64s(|e| e.start_ms))?;
    table.push_i64("end_ms", i64s(|e| e.end_ms))?;
    table.push_f64("minutes", f64s(|e| e.minutes))?;
    table.push_f64("extreme_mg_dl", f64s(|e| e.extreme_mg_dl))?;
    table.push_f64("level_mg_dl", f64s(|e| e.level_mg_dl))?;
    let known = rows.iter().map(|(_, e)| e.nocturnal.is_some()).collect();
    table.push("nocturnal", Items::Bool(nights), known)?;
    table.push_bool("cut", rows.iter().map(|(_, e)| e.cut).collect())?;
    table.push_bool("sensor_change", rows.iter().map(|(_, e)| e.sensor_change).collect())?;
    Ok(table)
}

/// The measures that count episodes.
pub(super) const COUNTED: [Id; 8] = [
    Id::LowEpisodes,
    Id::VeryLowEpisodes,
    Id::NocturnalLowEpisodes,
    Id::ProlongedVeryLowEpisodes,
    Id::ExtendedLowEpisodes,
    Id::HighEpisodes,
    Id::VeryHighEpisodes,
    Id::ExtendedHighEpisodes,
];

/// The measures of the panel that count episodes, each a number or why there is none: without a
/// stretch long enough to show an episode, none seen is no answer.
pub fn counts(view: TraceView<'_>, options: &Options) -> Vec<(Id, Result<f64, Reason>)> {
    let pieces = pieces(view);
    let longest = pieces.iter().map(|p| p.len()).max().unwrap_or(0);
    let of = |rule: Rule| -> Result<Vec<Episode>, Reason> {
        let rule = rule.counted(options.episode_length);
        let needed = readings_needed(&rule, view.trace().nominal_ms());
        if longest < needed {
            let what = "readings without a gap";
            return Err(Reason::count("too_few_readings", what, longest, needed));
        }
        Ok(find(view, &pieces, &rule))
    };
    let count = |rule| of(rule).map(|e: Vec<Episode>| e.len() as f64);
    let low = of(Rule::LOW);
    let nocturnal = low.clone().and_then(|all| {
        super::local::clock(view)?;
        Ok(all.iter().filter(|e| e.nocturnal == Some(true)).count() as f64)
    });
    vec![
        (Id::LowEpisodes, low.map(|e| e.len() as f64)),
        (Id::VeryLowEpisodes, count(Rule::VERY_LOW)),
        (Id::NocturnalLowEpisodes, nocturnal),
        (Id::ProlongedVeryLowEpisodes, count(Rule::PROLONGED_VERY_LOW)),
        (Id::ExtendedLowEpisodes, count(Rule::EXTENDED_LOW)),
        (Id::HighEpisodes, count(Rule::HIGH)),
        (Id::VeryHighEpisodes, count(Rule::VERY_HIGH)),
        (Id::ExtendedHighEpisodes, count(Rule::EXTENDED_HIGH)),
    ]
}

/// How often and how long.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// Episodes.
    pub n: usize,
    /// Those that are cut, so longer than seen.
    pub cut: usize,
    /// Episodes per week observed: readings times the nominal interval, gaps left out.
    pub per_week: Option<f64>,
    /// Mean minutes of the episodes seen whole.
    pub mean_minutes: Option<f64>,
    /// Why one of the two is missing.
    pub reason: Option<Reason>,
}

/// How often episodes come by one rule and how long they last.
///
/// # Errors
/// As [`Rule::check`].
pub fn summary(view: TraceView<'_>, rule: &Rule) -> Result<Summary, Error> {
    let all = episodes(view, rule)?;
    let whole: Vec<f64> = all.iter().filter(|e| !e.cut).map(|e| e.minutes).collect();
    const WEEK_MS: f64 = 7.0 * 86_400_000.0;
    let weeks = view.len() as f64 * view.trace().nominal_ms() as f64 / WEEK_MS;
    let mean_minutes = crate::stats::moments::mean(&whole);
    let reason = if view.is_empty() {
        Some(Reason::count("too_few_readings", "reading", 0, 1))
    } else if mean_minutes.is_none() {
        Some(Reason::count("no_whole_episode", "episode seen whole", 0, 1))
    } else {
        None
    };
    let per_week = (!view.is_empty()).then(|| all.len() as f64 / weeks);
    Ok(Summary { n: all.len(), cut: all.len() - whole.len(), per_week, mean_minutes, reason })
}
