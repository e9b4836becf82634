//! The simulated adult: a model of glucose, scaled, with food, day and clock added.
//!
//! # Method
//! An adult with insulin resistance is the normal adult of a published model with weaker insulin
//! action and a weaker pancreas; the basal state is solved exactly, so glucose without food is
//! flat. Added to it: kinds of food, and fibre, protein and fat that slow a meal (`food`); insulin
//! action that follows the time of day; a morning rise of glucose production; shifts from day to
//! day; an uptake by walking that sets in and wanes exponentially, whose fasting part the liver
//! mostly replaces; a defence against lows. The signal under a sensor follows blood with a
//! first-order lag.
//!
//! Effort scales the uptake of walking: 1 is a light walk, 1.8 moderate exercise, 2.5 vigorous.
//! Our own factors, near the ratio of the work to that of a light walk.
//!
//! # Source
//! Equations as in `model` and `minimal`; the scaling factors are our own, chosen for this
//! simulator. Walks are sized on Reynolds AN et al. *Diabetologia* 59 (2016): 2572-2578 (3-h area
//! after meals 0.88 of that without, 0.78 in the evening).

pub(crate) use super::food::Bite;
pub use super::food::Kind;
use super::food::{Gut, dose_mg};
use super::minimal::{self, AG, D1};
use super::model::{
    Drive, Emptying, GP, GROUND, KABS, KMAX, LOW, NORMAL, Parameters, SOLID, State,
};

/// Which account of glucose and insulin a person follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "lowercase"))]
pub enum World {
    /// The oral meal model of 2007, twelve equations.
    Oral,
    /// The minimal model of 1979 with a linear gut, five equations.
    Minimal,
}

/// Knobs of the simulated adult.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Person {
    /// Which equations.
    pub world: World,
    /// Body weight, kg.
    pub weight_kg: f64,
    /// Glucose without food, mg/dL.
    pub basal_glucose_mg_dl: f64,
    /// Insulin without food, pmol/L.
    pub basal_insulin_pmol_l: f64,
    /// Insulin action on uptake, as a multiple of the normal adult's (Vmx; SI).
    pub insulin_action: f64,
    /// Hold of insulin above basal on glucose production, as a multiple of the normal adult's (kp3);
    /// only in the oral model.
    pub liver_action: f64,
    /// Uptake without insulin, as a multiple of the normal adult's (Vm0; SG).
    pub basal_uptake: f64,
    /// Response of the pancreas to the level of glucose, as a multiple of the normal (beta; L).
    pub level_response: f64,
    /// Response of the pancreas to the rate of rise, as a multiple of the normal (K; R).
    pub rate_response: f64,
    /// Speed at which every meal leaves stomach and gut, as a multiple of the normal.
    pub emptying: f64,
    /// Slowing of a meal by its fibre, per g: speed is divided by one plus the sum of the three.
    pub fiber_slowing_per_g: f64,
    /// Slowing of a meal by its protein, per g.
    pub protein_slowing_per_g: f64,
    /// Slowing of a meal by its fat, per g.
    pub fat_slowing_per_g: f64,
    /// Swing of insulin action over the day, as a fraction: strongest at 10:00, weakest at 22:00.
    pub daily_swing: f64,
    /// Height of the morning rise of glucose production at 06:30, mg/kg/min.
    pub morning_production: f64,
    /// SD over days of the shift of glucose production, mg/kg/min.
    pub day_production_sd: f64,
    /// Correlation of that shift from one day to the next.
    pub day_correlation: f64,
    /// Coefficient of variation of how strongly the same meal acts, lognormal.
    pub meal_cv: f64,
    /// Coefficient of variation of how fast the same meal is absorbed, lognormal.
    pub speed_cv: f64,
    /// Uptake while walking, in full swing, 1/min of plasma glucose.
    pub walk_uptake: f64,
    /// Share of that uptake at basal glucose that the liver replaces.
    pub walk_matched: f64,
}

/// The demo's adult, with insulin resistance.
pub const RESISTANT: Person = Person {
    world: World::Oral,
    weight_kg: 74.0,
    basal_glucose_mg_dl: 99.0,
    basal_insulin_pmol_l: 45.0,
    insulin_action: 0.42,
    liver_action: 0.5,
    basal_uptake: 0.90,
    level_response: 0.7,
    rate_response: 0.4,
    emptying: 1.5,
    fiber_slowing_per_g: 0.010,
    protein_slowing_per_g: 0.006,
    fat_slowing_per_g: 0.003,
    daily_swing: 0.08,
    morning_production: 0.08,
    day_production_sd: 0.05,
    day_correlation: 0.3,
    meal_cv: 0.15,
    speed_cv: 0.12,
    walk_uptake: 0.024,
    walk_matched: 0.95,
};

/// A healthy young adult; who the model's normal adult is not (the paper's people were older).
pub const HEALTHY: Person = Person {
    weight_kg: 72.0,
    basal_glucose_mg_dl: 85.0,
    basal_insulin_pmol_l: 28.0,
    insulin_action: 1.3,
    liver_action: 1.0,
    basal_uptake: 1.4,
    level_response: 0.9,
    rate_response: 1.7,
    emptying: 1.2,
    ..RESISTANT
};

/// An adult with insulin resistance in the second world.
pub const OTHER_WORLD: Person = Person {
    world: World::Minimal,
    emptying: 1.3,
    insulin_action: 0.55,
    basal_uptake: 0.8,
    level_response: 0.8,
    rate_response: 0.8,
    ..RESISTANT
};

/// What the time of day and the day do: a shift of production and a factor on insulin action.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Day {
    /// Shift of production, mg/kg/min.
    pub(crate) production: f64,
    /// Factor on insulin action.
    pub(crate) sensitivity: f64,
}

/// The equations of one person.
#[derive(Clone, Copy, Debug)]
#[expect(clippy::large_enum_variant, reason = "made once a person, and Copy is worth more")]
enum Model {
    Oral(Parameters),
    Minimal(minimal::Parameters),
}

impl Model {
    /// The scaled parameters and the steady state without food.
    fn of(knobs: &Person) -> (Self, State) {
        match knobs.world {
            World::Oral => {
                let scaled = Parameters {
                    bw: knobs.weight_kg,
                    vmx: NORMAL.vmx * knobs.insulin_action,
                    vm0: NORMAL.vm0 * knobs.basal_uptake,
                    kp3: NORMAL.kp3 * knobs.liver_action,
                    beta: NORMAL.beta * knobs.level_response,
                    k: NORMAL.k * knobs.rate_response,
                    low: LOW,
                    ..NORMAL
                };
                let (parameters, basal) =
                    scaled.settled(knobs.basal_glucose_mg_dl, knobs.basal_insulin_pmol_l);
                (Self::Oral(parameters), basal)
            }
            World::Minimal => {
                let normal = minimal::NORMAL;
                let parameters = minimal::Parameters {
                    bw: knobs.weight_kg,
                    p3: normal.p3 * knobs.insulin_action,
                    sg: normal.sg * knobs.basal_uptake,
                    level: normal.level * knobs.level_response,
                    rate: normal.rate * knobs.rate_response,
                    gb: knobs.basal_glucose_mg_dl,
                    ib: knobs.basal_insulin_pmol_l,
                    low: LOW,
                    ..normal
                };
                (Self::Minimal(parameters), parameters.basal())
            }
        }
    }

    /// Volume of glucose, dL/kg.
    fn volume(&self) -> f64 {
        match self {
            Self::Oral(parameters) => parameters.vg,
            Self::Minimal(parameters) => parameters.vg,
        }
    }

    /// Glucose in blood, mg/dL.
    fn blood(&self, state: &State) -> f64 {
        match self {
            Self::Oral(parameters) => state[GP] / parameters.vg,
            Self::Minimal(_) => state[minimal::G],
        }
    }

    /// The state one minute later.
    fn step(&self, state: &State, meal: &Meal, drive: &Drive) -> State {
        match self {
            Self::Oral(parameters) => parameters.step(state, &meal.emptying, drive),
            Self::Minimal(parameters) => parameters.step(state, meal.tmax_min, drive),
        }
    }
}

/// The adult made ready for stepping.
#[derive(Clone, Debug)]
pub(crate) struct Ready {
    knobs: Person,
    model: Model,
    basal: State,
    production: Vec<f64>,
    swing: Vec<f64>,
}

impl Ready {
    /// Solves the basal state and tabulates the day.
    pub(crate) fn new(knobs: &Person) -> Self {
        let (model, basal) = Model::of(knobs);
        let hours = (0..1440).map(|minute| f64::from(minute) / 60.0);
        let production = hours.clone().map(|hour| {
            let away = (hour - 6.5) / 1.5;
            knobs.morning_production * libm::exp(-0.5 * away * away)
        });
        let swing = hours.map(|hour| {
            1.0 + knobs.daily_swing * libm::cos(core::f64::consts::TAU * (hour - 10.0) / 24.0)
        });
        let (production, swing) = (production.collect(), swing.collect());
        Self { knobs: *knobs, model, basal, production, swing }
    }

    /// What acts at a local minute of the day.
    fn drive(&self, minute_of_day: usize, day: &Day, exertion: f64) -> Drive {
        let minute = minute_of_day % 1440;
        let uptake = self.knobs.walk_uptake * exertion;
        let fasting = uptake * self.knobs.basal_glucose_mg_dl * self.model.volume();
        let production = self.production[minute] + day.production;
        Drive {
            production: production + self.knobs.walk_matched * fasting,
            sensitivity: self.swing[minute] * day.sensitivity,
            uptake,
        }
    }
}

/// How the present meal arrives; each world reads its own half.
#[derive(Clone, Copy, Debug)]
struct Meal {
    emptying: Emptying,
    tmax_min: f64,
}

/// The adult at one moment, with the signal under the sensor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Body {
    world: World,
    gut: Gut,
    state: State,
    meal: Meal,
    exertion: f64,
    /// Glucose under the sensor, mg/dL.
    pub(crate) tissue: f64,
}

/// Exertion sets in with this time constant, min. Our own figure.
const ONSET_MIN: f64 = 6.0;
/// It wanes with this one, so that three tenths are left after 30 min. Our own figure.
const WANING_MIN: f64 = 25.0;

impl Body {
    /// At rest, without food.
    pub(crate) fn rested(ready: &Ready) -> Self {
        let knobs = &ready.knobs;
        let emptying = Emptying { dose_mg: 0.0, kmax: KMAX, kabs: KABS };
        Self {
            world: knobs.world,
            gut: Gut {
                speed: knobs.emptying,
                fiber: knobs.fiber_slowing_per_g,
                protein: knobs.protein_slowing_per_g,
                fat: knobs.fat_slowing_per_g,
            },
            state: ready.basal,
            meal: Meal { emptying, tmax_min: 40.0 },
            exertion: 0.0,
            tissue: knobs.basal_glucose_mg_dl,
        }
    }

    /// Glucose in blood, mg/dL.
    pub(crate) fn blood(&self, ready: &Ready) -> f64 {
        ready.model.blood(&self.state)
    }

    /// Eats. What is still in stomach and gut goes on at the new meal's speed; in the oral world D
    /// becomes what the stomach still holds plus the new dose.
    pub(crate) fn eat(&mut self, bite: &Bite) {
        let (nature, pace, dose_mg) = (bite.kind.nature(), self.gut.pace(bite), dose_mg(bite));
        match self.world {
            World::Oral => {
                self.state[if nature.liquid { GROUND } else { SOLID }] += dose_mg;
                let speed = nature.speed * pace;
                self.meal.emptying = Emptying {
                    dose_mg: self.state[SOLID] + self.state[GROUND],
                    kmax: KMAX * speed,
                    kabs: KABS * speed,
                };
            }
            World::Minimal => {
                self.state[D1] += AG * dose_mg;
                self.meal.tmax_min = nature.tmax_min / pace;
            }
        }
    }

    /// One minute on. `effort` is 0 at rest and 1 for a walk; `lag` holds the sensor's weights.
    pub(crate) fn step(
        &mut self,
        ready: &Ready,
        minute_of_day: usize,
        day: &Day,
        effort: f64,
        lag: &Lag,
    ) {
        let pace = if effort > self.exertion { lag.onset } else { lag.waning };
        self.exertion += pace * (effort - self.exertion);
        let before = self.blood(ready);
        let drive = ready.drive(minute_of_day, day, self.exertion);
        self.state = ready.model.step(&self.state, &self.meal, &drive);
        self.tissue = lag.follow(self.tissue, before, self.blood(ready));
    }
}

/// Weights of a first-order lag for one-minute steps, exact where blood is a straight line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lag {
    keep: f64,
    first: f64,
    last: f64,
    onset: f64,
    waning: f64,
}

impl Lag {
    /// The lag with time constant `tau_min` (0 or less: none).
    pub(crate) fn new(tau_min: f64) -> Self {
        let onset = -libm::expm1(-1.0 / ONSET_MIN);
        let waning = -libm::expm1(-1.0 / WANING_MIN);
        if tau_min <= 0.0 {
            return Self { keep: 0.0, first: 0.0, last: 1.0, onset, waning };
        }
        let keep = libm::exp(-1.0 / tau_min);
        let slope = (1.0 - keep) * tau_min;
        Self { keep, first: slope - keep, last: 1.0 - slope, onset, waning }
    }

    /// The lagged value one minute on, with the source going from `before` to `after`.
    pub(crate) fn follow(&self, lagged: f64, before: f64, after: f64) -> f64 {
        self.keep * lagged + self.first * before + self.last * after
    }
}
