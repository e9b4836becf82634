//! Standard deviations of the table of local days by clock times.
//!
//! # Method
//! The table holds each full day's value at each clock time (see `ordered::daily`). Days are left
//! out of the sums of its columns.

use super::jackknife::LeftOut;
use crate::panel::ordered::daily::{Daily, half};
use crate::panel::ordered::number::{Number, Spread};
use crate::panel::registry::Id;
use crate::stats::moments;

/// SDdm, SDhh:mm and both SDb, of all full days and of all but each.
pub(crate) fn left_out<N: Number>(daily: &Daily<'_, N>) -> Vec<LeftOut> {
    let table = Table::of(daily);
    let ids = [
        Id::SdBetweenDailyMeansMgDl,
        Id::SdOfMeanDayMgDl,
        Id::SdBetweenDaysMgDl,
        Id::SdBetweenDaysLessMeansMgDl,
    ];
    let all = table.measures(None);
    let without: Vec<_> = (0..table.days.len()).map(|day| table.measures(Some(day))).collect();
    ids.into_iter()
        .enumerate()
        .map(|(i, id)| {
            let in_mg_dl = |x: Option<f64>| x.map(|sd| sd * daily.step_mg_dl);
            let left = without.iter().map(|w| in_mg_dl(w[i])).collect();
            LeftOut { id, whole: in_mg_dl(all[i]), left }
        })
        .collect()
}

/// Values by day and slot, less a common centre, in counts.
struct Table {
    days: Vec<(f64, Vec<Option<f64>>)>,
    /// Of each slot: days, sum and squares of the values, and of the values less the day's mean.
    columns: Vec<[f64; 5]>,
}

impl Table {
    fn of<N: Number>(daily: &Daily<'_, N>) -> Table {
        let full = daily.full_days();
        let (width, count) = daily.slot_width_and_count();
        let means: Vec<f64> = full
            .iter()
            .map(|d| Spread::of(&daily.codes[d.range.clone()]).mean().unwrap_or(0.0))
            .collect();
        let centre = moments::mean(&means).unwrap_or(0.0).round();
        let mut columns = vec![[0.0; 5]; count];
        let mut days = Vec::new();
        for (day, mean) in full.into_iter().zip(means) {
            let mut sums = vec![(0.0, 0.0); count];
            daily.collect(day, width, centre, &mut sums);
            let row: Vec<Option<f64>> =
                sums.iter().map(|&(sum, n)| (n > 0.0).then(|| sum / n)).collect();
            let mean = mean - centre;
            for (column, value) in columns.iter_mut().zip(&row) {
                change(column, *value, mean, 1.0);
            }
            days.push((mean, row));
        }
        Table { days, columns }
    }

    /// The four standard deviations in counts, all days or all but one.
    fn measures(&self, without: Option<usize>) -> [Option<f64>; 4] {
        let kept = self.days.iter().enumerate().filter(|(i, _)| Some(*i) != without);
        let means: Vec<f64> = kept.map(|(_, day)| day.0).collect();
        let mut profile = Vec::with_capacity(self.columns.len());
        let (mut plain, mut less, mut slots) = (0.0, 0.0, 0.0);
        for (i, column) in self.columns.iter().enumerate() {
            let mut column = *column;
            if let Some((mean, row)) = without.and_then(|w| self.days.get(w)) {
                change(&mut column, row[i], *mean, -1.0);
            }
            let [n, sum, squares, less_sum, less_squares] = column;
            if n > 0.5 {
                profile.push(sum / n);
            }
            if n > 1.5 {
                slots += 1.0;
                plain += ((squares - sum * sum / n) / (n - 1.0)).max(0.0).sqrt();
                less += ((less_squares - less_sum * less_sum / n) / (n - 1.0)).max(0.0).sqrt();
            }
        }
        let enough = profile.len() >= half(self.columns.len());
        [
            moments::sd(&means),
            moments::sd(&profile).filter(|_| enough),
            (slots > 0.0).then(|| plain / slots),
            (slots > 0.0).then(|| less / slots),
        ]
    }
}

fn change(column: &mut [f64; 5], value: Option<f64>, mean: f64, sign: f64) {
    if let Some(x) = value {
        let rest = x - mean;
        for (sum, term) in column.iter_mut().zip([1.0, x, x * x, rest, rest * rest]) {
            *sum += sign * term;
        }
    }
}
