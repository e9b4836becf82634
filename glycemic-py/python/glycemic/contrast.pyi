from collections.abc import Sequence
from typing import Any

import numpy.typing as npt

from ._glycemic import CarriedOut, Contrast, Estimate, Paired, Responses, Table
from ._types import Frame

__all__ = [
    "adaptive_dosing",
    "at_symptoms",
    "balance",
    "carried_out",
    "compare",
    "paired",
    "power",
    "repeats",
    "schedule",
    "trend",
    "what_helps",
]

def compare(
    r: Responses | Frame,
    by: str,
    outcome: str = "rise_mg_dl",
    adjust: list[str] = ["net_carbs_g"],
    level: float = 0.95,
) -> Contrast: ...
def what_helps(
    r: Responses,
    sleep: Frame | None = None,
    notes: Frame | None = None,
    outcome: str = "rise",
    planned: Sequence[str] = [],
    margin: float | None = None,
    level: float = 0.95,
    seed: int = 1,
) -> Table: ...
def balance(
    r: Responses, sleep: Frame | None = None, notes: Frame | None = None, outcome: str = "rise"
) -> Table: ...
def at_symptoms(r: Responses, times: Any, level: float = 0.95, seed: int = 1) -> Table: ...
def trend(day: npt.ArrayLike, value: npt.ArrayLike, level: float = 0.95) -> Estimate: ...
def adaptive_dosing(
    r: Responses, rise_mg_dl: float, level: float = 0.95, seed: int = 1
) -> Estimate: ...
def repeats(
    effect: float, sd: float, power: float = 0.8, level: float = 0.95, design: str = "pairs"
) -> int: ...
def power(
    effect: float, sd: float, n: int, level: float = 0.95, design: str = "pairs"
) -> float: ...
def schedule(
    days: int,
    pairs: int,
    slots: Sequence[str],
    with_: str,
    without: str,
    masked_days: int = 2,
    seed: int = 1,
) -> Table: ...
def carried_out(
    r: Responses,
    first_day: Any,
    days: int,
    pairs: int,
    slots: Sequence[str],
    with_: str,
    without: str,
    masked_days: int = 2,
    seed: int = 1,
    sleep: Frame | None = None,
    notes: Frame | None = None,
    outcome: str = "rise",
    level: float = 0.95,
) -> CarriedOut: ...
def paired(
    with_: npt.ArrayLike, without: npt.ArrayLike, with_first: npt.ArrayLike, level: float = 0.95
) -> Paired: ...
