import numpy.typing as npt

from ._glycemic import GlycaemicIndex, Recovery, Responses, Table, Trace
from ._types import Frame, Targets

__all__ = ["compare_recovery", "glycaemic_index", "glycaemic_load", "responses", "unlogged"]

def responses(
    trace: Trace,
    meals: Frame,
    targets: Targets | None = None,
    activity: Frame | None = None,
    before_min: float = 30.0,
    after_min: float = 180.0,
    seed: int = 1,
) -> Responses: ...
def unlogged(
    trace: Trace,
    meals: Frame,
    activity: Frame | None = None,
    least_probability: float = 0.2,
    least_size_mg_dl: float = 15.0,
) -> Table: ...
def compare_recovery(
    r: Responses | Frame, by: str, level: float = 0.95, shuffles: int = 4999, seed: int = 1
) -> Recovery: ...
def glycaemic_index(
    test_areas: npt.ArrayLike, reference_areas: list[npt.ArrayLike]
) -> GlycaemicIndex: ...
def glycaemic_load(index_pct: float, net_carbs_g: float) -> float: ...
