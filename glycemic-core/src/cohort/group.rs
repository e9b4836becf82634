//! Which rows belong together.

use std::ops::Range;

use super::columns::{Readings, Stretch};
use super::people::People;
use crate::error::Error;

/// The rows of each person, and the people in the order of their names.
pub(super) struct Groups {
    /// Row numbers put together by person; `None` where they stand together in the input.
    order: Option<Vec<u32>>,
    /// By code: where a person's rows lie, in the input or in `order`.
    spans: Vec<Range<usize>>,
    /// Codes of the people who have rows, ordered by name.
    pub(super) people: Vec<u32>,
    /// Rows without a person.
    pub(super) nobody: usize,
}

impl Groups {
    pub(super) fn new(people: &People) -> Result<Groups, Error> {
        let mut spans = vec![0..0; people.names().len()];
        let (mut nobody, mut together) = (0, true);
        for (code, rows) in people.runs() {
            let Some(span) = spans.get_mut(code as usize) else {
                nobody += rows.len();
                continue;
            };
            let new = span.start == span.end;
            together &= new;
            // While all stand together a span is where the rows are; else only its length counts.
            let start = if new { rows.start } else { span.start };
            *span = start..start + span.len() + rows.len();
        }
        let mut present: Vec<u32> =
            (0..spans.len() as u32).filter(|&c| !spans[c as usize].is_empty()).collect();
        people.names().sort(&mut present);
        let mut groups = Groups { order: None, spans, people: present, nobody };
        if !together {
            groups.put_together(people)?;
        }
        Ok(groups)
    }

    /// Counting sort: stable, so a person's rows keep their order.
    fn put_together(&mut self, people: &People) -> Result<(), Error> {
        let most = u32::MAX as usize;
        if people.len() > most {
            let (value, high) = (people.len() as f64, most as f64);
            let name = "rows that don't stand together by person";
            return Err(Error::OutOfRange { name, index: None, value, low: 0.0, high });
        }
        let mut from = 0;
        for span in &mut self.spans {
            let rows = span.len();
            *span = from..from;
            from += rows;
        }
        let mut order = vec![0; from];
        for (code, rows) in people.runs() {
            if let Some(span) = self.spans.get_mut(code as usize) {
                for row in rows {
                    order[span.end] = row as u32;
                    span.end += 1;
                }
            }
        }
        self.order = Some(order);
        Ok(())
    }

    /// Copies a person's readings out.
    pub(super) fn readings(&self, code: u32, readings: &dyn Readings, out: &mut Stretch) {
        out.clear();
        let span = self.spans[code as usize].clone();
        match &self.order {
            None => readings.run(span, out),
            Some(order) => readings.pick(&order[span], out),
        }
    }

    /// The row of the input in which a person's `index`-th reading stands.
    pub(super) fn row(&self, code: u32, index: usize) -> usize {
        let at = self.spans[code as usize].start + index;
        self.order.as_ref().map_or(at, |order| order[at] as usize)
    }
}
