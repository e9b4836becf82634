//! Local time as data: which offset from UTC held from which instant on.
//!
//! # Method
//! A [`LocalClock`] is a sorted list of (instant, offset in minutes). It is made from an IANA
//! zone name (feature `tz`) or handed in, may change during the wear (travel, daylight saving),
//! and resolves a local time to the one, two or no instants that show it. A *floating* clock
//! stands for naive times whose zone nobody knows: local time is what was written.

use crate::error::Error;

const MINUTE: i64 = 60_000;
/// Largest offset from UTC that a clock may have, minutes.
const MOST_OFFSET_MIN: i64 = 18 * 60;
/// Milliseconds in a day.
pub const DAY_MS: i64 = 86_400_000;

/// Offsets from UTC, and from when each holds.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LocalClock {
    name: String,
    steps: Vec<(i64, i32)>,
    floating: bool,
}

/// The instants that a local time stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Resolved {
    /// One instant, UTC milliseconds.
    One(i64),
    /// Two: the clocks were put back. The earlier comes first.
    Doubled(i64, i64),
    /// None: the clocks were put forward.
    Missing,
}

impl LocalClock {
    /// A clock with one offset for ever, in minutes east of UTC.
    pub fn fixed(offset_min: i32) -> LocalClock {
        let name = format!(
            "UTC{}{:02}:{:02}",
            if offset_min < 0 { '-' } else { '+' },
            offset_min.unsigned_abs() / 60,
            offset_min.unsigned_abs() % 60
        );
        LocalClock { name, steps: vec![(i64::MIN, offset_min)], floating: false }
    }

    /// A clock for naive times: they are kept as written, and no zone is claimed.
    pub fn floating() -> LocalClock {
        LocalClock { name: "floating".into(), steps: vec![(i64::MIN, 0)], floating: true }
    }

    /// A clock from (instant in UTC ms, offset in minutes) steps; before the first its offset holds.
    ///
    /// # Errors
    /// No step, steps that don't rise, or an offset beyond 18 hours.
    pub fn from_steps(name: &str, steps: &[(i64, i32)]) -> Result<LocalClock, Error> {
        if steps.is_empty() {
            return Err(Error::TooFewValues { measure: "a local clock", needed: 1, got: 0 });
        }
        for (i, pair) in steps.windows(2).enumerate() {
            if pair[1].0 <= pair[0].0 {
                return Err(Error::UnorderedTime { index: i + 1 });
            }
        }
        if let Some(i) = steps.iter().position(|s| i64::from(s.1.abs()) > MOST_OFFSET_MIN) {
            return Err(Error::OutOfRange {
                name: "offset_min",
                index: Some(i),
                value: steps[i].1.into(),
                low: -1080.0,
                high: 1080.0,
            });
        }
        let mut steps = steps.to_vec();
        steps[0].0 = i64::MIN;
        Ok(LocalClock { name: name.to_string(), steps, floating: false })
    }

    /// A clock for an IANA zone name, right from 1970 to 2100.
    ///
    /// # Errors
    /// [`Error::UnknownZone`].
    #[cfg(feature = "tz")]
    pub fn from_zone(name: &str) -> Result<LocalClock, Error> {
        use chrono::Offset;
        use chrono::TimeZone;
        let zone: chrono_tz::Tz =
            name.parse().map_err(|_| Error::UnknownZone { name: name.to_string() })?;
        let offset = |ms: i64| -> i32 {
            let at = chrono::DateTime::from_timestamp_millis(ms).unwrap_or_default();
            zone.offset_from_utc_datetime(&at.naive_utc()).fix().local_minus_utc() / 60
        };
        // Zones change at most a few times a year: look once a week, then halve.
        let (mut at, end) = (0_i64, 130 * 365 * DAY_MS);
        let mut steps = vec![(i64::MIN, offset(0))];
        while at < end {
            let next = at + 7 * DAY_MS;
            if offset(next) != offset(at) {
                let (mut low, mut high) = (at, next);
                while high - low > 1 {
                    let middle = low + (high - low) / 2;
                    if offset(middle) == offset(at) { low = middle } else { high = middle }
                }
                steps.push((high, offset(high)));
            }
            at = next;
        }
        Ok(LocalClock { name: name.to_string(), steps, floating: false })
    }

    /// A clock for an IANA zone name: this build has no time zone database.
    ///
    /// # Errors
    /// Always, except for "UTC".
    #[cfg(not(feature = "tz"))]
    pub fn from_zone(name: &str) -> Result<LocalClock, Error> {
        match name {
            "UTC" => Ok(LocalClock::fixed(0)),
            _ => Err(Error::UnknownZone { name: name.to_string() }),
        }
    }

    /// The zone's name, or how the clock was made.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether no zone is known.
    pub fn is_floating(&self) -> bool {
        self.floating
    }

    /// Offset east of UTC in minutes at an instant.
    pub fn offset_min(&self, utc_ms: i64) -> i32 {
        let after = self.steps.partition_point(|s| s.0 <= utc_ms);
        self.steps[after.max(1) - 1].1
    }

    /// Local time as milliseconds since 1970 on the local clock.
    pub fn local_ms(&self, utc_ms: i64) -> i64 {
        utc_ms.saturating_add(i64::from(self.offset_min(utc_ms)) * MINUTE)
    }

    /// Number of the local calendar day (0 is 1 January 1970).
    pub fn day(&self, utc_ms: i64) -> i64 {
        self.local_ms(utc_ms).div_euclid(DAY_MS)
    }

    /// Minute of the local day, from 0 to 1439, with its fraction.
    pub fn minute_of_day(&self, utc_ms: i64) -> f64 {
        self.local_ms(utc_ms).rem_euclid(DAY_MS) as f64 / MINUTE as f64
    }

    /// The instants that show this local time.
    pub fn resolve(&self, local_ms: i64) -> Resolved {
        // No offset is beyond 18 h, so only steps in force within 18 h of it can show it.
        let reach = MOST_OFFSET_MIN * MINUTE;
        let from = self.steps.partition_point(|s| s.0 <= local_ms.saturating_sub(reach)).max(1) - 1;
        let to = self.steps.partition_point(|s| s.0 <= local_ms.saturating_add(reach));
        let mut shown = (from..to).filter_map(|i| {
            let utc = local_ms.saturating_sub(i64::from(self.steps[i].1) * MINUTE);
            let ends = self.steps.get(i + 1).map_or(i64::MAX, |s| s.0);
            (self.steps[i].0 <= utc && utc < ends).then_some(utc)
        });
        match (shown.next(), shown.next()) {
            (None, _) => Resolved::Missing,
            (Some(one), None) => Resolved::One(one),
            (Some(first), Some(second)) => Resolved::Doubled(first, second),
        }
    }

    /// The instant of local midnight that begins day `day`; where midnight is skipped, the first
    /// instant of the day.
    pub fn day_start(&self, day: i64) -> i64 {
        match self.resolve(day * DAY_MS) {
            Resolved::One(ms) | Resolved::Doubled(ms, _) => ms,
            Resolved::Missing => {
                day * DAY_MS - i64::from(self.offset_min((day - 1) * DAY_MS)) * MINUTE
            }
        }
    }

    /// Local date and time as text, `2025-03-14 07:30`.
    pub fn text(&self, utc_ms: i64) -> String {
        match chrono::DateTime::from_timestamp_millis(self.local_ms(utc_ms)) {
            Some(at) => at.format("%Y-%m-%d %H:%M").to_string(),
            None => format!("{utc_ms} ms"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[cfg(feature = "tz")]
    fn lisbon_autumn_2025_has_a_doubled_hour_and_spring_a_missing_one() {
        // Published by the EU directive 2000/84/EC: last Sundays of March and October, 01:00 UTC.
        let clock = LocalClock::from_zone("Europe/Lisbon").unwrap_or(LocalClock::floating());
        let change = 1_761_440_400_000; // 2025-10-26T01:00Z
        assert_eq!(clock.offset_min(change - 1), 60);
        assert_eq!(clock.offset_min(change), 0);
        assert_eq!(
            clock.resolve(change + 30 * MINUTE),
            Resolved::Doubled(change - 30 * MINUTE, change + 30 * MINUTE)
        );
        let spring = 1_743_296_400_000; // 2025-03-30T01:00Z
        assert_eq!(clock.resolve(spring + 30 * MINUTE), Resolved::Missing);
    }

    /// Every five minutes of two years against the plain look at every step.
    #[test]
    #[cfg(feature = "tz")]
    fn resolving_near_steps_equals_resolving_all() {
        for zone in ["Europe/Lisbon", "Pacific/Apia", "Asia/Kathmandu"] {
            let clock = LocalClock::from_zone(zone).unwrap();
            let plain = |local: i64| -> Vec<i64> {
                let all = clock.steps.iter().enumerate().filter_map(|(i, s)| {
                    let utc = local - i64::from(s.1) * MINUTE;
                    let ends = clock.steps.get(i + 1).map_or(i64::MAX, |s| s.0);
                    (s.0 <= utc && utc < ends).then_some(utc)
                });
                all.collect()
            };
            // Apia left out 30 December 2011.
            for local in (0..2 * 365 * 288).map(|i| 1_293_840_000_000 + i * 5 * MINUTE) {
                let got = match clock.resolve(local) {
                    Resolved::One(one) => vec![one],
                    Resolved::Doubled(first, second) => vec![first, second],
                    Resolved::Missing => vec![],
                };
                assert_eq!(got, plain(local), "{zone} {local}");
            }
        }
    }

    #[test]
    fn steps_must_rise() {
        assert!(LocalClock::from_steps("x", &[(10, 0), (10, 60)]).is_err());
        assert!(LocalClock::from_steps("x", &[]).is_err());
        let clock = LocalClock::from_steps("trip", &[(0, 0), (1_000_000, 120)]);
        assert_eq!(clock.map(|c| c.offset_min(2_000_000)), Ok(120));
    }
}
