//! A second, structurally different account of glucose and insulin.
//!
//! # Method
//! The minimal model of glucose and insulin action, with an insulin equation of first-order
//! clearance and of secretion driven by level and rate, and a gut of two equal compartments that
//! is linear in the dose. Unlike in the meal model, glucose is one pool, insulin acts through one
//! delay on all of it, and larger meals do not take longer to empty.
//!
//! G' = (SG Gb + P/VG)⁺ - (SG + X + W)⁺ G + UG/(VG BW); X' = -p2 X + p3 A (I - Ib);
//! I' = -n I + (n Ib + L (G - Gb))⁺ + R (G')⁺; D1' = -D1/tmax; UG = D2/tmax;
//! D2' = (D1 - D2)/tmax. P, A and W are the drives of the day: production, factor on insulin
//! action, uptake by walking; neutral they are 0, 1 and 0.
//!
//! # Units
//! Minutes, mg/dL, pmol/L; the gut in mg. 1 µU/mL is taken as 6 pmol/L (common practice).
//!
//! # Source
//! Bergman RN, Ider YZ, Bowden CR, Cobelli C. *Am J Physiol* 236 (1979): E667-E677 (G, X); the
//! normal means SG 0.021 and SI 2.62e-4 per µU/mL, and n 0.3, h near Gb, as in `NORMAL`. Toffolo
//! G, Bergman RN, Finegood DT, Bowden CR, Cobelli C. *Diabetes* 29 (1980): 979-990 (insulin: the
//! positive part of the level above a threshold). Hovorka R et al. *Physiol Meas* 25 (2004):
//! 905-920 (gut; VG 0.16 L/kg, AG 0.8). L and R are our own figures.

use super::model::{Drive, RESCUE, State, advance};

/// Glucose, mg/dL.
pub(crate) const G: usize = 0;
/// Insulin action, 1/min.
pub(crate) const X: usize = 1;
/// Insulin, pmol/L.
pub(crate) const I: usize = 2;
/// First compartment of the gut, mg.
pub(crate) const D1: usize = 3;
/// Second compartment of the gut, mg.
pub(crate) const D2: usize = 4;

/// Share of the dose that is absorbed. Hovorka (2004).
pub(crate) const AG: f64 = 0.8;

/// Parameters, named as in the papers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Parameters {
    /// Body weight, kg.
    pub(crate) bw: f64,
    /// Volume of glucose, dL/kg.
    pub(crate) vg: f64,
    /// Effect of glucose on its own return, 1/min.
    pub(crate) sg: f64,
    /// Waning of insulin action, 1/min.
    pub(crate) p2: f64,
    /// Growth of insulin action, 1/min² per pmol/L; p3/p2 is SI.
    pub(crate) p3: f64,
    /// Clearance of insulin, 1/min.
    pub(crate) n: f64,
    /// Secretion by level, pmol/L/min per mg/dL.
    pub(crate) level: f64,
    /// Secretion by rate, pmol/L per mg/dL.
    pub(crate) rate: f64,
    /// Basal glucose, mg/dL.
    pub(crate) gb: f64,
    /// Basal insulin, pmol/L.
    pub(crate) ib: f64,
    /// Glucose below which the body defends itself, mg/dL; 0: never.
    pub(crate) low: f64,
}

/// A normal adult.
pub(crate) const NORMAL: Parameters = Parameters {
    bw: 78.0,
    vg: 1.6,
    sg: 0.021,
    p2: 0.0209,
    p3: 0.0209 * 2.62e-4 / 6.0,
    n: 0.3,
    level: 1.8,
    rate: 6.0,
    gb: 92.0,
    ib: 43.8,
    low: 0.0,
};

impl Parameters {
    /// The steady state without food: exact, whatever the parameters.
    pub(crate) fn basal(&self) -> State {
        let mut state = [0.0; 12];
        (state[G], state[I]) = (self.gb, self.ib);
        state
    }

    /// Rates of change of the five quantities, per minute; the rest of the array stays 0.
    fn slope(&self, s: &State, tmax_min: f64, drive: &Drive) -> State {
        let rescue = RESCUE * (self.low - s[G]).max(0.0);
        let source = (self.sg * self.gb + drive.production / self.vg).max(0.0) + rescue / self.vg;
        let away = (self.sg + s[X] + drive.uptake).max(0.0);
        let appearance = s[D2] / (tmax_min * self.vg * self.bw);
        let g = source - away * s[G] + appearance;
        let secretion = (self.n * self.ib + self.level * (s[G] - self.gb)).max(0.0);
        let mut rates = [0.0; 12];
        rates[G] = g;
        rates[X] = self.p3 * drive.sensitivity * (s[I] - self.ib) - self.p2 * s[X];
        rates[I] = secretion + self.rate * g.max(0.0) - self.n * s[I];
        rates[D1] = -s[D1] / tmax_min;
        rates[D2] = (s[D1] - s[D2]) / tmax_min;
        rates
    }

    /// The state one minute later.
    pub(crate) fn step(&self, s: &State, tmax_min: f64, drive: &Drive) -> State {
        advance(s, 1.0, |s| self.slope(s, tmax_min, drive))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: Hovorka (2004), UG = AG D t exp(-t/tmax)/tmax², with peak AG D/(e tmax) at tmax
    /// and integral AG D.
    #[test]
    fn the_linear_gut_has_its_closed_form() {
        let (dose, tmax) = (50_000.0 * AG, 40.0);
        let mut s: State = NORMAL.basal();
        s[D1] = dose;
        let mut appearing = Vec::new();
        for minute in 0..1000 {
            let (t, ug) = (f64::from(minute), s[D2] / tmax);
            let want = dose * t * libm::exp(-t / tmax) / (tmax * tmax);
            assert!((ug - want).abs() < 1e-5 * dose / tmax, "{minute} min: {ug} against {want}");
            appearing.push(ug);
            s = NORMAL.step(&s, tmax, &Drive::NONE);
        }
        let peak = appearing.iter().copied().fold(0.0, f64::max);
        assert_eq!(appearing[40], peak);
        assert!((peak / (dose / (core::f64::consts::E * tmax)) - 1.0).abs() < 1e-5);
        // Trapezoids of a minute are short by (1/12) UG'(0) = dose/(12 tmax²), 5e-5 of the dose.
        assert!((appearing.iter().sum::<f64>() / dose - 1.0).abs() < 1e-4);
    }

    /// Closed forms: with X at 0, G - Gb falls as exp(-SG t); with insulin held, X rises to SI (I - Ib)
    /// as 1 - exp(-p2 t), where SI = p3/p2 (Bergman 1979).
    #[test]
    fn the_minimal_model_has_its_closed_forms() {
        let still = Parameters { n: 0.0, level: 0.0, rate: 0.0, ..NORMAL };
        let (mut s, mut held) = (still.basal(), still.basal());
        s[G] = 287.0;
        held[I] += 100.0;
        for minute in 0..240 {
            let t = f64::from(minute);
            let want = 92.0 + 195.0 * libm::exp(-NORMAL.sg * t);
            assert!((s[G] - want).abs() < 1e-6, "{minute} min: {} against {want}", s[G]);
            let action = 100.0 * NORMAL.p3 / NORMAL.p2 * -libm::expm1(-NORMAL.p2 * t);
            assert!((held[X] - action).abs() < 1e-9, "{minute} min: {} against {action}", held[X]);
            s = still.step(&s, 40.0, &Drive::NONE);
            held = still.step(&held, 40.0, &Drive::NONE);
        }
        // Bergman's normal mean, 2.62e-4 per µU/mL.
        assert!((6.0 * NORMAL.p3 / NORMAL.p2 - 2.62e-4).abs() < 1e-12);
    }
}
