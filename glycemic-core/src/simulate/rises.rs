//! The person's rises by logged grams: limits, safe grams, effect of a walk.
//!
//! # Method
//! Meals of 5 to 80 g (logged) are eaten at the moments of 406 days (see `eating`), without a
//! walk; quantiles are type 7 of Hyndman and Fan, *Am Stat* 50 (1996): 361-365.

use super::eating::{EFFECTS_AT_G, Sitting, TRUTH_SEED};
use super::levels::mean;
use super::random::{Purpose, Random};
use super::scenario::Scenario;
use crate::error::Error;
use crate::stats::quantile;

/// Grams at which rises meet the target; `None` when that is outside 5 to 80 g.
///
/// Grams are net carbohydrate as this person logs it. Meals have no walk in the window and no
/// earlier meal within 3 h; meals eaten out are left out. Rise: maximum over 180 min from the true
/// start, less the mean of the 30 min before, without noise, wobble and drift.
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
/// reads, without noise, over 3 h.
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
    /// Mean peak without a walk, half through the wear, mg/dL.
    pub peak_without_mg_dl: f64,
    /// Mean peak with a walk, mg/dL.
    pub peak_with_mg_dl: f64,
    /// With less without, mg/dL.
    pub peak_difference_mg_dl: f64,
    /// Mean incremental area (positive rule, over the 30 min before) without a walk, mg/dL·min.
    pub area_without_mg_dl_min: f64,
    /// The same with a walk, mg/dL·min.
    pub area_with_mg_dl_min: f64,
    /// With less without, mg/dL·min.
    pub area_difference_mg_dl_min: f64,
}

/// Mean and quantiles of the rise by logged grams; see [`Limits`] for whose meals.
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
    /// Probabilities of the quantiles: 0.50, 0.51, to 0.95.
    pub probabilities: Vec<f64>,
    /// For each dose, the rise's quantile at each probability as the sensor reads, mg/dL.
    pub quantiles_sensor_mg_dl: Vec<Vec<f64>>,
    /// The same in blood, mg/dL.
    pub quantiles_blood_mg_dl: Vec<Vec<f64>>,
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

    /// Largest grams at which such a meal stays at or under the target on the sensor with this
    /// probability, 0.5 to 0.95; `None` when that is outside the doses.
    ///
    /// # Errors
    /// [`NotFinite`](Error::NotFinite) for the target, [`OutOfRange`](Error::OutOfRange) for the
    /// probability.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::simulate::{Scenario, rise_curve};
    /// let curve = rise_curve(&Scenario::DEMO);
    /// let (likely, certain) = (curve.safe_g(30.0, 0.5)?.unwrap(), curve.safe_g(30.0, 0.9)?.unwrap());
    /// // To be surer, eat less.
    /// assert!(certain < likely);
    /// assert_eq!(curve.safe_g(30.0, 0.8)?, curve.limits(30.0).safe80_sensor_g);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn safe_g(&self, target: f64, probability: f64) -> Result<Option<f64>, Error> {
        self.safe(&self.quantiles_sensor_mg_dl, target, probability)
    }

    /// The same in blood.
    ///
    /// # Errors
    /// As [`safe_g`](Self::safe_g).
    pub fn safe_blood_g(&self, target: f64, probability: f64) -> Result<Option<f64>, Error> {
        self.safe(&self.quantiles_blood_mg_dl, target, probability)
    }

    fn safe(
        &self,
        quantiles: &[Vec<f64>],
        target: f64,
        probability: f64,
    ) -> Result<Option<f64>, Error> {
        if !target.is_finite() {
            return Err(Error::NotFinite { name: "target", index: None, value: target });
        }
        let (low, high) = (0.5, 0.95);
        if !(low..=high).contains(&probability) {
            let (name, value) = ("probability", probability);
            return Err(Error::OutOfRange { name, index: None, value, low, high });
        }
        let rises = quantiles.iter().filter_map(|by_probability| {
            let above = self.probabilities.partition_point(|&p| p < probability);
            let (last, next) = (self.probabilities.get(above)?, by_probability.get(above)?);
            let Some(before) = above.checked_sub(1) else { return Some(*next) };
            let part =
                (probability - self.probabilities[before]) / (last - self.probabilities[before]);
            // Exactly the stored quantile at a stored probability.
            Some(if part < 1.0 {
                by_probability[before] + part * (next - by_probability[before])
            } else {
                *next
            })
        });
        Ok(crossing(&self.grams, &rises.collect::<Vec<f64>>(), target))
    }
}

/// Where straight lines through the points first pass `target` from below.
pub(crate) fn crossing(grams: &[f64], rises: &[f64], target: f64) -> Option<f64> {
    let after = rises.iter().position(|&rise| rise > target)?;
    let before = after.checked_sub(1)?;
    let part = (target - rises[before]) / (rises[after] - rises[before]);
    Some(grams[before] + part * (grams[after] - grams[before]))
}

/// Days lived for the person's truths.
pub(crate) const TRUTH_DAYS: usize = 406;

/// The curve bends so little that straight lines between these miss it by 0.02 mg/dL.
pub(crate) const DOSES_G: [f64; 9] = [5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0];

/// Simulates the person's rises at 5 to 80 g. About a second.
///
/// See [`RiseCurve::safe_g`] for an example.
pub fn rise_curve(scenario: &Scenario) -> RiseCurve {
    let sitting = Sitting::laid(scenario, TRUTH_DAYS, |_| ());
    let meals = sitting.meals();
    let grams = DOSES_G.to_vec();
    let mut curve = RiseCurve {
        mean_sensor_mg_dl: Vec::new(),
        p80_sensor_mg_dl: Vec::new(),
        mean_blood_mg_dl: Vec::new(),
        p80_blood_mg_dl: Vec::new(),
        probabilities: (50..=95).map(|percent| f64::from(percent) / 100.0).collect(),
        quantiles_sensor_mg_dl: Vec::new(),
        quantiles_blood_mg_dl: Vec::new(),
        meals: grams.len() * meals,
        walk: walk_effect(&sitting),
        grams,
    };
    for &dose in &curve.grams {
        let eaten = (0..meals).map(|place| sitting.eat(place, dose, (0, 0)));
        let (sensor, blood): (Vec<f64>, Vec<f64>) =
            eaten.map(|meal| (meal.rise(), meal.rise_blood)).unzip();
        curve.mean_sensor_mg_dl.push(mean(&sensor));
        curve.mean_blood_mg_dl.push(mean(&blood));
        let (sensor, blood) = (quantile::sorted(&sensor), quantile::sorted(&blood));
        let at = |rises: &[f64], p: f64| quantile::type7(rises, p).unwrap_or_default();
        let all = |rises: &[f64]| curve.probabilities.iter().map(|&p| at(rises, p)).collect();
        curve.p80_sensor_mg_dl.push(at(&sensor, 0.8));
        curve.p80_blood_mg_dl.push(at(&blood, 0.8));
        curve.quantiles_sensor_mg_dl.push(all(&sensor));
        curve.quantiles_blood_mg_dl.push(all(&blood));
    }
    curve
}

/// The same meals of 40 g with and without a walk.
fn walk_effect(sitting: &Sitting<'_>) -> WalkEffect {
    let mut random = Random::new(TRUTH_SEED, Purpose::Walks);
    let mut sums = [[0.0; 3]; 2];
    let meals = sitting.meals();
    for place in 0..meals {
        let walk = (random.whole(10, 20), random.whole(15, 20));
        for (sum, walk) in sums.iter_mut().zip([(0, 0), walk]) {
            let meal = sitting.eat(place, EFFECTS_AT_G, walk);
            sum[0] += meal.rise();
            sum[1] += meal.peak(sitting.scenario);
            sum[2] += meal.area();
        }
    }
    let [without, with] = sums.map(|sum| sum.map(|total| total / meals.max(1) as f64));
    WalkEffect {
        at_g: EFFECTS_AT_G,
        rise_without_mg_dl: without[0],
        rise_with_mg_dl: with[0],
        difference_mg_dl: with[0] - without[0],
        peak_without_mg_dl: without[1],
        peak_with_mg_dl: with[1],
        peak_difference_mg_dl: with[1] - without[1],
        area_without_mg_dl_min: without[2],
        area_with_mg_dl_min: with[2],
        area_difference_mg_dl_min: with[2] - without[2],
    }
}

/// Grams at which this person's rises meet a target; about a second. For several targets, keep
/// the [`rise_curve`].
pub fn truth_limit(scenario: &Scenario, target_rise_mg_dl: f64) -> Limits {
    rise_curve(scenario).limits(target_rise_mg_dl)
}
