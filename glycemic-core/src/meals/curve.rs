//! The curve behind noisy readings, as the mean of all curves that could have given them.
//!
//! # Method
//! Kriging: glucose is a constant of unknown height plus a process with the covariance found
//! around this person's meals, the noise has the covariance found where there was no food. The
//! curve is a weighted sum of the readings; draws from the curves that fit come from a draw of
//! both processes, corrected by the same weights.
//!
//! # Source
//! Rasmussen CE, Williams CKI. Gaussian processes for machine learning. MIT Press 2006, ch. 2.
//! Draws: Matheron's rule, Journel and Huijbregts, Mining geostatistics, 1978. From memory.

use super::covariance::{Linked, Signal};
use crate::stats::cholesky::{factor, matrix, solve};
use crate::stats::random::Random;

/// Standard deviation of the unknown height, mg/dL: as good as none known.
const HEIGHT_SD: f64 = 100.0;
/// Least variance of a reading about the curve: a whole mg/dL rounds by 1/12.
const ROUNDING: f64 = 1.0 / 12.0;

/// Weights of one set of times.
#[derive(Clone, Debug)]
pub(super) struct Curve {
    /// Row i gives the curve at reading i.
    weights: Vec<Vec<f64>>,
    signal: Vec<Vec<f64>>,
    noise: Vec<Vec<f64>>,
}

impl Curve {
    /// The weights for readings at `t` minutes; `None` when the covariance can't be factored.
    pub(super) fn new(t: &[f64], signal: &Signal, noise: &Linked) -> Option<Curve> {
        let n = t.len();
        let g = matrix(n, |i, j| signal.at((t[i] - t[j]).abs()) + if i == j { 1e-6 } else { 0.0 });
        let e = matrix(n, |i, j| {
            noise.at((t[i] - t[j]).abs()) + if i == j { noise.white.max(ROUNDING) } else { 0.0 }
        });
        let height = HEIGHT_SD * HEIGHT_SD;
        let both = factor(&matrix(n, |i, j| g[i][j] + e[i][j] + height))?;
        // (G + 1 height) (G + E + 1 height)⁻¹, by rows: both matrices are symmetric.
        let weights =
            (0..n).map(|i| solve(&both, g[i].iter().map(|v| v + height).collect())).collect();
        Some(Curve { weights, signal: factor(&g)?, noise: factor(&e)? })
    }

    /// The curve at the readings.
    pub(super) fn of(&self, y: &[f64]) -> Vec<f64> {
        // The mean is taken off first: the weights of a row sum to 1 but for the known height.
        let mean = y.iter().sum::<f64>() / y.len().max(1) as f64;
        self.weights
            .iter()
            .map(|w| mean + w.iter().zip(y).map(|(a, b)| a * (b - mean)).sum::<f64>())
            .collect()
    }

    /// One of the curves that fit `y`, whose mean curve is `curve`.
    pub(super) fn draw(&self, curve: &[f64], random: &mut Random) -> Vec<f64> {
        let g = times_normal(&self.signal, random);
        let e = times_normal(&self.noise, random);
        let seen: Vec<f64> = g.iter().zip(&e).map(|(a, b)| a + b).collect();
        let back = self.of(&seen);
        (0..curve.len()).map(|i| curve[i] + g[i] - back[i]).collect()
    }

    /// A draw of the noise.
    pub(super) fn draw_noise(&self, random: &mut Random) -> Vec<f64> {
        times_normal(&self.noise, random)
    }
}

fn times_normal(low: &[Vec<f64>], random: &mut Random) -> Vec<f64> {
    let z: Vec<f64> = low.iter().map(|_| random.normal()).collect();
    low.iter().map(|row| row.iter().zip(&z).map(|(a, b)| a * b).sum()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_noise_the_readings_come_back() {
        let t: Vec<f64> = (0..30).map(|i| 5.0 * f64::from(i)).collect();
        let y: Vec<f64> = t.iter().map(|x| 100.0 + 40.0 * libm::sin(x / 40.0)).collect();
        let signal = Signal { variance: 900.0, scale_min: 60.0 };
        let quiet = Linked { linked: 0.0, white: 0.0, slow_min: 10.0, fast_min: 0.0 };
        let curve = Curve::new(&t, &signal, &quiet).unwrap();
        for (a, b) in curve.of(&y).iter().zip(&y) {
            assert!((a - b).abs() < 0.15, "{a} {b}");
        }
        // A constant stays itself, however noisy.
        let loud = Linked { linked: 100.0, white: 5.0, slow_min: 40.0, fast_min: 0.0 };
        let curve = Curve::new(&t, &signal, &loud).unwrap();
        assert!(curve.of(&[120.0; 30]).iter().all(|v| (v - 120.0).abs() < 1e-9));
    }
}
