//! What a diary says of each meal and each day.
//!
//! # Method
//! Everything is defined by the clock, from the meal's logged start or by the local day, and
//! never by what glucose did. *By meals*: a walk that begins within two hours of the start (and
//! by delay and length, against no walk at all); medication, supplements, caffeine or alcohol
//! noted from an hour before to an hour after the start; tags. *By days*: exercise other than
//! walks, by effort; the night that ended that day; stress, illness, travel, cycle, medication and
//! supplements noted that day; alcohol from 17:00 to 04:00 the evening before. What a diary
//! doesn't hold at all is not asked; a day without a night in it is unknown, not a good night.
//!
//! # Source
//! Seven hours of sleep: Watson NF et al. Sleep 2015; 38: 843-844, from memory. The other borders
//! are our own.

use crate::clock::LocalClock;
use crate::meals::{Activity, Responses};

const HOUR: i64 = 3_600_000;
const SHORT_NIGHT_MS: i64 = 7 * HOUR;
const WITH_MEAL: [&str; 4] = ["medication", "supplement", "caffeine", "alcohol"];
const THAT_DAY: [&str; 6] = ["stress", "illness", "travel", "cycle", "medication", "supplement"];

/// A night.
#[derive(Clone, Debug, PartialEq)]
pub struct Night {
    /// Start, UTC milliseconds.
    pub start_ms: i64,
    /// End, UTC milliseconds.
    pub end_ms: i64,
    /// Whether it was called poor or bad; unknown without a word.
    pub poor: Option<bool>,
}

/// Something noted.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted {
    /// When, UTC milliseconds.
    pub time_ms: i64,
    /// Such as `stress`.
    pub kind: String,
}

/// A diary beside the meals.
#[derive(Clone, Debug, PartialEq)]
pub struct Diary<'a> {
    /// Walks and exercise.
    pub activity: &'a [Activity],
    /// Nights, in order of time.
    pub nights: Vec<Night>,
    /// Notes, in order of time.
    pub notes: Vec<Noted>,
    /// Local time.
    pub clock: LocalClock,
}

/// To what an exposure belongs.
#[derive(Clone, Debug, PartialEq)]
pub enum By {
    /// To each meal; `None` where a meal belongs to neither side.
    Meal(Vec<Option<bool>>),
    /// To each day that is known, in order.
    Day(Vec<(i64, bool)>),
}

/// An exposure by name.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposure {
    /// Such as `walk_after`, `poor_night`, `tag:grain`.
    pub id: String,
    /// Its values.
    pub by: By,
}

impl Exposure {
    /// The same exposure one step later, which can't have caused what came before: of the next
    /// meal that starts after the window, or of the next day.
    pub fn after(&self, meals: &Responses) -> By {
        let window = (meals.window.after_min * 60_000.0) as i64;
        match &self.by {
            By::Day(days) => By::Day(
                days.windows(2)
                    .filter(|w| w[1].0 == w[0].0 + 1)
                    .map(|w| (w[0].0, w[1].1))
                    .collect(),
            ),
            By::Meal(own) => {
                let start = |i: usize| meals.meals[i].time_ms;
                let next = |i: usize| (i + 1..own.len()).find(|&j| start(j) - start(i) >= window);
                By::Meal((0..own.len()).map(|i| next(i).and_then(|j| own[j])).collect())
            }
        }
    }

    /// What meal `i` had, on local day `day`; `None` where it belongs to neither side.
    pub fn of(&self, i: usize, day: i64) -> Option<bool> {
        match &self.by {
            By::Meal(own) => own.get(i).copied().flatten(),
            By::Day(days) => days.iter().find(|d| d.0 == day).map(|d| d.1),
        }
    }

    /// Whether this is a walk after the meal, of any kind.
    pub fn is_walk(&self) -> bool {
        self.id.starts_with("walk")
    }
}

/// All exposures that someone had at least once, the most asked for first.
pub fn exposures(meals: &Responses, diary: &Diary<'_>) -> Vec<Exposure> {
    let mut all = every(meals, diary);
    all.retain(|e| match &e.by {
        By::Meal(v) => v.contains(&Some(true)) && v.contains(&Some(false)),
        By::Day(v) => v.iter().any(|d| d.1) && v.iter().any(|d| !d.1),
    });
    all
}

/// The exposure of this id, also where no meal or every meal had it; `None` for an id that no
/// diary can show.
pub fn exposure(meals: &Responses, diary: &Diary<'_>, id: &str) -> Option<Exposure> {
    let never = || {
        let tag = id == "eating_out" || id.starts_with("tag:");
        tag.then(|| meal(id, vec![Some(false); meals.meals.len()]))
    };
    every(meals, diary).into_iter().find(|e| e.id == id).or_else(never)
}

fn every(meals: &Responses, diary: &Diary<'_>) -> Vec<Exposure> {
    let mut all = walks(meals);
    all.extend(days(meals, diary));
    all.extend(noted_with_meals(meals, diary));
    all.extend(tags(meals));
    all
}

fn meal(id: &str, values: Vec<Option<bool>>) -> Exposure {
    Exposure { id: id.to_string(), by: By::Meal(values) }
}

fn walks(meals: &Responses) -> Vec<Exposure> {
    let against_none = |holds: &dyn Fn((f64, f64)) -> bool| -> Vec<Option<bool>> {
        let value = |walk: &Option<(f64, f64)>| match *walk {
            None => Some(false),
            Some(walk) => holds(walk).then_some(true),
        };
        meals.walks.iter().map(value).collect()
    };
    // (minutes, delay)
    vec![
        meal("walk_after", against_none(&|_| true)),
        meal("walk_within_30_min", against_none(&|w| w.1 <= 30.0)),
        meal("walk_later_than_30_min", against_none(&|w| w.1 > 30.0)),
        meal("walk_20_min_or_more", against_none(&|w| w.0 >= 20.0)),
        meal("walk_under_20_min", against_none(&|w| w.0 < 20.0)),
    ]
}

fn days(meals: &Responses, diary: &Diary<'_>) -> Vec<Exposure> {
    let clock = &diary.clock;
    let times = meals.meals.iter().map(|m| clock.day(m.time_ms));
    let (Some(first), Some(last)) = (times.clone().min(), times.max()) else { return Vec::new() };
    let each = |id: String, holds: &dyn Fn(i64) -> Option<bool>| Exposure {
        id,
        by: By::Day((first..=last).filter_map(|d| holds(d).map(|h| (d, h))).collect()),
    };
    let mut all = Vec::new();
    let exercise: Vec<&Activity> = diary.activity.iter().filter(|a| a.kind != "walk").collect();
    let moved = |effort: Option<&str>, d: i64| {
        let own = |a: &&&Activity| clock.day(a.start_ms) == d;
        let fits = |a: &&Activity| effort.is_none() || a.effort.as_deref() == effort;
        let today: Vec<&&Activity> = exercise.iter().filter(own).collect();
        // A day of another effort belongs to neither side.
        if today.iter().any(|a| fits(a)) { Some(true) } else { today.is_empty().then_some(false) }
    };
    all.push(each("exercise_day".into(), &|d| moved(None, d)));
    let mut efforts: Vec<&str> = exercise.iter().filter_map(|a| a.effort.as_deref()).collect();
    efforts.sort_unstable();
    efforts.dedup();
    if efforts.len() > 1 {
        for effort in efforts {
            all.push(each(format!("exercise_day:{effort}"), &|d| moved(Some(effort), d)));
        }
    }
    let night = |d: i64| {
        let own = diary.nights.iter().filter(|n| clock.day(n.end_ms) == d);
        own.max_by_key(|n| n.end_ms - n.start_ms)
    };
    all.push(each("poor_night".into(), &|d| night(d).and_then(|n| n.poor)));
    all.push(each("night_under_7_h".into(), &|d| {
        night(d).map(|n| n.end_ms - n.start_ms < SHORT_NIGHT_MS)
    }));
    for kind in THAT_DAY {
        let noted: Vec<i64> =
            diary.notes.iter().filter(|n| n.kind == kind).map(|n| clock.day(n.time_ms)).collect();
        all.push(each(format!("{kind}_day"), &|d| Some(noted.contains(&d))));
    }
    let alcohol: Vec<i64> =
        diary.notes.iter().filter(|n| n.kind == "alcohol").map(|n| n.time_ms).collect();
    all.push(each("alcohol_evening_before".into(), &|d| {
        let midnight = clock.day_start(d);
        Some(alcohol.iter().any(|&t| (midnight - 7 * HOUR..midnight + 4 * HOUR).contains(&t)))
    }));
    all
}

fn noted_with_meals(meals: &Responses, diary: &Diary<'_>) -> Vec<Exposure> {
    let with = |kind: &str| {
        let near = |start: i64| {
            diary.notes.iter().any(|n| n.kind == kind && (n.time_ms - start).abs() <= HOUR)
        };
        let values = meals.meals.iter().map(|m| Some(near(m.time_ms))).collect();
        meal(&format!("{kind}_with_meal"), values)
    };
    WITH_MEAL.iter().map(|kind| with(kind)).collect()
}

fn tags(meals: &Responses) -> Vec<Exposure> {
    let mut all: Vec<&String> = meals.meals.iter().flat_map(|m| &m.tags).collect();
    all.sort_unstable();
    all.dedup();
    let has = |tag: &String| meals.meals.iter().map(|m| Some(m.tags.contains(tag))).collect();
    let id = |tag: &String| match tag.as_str() {
        "eating-out" => "eating_out".to_string(),
        other => format!("tag:{other}"),
    };
    all.into_iter().map(|tag| meal(&id(tag), has(tag))).collect()
}

#[cfg(test)]
#[path = "exposure_tests.rs"]
mod tests;
