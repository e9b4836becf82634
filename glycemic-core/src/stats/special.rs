//! Incomplete beta and gamma functions, regularised (as shares from 0 to 1).
//!
//! # Method
//! A continued fraction or a power series, whichever converges at the point, times a
//! leading factor. That factor is the density of the distribution and is taken from its
//! deviance, so that it does not lose digits when the parameters are large.
//!
//! # Units
//! None: all arguments and answers are pure numbers.
//!
//! # Source
//! NIST Digital Library of Mathematical Functions, 8.17.22 (beta), 8.7.1 and 8.9.2 (gamma).
//! Lentz WJ. Appl Opt 1976; 15: 668-671 (the fraction). Loader C. Fast and accurate
//! computation of binomial probabilities, 2000 (the leading factor).

use std::f64::consts::PI;

const MOST_TERMS: u32 = 200_000;
const TINY: f64 = 1e-300;

/// The regularised incomplete beta function I_x(a, b), for `x` from 0 to 1 and a, b > 0.
///
/// NaN outside that. Source: DLMF 8.17.22.
///
/// # Example
/// ```
/// # use glycemic_core::stats::special::incomplete_beta;
/// // I_x(1, 1) = x, and I_x(2, 1) = x².
/// assert!((incomplete_beta(0.3, 1.0, 1.0) - 0.3).abs() < 1e-15);
/// assert!((incomplete_beta(0.3, 2.0, 1.0) - 0.09).abs() < 1e-15);
/// ```
pub fn incomplete_beta(x: f64, a: f64, b: f64) -> f64 {
    if !(0.0..=1.0).contains(&x) {
        return f64::NAN;
    }
    beta_shares(x, 1.0 - x, a, b).0
}

/// I_x(a, b) and 1 - I_x(a, b), each without cancellation; `y` is 1 - `x`.
pub(crate) fn beta_shares(x: f64, y: f64, a: f64, b: f64) -> (f64, f64) {
    if !(a > 0.0 && b > 0.0 && x >= 0.0 && y >= 0.0) || a.is_infinite() || b.is_infinite() {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 {
        return (0.0, 1.0);
    }
    if y == 0.0 {
        return (1.0, 0.0);
    }
    let factor = beta_factor(x, y, a, b);
    // The fraction converges fast to the left of about the mean; past it, mirror.
    if x * (a + b + 2.0) < a + 1.0 {
        let lower = (factor * beta_fraction(x, a, b) / a).min(1.0);
        (lower, 1.0 - lower)
    } else {
        let upper = (factor * beta_fraction(y, b, a) / b).min(1.0);
        (1.0 - upper, upper)
    }
}

/// x^a y^b / B(a, b): the density of the logit of a beta variable, y = 1 - x.
pub(crate) fn beta_factor(x: f64, y: f64, a: f64, b: f64) -> f64 {
    let n = a + b;
    let exponent = stirling_error(n)
        - stirling_error(a)
        - stirling_error(b)
        - deviance(a, n * x)
        - deviance(b, n * y);
    libm::exp(exponent) * (a * b / n / (2.0 * PI)).sqrt()
}

/// The continued fraction of DLMF 8.17.22, by the modified Lentz method.
fn beta_fraction(x: f64, a: f64, b: f64) -> f64 {
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for step in 1..MOST_TERMS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away_from_zero(1.0 + even * d);
        c = away_from_zero(1.0 + even / c);
        fraction *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away_from_zero(1.0 + odd * d);
        c = away_from_zero(1.0 + odd / c);
        fraction *= d * c;
        if (d * c - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction
}

/// The regularised lower incomplete gamma function P(a, x), for a > 0 and `x` ≥ 0.
///
/// NaN outside that. Source: DLMF 8.7.1 and 8.9.2.
///
/// # Example
/// ```
/// # use glycemic_core::stats::special::gamma_lower;
/// // P(1, x) = 1 - exp(-x).
/// assert!((gamma_lower(1.0, 2.0) - 0.864_664_716_763_387_3).abs() < 1e-15);
/// ```
pub fn gamma_lower(a: f64, x: f64) -> f64 {
    gamma_shares(a, x).0
}

/// The regularised upper incomplete gamma function Q(a, x) = 1 - P(a, x).
///
/// NaN unless a > 0 and `x` ≥ 0. Source: as [`gamma_lower`].
///
/// # Example
/// ```
/// # use glycemic_core::stats::special::gamma_upper;
/// // Q(1, x) = exp(-x), with all its digits where 1 - P would have none.
/// assert!((gamma_upper(1.0, 50.0) / 1.928_749_847_963_917_8e-22 - 1.0).abs() < 1e-13);
/// ```
pub fn gamma_upper(a: f64, x: f64) -> f64 {
    gamma_shares(a, x).1
}

/// P(a, x) and Q(a, x), each without cancellation where it is the smaller.
pub(crate) fn gamma_shares(a: f64, x: f64) -> (f64, f64) {
    if !(a > 0.0 && x >= 0.0) || a.is_infinite() {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 {
        return (0.0, 1.0);
    }
    if x.is_infinite() {
        return (1.0, 0.0);
    }
    let factor = gamma_factor(a, x);
    if x < a + 1.0 {
        let lower = (factor * gamma_series(a, x)).min(1.0);
        (lower, 1.0 - lower)
    } else {
        let upper = (factor * gamma_fraction(a, x)).min(1.0);
        (1.0 - upper, upper)
    }
}

/// x^a exp(-x) / Γ(a): the density of the logarithm of a gamma variable.
pub(crate) fn gamma_factor(a: f64, x: f64) -> f64 {
    libm::exp(-stirling_error(a) - deviance(a, x)) * (a / (2.0 * PI)).sqrt()
}

fn gamma_series(a: f64, x: f64) -> f64 {
    let mut term = 1.0 / a;
    let mut sum = term;
    for step in 1..MOST_TERMS {
        term *= x / (a + f64::from(step));
        sum += term;
        if term < sum * f64::EPSILON * 0.25 {
            break;
        }
    }
    sum
}

fn gamma_fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / away_from_zero(b);
    let mut fraction = d;
    for step in 1..MOST_TERMS {
        let m = f64::from(step);
        let numerator = -m * (m - a);
        b += 2.0;
        d = 1.0 / away_from_zero(numerator * d + b);
        c = away_from_zero(b + numerator / c);
        fraction *= d * c;
        if (d * c - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction
}

fn away_from_zero(value: f64) -> f64 {
    if value.abs() < TINY { TINY } else { value }
}

/// ln Γ(z + 1) less Stirling's approximation to it (Loader 2000).
fn stirling_error(z: f64) -> f64 {
    if z < 16.0 {
        let half_log_two_pi = 0.918_938_533_204_672_8;
        return libm::lgamma(z + 1.0) - (z + 0.5) * libm::log(z) + z - half_log_two_pi;
    }
    // 1/12z - 1/360z³ + 1/1260z⁵ - 1/1680z⁷ + 1/1188z⁹ - 691/360360z¹¹.
    let s = 1.0 / (z * z);
    (1.0 / 12.0
        - s * (1.0 / 360.0
            - s * (1.0 / 1260.0 - s * (1.0 / 1680.0 - s * (1.0 / 1188.0 - s * 691.0 / 360_360.0)))))
        / z
}

/// z ln(z / m) + m - z: half the deviance of z from its mean m (Loader 2000).
fn deviance(z: f64, m: f64) -> f64 {
    let difference = z - m;
    if difference.abs() >= 0.1 * (z + m) {
        return z * libm::log(z / m) - difference;
    }
    // With v = (z - m) / (z + m): ln(z / m) = 2 (v + v³/3 + v⁵/5 + …).
    let v = difference / (z + m);
    let mut sum = difference * v;
    let mut power = 2.0 * z * v;
    for step in 1..1000 {
        power *= v * v;
        let next = sum + power / f64::from(2 * step + 1);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: I_x(a, 1) = x^a, and I_x(2, 3) = 6x² - 8x³ + 3x⁴.
    #[test]
    fn closed_forms_of_beta() {
        for x in [1e-9, 0.01, 0.3, 0.5, 0.77, 0.999] {
            let exact = x * x * (6.0 - 8.0 * x + 3.0 * x * x);
            assert!((incomplete_beta(x, 2.0, 3.0) / exact - 1.0).abs() < 1e-14, "{x}");
            let exact = libm::pow(x, 7.5);
            assert!((incomplete_beta(x, 7.5, 1.0) / exact - 1.0).abs() < 1e-13, "{x}");
        }
    }

    /// The mirror: I_x(a, b) = 1 - I_(1-x)(b, a).
    #[test]
    fn mirror_of_beta() {
        for (x, a, b) in [(0.2, 3.0, 9.0), (0.5, 40.0, 41.0), (0.9, 0.5, 0.5)] {
            let sum = incomplete_beta(x, a, b) + incomplete_beta(1.0 - x, b, a);
            assert!((sum - 1.0).abs() < 1e-14);
        }
    }

    /// Closed form: Q(3, x) = exp(-x) (1 + x + x²/2).
    #[test]
    fn closed_form_of_gamma() {
        for x in [1e-3, 0.5, 2.0, 4.0, 9.0, 60.0] {
            let exact = libm::exp(-x) * (1.0 + x + x * x / 2.0);
            assert!((gamma_upper(3.0, x) / exact - 1.0).abs() < 1e-13, "{x}");
        }
    }

    #[test]
    fn outside_the_domain() {
        assert!(incomplete_beta(1.5, 1.0, 1.0).is_nan());
        assert!(incomplete_beta(0.5, 0.0, 1.0).is_nan());
        assert!(gamma_lower(-1.0, 1.0).is_nan());
        assert!(gamma_upper(1.0, f64::NAN).is_nan());
        assert_eq!((incomplete_beta(0.0, 2.0, 2.0), incomplete_beta(1.0, 2.0, 2.0)), (0.0, 1.0));
    }
}
