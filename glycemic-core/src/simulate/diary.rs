//! What the person does: days, meals, walks.
//!
//! # Method
//! Grams in the diary are drawn first; what was really eaten is the logged amount times an error
//! with mean 1. The mean rise at a *logged* amount is therefore the quantity a diary can reveal.
//! Dishes come from a small menu dealt like cards, so that each returns several times and meets
//! every kind of meal; walks are dealt to main meals at random. Start times may be entered late
//! (half of a normal, cut off) and are then rounded.

use super::low::{LowNight, low_nights};
use super::person::{Bite, Day, Kind};
use super::random::{Purpose, Random, factor};
use super::scenario::Scenario;

/// How the grams of a meal came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "lowercase"))]
pub enum Confidence {
    /// On a scale.
    Weighed,
    /// From the pack.
    Label,
    /// By eye.
    Estimate,
    /// Not at all.
    Unknown,
}

impl Confidence {
    /// The word in the diary.
    pub fn word(self) -> &'static str {
        match self {
            Self::Weighed => "weighed",
            Self::Label => "label",
            Self::Estimate => "estimate",
            Self::Unknown => "unknown",
        }
    }
}

/// A dish of the menu.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Dish {
    pub(crate) name: &'static str,
    pub(crate) kind: Kind,
    pub(crate) net_g: f64,
}

/// Names by kind, small to large.
const NAMES: [(Kind, [&str; 3]); 4] = [
    (Kind::Grain, ["rye crispbread with egg", "oat porridge", "rice with vegetables"]),
    (Kind::Legume, ["edamame salad", "lentil soup", "bean stew with potato"]),
    (Kind::Dairy, ["cheese plate", "yoghurt with nuts", "milk rice"]),
    (Kind::Fruit, ["berries", "apple and walnuts", "fruit salad with honey"]),
];
/// Kind by place on the menu, so that every kind spans the doses alike.
const KINDS: [usize; 12] = [0, 1, 2, 3, 3, 2, 1, 0, 1, 0, 3, 2];

/// Protein of a main meal, least and most, g.
pub(crate) const PROTEIN_G: (f64, f64) = (6.0, 30.0);
/// Fat of a main meal, least and most, g.
pub(crate) const FAT_G: (f64, f64) = (4.0, 28.0);

/// The dishes, smallest first.
pub(crate) fn menu(scenario: &Scenario) -> Vec<Dish> {
    let behaviour = &scenario.behaviour;
    let count = behaviour.dishes.clamp(1, KINDS.len());
    let step = (behaviour.net_high_g - behaviour.net_low_g) / (count.max(2) - 1) as f64;
    let dishes = KINDS.iter().take(count).enumerate().map(|(place, &kind)| {
        let (kind, names) = NAMES[kind];
        let net_g = behaviour.net_low_g + step * place as f64;
        Dish { name: names[place / 4], kind, net_g: net_g.round() }
    });
    dishes.collect()
}

/// One meal as eaten and as logged. Times are minutes from the first local midnight.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Eaten {
    pub(crate) start: i64,
    pub(crate) end: i64,
    /// Start in the diary.
    pub(crate) logged_start: i64,
    pub(crate) snack: bool,
    pub(crate) dish: Dish,
    pub(crate) net_g: f64,
    pub(crate) fiber_g: f64,
    pub(crate) protein_g: f64,
    pub(crate) fat_g: f64,
    pub(crate) confidence: Confidence,
    /// Eaten over logged, without what is hidden.
    pub(crate) error: f64,
    /// Hidden over logged, for meals eaten out.
    pub(crate) hidden: Option<f64>,
    /// How strongly and how fast it acts that day.
    pub(crate) strength: f64,
    pub(crate) speed: f64,
    pub(crate) in_diary: bool,
    /// Start and minutes.
    pub(crate) walk: Option<(i64, i64)>,
    /// How it was cut after the meal before it.
    pub(crate) cut: Option<Cut>,
}

/// A portion cut because the rise before was too high.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cut {
    /// Net carbohydrate before the cut, g.
    pub(crate) planned_net_g: f64,
    /// The rise on the sensor that led to it, mg/dL.
    pub(crate) rise_mg_dl: f64,
}

impl Eaten {
    /// Net carbohydrate really eaten, g.
    pub(crate) fn true_g(&self) -> f64 {
        self.net_g * self.error * (1.0 + self.hidden.unwrap_or(0.0))
    }

    /// What reaches the stomach.
    pub(crate) fn bite(&self) -> Bite {
        let acting_g = self.true_g() * self.strength;
        Bite {
            acting_g,
            kind: self.dish.kind,
            speed: self.speed,
            fat_g: self.fat_g,
            protein_g: self.protein_g,
            fiber_g: self.fiber_g,
        }
    }

    /// Makes the portion smaller by `fraction`, in the diary and on the plate.
    pub(crate) fn cut(&mut self, fraction: f64, rise_mg_dl: f64) {
        self.cut = Some(Cut { planned_net_g: self.net_g, rise_mg_dl });
        let left = 1.0 - fraction;
        self.net_g = (left * self.net_g).round().max(1.0);
        for grams in [&mut self.fiber_g, &mut self.protein_g, &mut self.fat_g] {
            *grams = (left * *grams).round();
        }
    }
}

/// One local day.
#[derive(Clone, Copy, Debug)]
pub(crate) struct DayPlan {
    pub(crate) acts: Day,
    pub(crate) bad_night: bool,
    pub(crate) stress: bool,
    pub(crate) snack: bool,
    /// Start and minutes.
    pub(crate) exercise: Option<(i64, i64)>,
    pub(crate) wake: i64,
    pub(crate) bed: i64,
    pub(crate) breakfast: i64,
}

/// Everything that will happen, by elapsed minutes from the first local midnight.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) days: Vec<DayPlan>,
    pub(crate) meals: Vec<Eaten>,
    pub(crate) low_nights: Vec<LowNight>,
}

/// Plans `days` whole days, and meals from `first` up to `last` minute.
pub(crate) fn plan(scenario: &Scenario, seed: u64, days: usize, first: i64, last: i64) -> Plan {
    let days_planned = plan_days(scenario, seed, days);
    let mut meals = plan_meals(scenario, seed, &days_planned);
    meals.retain(|meal| meal.start >= first && meal.start < last);
    let days_of_meals = ((last - first + 720) / 1440).max(1) as usize;
    choose(scenario, seed, days_of_meals, &mut meals);
    enter_times(scenario, seed, &mut meals);
    Plan { days: days_planned, meals, low_nights: low_nights(scenario, seed, days) }
}

fn plan_days(scenario: &Scenario, seed: u64, days: usize) -> Vec<DayPlan> {
    let behaviour = &scenario.behaviour;
    let mut choices = Random::new(seed, Purpose::Choices);
    // The day of insertion is not chosen: its night and morning are outside the wear.
    let mut pick = |count: usize| {
        let mut chosen = vec![false; days];
        if behaviour.free {
            chosen[1..].fill_with(|| choices.chance(count as f64 / 14.0));
            return chosen;
        }
        let order = choices.shuffled(days.saturating_sub(1));
        for &day in order.iter().take(Scenario::scaled(count, days)) {
            chosen[day + 1] = true;
        }
        chosen
    };
    let exercise = pick(behaviour.exercise_days);
    let bad_night = pick(behaviour.bad_nights);
    let stress = pick(behaviour.stress_days);
    let snack = pick(behaviour.snacks);

    let mut times = Random::new(seed, Purpose::Times);
    let mut shifts = Random::new(seed, Purpose::Days);
    let person = &scenario.person;
    let fresh = (1.0 - person.day_correlation * person.day_correlation).max(0.0).sqrt();
    let mut shift = shifts.normal();
    let mut planned = Vec::with_capacity(days);
    for day in 0..days {
        let midnight = 1440 * day as i64;
        let at = |minute: i64| scenario.elapsed(midnight + minute);
        let breakfast = times.whole(7 * 60, 8 * 60 + 30);
        let (before, long) = (times.whole(80, 95), times.whole(20, 30));
        let mut sensitivity = 1.0;
        for (happens, action) in [
            (exercise[day], behaviour.exercise_action),
            (bad_night[day], behaviour.bad_night_action),
            (stress[day], behaviour.stress_action),
        ] {
            sensitivity *= if happens { action } else { 1.0 };
        }
        let added = |happens: bool, production: f64| if happens { production } else { 0.0 };
        let production = person.day_production_sd * shift
            + added(bad_night[day], behaviour.bad_night_production)
            + added(stress[day], behaviour.stress_production);
        planned.push(DayPlan {
            acts: Day { production, sensitivity },
            bad_night: bad_night[day],
            stress: stress[day],
            snack: snack[day],
            exercise: exercise[day].then(|| (at(breakfast - before), long)),
            wake: at(breakfast - times.whole(25, 50) - if exercise[day] { before } else { 0 }),
            bed: at(22 * 60 + times.whole(20, 80)),
            breakfast: at(breakfast),
        });
        shift = person.day_correlation * shift + fresh * shifts.normal();
    }
    planned
}

fn plan_meals(scenario: &Scenario, seed: u64, days: &[DayPlan]) -> Vec<Eaten> {
    let mut times = Random::new(seed ^ 0x5ead, Purpose::Times);
    let mut cook = Cook::new(scenario, seed);
    let mut meals = Vec::with_capacity(4 * days.len());
    for (day, plan) in days.iter().enumerate() {
        let midnight = 1440 * day as i64;
        let lunch = scenario.elapsed(midnight + times.whole(12 * 60 + 15, 13 * 60 + 45));
        let dinner = scenario.elapsed(midnight + times.whole(18 * 60 + 45, 20 * 60 + 15));
        let (after_lunch, apart) = (times.chance(0.5), times.whole(90, 150));
        meals.push(cook.meal(plan.breakfast, false));
        meals.push(cook.meal(lunch, false));
        if plan.snack {
            let start = if after_lunch { lunch + apart } else { dinner - apart };
            meals.push(cook.meal(start, true));
        }
        meals.push(cook.meal(dinner, false));
    }
    meals
}

/// Deals dishes.
struct Cook<'a> {
    scenario: &'a Scenario,
    menu: Vec<Dish>,
    deck: Vec<usize>,
    dishes: Random,
    errors: Random,
    variation: Random,
}

impl<'a> Cook<'a> {
    fn new(scenario: &'a Scenario, seed: u64) -> Self {
        Self {
            scenario,
            menu: menu(scenario),
            deck: Vec::new(),
            dishes: Random::new(seed, Purpose::Dishes),
            errors: Random::new(seed, Purpose::DiaryError),
            variation: Random::new(seed, Purpose::MealVariation),
        }
    }

    fn meal(&mut self, start: i64, snack: bool) -> Eaten {
        let behaviour = &self.scenario.behaviour;
        let place = if snack {
            self.dishes.below((self.menu.len() / 3).max(1))
        } else if behaviour.free {
            self.dishes.below(self.menu.len())
        } else {
            if self.deck.is_empty() {
                self.deck = self.dishes.shuffled(self.menu.len());
            }
            self.deck.pop().unwrap_or(0)
        };
        let dish = self.menu[place];
        let source = self.dishes.uniform();
        let spread = self.dishes.between(-1.0, 1.0) * behaviour.portion_spread;
        let minutes = if snack { self.dishes.whole(5, 10) } else { self.dishes.whole(12, 25) };
        let protein = self.dishes.between(PROTEIN_G.0, PROTEIN_G.1);
        let fat = self.dishes.between(FAT_G.0, FAT_G.1);
        let (z, weak, fast) =
            (self.errors.normal(), self.variation.normal(), self.variation.normal());
        let confidence = confidence(behaviour.weighed_share, source);
        let portion = if confidence == Confidence::Estimate { 1.0 + spread } else { 1.0 };
        let net_g = (dish.net_g * portion).round().max(1.0);
        let share = if snack { 0.4 } else { 1.0 };
        Eaten {
            start,
            end: start + minutes,
            logged_start: start,
            snack,
            dish,
            net_g,
            fiber_g: fiber_g(dish.kind, net_g),
            protein_g: (share * protein).round(),
            fat_g: (share * fat).round(),
            confidence,
            error: diary_error(behaviour.diary_error_cv, confidence, z),
            hidden: None,
            strength: factor(self.scenario.person.meal_cv, weak),
            speed: factor(self.scenario.person.speed_cv, fast),
            in_diary: true,
            walk: None,
            cut: None,
        }
    }
}

/// Fibre of a dish, g.
pub(crate) fn fiber_g(kind: Kind, net_g: f64) -> f64 {
    match kind {
        Kind::Dairy => 0.0,
        Kind::Legume => (2.0 + 0.2 * net_g).round(),
        _ => (2.0 + 0.07 * net_g).round(),
    }
}

/// Weighed, or one of the two others in equal parts, by a uniform number.
pub(crate) fn confidence(weighed_share: f64, uniform: f64) -> Confidence {
    if uniform < weighed_share {
        Confidence::Weighed
    } else if uniform < 0.5 * (1.0 + weighed_share) {
        Confidence::Label
    } else {
        Confidence::Estimate
    }
}

/// Eaten over logged; 1 for a weighed meal.
pub(crate) fn diary_error(cv: f64, confidence: Confidence, z: f64) -> f64 {
    if confidence == Confidence::Weighed { 1.0 } else { factor(cv, z) }
}

/// Deals walks, meals eaten out, meals without grams and meals left out of the diary.
fn choose(scenario: &Scenario, seed: u64, days: usize, meals: &mut [Eaten]) {
    let behaviour = &scenario.behaviour;
    let main: Vec<usize> = (0..meals.len()).filter(|&meal| !meals[meal].snack).collect();

    let mut walks = Random::new(seed, Purpose::Walks);
    let walked = (behaviour.walk_share * main.len() as f64).round() as usize;
    let order = walks.shuffled(main.len());
    for (rank, &place) in order.iter().enumerate() {
        let (wait, long) = (walks.whole(10, 20), walks.whole(15, 20));
        let walks_now =
            if behaviour.free { walks.chance(behaviour.walk_share) } else { rank < walked };
        if walks_now {
            let meal = &mut meals[main[place]];
            meal.walk = Some((meal.start + wait, long));
        }
    }

    // One deck, so that no meal is special twice.
    let mut choices = Random::new(seed ^ 0x5ead, Purpose::Choices);
    let order = choices.shuffled(main.len());
    // Out: lunch or dinner, and no small dish.
    let least_g = behaviour.net_low_g + 0.3 * (behaviour.net_high_g - behaviour.net_low_g);
    let fit =
        |meal: &Eaten| scenario.minute_of_day(meal.start) > 11 * 60 && meal.dish.net_g >= least_g;
    let mut left = [
        Scenario::scaled(behaviour.eating_out_meals, days),
        Scenario::scaled(behaviour.meals_without_grams, days),
        Scenario::scaled(behaviour.unlogged_meals, days),
    ];
    let per_day = main.len() as f64 / days as f64;
    let counts =
        [behaviour.eating_out_meals, behaviour.meals_without_grams, behaviour.unlogged_meals];
    for &place in &order {
        let meal = &mut meals[main[place]];
        let hidden = choices.between(behaviour.hidden_low, behaviour.hidden_high);
        let mut now = left.map(|left| left > 0);
        if behaviour.free {
            // Two of three main meals are lunch or dinner, and seven of ten dishes are large.
            let odds = [2.1, 1.0, 1.0].map(|fit| fit / (14.0 * per_day));
            for i in 0..3 {
                now[i] = choices.chance(counts[i] as f64 * odds[i]);
            }
        }
        if now[0] && fit(meal) {
            left[0] = left[0].saturating_sub(1);
            meal.hidden = Some(hidden);
            meal.confidence = Confidence::Estimate;
        } else if now[1] {
            left[1] = left[1].saturating_sub(1);
            meal.confidence = Confidence::Unknown;
        } else if now[2] && meal.walk.is_none() {
            left[2] = left[2].saturating_sub(1);
            meal.in_diary = false;
        }
    }
}

/// Sets the start times that the diary has.
fn enter_times(scenario: &Scenario, seed: u64, meals: &mut [Eaten]) {
    let behaviour = &scenario.behaviour;
    let mut random = Random::new(seed, Purpose::StartTimes);
    let step = behaviour.round_to_min.max(1) as f64;
    for meal in meals {
        let (late, z) = (random.chance(behaviour.late_share), random.normal());
        let delay = (behaviour.late_sd_min * z.abs()).min(behaviour.late_max_min).max(0.0);
        let entered = meal.start as f64 + if late { delay } else { 0.0 };
        meal.logged_start = ((entered / step).round() * step) as i64;
    }
}
