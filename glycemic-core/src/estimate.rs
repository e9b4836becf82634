//! The only shape of an estimate: a value, its interval, and why it is missing if it is.

/// Why something can't be told from the data, with what there was and what it takes.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Reason {
    /// A stable word for programs, such as `too_few_meals`.
    pub code: String,
    /// How many there were, where counting is the point.
    pub had: Option<f64>,
    /// How many it takes.
    pub needed: Option<f64>,
    /// One sentence for people.
    pub text: String,
}

impl Reason {
    /// A reason that counts: `had` of the `needed`.
    pub fn count(code: &str, what: &str, had: usize, needed: usize) -> Reason {
        Reason {
            code: code.to_string(),
            had: Some(had as f64),
            needed: Some(needed as f64),
            text: format!("needs at least {needed} {what}, has {had}"),
        }
    }

    /// A reason without a count.
    pub fn plain(code: &str, text: &str) -> Reason {
        Reason { code: code.to_string(), had: None, needed: None, text: text.to_string() }
    }
}

/// An estimate with its interval.
///
/// `value`, `low` and `high` are `None` when they can't be told; `reason` then says why. An
/// interval may be open at one end (`low` or `high` is `None` while `value` is there).
#[derive(Clone, Debug, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Estimate {
    /// The best single number.
    pub value: Option<f64>,
    /// Lower end of the interval.
    pub low: Option<f64>,
    /// Upper end of the interval.
    pub high: Option<f64>,
    /// Confidence level of the interval, such as 0.95.
    pub level: f64,
    /// How value and interval were made, in a few words.
    pub method: String,
    /// How many independent pieces the estimate rests on (days, meals, pairs).
    pub n: usize,
    /// How many such pieces it takes at the least.
    pub needed: usize,
    /// Why the value, or an end of the interval, is missing.
    pub reason: Option<Reason>,
}

impl Estimate {
    /// An estimate with both ends.
    pub fn new(value: f64, low: f64, high: f64, level: f64, method: &str, n: usize) -> Estimate {
        Estimate {
            value: Some(value),
            low: Some(low),
            high: Some(high),
            level,
            method: method.to_string(),
            n,
            needed: 0,
            reason: None,
        }
    }

    /// No estimate, and why.
    pub fn missing(level: f64, method: &str, n: usize, needed: usize, reason: Reason) -> Estimate {
        Estimate {
            level,
            method: method.to_string(),
            n,
            needed,
            reason: Some(reason),
            ..Estimate::default()
        }
    }

    /// The same with `needed` set.
    pub fn needing(mut self, needed: usize) -> Estimate {
        self.needed = needed;
        self
    }

    /// Whether there is a value.
    pub fn estimable(&self) -> bool {
        self.value.is_some()
    }

    /// Whether both ends exist and `truth` lies between them.
    pub fn covers(&self, truth: f64) -> bool {
        self.low.is_none_or(|l| l <= truth) && self.high.is_none_or(|h| truth <= h)
    }

    /// The same estimate in another unit: value and ends times `factor`, plus `shift`.
    pub fn scaled(&self, factor: f64, shift: f64) -> Estimate {
        let f = |x: Option<f64>| x.map(|v| v * factor + shift);
        let (low, high) = if factor < 0.0 { (self.high, self.low) } else { (self.low, self.high) };
        Estimate { value: f(self.value), low: f(low), high: f(high), ..self.clone() }
    }
}
