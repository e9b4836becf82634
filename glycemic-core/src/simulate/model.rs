//! Glucose and insulin of one adult, minute by minute.
//!
//! # Method
//! The meal model of Dalla Man, Rizza and Cobelli, twelve ordinary differential equations,
//! integrated by the classical fourth-order Runge-Kutta rule with a step of one minute. The two
//! shape constants of stomach emptying follow from what the stomach holds when a meal starts:
//! a = 5/(2D(1-b)), c = 5/(2Dd). Three drives are added to the paper's equations, all neutral by
//! default: a shift of glucose production, a factor on insulin action, and an uptake without
//! insulin in proportion to plasma glucose (walking).
//!
//! # Units
//! Minutes; glucose masses in mg/kg, gut masses in mg, insulin in pmol/kg and pmol/L.
//!
//! # Source
//! Dalla Man C, Rizza RA, Cobelli C. *IEEE Trans Biomed Eng* 54 (2007): 1740-1749, equations and
//! the column of normal parameters.

/// The twelve quantities; see the constants below for their order.
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
};

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
    /// Factor on insulin action.
    pub(crate) sensitivity: f64,
    /// Uptake without insulin, 1/min of plasma glucose.
    pub(crate) uptake: f64,
}

impl Drive {
    /// Nothing from outside.
    #[cfg(test)]
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
        (self.gb, self.ib, self.sb) = (gb, ib, sb);
        (self, [gp, gt, il, ip, 0.0, 0.0, 0.0, ib, ib, 0.0, ipo, 0.0])
    }

    /// Glucose production, mg/kg/min.
    fn production(&self, s: &State, drive: &Drive) -> f64 {
        let held = self.kp1 - self.kp2 * s[GP] - self.kp3 * s[ID] - self.kp4 * s[IPO];
        (held + drive.production).max(0.0)
    }

    /// Rates of change of the twelve quantities, per minute.
    fn slope(&self, s: &State, meal: &Emptying, drive: &Drive) -> State {
        let egp = self.production(s, drive);
        let ra = self.f * meal.kabs * s[GUT] / self.bw;
        let kempt = self.emptying(s[SOLID] + s[GROUND], meal);
        let vm = self.vm0 + self.vmx * drive.sensitivity * s[X];
        let uid = vm * s[GT] / (self.km0 + s[GT]);
        let renal = self.ke1 * (s[GP] - self.ke2).max(0.0);
        let away = self.fcns + renal + self.k1 * s[GP] + drive.uptake * s[GP];
        let gp = egp + ra - away + self.k2 * s[GT];
        let g_rate = gp / self.vg;

        let secretion = self.gamma * s[IPO];
        let extraction = self.m6 - self.m5 * secretion;
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
        self.kmin + 0.5 * (meal.kmax - self.kmin) * (shape + 2.0)
    }

    /// The state one minute later.
    pub(crate) fn step(&self, s: &State, meal: &Emptying, drive: &Drive) -> State {
        let first = self.slope(s, meal, drive);
        let second = self.slope(&ahead(s, &first, 0.5), meal, drive);
        let third = self.slope(&ahead(s, &second, 0.5), meal, drive);
        let fourth = self.slope(&ahead(s, &third, 1.0), meal, drive);
        let mut next = *s;
        for i in 0..next.len() {
            next[i] += (first[i] + 2.0 * (second[i] + third[i]) + fourth[i]) / 6.0;
        }
        next
    }
}

/// `s` moved along `slope` for `minutes`.
fn ahead(s: &State, slope: &State, minutes: f64) -> State {
    let mut moved = *s;
    for i in 0..moved.len() {
        moved[i] += minutes * slope[i];
    }
    moved
}
