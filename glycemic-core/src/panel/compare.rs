//! Two periods of one person, compared measure by measure.
//!
//! # Method
//! Of each period the spread over its local days, as for one wear (`intervals`). The difference
//! is b - a in the measure's own unit, shares in points. Its ends are recovered from the ends of the two intervals,
//! (b - a) -+ sqrt(arm of b ^2 + arm of a ^2) with the arms that face each other, so a share's asymmetry
//! carries over and no end lies beyond what two shares can differ by; for a mean this is Welch's interval. Student's t has
//! Welch and Satterthwaite's degrees of freedom for both. The periods are taken as independent.
//!
//! # Source
//! Recovered ends: Zou GY, Donner A. Stat Med 2008; 27:1693-1702. Welch BL. Biometrika 1947;
//! 34:28-35. Both from memory.

use super::intervals::{Answer, MIN_DAYS, Told, told};
use super::registry::Id;
use crate::error::{Error, require_within};
use crate::estimate::{Estimate, Reason};
use crate::series::TraceView;

/// The difference b - a of every measure between two periods of a trace.
///
/// A period is from an instant on and before another, UTC ms; either may come first.
/// `meals_ms` as for [`panel`](super::panel). What is found is an observed difference: it does
/// not say what caused it.
///
/// # Errors
/// [`OutOfRange`](Error::OutOfRange) for a period that does not end after its start, periods that
/// overlap, or a level outside 0.5 to 0.999.
///
/// # Example
/// ```
/// use glycemic_core::{clock::LocalClock, panel::{compare, Id}, series::Builder, Unit};
/// // Fourteen days of 100 and 110 mg/dL in turn, then fourteen 20 mg/dL higher.
/// const DAY: i64 = 86_400_000;
/// let times: Vec<i64> = (0..28 * 24).map(|h| 1_741_046_400_000 + h * DAY / 24).collect();
/// let level = |h: i64| 100.0 + 10.0 * (h / 24 % 2) as f64 + if h < 336 { 0.0 } else { 20.0 };
/// let glucose: Vec<f64> = (0..28 * 24).map(level).collect();
/// let clock = Some(LocalClock::fixed(0));
/// let trace = Builder::new(Unit::MgDl).clock(clock).build(&times, &glucose)?;
/// let (start, middle) = (times[0], times[14 * 24]);
/// let all = compare(trace.view(), (start, middle), (middle, middle + 14 * DAY), &[], 0.95)?;
/// let (_, mean) = all.into_iter().find(|c| c.0 == Id::MeanMgDl).unwrap();
/// assert_eq!(mean.value, Some(20.0));
/// assert!(mean.low > Some(10.0) && mean.high < Some(30.0));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn compare(
    view: TraceView<'_>,
    period_a: (i64, i64),
    period_b: (i64, i64),
    meals_ms: &[i64],
    level: f64,
) -> Result<Vec<(Id, Estimate)>, Error> {
    require_within("level", level, 0.5, 0.999)?;
    check("period_a", period_a)?;
    check("period_b", period_b)?;
    if period_a.0 < period_b.1 && period_b.0 < period_a.1 {
        let (name, index, value) = ("period_b", Some(0), period_b.0 as f64);
        let (low, high) = (period_a.1 as f64, i64::MAX as f64);
        return Err(Error::OutOfRange { name, index, value, low, high });
    }
    let of = |period| told(within(view, period), meals_ms);
    let (a, b) = (of(period_a), of(period_b));
    Ok(a.into_iter().zip(b).map(|(a, b)| (a.id, difference(a, b, level))).collect())
}

fn check(name: &'static str, period: (i64, i64)) -> Result<(), Error> {
    if period.1 > period.0 {
        return Ok(());
    }
    let (low, high) = (period.0 as f64 + 1.0, i64::MAX as f64);
    Err(Error::OutOfRange { name, index: Some(1), value: period.1 as f64, low, high })
}

fn within(view: TraceView<'_>, period: (i64, i64)) -> TraceView<'_> {
    let before = |t: i64| view.times_ms().partition_point(|&x| x < t);
    view.slice(before(period.0), before(period.1))
}

const METHOD: &str = "difference of two periods, ends recovered from those of each over its local \
                      days, Student's t, Welch-Satterthwaite";

fn difference(a: Answer, b: Answer, level: f64) -> Estimate {
    let value = a.value.zip(b.value).map(|(a, b)| b - a);
    let missing = |which: &str, reason: Reason| {
        let text = format!("{which} period: {}", reason.text);
        let reason = Reason { text, ..reason };
        Estimate { value, ..Estimate::missing(level, METHOD, 0, MIN_DAYS, reason) }
    };
    let (a, b) = match (a.told, b.told) {
        (Err(reason), _) => return missing("first", reason),
        (_, Err(reason)) => return missing("second", reason),
        (Ok(a), Ok(b)) => (a, b),
    };
    let df = welch(&a, &b);
    let ((a_low, a_high), (b_low, b_high)) = (a.ends_with(level, df), b.ends_with(level, df));
    let arm = |x: f64, y: f64| (x * x + y * y).sqrt();
    let change = b.value - a.value;
    let low = change - arm(b.value - b_low, a_high - a.value);
    let high = change + arm(b_high - b.value, a.value - a_low);
    Estimate::new(change, low, high, level, METHOD, a.n.min(b.n)).needing(MIN_DAYS)
}

/// Degrees of freedom of the sum of two variances.
fn welch(a: &Told, b: &Told) -> f64 {
    let (va, vb) = (a.se() * a.se(), b.se() * b.se());
    let below = va * va / a.df() + vb * vb / b.df();
    if below > 0.0 { (va + vb) * (va + vb) / below } else { a.df().min(b.df()) }
}
