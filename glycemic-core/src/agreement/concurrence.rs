//! Concurrence of ranges: bands of the device's readings against bands of the reference.
//!
//! # Method
//! A cross table of counts. Rows are the device's bands, with rows of their own for readings
//! that the device shows only as below or above its range; columns are the reference's bands.
//! A value on a cut belongs to the band below, as in "41-60, 61-80". Percentages are of a row.
//!
//! # Source
//! The layout and the usual cuts are common practice (from memory).

use super::band::Band;
use crate::error::{Error, require_same_len};

/// Cuts in common use, mg/dL. From memory.
pub const USUAL_CUTS: [f64; 10] =
    [40.0, 60.0, 80.0, 120.0, 160.0, 200.0, 250.0, 300.0, 350.0, 400.0];

/// How a device showed a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Shown {
    /// As a number.
    #[default]
    Number,
    /// As below its range.
    Below,
    /// As above its range.
    Above,
}

/// A cross table of bands.
#[derive(Clone, Debug, PartialEq)]
pub struct Concurrence {
    /// Names of the rows: `below range`, the device's bands, `above range`.
    pub rows: Vec<String>,
    /// Names of the columns: the reference's bands.
    pub columns: Vec<String>,
    /// Pairs, by row and column.
    pub counts: Vec<Vec<usize>>,
    /// Percent of the row's pairs; `None` for a row without pairs.
    pub row_percent: Vec<Option<Vec<f64>>>,
    /// Pairs, shown as a number, whose two values fall into one band.
    pub same_band: usize,
    /// Pairs shown as a number.
    pub numbers: usize,
}

/// The table of n >= 1 pairs in mg/dL, between rising `cuts`.
///
/// `shown` says how each reading was shown; a reading that is no number counts in its own row
/// whatever its value.
///
/// # Errors
/// No pair, no cut, different lengths, NaN, cuts that don't rise.
///
/// # Example
/// ```
/// # use glycemic_core::agreement::concurrence::concurrence;
/// let c = concurrence(&[60.0, 61.0, 130.0], &[61.0, 75.0, 110.0], None, &[60.0, 80.0, 120.0])?;
/// // Rows: below range, <=60, >60-80, >80-120, >120, above range.
/// assert_eq!(c.counts[2], [1, 1, 0, 0]);
/// assert_eq!((c.same_band, c.numbers), (1, 3));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn concurrence(
    reference: &[f64],
    measured: &[f64],
    shown: Option<&[Shown]>,
    cuts: &[f64],
) -> Result<Concurrence, Error> {
    super::check_pairs(reference, measured)?;
    require_same_len("shown", reference.len(), shown.map_or(reference.len(), <[Shown]>::len))?;
    if reference.is_empty() || cuts.is_empty() {
        let got = reference.len().min(cuts.len());
        return Err(Error::TooFewValues { measure: "concurrence of ranges", needed: 1, got });
    }
    let bands = Band::between(cuts)?;
    let place = |value: f64| cuts.partition_point(|&cut| cut < value);
    let mut counts = vec![vec![0; bands.len()]; bands.len() + 2];
    let (mut same_band, mut numbers) = (0, 0);
    for (i, (&r, &m)) in reference.iter().zip(measured).enumerate() {
        let column = place(r);
        let row = match shown.map_or(Shown::Number, |s| s[i]) {
            Shown::Below => 0,
            Shown::Above => bands.len() + 1,
            Shown::Number => {
                numbers += 1;
                same_band += usize::from(place(m) == column);
                place(m) + 1
            }
        };
        counts[row][column] += 1;
    }
    let percent = |row: &Vec<usize>| {
        let total: usize = row.iter().sum();
        (total > 0).then(|| row.iter().map(|&c| 100.0 * c as f64 / total as f64).collect())
    };
    let columns: Vec<String> = bands.iter().map(Band::words).collect();
    let mut rows = vec!["below range".to_string()];
    rows.extend(columns.clone());
    rows.push("above range".to_string());
    let row_percent = counts.iter().map(percent).collect();
    Ok(Concurrence { rows, columns, counts, row_percent, same_band, numbers })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn out_of_range_readings_have_rows_of_their_own() {
        let shown = [Shown::Below, Shown::Above, Shown::Number];
        let c = concurrence(&[45.0, 390.0, 100.0], &[40.0, 400.0, 90.0], Some(&shown), &USUAL_CUTS)
            .unwrap();
        assert_eq!((c.rows.len(), c.columns.len()), (13, 11));
        assert_eq!((c.counts[0][1], c.counts[12][9], c.counts[4][3]), (1, 1, 1));
        assert_eq!((c.same_band, c.numbers), (1, 1));
        assert_eq!(c.row_percent[4].as_ref().unwrap()[3], 100.0);
        assert_eq!(c.row_percent[5], None);
        let total: usize = c.counts.iter().flatten().sum();
        assert_eq!(total, 3);
        assert!(concurrence(&[1.0], &[1.0], None, &[]).is_err());
        assert!(concurrence(&[1.0], &[1.0], Some(&shown), &[1.0]).is_err());
    }
}
