//! A measure with what its interval is made of, before a level is chosen.

use std::rc::Rc;

use super::MIN_DAYS;
use super::jackknife::{LeftOut, standard_error};
use super::quantiles::Levels;
use super::scale::Scale;
use crate::estimate::{Estimate, Reason};
use crate::panel::registry::Id;
use crate::stats::distribution::{normal_quantile, t_two_sided};

/// A measure's value and spread.
#[derive(Clone, Debug)]
pub(crate) struct Told {
    pub(crate) value: f64,
    /// Days it rests on.
    pub(crate) n: usize,
    /// Whether each day is in two of its pieces, which are then worth half as many.
    pub(crate) pairs: bool,
    pub(crate) shape: Shape,
    /// Variance of what days don't show, on the scale of the shape (of a quantile: its unit).
    pub(crate) extra: f64,
    pub(crate) method: String,
}

/// Where an interval's ends come from.
#[derive(Clone, Debug)]
pub(crate) enum Shape {
    /// Symmetric about `centre` on a scale.
    Scaled { scale: Scale, centre: f64, se: f64 },
    /// The levels, moved by `shift`, at which the share below is `p`, give or take `se` in log
    /// odds.
    Quantile { levels: Rc<Levels>, shift: f64, p: f64, se: f64 },
    /// No day, or every day, had any.
    Boundary,
}

impl Told {
    /// The ends at `level` with Student's t on `df` degrees of freedom.
    pub(crate) fn ends_with(&self, level: f64, df: f64) -> (f64, f64) {
        let t = t_two_sided(level, df);
        let z = normal_quantile(0.5 + level / 2.0);
        let arm = |x: f64| (x * x + z * z * self.extra).sqrt();
        match &self.shape {
            Shape::Scaled { scale, centre, se } => {
                let half = arm(t * se);
                let (low, high) = (scale.back(centre - half), scale.back(centre + half));
                (low.min(self.value), high.max(self.value))
            }
            Shape::Quantile { levels, shift, p, se } => {
                let odds = libm::log(p / (1.0 - p));
                let share = |y: f64| 1.0 / (1.0 + libm::exp(-y));
                let at = |share: f64| levels.quantile(share) + shift;
                let (low, middle, high) =
                    (at(share(odds - t * se)), at(*p), at(share(odds + t * se)));
                let (low, high) = (middle - arm(middle - low), middle + arm(high - middle));
                (low.min(self.value), high.max(self.value))
            }
            Shape::Boundary => {
                let bound =
                    100.0 * (1.0 - libm::pow((1.0 - level) / 2.0, 1.0 / self.n.max(1) as f64));
                if self.value < 50.0 { (0.0, bound) } else { (100.0 - bound, 100.0) }
            }
        }
    }

    pub(crate) fn estimate(&self, level: f64) -> Estimate {
        let (low, high) = self.ends_with(level, self.df());
        Estimate::new(self.value, low, high, level, &self.method, self.n).needing(MIN_DAYS)
    }

    /// Degrees of freedom of Student's t.
    pub(crate) fn df(&self) -> f64 {
        (self.n as f64 - 1.0) * if self.pairs { 0.5 } else { 1.0 }
    }

    /// How near an end of its scale's range it is let.
    pub(crate) fn edge(&self) -> f64 {
        match self.shape {
            Shape::Scaled { scale, .. } => edge(scale, self.value, self.n),
            _ => 0.0,
        }
    }

    /// The same `by` mg/dL higher; for what is a level.
    pub(crate) fn moved(self, by: f64) -> Told {
        let shape = match self.shape {
            Shape::Scaled { scale, centre, se } => Shape::Scaled { scale, centre: centre + by, se },
            Shape::Quantile { levels, shift, p, se } => {
                Shape::Quantile { levels, shift: shift + by, p, se }
            }
            Shape::Boundary => Shape::Boundary,
        };
        Told { value: self.value + by, shape, ..self }
    }

    /// Its standard error where its interval is that of its own unit.
    pub(crate) fn se(&self) -> f64 {
        // At the level at which Student's t is about 1.
        let (low, high) = self.ends_with(0.68, self.df());
        (high - low) / 2.0 / t_two_sided(0.68, self.df())
    }
}

/// What leaving out days says of a measure.
pub(crate) fn jackknifed(row: &LeftOut, value: f64) -> Result<Told, Reason> {
    let n = row.left.len();
    enough(n)?;
    let scale = Scale::of(row.id);
    let left: Vec<f64> = row.left.iter().flatten().copied().collect();
    let (Some(whole), true) = (row.whole, left.len() == n) else {
        return Err(Reason::plain("single_day", "only one day has it, so days can't be compared"));
    };
    let edge = edge(scale, whole, n);
    if scale == Scale::Logit && !(edge..=100.0 - edge).contains(&value) {
        let method = "exact binomial bound over local days, conservative".to_string();
        return Ok(Told { value, n, pairs: false, shape: Shape::Boundary, extra: 0.0, method });
    }
    if scale == Scale::Log && whole <= 0.0 {
        return Err(Reason::plain("none_seen", "it is 0, and nothing is known of its spread"));
    }
    let one_has_all = left.iter().any(|&x| x < whole / ONE_HAS_ALL);
    if scale == Scale::Log && one_has_all {
        return Err(Reason::plain("single_day", "nearly all of it comes from one day"));
    }
    let all = scale.forward(whole, edge);
    let nf = n as f64;
    let pseudo: Vec<f64> =
        left.iter().map(|&x| nf * all - (nf - 1.0) * scale.forward(x, edge)).collect();
    let se = standard_error(&pseudo);
    // The mean of the pseudo-values is the measure freed of bias that falls as 1/n.
    let centre = pseudo.iter().sum::<f64>() / nf;
    let rare = scale == Scale::Logit && one_has_all;
    let words = if rare { "; conservative, nearly all of it comes from one day" } else { "" };
    let method = format!("jackknife over local days{}, Student's t{words}", scale.words());
    let pairs = row.id == Id::ModdMgDl;
    Ok(Told { value, n, pairs, shape: Shape::Scaled { scale, centre, se }, extra: 0.0, method })
}

/// Where leaving out one day leaves less than one in this many, that day has nearly all.
const ONE_HAS_ALL: f64 = 20.0;

/// Half a reading of one day in all days: keeps logarithms and log odds finite.
fn edge(scale: Scale, value: f64, days: usize) -> f64 {
    let range = if scale == Scale::Logit { 100.0 } else { value.abs() };
    range * 0.5 / 288.0 / days as f64
}

/// Whether there are enough days.
pub(crate) fn enough(days: usize) -> Result<(), Reason> {
    if days < MIN_DAYS {
        let what = "local days with readings";
        return Err(Reason::count("too_few_days", what, days, MIN_DAYS));
    }
    Ok(())
}
