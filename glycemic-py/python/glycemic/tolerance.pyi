from ._glycemic import Fit, Responses
from ._types import Frame

__all__ = ["fit"]

def fit(
    r: Responses | Frame,
    rise_mg_dl: float,
    peak_mg_dl: float | None = None,
    level: float = 0.95,
    resamples: int = 500,
    seed: int = 1,
) -> Fit: ...
