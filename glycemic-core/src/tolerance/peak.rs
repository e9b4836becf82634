//! Safe grams under two targets at once: the rise, and the peak.
//!
//! # Method
//! A meal that starts at glucose b may rise by the target for the rise or by the peak less b, whichever
//! is less: what it is allowed. A meal goes over one of the targets when its rise less what it was
//! allowed is over 0. So the line of the rise stays, the target is the mean of what is allowed, and
//! the spread is that of (residual - what the meal was allowed about its mean). Glucose before a meal and
//! the rise from it need not be independent: a higher start goes with a smaller rise, and what
//! they have in common is in that spread. The mean of what is allowed is told by as many meals as the
//! line; its error is in the interval.
//!
//! What a dose is allowed is taken to be the same at every dose: the person's own spread of glucose before
//! meals, whatever is then eaten.
//!
//! # How sure
//! In simulated trials with the answer near the least dose eaten, 90 % intervals held the truth in 79 to 81 %
//! in five scenarios of ten (85 to 94 % in the others): read the ends as a little too near.
//!
//! # Source
//! As [`super::fit`]; the variance of a difference of linked variables: common practice, no source.

use super::fit::{Fit, used};
use super::spread::Spread;
use crate::error::{Error, require_all_finite, require_same_len, require_within};
use crate::estimate::{Estimate, Reason};
use crate::meals::Responses;
use crate::stats::line::Line;
use crate::stats::moments;

const METHOD: &str = "as safe grams, on rise less what each meal's start allows";

/// Mean glucose before each meal that a fit of these responses uses, in its order, mg/dL.
pub fn glucose_before(r: &Responses) -> Vec<f64> {
    // A clean meal has a baseline.
    used(r).filter_map(|(i, _, _)| r.rows[i].baseline_mg_dl).collect()
}

impl Fit {
    /// Grams at which a new meal stays under the target for the rise *and* under `peak_mg_dl`
    /// with this probability, over the person's own glucose before meals.
    ///
    /// `before_mg_dl`: mean glucose before each meal of the fit, in its order. A peak that glucose
    /// before meals alone exceeds too often is an answer with a reason.
    ///
    /// # Errors
    /// A probability outside 0.5 to 0.99, a peak outside 1 to 1000, glucose that is not finite, or not
    /// one value for each meal.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::tolerance::{Options, fit};
    /// let grams: Vec<f64> = (0..20).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
    /// let rises: Vec<f64> = grams.iter().map(|g| 5.0 + g).collect();
    /// let fit = fit(&grams, &rises, Options::new(35.0))?;
    /// // From 100 mg/dL a peak of 130 allows a rise of 30, less than the 35 of the target.
    /// let safe = fit.safe_under_peak_g(0.8, 130.0, &[100.0; 20])?;
    /// assert!((safe.value.unwrap() - 25.0).abs() < 1e-3);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn safe_under_peak_g(
        &self,
        probability: f64,
        peak_mg_dl: f64,
        before_mg_dl: &[f64],
    ) -> Result<Estimate, Error> {
        require_within("probability", probability, 0.5, 0.99)?;
        require_within("peak_mg_dl", peak_mg_dl, 1.0, 1000.0)?;
        require_all_finite("before_mg_dl", before_mg_dl)?;
        require_same_len("before_mg_dl", self.n, before_mg_dl.len())?;
        let Some(line) = &self.line else { return Ok(self.limit_g.clone()) };
        let starts_over = before_mg_dl.iter().filter(|b| **b >= peak_mg_dl).count();
        if starts_over as f64 >= (1.0 - probability) * self.n as f64 {
            let text = "glucose before meals is itself too often at or over the peak";
            let reason = Reason::plain("baseline_over_peak", text);
            return Ok(Estimate::missing(self.options.level, METHOD, self.n, self.n, reason));
        }
        let target = self.options.rise_mg_dl;
        let allowed: Vec<f64> = before_mg_dl.iter().map(|b| target.min(peak_mg_dl - b)).collect();
        self.allowing(line, &allowed).safe(probability, METHOD)
    }

    /// The fit with the mean of `allowed` as its target and the spread about it.
    fn allowing(&self, line: &Line, allowed: &[f64]) -> Fit {
        let mean = moments::mean(allowed).unwrap_or(self.options.rise_mg_dl);
        let (grams, rises) = self.data();
        let fitted: Vec<f64> = grams.iter().map(|g| line.at(*g)).collect();
        let left: Vec<f64> = rises.iter().zip(&fitted).map(|(r, f)| r - f).collect();
        let over: Vec<f64> = left.iter().zip(allowed).map(|(e, a)| e - (a - mean)).collect();
        // The mean of what is allowed has an error too, linked with the line's.
        let variance = |v: &[f64]| moments::variance(v).unwrap_or(0.0);
        let more = (variance(&over) - variance(&left)) / self.n as f64;
        let mut line = line.clone();
        let own = line.cov_hc3[0][0];
        line.cov_hc3[0][0] = (own + more).max(own / 4.0);
        let mut out = self.clone();
        out.options.rise_mg_dl = mean;
        out.spread = Spread::of(&fitted, &over, 2.0);
        out.line = Some(line);
        out
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Options, fit};

    /// Where every start allows the same, it is the safe grams at that target; where a high start goes
    /// with a rise as much smaller, every meal ends at the same height and the spread is none.
    #[test]
    fn two_targets_by_hand() {
        let grams: Vec<f64> = (0..40).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
        let off: Vec<f64> = (0..40).map(|i| [6.0, -6.0, 2.0, -2.0][i / 5 % 4]).collect();
        let rises: Vec<f64> = grams.iter().zip(&off).map(|(g, o)| 5.0 + g + o).collect();
        let of = |target: f64| fit(&grams, &rises, Options::new(target)).unwrap();
        let same = of(50.0).safe_under_peak_g(0.8, 130.0, &[95.0; 40]).unwrap();
        let plain = of(35.0).safe_g(0.8).unwrap();
        for (found, wanted) in
            [same.value, same.low, same.high].iter().zip([plain.value, plain.low, plain.high])
        {
            assert!((found.unwrap() - wanted.unwrap()).abs() < 1e-9, "{same:?} {plain:?}");
        }
        let starts: Vec<f64> = off.iter().map(|o| 100.0 - o).collect();
        let level = of(50.0).safe_under_peak_g(0.8, 130.0, &starts).unwrap();
        assert!((level.value.unwrap() - 25.0).abs() < 1e-3, "{level:?}");
        // The other way about, starts add to the spread.
        let against: Vec<f64> = off.iter().map(|o| 100.0 + o).collect();
        let wide = of(50.0).safe_under_peak_g(0.8, 130.0, &against).unwrap();
        assert!(wide.value.unwrap() < of(30.0).safe_g(0.8).unwrap().value.unwrap() - 2.0);
    }

    #[test]
    fn refusals() {
        let grams: Vec<f64> = (0..20).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0][i % 5]).collect();
        let fit = fit(&grams, &grams, Options::new(35.0)).unwrap();
        let at = |before: &[f64]| fit.safe_under_peak_g(0.8, 130.0, before);
        let refused = at(&[131.0; 20]).unwrap();
        assert_eq!(refused.reason.unwrap().code, "baseline_over_peak");
        assert!(at(&[100.0; 19]).is_err() && at(&[f64::NAN; 20]).is_err());
        assert!(fit.safe_under_peak_g(0.4, 130.0, &[100.0; 20]).is_err());
    }
}
