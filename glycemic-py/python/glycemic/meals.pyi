from ._glycemic import Responses, Trace
from ._types import Frame, Targets

__all__ = ["responses"]

def responses(
    trace: Trace,
    meals: Frame,
    targets: Targets | None = None,
    activity: Frame | None = None,
    before_min: float = 30.0,
    after_min: float = 180.0,
    seed: int = 1,
) -> Responses: ...
