from ._glycemic import Contrast, Responses
from ._types import Frame

__all__ = ["compare"]

def compare(
    r: Responses | Frame,
    by: str,
    outcome: str = "rise_mg_dl",
    adjust: list[str] = ["net_carbs_g"],
    level: float = 0.95,
) -> Contrast: ...
