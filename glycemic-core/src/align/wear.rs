//! What happened to a sensor, as plain data, and which sensor was worn when.

use crate::clock::DAY_MS;
use crate::error::Error;

/// A kind of event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum EventKind {
    /// A sensor was put in.
    Inserted,
    /// It was taken out.
    Removed,
    /// It was set to a meter reading by its user.
    Calibrated,
    /// It stopped working.
    Failed,
    /// It sounded an alarm.
    Alarm,
    /// Anything else.
    Other,
}

impl std::str::FromStr for EventKind {
    type Err = Error;
    fn from_str(text: &str) -> Result<EventKind, Error> {
        match text {
            "inserted" => Ok(EventKind::Inserted),
            "removed" => Ok(EventKind::Removed),
            "calibrated" => Ok(EventKind::Calibrated),
            "failed" => Ok(EventKind::Failed),
            "alarm" => Ok(EventKind::Alarm),
            "other" => Ok(EventKind::Other),
            _ => Err(Error::UnknownChoice {
                name: "event",
                got: text.into(),
                choices: "inserted, removed, calibrated, failed, alarm, other",
            }),
        }
    }
}

/// Something that happened to a sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct WearEvent {
    /// When, UTC milliseconds.
    pub time_ms: i64,
    /// What.
    pub kind: EventKind,
    /// Which sensor, if it has a name.
    pub sensor: Option<String>,
}

/// One sensor from its insertion until it was taken out, failed, or the next was put in.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Spell {
    pub(crate) sensor: Option<String>,
    pub(crate) from_ms: i64,
    /// `i64::MAX` when nothing says that it ended.
    pub(crate) to_ms: i64,
}

/// Sensors worn one after the other, in order.
pub(crate) fn spells(events: &[WearEvent]) -> Vec<Spell> {
    let mut order: Vec<&WearEvent> = events.iter().collect();
    order.sort_by_key(|e| e.time_ms);
    let mut out: Vec<Spell> = Vec::new();
    for event in order {
        let ends =
            matches!(event.kind, EventKind::Inserted | EventKind::Removed | EventKind::Failed);
        if let Some(last) = out.last_mut().filter(|s| ends && s.to_ms == i64::MAX) {
            last.to_ms = event.time_ms;
        }
        if event.kind == EventKind::Inserted {
            let sensor = event.sensor.clone();
            out.push(Spell { sensor, from_ms: event.time_ms, to_ms: i64::MAX });
        }
    }
    out
}

/// The sensor worn at an instant.
pub(crate) fn worn_at(spells: &[Spell], time_ms: i64) -> Option<&Spell> {
    let after = spells.partition_point(|s| s.from_ms <= time_ms);
    spells[..after].last().filter(|s| time_ms <= s.to_ms)
}

/// Day of wear, counted from 1: whole days since the insertion and one.
pub(crate) fn wear_day(spell: &Spell, time_ms: i64) -> i64 {
    time_ms.saturating_sub(spell.from_ms).div_euclid(DAY_MS) + 1
}
