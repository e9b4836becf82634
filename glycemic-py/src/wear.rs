//! What happened to the sensors, from a frame.

use glycemic_core::align::WearEvent;
use glycemic_core::clock::LocalClock;
use pyo3::prelude::*;

use crate::convert::{self, texts};
use crate::error::to_py;
use crate::meals::{same, time_column};

/// Events from a frame with `time` (or `time_ms`), `event` and, if there is one, `sensor`.
pub(crate) fn read_wear(
    frame: Option<&Bound<'_, PyAny>>,
    clock: Option<&LocalClock>,
) -> PyResult<Vec<WearEvent>> {
    let Some(frame) = frame else { return Ok(Vec::new()) };
    if frame.len().is_ok_and(|n| n == 0) {
        return Ok(Vec::new());
    }
    let columns = convert::columns(frame, "wear")?;
    let times = convert::stamps(&time_column(&columns, "time", "wear")?, "time")?;
    let times = convert::on_clock(times, clock, "time")?;
    let kinds = texts(&convert::column(&columns, "event", "wear")?)?;
    let kinds = same(kinds, times.len(), "event")?;
    let sensors = match columns.get_item("sensor")? {
        Some(column) => same(texts(&column)?, times.len(), "sensor")?,
        None => vec![None; times.len()],
    };
    let event = |((time_ms, kind), sensor): ((i64, Option<String>), Option<String>)| {
        let kind = kind.unwrap_or_default().parse().map_err(to_py)?;
        Ok(WearEvent { time_ms, kind, sensor })
    };
    times.into_iter().zip(kinds).zip(sensors).map(event).collect()
}
