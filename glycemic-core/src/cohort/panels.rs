//! The panels of many people whose readings are all there.

use super::columns::Readings;
use super::group::Groups;
use super::options::Options;
use super::people::{Names, People};
use super::row::{Row, table};
use super::workers::Workers;
use crate::error::{Error, require_same_len};
use crate::table::Table;

/// People between two calls of the progress function.
pub(super) const ROUND: usize = 256;

/// A row of measures for each person (the columns stand at the top of [`cohort`](super)).
///
/// `people` and `readings` have a row for each reading, in any order. `progress` is called with
/// the number of people done and may return `false` to stop. Over the input this takes about 8
/// bytes a reading at most, and what the result takes.
///
/// # Errors
/// Different lengths, options that can't be meant, [`Error::Cancelled`]. What is wrong with one
/// person stands in that person's row.
///
/// # Example
/// ```
/// use glycemic_core::cohort::{Columns, Options, People, panels};
/// let people = People::from_texts([Some("ann"), Some("ben"), Some("ann")]);
/// let times = [1_741_000_000_000, 1_741_000_000_000, 1_741_000_300_000];
/// let readings = Columns::new(&times, &[100.0, 9000.0, 120.0])?;
/// let table = panels(&people, &readings, &Options::default(), &mut |_| true)?;
/// assert_eq!(table.numbers("mean_mg_dl"), Some(vec![Some(110.0), None]));
/// assert!(table.column("error_code").is_some_and(|c| c.valid == [false, true]));
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn panels(
    people: &People,
    readings: &dyn Readings,
    options: &Options,
    progress: &mut dyn FnMut(usize) -> bool,
) -> Result<Table, Error> {
    require_same_len("person", readings.len(), people.len())?;
    options.check()?;
    let ids = options.measures();
    let groups = Groups::new(people)?;
    let workers = Workers::new(options.threads, groups.people.len())?;
    let names = of(people.names(), &groups.people);
    let mut rows = Vec::with_capacity(groups.people.len() + 1);
    for round in groups.people.chunks(ROUND) {
        let before = rows.len();
        rows.extend(workers.each(round.len(), |k, room| {
            groups.readings(round[k], readings, room);
            match names.get(before + k) {
                Some(name) => {
                    Row::new(&name, room, &ids, options, |index| groups.row(round[k], index))
                }
                // There is a name for each group.
                None => Row::nobody(room.times_ms.len()),
            }
        }));
        if !progress(rows.len()) {
            return Err(Error::Cancelled);
        }
    }
    if groups.nobody > 0 {
        rows.push(Row::nobody(groups.nobody));
    }
    table(names, rows, &ids)
}

/// The names at some positions.
fn of(names: &Names, positions: &[u32]) -> Names {
    match names {
        Names::Numbers(all) => Names::Numbers(positions.iter().map(|&p| all[p as usize]).collect()),
        Names::Texts(all) => {
            Names::Texts(positions.iter().map(|&p| all[p as usize].clone()).collect())
        }
    }
}
