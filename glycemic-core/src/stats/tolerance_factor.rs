//! Noncentral t, and exact factors for limits of agreement.
//!
//! # Method
//! The share of the noncentral t below t is the mean of Φ(t s - δ) over s, the square root of
//! chi-squared over its degrees of freedom; it is integrated with panels around where Φ turns.
//! A single limit, mean + z SD, lies with confidence p below mean + k SD for
//! k = t'(p; n-1, z sqrt(n)) / sqrt(n). A pair of limits that hold the central share P together
//! has the two-sided normal tolerance factor.
//!
//! # Units
//! None.
//!
//! # Source
//! Carkeet A. Optom Vis Sci 2015; 92: e71-e80. Noncentral t: Johnson NL, Welch BL. Biometrika
//! 1940; 31: 362-389. Two-sided factor: Wald A, Wolfowitz J. Ann Math Stat 1946; 17: 208-215,
//! in the exact form of the ISO 16269-6 tables.

use super::distribution::{chi2_cdf, normal_cdf, normal_quantile};
use super::integrate::{nodes, root};
use std::f64::consts::PI;

/// Panels of a smooth piece of the integrand.
const PANELS: usize = 12;

/// The share of the noncentral t distribution with `df` degrees of freedom and noncentrality
/// `delta` below `t`.
///
/// NaN outside the domain (NaN, df not positive). Error below 1e-11 from 1 degree of freedom on.
///
/// # Example
/// ```
/// # use glycemic_core::stats::tolerance_factor::noncentral_t_cdf;
/// // Below 0 lie Φ(-δ), whatever the degrees of freedom.
/// assert!((noncentral_t_cdf(0.0, 7.0, 1.0) - 0.158_655_253_931_457_05).abs() < 1e-13);
/// ```
pub fn noncentral_t_cdf(t: f64, df: f64, delta: f64) -> f64 {
    if t.is_nan() || delta.is_nan() || !(df > 0.0 && df.is_finite()) {
        return f64::NAN;
    }
    let spread = 1.0 / (2.0 * df).sqrt();
    let (low, high) = ((1.0 - 12.0 * spread).max(0.0), 1.0 + 14.0 * spread);
    let turn = delta / t;
    let width = 9.0 / t.abs();
    let mut cuts = vec![low, high];
    // Near 0 the density is a power of s, not a polynomial, unless df is a whole number.
    let near_0 = [1e-3, 1e-2, 1e-1];
    let turns = [turn - width, turn, turn + width];
    cuts.extend(turns.into_iter().chain(near_0).filter(|c| *c > low && *c < high));
    cuts.sort_unstable_by(f64::total_cmp);
    let (half, rest) = (0.5 * df, stirling_rest(0.5 * df));
    // Density of s, 2 (df/2)^(df/2) / Γ(df/2) s^(df-1) exp(-df s²/2), about s = 1: for many
    // degrees of freedom its factors are huge and nearly cancel.
    let scale = std::f64::consts::LN_2 + 0.5 * libm::log(half / (2.0 * PI)) - rest;
    let density = |s: f64| {
        let u = s - 1.0;
        let log = if u.abs() < 0.5 { libm::log1p(u) } else { libm::log(s) };
        libm::exp(scale - half * (2.0 * (u - log) + u * u) - log)
    };
    let piece = |w: &[f64]| -> f64 {
        nodes(w[0], w[1], PANELS)
            .iter()
            .map(|&(s, weight)| weight * density(s) * normal_cdf(t * s - delta))
            .sum()
    };
    cuts.windows(2).map(piece).sum::<f64>().clamp(0.0, 1.0)
}

/// ln Γ(a) less Stirling's (a - 1/2) ln a - a + ln(2π)/2.
fn stirling_rest(a: f64) -> f64 {
    if a < 15.0 {
        return libm::lgamma(a) - ((a - 0.5) * libm::log(a) - a + 0.5 * libm::log(2.0 * PI));
    }
    let square = a * a;
    (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - 1.0 / (1680.0 * square)) / square) / square) / a
}

/// The value below which the share `p` of the noncentral t distribution lies; NaN outside the
/// domain, p of 0 and 1 included.
///
/// # Example
/// ```
/// # use glycemic_core::stats::tolerance_factor::noncentral_t_quantile;
/// // Without noncentrality it is Student's t: 2.228 for 10 degrees of freedom.
/// assert!((noncentral_t_quantile(0.975, 10.0, 0.0) - 2.228_138_851_986_274).abs() < 1e-9);
/// ```
pub fn noncentral_t_quantile(p: f64, df: f64, delta: f64) -> f64 {
    let inside = p > 0.0 && p < 1.0 && df > 0.0 && df.is_finite() && delta.is_finite();
    if !inside {
        return f64::NAN;
    }
    let off = |t: f64| noncentral_t_cdf(t, df, delta) - p;
    let mut reach = delta.abs() + 2.0;
    while (off(-reach) > 0.0 || off(reach) < 0.0) && reach < 1e12 {
        reach *= 2.0;
    }
    root(-reach, reach, off).unwrap_or(f64::NAN)
}

/// k for which mean + k SD of `n` values lies above (mean + z SD of all) with confidence `p`.
///
/// NaN for fewer than two values.
///
/// # Example
/// ```
/// # use glycemic_core::stats::tolerance_factor::single_limit;
/// // The upper 95 % limit of 20 differences: 1.96 SD, up to 3.01 SD at 97.5 %.
/// assert!((single_limit(20, 1.96, 0.975) - 3.0141).abs() < 2e-4);
/// ```
pub fn single_limit(n: usize, z: f64, p: f64) -> f64 {
    if n < 2 {
        return f64::NAN;
    }
    let root_n = (n as f64).sqrt();
    noncentral_t_quantile(p, n as f64 - 1.0, z * root_n) / root_n
}

/// k for which mean -/+ k SD of `n` values holds at least the share `content` of all values
/// with confidence `p`.
///
/// NaN for fewer than two values, or shares that are not between 0 and 1.
///
/// # Example
/// ```
/// # use glycemic_core::stats::tolerance_factor::pair_of_limits;
/// // The textbook factor for 95 % of a population with 95 % confidence from 10 values.
/// assert!((pair_of_limits(10, 0.95, 0.95) - 3.3934).abs() < 5e-5);
/// ```
pub fn pair_of_limits(n: usize, content: f64, p: f64) -> f64 {
    let open = |share: f64| share > 0.0 && share < 1.0;
    if n < 2 || !open(content) || !open(p) {
        return f64::NAN;
    }
    let (size, df) = (n as f64, n as f64 - 1.0);
    // The mean lies x SD off with density sqrt(n) φ(sqrt(n) x); then the half width must be
    // `reach` SD at least.
    let mean_off: Vec<(f64, f64)> = nodes(0.0, 10.0 / size.sqrt(), PANELS)
        .iter()
        .map(|&(x, w)| (reach(x, content), w * 2.0 * density(size.sqrt() * x) * size.sqrt()))
        .collect();
    let confidence = |k: f64| -> f64 {
        let at = |&(r, w): &(f64, f64)| w * (1.0 - chi2_cdf(df * r * r / (k * k), df));
        mean_off.iter().map(at).sum()
    };
    root(1e-3, 1e5, |k| confidence(k) - p).unwrap_or(f64::NAN)
}

/// R with Φ(x + R) - Φ(x - R) = `content`.
fn reach(x: f64, content: f64) -> f64 {
    let high = x + normal_quantile(0.5 * (1.0 + content));
    root(0.0, high + 1.0, |r| normal_cdf(x + r) - normal_cdf(x - r) - content).unwrap_or(high)
}

fn density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / (2.0 * PI).sqrt()
}

#[cfg(test)]
#[path = "tolerance_factor_tests.rs"]
mod tests;
