//! Times as people write them.
//!
//! # Method
//! ISO 8601 with an offset (or Z) is an instant. Without one it is a local time, resolved on
//! the trial's clock; a local time that occurs twice or never is an error. Whole numbers are
//! UTC milliseconds since 1970, within a plausible span of years. A format of the caller's own
//! is strftime's.

use chrono::{DateTime, NaiveDate, NaiveDateTime};

use crate::clock::{LocalClock, Resolved};

/// What a time's text turned out to be.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Read {
    Instant(i64),
    Local(i64),
}

const NAIVE: &[&str] =
    &["%Y-%m-%d %H:%M:%S%.f", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M"];
const AWARE: &[&str] = &[
    "%Y-%m-%dT%H:%M:%S%.f%:z",
    "%Y-%m-%d %H:%M:%S%.f%:z",
    "%Y-%m-%dT%H:%M%:z",
    "%Y-%m-%d %H:%M%:z",
    "%Y-%m-%dT%H:%M:%S%.f%z",
];

/// Reads a time; the error is a code and a sentence.
pub fn parse(
    text: &str,
    format: Option<&str>,
    clock: &LocalClock,
) -> Result<i64, (&'static str, String)> {
    let text = text.trim();
    match read(text, format)? {
        Read::Instant(ms) => Ok(ms),
        Read::Local(local) => match clock.resolve(local) {
            Resolved::One(ms) => Ok(ms),
            Resolved::Doubled(..) => Err((
                "local_time_doubled",
                format!(
                    "{text} occurs twice in {} (clocks were put back); write it with its offset, such as {}+01:00",
                    clock.name(),
                    text.replace(' ', "T")
                ),
            )),
            Resolved::Missing => Err((
                "local_time_missing",
                format!("{text} does not exist in {} (clocks were put forward)", clock.name()),
            )),
        },
    }
}

fn read(text: &str, format: Option<&str>) -> Result<Read, (&'static str, String)> {
    if text.is_empty() {
        return Err(("time_missing", "there is no time".into()));
    }
    if let Some(format) = format {
        if let Ok(at) = DateTime::parse_from_str(text, format) {
            return Ok(Read::Instant(at.timestamp_millis()));
        }
        return match NaiveDateTime::parse_from_str(text, format) {
            Ok(at) => Ok(Read::Local(at.and_utc().timestamp_millis())),
            Err(_) => {
                Err(("time_unreadable", format!("\"{text}\" is not a time in the format {format}")))
            }
        };
    }
    if text.bytes().all(|b| b.is_ascii_digit()) {
        return whole_number(text);
    }
    let zulu = text.strip_suffix('Z').map(|t| format!("{t}+00:00"));
    let aware = zulu.as_deref().unwrap_or(text);
    for format in AWARE {
        if let Ok(at) = DateTime::parse_from_str(aware, format) {
            return Ok(Read::Instant(at.timestamp_millis()));
        }
    }
    for format in NAIVE {
        if let Ok(at) = NaiveDateTime::parse_from_str(text, format) {
            return Ok(Read::Local(at.and_utc().timestamp_millis()));
        }
    }
    let hint = if NaiveDate::parse_from_str(text, "%Y-%m-%d").is_ok() {
        "it has a date but no time of day"
    } else {
        "write it as 2025-03-14 07:30, or give time_format in trial.json"
    };
    Err(("time_unreadable", format!("\"{text}\" is not a time: {hint}")))
}

fn whole_number(text: &str) -> Result<Read, (&'static str, String)> {
    let wrong = |why: &str| {
        Err((
            "time_implausible",
            format!("{text} is not milliseconds since 1970 within 1990-2100: {why}"),
        ))
    };
    match text.parse::<i64>() {
        Ok(ms) if (631_152_000_000..=4_102_444_800_000).contains(&ms) => Ok(Read::Instant(ms)),
        Ok(s) if (631_152_000..=4_102_444_800).contains(&s) => {
            wrong("it looks like seconds; multiply by 1000")
        }
        Ok(us) if us > 4_102_444_800_000 => wrong("it looks like microseconds or nanoseconds"),
        _ => wrong("it is no instant of our time"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_ways_to_write_a_time() {
        let clock = LocalClock::fixed(60);
        let ms = 1_741_935_000_000; // 2025-03-14T06:50Z
        for text in [
            "2025-03-14 07:50",
            "2025-03-14T07:50:00",
            "2025-03-14T06:50:00Z",
            "2025-03-14 08:50+02:00",
            "1741935000000",
        ] {
            assert_eq!(parse(text, None, &clock), Ok(ms), "{text}");
        }
        assert_eq!(parse("14/03/2025 07:50", Some("%d/%m/%Y %H:%M"), &clock), Ok(ms));
        for (text, code) in [
            ("1741935000", "time_implausible"),
            ("14.3.2025", "time_unreadable"),
            ("", "time_missing"),
            ("2025-03-14", "time_unreadable"),
            ("1741935000000000", "time_implausible"),
        ] {
            assert_eq!(parse(text, None, &clock).unwrap_err().0, code, "{text}");
        }
    }
}
