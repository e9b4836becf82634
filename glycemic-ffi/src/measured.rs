//! Measures of a histogram or a stream, ready for C.

use glycemic_core::Reason;
use glycemic_core::panel::{MEASURES, Valued};

use crate::error::Failure;
use crate::estimate::Missing;
use crate::panel::{measure_from, not_estimable, position};

/// A value, or why there is none, for each measure in the order of the registry.
pub(crate) struct Measured {
    rows: Vec<Result<f64, Missing>>,
}

impl Measured {
    /// `beyond` says why measures that are not in `found` can't be had.
    pub(crate) fn new(found: Vec<Valued>, beyond: &str) -> Measured {
        let mut rows: Vec<Result<f64, Missing>> = Vec::with_capacity(MEASURES.len());
        for m in MEASURES {
            let value = found.iter().find(|f| f.0 == m.id).map(|f| &f.1);
            rows.push(match value {
                Some(Ok(value)) => Ok(*value),
                Some(Err(reason)) => Err(Missing::from(reason)),
                None => Err(Missing::from(&Reason::plain("not_computed", beyond))),
            });
        }
        Measured { rows }
    }

    fn row(&self, measure_id: u32) -> Option<&Result<f64, Missing>> {
        self.rows.get(position(measure_id)?)
    }

    pub(crate) fn value(&self, measure_id: u32) -> Result<f64, Failure> {
        measure_from(measure_id)?;
        match self.row(measure_id) {
            Some(Ok(value)) => Ok(*value),
            other => Err(not_estimable(other.and_then(|row| row.as_ref().err()))),
        }
    }

    pub(crate) fn missing(&self, measure_id: u32) -> Option<&Missing> {
        self.row(measure_id)?.as_ref().err()
    }
}
