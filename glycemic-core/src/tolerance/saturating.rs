//! Beside the straight line: rises that grow less and less with grams.
//!
//! # Method
//! The rise is a + b·gᵏ with k from 0.6 to 0.9, fitted with the straight line's weights. Both forms
//! are judged by how well they tell a meal that was left out: the mean logarithm of the normal
//! density of each meal given the others. The power with the best one is kept. Its weight against
//! the straight form is that of pseudo-Bayesian model averaging; it is *preferred* only where it is
//! better by more than one standard error of the difference, so that ties go to the straight line.
//!
//! A check of how far the limit hangs on the form; the headline stays with the straight line, since a
//! two-week diary seldom tells the forms apart.
//!
//! # Source
//! Yao Y, Vehtari A, Simpson D, Gelman A. Bayesian Anal 2018; 13: 917-1007 (pseudo-BMA).
//! Left-out residuals from leverages: Draper NR, Smith H. Applied regression analysis, 3rd ed.
//! 1998. One standard error: Breiman and others, Classification and regression trees, 1984, from
//! memory.

use super::doses::{Answer, not_refused};
use super::fit::{Fit, error_sd, weights};
use crate::error::Error;
use crate::estimate::Estimate;
use crate::stats::line::{self, Line};
use crate::stats::moments;

/// Powers tried.
const POWERS: [f64; 4] = [0.6, 0.7, 0.8, 0.9];
const METHOD: &str = "weighted line of rise on a power of grams, HC3, inverse prediction";

/// The saturating form beside the straight one.
#[derive(Clone, Debug, PartialEq)]
pub struct Saturating {
    /// The power of grams.
    pub power: f64,
    /// Grams at which its mean rise meets the target.
    pub limit_g: Estimate,
    /// Root mean square error of meals left out, mg/dL, by this form.
    pub left_out_mg_dl: f64,
    /// The same by the straight line.
    pub straight_left_out_mg_dl: f64,
    /// Weight of this form against the straight one, 0 to 1.
    pub weight: f64,
    /// Whether it tells meals left out better by more than one standard error.
    pub preferred: bool,
}

/// One form, with what it says of each meal left out.
struct Form {
    line: Line,
    off: Vec<f64>,
    density: Vec<f64>,
}

impl Form {
    fn of(x: &[f64], rises: &[f64], w: &[f64]) -> Result<Form, Error> {
        let line = line::weighted(x, rises, w)?;
        let off: Vec<f64> = line
            .residuals
            .iter()
            .zip(&line.leverage)
            .map(|(r, h)| r / (1.0 - h).max(1e-6))
            .collect();
        let variance = (line.residual_sd * line.residual_sd).max(1e-12);
        // Given the others: the spread of the meal and the error of the line at it.
        let one = |i: usize| {
            let v = variance / w[i] / (1.0 - line.leverage[i]).max(1e-6);
            -0.5 * (libm::log(v) + off[i] * off[i] / v)
        };
        let density = (0..x.len()).map(one).collect();
        Ok(Form { line, off, density })
    }

    fn sum(&self) -> f64 {
        self.density.iter().sum()
    }

    fn left_out(&self) -> f64 {
        moments::mean(&self.off.iter().map(|o| o * o).collect::<Vec<f64>>()).unwrap_or(0.0).sqrt()
    }
}

impl Fit {
    /// The saturating form of the same meals; `None` where there is no line.
    ///
    /// # Errors
    /// None that a fit can cause.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::tolerance::{Options, fit};
    /// // Rises of 6 · g^0.7, give or take 1.
    /// let grams: Vec<f64> = (0..30).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0, 80.0][i % 6]).collect();
    /// let rises: Vec<f64> =
    ///     (0..30).map(|i| 6.0 * grams[i].powf(0.7) + [1.0, -1.0, 0.0, 1.0, -1.0][i / 6]).collect();
    /// let bent = fit(&grams, &rises, Options::new(40.0))?.saturating()?.unwrap();
    /// assert!(bent.power == 0.7 && bent.preferred && bent.weight > 0.9);
    /// // (40 / 6)^(1 / 0.7) g.
    /// assert!((bent.limit_g.value.unwrap() - 15.03).abs() < 0.5);
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn saturating(&self) -> Result<Option<Saturating>, Error> {
        let Some(straight) = &self.line else { return Ok(None) };
        let w = weights(straight, self.spread, &self.grams);
        let plain = Form::of(&self.grams, &self.rises, &w)?;
        let mut best: Option<(f64, Form)> = None;
        for power in POWERS {
            let x: Vec<f64> = self.grams.iter().map(|g| libm::pow(*g, power)).collect();
            let form = Form::of(&x, &self.rises, &w)?;
            if best.as_ref().is_none_or(|b| form.sum() > b.1.sum()) {
                best = Some((power, form));
            }
        }
        let Some((power, form)) = best else { return Ok(None) };
        let gains: Vec<f64> = form.density.iter().zip(&plain.density).map(|(a, b)| a - b).collect();
        let gain: f64 = gains.iter().sum();
        let error = moments::sd(&gains).unwrap_or(0.0) * (gains.len() as f64).sqrt();
        Ok(Some(Saturating {
            power,
            limit_g: self.limit_of_power(&form.line, power),
            left_out_mg_dl: form.left_out(),
            straight_left_out_mg_dl: plain.left_out(),
            weight: 1.0 / (1.0 + libm::exp(-gain)),
            preferred: gain > error,
        }))
    }

    fn limit_of_power(&self, line: &Line, power: f64) -> Estimate {
        let x = |g: f64| libm::pow(g.max(0.0), power);
        let target = self.options.rise_mg_dl;
        let middle = (target - line.intercept) / line.slope;
        // A target already met below 0 g has no grams of its own; the least dose bounds it.
        let value = (line.slope > 0.0).then(|| libm::pow(middle.max(0.0), 1.0 / power));
        let half = |g: f64| {
            let [a, b] = self.options.noise_shift;
            let noise = a + b * g;
            let own = error_sd(line, x(g));
            self.t() * (own * own + noise * noise).sqrt()
        };
        let at = |g: f64| line.at(x(g));
        let ends = not_refused(self.doses_g, target, |g| at(g) - half(g), |g| at(g) + half(g));
        let clear = line.slope > self.t() * line.cov_hc3[1][1].max(0.0).sqrt();
        let (doses, level, n) = (self.doses_g, self.options.level, self.n);
        Answer { value, ends, clear, doses, level, method: METHOD, n }.estimate()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Options, fit};

    /// Rises on a straight line, give or take 3: the straight form must not be given up.
    #[test]
    fn ties_go_to_the_straight_line() {
        let grams: Vec<f64> =
            (0..24).map(|i| [10.0, 20.0, 30.0, 45.0, 60.0, 80.0][i % 6]).collect();
        let rises: Vec<f64> =
            (0..24).map(|i| 5.0 + grams[i] + [3.0, -3.0, -2.0, 2.0][i / 6]).collect();
        let found = fit(&grams, &rises, Options::new(35.0)).unwrap().saturating().unwrap().unwrap();
        assert!(!found.preferred && found.weight < 0.5, "{found:?}");
        assert_eq!(found.power, 0.9);
    }

    /// By hand, unit weights: the line through (0, 0), (1, 1), (2, 4) left out one by one misses by
    /// 2, -1, 2 (a line through the other two), as residual over 1 less leverage says.
    #[test]
    fn left_out_by_hand() {
        let form = super::Form::of(&[0.0, 1.0, 2.0], &[0.0, 1.0, 4.0], &[1.0; 3]).unwrap();
        for (found, wanted) in form.off.iter().zip([2.0, -1.0, 2.0]) {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
    }
}
