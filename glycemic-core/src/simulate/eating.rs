//! The same meals eaten again and again, at moments of days that were lived.
//!
//! # Method
//! Days are lived as in the scenario; at each main meal that has no meal in the 3 h before it and
//! is not eaten out, the body is copied, and other meals are eaten instead, with the same random
//! numbers at every dose (kind of food, what comes with it, diary error, variation; each with its
//! mirror image) and without anything after them. With a change of sensor each meal is read by
//! one of the two, in the proportion of their wear.

use super::diary::{DayPlan, FAT_G, PROTEIN_G, confidence, diary_error, fiber_g, menu, plan};
use super::levels::mean;
use super::live::run;
use super::person::{Bite, Body, Day, Kind, Lag, Ready};
use super::random::{Purpose, Random, factor};
use super::scenario::Scenario;
use super::sensor::{Piece, Wear};
use crate::area::{Rule, incremental};

/// Seed of the person's truths, fixed so that they depend on the scenario alone.
pub(crate) const TRUTH_SEED: u64 = 0x7275_7468;
/// Grams at which effects are stated.
pub(crate) const EFFECTS_AT_G: f64 = 40.0;
/// Minutes in which a rise is looked for.
const RISE_MIN: i64 = 180;

/// A moment at which a meal could be eaten.
struct Moment {
    minute: i64,
    body: Body,
    day: Day,
    before_tissue: f64,
    before_blood: f64,
}

/// The random part of one meal.
struct Draw {
    kind: Kind,
    /// Factor from logged grams to acting grams.
    strength: f64,
    speed: f64,
    fat_g: f64,
    protein_g: f64,
}

/// A meal eaten at a moment.
pub(crate) struct Eating {
    /// Under the sensor from the start on, by minute, mg/dL.
    tissue: Vec<f64>,
    before_tissue: f64,
    pub(crate) rise_blood: f64,
    /// By which sensor it is read.
    pub(crate) piece: Piece,
}

/// Moments and random numbers with which the same meals are eaten again and again.
pub(crate) struct Sitting<'a> {
    pub(crate) scenario: &'a Scenario,
    ready: Ready,
    lag: Lag,
    pieces: Vec<Piece>,
    moments: Vec<Moment>,
    draws: Vec<Draw>,
}

impl<'a> Sitting<'a> {
    /// Lives `days` days, each changed by `change` first, and keeps the body at eligible meals.
    pub(crate) fn laid(scenario: &'a Scenario, days: usize, change: impl Fn(&mut DayPlan)) -> Self {
        let ready = Ready::new(&scenario.person);
        let lag = Lag::new(scenario.sensor.tau_min);
        let moments = moments(scenario, &ready, days, change);
        let draws = draws(scenario, moments.len());
        let wear = Wear::of(scenario);
        let share = wear.second_share();
        let pieces = (0..moments.len()).map(|place| {
            // Every 1/share-th meal is the second sensor's.
            let turns = |count: usize| (share * count as f64) as usize;
            wear.second.filter(|_| turns(place + 1) > turns(place)).unwrap_or(wear.first)
        });
        Self { scenario, ready, lag, pieces: pieces.collect(), moments, draws }
    }

    /// Number of meals.
    pub(crate) fn meals(&self) -> usize {
        self.draws.len()
    }

    /// Mean rise at a dose as the sensor reads, mg/dL.
    pub(crate) fn mean_rise(&self, grams: f64) -> f64 {
        let rises = (0..self.meals()).map(|place| self.eat(place, grams, (0, 0)).rise());
        mean(&rises.collect::<Vec<f64>>())
    }

    /// Eats the `place`-th meal. `walk`: start after the meal and duration, minutes.
    pub(crate) fn eat(&self, place: usize, grams: f64, walk: (i64, i64)) -> Eating {
        let (moment, draw) = (&self.moments[place / 2], &self.draws[place]);
        let mut body = moment.body;
        body.eat(&Bite {
            acting_g: grams * draw.strength,
            kind: draw.kind,
            speed: draw.speed,
            fat_g: draw.fat_g,
            protein_g: draw.protein_g,
            fiber_g: fiber_g(draw.kind, grams),
        });
        let mut tissue = Vec::with_capacity(RISE_MIN as usize + 1);
        tissue.push(body.tissue);
        let mut peak_blood = body.blood(&self.ready);
        let start = self.scenario.minute_of_day(moment.minute);
        for minute in 0..RISE_MIN {
            let walking = minute >= walk.0 && minute < walk.0 + walk.1;
            let effort = if walking { 1.0 } else { 0.0 };
            body.step(&self.ready, start + minute as usize, &moment.day, effort, &self.lag);
            tissue.push(body.tissue);
            peak_blood = peak_blood.max(body.blood(&self.ready));
        }
        Eating {
            tissue,
            before_tissue: moment.before_tissue,
            rise_blood: peak_blood - moment.before_blood,
            piece: self.pieces[place / 2],
        }
    }
}

impl Eating {
    pub(crate) fn peak_tissue(&self) -> f64 {
        self.tissue.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// Rise as the sensor reads, mg/dL.
    pub(crate) fn rise(&self) -> f64 {
        self.piece.gain * (self.peak_tissue() - self.before_tissue)
    }

    /// Peak as the sensor reads half through its wear, mg/dL.
    pub(crate) fn peak(&self, scenario: &Scenario) -> f64 {
        self.piece.settled(scenario, self.peak_tissue())
    }

    /// Incremental area as the sensor reads, mg/dL·min.
    pub(crate) fn area(&self) -> f64 {
        let minutes: Vec<f64> = (0..self.tissue.len()).map(|minute| minute as f64).collect();
        let area = incremental(&minutes, &self.tissue, Some(self.before_tissue), Rule::Positive);
        // Only a body that left the finite numbers could fail here; it would show in the means.
        self.piece.gain * area.unwrap_or(f64::INFINITY)
    }
}

/// Lives the truth's days and copies the body at each eligible meal.
fn moments(
    scenario: &Scenario,
    ready: &Ready,
    days: usize,
    change: impl Fn(&mut DayPlan),
) -> Vec<Moment> {
    let last = 1440 * days as i64;
    let mut plan = plan(scenario, TRUTH_SEED, days, 1440, last);
    plan.days.iter_mut().for_each(change);
    let starts: Vec<i64> = plan.meals.iter().map(|meal| meal.start).collect();
    let fits = plan.meals.iter().enumerate().map(|(place, meal)| {
        let alone = place.checked_sub(1).is_none_or(|before| meal.start - starts[before] >= 180);
        alone && !meal.snack && meal.hidden.is_none()
    });
    let fits: Vec<bool> = fits.collect();
    let mut seen = Vec::new();
    let lived = run(scenario, ready, &mut plan, last as usize, |place, body| {
        if fits[place] {
            seen.push((starts[place], *body));
        }
    });
    let moments = seen.into_iter().map(|(minute, body)| {
        let before = (minute - 30) as usize..minute as usize;
        Moment {
            minute,
            body,
            day: plan.days[(scenario.local(minute) / 1440) as usize].acts,
            before_tissue: mean(&lived.tissue[before.clone()]),
            before_blood: mean(&lived.blood[before]),
        }
    });
    moments.collect()
}

/// Two draws per moment, mirror images of each other.
fn draws(scenario: &Scenario, moments: usize) -> Vec<Draw> {
    let mut random = Random::new(TRUTH_SEED, Purpose::Truth);
    let mut sides = Random::new(TRUTH_SEED ^ 0x5ead, Purpose::Truth);
    let (person, behaviour) = (&scenario.person, &scenario.behaviour);
    let menu = menu(scenario);
    let mut deck: Vec<usize> = Vec::new();
    let mut drawn = Vec::with_capacity(2 * moments);
    for _ in 0..moments {
        if deck.is_empty() {
            deck = random.shuffled(menu.len());
        }
        let kind = menu[deck.pop().unwrap_or(0)].kind;
        let source = random.uniform();
        let (error, strength, speed) = (random.normal(), random.normal(), random.normal());
        let (protein, fat) = (sides.between(-1.0, 1.0), sides.between(-1.0, 1.0));
        let side = |(low, high): (f64, f64), z: f64| 0.5 * (low + high + (high - low) * z);
        for (sign, source) in [(1.0, source), (-1.0, 1.0 - source)] {
            let source = confidence(behaviour.weighed_share, source);
            let eaten = diary_error(behaviour.diary_error_cv, source, sign * error);
            drawn.push(Draw {
                kind,
                strength: eaten * factor(person.meal_cv, sign * strength),
                speed: factor(person.speed_cv, sign * speed),
                fat_g: side(FAT_G, sign * fat),
                protein_g: side(PROTEIN_G, sign * protein),
            });
        }
    }
    drawn
}
