//! A band of values, with ends that say whether they are inside.
//!
//! # Source
//! Consensus ranges: Battelino et al., Diabetes Care 2019; 42: 1593-1603.

use crate::error::{Error, require_all_finite};

/// A band of values; an end that is `None` is open.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Band {
    /// Lower end.
    pub low: Option<f64>,
    /// Whether the lower end is inside.
    pub low_inside: bool,
    /// Upper end.
    pub high: Option<f64>,
    /// Whether the upper end is inside.
    pub high_inside: bool,
}

const fn band(low: Option<f64>, low_inside: bool, high: Option<f64>, high_inside: bool) -> Band {
    Band { low, low_inside, high, high_inside }
}

impl Band {
    /// Every value.
    pub const ALL: Band = band(None, false, None, false);

    /// Below 54, 54 to below 70, 70 to 180, above 180 to 250, above 250 mg/dL.
    pub const CONSENSUS: [Band; 5] = [
        band(None, false, Some(54.0), false),
        band(Some(54.0), true, Some(70.0), false),
        band(Some(70.0), true, Some(180.0), true),
        band(Some(180.0), false, Some(250.0), true),
        band(Some(250.0), false, None, false),
    ];

    /// Bands between rising cuts, each holding its upper end, as in "41-60, 61-80".
    ///
    /// # Errors
    /// NaN, cuts that don't rise.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::agreement::band::Band;
    /// let bands = Band::between(&[40.0, 60.0])?;
    /// assert_eq!(bands.iter().position(|b| b.holds(60.0)), Some(1));
    /// assert_eq!(bands[1].words(), ">40-60");
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn between(cuts: &[f64]) -> Result<Vec<Band>, Error> {
        require_all_finite("cuts", cuts)?;
        if let Some(at) = cuts.windows(2).position(|w| w[1] <= w[0]) {
            let (value, low, high) = (cuts[at + 1], cuts[at], f64::MAX);
            return Err(Error::OutOfRange { name: "cuts", index: Some(at + 1), value, low, high });
        }
        let ends = |k: usize| (k.checked_sub(1).map(|k| cuts[k]), cuts.get(k).copied());
        Ok((0..=cuts.len()).map(ends).map(|(low, high)| band(low, false, high, true)).collect())
    }

    /// Whether the value lies in the band.
    pub fn holds(&self, value: f64) -> bool {
        let above = self.low.is_none_or(|l| value > l || (self.low_inside && value == l));
        let below = self.high.is_none_or(|h| value < h || (self.high_inside && value == h));
        above && below
    }

    /// The band in short: `<54`, `54-<70`, `70-180`, `>180-250`, `>250`, `all`.
    pub fn words(&self) -> String {
        let less = if self.high_inside { "" } else { "<" };
        match (self.low, self.high) {
            (None, None) => "all".to_string(),
            (None, Some(h)) if self.high_inside => format!("<={h}"),
            (None, Some(h)) => format!("<{h}"),
            (Some(l), None) if self.low_inside => format!(">={l}"),
            (Some(l), None) => format!(">{l}"),
            (Some(l), Some(h)) if self.low_inside => format!("{l}-{less}{h}"),
            (Some(l), Some(h)) => format!(">{l}-{less}{h}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn consensus_ranges_hold_each_value_once() {
        for (value, at) in [(53.9, 0), (54.0, 1), (69.9, 1), (70.0, 2), (180.0, 2), (180.1, 3)] {
            let held: Vec<usize> = (0..5).filter(|&k| Band::CONSENSUS[k].holds(value)).collect();
            assert_eq!(held, [at], "{value}");
        }
        assert!(Band::CONSENSUS[3].holds(250.0) && Band::CONSENSUS[4].holds(250.1));
        let words: Vec<String> = Band::CONSENSUS.iter().map(Band::words).collect();
        assert_eq!(words, ["<54", "54-<70", "70-180", ">180-250", ">250"]);
        assert_eq!(Band::between(&[2.0, 2.0]).unwrap_err().index(), Some(1));
    }
}
