from collections.abc import Mapping, Sequence
from typing import Any

from ._glycemic import (
    Accounts,
    Alarms,
    DropOuts,
    Estimate,
    FlatLines,
    Meter,
    PressureLows,
    Recalibration,
    SensorNoise,
    Table,
    Trace,
)
from ._types import Frame, Numbers

__all__ = [
    "accounts",
    "alarms",
    "drift",
    "drop_outs",
    "fasting_drift",
    "first_day",
    "first_day_hours",
    "flat_lines",
    "incidence",
    "lasts",
    "noise",
    "pressure_lows",
    "recalibrate",
    "steps",
    "survival",
    "without_pressure",
]

def accounts(
    sensors: Frame,
    traces: Sequence[Trace | None],
    meters: dict[str, Meter],
    calibrated: Sequence[Any] | None = None,
    required: Sequence[tuple[float | None, float | None, float | None, float | None, float]] = [],
    warm_up_min: float = 0.0,
    window_min: float = 5.0,
    how: str = "nearest",
    lag_min: float = 0.0,
    bursts: str = "averaged",
    once: bool = True,
    calibrations_in: bool = False,
    calibration_min: float = 15.0,
    sensor_range: tuple[float, float] | None = None,
    meter_range: tuple[float, float] | None = None,
    level: float = 0.95,
) -> Accounts: ...
def drift(meter: Meter, sensor: Trace, lag_min: float = 0.0, level: float = 0.95) -> Table: ...
def fasting_drift(sensor: Trace, meals: Frame | None = None, level: float = 0.95) -> Table: ...
def steps(
    meter: Meter, sensor: Trace, wear: Frame, lag_min: float = 0.0, level: float = 0.95
) -> Table: ...
def first_day(
    meter: Meter,
    sensor: Trace,
    meals: Frame | None = None,
    lag_min: float = 0.0,
    level: float = 0.95,
) -> Table: ...
def first_day_hours(meter: Meter, sensor: Trace, lag_min: float = 0.0) -> Table: ...
def recalibrate(
    meter: Meter,
    sensor: Trace,
    lag_min: float = 0.0,
    lag_se_min: float = 0.0,
    meter_bias_pct: float = 0.0,
    meter_bias_sd_pct: float = 6.0,
    level: float = 0.95,
) -> Recalibration: ...
def pressure_lows(
    trace: Trace,
    meals: Frame | None = None,
    activity: Frame | None = None,
    meter: Meter | None = None,
    least_probability: float = 0.05,
    least_depth_mg_dl: float = 10.0,
    per_night: float = 0.3,
    per_day: float = 0.1,
    meter_ahead_min: float = 0.0,
    level: float = 0.95,
) -> PressureLows: ...
def without_pressure(
    trace: Trace,
    meals: Frame | None = None,
    activity: Frame | None = None,
    meter: Meter | None = None,
    probability: float = 0.5,
    meter_ahead_min: float = 0.0,
    level: float = 0.95,
) -> Table: ...
def flat_lines(
    trace: Trace,
    meals: Frame | None = None,
    within_one_step: bool = False,
    chance: float = 0.01,
) -> FlatLines: ...
def drop_outs(
    trace: Trace, wear: Frame | None = None, first_hours: float = 12.0, level: float = 0.95
) -> DropOuts: ...
def noise(
    trace: Trace, meals: Frame | None = None, wear: Frame | None = None, level: float = 0.95
) -> SensorNoise: ...
def alarms(
    trace: Trace,
    levels: Sequence[tuple[str, str, float]] | None = None,
    meter: Meter | None = None,
    wear: Frame | None = None,
    back_mg_dl: float = 5.0,
    snooze_min: float | None = None,
    meter_ahead_min: float = 0.0,
    level: float = 0.95,
) -> Alarms: ...
def survival(times: Numbers, failed: Numbers, level: float = 0.95) -> Table: ...
def lasts(
    times: Numbers, failed: Numbers, at: float | None = None, level: float = 0.95
) -> Estimate: ...
def incidence(times: Numbers, cause: Numbers, level: float = 0.95) -> Table: ...
