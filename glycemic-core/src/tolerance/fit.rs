//! Rise against net carbohydrate, and the grams at which it meets a target.
//!
//! # Method
//! A straight line of the rise on the grams the diary gives, not forced through zero. The spread
//! may grow with the fitted rise: squared residuals set the weights (two rounds), and the
//! covariance is HC3, which stands even if the weights are wrong. Replicate meals, the sensor's
//! error and unequal doses are all in that spread. The *mean limit* is where the line meets the
//! target; about half of such meals go over. Its interval is the set of grams that a test of
//! "the mean rise here is the target" does not refuse (inverse prediction), cut to the doses
//! eaten: where the set goes on beyond them that end is open and says so. *Safe grams* are where
//! a new meal stays under the target with the stated probability: the line plus the quantile of
//! the standardised residuals times the spread that is left when the sensor's noise is taken off
//! (its variance in the rises, where known), since the target is for the meal, not for the noise;
//! the interval is the percentile bootstrap over
//! meals.
//!
//! # What it means
//! Diary grams as this person logs them, the person's own mix of foods and times, as this sensor
//! reads, without a walk or exercise in the window and without an earlier meal within three
//! hours. Nothing is claimed outside the doses eaten, and nothing here suggests eating less than
//! the person does.
//!
//! # Source
//! Inverse prediction: Fieller, JRSS B 1954; 16:175-185; Draper and Smith, Applied Regression
//! Analysis (1998), chapter 3. HC3: MacKinnon and White, J Econometrics 1985; 29:305-325.
//! Bootstrap: Efron and Tibshirani (1993), chapter 13, from memory.
//!
//! # Care
//! For education, coaching and research; not for dosing insulin or any treatment decision.

use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::stats::line::{self, Line};
use crate::stats::random::Random;
use crate::stats::resample;
use crate::stats::{moments, quantile};

/// Meals under which no limit is given.
pub const MIN_MEALS: usize = 8;
/// Different doses (to 5 g) needed.
pub const MIN_DOSES: usize = 3;

/// Choices for [`fit`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Target: the rise that the meal should not go over, mg/dL.
    pub rise_mg_dl: f64,
    /// Confidence level.
    pub level: f64,
    /// Bootstrap resamples for safe grams.
    pub resamples: usize,
    /// Key of the random streams.
    pub seed: u64,
    /// Standard deviation that the sensor's noise gives a single rise, mg/dL; 0 if unknown.
    pub noise_sd_mg_dl: f64,
}

impl Options {
    /// A target with level 0.95, 500 resamples and seed 1.
    pub fn new(rise_mg_dl: f64) -> Options {
        Options { rise_mg_dl, level: 0.95, resamples: 500, seed: 1, noise_sd_mg_dl: 0.0 }
    }
}

/// A fitted line of rise on grams, with the answers it gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Meals used.
    pub n: usize,
    /// Grams at which the mean rise meets the target.
    pub limit_g: Estimate,
    /// The choices.
    pub options: Options,
    /// Least and most grams eaten in the meals used.
    pub doses_g: (f64, f64),
    /// The line, if there was one.
    pub line: Option<Line>,
    grams: Vec<f64>,
    rises: Vec<f64>,
    spread: Spread,
}

/// Residual SD as a straight line of the fitted rise, never under a quarter of the overall one.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
struct Spread {
    base: f64,
    per_mg_dl: f64,
    least: f64,
}

impl Spread {
    /// The spread without the sensor's noise, at least a quarter of what is seen.
    fn without_noise(&self, fitted: f64, noise_sd: f64) -> f64 {
        let seen = self.at(fitted);
        (seen * seen - noise_sd * noise_sd).max(seen * seen / 16.0).sqrt()
    }

    fn at(&self, fitted: f64) -> f64 {
        // Exact data would divide by zero.
        (self.base + self.per_mg_dl * fitted).max(self.least).max(1e-6)
    }
}

/// The meals of [`Responses`] that [`fit`] may use: clean, with grams and a rise, not eaten out.
///
/// Meals eaten out carry carbohydrate nobody weighed; they are compared with the fit, not used.
///
/// Returns grams, rises, and the root mean square of the SD that noise gives these rises.
pub fn usable(r: &Responses) -> (Vec<f64>, Vec<f64>, f64) {
    let mut grams = Vec::new();
    let mut rises = Vec::new();
    let mut variances = Vec::new();
    for (i, meal) in r.meals.iter().enumerate() {
        let out = meal.tags.iter().any(|t| t == "eating-out");
        if let (Some(g), Some(rise), true, false) =
            (meal.net_carbs_g(), r.rise(i), r.is_clean(i), out)
        {
            grams.push(g);
            rises.push(rise);
            variances.extend(r.rows[i].rise_noise_sd_mg_dl.map(|sd| sd * sd));
        }
    }
    (grams, rises, moments::mean(&variances).unwrap_or(0.0).sqrt())
}

/// Fits the rise (mg/dL) of n meals on their net carbohydrate (g).
///
/// Too few meals or doses, or a line that does not rise, are an answer: `limit_g` then has a
/// reason and no value.
///
/// # Errors
/// Different lengths, NaN, negative grams, a target, level or number of resamples out of range.
pub fn fit(grams: &[f64], rises: &[f64], options: Options) -> Result<Fit, Error> {
    check(grams, rises, options)?;
    let doses_g =
        (grams.iter().copied().fold(f64::MAX, f64::min), grams.iter().copied().fold(0.0, f64::max));
    let mut out = Fit {
        n: grams.len(),
        limit_g: Estimate::default(),
        options,
        doses_g,
        line: None,
        grams: grams.to_vec(),
        rises: rises.to_vec(),
        spread: Spread::default(),
    };
    let missing = |reason| Estimate::missing(options.level, METHOD, grams.len(), MIN_MEALS, reason);
    if grams.len() < MIN_MEALS {
        let what = "clean meals with grams and a response";
        out.limit_g = missing(Reason::count("too_few_meals", what, grams.len(), MIN_MEALS));
        return Ok(out);
    }
    let doses = distinct_doses(grams);
    if doses < MIN_DOSES {
        out.limit_g =
            missing(Reason::count("too_few_doses", "different doses (to 5 g)", doses, MIN_DOSES));
        return Ok(out);
    }
    let (line, spread) = weighted_line(grams, rises)?;
    out.limit_g = limit(&line, &out, options);
    out.line = Some(line);
    out.spread = spread;
    Ok(out)
}

const METHOD: &str = "weighted line of rise on grams, HC3, inverse prediction";

fn check(grams: &[f64], rises: &[f64], options: Options) -> Result<(), Error> {
    require_same_len("rises", grams.len(), rises.len())?;
    require_all_finite("grams", grams)?;
    require_all_finite("rises", rises)?;
    if let Some(i) = grams.iter().position(|g| *g < 0.0) {
        return Err(Error::OutOfRange {
            name: "grams",
            index: Some(i),
            value: grams[i],
            low: 0.0,
            high: 1000.0,
        });
    }
    require_within("rise_mg_dl", options.rise_mg_dl, 1.0, 400.0)?;
    require_within("level", options.level, 0.5, 0.999)?;
    require_within("noise_sd_mg_dl", options.noise_sd_mg_dl, 0.0, 200.0)?;
    require_within("resamples", options.resamples as f64, 50.0, 1e6)
}

fn distinct_doses(grams: &[f64]) -> usize {
    let mut rounded: Vec<i64> = grams.iter().map(|g| (g / 5.0).round() as i64).collect();
    rounded.sort_unstable();
    rounded.dedup();
    rounded.len()
}

fn weighted_line(grams: &[f64], rises: &[f64]) -> Result<(Line, Spread), Error> {
    let mut line = line::weighted(grams, rises, &vec![1.0; grams.len()])?;
    let mut spread = spread_of(&line, grams);
    for _ in 0..2 {
        let w: Vec<f64> =
            grams.iter().map(|&g| 1.0 / spread.at(line.at(g))).map(|v| v * v).collect();
        line = line::weighted(grams, rises, &w)?;
        spread = spread_of(&line, grams);
    }
    Ok((line, spread))
}

/// Absolute residuals on the fitted rise (Glejser 1969): mean |e| times sqrt(pi / 2) is the SD.
fn spread_of(line: &Line, grams: &[f64]) -> Spread {
    let n = grams.len() as f64;
    let absolute: Vec<f64> =
        line.residuals.iter().map(|e| e.abs() * (n / (n - 2.0)).sqrt()).collect();
    let fitted: Vec<f64> = grams.iter().map(|&g| line.at(g)).collect();
    let overall = absolute.iter().sum::<f64>() / n * HALF_PI_ROOT;
    let flat = Spread { base: overall, per_mg_dl: 0.0, least: overall / 4.0 };
    match line::weighted(&fitted, &absolute, &vec![1.0; grams.len()]) {
        Ok(s) if s.slope > 0.0 => Spread {
            base: s.intercept * HALF_PI_ROOT,
            per_mg_dl: s.slope * HALF_PI_ROOT,
            least: overall / 4.0,
        },
        _ => flat,
    }
}

/// Square root of pi / 2.
const HALF_PI_ROOT: f64 = 1.253_314_137_315_500_3;

fn limit(line: &Line, fit: &Fit, options: Options) -> Estimate {
    let set = line::inverse(line, options.rise_mg_dl, options.level, &line.cov_hc3);
    let rising = line.slope > 0.0 && set.set != line::Set::Everything && set.ruled_out.is_none();
    if !rising {
        let reason = Reason::plain(
            "no_clear_slope",
            "the rise does not clearly grow with grams in these meals",
        );
        return Estimate::missing(options.level, METHOD, fit.n, MIN_MEALS, reason);
    }
    within_doses(set.value, set.low, set.high, fit.doses_g, options.level, METHOD, fit.n)
}

/// Cuts an estimate to the doses eaten: an end outside them is open, a value outside is a bound.
fn within_doses(
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    doses: (f64, f64),
    level: f64,
    method: &str,
    n: usize,
) -> Estimate {
    let low = low.filter(|l| *l >= doses.0);
    let high = high.filter(|h| *h <= doses.1);
    let value = value.filter(|v| (doses.0..=doses.1).contains(v));
    // A bound that lies beyond the doses on the wrong side says nothing.
    let low = low.filter(|l| *l <= doses.1);
    let high = high.filter(|h| *h >= doses.0);
    let reason = if value.is_none() {
        Some(Reason::plain(
            "outside_doses",
            &format!(
                "the answer lies outside the doses eaten ({:.0} to {:.0} g)",
                doses.0, doses.1
            ),
        ))
    } else if low.is_none() || high.is_none() {
        Some(Reason::plain(
            "open_interval",
            &format!("one end lies outside the doses eaten ({:.0} to {:.0} g)", doses.0, doses.1),
        ))
    } else {
        None
    };
    Estimate { value, low, high, level, method: method.to_string(), n, needed: MIN_MEALS, reason }
}

impl Fit {
    /// Mean rise at `grams`, with its interval; only inside the doses eaten.
    pub fn predict(&self, grams: f64) -> Estimate {
        let method = "weighted line of rise on grams, HC3";
        let Some(line) = &self.line else { return self.limit_g.clone() };
        let (least, most) = self.doses_g;
        if !(least..=most).contains(&grams) {
            let reason = Reason::plain(
                "outside_doses",
                &format!("doses eaten were {least:.0} to {most:.0} g"),
            );
            return Estimate::missing(self.options.level, method, self.n, MIN_MEALS, reason);
        }
        let t = crate::stats::distribution::t_two_sided(self.options.level, self.n as f64 - 2.0);
        let half = t * Line::variance_at(grams, &line.cov_hc3).max(0.0).sqrt();
        let mean = line.at(grams);
        Estimate::new(mean, mean - half, mean + half, self.options.level, method, self.n)
            .needing(MIN_MEALS)
    }

    /// Grams at which a new meal stays under the target with this probability.
    ///
    /// # Errors
    /// A probability outside 0.5 to 0.99.
    pub fn safe_g(&self, probability: f64) -> Result<Estimate, Error> {
        require_within("probability", probability, 0.5, 0.99)?;
        const METHOD: &str = "line plus residual quantile, percentile bootstrap over meals";
        let Some(line) = &self.line else { return Ok(self.limit_g.clone()) };
        if self.limit_g.reason.as_ref().is_some_and(|r| r.code == "no_clear_slope") {
            return Ok(self.limit_g.clone());
        }
        let value = safe(line, self.spread, &self.grams, &self.rises, probability, self.options);
        let draws = resample::each(self.options.resamples, |k| {
            let mut random = Random::keyed(self.options.seed, 0, k);
            let rows = random.resample_indices(self.n);
            let g: Vec<f64> = rows.iter().map(|&i| self.grams[i]).collect();
            let r: Vec<f64> = rows.iter().map(|&i| self.rises[i]).collect();
            // A resample without spread in grams says nothing about the slope; count it as open.
            match weighted_line(&g, &r) {
                Ok((l, s)) if l.slope > 0.0 => {
                    safe(&l, s, &g, &r, probability, self.options).unwrap_or(f64::NEG_INFINITY)
                }
                _ => f64::NEG_INFINITY,
            }
        });
        let sorted = quantile::sorted(&draws);
        let tail = (1.0 - self.options.level) / 2.0;
        let end = |p: f64| {
            sorted.get(((sorted.len() as f64 * p) as usize).min(sorted.len() - 1)).copied()
        };
        Ok(within_doses(
            value,
            end(tail),
            end(1.0 - tail),
            self.doses_g,
            self.options.level,
            METHOD,
            self.n,
        ))
    }

    /// Grams that would have gone with this rise on average: "behaved like about X g".
    pub fn equivalent_load(&self, rise_mg_dl: f64) -> Estimate {
        const METHOD: &str =
            "inverse prediction of one meal from the line, spread of single meals added";
        let Some(line) = &self.line else { return self.limit_g.clone() };
        let sd = self.spread.at(rise_mg_dl);
        let set =
            line::inverse_reading(line, rise_mg_dl, self.options.level, &line.cov_hc3, sd * sd);
        if line.slope <= 0.0 || set.set == line::Set::Everything || set.ruled_out.is_some() {
            let reason = Reason::plain(
                "no_clear_slope",
                "the rise does not clearly grow with grams in these meals",
            );
            return Estimate::missing(self.options.level, METHOD, self.n, MIN_MEALS, reason);
        }
        within_doses(set.value, set.low, set.high, self.doses_g, self.options.level, METHOD, self.n)
    }

    /// Grams and rises of the meals used.
    pub fn data(&self) -> (&[f64], &[f64]) {
        (&self.grams, &self.rises)
    }
}

/// Where line + q x spread meets the target, q the quantile of the standardised residuals.
fn safe(
    line: &Line,
    spread: Spread,
    grams: &[f64],
    rises: &[f64],
    probability: f64,
    options: Options,
) -> Option<f64> {
    let standard: Vec<f64> = grams
        .iter()
        .zip(rises)
        .zip(&line.leverage)
        .map(|((&g, &r), h)| {
            (r - line.at(g)) / (spread.at(line.at(g)) * (1.0 - h).max(0.05).sqrt())
        })
        .collect();
    let q = quantile::type7(&quantile::sorted(&standard), probability)?;
    let over = |g: f64| {
        line.at(g) + q * spread.without_noise(line.at(g), options.noise_sd_mg_dl)
            - options.rise_mg_dl
    };
    // Rising in g, since slope and spread do: halve.
    let (mut low, mut high) = (-100.0, 300.0);
    if over(low) > 0.0 || over(high) < 0.0 {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if over(middle) > 0.0 { high = middle } else { low = middle }
    }
    Some(low)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meals(n: usize, slope: f64, noise: f64) -> (Vec<f64>, Vec<f64>) {
        let mut random = Random::keyed(7, 0, 0);
        let grams: Vec<f64> = (0..n).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
        let rises = grams.iter().map(|g| 5.0 + slope * g + noise * random.normal()).collect();
        (grams, rises)
    }

    #[test]
    fn exact_line_gives_the_exact_limit() {
        let (g, r) = meals(15, 1.0, 0.0);
        let fit = fit(&g, &r, Options::new(35.0)).unwrap();
        assert!((fit.limit_g.value.unwrap() - 30.0).abs() < 1e-6);
        assert!((fit.safe_g(0.8).unwrap().value.unwrap() - 30.0).abs() < 1e-3);
        assert!((fit.predict(45.0).value.unwrap() - 50.0).abs() < 1e-6);
    }

    #[test]
    fn adding_meals_brings_the_answer_and_taking_them_away_removes_it() {
        for n in 0..20 {
            let (g, r) = meals(n, 1.0, 5.0);
            let fit = fit(&g, &r, Options::new(35.0)).unwrap();
            assert_eq!(fit.limit_g.estimable(), n >= MIN_MEALS, "{n} meals: {:?}", fit.limit_g);
            if n < MIN_MEALS {
                let reason = fit.limit_g.reason.unwrap();
                assert_eq!((reason.had, reason.needed), (Some(n as f64), Some(8.0)));
            }
        }
    }

    #[test]
    fn nothing_is_claimed_outside_the_doses_eaten() {
        let (g, r) = meals(20, 0.3, 4.0);
        let fit = fit(&g, &r, Options::new(60.0)).unwrap();
        assert_eq!(fit.limit_g.value, None);
        assert_eq!(fit.limit_g.reason.clone().unwrap().code, "outside_doses");
        assert!(fit.limit_g.high.is_none());
        assert!(fit.predict(100.0).value.is_none());
    }

    #[test]
    fn flat_meals_have_no_limit() {
        let (g, r) = meals(20, 0.0, 8.0);
        let fit = fit(&g, &r, Options::new(10.0)).unwrap();
        assert_eq!(fit.limit_g.reason.unwrap().code, "no_clear_slope");
    }

    #[test]
    fn a_nan_is_refused() {
        assert!(fit(&[10.0, f64::NAN], &[1.0, 2.0], Options::new(30.0)).is_err());
        assert!(fit(&[10.0, 20.0], &[1.0, 2.0], Options::new(f64::NAN)).is_err());
    }
}
