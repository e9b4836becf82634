//! Smoothing by a local curve.
//!
//! # Method
//! At each point a parabola is fitted to the readings within a half width, weighted by the
//! tricube (1 - |u|³)³ of their distance u in half widths, and read off at the point. With
//! three readings it is a straight line; with fewer, their weighted mean.
//!
//! # Units
//! Minutes, and whatever unit the values have.
//!
//! # Source
//! Cleveland WS, Devlin SJ. Locally weighted regression. J Am Stat Assoc 1988; 83: 596-610
//! (here with a fixed width, not a fixed share of the points).

/// The smoothed value at each of `at`, from readings `y` at the minutes `t_min`.
///
/// A reading counts when it is nearer than `half_width_min`; with none, the answer is `None`.
/// Readings may stand in any order (rising is faster); one that is not finite is left out,
/// and a half width that is not above 0 leaves all out. Source: Cleveland and Devlin (1988).
///
/// # Example
/// ```
/// # use glycemic_core::stats::smooth::local_quadratic;
/// // A parabola comes back unchanged.
/// let minutes: Vec<f64> = (0..9).map(|k| 5.0 * f64::from(k)).collect();
/// let glucose: Vec<f64> = minutes.iter().map(|t| 100.0 + t * t / 50.0).collect();
/// let smooth = local_quadratic(&minutes, &glucose, &[20.0, 90.0], 15.0);
/// assert!((smooth[0].unwrap() - 108.0).abs() < 1e-9);
/// assert_eq!(smooth[1], None);
/// ```
pub fn local_quadratic(
    t_min: &[f64],
    y: &[f64],
    at: &[f64],
    half_width_min: f64,
) -> Vec<Option<f64>> {
    let n = t_min.len().min(y.len());
    let (t_min, y) = (&t_min[..n], &y[..n]);
    let rising = t_min.is_sorted();
    let mut near: Vec<Near> = Vec::new();
    at.iter()
        .map(|&point| {
            if !(half_width_min > 0.0 && point.is_finite()) {
                return None;
            }
            let (first, past) = if rising {
                (
                    t_min.partition_point(|t| *t <= point - half_width_min),
                    t_min.partition_point(|t| *t < point + half_width_min),
                )
            } else {
                (0, n)
            };
            near.clear();
            for (t, value) in t_min[first..past.max(first)].iter().zip(&y[first..past.max(first)]) {
                let u = (t - point) / half_width_min;
                if u.abs() < 1.0 && value.is_finite() {
                    let rest = 1.0 - (u * u * u).abs();
                    near.push(Near { u, y: *value, w: rest * rest * rest });
                }
            }
            fitted_at_zero(&near)
        })
        .collect()
}

/// A reading near the point: distance in half widths, value, weight.
struct Near {
    u: f64,
    y: f64,
    w: f64,
}

/// The weighted fit at u = 0, built up from polynomials that are orthogonal under the weights.
fn fitted_at_zero(near: &[Near]) -> Option<f64> {
    let sum = |f: &dyn Fn(&Near) -> f64| near.iter().map(|r| r.w * f(r)).sum::<f64>();
    let total = sum(&|_| 1.0);
    if total <= 0.0 {
        return None;
    }
    let y_mean = sum(&|r| r.y) / total;
    if near.len() < 3 {
        return Some(y_mean);
    }
    let u_mean = sum(&|r| r.u) / total;
    let first = |u: f64| u - u_mean;
    let first_norm = sum(&|r| first(r.u) * first(r.u));
    if first_norm <= 1e-12 * total {
        return Some(y_mean);
    }
    let slope = sum(&|r| first(r.u) * (r.y - y_mean)) / first_norm;
    let line = y_mean + slope * first(0.0);
    if near.len() < 4 {
        return Some(line);
    }
    let shift = sum(&|r| r.u * first(r.u) * first(r.u)) / first_norm;
    let second = |u: f64| (u - shift) * first(u) - first_norm / total;
    let second_norm = sum(&|r| second(r.u) * second(r.u));
    if second_norm <= 1e-12 * total {
        return Some(line);
    }
    let bend = sum(&|r| second(r.u) * (r.y - y_mean - slope * first(r.u))) / second_norm;
    Some(line + bend * second(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: distances -1/2, 0, 1/2 of a half width weigh (7/8)³, 1, (7/8)³, and the
    /// symmetric line passes through their weighted mean.
    #[test]
    fn three_readings_give_a_line() {
        let got = local_quadratic(&[0.0, 5.0, 10.0], &[100.0, 130.0, 100.0], &[5.0], 10.0);
        let w = 343.0 / 512.0;
        let by_hand = (200.0 * w + 130.0) / (2.0 * w + 1.0);
        assert!((got[0].unwrap() - by_hand).abs() < 1e-12);
    }

    #[test]
    fn too_few_for_a_curve() {
        let at = [0.0, 2.0, 40.0];
        let got = local_quadratic(&[0.0, 4.0], &[100.0, 110.0], &at, 5.0);
        assert!(got[0].unwrap() > 100.0 && got[0].unwrap() < 105.0);
        assert!((got[1].unwrap() - 105.0).abs() < 1e-12);
        assert_eq!(got[2], None);
        assert_eq!(local_quadratic(&[], &[], &at, 5.0), [None; 3]);
        assert_eq!(local_quadratic(&[0.0], &[1.0], &at, 0.0), [None; 3]);
        assert_eq!(local_quadratic(&[0.0], &[f64::NAN], &[0.0], 5.0), [None]);
    }

    #[test]
    fn four_readings_at_one_time_give_their_mean() {
        let got = local_quadratic(&[3.0; 4], &[1.0, 2.0, 3.0, 6.0], &[3.0], 5.0);
        assert_eq!(got, [Some(3.0)]);
    }

    #[test]
    fn order_does_not_matter() {
        let (t, y) = ([0.0, 5.0, 10.0, 15.0, 20.0], [100.0, 104.0, 99.0, 120.0, 118.0]);
        let (back_t, back_y): (Vec<f64>, Vec<f64>) =
            (t.iter().rev().copied().collect(), y.iter().rev().copied().collect());
        let one = local_quadratic(&t, &y, &[8.0], 14.0)[0].unwrap();
        let two = local_quadratic(&back_t, &back_y, &[8.0], 14.0)[0].unwrap();
        assert!((one - two).abs() < 1e-10);
    }
}
