import os

from ._glycemic import SimulatedTrial, Table

__all__ = ["files", "oral_meal", "scenarios", "trial", "write"]

def scenarios() -> list[str]: ...
def trial(
    scenario: str = "demo",
    seed: int = 1,
    people: str | None = None,
    days: int | None = None,
    full: bool = False,
) -> SimulatedTrial: ...
def oral_meal(grams: float, minutes: int = 300) -> Table: ...
def files(
    scenario: str = "demo",
    seed: int = 1,
    full: bool = True,
    people: str | None = None,
    days: int | None = None,
) -> dict[str, str]: ...
def write(
    folder: str | os.PathLike[str],
    scenario: str = "demo",
    seed: int = 1,
    full: bool = True,
    people: str | None = None,
    days: int | None = None,
) -> None: ...
