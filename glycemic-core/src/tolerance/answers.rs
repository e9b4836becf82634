//! What a fit answers beside the mean limit: the rise at a dose, safe grams, equivalent loads.

use super::doses::{halve, not_refused};
use super::fit::{Fit, MIN_MEALS, error_sd};
use super::spread::{self, without_noise};
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{chi2_quantile, normal_quantile};
use crate::stats::line::Line;
use crate::stats::moments;

const SAFE: &str = "line plus gamma quantile of the spread, limits of both joined";

/// Grams in which an answer is looked for before it is cut to the doses eaten.
const SEARCHED_G: (f64, f64) = (-100.0, 300.0);

impl Fit {
    /// Mean rise at `grams`, with its interval; only inside the doses eaten.
    pub fn predict(&self, grams: f64) -> Estimate {
        let method = "line of rise on grams";
        let Some(line) = &self.line else { return self.limit_g.clone() };
        let (least, most) = self.doses_g;
        if !(least..=most).contains(&grams) {
            let reason = Reason::plain(
                "outside_doses",
                &format!("doses eaten were {least:.0} to {most:.0} g"),
            );
            return Estimate::missing(self.options.level, method, self.n, MIN_MEALS, reason);
        }
        let half = self.t() * error_sd(line, grams);
        let mean = line.at(grams);
        Estimate::new(mean, mean - half, mean + half, self.options.level, method, self.n)
            .needing(MIN_MEALS)
    }

    /// SD of true rises about a mean rise: the spread without the sensor's noise.
    fn true_sd(&self, mean: f64) -> f64 {
        without_noise(self.spread.at(mean), self.options.noise_sd_mg_dl)
    }

    /// How far above and below the stated quantile of a meal of `grams` its limits lie.
    fn margins(&self, line: &Line, grams: f64, probability: f64, ends: &Limits) -> (f64, f64) {
        let mean = line.at(grams);
        let seen = self.spread.at(mean);
        let at = |factor: f64| {
            let sd = without_noise(seen * factor, self.options.noise_sd_mg_dl);
            spread::quantile(mean, sd, probability)
        };
        let of_mean = self.t() * error_sd(line, grams);
        let join = |of_spread: f64| {
            let both = of_mean * of_mean + of_spread * of_spread;
            (both + 2.0 * ends.correlation * of_mean * of_spread).sqrt()
        };
        (join((at(1.0) - at(ends.low)).abs()), join((at(ends.high) - at(1.0)).abs()))
    }

    /// Limits of the spread over the spread, by the kurtosis of a gamma variable.
    fn spread_limits(&self, line: &Line) -> Limits {
        let mean = line.at(moments::mean(&self.grams).unwrap_or(0.0));
        let shape = spread::shape(mean, self.true_sd(mean));
        let (skewness, excess) = (2.0 / shape.sqrt(), 6.0 / shape);
        // The SD of a sample of n has the relative variance of a normal sample of `as_normal`.
        let as_normal = (2.0 * self.n as f64 / (2.0 + excess) - 2.0).max(1.5);
        let tail = 0.5 * (1.0 - self.options.level);
        let limit = |p: f64| (as_normal / chi2_quantile(p, as_normal)).sqrt();
        let correlation = skewness / (2.0 + excess).sqrt();
        Limits { low: limit(1.0 - tail), high: limit(tail), correlation }
    }

    /// Grams at which a new meal stays under the target with this probability.
    ///
    /// # Errors
    /// A probability outside 0.5 to 0.99.
    pub fn safe_g(&self, probability: f64) -> Result<Estimate, Error> {
        self.safe(probability, SAFE)
    }

    pub(super) fn safe(&self, probability: f64, method: &'static str) -> Result<Estimate, Error> {
        require_within("probability", probability, 0.5, 0.99)?;
        let Some(line) = &self.line else { return Ok(self.limit_g.clone()) };
        if line.slope <= 0.0 {
            return Ok(self.answer(None, (None, None), method));
        }
        let high_rise = |g: f64| {
            let mean = line.at(g);
            spread::quantile(mean, self.true_sd(mean), probability)
        };
        let target = self.options.rise_mg_dl;
        let value = searched(|g| high_rise(g) <= target);
        let limits = self.spread_limits(line);
        let ends = not_refused(
            self.doses_g,
            target,
            |g| high_rise(g) - self.margins(line, g, probability, &limits).0,
            |g| high_rise(g) + self.margins(line, g, probability, &limits).1,
        );
        Ok(self.answer(value, ends, method))
    }

    /// Grams that would have gone with this rise on average: "behaved like about X g".
    ///
    /// Not for a meal that was picked because its rise was extreme: see
    /// [`shrunken`](super::equivalent::shrunken).
    pub fn equivalent_load(&self, rise_mg_dl: f64) -> Estimate {
        self.equivalent(rise_mg_dl, 1.0)
    }

    /// The same for the mean rise of `count` meals.
    pub(super) fn equivalent(&self, rise_mg_dl: f64, count: f64) -> Estimate {
        const METHOD: &str = "inverse prediction from the line, spread of single meals added";
        let Some(line) = &self.line else { return self.limit_g.clone() };
        let p = 0.5 * (1.0 + self.options.level);
        let wider = self.t() / normal_quantile(p);
        let end = |g: f64, p: f64| {
            let (mean, seen) = (line.at(g), self.spread.at(line.at(g)));
            let of_mean = error_sd(line, g);
            let sd = (seen * seen / count + of_mean * of_mean).sqrt();
            mean + wider * (spread::quantile(mean, sd, p) - mean)
        };
        let value = (line.slope > 0.0).then(|| (rise_mg_dl - line.intercept) / line.slope);
        let ends = not_refused(self.doses_g, rise_mg_dl, |g| end(g, 1.0 - p), |g| end(g, p));
        self.answer(value, ends, METHOD)
    }
}

/// Limits of a spread as factors of it, and the correlation of its error with the mean's.
struct Limits {
    low: f64,
    high: f64,
    correlation: f64,
}

/// The grams up to which `holds`, where it does for few grams and does not for many.
fn searched(holds: impl Fn(f64) -> bool) -> Option<f64> {
    (holds(SEARCHED_G.0) && !holds(SEARCHED_G.1)).then(|| halve(SEARCHED_G.0, SEARCHED_G.1, holds))
}
