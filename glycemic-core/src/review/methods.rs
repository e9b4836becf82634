//! A methods paragraph, made from the choices and counts of the review.

use super::answer::Review;

impl Review {
    /// A paragraph for a paper or a colleague: what was computed, how, from what.
    pub fn methods(&self) -> String {
        let o = &self.options;
        let count = |id: &str| self.estimate(id).and_then(|e| e.value).unwrap_or(0.0);
        let target = self.targets.rise_mg_dl.map_or("no target for the rise".to_string(), |t| {
            format!("a target rise of {t} mg/dL")
        });
        format!(
            "Sensor readings ({:.0} over {:.1} days, {:.0} % active time) were cleaned with every change counted. \
             Glucose is in mg/dL (1 mmol/L = 18.0156 mg/dL); readings were classified in the unit they were measured in \
             against the consensus ranges (Battelino et al. 2019). Intervals ({:.0} %) of the panel leave out one local day \
             at a time (jackknife, Student's t; shares on the logit scale). {:.0} pairs of meter and sensor within 5 minutes \
             were compared, clustered by day; bursts were averaged, readings used for a calibration left out. The shift \
             between the two is the best match of the smoothed sensor and holds lag and clock error together. Meal \
             windows run from 30 minutes before to 180 after; the rise is the highest point of the curve behind the \
             readings less the baseline, corrected for noise estimated in windows without food, whose own error is in \
             the intervals. The limit, for {target}, is by inverse prediction from a weighted straight line of rise on \
             net carbohydrate (total less fibre), its slopes pooled over kinds of food where there are several, over \
             {:.0} clean meals; safe grams add the gamma quantile of the spread without the sensor's noise. Nothing is \
             claimed outside the doses eaten. Seed {}. \
             Computed with glycemic {}.",
            count("readings"),
            count("days"),
            count("active_pct"),
            100.0 * o.level,
            count("pairs"),
            count("meals_used"),
            o.seed,
            env!("CARGO_PKG_VERSION"),
        )
    }
}
