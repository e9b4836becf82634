//! Equivalent loads of meals that belong together, shrunk towards each other.
//!
//! # Method
//! A meal that was picked for its rise is extreme partly by chance, so its rise alone gives too many
//! grams. In a group named in advance (a tag), what each rise has beyond the mean line is taken as a
//! draw from one distribution; its mean and variance are estimated from the group (moments; the
//! variance as the mean of what is left of a normal error above 0), and each meal is drawn towards
//! the mean by the share of chance in it. Grams: those of the diary plus the shrunken excess over
//! the line's slope.
//!
//! # Source
//! Efron B, Morris C. J Am Stat Assoc 1975; 70: 311-319. Moments: DerSimonian R, Laird N. Control
//! Clin Trials 1986; 7: 177-188.

use super::fit::{Fit, error_sd};
use crate::error::{Error, require_all_finite, require_same_len};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{normal_cdf, t_two_sided};

/// Meals of a group under which nothing is shrunk.
pub const MIN_MEALS_OF_GROUP: usize = 3;

const METHOD: &str = "excess over the line, shrunk towards that of its group, over the slope";

/// Grams that each meal of a group behaved like; the meals were not in the fit.
///
/// Values outside the doses eaten are no bound here but stay missing, with a reason. Fewer than
/// [`MIN_MEALS_OF_GROUP`] meals, or a line that does not rise clearly, are an answer with a reason.
///
/// # Errors
/// Different lengths, or values that are not finite.
///
/// # Example
/// ```
/// # use glycemic_core::tolerance::{Options, equivalent::shrunken, fit};
/// let grams: Vec<f64> = (0..30).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0, 80.0][i % 6]).collect();
/// let rises: Vec<f64> = (0..30).map(|i| grams[i] + [4.0, -4.0, 0.0, 2.0, -2.0][i / 6]).collect();
/// let fit = fit(&grams, &rises, Options::new(35.0))?;
/// // Three meals of 30 g that rose by 48, 50 and 58: all behaved like about 52 g.
/// let found = shrunken(&fit, &[30.0; 3], &[48.0, 50.0, 58.0])?;
/// assert!(found[2].value.unwrap() < 58.0 && found[0].value.unwrap() > 48.0);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn shrunken(fit: &Fit, grams: &[f64], rises_mg_dl: &[f64]) -> Result<Vec<Estimate>, Error> {
    require_same_len("rises_mg_dl", grams.len(), rises_mg_dl.len())?;
    require_all_finite("grams", grams)?;
    require_all_finite("rises_mg_dl", rises_mg_dl)?;
    let level = fit.options.level;
    let all_missing = |reason: Reason| {
        let needed = MIN_MEALS_OF_GROUP;
        Ok(vec![Estimate::missing(level, METHOD, grams.len(), needed, reason); grams.len()])
    };
    let Some(line) = &fit.line else {
        return all_missing(Reason::plain("no_fit", "needs the dose-response"));
    };
    let slope_sd = line.cov_hc3[1][1].max(0.0).sqrt();
    if line.slope <= fit.t() * slope_sd {
        let text = "the rise does not clearly grow with grams in these meals";
        return all_missing(Reason::plain("no_clear_slope", text));
    }
    if grams.len() < MIN_MEALS_OF_GROUP {
        let what = "meals of the group";
        let (had, needed) = (grams.len(), MIN_MEALS_OF_GROUP);
        return all_missing(Reason::count("too_few_meals", what, had, needed));
    }
    let excess: Vec<f64> = grams.iter().zip(rises_mg_dl).map(|(g, r)| r - line.at(*g)).collect();
    // A meal of a group scatters as meals of its own rise do, not of the diary's grams.
    let mean_excess = excess.iter().sum::<f64>() / excess.len() as f64;
    let variances: Vec<f64> =
        grams.iter().map(|g| square(fit.spread.at(line.at(*g) + mean_excess))).collect();
    let group = Group::of(&excess, &variances);
    let t = t_two_sided(level, fit.free.min(excess.len() as f64 - 1.0 + fit.free * 0.5));
    let one = |i: usize| {
        let chance = variances[i] / (variances[i] + group.variance);
        let own = group.mean + (1.0 - chance) * (excess[i] - group.mean);
        let of_line = error_sd(line, grams[i]);
        let variance = group.variance * chance
            + square(chance * group.mean_sd)
            + of_line * of_line
            + square(own / line.slope * slope_sd);
        let grams_like = grams[i] + own / line.slope;
        let half = t * variance.sqrt() / line.slope;
        inside(fit, grams_like, half)
    };
    Ok((0..grams.len()).map(one).collect())
}

fn inside(fit: &Fit, value: f64, half: f64) -> Estimate {
    let (least, most) = fit.doses_g;
    let within = |x: f64| (least..=most).contains(&x);
    let eaten = format!("the doses eaten ({least:.0} to {most:.0} g)");
    let (low, high) = (value - half, value + half);
    let reason = if !within(value) {
        Some(Reason::plain("outside_doses", &format!("the answer lies outside {eaten}")))
    } else if !within(low) || !within(high) {
        Some(Reason::plain("open_interval", &format!("one end lies outside {eaten}")))
    } else {
        None
    };
    Estimate {
        value: Some(value).filter(|v| within(*v)),
        low: Some(low).filter(|l| within(*l)),
        high: Some(high).filter(|h| within(*h)),
        level: fit.options.level,
        method: METHOD.to_string(),
        n: fit.n,
        needed: MIN_MEALS_OF_GROUP,
        reason,
    }
}

fn square(x: f64) -> f64 {
    x * x
}

/// The distribution that the excesses of a group come from.
struct Group {
    mean: f64,
    mean_sd: f64,
    variance: f64,
}

impl Group {
    fn of(excess: &[f64], variances: &[f64]) -> Group {
        let weights: Vec<f64> = variances.iter().map(|v| 1.0 / v).collect();
        let total: f64 = weights.iter().sum();
        let mean = excess.iter().zip(&weights).map(|(e, w)| e * w).sum::<f64>() / total;
        let spread: f64 =
            excess.iter().zip(&weights).map(|(e, w)| w * (e - mean) * (e - mean)).sum();
        let free = excess.len() as f64 - 1.0;
        let squares: f64 = weights.iter().map(|w| w * w).sum();
        let scale = total - squares / total;
        // The moments' answer has an error of about this size, and may be below 0.
        let found = (spread - free) / scale;
        let error = (2.0 * free).sqrt() / scale;
        let variance = mean_above_zero(found, error);
        let again: Vec<f64> = variances.iter().map(|v| 1.0 / (v + variance)).collect();
        let total: f64 = again.iter().sum();
        let mean = excess.iter().zip(&again).map(|(e, w)| e * w).sum::<f64>() / total;
        Group { mean, mean_sd: (1.0 / total).sqrt(), variance }
    }
}

/// Mean of a normal variable given that it is above 0.
fn mean_above_zero(mean: f64, sd: f64) -> f64 {
    let z = mean / sd;
    // Far below 0 the ratio of density to tail is z itself, to first order.
    if z < -6.0 {
        return sd / -z;
    }
    let density = libm::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt();
    mean + sd * density / normal_cdf(z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_above_zero_by_hand() {
        // Half-normal: sqrt(2 / pi).
        assert!((mean_above_zero(0.0, 1.0) - (2.0 / std::f64::consts::PI).sqrt()).abs() < 1e-12);
        assert!((mean_above_zero(10.0, 1.0) - 10.0).abs() < 1e-12);
        assert!((mean_above_zero(-6.0001, 1.0) - mean_above_zero(-5.9999, 1.0)).abs() < 0.01);
    }

    #[test]
    fn a_group_that_differs_by_more_than_chance_is_drawn_together_less() {
        let small = Group::of(&[10.0, 12.0, 8.0], &[25.0; 3]);
        let large = Group::of(&[10.0, 60.0, -40.0], &[25.0; 3]);
        assert!((small.mean - 10.0).abs() < 1e-12 && (large.mean - 10.0).abs() < 1e-12);
        assert!(small.variance < 25.0 && large.variance > 1000.0);
    }
}
