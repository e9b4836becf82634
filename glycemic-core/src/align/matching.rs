//! Meter readings set beside the smoothed sensor, over a row of shifts.
//!
//! # Method
//! For each shift the sensor less the meter is fitted by a constant and a gain. The gain is held
//! near 1 (prior SD 0.1, our choice): a free one lets a shift into flat hours pass for a match,
//! since little is left to explain there.
//!
//! # Source
//! Sensor on meter over a row of shifts: Fabris and Kovatchev (eds), Glucose Monitoring Devices
//! (2020), p. 244. A prior as a ridge: Draper and Smith, Applied Regression Analysis, 3rd ed.
//! (1998), chapter 17, from memory.

/// Standard deviation of what a sensor's gain is taken to be around 1.
const GAIN_SD: f64 = 0.1;
/// A pair that the fit follows all but so much says nothing of its own error.
const LEAST_LEFT: f64 = 0.02;

/// The meter's side of the fit: centred values and their weight.
pub(super) struct Matching {
    centred: Vec<f64>,
    square: f64,
    meter: Vec<f64>,
    ridge: f64,
}

impl Matching {
    /// For these meter readings, the gain held at 1.
    pub(super) fn new(meter: &[f64]) -> Matching {
        let mean = meter.iter().sum::<f64>() / meter.len().max(1) as f64;
        let centred: Vec<f64> = meter.iter().map(|m| m - mean).collect();
        let square = centred.iter().map(|c| c * c).sum();
        Matching { centred, square, meter: meter.to_vec(), ridge: f64::INFINITY }
    }

    /// The gain left as free as its prior is wide beside a residual variance.
    pub(super) fn with_gain(self, residual_variance: f64) -> Matching {
        Matching { ridge: residual_variance / (GAIN_SD * GAIN_SD), ..self }
    }

    /// Residuals of the sensor's readings, and their sum of squares with the price of the gain.
    pub(super) fn residuals(&self, sensor: &[f64]) -> (Vec<f64>, f64) {
        let differences: Vec<f64> = sensor.iter().zip(&self.meter).map(|(s, m)| s - m).collect();
        self.left(&differences, self.ridge)
    }

    /// What is left of any values beside the readings once constant and a free gain are taken off.
    pub(super) fn free(&self, values: &[f64]) -> (Vec<f64>, f64) {
        self.left(values, 0.0)
    }

    /// Variance of the sum of slopes times residuals, and its degrees of freedom. `slopes` are free
    /// of constant and gain, `square` is their sum of squares.
    ///
    /// Each residual is divided by what a fit of constant, gain and slope leaves of its own error, as
    /// if the pair had been left out; the whole is scaled to be right where errors are even, and the
    /// degrees of freedom are Satterthwaite's under the same.
    pub(super) fn leave_one_out(
        &self,
        slopes: &[f64],
        square: f64,
        residuals: &[f64],
    ) -> (f64, f64) {
        let n = slopes.len();
        let gain = if self.square > 0.0 { 1.0 / self.square } else { 0.0 };
        let hat = |i: usize, j: usize| {
            let (own, other) = (self.centred[i], self.centred[j]);
            1.0 / n as f64 + own * other * gain + slopes[i] * slopes[j] / square
        };
        let left: Vec<f64> = (0..n).map(|i| (1.0 - hat(i, i)).max(LEAST_LEFT)).collect();
        let weight: Vec<f64> = slopes.iter().zip(&left).map(|(p, l)| p * p / (l * l)).collect();
        let seen: f64 = weight.iter().zip(residuals).map(|(w, r)| w * r * r).sum();
        let mean: f64 = weight.iter().zip(&left).map(|(w, l)| w * l).sum();
        let mut squares = 0.0;
        for i in 0..n {
            for j in 0..n {
                let own = f64::from(u8::from(i == j)) - hat(i, j);
                squares += weight[i] * weight[j] * own * own;
            }
        }
        (seen * square / mean, (mean * mean / squares).max(1.0))
    }

    fn left(&self, values: &[f64], ridge: f64) -> (Vec<f64>, f64) {
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let cross: f64 = values.iter().zip(&self.centred).map(|(v, c)| (v - mean) * c).sum();
        let whole = self.square + ridge;
        let gain = if whole > 0.0 && whole.is_finite() { cross / whole } else { 0.0 };
        let rest: Vec<f64> =
            values.iter().zip(&self.centred).map(|(v, c)| v - mean - gain * c).collect();
        let total: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        (rest, (total - gain * cross).max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With each slope 1 or -1 and no leverage but that of the fit, every residual counts alike: n
    /// residuals of size 1 have the variance n / (n - 3) each, and n - 3 degrees of freedom.
    #[test]
    fn even_pairs_leave_n_less_three() {
        let meter = [90.0, 90.0, 90.0, 90.0, 110.0, 110.0, 110.0, 110.0];
        let slopes = [1.0, 1.0, -1.0, -1.0, 1.0, 1.0, -1.0, -1.0];
        let residuals = [1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0];
        let (variance, df) = Matching::new(&meter).leave_one_out(&slopes, 8.0, &residuals);
        assert!((variance - 8.0 * 8.0 / 5.0).abs() < 1e-9, "{variance}");
        assert!((df - 5.0).abs() < 1e-9, "{df}");
    }

    /// By hand: sensor 1.1 times the meter. Held at 1, differences -1, 0, 1 leave 2; free, 0.
    /// With a ridge as heavy as the meter's square (200) the gain is half way: 2 - 20²/400 = 1.
    #[test]
    fn gain_by_hand() {
        let (meter, sensor) = ([90.0, 100.0, 110.0], [99.0, 110.0, 121.0]);
        let held = Matching::new(&meter);
        assert!((held.residuals(&sensor).1 - 2.0).abs() < 1e-9);
        assert!(held.free(&sensor).1 < 1e-9);
        let between = Matching::new(&meter).with_gain(2.0);
        assert!((between.residuals(&sensor).1 - 1.0).abs() < 1e-9);
    }
}
