//! Many people at once: a row of measures for each, from columns of readings.
//!
//! # Method
//! Rows are put together by person (a counting sort where a person's rows don't stand together),
//! each person's readings are cleaned into a trace as everywhere else, and the panel of that trace
//! becomes one row. People are worked on in blocks, on all cores with the feature `parallel`; as
//! no number of one person enters another's, results have the same bits for any number of threads
//! and any cut into batches.
//!
//! A person who can't be answered (an absurd value, a wrong unit, no reading) has a row without
//! measures that says why, and never stops the others. Readings without a person are counted in a
//! row of their own, readings without a time or a value in columns: for a person who was answered
//! `given` is `n + duplicates + conflicts + missing + missing_time`.
//!
//! # Columns
//! `person`, the measures (see the registry), `given`, `duplicates`, `conflicts`, `missing` (no
//! value), `missing_time`, `reasons` (`measure:code`, joined by `;`, of measures that can't be
//! told), `error_code`, `error`. Rows are ordered by the person's number, or by the bytes of the
//! name; readings without a person come last.

mod codes;
mod columns;
mod group;
mod options;
mod panels;
mod people;
mod row;
mod stream;
mod workers;

pub use codes::{Codes, NO_PERSON, codes, codes_of_runs};
pub use columns::{Columns, NO_TIME, Readings, Stretch};
pub use options::Options;
pub use panels::panels;
pub use people::{Name, Names, People};
pub use stream::Stream;
