//! Rise against net carbohydrate, and the grams at which it meets a target.
//!
//! # Method
//! A straight line of the rise on the grams the diary gives, not forced through zero. The spread
//! may grow with the fitted rise: absolute residuals set the weights (two rounds), and the
//! covariance is HC3, which stands even if the weights are wrong; or, where the kinds of food are
//! known, the mean line over the person's own mix of them (see `model`). Replicate meals, the
//! sensor's error and unequal doses are all in that spread. The *mean limit* is where the line
//! meets the target; about half of such meals go over. Its interval goes from the largest dose at
//! which the mean rise is clearly under the target to the smallest at which it is clearly over
//! (inverse prediction, one-sided at each end, since more grams don't give less rise); where there
//! is no such dose among those eaten, that end is open and says so. *Safe grams* are where a new
//! meal stays under the target with the stated probability: the line plus the spread's quantile (a
//! gamma variable, see `spread`), the sensor's noise taken off (its variance in the rises, where
//! known), since the target is for the meal, not for the noise. Its interval is of the same kind;
//! the errors of the mean and of the spread are joined from their own limits, with the
//! correlation that a gamma variable's mean and SD have.
//!
//! Where the sensor's noise was taken off the rises, an error of its estimate moves all of them
//! together: that shift (see [`crate::meals::shift`]) is a further variance of the line.
//!
//! # What it means
//! Diary grams as this person logs them, the person's own mix of foods and times, as this sensor
//! reads, without a walk or exercise in the window and without an earlier meal within three
//! hours. Nothing is claimed outside the doses eaten, and nothing here suggests eating less than
//! the person does.
//!
//! Where the truth lies near the edge of the doses eaten, the values that can be told lie on one side of
//! it: a normal error of 4.9 g about 26.05 g, told only above 25 g, has its median 2.7 g too high. The
//! study of narrow doses finds 2.8; read the bound, or eat a wider span of doses.
//!
//! # Source
//! Inverse prediction: Fieller, JRSS B 1954; 16:175-185; Draper and Smith, Applied Regression
//! Analysis (1998), chapter 3. HC3: MacKinnon and White, J Econometrics 1985; 29:305-325.
//! Limits of a sum from the limits of its parts: Zou GY, Donner A, Stat Med 2008; 27: 1693-1702,
//! from memory. Variance of a sample SD by kurtosis: Cramer H, Mathematical methods of statistics
//! (1946), chapter 27, from memory. Degrees of freedom of a sum of variances: Satterthwaite FE,
//! Biometrics Bull 1946; 2: 110-114.
//!
//! # Care
//! For education, coaching and research; not for dosing insulin or any treatment decision.

use super::doses::{Answer, not_refused};
use super::spread::Spread;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::meals::shift::GROUPS;
use crate::stats::distribution::t_two_sided;
use crate::stats::line::{self, Covariance, Line};
use crate::stats::{moments, sen};

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
    /// Standard deviation that the sensor's noise gives a single rise, mg/dL; 0 if unknown.
    pub noise_sd_mg_dl: f64,
    /// Intercept (mg/dL) and slope (mg/dL per g) by which the rises of all meals move together
    /// where the noise, as estimated, is off by one standard error; zeros if unknown.
    pub noise_shift: [f64; 2],
}

impl Options {
    /// A target with level 0.95, and no noise known.
    pub fn new(rise_mg_dl: f64) -> Options {
        Options { rise_mg_dl, level: 0.95, noise_sd_mg_dl: 0.0, noise_shift: [0.0; 2] }
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
    pub(super) grams: Vec<f64>,
    pub(super) rises: Vec<f64>,
    pub(super) spread: Spread,
    /// Degrees of freedom of the line's covariance.
    pub(super) free: f64,
    /// Student's t at the level, of those degrees.
    t: f64,
    method: &'static str,
}

/// The meals of [`Responses`] that [`fit`] may use: clean, with grams and a rise, not eaten out.
///
/// Meals eaten out carry carbohydrate nobody weighed; they are compared with the fit, not used.
///
/// Returns grams, rises, and the root mean square of the SD that noise gives these rises.
pub fn usable(r: &Responses) -> (Vec<f64>, Vec<f64>, f64) {
    let (grams, rises) = used(r).map(|(_, grams, rise)| (grams, rise)).unzip();
    let sds = used(r).filter_map(|(i, _, _)| r.rows[i].rise_noise_sd_mg_dl);
    let variances: Vec<f64> = sds.map(|sd| sd * sd).collect();
    (grams, rises, moments::mean(&variances).unwrap_or(0.0).sqrt())
}

/// Place, grams and rise of the meals of [`usable`].
pub(super) fn used(r: &Responses) -> impl Iterator<Item = (usize, f64, f64)> + '_ {
    r.meals
        .iter()
        .enumerate()
        .filter(|(i, meal)| r.is_clean(*i) && !meal.is_eaten_out())
        .filter_map(|(i, meal)| {
            let (grams, rise) = meal.net_carbs_g().zip(r.rise(i))?;
            Some((i, grams, rise))
        })
}

/// The [`noise_shift`](Options::noise_shift) of meals: the straight line of their shifts
/// (`rise_noise_shift_mg_dl` of a response) on grams; zeros for fewer than three.
///
/// # Errors
/// Different lengths, or values that are not finite.
pub fn noise_shift(grams: &[f64], shifts_mg_dl: &[f64]) -> Result<[f64; 2], Error> {
    require_same_len("shifts_mg_dl", grams.len(), shifts_mg_dl.len())?;
    require_all_finite("grams", grams)?;
    require_all_finite("shifts_mg_dl", shifts_mg_dl)?;
    let line = line::weighted(grams, shifts_mg_dl, &vec![1.0; grams.len()]);
    Ok(line.map_or([0.0; 2], |l| [l.intercept, l.slope]))
}

/// Fits the rise (mg/dL) of n meals on their net carbohydrate (g).
///
/// Too few meals or doses, or a line that does not rise, are an answer: `limit_g` then has a
/// reason and no value.
///
/// # Errors
/// Different lengths, NaN, negative grams, a target, level or noise out of range.
pub fn fit(grams: &[f64], rises: &[f64], options: Options) -> Result<Fit, Error> {
    check(grams, rises, options)?;
    let mut out = Fit::without_line(grams, rises, options);
    if out.limit_g.reason.is_some() {
        return Ok(out);
    }
    let (line, spread) = weighted_line(grams, rises)?;
    out.set_own_line(line, spread, grams.len() as f64 - 2.0, METHOD);
    Ok(out)
}

const METHOD: &str = "weighted line of rise on grams, HC3, inverse prediction";

pub(super) fn check(grams: &[f64], rises: &[f64], options: Options) -> Result<(), Error> {
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
    for shift in options.noise_shift {
        require_within("noise_shift", shift, -200.0, 200.0)?;
    }
    Ok(())
}

fn distinct_doses(grams: &[f64]) -> usize {
    let mut rounded: Vec<i64> = grams.iter().map(|g| (g / 5.0).round() as i64).collect();
    rounded.sort_unstable();
    rounded.dedup();
    rounded.len()
}

/// A line whose weights follow the spread about it.
pub(super) fn weighted_line(grams: &[f64], rises: &[f64]) -> Result<(Line, Spread), Error> {
    let mut line = line::weighted(grams, rises, &vec![1.0; grams.len()])?;
    let mut spread = spread_about(&line, grams);
    for _ in 0..2 {
        line = line::weighted(grams, rises, &weights(&line, spread, grams))?;
        spread = spread_about(&line, grams);
    }
    Ok((line, spread))
}

pub(super) fn weights(line: &Line, spread: Spread, grams: &[f64]) -> Vec<f64> {
    grams.iter().map(|&g| 1.0 / spread.at(line.at(g))).map(|v| v * v).collect()
}

fn spread_about(line: &Line, grams: &[f64]) -> Spread {
    let fitted: Vec<f64> = grams.iter().map(|&g| line.at(g)).collect();
    Spread::of(&fitted, &line.residuals, 2.0)
}

impl Fit {
    /// A fit that has no line yet, with the reason if there can be none.
    pub(super) fn without_line(grams: &[f64], rises: &[f64], options: Options) -> Fit {
        let least = grams.iter().copied().fold(f64::MAX, f64::min);
        let most = grams.iter().copied().fold(0.0, f64::max);
        let mut out = Fit {
            n: grams.len(),
            limit_g: Estimate::default(),
            options,
            doses_g: (least, most),
            line: None,
            grams: grams.to_vec(),
            rises: rises.to_vec(),
            spread: Spread::default(),
            free: 0.0,
            t: f64::INFINITY,
            method: METHOD,
        };
        let doses = distinct_doses(grams);
        let reason = if out.n < MIN_MEALS {
            let what = "clean meals with grams and a response";
            Some(Reason::count("too_few_meals", what, out.n, MIN_MEALS))
        } else if doses < MIN_DOSES {
            let what = "different doses (to 5 g)";
            Some(Reason::count("too_few_doses", what, doses, MIN_DOSES))
        } else {
            None
        };
        if let Some(reason) = reason {
            out.limit_g = Estimate::missing(options.level, METHOD, out.n, MIN_MEALS, reason);
        }
        out
    }

    /// Takes a line found from these rises: what the noise's error does to all of them is added to
    /// its covariance. The degrees of freedom are those of the sum (Welch and Satterthwaite).
    pub(super) fn set_own_line(
        &mut self,
        mut line: Line,
        spread: Spread,
        free: f64,
        method: &'static str,
    ) {
        let middle = moments::mean(&self.grams).unwrap_or(0.0);
        let own = Line::variance_at(middle, &line.cov_hc3).max(0.0);
        let of_noise = noise_covariance(&self.options);
        let shared = Line::variance_at(middle, &of_noise).max(0.0);
        for (row, more) in line.cov_hc3.iter_mut().zip(of_noise) {
            for (value, more) in row.iter_mut().zip(more) {
                *value += more;
            }
        }
        let sum = own * own / free + shared * shared / (GROUPS - 1) as f64;
        let both = if sum > 0.0 { (own + shared) * (own + shared) / sum } else { free };
        self.set_line(line, spread, both, method);
    }

    /// Takes a line (its `cov_hc3` is the covariance used) and answers with it.
    pub(super) fn set_line(&mut self, line: Line, spread: Spread, free: f64, method: &'static str) {
        self.line = Some(line);
        (self.spread, self.free, self.method) = (spread, free, method);
        self.t = t_two_sided(self.options.level, free);
        self.limit_g = self.limit();
    }

    pub(super) fn t(&self) -> f64 {
        self.t
    }

    fn limit(&self) -> Estimate {
        let Some(line) = &self.line else { return self.limit_g.clone() };
        let target = self.options.rise_mg_dl;
        let half = |g: f64| self.t() * error_sd(line, g);
        let value = (line.slope > 0.0).then(|| (target - line.intercept) / line.slope);
        let ends =
            not_refused(self.doses_g, target, |g| line.at(g) - half(g), |g| line.at(g) + half(g));
        self.answer(value, ends, self.method)
    }

    pub(super) fn answer(
        &self,
        value: Option<f64>,
        ends: (Option<f64>, Option<f64>),
        method: &str,
    ) -> Estimate {
        let clear = self
            .line
            .as_ref()
            .is_some_and(|l| l.slope > self.t() * l.cov_hc3[1][1].max(0.0).sqrt());
        let (doses, level, n) = (self.doses_g, self.options.level, self.n);
        Answer { value, ends, clear, doses, level, method, n }.estimate()
    }

    /// Grams at which the line by Theil and Sen meets the target: a check beside the mean limit that
    /// odd meals hardly move. Only inside the doses eaten; no interval.
    pub fn theil_sen_limit_g(&self) -> Option<f64> {
        let (slope, intercept) = sen::line(&self.grams, &self.rises).ok()??;
        let limit = (self.options.rise_mg_dl - intercept) / slope;
        let inside = slope > 0.0 && (self.doses_g.0..=self.doses_g.1).contains(&limit);
        (self.line.is_some() && inside).then_some(limit)
    }

    /// Grams and rises of the meals used.
    pub fn data(&self) -> (&[f64], &[f64]) {
        (&self.grams, &self.rises)
    }
}

/// Covariance of (intercept, slope) that an error of the estimated noise gives.
pub(super) fn noise_covariance(options: &Options) -> Covariance {
    let [intercept, slope] = options.noise_shift;
    [[intercept * intercept, intercept * slope], [intercept * slope, slope * slope]]
}

/// Standard error of the line at `grams`.
pub(super) fn error_sd(line: &Line, grams: f64) -> f64 {
    Line::variance_at(grams, &line.cov_hc3).max(0.0).sqrt()
}

#[cfg(test)]
#[path = "fit_tests.rs"]
mod tests;
