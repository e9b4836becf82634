//! Leaving out each day in turn, from sums of days.
//!
//! # Method
//! Days are joined from the front and from the back, so each "all but this day" is one join and
//! the work grows with the days, not with their square. With n days the pseudo-value of a day is
//! n f(all) - (n - 1) f(all but it); their mean's standard error is that of the measure.
//!
//! Days may follow each other (a bad week). With r the correlation of neighbouring pseudo-values,
//! raised by the 1/n that it lies too low in independent days, the variance is (1 + r) / (1 - r) times that
//! of independent days, as it is where a day remembers only the day before; a negative r counts
//! as 0, and none above 0.8 is believed.
//!
//! # Source
//! Jackknife: Efron and Tibshirani, An Introduction to the Bootstrap (1993), chapter 11, from
//! memory. Variance of a mean of linked values: Bartlett, J R Stat Soc 1935; 98:536-543; bias of
//! r: Marriott and Pope, Biometrika 1954; 41:390-402; both from memory. The bounds of r are a
//! convention of this library.

use crate::panel::registry::Id;

/// What can be put together day by day.
pub(crate) trait Join: Clone + Default {
    fn join(&mut self, other: &Self);
}

impl<T: Clone> Join for Vec<T> {
    fn join(&mut self, other: &Vec<T>) {
        self.extend_from_slice(other);
    }
}

/// A measure of all days, and of all but each in turn.
pub(crate) struct LeftOut {
    pub(crate) id: Id,
    pub(crate) whole: Option<f64>,
    pub(crate) left: Vec<Option<f64>>,
}

/// The measures of the joined days, and of all but each day. `measure` gives the same ids each
/// time, in the same order.
pub(crate) fn leave_out<T: Join>(
    days: &[T],
    measure: impl Fn(&T) -> Vec<(Id, Option<f64>)>,
) -> Vec<LeftOut> {
    let mut before = vec![T::default()];
    for day in days {
        let mut all = before[before.len() - 1].clone();
        all.join(day);
        before.push(all);
    }
    let whole = before.pop().unwrap_or_default();
    let mut out: Vec<LeftOut> = measure(&whole)
        .into_iter()
        .map(|(id, whole)| LeftOut { id, whole, left: Vec::with_capacity(days.len()) })
        .collect();
    let mut after = T::default();
    for (day, mut rest) in days.iter().zip(before).rev() {
        rest.join(&after);
        for (row, (_, value)) in out.iter_mut().zip(measure(&rest)) {
            row.left.push(value);
        }
        let mut joined = day.clone();
        joined.join(&after);
        after = joined;
    }
    for row in &mut out {
        row.left.reverse();
    }
    out
}

/// Standard error of the mean of a series of day values.
pub(crate) fn standard_error(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let about = |v: &f64| v - mean;
    let squares: f64 = values.iter().map(|v| about(v) * about(v)).sum();
    if squares <= 0.0 || n < 2.0 {
        return 0.0;
    }
    let products: f64 = values.windows(2).map(|w| about(&w[0]) * about(&w[1])).sum();
    let linked = (products / squares + 1.0 / n).clamp(0.0, MOST_LINKED);
    (squares / (n - 1.0) / n * (1.0 + linked) / (1.0 - linked)).sqrt()
}

/// A correlation of neighbouring days that is still believed.
const MOST_LINKED: f64 = 0.8;
