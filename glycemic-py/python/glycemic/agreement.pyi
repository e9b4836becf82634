from collections.abc import Iterable, Sequence

from ._glycemic import (
    BlandAltman,
    Changes,
    Concordance,
    ErrorGrid,
    ExpectedDifference,
    Intraclass,
    Limits,
    MethodLine,
    PairedPrecision,
    PassingBablok,
    RiskGrid,
    Share,
    Summary,
    Table,
    Trend,
)
from ._types import Frame, Numbers, Times

__all__ = [
    "accuracy_table",
    "against_published",
    "bland_altman",
    "by_sensor",
    "changes",
    "checklist",
    "concordance",
    "concurrence",
    "deming",
    "error_grid",
    "expected_difference",
    "fda_point_of_care",
    "fda_self_monitoring",
    "grid_polygons",
    "icc",
    "icgm",
    "iso15197",
    "limits",
    "paired_precision",
    "passing_bablok",
    "repeatability",
    "risk_grid",
    "summary",
    "trend",
    "weighted_deming",
    "within",
]

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
def error_grid(
    reference: Numbers, measured: Numbers, grid: str = "clarke", unit: str = "mg/dL"
) -> ErrorGrid: ...
def grid_polygons(grid: str = "clarke", extent_mg_dl: float | None = None) -> Table: ...
def risk_grid(
    reference: Numbers,
    measured: Numbers,
    reference_mg_dl: Numbers,
    measured_mg_dl: Numbers,
    risk: Numbers,
    lookup: str = "bilinear",
    unit: str = "mg/dL",
) -> RiskGrid: ...
def deming(x: Numbers, y: Numbers, variance_ratio: float = 1.0, level: float = 0.95) -> MethodLine: ...
def weighted_deming(
    x: Numbers, y: Numbers, variance_ratio: float = 1.0, level: float = 0.95
) -> MethodLine: ...
def passing_bablok(x: Numbers, y: Numbers, level: float = 0.95) -> PassingBablok: ...
def concordance(x: Numbers, y: Numbers, level: float = 0.95) -> Concordance: ...
def icc(ratings: Numbers, level: float = 0.95) -> Intraclass: ...
def paired_precision(
    a: Numbers, b: Numbers, cluster: Numbers | None = None, level: float = 0.95
) -> PairedPrecision: ...
def expected_difference(
    first: Sequence[float], second: Sequence[float], correlation: float = 0.0
) -> ExpectedDifference: ...
def limits(
    reference: Numbers,
    measured: Numbers,
    subject: Numbers | None = None,
    scale: str = "difference",
    truth: str = "varies",
    interval: str = "analytic",
    z: float = 1.96,
    level: float = 0.95,
    resamples: int = 2000,
    seed: int = 1,
) -> Limits: ...
def trend(
    reference: Numbers, measured: Numbers, cluster: Numbers | None = None, level: float = 0.95
) -> Trend: ...
def iso15197(
    reference: Numbers,
    measured: Numbers,
    cluster: Numbers | None = None,
    level: float = 0.95,
    edition: int = 2013,
) -> Table: ...
def fda_self_monitoring(
    reference: Numbers, measured: Numbers, cluster: Numbers | None = None, level: float = 0.95
) -> Table: ...
def fda_point_of_care(
    reference: Numbers, measured: Numbers, cluster: Numbers | None = None, level: float = 0.95
) -> Table: ...
def icgm(
    reference: Numbers,
    measured: Numbers,
    reference_rate: Numbers | None = None,
    measured_rate: Numbers | None = None,
    cluster: Numbers | None = None,
    level: float = 0.95,
) -> Table: ...
def accuracy_table(
    reference: Numbers,
    measured: Numbers,
    rules: Iterable[Sequence[float]] | None = None,
    bands: str | Numbers | None = None,
    band_by: str = "reference",
    switch_by: str = "reference",
    groups: Numbers | None = None,
    cluster: Numbers | None = None,
    level: float = 0.95,
) -> Table: ...
def concurrence(
    reference: Numbers,
    measured: Numbers,
    shown: Numbers | None = None,
    cuts: Numbers | None = None,
) -> Table: ...
def against_published(
    reference: Numbers,
    measured: Numbers,
    cells: Frame,
    margin_pct: float,
    cluster: Numbers | None = None,
    level: float = 0.95,
) -> Table: ...
def changes(
    times: Times,
    reference: Numbers,
    measured: Numbers,
    day: Numbers,
    meals: Times,
    before: tuple[float, float] = (-45.0, 5.0),
    after: tuple[float, float] = (30.0, 150.0),
    meter_sd_mg_dl: float | None = None,
    variance_ratio: float = 1.0,
    level: float = 0.95,
) -> Changes: ...
def by_sensor(reference: Numbers, measured: Numbers, sensor: Numbers) -> Table: ...
def repeatability(bursts: Iterable[Numbers], level: float = 0.95) -> Table: ...
def checklist(
    standard: str,
    device: str | None = None,
    comparator: str | None = None,
    persons: int | None = None,
    children: int | None = None,
    lots: int | None = None,
    results_per_lot: int | None = None,
    wear_days: tuple[float, float] | None = None,
    wear_length_days: float | None = None,
    reference: Numbers | None = None,
    rates: Numbers | None = None,
) -> Table: ...
