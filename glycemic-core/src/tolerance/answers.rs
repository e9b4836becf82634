//! What a fit answers beside the mean limit: the rise at a dose, safe grams, equivalent loads.

use super::doses::{halve, not_refused};
use super::fit::{Fit, MIN_MEALS, error_sd};
use super::spread::{self, without_noise};
use crate::error::{Error, require_all_finite, require_within};
use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::{chi2_quantile, normal_quantile};
use crate::stats::line::Line;
use crate::stats::moments;

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
        require_within("probability", probability, 0.5, 0.99)?;
        const METHOD: &str = "line plus gamma quantile of the spread, limits of both joined";
        let Some(line) = &self.line else { return Ok(self.limit_g.clone()) };
        if line.slope <= 0.0 {
            return Ok(self.answer(None, (None, None), METHOD));
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
        Ok(self.answer(value, ends, METHOD))
    }

    /// Grams at which a new meal stays under the target for the rise *and* under `peak_mg_dl`
    /// with this probability, over the person's own glucose before meals.
    ///
    /// `baselines_mg_dl` are means before meals, each as likely as the others and not linked with
    /// the rise. The interval allows for the errors of mean and spread as [`safe_g`](Fit::safe_g)
    /// does, not for how few baselines there are. Fewer than [`MIN_MEALS`] baselines, or a peak that
    /// they alone exceed too often, are an answer with a reason.
    ///
    /// # Errors
    /// A probability outside 0.5 to 0.99, a peak outside 1 to 1000 or baselines that are not finite.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::tolerance::{Options, fit};
    /// let grams: Vec<f64> = (0..20).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
    /// let rises: Vec<f64> = grams.iter().map(|g| 5.0 + g).collect();
    /// let fit = fit(&grams, &rises, Options::new(35.0))?;
    /// // From 100 mg/dL a peak of 130 allows a rise of 30, less than the 35 of the target.
    /// let safe = fit.safe_under_peak_g(0.8, 130.0, &[100.0; 10])?;
    /// assert!((safe.value.unwrap() - 25.0).abs() < 1e-3);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn safe_under_peak_g(
        &self,
        probability: f64,
        peak_mg_dl: f64,
        baselines_mg_dl: &[f64],
    ) -> Result<Estimate, Error> {
        require_within("probability", probability, 0.5, 0.99)?;
        require_within("peak_mg_dl", peak_mg_dl, 1.0, 1000.0)?;
        require_all_finite("baselines_mg_dl", baselines_mg_dl)?;
        const METHOD: &str = "as safe grams, over the person's own glucose before meals";
        let Some(line) = &self.line else { return Ok(self.limit_g.clone()) };
        let count = baselines_mg_dl.len();
        let missing =
            |reason| Estimate::missing(self.options.level, METHOD, count, MIN_MEALS, reason);
        if count < MIN_MEALS {
            let what = "meals with glucose before them";
            return Ok(missing(Reason::count("too_few_baselines", what, count, MIN_MEALS)));
        }
        if line.slope <= 0.0 {
            return Ok(self.answer(None, (None, None), METHOD));
        }
        // The chance that both targets are kept if every rise were `shift` higher.
        let kept = |g: f64, shift: f64| {
            let mean = line.at(g);
            let sd = self.true_sd(mean);
            let each = baselines_mg_dl.iter().map(|b| {
                let allowed = self.options.rise_mg_dl.min(peak_mg_dl - b);
                spread::chance(mean, sd, allowed - shift)
            });
            each.sum::<f64>() / count as f64
        };
        let starts_over = baselines_mg_dl.iter().filter(|b| **b >= peak_mg_dl).count();
        if starts_over as f64 >= (1.0 - probability) * count as f64 {
            let text = "glucose before meals is itself too often at or over the peak";
            return Ok(missing(Reason::plain("baseline_over_peak", text)));
        }
        let value = searched(|g| kept(g, 0.0) >= probability);
        let limits = self.spread_limits(line);
        // Signs turned, so that more grams are more and the target is met from below.
        let ends = not_refused(
            self.doses_g,
            -probability,
            |g| -kept(g, -self.margins(line, g, probability, &limits).0),
            |g| -kept(g, self.margins(line, g, probability, &limits).1),
        );
        Ok(self.answer(value, ends, METHOD))
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
