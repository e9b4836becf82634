//! The dose-response with what is known of each meal: kind of food and time of day.
//!
//! # Method
//! The rise on grams, with a slope of its own for each kind of food and each part of the day, both
//! shrunk towards the common slope as far as the data say (restricted likelihood; weights from the
//! plain line's spread). The answers are for the person's own mix: slopes are averaged over all
//! meals of the diary that are not eaten out or snacks, whether or not their rise could be used. So
//! a few meals that happened to be of a quick kind do not move the limit, which is what the
//! adjusting is for; *what* is estimated stays the same as for the plain line. The mix is that of this
//! diary (see *What it means*). The spread of single meals is that about the mean line, so
//! kinds and times count in it.
//!
//! Limits of one kind or one part of the day use its own slope and the spread that is left, and
//! claim nothing outside the doses eaten of it. How far sorts differ decides how far a slope of its own
//! is shrunk, and a handful of sorts tell that badly: there the answer is averaged over what the
//! likelihood leaves open (see `pooling`). In the mean over all sorts it hardly counts.
//!
//! # What it means
//! The answers are for the mix of foods in this diary, as any standardised figure is for its stated mix.
//! That a person may eat otherwise in other weeks is not in the interval; the limits of single kinds show
//! how much it could matter.
//!
//! # Few sorts
//! With one kind only, fewer than 12 meals, or exact data, it is the plain line; kinds and times then
//! have no limit of their own but a reason.
//!
//! # Not here
//! Protein and fat: in simulated trials they made the interval one part in a hundred narrower and few
//! meals bear few terms. They, fibre, a walk and glucose before the meal stand beside the model, each
//! alone: see [`super::terms`]. The rise is never regressed on the noisy baseline it was subtracted
//! from.
//!
//! # Source
//! Partial pooling: see [`crate::stats::mixed`]. Averaging over a stated mix (standardisation): Lane
//! PW, Nelder JA. Biometrics 1982; 38: 613-621.

use super::fit::{self, Fit, Options, noise_covariance, weighted_line, weights};
use super::layout::{Layout, line_of};
use super::pooling::averaged;
use super::saturating::Saturating;
use super::spread::Spread;
use crate::error::Error;
use crate::estimate::{Estimate, Reason};
use crate::meals::{Meal, Responses};
use crate::stats::line::Line;
use crate::stats::mixed::{Mixed, reml_off_zero};
use crate::stats::moments;

/// Tags that say a kind of food; the first of them on a meal counts.
pub const KINDS: &[&str] =
    &["grain", "legume", "dairy", "fruit", "sweet", "vegetable", "meat", "fish", "egg", "drink"];

/// Parts of the day: name, and the minute of the local day before which it ends.
pub const TIMES: &[(&str, f64)] = &[("breakfast", 630.0), ("midday", 960.0), ("evening", 1440.0)];

/// Meals of one kind or one part of the day under which it has no limit of its own.
pub const MIN_MEALS_OF_PART: usize = 4;

/// Meals under which kinds and times are left out: with fewer the adjusted interval was too narrow in
/// simulated trials, the plain line's was not.
pub const MIN_MEALS_WITH_SORTS: usize = 12;

/// What a meal is: the kind of food and the part of the day, where known.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Sort {
    /// One of [`KINDS`].
    pub kind: Option<String>,
    /// One of the names in [`TIMES`].
    pub time: Option<&'static str>,
}

impl Sort {
    /// The sort of a meal that starts at this minute of the local day.
    pub fn of(meal: &Meal, minute_of_day: Option<f64>) -> Sort {
        let kind = meal.tags.iter().find(|t| KINDS.contains(&t.as_str())).cloned();
        let time = minute_of_day.and_then(|m| TIMES.iter().find(|(_, end)| m < *end));
        Sort { kind, time: time.map(|(name, _)| *name) }
    }
}

/// A meal the model may use.
#[derive(Clone, Debug, PartialEq)]
pub struct MealPoint {
    /// Net carbohydrate by the diary, g.
    pub net_carbs_g: f64,
    /// Rise, mg/dL.
    pub rise_mg_dl: f64,
    /// What it is.
    pub sort: Sort,
}

/// The meals of a diary, sorted for [`fit_meals`].
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Points {
    /// Meals to fit, by the rule of [`usable`](super::fit::usable).
    pub meals: Vec<MealPoint>,
    /// Their places in the responses.
    pub places: Vec<usize>,
    /// The person's own mix: every meal not eaten out and not a snack.
    pub mix: Vec<Sort>,
    /// Root mean square of the SD that the sensor's noise gives these rises, mg/dL.
    pub noise_sd_mg_dl: f64,
    /// For [`Options::noise_shift`].
    pub noise_shift: [f64; 2],
}

impl Points {
    /// `options` with what the sensor's noise does to these rises.
    pub fn told(&self, options: Options) -> Options {
        let (noise_sd_mg_dl, noise_shift) = (self.noise_sd_mg_dl, self.noise_shift);
        Options { noise_sd_mg_dl, noise_shift, ..options }
    }
}

/// The meals of [`Responses`] for [`fit_meals`]; `minute_of_day` gives the minute of the local day of
/// an instant, where the clock is known.
pub fn points(r: &Responses, minute_of_day: impl Fn(i64) -> Option<f64>) -> Points {
    let has = |meal: &Meal, tag: &str| meal.tags.iter().any(|t| t == tag);
    let mut out = Points { noise_sd_mg_dl: fit::usable(r).2, ..Points::default() };
    let mut shifts = Vec::new();
    for meal in r.meals.iter().filter(|m| !m.is_eaten_out() && !has(m, "snack")) {
        out.mix.push(Sort::of(meal, minute_of_day(meal.time_ms)));
    }
    for (i, net_carbs_g, rise_mg_dl) in fit::used(r) {
        let sort = Sort::of(&r.meals[i], minute_of_day(r.meals[i].time_ms));
        out.meals.push(MealPoint { net_carbs_g, rise_mg_dl, sort });
        out.places.push(i);
        let shift = r.rows[i].rise_noise_shift_mg_dl;
        shifts.extend(shift.map(|s| (net_carbs_g, s)));
    }
    let (grams, shifts): (Vec<f64>, Vec<f64>) = shifts.into_iter().unzip();
    out.noise_shift = fit::noise_shift(&grams, &shifts).unwrap_or_default();
    out
}

/// The fit over the person's own mix, with the fits of kinds and parts of the day.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// Over the person's own mix.
    pub fit: Fit,
    /// The plain line of the same meals.
    pub plain: Fit,
    /// Each kind of food eaten, in the order of [`KINDS`].
    pub kinds: Vec<Part>,
    /// Each part of the day, in the order of [`TIMES`].
    pub times: Vec<Part>,
    /// Spread of single meals when kind and time are known.
    pub(super) left: Spread,
    /// Degrees of freedom of the slopes.
    pub(super) free: f64,
    fitted: Option<(Mixed, Layout)>,
    /// The same, averaged over how far sorts may differ: for the limits of single sorts.
    of_parts: Option<Mixed>,
}

/// One kind of food or one part of the day.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its name.
    pub name: String,
    /// Meals of it that were used.
    pub meals: usize,
    /// Its fit, or why it has none.
    pub fit: Result<Fit, Reason>,
}

impl Part {
    /// Grams at which the mean rise of this part meets the target.
    pub fn limit_g(&self, level: f64) -> Estimate {
        match &self.fit {
            Ok(fit) => fit.limit_g.clone(),
            Err(reason) => {
                Estimate::missing(level, METHOD, self.meals, MIN_MEALS_OF_PART, reason.clone())
            }
        }
    }
}

const METHOD: &str = "slopes by kind and time of day, shrunk, over the own mix, inverse prediction";

/// Fits the meals with their kinds and times; `mix` is the person's own mix, which the answers are
/// averaged over (empty: that of `meals`).
///
/// Too few meals or doses, or a line that does not rise, are an answer: see
/// [`fit`](super::fit::fit).
///
/// # Errors
/// As [`fit`](super::fit::fit).
///
/// # Example
/// ```
/// # use glycemic_core::tolerance::{Options, model::{MealPoint, Sort, fit_meals}};
/// // Grain raises by 1.2 mg/dL a gram, legumes by 0.6, give or take 2; half of the meals are each.
/// let meals: Vec<MealPoint> = (0..24)
///     .map(|i| {
///         let (kind, slope) = if i % 2 == 0 { ("grain", 1.2) } else { ("legume", 0.6) };
///         let net_carbs_g = [10.0, 20.0, 30.0, 45.0, 60.0, 70.0][i / 2 % 6];
///         let off = [2.0, -2.0, -2.0, 2.0, 0.0][i % 5];
///         let sort = Sort { kind: Some(kind.into()), time: None };
///         MealPoint { net_carbs_g, rise_mg_dl: slope * net_carbs_g + off, sort }
///     })
///     .collect();
/// let model = fit_meals(&meals, &[], Options::new(27.0))?;
/// assert!((model.fit.limit_g.value.unwrap() - 30.0).abs() < 1.0);
/// assert!((model.kinds[0].limit_g(0.95).value.unwrap() - 22.5).abs() < 1.5);
/// let width = |e: &glycemic_core::Estimate| e.high.unwrap() - e.low.unwrap();
/// // Knowing the kinds makes the answer for the same mix surer.
/// assert!(width(&model.fit.limit_g) < width(&model.plain.limit_g));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn fit_meals(meals: &[MealPoint], mix: &[Sort], options: Options) -> Result<Model, Error> {
    let mut out = pooled(meals, mix, options)?;
    if let Some((_, layout)) = &out.fitted {
        out.of_parts = model_of_parts(meals, layout)?;
    }
    out.add_parts(meals, mix);
    Ok(out)
}

fn model_of_parts(meals: &[MealPoint], layout: &Layout) -> Result<Option<Mixed>, Error> {
    let grams: Vec<f64> = meals.iter().map(|m| m.net_carbs_g).collect();
    let rises: Vec<f64> = meals.iter().map(|m| m.rise_mg_dl).collect();
    let (line, spread) = weighted_line(&grams, &rises)?;
    let raw = weights(&line, spread, &grams);
    // Mean 1, so that ratios of variances are numbers without a unit, as the grid takes them.
    let mean = moments::mean(&raw).unwrap_or(1.0);
    let w: Vec<f64> = raw.iter().map(|w| w / mean).collect();
    let fixed = [vec![1.0; grams.len()], grams];
    averaged(&rises, &w, &fixed, &layout.columns(meals), line.slope * layout.unit_g)
}

/// The model without the fits of its parts.
pub(super) fn pooled(meals: &[MealPoint], mix: &[Sort], options: Options) -> Result<Model, Error> {
    let grams: Vec<f64> = meals.iter().map(|m| m.net_carbs_g).collect();
    let rises: Vec<f64> = meals.iter().map(|m| m.rise_mg_dl).collect();
    let plain = fit::fit(&grams, &rises, options)?;
    let mut out = Model {
        fit: plain.clone(),
        left: plain.spread,
        free: plain.free,
        plain,
        kinds: Vec::new(),
        times: Vec::new(),
        fitted: None,
        of_parts: None,
    };
    let unit_g = moments::mean(&grams).unwrap_or(0.0);
    let layout = Layout::of(meals, unit_g);
    if let Some(reason) = out.no_sorts(meals.len(), unit_g) {
        (out.kinds, out.times) = layout.without_fits(meals, &reason);
        return Ok(out);
    }
    let (line, spread) = weighted_line(&grams, &rises)?;
    let w = weights(&line, spread, &grams);
    let fixed = [vec![1.0; grams.len()], grams.clone()];
    let parts = layout.columns(meals);
    if parts.is_empty() {
        return Ok(out);
    }
    let Some(mixed) = reml_off_zero(&rises, &w, &fixed, &parts)? else { return Ok(out) };
    let own = own_mix(meals, mix);
    let shares = layout.shares(&own);
    out.free = (grams.len() as f64 - mixed.taken).max(2.0);
    let mean = line_of(&mixed, &shares, &line, unit_g);
    let residuals: Vec<f64> = grams.iter().zip(&rises).map(|(g, r)| r - mean.at(*g)).collect();
    let fitted: Vec<f64> = grams.iter().map(|g| mean.at(*g)).collect();
    let spread = Spread::of(&fitted, &residuals, 2.0);
    out.fit.set_own_line(Line { residuals, ..mean }, spread, out.free, METHOD);
    // What is left when kind and time are known.
    let own_mean = |m: &MealPoint| {
        line_of(&mixed, &layout.shares(std::slice::from_ref(&m.sort)), &line, unit_g)
            .at(m.net_carbs_g)
    };
    let fitted: Vec<f64> = meals.iter().map(own_mean).collect();
    let residuals: Vec<f64> = fitted.iter().zip(&rises).map(|(f, r)| r - f).collect();
    out.left = Spread::of(&fitted, &residuals, mixed.taken);
    out.fitted = Some((mixed, layout));
    Ok(out)
}

/// The mix stated, or that of the meals.
fn own_mix(meals: &[MealPoint], mix: &[Sort]) -> Vec<Sort> {
    if mix.is_empty() { meals.iter().map(|m| m.sort.clone()).collect() } else { mix.to_vec() }
}

impl Model {
    /// Why kinds and times are left out, if they are.
    fn no_sorts(&self, meals: usize, unit_g: f64) -> Option<Reason> {
        if self.plain.line.is_none() || unit_g <= 0.0 {
            let none = Reason::plain("no_fit", "needs the dose-response of all meals");
            return Some(self.plain.limit_g.reason.clone().unwrap_or(none));
        }
        let (what, needed) = ("clean meals for limits by sort", MIN_MEALS_WITH_SORTS);
        (meals < needed).then(|| Reason::count("too_few_meals", what, meals, needed))
    }

    /// The saturating form beside the plain line of the same meals.
    ///
    /// # Errors
    /// As [`Fit::saturating`].
    pub fn saturating(&self) -> Result<Option<Saturating>, Error> {
        self.plain.saturating()
    }

    fn add_parts(&mut self, meals: &[MealPoint], mix: &[Sort]) {
        let (Some((_, layout)), Some(line)) = (&self.fitted, &self.plain.line) else { return };
        let own = own_mix(meals, mix);
        let by = |name: &'static str, held: &dyn Fn(&Sort) -> bool| {
            let eaten: Vec<&MealPoint> = meals.iter().filter(|m| held(&m.sort)).collect();
            // The other classification is as in the person's own mix.
            let sorts: Vec<Sort> = own.iter().filter(|s| held(s)).cloned().collect();
            self.part(name, &eaten, &layout.shares(&sorts), line)
        };
        let kind = |k: &&'static str| by(k, &|s| s.kind.as_deref() == Some(*k));
        let kinds: Vec<Part> = layout.kinds.iter().map(kind).collect();
        let times = layout.times.iter().map(|t| by(t, &|s| s.time == Some(*t))).collect();
        (self.kinds, self.times) = (kinds, times);
    }

    fn part(&self, name: &str, eaten: &[&MealPoint], shares: &[f64], plain: &Line) -> Part {
        let none = |reason| Part { name: name.to_string(), meals: eaten.len(), fit: Err(reason) };
        if eaten.len() < MIN_MEALS_OF_PART {
            let what = format!("clean meals of this sort ({name})");
            let (had, needed) = (eaten.len(), MIN_MEALS_OF_PART);
            return none(Reason::count("too_few_meals", &what, had, needed));
        }
        let (Some((_, layout)), Some(mixed)) = (&self.fitted, &self.of_parts) else {
            return none(Reason::plain("no_fit", "needs the dose-response of all meals"));
        };
        let grams: Vec<f64> = eaten.iter().map(|m| m.net_carbs_g).collect();
        let rises: Vec<f64> = eaten.iter().map(|m| m.rise_mg_dl).collect();
        let line = line_of(mixed, shares, plain, layout.unit_g);
        let residuals = grams.iter().zip(&rises).map(|(g, r)| r - line.at(*g)).collect();
        let mut fit = Fit::without_line(&grams, &rises, self.fit.options);
        // Its own meals are few; the spread and the slope also rest on the others.
        fit.n = eaten.len();
        let line = Line { residuals, n: eaten.len(), ..line };
        fit.set_own_line(line, self.left, self.free, "own slope, shrunk to the common one");
        Part { name: name.to_string(), meals: eaten.len(), fit: Ok(fit) }
    }

    /// Mean rise of a meal of this sort and the variance of its error, without its own spread.
    pub(super) fn mean_of(&self, sort: &Sort, grams: f64) -> Option<(f64, f64)> {
        let plain = self.plain.line.as_ref()?;
        let line = match &self.fitted {
            Some((mixed, layout)) => {
                let shares = layout.shares(std::slice::from_ref(sort));
                line_of(mixed, &shares, plain, layout.unit_g)
            }
            None => plain.clone(),
        };
        // The plain line's covariance holds the noise's share already, a mixed line's doesn't.
        let noise = self.fitted.as_ref().map(|_| noise_covariance(&self.fit.options));
        let noise = noise.map_or(0.0, |cov| Line::variance_at(grams, &cov).max(0.0));
        Some((line.at(grams), Line::variance_at(grams, &line.cov_hc3).max(0.0) + noise))
    }
}
