from ._glycemic import Estimate, Meter, Pairs, Trace

__all__ = ["clock_offset", "lag", "pair"]

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
