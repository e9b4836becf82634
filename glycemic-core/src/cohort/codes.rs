//! A small number for the person of each row, kept short where rows stand together.

use std::collections::HashMap;
use std::hash::Hash;
use std::ops::Range;

/// Stands for a row without a person.
pub const NO_PERSON: u32 = u32::MAX;

/// Runs that are kept as such (4 MB); with more, rows don't stand together, and a number for each
/// row takes less room.
const MOST_RUNS: usize = 1 << 18;

/// The number of each row's person.
///
/// # Example
/// ```
/// use glycemic_core::cohort::{Codes, NO_PERSON};
/// let codes: Codes = [4, 4, NO_PERSON, 4].into_iter().collect();
/// let runs: Vec<_> = codes.runs().collect();
/// assert_eq!(runs, [(4, 0..2), (NO_PERSON, 2..3), (4, 3..4)]);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Codes {
    /// Number, and the row after the run; the first rows.
    runs: Vec<(u32, usize)>,
    /// The rows after the runs, one by one.
    single: Vec<u32>,
}

impl Codes {
    /// Adds a row.
    pub fn push(&mut self, code: u32) {
        self.push_run(code, 1);
    }

    /// Adds some rows with one number.
    pub fn push_run(&mut self, code: u32, rows: usize) {
        if !self.single.is_empty() {
            return self.single.resize(self.single.len() + rows, code);
        }
        let runs = self.runs.len();
        match self.runs.last_mut() {
            Some((last, end)) if *last == code => *end += rows,
            Some(_) if runs == MOST_RUNS => self.single.resize(rows, code),
            before => {
                let end = before.map_or(0, |run| run.1) + rows;
                self.runs.push((code, end));
            }
        }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.runs.last().map_or(0, |r| r.1) + self.single.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Stretches of rows with one number, in order.
    pub fn runs(&self) -> impl Iterator<Item = (u32, Range<usize>)> {
        let mut from = 0;
        let mut run = move |code: u32, len: usize| {
            from += len;
            (code, from - len..from)
        };
        let mut before = 0;
        let kept = self.runs.iter().map(move |&(code, end)| {
            let len = end - before;
            before = end;
            (code, len)
        });
        let single = self.single.chunk_by(|a, b| a == b).map(|run| (run[0], run.len()));
        kept.chain(single).map(move |(code, len)| run(code, len))
    }

    /// Another number for each number.
    pub(super) fn rename(&mut self, name: impl Fn(u32) -> u32) {
        let runs = self.runs.iter_mut().map(|r| &mut r.0);
        runs.chain(&mut self.single).for_each(|code| *code = name(*code));
    }
}

impl FromIterator<u32> for Codes {
    fn from_iter<I: IntoIterator<Item = u32>>(codes: I) -> Codes {
        let mut all = Codes::default();
        codes.into_iter().for_each(|code| all.push(code));
        all
    }
}

/// Numbers items from 0 in the order in which they are first seen: the number of each item
/// ([`NO_PERSON`] for `None`), and the items.
///
/// # Example
/// ```
/// use glycemic_core::cohort::codes;
/// let (found, names) = codes([Some("ben"), None, Some("ann"), Some("ben")]);
/// assert_eq!((found.len(), names), (4, vec!["ben", "ann"]));
/// ```
pub fn codes<K: Copy + Eq + Hash>(items: impl IntoIterator<Item = Option<K>>) -> (Codes, Vec<K>) {
    codes_of_runs(items.into_iter().map(|item| (item, 1)))
}

/// As [`codes`], of items that each stand for a number of rows.
///
/// # Example
/// ```
/// use glycemic_core::cohort::codes_of_runs;
/// let (found, names) = codes_of_runs([(Some(7), 288), (None, 3), (Some(7), 1)]);
/// assert_eq!((found.len(), names), (292, vec![7]));
/// ```
pub fn codes_of_runs<K: Copy + Eq + Hash>(
    runs: impl IntoIterator<Item = (Option<K>, usize)>,
) -> (Codes, Vec<K>) {
    let mut names = Vec::new();
    let mut seen: HashMap<K, u32> = HashMap::new();
    // Rows of a person mostly stand together, and then nothing has to be looked up.
    let mut last: Option<(K, u32)> = None;
    let mut code = |key: K| {
        if let Some((same, code)) = last
            && same == key
        {
            return code;
        }
        let code = *seen.entry(key).or_insert_with(|| {
            names.push(key);
            names.len() as u32 - 1
        });
        last = Some((key, code));
        code
    };
    let mut codes = Codes::default();
    for (item, rows) in runs {
        codes.push_run(item.map_or(NO_PERSON, &mut code), rows);
    }
    (codes, names)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_runs_are_kept_row_by_row() {
        let code = |row: usize| (row % 3) as u32;
        let n = MOST_RUNS + 1000;
        let mut codes: Codes = (0..n).map(code).collect();
        codes.push(code(n - 1));
        assert_eq!((codes.len(), codes.runs.len(), codes.single.len()), (n + 1, MOST_RUNS, 1001));
        let runs: Vec<_> = codes.runs().collect();
        assert_eq!(runs.len(), n);
        assert!(runs[..n - 1].iter().enumerate().all(|(k, r)| *r == (code(k), k..k + 1)));
        assert_eq!(runs[n - 1], (code(n - 1), n - 1..n + 1));
    }
}
