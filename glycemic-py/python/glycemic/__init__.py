"""Analytics for glucose-sensor data, with calibrated intervals and named sources.

For education, coaching and research. Not a medical device; not for dosing insulin or any
treatment decision. A reading that disagrees with how someone feels is checked with a meter.
"""

from __future__ import annotations

import sys as _sys

from . import _glycemic, plots
from ._error import GlycemicError
from ._glycemic import (
    BlandAltman,
    Cleaning,
    Contrast,
    Coverage,
    Criterion,
    DaysNeeded,
    EpisodeSummary,
    Estimate,
    Fit,
    Gap,
    Histogram,
    Meter,
    Pairs,
    Panel,
    Rejected,
    Responses,
    Review,
    Share,
    SimulatedTrial,
    Stream,
    Sufficiency,
    Summary,
    Table,
    Trace,
    Trial,
    Unpaired,
    __version__,
    agreement,
    align,
    area,
    contrast,
    meals,
    measures,
    panel,
    panels,
    simulate,
    tolerance,
)

for _module in (agreement, align, area, contrast, meals, simulate, tolerance):
    _sys.modules[_module.__name__] = _module

__all__ = [
    "BlandAltman",
    "Cleaning",
    "Contrast",
    "Coverage",
    "Criterion",
    "DaysNeeded",
    "EpisodeSummary",
    "Estimate",
    "Fit",
    "Gap",
    "GlycemicError",
    "Histogram",
    "Meter",
    "Pairs",
    "Panel",
    "Rejected",
    "Responses",
    "Review",
    "Share",
    "SimulatedTrial",
    "Stream",
    "Sufficiency",
    "Summary",
    "Table",
    "Trace",
    "Trial",
    "Unpaired",
    "__version__",
    "agreement",
    "align",
    "area",
    "contrast",
    "meals",
    "measures",
    "panel",
    "panels",
    "plots",
    "simulate",
    "tolerance",
]
