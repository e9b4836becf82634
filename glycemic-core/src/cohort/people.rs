//! Who a reading belongs to: a small number for each row, and the names those stand for.

use std::collections::HashMap;
use std::ops::Range;

use super::codes::{Codes, NO_PERSON, codes};
use crate::error::Error;

/// What a person is called: a number or a text. Numbers come before texts.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Name {
    /// A number.
    Number(i64),
    /// A text, ordered by its bytes.
    Text(String),
}

impl std::fmt::Display for Name {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Name::Number(number) => write!(f, "{number}"),
            Name::Text(text) => write!(f, "\"{text}\""),
        }
    }
}

/// What several people are called, all by numbers or all by texts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Names {
    /// Numbers.
    Numbers(Vec<i64>),
    /// Texts.
    Texts(Vec<String>),
}

impl Names {
    /// Number of names.
    pub fn len(&self) -> usize {
        match self {
            Names::Numbers(names) => names.len(),
            Names::Texts(names) => names.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The name at a position.
    pub fn get(&self, index: usize) -> Option<Name> {
        match self {
            Names::Numbers(names) => names.get(index).map(|n| Name::Number(*n)),
            Names::Texts(names) => names.get(index).map(|n| Name::Text(n.clone())),
        }
    }

    /// Puts positions in the order of the names there.
    pub(super) fn sort(&self, positions: &mut [u32]) {
        match self {
            Names::Numbers(names) => positions.sort_unstable_by_key(|&p| names[p as usize]),
            Names::Texts(names) => {
                positions.sort_unstable_by(|&a, &b| names[a as usize].cmp(&names[b as usize]));
            }
        }
    }

    /// For each position the first that has the same name; `None` when all differ.
    fn firsts(&self) -> Option<Vec<u32>> {
        fn of<T: Eq + std::hash::Hash>(names: &[T]) -> Option<Vec<u32>> {
            let mut seen = HashMap::with_capacity(names.len());
            let first = |(i, name)| *seen.entry(name).or_insert(i as u32);
            let firsts: Vec<u32> = names.iter().enumerate().map(first).collect();
            (seen.len() < names.len()).then_some(firsts)
        }
        match self {
            Names::Numbers(names) => of(names),
            Names::Texts(names) => of(names),
        }
    }
}

/// The person of each row.
#[derive(Clone, Debug, PartialEq)]
pub struct People {
    codes: Codes,
    names: Names,
}

impl People {
    /// From a position in `names` for each row, or [`NO_PERSON`].
    ///
    /// Names that nobody bears have no row in a result; a name that stands twice is one person.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a position that isn't in `names`.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::cohort::{Names, People};
    /// let names = Names::Texts(vec!["ann".into(), "ben".into()]);
    /// let of = |codes: [u32; 2]| People::from_codes(codes.into_iter().collect(), names.clone());
    /// assert_eq!(of([0, 1])?.len(), 2);
    /// assert_eq!(of([0, 2]).unwrap_err().index(), Some(1));
    /// # Ok::<(), glycemic_core::Error>(())
    /// ```
    pub fn from_codes(mut codes: Codes, names: Names) -> Result<People, Error> {
        let unknown = |code: u32| code != NO_PERSON && code as usize >= names.len();
        if let Some((code, rows)) = codes.runs().find(|(code, _)| unknown(*code)) {
            return Err(Error::OutOfRange {
                name: "person",
                index: Some(rows.start),
                value: code.into(),
                low: 0.0,
                high: names.len() as f64 - 1.0,
            });
        }
        if let Some(firsts) = names.firsts() {
            codes.rename(|code| firsts.get(code as usize).copied().unwrap_or(NO_PERSON));
        }
        Ok(People { codes, names })
    }

    /// From the number of each row's person; `None` where a row has none.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::cohort::{Names, People};
    /// let people = People::from_numbers([Some(7), Some(7), None, Some(-2)]);
    /// assert_eq!((people.len(), people.names()), (4, &Names::Numbers(vec![7, -2])));
    /// ```
    pub fn from_numbers(numbers: impl IntoIterator<Item = Option<i64>>) -> People {
        let (codes, names) = codes(numbers);
        People { codes, names: Names::Numbers(names) }
    }

    /// From the name of each row's person; `None` where a row has none.
    ///
    /// # Example
    /// ```
    /// use glycemic_core::cohort::{Names, People};
    /// let people = People::from_texts([Some("ann"), None, Some("ann")]);
    /// assert_eq!((people.len(), people.names().len()), (3, 1));
    /// ```
    pub fn from_texts<'a>(texts: impl IntoIterator<Item = Option<&'a str>>) -> People {
        let (codes, names) = codes(texts);
        People { codes, names: Names::Texts(names.into_iter().map(String::from).collect()) }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.codes.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Stretches of rows of one person: the position in [`names`](People::names) or
    /// [`NO_PERSON`], and the rows.
    pub fn runs(&self) -> impl Iterator<Item = (u32, Range<usize>)> {
        self.codes.runs()
    }

    /// The names, in the order in which they were first seen or given.
    pub fn names(&self) -> &Names {
        &self.names
    }
}
