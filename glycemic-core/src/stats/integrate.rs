//! Integrals over an interval by Gauss-Legendre panels, and roots by bisection.
//!
//! # Method
//! Sixteen nodes a panel, which are exact for polynomials up to degree 31. The caller says how
//! many panels resolve the integrand. Roots: regula falsi with the Illinois change, kept in a
//! bracket.
//!
//! # Source
//! Abramowitz M, Stegun IA. Handbook of mathematical functions, 1964, 25.4.30. Dowell M,
//! Jarratt P. BIT 1971; 11: 168-174 (Illinois).

/// Nodes above 0 and weights for 16 points; the others mirror them. Computed in 40 digits.
const NODES: [(f64, f64); 8] = [
    (0.9894009349916499, 0.027152459411754096),
    (0.9445750230732326, 0.062253523938647894),
    (0.8656312023878318, 0.09515851168249279),
    (0.755404408355003, 0.12462897125553388),
    (0.6178762444026438, 0.14959598881657674),
    (0.45801677765722737, 0.16915651939500254),
    (0.2816035507792589, 0.18260341504492358),
    (0.09501250983763744, 0.1894506104550685),
];

/// Points and weights for the integral from `low` to `high` in `panels` panels.
///
/// # Example
/// ```
/// # use glycemic_core::stats::integrate::nodes;
/// // The integral of x^3 from 0 to 2 is 4.
/// let area: f64 = nodes(0.0, 2.0, 1).iter().map(|(x, w)| w * x * x * x).sum();
/// assert!((area - 4.0).abs() < 1e-14);
/// ```
pub fn nodes(low: f64, high: f64, panels: usize) -> Vec<(f64, f64)> {
    let half = 0.5 * (high - low) / panels.max(1) as f64;
    let mut all = Vec::new();
    for k in 0..panels.max(1) {
        let centre = low + half * (2 * k + 1) as f64;
        for (x, w) in NODES {
            all.extend([(centre - half * x, half * w), (centre + half * x, half * w)]);
        }
    }
    all
}

/// Where the rising or falling `f` is 0 between `low` and `high`; `None` when both ends have
/// one sign.
///
/// # Example
/// ```
/// # use glycemic_core::stats::integrate::root;
/// assert!((root(0.0, 2.0, |x| x * x - 2.0).unwrap() - 2.0_f64.sqrt()).abs() < 1e-14);
/// assert_eq!(root(0.0, 1.0, |x| x + 1.0), None);
/// ```
pub fn root(low: f64, high: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return None;
    }
    let mut side = 0;
    for turn in 0..200 {
        // A plain halving now and then bounds the work where the function is flat.
        let cut = (a * fb - b * fa) / (fb - fa);
        let inside = cut > a.min(b) && cut < a.max(b);
        let x = if turn % 4 == 3 || !inside { 0.5 * (a + b) } else { cut };
        let fx = f(x);
        if fx == 0.0 || (b - a).abs() <= 4.0 * f64::EPSILON * x.abs() {
            return Some(x);
        }
        if (fx > 0.0) == (fa > 0.0) {
            (a, fa) = (x, fx);
            if side == 1 {
                fb *= 0.5;
            }
            side = 1;
        } else {
            (b, fb) = (x, fx);
            if side == 2 {
                fa *= 0.5;
            }
            side = 2;
        }
    }
    Some(0.5 * (a + b))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The integral of exp from 0 to 1 is e - 1; x^31 is the last power that is exact.
    #[test]
    fn known_integrals() {
        let of = |f: &dyn Fn(f64) -> f64, panels| -> f64 {
            nodes(0.0, 1.0, panels).iter().map(|&(x, w)| w * f(x)).sum()
        };
        assert!((of(&libm::exp, 1) - (std::f64::consts::E - 1.0)).abs() < 1e-15);
        assert!((of(&|x| libm::pow(x, 31.0), 1) - 1.0 / 32.0).abs() < 1e-16);
        assert!((of(&libm::sqrt, 200) - 2.0 / 3.0).abs() < 1e-6);
    }

    #[test]
    fn roots_of_flat_and_steep_functions() {
        assert!((root(0.0, 10.0, |x| libm::pow(x, 9.0) - 1e-9).unwrap() - 0.1).abs() < 1e-12);
        assert!((root(-50.0, 50.0, |x| libm::atan(1e6 * (x - 3.0))).unwrap() - 3.0).abs() < 1e-13);
        assert_eq!(root(0.0, 1.0, |_| f64::NAN), None);
    }
}
