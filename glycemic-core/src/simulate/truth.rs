//! The right answers to a simulated trial.
//!
//! # Method
//! What belongs to one trial (bias, means, timing) is computed from its noise-free signals. What
//! belongs to the person (limit, safe grams, effect of a walk) is averaged over thousands of
//! meals: 406 days are lived as in the scenario; at each main meal that has no meal in the 3 h
//! before it and is not eaten out, the body is copied, and meals of 5 to 80 g (logged) are eaten
//! instead, with the same random numbers at every dose (kind of food, diary error, variation;
//! each with its mirror image), without a walk and without anything after it.

use super::diary::{Eaten, Plan, confidence, diary_error, menu, plan};
use super::person::{Bite, Body, Day, Kind, Lag, Ready};
use super::random::{Purpose, Random, factor};
use super::scenario::Scenario;
use super::sensor::PressureLow;
use super::trial::run;

/// A meal with what was really eaten.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct TrueMeal {
    /// Start, epoch ms UTC.
    pub time_ms: i64,
    /// Net carbohydrate in the diary, g; `None` without grams or without an entry.
    pub logged_net_g: Option<f64>,
    /// Net carbohydrate eaten, g.
    pub eaten_net_g: f64,
    /// Whether the diary has the meal.
    pub in_diary: bool,
}

/// A meal eaten out, with what the diary lacks.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct EatenOut {
    /// Start, epoch ms UTC.
    pub time_ms: i64,
    /// Net carbohydrate in the diary, g.
    pub logged_net_g: f64,
    /// Hidden net carbohydrate, g (of what was eaten, beyond the usual diary error).
    pub hidden_g: f64,
}

/// Grams at which rises meet the target; `None` when that is outside 5 to 80 g.
///
/// Grams are net carbohydrate as this person logs it. Meals have no walk in the window and no
/// earlier meal within 3 h; meals eaten out are left out. Rise: maximum over 180 min from the
/// logged start, less the mean of the 30 min before, without noise, wobble and drift.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Limits {
    /// The target, mg/dL.
    pub target_rise_mg_dl: f64,
    /// Grams at which the mean rise as the sensor reads (gain, lag) meets the target.
    pub mean_limit_sensor_g: Option<f64>,
    /// Largest grams at which 80 % of such meals stay at or under the target on the sensor.
    pub safe80_sensor_g: Option<f64>,
    /// Grams at which the mean rise in blood meets the target.
    pub mean_limit_blood_g: Option<f64>,
    /// Largest grams at which 80 % of such meals stay at or under the target in blood.
    pub safe80_blood_g: Option<f64>,
}

/// Mean effect of a walk (15-20 min, starting 10-20 min after the meal's start), as the sensor
/// reads, without noise.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct WalkEffect {
    /// Logged net carbohydrate of the meals compared, g.
    pub at_g: f64,
    /// Mean rise without a walk, mg/dL.
    pub rise_without_mg_dl: f64,
    /// Mean rise of the same meals with a walk, mg/dL.
    pub rise_with_mg_dl: f64,
    /// With less without, mg/dL: negative when the walk helps.
    pub difference_mg_dl: f64,
}

/// Where the same behaviour leads over many days.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct LongRun {
    /// Days averaged.
    pub days: usize,
    /// Mean in blood, mg/dL.
    pub mean_blood_mg_dl: f64,
    /// Mean as this sensor reads: gain, offset, and the drift of half a wear; no wobble, mg/dL.
    pub mean_sensor_mg_dl: f64,
    /// Share of blood in 70-180 mg/dL, percent.
    pub in_range_blood_pct: f64,
    /// Share as this sensor reads in 70-180 mg/dL, percent.
    pub in_range_sensor_pct: f64,
    /// Share of blood in 70-140 mg/dL, percent.
    pub tight_blood_pct: f64,
    /// Share as this sensor reads in 70-140 mg/dL, percent.
    pub tight_sensor_pct: f64,
}

/// The right answers. "Sensor" means the noise-free sensor: lag, gain, offset, drift and wobble,
/// but no noise, pressure lows, rounding or gaps.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Truth {
    /// Time constant of the sensor's lag, min.
    pub tau_min: f64,
    /// Shift at which the lagged signal (no gain, offset, drift or wobble) and blood differ least
    /// (RMS, grid of 0.5 min), min.
    pub best_shift_min: f64,
    /// Minutes the meter's clock is ahead.
    pub meter_clock_ahead_min: f64,
    /// The meter's own bias against blood, percent.
    pub meter_bias_pct: f64,
    /// The sum that sensor and meter alone can reveal: best shift less clock ahead, min.
    pub lag_minus_clock_min: f64,
    /// Mean of sensor minus blood over the wear, mg/dL.
    pub mean_bias_mg_dl: f64,
    /// The same without the first 24 h, mg/dL.
    pub mean_bias_after_first_day_mg_dl: f64,
    /// Mean of the sensor over the wear, mg/dL.
    pub mean_sensor_mg_dl: f64,
    /// Mean of blood over the wear, mg/dL.
    pub mean_blood_mg_dl: f64,
    /// Share of the wear with the sensor in 70-180 mg/dL, percent.
    pub in_range_sensor_pct: f64,
    /// Share of the wear with blood in 70-180 mg/dL, percent.
    pub in_range_blood_pct: f64,
    /// Share of the wear with the sensor in 70-140 mg/dL, percent.
    pub tight_sensor_pct: f64,
    /// Share of the wear with blood in 70-140 mg/dL, percent.
    pub tight_blood_pct: f64,
    /// Pressure lows.
    pub pressure_lows: Vec<PressureLow>,
    /// Meals eaten out, with their hidden carbohydrate.
    pub eaten_out: Vec<EatenOut>,
    /// Every meal eaten, also those missing from the diary.
    pub meals: Vec<TrueMeal>,
    /// Grams that meet the target, where asked for.
    pub limits: Option<Limits>,
    /// Effect of a walk at 40 g, where asked for.
    pub walk: Option<WalkEffect>,
    /// Long-run means, where asked for.
    pub long_run: Option<LongRun>,
}

/// The wear by minute, mg/dL.
pub(crate) struct Worn<'a> {
    /// The noise-free sensor.
    pub(crate) clean: &'a [f64],
    /// The same with neither gain, offset, drift nor wobble: only the lag.
    pub(crate) tissue: &'a [f64],
    pub(crate) blood: &'a [f64],
}

/// The truths of one trial.
pub(crate) fn of_trial(
    scenario: &Scenario,
    plan: &Plan,
    worn: &Worn<'_>,
    pressure_lows: Vec<PressureLow>,
) -> Truth {
    let (clean, blood) = (worn.clean, worn.blood);
    let day = 1440.min(clean.len());
    let shift = best_shift(worn.tissue, blood);
    let ahead = scenario.meter.clock_ahead_min as f64;
    let eaten_out = plan.meals.iter().filter_map(|meal| {
        meal.hidden.map(|hidden| EatenOut {
            time_ms: scenario.time_ms(meal.start),
            logged_net_g: meal.net_g,
            hidden_g: meal.net_g * meal.error * hidden,
        })
    });
    Truth {
        tau_min: scenario.sensor.tau_min,
        best_shift_min: shift,
        meter_clock_ahead_min: ahead,
        meter_bias_pct: scenario.meter.bias_pct,
        lag_minus_clock_min: shift - ahead,
        mean_bias_mg_dl: mean(clean) - mean(blood),
        mean_bias_after_first_day_mg_dl: mean(&clean[day..]) - mean(&blood[day..]),
        mean_sensor_mg_dl: mean(clean),
        mean_blood_mg_dl: mean(blood),
        in_range_sensor_pct: share_pct(clean, 180.0),
        in_range_blood_pct: share_pct(blood, 180.0),
        tight_sensor_pct: share_pct(clean, 140.0),
        tight_blood_pct: share_pct(blood, 140.0),
        pressure_lows,
        eaten_out: eaten_out.collect(),
        meals: plan.meals.iter().map(|meal| true_meal(scenario, meal)).collect(),
        limits: None,
        walk: None,
        long_run: None,
    }
}

fn true_meal(scenario: &Scenario, meal: &Eaten) -> TrueMeal {
    let written = meal.in_diary && meal.confidence != super::diary::Confidence::Unknown;
    TrueMeal {
        time_ms: scenario.time_ms(meal.start),
        logged_net_g: written.then_some(meal.net_g),
        eaten_net_g: meal.true_g(),
        in_diary: meal.in_diary,
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Percent of values from 70 to `high`, both included.
fn share_pct(values: &[f64], high: f64) -> f64 {
    let inside = values.iter().filter(|&&value| (70.0..=high).contains(&value)).count();
    100.0 * inside as f64 / values.len().max(1) as f64
}

/// The shift of 0 to 30 min at which the sensor, read that much later, differs least from blood.
fn best_shift(sensor: &[f64], blood: &[f64]) -> f64 {
    let pairs = sensor.len().min(blood.len()).saturating_sub(31);
    let error = |halves: usize| {
        let (whole, odd) = (halves / 2, halves % 2);
        let differences = (0..pairs).map(|minute| {
            let later = 0.5 * (sensor[minute + whole] + sensor[minute + whole + odd]);
            (later - blood[minute]) * (later - blood[minute])
        });
        differences.sum::<f64>()
    };
    let mut best = (0, f64::INFINITY);
    for halves in 0..=60 {
        let found = error(halves);
        if found < best.1 {
            best = (halves, found);
        }
    }
    0.5 * best.0 as f64
}

/// Mean and 80th percentile of the rise by logged grams; see the module for whose meals.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct RiseCurve {
    /// Logged net carbohydrate, g.
    pub grams: Vec<f64>,
    /// Mean rise as the sensor reads, mg/dL.
    pub mean_sensor_mg_dl: Vec<f64>,
    /// 80th percentile of the rise as the sensor reads, mg/dL.
    pub p80_sensor_mg_dl: Vec<f64>,
    /// Mean rise in blood, mg/dL.
    pub mean_blood_mg_dl: Vec<f64>,
    /// 80th percentile of the rise in blood, mg/dL.
    pub p80_blood_mg_dl: Vec<f64>,
    /// Number of meals simulated, over all doses.
    pub meals: usize,
    /// Effect of a walk at 40 g.
    pub walk: WalkEffect,
}

impl RiseCurve {
    /// Grams at which the curves meet `target_rise_mg_dl`.
    pub fn limits(&self, target_rise_mg_dl: f64) -> Limits {
        let meet = |rises: &[f64]| crossing(&self.grams, rises, target_rise_mg_dl);
        Limits {
            target_rise_mg_dl,
            mean_limit_sensor_g: meet(&self.mean_sensor_mg_dl),
            safe80_sensor_g: meet(&self.p80_sensor_mg_dl),
            mean_limit_blood_g: meet(&self.mean_blood_mg_dl),
            safe80_blood_g: meet(&self.p80_blood_mg_dl),
        }
    }
}

/// Where straight lines through the points first pass `target` from below.
fn crossing(grams: &[f64], rises: &[f64], target: f64) -> Option<f64> {
    let after = rises.iter().position(|&rise| rise > target)?;
    let before = after.checked_sub(1)?;
    let part = (target - rises[before]) / (rises[after] - rises[before]);
    Some(grams[before] + part * (grams[after] - grams[before]))
}

/// Days lived for the person's truths.
const TRUTH_DAYS: usize = 406;
/// Seed of the person's truths, fixed so that they depend on the scenario alone.
const TRUTH_SEED: u64 = 0x7275_7468;
/// Grams at which the effect of a walk is stated.
const WALK_AT_G: f64 = 40.0;

/// A moment at which a meal could be eaten.
struct Moment {
    minute: i64,
    body: Body,
    day: Day,
    before_tissue: f64,
    before_blood: f64,
}

/// The random part of one meal.
struct Draw {
    kind: Kind,
    /// Factor from logged grams to acting grams.
    strength: f64,
    speed: f64,
}

/// Simulates the person's rises at 5 to 80 g. About a second.
pub fn rise_curve(scenario: &Scenario) -> RiseCurve {
    let ready = Ready::new(&scenario.person);
    let lag = Lag::new(scenario.sensor.tau_min);
    let moments = moments(scenario, &ready);
    let draws = draws(scenario, moments.len());
    let gain = scenario.sensor.gain;
    let eat = |moment: &Moment, draw: &Draw, grams: f64, walk: (i64, i64)| {
        rise(scenario, &ready, &lag, moment, draw, grams, walk)
    };

    // The curve bends so little that straight lines between these miss it by 0.02 mg/dL.
    let grams = vec![5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0];
    let mut curve = RiseCurve {
        grams: grams.clone(),
        mean_sensor_mg_dl: Vec::new(),
        p80_sensor_mg_dl: Vec::new(),
        mean_blood_mg_dl: Vec::new(),
        p80_blood_mg_dl: Vec::new(),
        meals: grams.len() * draws.len(),
        walk: WalkEffect {
            at_g: WALK_AT_G,
            rise_without_mg_dl: 0.0,
            rise_with_mg_dl: 0.0,
            difference_mg_dl: 0.0,
        },
    };
    for &dose in &grams {
        let rises = draws.iter().enumerate();
        let rises = rises.map(|(place, draw)| eat(&moments[place / 2], draw, dose, (0, 0)));
        let (sensor, blood): (Vec<f64>, Vec<f64>) =
            rises.map(|(tissue, blood)| (gain * tissue, blood)).unzip();
        curve.mean_sensor_mg_dl.push(mean(&sensor));
        curve.mean_blood_mg_dl.push(mean(&blood));
        curve.p80_sensor_mg_dl.push(percentile_80(sensor));
        curve.p80_blood_mg_dl.push(percentile_80(blood));
    }
    let mut random = Random::new(TRUTH_SEED, Purpose::Walks);
    let (mut without, mut with) = (Vec::new(), Vec::new());
    for (place, draw) in draws.iter().enumerate() {
        let walk = (random.whole(10, 20), random.whole(15, 20));
        without.push(gain * eat(&moments[place / 2], draw, WALK_AT_G, (0, 0)).0);
        with.push(gain * eat(&moments[place / 2], draw, WALK_AT_G, walk).0);
    }
    curve.walk.rise_without_mg_dl = mean(&without);
    curve.walk.rise_with_mg_dl = mean(&with);
    curve.walk.difference_mg_dl = mean(&with) - mean(&without);
    curve
}

/// Grams at which this person's rises meet a target; about a second. For several targets, keep
/// the [`rise_curve`].
pub fn truth_limit(scenario: &Scenario, target_rise_mg_dl: f64) -> Limits {
    rise_curve(scenario).limits(target_rise_mg_dl)
}

/// Lives the truth's days and copies the body at each eligible meal.
fn moments(scenario: &Scenario, ready: &Ready) -> Vec<Moment> {
    let last = 1440 * TRUTH_DAYS as i64;
    let plan = plan(scenario, TRUTH_SEED, TRUTH_DAYS, 1440, last);
    let mut seen = Vec::new();
    let lived = run(scenario, ready, &plan, last as usize, |place, body| {
        let meal = &plan.meals[place];
        let alone =
            place.checked_sub(1).is_none_or(|before| meal.start - plan.meals[before].start >= 180);
        if alone && !meal.snack && meal.hidden.is_none() {
            seen.push((meal.start, *body));
        }
    });
    let moments = seen.into_iter().map(|(minute, body)| {
        let before = (minute - 30) as usize..minute as usize;
        Moment {
            minute,
            body,
            day: plan.days[(scenario.local(minute) / 1440) as usize].acts,
            before_tissue: mean(&lived.tissue[before.clone()]),
            before_blood: mean(&lived.blood[before]),
        }
    });
    moments.collect()
}

/// Two draws per moment, mirror images of each other.
fn draws(scenario: &Scenario, moments: usize) -> Vec<Draw> {
    let mut random = Random::new(TRUTH_SEED, Purpose::Truth);
    let (person, behaviour) = (&scenario.person, &scenario.behaviour);
    let menu = menu(scenario);
    let mut deck: Vec<usize> = Vec::new();
    let mut drawn = Vec::with_capacity(2 * moments);
    for _ in 0..moments {
        if deck.is_empty() {
            deck = random.shuffled(menu.len());
        }
        let kind = menu[deck.pop().unwrap_or(0)].kind;
        let source = random.uniform();
        let (error, strength, speed) = (random.normal(), random.normal(), random.normal());
        for (sign, source) in [(1.0, source), (-1.0, 1.0 - source)] {
            let source = confidence(behaviour.weighed_share, source);
            let eaten = diary_error(behaviour.diary_error_cv, source, sign * error);
            drawn.push(Draw {
                kind,
                strength: eaten * factor(person.meal_cv, sign * strength),
                speed: factor(person.speed_cv, sign * speed),
            });
        }
    }
    drawn
}

/// Rise over 180 min under the sensor and in blood, mg/dL. `walk`: start after the meal, minutes.
fn rise(
    scenario: &Scenario,
    ready: &Ready,
    lag: &Lag,
    moment: &Moment,
    draw: &Draw,
    grams: f64,
    walk: (i64, i64),
) -> (f64, f64) {
    let mut body = moment.body;
    body.eat(&Bite { acting_g: grams * draw.strength, kind: draw.kind, speed: draw.speed });
    let mut peak = (body.tissue, body.blood(ready));
    let start = scenario.minute_of_day(moment.minute);
    for minute in 0..180 {
        let walking = minute >= walk.0 && minute < walk.0 + walk.1;
        let effort = if walking { 1.0 } else { 0.0 };
        body.step(ready, start + minute as usize, &moment.day, effort, lag);
        peak = (peak.0.max(body.tissue), peak.1.max(body.blood(ready)));
    }
    (peak.0 - moment.before_tissue, peak.1 - moment.before_blood)
}

/// The 80th percentile by linear interpolation (type 7 of Hyndman & Fan, *Am Stat* 50 (1996):
/// 361-365).
fn percentile_80(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = 0.8 * values.len().saturating_sub(1) as f64;
    let (low, part) = (place as usize, place - place.floor());
    let at = |place: usize| values.get(place.min(values.len().saturating_sub(1)));
    match (at(low), at(low + 1)) {
        (Some(low), Some(high)) => low + part * (high - low),
        _ => 0.0,
    }
}

/// Lives 98 days with the scenario's behaviour (the first two are dropped).
pub fn long_run(scenario: &Scenario, seed: u64) -> LongRun {
    const DAYS: usize = 98;
    const DROPPED: usize = 2;
    let ready = Ready::new(&scenario.person);
    let last = 1440 * DAYS;
    let plan = plan(scenario, seed ^ 0x6c6f_6e67, DAYS, 0, last as i64);
    let lived = run(scenario, &ready, &plan, last, |_, _| ());
    let knobs = &scenario.sensor;
    let drift = 0.5 * knobs.drift_mg_dl_day * f64::from(scenario.days);
    let blood = &lived.blood[1440 * DROPPED..];
    let tissue = lived.tissue[1440 * DROPPED..].iter();
    let sensor: Vec<f64> =
        tissue.map(|level| knobs.gain * level + knobs.offset_mg_dl + drift).collect();
    LongRun {
        days: DAYS - DROPPED,
        mean_blood_mg_dl: mean(blood),
        mean_sensor_mg_dl: mean(&sensor),
        in_range_blood_pct: share_pct(blood, 180.0),
        in_range_sensor_pct: share_pct(&sensor, 180.0),
        tight_blood_pct: share_pct(blood, 140.0),
        tight_sensor_pct: share_pct(&sensor, 140.0),
    }
}
