from ._glycemic import ClockError, Estimate, Meter, Pairs, PairingSensitivity, Trace
from ._types import Frame

__all__ = [
    "clock_error",
    "clock_offset",
    "delay",
    "lag",
    "pair",
    "pair_by_rules",
    "sensitivity",
    "shifted",
]

def pair(
    meter: Meter, sensor: Trace, window_min: float = 5.0, how: str = "nearest", lag_min: float = 0.0
) -> Pairs: ...
def lag(meter: Meter, sensor: Trace, level: float = 0.95) -> Estimate: ...
def clock_offset(
    meter: Meter,
    sensor: Trace,
    lag_prior_min: tuple[float, float] | None = None,
    level: float = 0.95,
) -> Estimate: ...
def clock_error(meter: Meter, sensor: Trace) -> ClockError: ...
def shifted(meter: Meter, minutes: float) -> Meter: ...
def delay(
    meter: Meter, sensor: Trace, clock_ahead_min: float = 0.0, level: float = 0.95
) -> Estimate: ...
def pair_by_rules(
    meter: Meter,
    sensor: Trace,
    wear: Frame | None = None,
    window_min: float = 5.0,
    how: str = "nearest",
    lag_min: float = 0.0,
    bursts: str = "averaged",
    once: bool = True,
    calibrations_in: bool = False,
    calibration_min: float = 15.0,
    sensor_range: tuple[float, float] | None = None,
    meter_range: tuple[float, float] | None = None,
) -> Pairs: ...
def sensitivity(
    meter: Meter,
    sensor: Trace,
    wear: Frame | None = None,
    estimated_lag_min: float | None = None,
    window_min: float = 5.0,
    how: str = "nearest",
    lag_min: float = 0.0,
    level: float = 0.95,
) -> PairingSensitivity: ...
