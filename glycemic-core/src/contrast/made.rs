//! Responses made by hand, for tests.

use super::exposure::{Diary, Night, Noted};
use crate::clock::LocalClock;
use crate::estimate::Reason;
use crate::meals::{Activity, Meal, Response, Responses, Targets, Window};

pub(super) const DAY: i64 = 86_400_000;
pub(super) const MINUTE: i64 = 60_000;
/// 5 May 2025 as a day number.
pub(super) const FIRST: i64 = 20_213;

/// The instant of `hour` on day `day` from 0, UTC.
pub(super) fn at(day: i64, hour: f64) -> i64 {
    (FIRST + day) * DAY + (hour * 60.0) as i64 * MINUTE
}

/// A meal of 40 g with its tags and its rise, wholly seen.
pub(super) fn meal(time_ms: i64, tags: &[&str], rise: f64) -> (Meal, Response) {
    let meal = Meal {
        time_ms,
        end_ms: None,
        carbs_g: Some(40.0),
        carbs_low_g: None,
        carbs_high_g: None,
        fiber_g: None,
        protein_g: None,
        fat_g: None,
        confidence: None,
        label: None,
        tags: tags.iter().map(|t| t.to_string()).collect(),
    };
    let seen = Response {
        time_ms,
        rise_mg_dl: Some(rise),
        peak_mg_dl: Some(100.0 + rise),
        seen_min: 180.0,
        ..Response::default()
    };
    (meal, seen)
}

/// The responses of meals in order of time; `walks` as (minutes, delay).
pub(super) fn responses(
    made: Vec<(Meal, Response)>,
    walks: impl Fn(&Meal) -> Option<(f64, f64)>,
) -> Responses {
    let (meals, rows): (Vec<Meal>, Vec<Response>) = made.into_iter().unzip();
    Responses {
        walks: meals.iter().map(walks).collect(),
        logged: vec![1; meals.len()],
        meals,
        rows,
        noise: Err(Reason::plain("made", "made by hand")),
        targets: Targets::default(),
        window: Window { before_min: 30.0, after_min: 180.0 },
        suspected: Vec::new(),
    }
}

/// A diary in UTC.
pub(super) fn diary<'a>(
    activity: &'a [Activity],
    nights: Vec<Night>,
    notes: &[(i64, &str)],
) -> Diary<'a> {
    let noted = |n: &(i64, &str)| Noted { time_ms: n.0, kind: n.1.to_string() };
    let notes = notes.iter().map(noted).collect();
    Diary { activity, nights, notes, clock: LocalClock::fixed(0) }
}
