//! How the sensor's noise, and glucose itself, hang together over time.
//!
//! # Method
//! Second differences at several lags h (value h later, twice the value, value h earlier) lose
//! every straight trend; their mean squares follow from the covariance. In windows without food
//! they are fitted by white noise (rounding too), noise with two time constants (a continuous
//! autoregression of order 1 or 2) and the slow movement of glucose itself, an integrated random
//! walk whose differences grow as h³ without end, which is then left out. Least squares of the relative errors, no part negative, glucose taken to be still where it fits. Around meals the same
//! differences, less the noise's, give the spread and the time scale of glucose (Matérn 5/2).
//!
//! # Units
//! mg/dL, minutes.
//!
//! # Source
//! The integrated random walk behind a smoothing spline: Wahba G. J R Stat Soc B 1978; 40: 364-372.
//! Variogram fit by weighted least squares: Cressie N. Math Geol 1985; 17: 563-586. Sensor noise
//! as an autoregression: Facchinetti et al., IEEE Trans Biomed Eng 2014; 61: 620-629. All from
//! memory.

/// Lags of the second differences, minutes.
pub(super) const LAGS_MIN: [f64; LAGS] = [5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0];
/// How many there are.
pub(super) const LAGS: usize = 8;
/// Time constants that are tried, minutes.
///
/// Noise slower than the last can't be told from glucose.
const TIMES_MIN: [f64; 7] = [4.0, 6.0, 9.0, 13.0, 19.0, 28.0, 42.0];
/// Weights of the lags: at the shortest, a noise's finest shape must not rule the fit.
const WEIGHTS: [f64; LAGS] = [0.2, 0.4, 0.7, 1.0, 1.0, 1.0, 1.0, 1.0];
/// Glucose without food is taken to move little: its mean square over an hour, mg²/dL², counts as
/// this much of a relative error.
const STILL: f64 = 0.02;
const SCALES_MIN: [f64; 8] = [20.0, 30.0, 45.0, 60.0, 80.0, 110.0, 150.0, 200.0];

/// The covariance of the sensor's noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Linked {
    /// Variance of what is linked in time.
    pub linked: f64,
    /// Variance of what is not.
    pub white: f64,
    /// The longer time constant, minutes.
    pub slow_min: f64,
    /// The shorter one, minutes; 0 for an autoregression of order 1.
    pub fast_min: f64,
}

impl Linked {
    /// Covariance over `h` minutes, without the white part.
    pub(super) fn at(&self, h: f64) -> f64 {
        self.linked * linked_at(self.slow_min, self.fast_min, h)
    }
}

/// The covariance of glucose around a meal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Signal {
    pub variance: f64,
    pub scale_min: f64,
}

impl Signal {
    pub(super) fn at(&self, h: f64) -> f64 {
        self.variance * matern(self.scale_min, h)
    }
}

fn linked_at(slow: f64, fast: f64, h: f64) -> f64 {
    if fast <= 0.0 {
        return libm::exp(-h / slow);
    }
    if slow <= fast {
        return (1.0 + h / slow) * libm::exp(-h / slow);
    }
    (slow * libm::exp(-h / slow) - fast * libm::exp(-h / fast)) / (slow - fast)
}

fn matern(scale: f64, h: f64) -> f64 {
    let x = 5f64.sqrt() * h / scale;
    (1.0 + x + x * x / 3.0) * libm::exp(-x)
}

/// Mean square of the second difference at lag h under a correlation of variance 1.
fn expected(correlation: impl Fn(f64) -> f64, h: f64) -> f64 {
    6.0 - 8.0 * correlation(h) + 2.0 * correlation(2.0 * h)
}

/// Sums of squared second differences of one stretch, a pair (sum, count) for each of
/// [`LAGS_MIN`].
pub(super) type Sums = [(f64, usize); LAGS];

/// The sums of one stretch; a lag that is not a whole number of nominal intervals is left out.
pub(super) fn differences(times_ms: &[i64], y: &[f64], nominal_ms: i64) -> Sums {
    let mut out = [(0.0, 0); LAGS];
    for (lag, slot) in LAGS_MIN.iter().zip(&mut out) {
        let lag_ms = (lag * 60_000.0) as i64;
        let steps = ((lag_ms as f64 / nominal_ms as f64).round() as usize).max(1);
        if (steps as i64 * nominal_ms - lag_ms).abs() * 2 > nominal_ms.min(lag_ms / 2) {
            continue;
        }
        for i in 2 * steps..y.len() {
            let (a, b) =
                (times_ms[i] - times_ms[i - steps], times_ms[i - steps] - times_ms[i - 2 * steps]);
            if (a - lag_ms).abs() * 2 <= nominal_ms && (b - lag_ms).abs() * 2 <= nominal_ms {
                let d = y[i] - 2.0 * y[i - steps] + y[i - 2 * steps];
                *slot = (slot.0 + d * d, slot.1 + 1);
            }
        }
    }
    out
}

/// Mean squares from pooled sums, where there were any.
pub(super) fn means(stretches: &[Sums]) -> [Option<f64>; LAGS] {
    let mut out = [None; LAGS];
    for (k, slot) in out.iter_mut().enumerate() {
        let (sum, count) = stretches.iter().fold((0.0, 0), |a, s| (a.0 + s[k].0, a.1 + s[k].1));
        *slot = (count > 0).then(|| sum / count as f64);
    }
    out
}

/// The noise whose second differences come nearest to `seen`; `None` with fewer than three lags.
pub(super) fn noise(seen: &[Option<f64>; LAGS]) -> Option<Linked> {
    let lags: Vec<(f64, f64, f64)> = LAGS_MIN
        .iter()
        .zip(seen)
        .zip(WEIGHTS)
        .filter_map(|((h, s), w)| s.filter(|s| *s > 0.0).map(|s| (*h, s, w)))
        .collect();
    if lags.len() < 3 {
        // Not a single change in a whole window: no noise that could be seen.
        return seen.iter().flatten().all(|s| *s <= 0.0).then_some(Linked {
            linked: 0.0,
            white: 0.0,
            slow_min: TIMES_MIN[0],
            fast_min: 0.0,
        });
    }
    let mut best: Option<(f64, Linked)> = None;
    for (i, &slow) in TIMES_MIN.iter().enumerate() {
        for &fast in [0.0].iter().chain(&TIMES_MIN[..=i]) {
            let mut rows: Vec<([f64; 3], f64)> = lags
                .iter()
                .map(|&(h, s, w)| {
                    let linked = expected(|x| linked_at(slow, fast, x), h);
                    let hours = h / 60.0;
                    ([6.0, linked, hours * hours * hours].map(|part| w * part / s), w)
                })
                .collect();
            rows.push(([0.0, 0.0, STILL], 0.0));
            let (error, part) = no_part_negative(&rows);
            if best.is_none_or(|b| error < b.0 - 1e-12) {
                let found =
                    Linked { linked: part[1], white: part[0], slow_min: slow, fast_min: fast };
                best = Some((error, found));
            }
        }
    }
    best.map(|b| b.1)
}

/// Glucose around meals, from second differences that hold the noise too.
pub(super) fn signal(seen: &[Option<f64>; LAGS], noise: &Linked) -> Option<Signal> {
    let mut best: Option<(f64, Signal)> = None;
    for &scale_min in &SCALES_MIN {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (&h, s) in LAGS_MIN.iter().zip(seen) {
            let Some(s) = s.filter(|s| *s > 0.0) else { continue };
            let of_noise = 6.0 * noise.white
                + noise.linked * expected(|x| linked_at(noise.slow_min, noise.fast_min, x), h);
            let (x, y) = (expected(|x| matern(scale_min, x), h) / s, ((s - of_noise) / s).max(0.0));
            xx += x * x;
            xy += x * y;
            yy += y * y;
        }
        if xx <= 0.0 {
            return None;
        }
        let variance = xy / xx;
        let error = yy - variance * xy;
        if best.is_none_or(|b| error < b.0 - 1e-12) {
            best = Some((error, Signal { variance, scale_min }));
        }
    }
    best.map(|b| b.1)
}

/// Least squares of rows · x = their right sides with x ≥ 0, over all choices of which parts are 0.
fn no_part_negative(rows: &[([f64; 3], f64)]) -> (f64, [f64; 3]) {
    let mut best = (rows.iter().map(|r| r.1 * r.1).sum::<f64>(), [0.0; 3]);
    for chosen in 1..8_usize {
        let on: Vec<usize> = (0..3).filter(|k| chosen >> k & 1 == 1).collect();
        let Some(x) = solve(rows, &on) else { continue };
        if x.iter().any(|v| *v < 0.0) {
            continue;
        }
        let error = rows
            .iter()
            .map(|r| {
                let left = r.1 - (0..3).map(|k| r.0[k] * x[k]).sum::<f64>();
                left * left
            })
            .sum::<f64>();
        if error < best.0 - 1e-12 {
            best = (error, x);
        }
    }
    best
}

/// Normal equations of the chosen columns, by elimination on scaled columns.
fn solve(rows: &[([f64; 3], f64)], on: &[usize]) -> Option<[f64; 3]> {
    let n = on.len();
    let norm: Vec<f64> =
        on.iter().map(|&k| rows.iter().map(|r| r.0[k] * r.0[k]).sum::<f64>().sqrt()).collect();
    if norm.iter().any(|s| *s <= 0.0 || !s.is_finite()) {
        return None;
    }
    let mut m = vec![vec![0.0; n + 1]; n];
    for a in 0..n {
        for b in 0..n {
            m[a][b] =
                rows.iter().map(|r| r.0[on[a]] * r.0[on[b]]).sum::<f64>() / (norm[a] * norm[b]);
        }
        m[a][n] = rows.iter().map(|r| r.0[on[a]] * r.1).sum::<f64>() / norm[a];
    }
    for a in 0..n {
        if m[a][a] < 1e-9 {
            return None;
        }
        for b in a + 1..n {
            let factor = m[b][a] / m[a][a];
            let above = m[a].clone();
            for (left, over) in m[b].iter_mut().zip(&above).skip(a) {
                *left -= factor * over;
            }
        }
    }
    let mut out = [0.0; 3];
    let mut x = vec![0.0; n];
    for a in (0..n).rev() {
        let rest: f64 = (a + 1..n).map(|b| m[a][b] * x[b]).sum();
        x[a] = (m[a][n] - rest) / m[a][a];
        out[on[a]] = x[a] / norm[a];
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Second differences worked out from a covariance give that covariance back.
    #[test]
    fn a_known_covariance_comes_back() {
        let seen = |white: f64, linked: f64, slow: f64, fast: f64| {
            let mut out = [None; LAGS];
            for (slot, &h) in out.iter_mut().zip(&LAGS_MIN) {
                *slot = Some(6.0 * white + linked * expected(|x| linked_at(slow, fast, x), h));
            }
            out
        };
        let found = noise(&seen(0.5, 20.0, 42.0, 0.0)).unwrap();
        assert_eq!((found.slow_min, found.fast_min), (42.0, 0.0));
        assert!((found.linked - 20.0).abs() < 1e-6 && (found.white - 0.5).abs() < 1e-6);
        let found = noise(&seen(0.0, 9.0, 13.0, 13.0)).unwrap();
        assert_eq!((found.slow_min, found.fast_min), (13.0, 13.0));
        assert!((found.linked - 9.0).abs() < 1e-6 && found.white < 1e-6);
    }

    /// Movement that grows as h³ is glucose: of 22 mg²/dL² over an hour less than 1 is taken for
    /// noise.
    #[test]
    fn slow_movement_is_no_noise() {
        let found = noise(&LAGS_MIN.map(|h| Some(1e-4 * h * h * h))).unwrap();
        assert!(found.linked + found.white < 1.0, "{found:?}");
        let still = noise(&LAGS_MIN.map(|h| Some(1e-5 * h * h * h))).unwrap();
        assert!(still.linked + still.white < 0.01, "{still:?}");
    }

    /// A straight line has no second differences; a parabola 2 a h² at lag h.
    #[test]
    fn differences_by_hand() {
        let times: Vec<i64> = (0..40).map(|i| i * 300_000).collect();
        let line: Vec<f64> = (0..40).map(|i| 100.0 + 2.0 * f64::from(i)).collect();
        assert!(differences(&times, &line, 300_000).iter().all(|s| s.0 == 0.0 && s.1 > 0));
        let bent: Vec<f64> = (0..40).map(|i| 100.0 + 0.5 * f64::from(i * i)).collect();
        let found = means(&[differences(&times, &bent, 300_000)]);
        // One step of 5 min is 1 of i: 2 × 0.5 × 1² = 1, and 2 × 0.5 × 2² = 4, squared.
        assert!((found[0].unwrap() - 1.0).abs() < 1e-9);
        assert!((found[1].unwrap() - 16.0).abs() < 1e-9);
    }

    /// White noise: every second difference has six times its variance.
    #[test]
    fn rounding_alone_is_white() {
        let found = noise(&[Some(0.5); LAGS]).unwrap();
        assert!((found.white + found.linked - 0.5 / 6.0).abs() < 1e-3, "{found:?}");
    }
}
