//! Glucose and insulin of one adult, minute by minute.
//!
//! # Method
//! The meal model of Dalla Man, Rizza and Cobelli, twelve ordinary differential equations,
//! integrated by the classical fourth-order Runge-Kutta rule with a step of one minute. The two
//! shape constants of stomach emptying follow from what the stomach holds when a meal starts:
//! a = 5/(2D(1-b)), c = 5/(2Dd). Three drives are added to the paper's equations, all neutral by
//! default: a shift of glucose production, a factor on insulin action, and an uptake without
//! insulin in proportion to plasma glucose (walking). A fourth addition, off in the paper's
//! adult, keeps a low from running away: below a level the brain's uptake falls in proportion to
//! glucose (the rule of Hovorka 2004, there from 81 mg/dL) and the liver puts out more.
//!
//! # Units
//! Minutes; glucose masses in mg/kg, gut masses in mg, insulin in pmol/kg and pmol/L.
//!
//! # Source
//! Dalla Man C, Rizza RA, Cobelli C. *IEEE Trans Biomed Eng* 54 (2007): 1740-1749, equations and
//! the column of normal parameters. Hovorka R et al. *Physiol Meas* 25 (2004): 905-920 (uptake
//! when glucose is low). Level and strength of the defence against lows are our own figures.

use crate::error::{self, Error};

/// The twelve quantities; see the constants below for their order. The second world keeps its
/// five in the same array.
pub(crate) type State = [f64; 12];

/// Glucose in plasma and tissues in fast exchange, mg/kg.
pub(crate) const GP: usize = 0;
/// Glucose in tissues in slow exchange, mg/kg.
pub(crate) const GT: usize = 1;
/// Insulin in the liver, pmol/kg.
pub(crate) const IL: usize = 2;
/// Insulin in plasma, pmol/kg.
pub(crate) const IP: usize = 3;
/// Glucose in the stomach, solid, mg.
pub(crate) const SOLID: usize = 4;
/// Glucose in the stomach, ground, mg.
pub(crate) const GROUND: usize = 5;
/// Glucose in the gut, mg.
pub(crate) const GUT: usize = 6;
/// First delay of the insulin signal to the liver, pmol/L.
pub(crate) const I1: usize = 7;
/// Second delay of the insulin signal to the liver, pmol/L.
pub(crate) const ID: usize = 8;
/// Insulin action on uptake, pmol/L above basal.
pub(crate) const X: usize = 9;
/// Insulin in the portal vein, pmol/kg.
pub(crate) const IPO: usize = 10;
/// Delayed secretion, pmol/kg/min above basal.
pub(crate) const Y: usize = 11;

/// Parameters, named as in the paper.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs, reason = "the names are the paper's symbols")]
pub(crate) struct Parameters {
    pub(crate) bw: f64,
    pub(crate) vg: f64,
    pub(crate) k1: f64,
    pub(crate) k2: f64,
    pub(crate) vi: f64,
    pub(crate) m1: f64,
    pub(crate) m2: f64,
    pub(crate) m4: f64,
    pub(crate) m5: f64,
    pub(crate) m6: f64,
    pub(crate) heb: f64,
    pub(crate) kmin: f64,
    pub(crate) kgri: f64,
    pub(crate) f: f64,
    pub(crate) b: f64,
    pub(crate) d: f64,
    pub(crate) kp1: f64,
    pub(crate) kp2: f64,
    pub(crate) kp3: f64,
    pub(crate) kp4: f64,
    pub(crate) ki: f64,
    pub(crate) fcns: f64,
    pub(crate) vm0: f64,
    pub(crate) vmx: f64,
    pub(crate) km0: f64,
    pub(crate) p2u: f64,
    pub(crate) k: f64,
    pub(crate) alpha: f64,
    pub(crate) beta: f64,
    pub(crate) gamma: f64,
    pub(crate) ke1: f64,
    pub(crate) ke2: f64,
    pub(crate) gb: f64,
    pub(crate) ib: f64,
    pub(crate) sb: f64,
    /// Uptake by tissues without food, mg/kg/min; set by [`settled`](Self::settled).
    pub(crate) basal_uptake: f64,
    /// Glucose below which the body defends itself, mg/dL; 0: never, as in the paper.
    pub(crate) low: f64,
}

/// The paper's normal adult, with its printed basal values.
pub(crate) const NORMAL: Parameters = Parameters {
    bw: 78.0,
    vg: 1.88,
    k1: 0.065,
    k2: 0.079,
    vi: 0.05,
    m1: 0.190,
    m2: 0.484,
    m4: 0.194,
    m5: 0.0304,
    m6: 0.6471,
    heb: 0.6,
    kmin: 0.0080,
    kgri: 0.0558,
    f: 0.90,
    b: 0.82,
    d: 0.010,
    kp1: 2.70,
    kp2: 0.0021,
    kp3: 0.009,
    kp4: 0.0618,
    ki: 0.0079,
    fcns: 1.0,
    vm0: 2.50,
    vmx: 0.047,
    km0: 225.59,
    p2u: 0.0331,
    k: 2.30,
    alpha: 0.050,
    beta: 0.11,
    gamma: 0.5,
    ke1: 0.0005,
    ke2: 339.0,
    gb: 95.0,
    ib: 25.0,
    sb: 1.8,
    basal_uptake: 0.0,
    low: 0.0,
};

/// The paper's printed basal values of that adult.
const PRINTED: State = [178.6, 135.0, 4.5, 1.25, 0.0, 0.0, 0.0, 25.0, 25.0, 0.0, 3.6, 0.0];

/// Where the defence against lows sets in, mg/dL. Our own figure.
pub(crate) const LOW: f64 = 60.0;
/// Its strength, mg/kg/min of glucose production per mg/dL. Our own figure.
pub(crate) const RESCUE: f64 = 0.06;

/// The paper's kmax of a normal adult, 1/min.
pub(crate) const KMAX: f64 = 0.0558;
/// The paper's kabs of a normal adult, 1/min.
pub(crate) const KABS: f64 = 0.057;

/// How the present meal leaves the stomach and the gut.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Emptying {
    /// What the stomach held when the meal started, mg.
    pub(crate) dose_mg: f64,
    /// Fastest emptying, 1/min.
    pub(crate) kmax: f64,
    /// Absorption, 1/min.
    pub(crate) kabs: f64,
}

/// What acts on the body from outside; [`Drive::NONE`] is the paper's model.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Drive {
    /// Added glucose production, mg/kg/min.
    pub(crate) production: f64,
    /// Factor on the action of insulin above basal, on uptake and on the liver.
    pub(crate) sensitivity: f64,
    /// Uptake without insulin, 1/min of plasma glucose.
    pub(crate) uptake: f64,
}

impl Drive {
    /// Nothing from outside.
    pub(crate) const NONE: Self = Self { production: 0.0, sensitivity: 1.0, uptake: 0.0 };
}

impl Parameters {
    /// The same adult with basal glucose `gb` (mg/dL) and insulin `ib` (pmol/L) made an exact
    /// steady state, by solving for m6, Sb and kp1 as the paper does; and that state.
    pub(crate) fn settled(mut self, gb: f64, ib: f64) -> (Self, State) {
        let gp = gb * self.vg;
        // k1 Gp - k2 Gt = Vm0 Gt / (Km0 + Gt): a quadratic with one positive root.
        let half = 0.5 * (self.k2 * self.km0 + self.vm0 - self.k1 * gp);
        let root = (half * half + self.k2 * self.k1 * gp * self.km0).sqrt();
        let gt = (root - half) / self.k2;
        let uptake = self.vm0 * gt / (self.km0 + gt);
        let ip = ib * self.vi;
        let il = (self.m2 + self.m4) * ip / self.m1;
        let m3 = self.heb * self.m1 / (1.0 - self.heb);
        let sb = (self.m1 + m3) * il - self.m2 * ip;
        let ipo = sb / self.gamma;
        self.m6 = self.heb + self.m5 * sb;
        self.kp1 = self.fcns + uptake + self.kp2 * gp + self.kp3 * ib + self.kp4 * ipo;
        (self.gb, self.ib, self.sb, self.basal_uptake) = (gb, ib, sb, uptake);
        (self, [gp, gt, il, ip, 0.0, 0.0, 0.0, ib, ib, 0.0, ipo, 0.0])
    }

    /// Glucose production, mg/kg/min.
    fn production(&self, s: &State, drive: &Drive) -> f64 {
        // Insulin above basal holds production back as strongly as the day lets it act.
        let above = (drive.sensitivity - 1.0) * self.kp3 * (s[ID] - self.ib);
        let held = self.kp1 - self.kp2 * s[GP] - self.kp3 * s[ID] - self.kp4 * s[IPO] - above;
        let rescue = RESCUE * (self.low - s[GP] / self.vg).max(0.0);
        (held + drive.production).max(0.0) + rescue
    }

    /// Appearance of the meal's glucose, mg/kg/min.
    fn appearance(&self, s: &State, meal: &Emptying) -> f64 {
        self.f * meal.kabs * s[GUT] / self.bw
    }

    /// Uptake by the brain and the blood cells, mg/kg/min.
    fn brain(&self, s: &State) -> f64 {
        let glucose = s[GP] / self.vg;
        if glucose < self.low { self.fcns * glucose / self.low } else { self.fcns }
    }

    /// Rates of change of the twelve quantities, per minute.
    fn slope(&self, s: &State, meal: &Emptying, drive: &Drive) -> State {
        let egp = self.production(s, drive);
        let ra = self.appearance(s, meal);
        let kempt = self.emptying(s[SOLID] + s[GROUND], meal);
        let uptake = (self.vm0 + self.vmx * s[X]) * s[GT] / (self.km0 + s[GT]);
        // Uptake above basal is what the day scales, so that fasting stays where it is.
        let uid = self.basal_uptake + drive.sensitivity * (uptake - self.basal_uptake);
        let renal = self.ke1 * (s[GP] - self.ke2).max(0.0);
        let away = self.brain(s) + renal + self.k1 * s[GP] + drive.uptake * s[GP];
        let gp = egp + ra - away + self.k2 * s[GT];
        let g_rate = gp / self.vg;

        let secretion = self.gamma * s[IPO];
        // Under 1 even for a person whose basal insulin is far outside the paper's.
        let extraction = (self.m6 - self.m5 * secretion).min(0.95);
        let m3 = extraction * self.m1 / (1.0 - extraction);
        let insulin = s[IP] / self.vi;
        let portal = s[Y] + self.sb + if g_rate > 0.0 { self.k * g_rate } else { 0.0 };
        let wanted = (self.beta * (s[GP] / self.vg - self.gb)).max(-self.sb);
        [
            gp,
            self.k1 * s[GP] - self.k2 * s[GT] - uid,
            self.m2 * s[IP] + secretion - (self.m1 + m3) * s[IL],
            self.m1 * s[IL] - (self.m2 + self.m4) * s[IP],
            -self.kgri * s[SOLID],
            self.kgri * s[SOLID] - kempt * s[GROUND],
            kempt * s[GROUND] - meal.kabs * s[GUT],
            self.ki * (insulin - s[I1]),
            self.ki * (s[I1] - s[ID]),
            self.p2u * (insulin - self.ib - s[X]),
            portal - secretion,
            self.alpha * (wanted - s[Y]),
        ]
    }

    /// Rate of stomach emptying, 1/min, with `held` mg in the stomach.
    fn emptying(&self, held: f64, meal: &Emptying) -> f64 {
        // Below a milligram the rate no longer matters, and D may be 0.
        if held < 1.0 || meal.dose_mg < 1.0 {
            return meal.kmax;
        }
        let dose = meal.dose_mg;
        let a = 5.0 / (2.0 * dose * (1.0 - self.b));
        let c = 5.0 / (2.0 * dose * self.d);
        let shape = libm::tanh(a * (held - self.b * dose)) - libm::tanh(c * (held - self.d * dose));
        // The slowest emptying follows the fastest; for the paper's meal the factor is 1.
        let kmin = self.kmin * (meal.kmax / KMAX);
        kmin + 0.5 * (meal.kmax - kmin) * (shape + 2.0)
    }

    /// The state one minute later.
    pub(crate) fn step(&self, s: &State, meal: &Emptying, drive: &Drive) -> State {
        self.part(s, 1.0, meal, drive)
    }

    /// The state after one step of `minutes`.
    pub(crate) fn part(&self, s: &State, minutes: f64, meal: &Emptying, drive: &Drive) -> State {
        advance(s, minutes, |s| self.slope(s, meal, drive))
    }
}

/// One step of the classical Runge-Kutta rule.
pub(crate) fn advance(s: &State, minutes: f64, slope: impl Fn(&State) -> State) -> State {
    let first = slope(s);
    let second = slope(&ahead(s, &first, 0.5 * minutes));
    let third = slope(&ahead(s, &second, 0.5 * minutes));
    let fourth = slope(&ahead(s, &third, minutes));
    let mut next = *s;
    for i in 0..next.len() {
        next[i] += minutes * (first[i] + 2.0 * (second[i] + third[i]) + fourth[i]) / 6.0;
    }
    next
}

/// `s` moved along `slope` for `minutes`.
fn ahead(s: &State, slope: &State, minutes: f64) -> State {
    let mut moved = *s;
    for i in 0..moved.len() {
        moved[i] += minutes * slope[i];
    }
    moved
}

/// A meal of the paper's normal adult, a value a minute from its start; see [`oral_meal`].
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct OralMeal {
    /// Glucose in plasma, mg/dL.
    pub glucose_mg_dl: Vec<f64>,
    /// Insulin in plasma, pmol/L.
    pub insulin_pmol_l: Vec<f64>,
    /// Appearance of the meal's glucose, mg/kg/min.
    pub appearance_mg_kg_min: Vec<f64>,
    /// Glucose production, mg/kg/min.
    pub production_mg_kg_min: Vec<f64>,
}

/// The meal model as published, for comparison with another solver: the normal adult of 78 kg
/// starts from the printed basal values and takes `grams` of glucose in a mixed meal. Nothing of
/// this simulator's own is added. `minutes` + 1 values a column; value i belongs to minute i. Above
/// some 200 g the paper's hepatic extraction falls below zero: figures of the equations then, not
/// of a body.
///
/// Source: Dalla Man, Rizza, Cobelli (2007).
///
/// # Errors
/// [`NotFinite`](Error::NotFinite), or [`OutOfRange`](Error::OutOfRange) for grams outside 0 to
/// 300 or more than 1440 minutes.
///
/// # Example
/// ```
/// let meal = glycemic_core::simulate::oral_meal(78.0, 300)?;
/// let peak = meal.glucose_mg_dl.iter().copied().fold(0.0, f64::max);
/// // Another solver (LSODA) finds 158.5 after 64 min and, after five hours, 90.6.
/// assert!((peak - 158.5).abs() < 0.05 && (meal.glucose_mg_dl[300] - 90.6).abs() < 0.05);
/// assert_eq!(meal.glucose_mg_dl[64], peak);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn oral_meal(grams: f64, minutes: usize) -> Result<OralMeal, Error> {
    error::require_within("grams", grams, 0.0, 300.0)?;
    error::require_within("minutes", minutes as f64, 0.0, 1440.0)?;
    let dose_mg = 1000.0 * grams;
    let meal = Emptying { dose_mg, kmax: KMAX, kabs: KABS };
    let mut state = PRINTED;
    state[SOLID] = dose_mg;
    let mut states = vec![state];
    for _ in 0..minutes {
        state = NORMAL.step(&state, &meal, &Drive::NONE);
        states.push(state);
    }
    let column = |value: &dyn Fn(&State) -> f64| states.iter().map(value).collect();
    Ok(OralMeal {
        glucose_mg_dl: column(&|s| s[GP] / NORMAL.vg),
        insulin_pmol_l: column(&|s| s[IP] / NORMAL.vi),
        appearance_mg_kg_min: column(&|s| NORMAL.appearance(s, &meal)),
        production_mg_kg_min: column(&|s| NORMAL.production(s, &Drive::NONE)),
    })
}
