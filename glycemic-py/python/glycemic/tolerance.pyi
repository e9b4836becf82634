import numpy.typing as npt

from ._glycemic import Fit, Meter, Responses, Table
from ._types import Frame

__all__ = [
    "beside_grams",
    "equivalent_loads",
    "fit",
    "limits_by_sort",
    "limits_in_blood",
    "misfits",
    "portions",
]

def fit(
    r: Responses | Frame,
    rise_mg_dl: float,
    peak_mg_dl: float | None = None,
    level: float = 0.95,
) -> Fit: ...
def limits_by_sort(r: Responses, rise_mg_dl: float, level: float = 0.95) -> Table: ...
def misfits(r: Responses, rise_mg_dl: float, rate: float = 0.1) -> Table: ...
def equivalent_loads(
    r: Responses, rise_mg_dl: float, tag: str = "eating-out", level: float = 0.95
) -> Table: ...
def portions(
    labels: npt.ArrayLike, net_carbs_g: npt.ArrayLike, safe_g: float | None = None
) -> Table: ...
def beside_grams(r: Responses, level: float = 0.95) -> Table: ...
def limits_in_blood(
    r: Responses,
    meter: Meter,
    rise_mg_dl: float,
    probability: float = 0.8,
    meter_bias_sd_pct: float = 6.0,
    level: float = 0.95,
) -> Table: ...
