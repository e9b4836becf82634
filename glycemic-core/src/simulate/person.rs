//! The simulated adult: the meal model, scaled, with day and clock added.
//!
//! # Method
//! An adult with insulin resistance is the paper's normal adult with weaker insulin action and a
//! weaker pancreas; the basal state is solved exactly, so glucose without food is flat. Added to
//! it: insulin action that follows the time of day, a morning rise of glucose production, shifts
//! from day to day, and an uptake by walking that sets in and wanes exponentially. Protein and
//! fat have no effect here. The signal under a sensor follows blood with a first-order lag.
//!
//! # Source
//! Equations as in `model`; the scaling factors are our own, chosen for this simulator. Walks are
//! sized on Reynolds AN et al. *Diabetologia* 59 (2016): 2572-2578 (3-h area after meals 0.88 of
//! that without, 0.78 in the evening).

use super::model::{Drive, Emptying, GP, GROUND, KABS, KMAX, NORMAL, Parameters, SOLID, State};

/// Knobs of the simulated adult.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Person {
    /// Body weight, kg.
    pub weight_kg: f64,
    /// Glucose without food, mg/dL.
    pub basal_glucose_mg_dl: f64,
    /// Insulin without food, pmol/L.
    pub basal_insulin_pmol_l: f64,
    /// Insulin action on uptake, as a multiple of the normal adult's (Vmx).
    pub insulin_action: f64,
    /// Uptake without insulin, as a multiple of the normal adult's (Vm0).
    pub basal_uptake: f64,
    /// Response of the pancreas to the level of glucose, as a multiple of the normal (beta).
    pub level_response: f64,
    /// Response of the pancreas to the rate of rise, as a multiple of the normal (K).
    pub rate_response: f64,
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
}

/// The demo's adult.
pub(crate) const RESISTANT: Person = Person {
    weight_kg: 84.0,
    basal_glucose_mg_dl: 99.0,
    basal_insulin_pmol_l: 45.0,
    insulin_action: 0.60,
    basal_uptake: 0.95,
    level_response: 0.80,
    rate_response: 0.80,
    daily_swing: 0.08,
    morning_production: 0.08,
    day_production_sd: 0.05,
    day_correlation: 0.3,
    meal_cv: 0.15,
    speed_cv: 0.12,
    walk_uptake: 0.014,
};

/// Kind of food, by how fast its carbohydrate arrives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "lowercase"))]
pub enum Kind {
    /// Bread, rice, oats.
    Grain,
    /// Lentils, beans, chickpeas.
    Legume,
    /// Milk and yoghurt.
    Dairy,
    /// Fruit.
    Fruit,
}

impl Kind {
    /// The tag written in the diary.
    pub fn tag(self) -> &'static str {
        match self {
            Self::Grain => "grain",
            Self::Legume => "legume",
            Self::Dairy => "dairy",
            Self::Fruit => "fruit",
        }
    }

    /// Speed of emptying and absorption against the paper's mixed meal. Our own factors.
    fn speed(self) -> f64 {
        match self {
            Self::Grain => 1.0,
            Self::Legume => 0.70,
            Self::Dairy => 0.85,
            Self::Fruit => 1.15,
        }
    }
}

/// What reaches the stomach with one meal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bite {
    /// Net carbohydrate as it acts, g (eaten, times the meal's own variation).
    pub(crate) acting_g: f64,
    /// Kind of food.
    pub(crate) kind: Kind,
    /// Factor on the kind's speed.
    pub(crate) speed: f64,
}

/// What the time of day and the day do: a shift of production and a factor on insulin action.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Day {
    /// Shift of production, mg/kg/min.
    pub(crate) production: f64,
    /// Factor on insulin action.
    pub(crate) sensitivity: f64,
}

/// The adult made ready for stepping.
#[derive(Clone, Debug)]
pub(crate) struct Ready {
    knobs: Person,
    parameters: Parameters,
    basal: State,
    production: Vec<f64>,
    swing: Vec<f64>,
}

impl Ready {
    /// Solves the basal state and tabulates the day.
    pub(crate) fn new(knobs: &Person) -> Self {
        let scaled = Parameters {
            bw: knobs.weight_kg,
            vmx: NORMAL.vmx * knobs.insulin_action,
            vm0: NORMAL.vm0 * knobs.basal_uptake,
            beta: NORMAL.beta * knobs.level_response,
            k: NORMAL.k * knobs.rate_response,
            ..NORMAL
        };
        let (parameters, basal) =
            scaled.settled(knobs.basal_glucose_mg_dl, knobs.basal_insulin_pmol_l);
        let hours = (0..1440).map(|minute| f64::from(minute) / 60.0);
        let production = hours.clone().map(|hour| {
            let away = (hour - 6.5) / 1.5;
            knobs.morning_production * libm::exp(-0.5 * away * away)
        });
        let swing = hours.map(|hour| {
            1.0 + knobs.daily_swing * libm::cos(core::f64::consts::TAU * (hour - 10.0) / 24.0)
        });
        let (production, swing) = (production.collect(), swing.collect());
        Self { knobs: *knobs, parameters, basal, production, swing }
    }

    /// What acts at a local minute of the day.
    fn drive(&self, minute_of_day: usize, day: &Day, exertion: f64) -> Drive {
        let minute = minute_of_day % 1440;
        Drive {
            production: self.production[minute] + day.production,
            sensitivity: self.swing[minute] * day.sensitivity,
            uptake: self.knobs.walk_uptake * exertion,
        }
    }
}

/// The adult at one moment, with the signal under the sensor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Body {
    state: State,
    meal: Emptying,
    exertion: f64,
    /// Glucose under the sensor, mg/dL.
    pub(crate) tissue: f64,
}

/// Exertion sets in with this time constant, min. Our own figure.
const ONSET_MIN: f64 = 6.0;
/// It wanes with this one, so that a twelfth is left after 30 min. Our own figure.
const WANING_MIN: f64 = 12.0;

impl Body {
    /// At rest, without food.
    pub(crate) fn rested(ready: &Ready) -> Self {
        let meal = Emptying { dose_mg: 0.0, kmax: KMAX, kabs: KABS };
        let tissue = ready.parameters.gb;
        Self { state: ready.basal, meal, exertion: 0.0, tissue }
    }

    /// Glucose in blood, mg/dL.
    pub(crate) fn blood(&self, ready: &Ready) -> f64 {
        self.state[GP] / ready.parameters.vg
    }

    /// Eats: D becomes what the stomach still holds plus the new dose.
    pub(crate) fn eat(&mut self, bite: &Bite) {
        let speed = bite.kind.speed() * bite.speed;
        self.state[SOLID] += 1000.0 * bite.acting_g.max(0.0);
        self.meal = Emptying {
            dose_mg: self.state[SOLID] + self.state[GROUND],
            kmax: KMAX * speed,
            kabs: KABS * speed,
        };
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
        self.state = ready.parameters.step(&self.state, &self.meal, &drive);
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
