//! The panels of many people whose readings come in batches, cut anywhere.

use std::collections::HashSet;

use super::codes::NO_PERSON;
use super::columns::{Readings, Stretch};
use super::options::Options;
use super::panels::ROUND;
use super::people::{Name, Names, People};
use super::row::{Row, table};
use super::workers::Workers;
use crate::error::{Error, require_same_len};
use crate::panel::Id;
use crate::table::Table;

/// Takes batches of readings in which each person's rows stand together, carries the person who
/// is open over the border of a batch, and hands out the rows of those who are done.
///
/// Joined, the tables are what [`panels`](super::panels) makes of all batches at once, bit for
/// bit, when people come in the order of their names; else their rows stand in the order in which
/// they came. Memory: the batch, the readings of the open person, and the names seen so far.
///
/// # Example
/// ```
/// use glycemic_core::cohort::{Columns, Options, People, Stream};
/// let mut stream = Stream::new(Options::default())?;
/// let (t, step) = (1_741_000_000_000, 300_000);
/// let first = People::from_numbers([Some(1), Some(1)]);
/// let done = stream.push(&first, &Columns::new(&[t, t + step], &[100.0, 110.0])?, &mut |_| true)?;
/// assert_eq!(done.rows(), 0);
/// let second = People::from_numbers([Some(1), Some(2)]);
/// let times = [t + 2 * step, t];
/// let done = stream.push(&second, &Columns::new(&times, &[120.0, 90.0])?, &mut |_| true)?;
/// assert_eq!(done.numbers("mean_mg_dl"), Some(vec![Some(110.0)]));
/// assert_eq!(stream.finish()?.numbers("mean_mg_dl"), Some(vec![Some(90.0)]));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub struct Stream {
    options: Options,
    ids: Vec<Id>,
    workers: Workers,
    open: Option<Open>,
    closed: HashSet<Name>,
    rows: usize,
    nobody: usize,
    people: usize,
    numbers: Option<bool>,
}

/// A person whose readings may go on.
struct Open {
    name: Name,
    readings: Stretch,
    /// (place among the person's readings, row of the input): where each stretch starts.
    starts: Vec<(usize, usize)>,
}

impl Open {
    fn row(&self, index: usize) -> usize {
        let after = self.starts.partition_point(|s| s.0 <= index);
        self.starts.get(after.wrapping_sub(1)).map_or(index, |s| s.1 + index - s.0)
    }
}

impl Stream {
    /// A stream without readings yet.
    ///
    /// # Errors
    /// As [`Options::check`].
    pub fn new(options: Options) -> Result<Stream, Error> {
        options.check()?;
        Ok(Stream {
            ids: options.measures(),
            workers: Workers::new(options.threads, usize::MAX)?,
            options,
            open: None,
            closed: HashSet::new(),
            rows: 0,
            nobody: 0,
            people: 0,
            numbers: None,
        })
    }

    /// Takes a batch, and gives the rows of the people who are done with it. `progress` is called
    /// with the number of people done so far and may return `false` to stop.
    ///
    /// After an error the stream is spent: the batch may have been taken in part.
    ///
    /// # Errors
    /// Different lengths; names of another kind than before; [`Error::PersonReturned`] for a person
    /// who comes back after another came; [`Error::Cancelled`].
    pub fn push(
        &mut self,
        people: &People,
        readings: &dyn Readings,
        progress: &mut dyn FnMut(usize) -> bool,
    ) -> Result<Table, Error> {
        require_same_len("person", readings.len(), people.len())?;
        self.same_kind(people.names())?;
        let mut done = Vec::new();
        for (code, rows) in people.runs() {
            if code == NO_PERSON {
                self.nobody += rows.len();
            } else if let Some(name) = people.names().get(code as usize) {
                let row = self.rows + rows.start;
                done.extend(self.open(name, row)?);
                if let Some(open) = &mut self.open {
                    open.starts.push((open.readings.times_ms.len(), row));
                    readings.run(rows, &mut open.readings);
                }
            }
        }
        self.rows += people.len();
        let rows = self.answer(&done, progress)?;
        self.people += rows.len();
        table(names(done, self.numbers), rows, &self.ids)
    }

    /// The last person's row, and one for readings without a person if there were any.
    ///
    /// # Errors
    /// None that a stream should cause.
    pub fn finish(mut self) -> Result<Table, Error> {
        let last: Vec<Open> = self.open.take().into_iter().collect();
        let mut rows = self.answer(&last, &mut |_| true)?;
        if self.nobody > 0 {
            rows.push(Row::nobody(self.nobody));
        }
        table(names(last, self.numbers), rows, &self.ids)
    }

    fn same_kind(&mut self, names: &Names) -> Result<(), Error> {
        let numbers = matches!(names, Names::Numbers(_));
        if *self.numbers.get_or_insert(numbers) == numbers {
            return Ok(());
        }
        let got = if numbers { "numbers" } else { "texts" }.to_string();
        Err(Error::UnknownChoice { name: "person", got, choices: "what the first batch had" })
    }

    /// Makes `name` the open person, and gives the one who was, if it was another.
    fn open(&mut self, name: Name, row: usize) -> Result<Option<Open>, Error> {
        if self.open.as_ref().is_some_and(|o| o.name == name) {
            return Ok(None);
        }
        if self.closed.contains(&name) {
            return Err(Error::PersonReturned { index: row, person: name.to_string() });
        }
        let new = Open { name, readings: Stretch::default(), starts: Vec::new() };
        let before = self.open.replace(new);
        self.closed.extend(before.as_ref().map(|o| o.name.clone()));
        Ok(before)
    }

    fn answer(
        &self,
        done: &[Open],
        progress: &mut dyn FnMut(usize) -> bool,
    ) -> Result<Vec<Row>, Error> {
        let mut rows = Vec::with_capacity(done.len());
        for round in done.chunks(ROUND) {
            rows.extend(self.workers.each(round.len(), |k, room| {
                let open = &round[k];
                room.clone_from(&open.readings);
                Row::new(&open.name, room, &self.ids, &self.options, |index| open.row(index))
            }));
            if !progress(self.people + rows.len()) {
                return Err(Error::Cancelled);
            }
        }
        Ok(rows)
    }
}

fn names(done: Vec<Open>, numbers: Option<bool>) -> Names {
    let all = done.into_iter().map(|o| o.name);
    if numbers == Some(false) {
        let text = |name| match name {
            Name::Text(text) => text,
            Name::Number(number) => number.to_string(),
        };
        return Names::Texts(all.map(text).collect());
    }
    let number = |name| match name {
        Name::Number(number) => Some(number),
        Name::Text(_) => None,
    };
    Names::Numbers(all.filter_map(number).collect())
}
