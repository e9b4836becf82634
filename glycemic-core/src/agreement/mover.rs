//! Intervals for limits of agreement from intervals of their parts.
//!
//! # Method
//! A limit is a mean and z root-variances. The variance is a sum of independent mean squares,
//! each with a chi-squared interval; the distances of the ends from the estimates add up as
//! squares, first for the variance and then for the limit (method of variance estimates
//! recovery). The mean's interval has Student's t on subjects less one; the paper uses the
//! normal, which is too narrow for few subjects. With unequal numbers of pairs the mean square
//! between subjects is only nearly chi-squared.
//!
//! # Source
//! Zou GY. Stat Methods Med Res 2013; 22: 630-642 (formulas from memory; coverage is tested by
//! simulation).

use crate::estimate::{Estimate, Reason};
use crate::stats::distribution::chi2_quantile;

/// One part of a variance: its share of the total and its degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Piece {
    pub(super) value: f64,
    pub(super) df: f64,
}

const METHOD: &str = "variance estimates recovery, Zou 2013";

/// The lower and the upper limit, bias -/+ z sqrt(total).
///
/// `total` is the sum of the pieces, or more where a negative variance between subjects was
/// taken as 0; the pieces then still tell how sure it is.
pub(super) fn limits(
    bias: &Estimate,
    total: f64,
    pieces: &[Piece],
    z: f64,
    level: f64,
) -> [Estimate; 2] {
    let tail = 0.5 * (1.0 - level);
    let square = |v: f64| v * v;
    let below: f64 = pieces
        .iter()
        .map(|p| square(p.value * (1.0 - p.df / chi2_quantile(1.0 - tail, p.df))))
        .sum();
    let above: f64 =
        pieces.iter().map(|p| square(p.value * (p.df / chi2_quantile(tail, p.df) - 1.0))).sum();
    let sd = total.sqrt();
    let sd_low = (total - below.sqrt()).max(0.0).sqrt();
    let sd_high = (total + above.sqrt()).sqrt();
    let (Some(mean), Some(low), Some(high)) = (bias.value, bias.low, bias.high) else {
        let reason = bias.reason.clone().unwrap_or_else(|| {
            Reason::plain("no_interval", "the bias has no interval, so the limits have none")
        });
        let open = |value: f64| Estimate {
            value: bias.value.map(|b| b + value),
            ..Estimate::missing(level, METHOD, bias.n, bias.needed, reason.clone())
        };
        return [open(-z * sd), open(z * sd)];
    };
    let joined = |a: f64, b: f64| (a * a + b * b).sqrt();
    let (down, up) = (mean - low, high - mean);
    let (narrow, wide) = (z * (sd - sd_low), z * (sd_high - sd));
    let of = |value: f64, less: f64, more: f64| {
        Estimate::new(value, value - less, value + more, level, METHOD, bias.n).needing(bias.needed)
    };
    [
        of(mean - z * sd, joined(down, wide), joined(up, narrow)),
        of(mean + z * sd, joined(down, narrow), joined(up, wide)),
    ]
}
