from ._glycemic import BlandAltman, Criterion, Share, Summary
from ._types import Numbers

__all__ = ["bland_altman", "iso15197", "summary", "within"]

def summary(
    reference: Numbers, measured: Numbers, cluster: Numbers | None = None, level: float = 0.95
) -> Summary: ...
def within(
    reference: Numbers,
    measured: Numbers,
    mg_dl: float = 15.0,
    pct: float = 15.0,
    switch_mg_dl: float = 100.0,
    cluster: Numbers | None = None,
    level: float = 0.95,
) -> Share: ...
def bland_altman(
    reference: Numbers, measured: Numbers, subject: Numbers | None = None, level: float = 0.95
) -> BlandAltman: ...
def iso15197(reference: Numbers, measured: Numbers, level: float = 0.95) -> list[Criterion]: ...
