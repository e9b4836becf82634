//! The responses to all meals, as rows and as a table.

use super::aware::Behind;
use super::covariance::{self, Sums};
use super::meal::{Activity, Meal, Targets};
use super::noise::{Noise, noise_and_windows};
use super::occasion::occasions;
use super::onset::Starts;
use super::response::{Around, Place, Response, Window, respond};
use super::shift::{replicas, shifts};
use super::unlogged::{Suspected, UnloggedOptions, probable, unlogged};
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::Trace;
use crate::stats::quantile;
use crate::table::Table;

/// Responses to meals, a row per eating occasion, with the meals beside them.
#[derive(Clone, Debug, PartialEq)]
pub struct Responses {
    /// The meals, in order of time.
    pub meals: Vec<Meal>,
    /// Their responses.
    pub rows: Vec<Response>,
    /// Minutes of walking that begin in the two hours after each meal, and after how many
    /// minutes the first begins.
    pub walks: Vec<Option<(f64, f64)>>,
    /// Noise and floor from windows without food, or why not.
    pub noise: Result<Noise, Reason>,
    /// The person's targets.
    pub targets: Targets,
    /// The window used.
    pub window: Window,
    /// Meals that the trace suggests and the diary lacks: offered, not assumed.
    pub suspected: Vec<Suspected>,
    /// How many logged meals each row is made of.
    pub logged: Vec<usize>,
}

/// How the responses are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// The part of the trace that belongs to a meal: before 5-120 min, after 60-480.
    pub window: Window,
    /// Meals that begin less than so long after the first of an occasion are taken with it, 0 to
    /// 120 minutes; 0: each meal alone.
    pub occasion_min: f64,
    /// The trace may put the onset so long before the logged start, 0 to 60 minutes.
    pub onset_before_min: f64,
    /// And so long after it, 0 to 60; with both 0 the diary's start is taken as it is.
    pub onset_after_min: f64,
}

impl Options {
    /// The usual way with this window: occasions of 30 minutes, onsets from 45 minutes before the
    /// logged start (more meals are entered late than early) to 20 after.
    pub fn new(window: Window) -> Options {
        Options { window, occasion_min: 30.0, onset_before_min: 45.0, onset_after_min: 20.0 }
    }

    fn check(&self) -> Result<(), Error> {
        require_within("before_min", self.window.before_min, 5.0, 120.0)?;
        require_within("after_min", self.window.after_min, 60.0, 480.0)?;
        require_within("occasion_min", self.occasion_min, 0.0, 120.0)?;
        require_within("onset_before_min", self.onset_before_min, 0.0, 60.0)?;
        require_within("onset_after_min", self.onset_after_min, 0.0, 60.0)
    }
}

/// Computes the response to each meal, in the usual way (see [`Options::new`]).
///
/// `before_min` from 5 to 120, `after_min` from 60 to 480; `seed` keys the noise draws.
///
/// # Errors
/// A window outside its range, or targets that are not finite.
pub fn responses(
    trace: &Trace,
    meals: &[Meal],
    activity: &[Activity],
    targets: Targets,
    window: Window,
    seed: u64,
) -> Result<Responses, Error> {
    responses_with(trace, meals, activity, targets, Options::new(window), seed)
}

/// The same, with everything to choose.
///
/// # Errors
/// An option or a target outside its range.
pub fn responses_with(
    trace: &Trace,
    meals: &[Meal],
    activity: &[Activity],
    targets: Targets,
    options: Options,
    seed: u64,
) -> Result<Responses, Error> {
    options.check()?;
    for (name, target) in targets.named() {
        if let Some(value) = target {
            require_within(name, value, 1.0, 1000.0)?;
        }
    }
    let window = options.window;
    let suspected = unlogged(trace, meals, activity, UnloggedOptions::default())?;
    let probable = probable(&suspected);
    let noise = noise_and_windows(trace, meals, &probable, window.before_min, window.after_min);
    let (noise, quiet) = noise.map_or_else(|had| (Err(had), Vec::new()), |(n, q)| (Ok(n), q));
    let noise = noise.map_err(|had| {
        let needed = super::noise::MIN_WINDOWS;
        Reason::count("too_few_null_windows", "windows without food", had, needed)
    });
    let (meals, logged) = occasions(meals, options.occasion_min);
    let known = noise.as_ref().ok().map(|n| (n, quiet.as_slice()));
    let rows = rows(trace, &meals, activity, &options, known, seed);
    let walks = meals.iter().map(|m| walk_after(m.time_ms, activity)).collect();
    Ok(Responses { meals, rows, walks, noise, targets, window, suspected, logged })
}

fn rows(
    trace: &Trace,
    meals: &[Meal],
    activity: &[Activity],
    options: &Options,
    noise: Option<(&Noise, &[Sums])>,
    seed: u64,
) -> Vec<Response> {
    let window = options.window;
    let around_meals: Vec<Sums> = (0..meals.len())
        .map(|i| {
            let start = meals[i].time_ms;
            let end = start + (window.after_min * 60_000.0) as i64;
            let end = meals.get(i + 1).map_or(end, |n| n.time_ms.min(end));
            let view = trace.window(start - 1_800_000, end);
            covariance::differences(view.times_ms(), view.glucose_mg_dl(), trace.nominal_ms())
        })
        .collect();
    let behind = noise.and_then(|(n, _)| Behind::new(n.linked(), &around_meals));
    let moves = options.onset_before_min + options.onset_after_min > 0.0;
    let starts = noise.filter(|_| moves).and_then(|(n, _)| {
        Starts::new(&n.linked(), options.onset_before_min, options.onset_after_min)
    });
    let places: Vec<Place> = meals
        .iter()
        .map(|m| {
            let onset = starts.as_ref().and_then(|s| s.find(trace, m.time_ms));
            Place { start: m.time_ms, onset, window }
        })
        .collect();
    let mut rows: Vec<Response> = (0..meals.len())
        .map(|i| {
            let around = Around {
                previous_ms: i.checked_sub(1).map(|p| meals[p].time_ms),
                next_ms: meals.get(i + 1).map(|m| m.time_ms),
                activity,
            };
            respond(trace, places[i], around, behind.as_ref(), (seed, i as u64))
        })
        .collect();
    if let Some((_, quiet)) = noise {
        shifts(trace, &replicas(quiet, &around_meals), &places, &mut rows, seed);
    }
    rows
}

/// Minutes of walks that begin within two hours of the start, and the delay of the first.
fn walk_after(start_ms: i64, activity: &[Activity]) -> Option<(f64, f64)> {
    let mut walks: Vec<&Activity> = activity
        .iter()
        .filter(|a| a.kind == "walk" && (0..7_200_000).contains(&(a.start_ms - start_ms)))
        .collect();
    walks.sort_by_key(|a| a.start_ms);
    let first = walks.first()?;
    let minutes = walks.iter().map(|a| a.minutes).sum();
    Some((minutes, (first.start_ms - start_ms) as f64 / 60_000.0))
}

impl Responses {
    /// The rise to analyse: noise-aware where it could be made, else as displayed.
    pub fn rise(&self, i: usize) -> Option<f64> {
        self.rows[i].rise_noise_aware_mg_dl.or(self.rows[i].rise_mg_dl)
    }

    /// Whether a row shows the meal alone: no walk or exercise in the window, no earlier meal
    /// within three hours, no meal in the first two hours after, the peak seen.
    pub fn is_clean(&self, i: usize) -> bool {
        self.rows[i].is_clean()
    }

    /// Whether the response went over any target, as displayed; `None` without targets or response.
    pub fn over_target(&self, i: usize) -> Option<bool> {
        self.over(i).iter().filter_map(|o| o.1).reduce(|a, b| a || b)
    }

    /// Each target by the column that says whether it was gone over.
    fn over(&self, i: usize) -> [(&'static str, Option<bool>); 5] {
        let (t, r) = (&self.targets, &self.rows[i]);
        let over = |target: Option<f64>, value: Option<f64>| target.zip(value).map(|(t, v)| v > t);
        [
            ("over_rise", over(t.rise_mg_dl, r.rise_mg_dl)),
            ("over_peak", over(t.peak_mg_dl, r.peak_mg_dl)),
            ("over_fasting", over(t.fasting_mg_dl, r.baseline_mg_dl)),
            ("over_60", over(t.at_60_mg_dl, r.at_60_min_mg_dl)),
            ("over_120", over(t.at_120_mg_dl, r.at_120_min_mg_dl)),
        ]
    }

    /// Smallest rise that can be told from none, mg/dL: what 95 % of null windows stay under, or
    /// twice the middle error of a noise-aware rise, whichever is more. `None` without noise.
    pub fn smallest_rise_mg_dl(&self) -> Option<f64> {
        let floor = self.noise.as_ref().ok()?.floor_rise_mg_dl;
        let sds: Vec<f64> = self.rows.iter().filter_map(|r| r.rise_noise_sd_mg_dl).collect();
        Some(quantile::median(&sds).map_or(floor, |sd| floor.max(2.0 * sd)))
    }

    /// The table: a row per meal, columns named with their unit.
    ///
    /// # Errors
    /// None that the responses can cause; columns have one length.
    pub fn table(&self) -> Result<Table, Error> {
        let mut t = Table::new();
        let meal = |f: &dyn Fn(&Meal) -> Option<f64>| self.meals.iter().map(f).collect::<Vec<_>>();
        let row =
            |f: &dyn Fn(&Response) -> Option<f64>| self.rows.iter().map(f).collect::<Vec<_>>();
        t.push_i64("time_ms", self.rows.iter().map(|r| Some(r.time_ms)).collect())?;
        t.push_text("label", self.meals.iter().map(|m| m.label.clone()).collect())?;
        t.push_text("tags", self.meals.iter().map(|m| Some(m.tags.join(";"))).collect())?;
        t.push_f64("carbs_g", meal(&|m| m.carbs_g))?;
        t.push_f64("fiber_g", meal(&|m| m.fiber_g))?;
        t.push_f64("net_carbs_g", meal(&|m| m.net_carbs_g()))?;
        t.push_f64("protein_g", meal(&|m| m.protein_g))?;
        t.push_f64("fat_g", meal(&|m| m.fat_g))?;
        t.push_f64("baseline_mg_dl", row(&|r| r.baseline_mg_dl))?;
        t.push_f64("peak_mg_dl", row(&|r| r.peak_mg_dl))?;
        t.push_f64("rise_mg_dl", row(&|r| r.rise_mg_dl))?;
        t.push_f64("rise_noise_aware_mg_dl", row(&|r| r.rise_noise_aware_mg_dl))?;
        t.push_f64("rise_noise_sd_mg_dl", row(&|r| r.rise_noise_sd_mg_dl))?;
        t.push_f64("time_to_peak_min", row(&|r| r.time_to_peak_min))?;
        t.push_f64("iauc_positive_mg_dl_min", row(&|r| r.iauc_positive_mg_dl_min))?;
        t.push_f64("iauc_net_mg_dl_min", row(&|r| r.iauc_net_mg_dl_min))?;
        t.push_f64("iauc_until_return_mg_dl_min", row(&|r| r.iauc_until_return_mg_dl_min))?;
        t.push_f64("at_60_min_mg_dl", row(&|r| r.at_60_min_mg_dl))?;
        t.push_f64("at_120_min_mg_dl", row(&|r| r.at_120_min_mg_dl))?;
        t.push_f64("recovery_min", row(&|r| r.recovery_min))?;
        t.push_f64("recovery_censored_min", row(&|r| r.recovery_censored_min))?;
        t.push_f64("undershoot_mg_dl", row(&|r| r.undershoot_mg_dl))?;
        t.push_f64("seen_min", row(&|r| Some(r.seen_min)))?;
        t.push_bool("walk_after", self.walks.iter().map(Option::is_some).collect())?;
        t.push_f64("walk_minutes", self.walks.iter().map(|w| w.map(|w| w.0)).collect())?;
        t.push_bool("eating_out", self.meals.iter().map(Meal::is_eaten_out).collect())?;
        t.push_bool("clean", (0..self.rows.len()).map(|i| self.is_clean(i)).collect())?;
        t.push_f64(
            "over_target",
            (0..self.rows.len())
                .map(|i| self.over_target(i).map(|o| f64::from(u8::from(o))))
                .collect(),
        )?;
        t.push_text("flags", self.rows.iter().map(|r| Some(r.flags.join(";"))).collect())?;
        t.push_i64("onset_ms", self.rows.iter().map(|r| r.onset_ms).collect())?;
        t.push_f64(
            "onset_shift_min",
            row(&|r| r.onset_ms.map(|o| (o - r.time_ms) as f64 / 60_000.0)),
        )?;
        t.push_bool("window_cut", self.rows.iter().map(Response::is_cut).collect())?;
        t.push_bool("rise_censored", self.rows.iter().map(|r| r.rise_censored).collect())?;
        t.push_i64("logged_meals", self.logged.iter().map(|n| Some(*n as i64)).collect())?;
        t.push_f64("net_carbs_low_g", meal(&|m| m.grams_range().map(|g| g.0)))?;
        t.push_f64("net_carbs_high_g", meal(&|m| m.grams_range().map(|g| g.1)))?;
        for k in 0..5 {
            let each: Vec<_> = (0..self.rows.len()).map(|i| self.over(i)[k]).collect();
            let Some(name) = each.first().map(|o| o.0) else { continue };
            let as_number = |o: &(&str, Option<bool>)| o.1.map(|o| f64::from(u8::from(o)));
            t.push_f64(name, each.iter().map(as_number).collect())?;
        }
        t.push_f64("rise_noise_shift_mg_dl", row(&|r| r.rise_noise_shift_mg_dl))?;
        Ok(t)
    }
}
