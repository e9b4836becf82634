//! The truth as JSON, without a library, so that it can be had without the feature `io`.

use core::fmt::Write as _;

use super::effects::DayEffects;
use super::levels::{Both, Levels, LongRun};
use super::rises::{Limits, WalkEffect};
use super::truth::{TrueSwap, Truth};

/// Writes one JSON object, a field a line.
struct Object {
    text: String,
}

impl Object {
    fn new() -> Self {
        Self { text: String::from("{") }
    }

    fn raw(mut self, name: &str, value: &str) -> Self {
        let comma = if self.text.len() > 1 { ", " } else { "" };
        // Writing to a String cannot fail.
        let _ = write!(self.text, "{comma}\"{name}\": {value}");
        self
    }

    fn number(self, name: &str, value: f64) -> Self {
        self.raw(name, &format!("{value}"))
    }

    fn maybe(self, name: &str, value: Option<f64>) -> Self {
        self.raw(name, &value.map_or_else(|| "null".to_owned(), |value| format!("{value}")))
    }

    fn list(self, name: &str, values: impl Iterator<Item = String>) -> Self {
        let values: Vec<String> = values.collect();
        self.raw(name, &format!("[{}]", values.join(", ")))
    }

    fn end(self) -> String {
        self.text + "}"
    }
}

fn object_or_null<T>(value: Option<T>, object: impl Fn(T) -> String) -> String {
    value.map_or_else(|| "null".to_owned(), object)
}

fn limits(limits: Limits) -> String {
    Object::new()
        .number("target_rise_mg_dl", limits.target_rise_mg_dl)
        .maybe("mean_limit_sensor_g", limits.mean_limit_sensor_g)
        .maybe("safe80_sensor_g", limits.safe80_sensor_g)
        .maybe("mean_limit_blood_g", limits.mean_limit_blood_g)
        .maybe("safe80_blood_g", limits.safe80_blood_g)
        .end()
}

fn walk(walk: WalkEffect) -> String {
    Object::new()
        .number("at_g", walk.at_g)
        .number("rise_without_mg_dl", walk.rise_without_mg_dl)
        .number("rise_with_mg_dl", walk.rise_with_mg_dl)
        .number("difference_mg_dl", walk.difference_mg_dl)
        .number("peak_without_mg_dl", walk.peak_without_mg_dl)
        .number("peak_with_mg_dl", walk.peak_with_mg_dl)
        .number("peak_difference_mg_dl", walk.peak_difference_mg_dl)
        .number("area_without_mg_dl_min", walk.area_without_mg_dl_min)
        .number("area_with_mg_dl_min", walk.area_with_mg_dl_min)
        .number("area_difference_mg_dl_min", walk.area_difference_mg_dl_min)
        .end()
}

fn day_effects(effects: DayEffects) -> String {
    Object::new()
        .number("at_g", effects.at_g)
        .number("rise_without_mg_dl", effects.rise_without_mg_dl)
        .number("bad_night_mg_dl", effects.bad_night_mg_dl)
        .number("stress_mg_dl", effects.stress_mg_dl)
        .number("exercise_mg_dl", effects.exercise_mg_dl)
        .end()
}

fn long_run(long: LongRun) -> String {
    Object::new()
        .raw("days", &long.days.to_string())
        .number("mean_blood_mg_dl", long.mean_blood_mg_dl)
        .number("mean_sensor_mg_dl", long.mean_sensor_mg_dl)
        .number("in_range_blood_pct", long.in_range_blood_pct)
        .number("in_range_sensor_pct", long.in_range_sensor_pct)
        .number("tight_blood_pct", long.tight_blood_pct)
        .number("tight_sensor_pct", long.tight_sensor_pct)
        .raw("levels", &both(&long.levels))
        .end()
}

fn both(both: &Both) -> String {
    let (sensor, blood) = (levels(&both.sensor), levels(&both.blood));
    Object::new().raw("sensor", &sensor).raw("blood", &blood).end()
}

fn levels(levels: &Levels) -> String {
    Object::new()
        .number("mean_mg_dl", levels.mean_mg_dl)
        .number("sd_mg_dl", levels.sd_mg_dl)
        .number("cv_pct", levels.cv_pct)
        .number("p05_mg_dl", levels.p05_mg_dl)
        .number("p25_mg_dl", levels.p25_mg_dl)
        .number("median_mg_dl", levels.median_mg_dl)
        .number("p75_mg_dl", levels.p75_mg_dl)
        .number("p95_mg_dl", levels.p95_mg_dl)
        .number("very_low_pct", levels.very_low_pct)
        .number("low_pct", levels.low_pct)
        .number("in_range_pct", levels.in_range_pct)
        .number("high_pct", levels.high_pct)
        .number("very_high_pct", levels.very_high_pct)
        .number("below_70_pct", levels.below_70_pct)
        .number("above_180_pct", levels.above_180_pct)
        .number("tight_range_pct", levels.tight_range_pct)
        .maybe("overnight_mg_dl", levels.overnight_mg_dl)
        .maybe("fasting_mg_dl", levels.fasting_mg_dl)
        .end()
}

fn swap(swap: TrueSwap) -> String {
    Object::new()
        .raw("time_ms", &swap.time_ms.to_string())
        .raw("first_reading_ms", &swap.first_reading_ms.to_string())
        .raw("failed", &swap.failed.to_string())
        .number("gain", swap.gain)
        .number("offset_mg_dl", swap.offset_mg_dl)
        .number("mean_bias_before_mg_dl", swap.mean_bias_before_mg_dl)
        .number("mean_bias_after_mg_dl", swap.mean_bias_after_mg_dl)
        .end()
}

fn span(start_ms: i64, end_ms: i64) -> Object {
    Object::new().raw("start_ms", &start_ms.to_string()).raw("end_ms", &end_ms.to_string())
}

impl Truth {
    /// The truth as JSON; what was not asked for is null.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::simulate::{Scenario, trial};
    /// let text = trial(&Scenario::DEMO, 1).truth.to_json();
    /// assert!(text.starts_with(r#"{"schema": "glycemic.truth/1", "tau_min": 8"#));
    /// assert!(text.contains(r#""swap": null"#));
    /// ```
    pub fn to_json(&self) -> String {
        let mut text = Object::new()
            .raw("schema", "\"glycemic.truth/1\"")
            .number("tau_min", self.tau_min)
            .number("best_shift_min", self.best_shift_min)
            .number("meter_clock_ahead_min", self.meter_clock_ahead_min)
            .number("meter_bias_pct", self.meter_bias_pct)
            .number("lag_minus_clock_min", self.lag_minus_clock_min)
            .number("mean_bias_mg_dl", self.mean_bias_mg_dl)
            .number("mean_bias_after_first_day_mg_dl", self.mean_bias_after_first_day_mg_dl)
            .number("mean_sensor_mg_dl", self.mean_sensor_mg_dl)
            .number("mean_blood_mg_dl", self.mean_blood_mg_dl)
            .number("drift_mg_dl_day", self.drift_mg_dl_day)
            .number("in_range_sensor_pct", self.in_range_sensor_pct)
            .number("in_range_blood_pct", self.in_range_blood_pct)
            .number("tight_sensor_pct", self.tight_sensor_pct)
            .number("tight_blood_pct", self.tight_blood_pct)
            .raw("levels", &both(&self.levels))
            .raw("limits", &object_or_null(self.limits, limits))
            .raw("walk", &object_or_null(self.walk, walk))
            .raw("day_effects", &object_or_null(self.day_effects, day_effects))
            .raw("long_run", &object_or_null(self.long_run, long_run))
            .raw("swap", &object_or_null(self.swap, swap));
        text = self.happenings(text);
        text.end() + "\n"
    }

    /// The lists: lows, drop-outs, cuts, meals.
    fn happenings(&self, text: Object) -> Object {
        let lows = self.true_lows.iter();
        let lows = lows
            .map(|low| span(low.start_ms, low.end_ms).number("nadir_mg_dl", low.nadir_mg_dl).end());
        let pressed = self.pressure_lows.iter();
        let pressed = pressed
            .map(|low| span(low.start_ms, low.end_ms).number("depth_mg_dl", low.depth_mg_dl).end());
        let lost = self.drop_outs.iter().map(|out| span(out.start_ms, out.end_ms).end());
        let cuts = self.adaptive_cuts.iter().map(|cut| {
            Object::new()
                .raw("time_ms", &cut.time_ms.to_string())
                .number("planned_net_g", cut.planned_net_g)
                .number("net_g", cut.net_g)
                .number("rise_before_mg_dl", cut.rise_before_mg_dl)
                .end()
        });
        let eaten_out = self.eaten_out.iter().map(|meal| {
            Object::new()
                .raw("time_ms", &meal.time_ms.to_string())
                .number("logged_net_g", meal.logged_net_g)
                .number("hidden_g", meal.hidden_g)
                .end()
        });
        let meals = self.meals.iter().map(|meal| {
            Object::new()
                .raw("time_ms", &meal.time_ms.to_string())
                .raw("logged_time_ms", &object_or_null(meal.logged_time_ms, |t| t.to_string()))
                .maybe("logged_net_g", meal.logged_net_g)
                .number("eaten_net_g", meal.eaten_net_g)
                .raw("in_diary", &meal.in_diary.to_string())
                .end()
        });
        text.list("true_lows", lows)
            .list("pressure_lows", pressed)
            .list("drop_outs", lost)
            .list("adaptive_cuts", cuts)
            .list("eaten_out", eaten_out)
            .list("meals", meals)
    }
}
