from ._types import Numbers

__all__ = ["incremental", "total"]

def total(minutes: Numbers, values: Numbers) -> float: ...
def incremental(
    minutes: Numbers, values: Numbers, baseline: float | None = None, rule: str = "positive"
) -> float: ...
