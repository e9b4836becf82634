//! The responses to all meals, as rows and as a table.

use super::meal::{Activity, Meal, Targets};
use super::noise::{Noise, noise};
use super::response::{Around, Response, Window, respond};
use crate::error::{Error, require_within};
use crate::estimate::Reason;
use crate::series::Trace;
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
}

/// Computes the response to each meal.
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
    require_within("before_min", window.before_min, 5.0, 120.0)?;
    require_within("after_min", window.after_min, 60.0, 480.0)?;
    for (name, target) in [("rise_mg_dl", targets.rise_mg_dl), ("peak_mg_dl", targets.peak_mg_dl)] {
        if let Some(value) = target {
            require_within(name, value, 1.0, 1000.0)?;
        }
    }
    let mut meals = meals.to_vec();
    meals.sort_by_key(|m| m.time_ms);
    let noise = noise(trace, &meals, window.before_min, window.after_min).map_err(|had| {
        Reason::count(
            "too_few_null_windows",
            "windows without food",
            had,
            super::noise::MIN_WINDOWS,
        )
    });
    let rows = (0..meals.len())
        .map(|i| {
            let around = Around {
                previous_ms: i.checked_sub(1).map(|p| meals[p].time_ms),
                next_ms: meals.get(i + 1).map(|m| m.time_ms),
                activity,
            };
            respond(trace, &meals[i], around, window, noise.as_ref().ok(), (seed, i as u64))
        })
        .collect();
    let walks = meals.iter().map(|m| walk_after(m.time_ms, activity)).collect();
    Ok(Responses { meals, rows, walks, noise, targets, window })
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
        let r = &self.rows[i];
        let spoilt = [
            "previous_meal_under_3h",
            "gap_at_peak",
            "exercise_in_window",
            "no_baseline",
            "sensor_change",
            "outside_wear",
        ];
        r.seen_min >= 115.0 && !spoilt.iter().any(|f| r.flags.contains(f))
    }

    /// Whether the peak or the rise went over a target; `None` without targets or response.
    pub fn over_target(&self, i: usize) -> Option<bool> {
        let rise = self.targets.rise_mg_dl.zip(self.rows[i].rise_mg_dl).map(|(t, v)| v > t);
        let peak = self.targets.peak_mg_dl.zip(self.rows[i].peak_mg_dl).map(|(t, v)| v > t);
        match (rise, peak) {
            (None, None) => None,
            (a, b) => Some(a.unwrap_or(false) || b.unwrap_or(false)),
        }
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
        t.push_bool(
            "eating_out",
            self.meals.iter().map(|m| m.tags.iter().any(|t| t == "eating-out")).collect(),
        )?;
        t.push_bool("clean", (0..self.rows.len()).map(|i| self.is_clean(i)).collect())?;
        t.push_f64(
            "over_target",
            (0..self.rows.len())
                .map(|i| self.over_target(i).map(|o| f64::from(u8::from(o))))
                .collect(),
        )?;
        t.push_text("flags", self.rows.iter().map(|r| Some(r.flags.join(";"))).collect())?;
        Ok(t)
    }
}
