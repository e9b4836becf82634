#!/usr/bin/env python3
"""Turns tests/published/*.json into lines for test_cases.c.

One line a case: the call, its inputs as numbers (arrays behind their length), then for each
expected number its name, the number, and how far off it may be (`tolerance + relative * |number|`).
Calls, ways of a call and expected numbers that the C ABI does not have are counted and named on
stderr, never dropped silently.
"""

import json
import sys
from collections import Counter
from pathlib import Path

RULES = {"positive": 1, "net": 2, "until_return": 3}
UNITS = {"mg/dL": 1, "mmol/L": 2}
GRIDS = {"clarke": 1, "consensus_type1": 2, "consensus_type2": 3}
LINES = {"agreement.deming": 1, "agreement.weighted_deming": 2, "agreement.passing_bablok": 3}
# Readings of a case without times stand 5 min apart from here on.
START_MS, STEP_MS = 1_741_000_000_000, 300_000


def array(numbers):
    # An empty length is told apart from a missing argument by its 0.
    return [len(numbers), *numbers]


def area(case):
    if len(case["minutes"]) != len(case["values"]):
        raise ValueError("minutes and values differ in length")
    return [*array(case["minutes"]), *case["values"]]


def incremental(case):
    return [RULES[case.get("rule", "positive")], case.get("baseline", "-"), *area(case)]


def panel(case):
    step_ms = round(60_000 * case.get("step_min", STEP_MS / 60_000))
    times = case.get("times_ms") or [START_MS + i * step_ms for i in range(len(case["glucose"]))]
    return [UNITS[case["unit"]], case.get("zone", "-"), *array(times), *case["glucose"]]


def within(case):
    limits = [case["mg_dl"], case["pct"], case["switch_mg_dl"], case.get("level", 0.95)]
    return [*limits, *array(case["reference"]), *case["measured"]]


def offset(case):
    return [case["zone"], *array(case["utc_ms"])]


def sufficiency(case):
    return [case["period_days"], case["readings"]]


def days_needed(case):
    return [case["sd"], case["half_width"], case["level"]]


def pairs(case):
    subject = case.get("subject")
    return [int(subject is not None), *array(case["reference"]), *case["measured"], *(subject or [])]


def error_grid(case):
    return [GRIDS[case["grid"]], *array(case["reference"]), *case["measured"]]


def line(case):
    return [LINES[case["call"]], case.get("variance_ratio", 1), *array(case["x"]), *case["y"]]


def concordance(case):
    return [*array(case["x"]), *case["y"]]


def paired(case):
    return [case["level"], *array(case["differences"])]


def repeats(case):
    return [int(case["call"] == "plan.pairs"), *(case[key] for key in ("effect", "sd", "power", "level"))]


def survival(case):
    return [case["level"], case.get("time", "-"), *array(case["times"]), *case["failed"]]


ABOUT = {"call", "expected", "tolerance", "relative", "why"}
# Which inputs each call takes: any other would be ignored, so it stops the run.
CALLS = {
    "area.total": (area, {"minutes", "values"}),
    "area.incremental": (incremental, {"minutes", "values", "rule", "baseline"}),
    "panel": (panel, {"glucose", "unit", "times_ms", "step_min", "zone"}),
    "agreement.within": (
        within,
        {"reference", "measured", "mg_dl", "pct", "switch_mg_dl", "level"},
    ),
    "clock.offset_min": (offset, {"zone", "utc_ms"}),
    "panel.sufficiency": (sufficiency, {"period_days", "readings"}),
    "panel.days_needed": (days_needed, {"sd", "half_width", "level"}),
    "agreement.summary": (pairs, {"reference", "measured"}),
    "agreement.bland_altman": (pairs, {"reference", "measured", "subject"}),
    "agreement.limits": (pairs, {"reference", "measured", "subject"}),
    "agreement.error_grid": (error_grid, {"reference", "measured", "grid", "unit"}),
    **{name: (line, {"x", "y", "variance_ratio"}) for name in LINES},
    "agreement.concordance": (concordance, {"x", "y"}),
    "paired": (paired, {"differences", "level"}),
    "plan.pairs": (repeats, {"effect", "sd", "power", "level"}),
    "plan.each": (repeats, {"effect", "sd", "power", "level"}),
    "survival.step": (survival, {"times", "failed", "level", "time"}),
    "survival.median": (survival, {"times", "failed", "level"}),
}
# Ways of a call that only the other languages have.
ELSEWHERE = {"agreement.limits": {"truth", "scale", "z"}}
# Expected numbers that the C tables don't have.
NOT_IN_C = {
    # Its intervals of limits are the exact ones, checked by `agreement.limits`.
    "agreement.bland_altman": {"n", "sd", "lower_low", "lower_high", "upper_low", "upper_high"},
    "agreement.limits": {
        "n", "sd", "pair_inner_low", "pair_inner_high", "pair_outer_low", "pair_outer_high",
    },
    **dict.fromkeys(LINES, {"slope_se", "intercept_se", "slopes", "shift"}),
    "agreement.concordance": {
        "with_n_minus_1", "bias_correction", "location_shift", "scale_shift", "correlation",
    },
}  # fmt: skip


def expected(case):
    """The name, number and tolerance of each expected number that C has."""
    for name, number in case["expected"].items():
        if name in NOT_IN_C.get(case["call"], ()):
            continue
        numbers = number if isinstance(number, list) else [number]
        for one in numbers:
            if one is None:
                yield name, "-", 0
            else:
                yield name, one, case["tolerance"] + case.get("relative", 0) * abs(one)


def main():
    folder = Path(__file__).resolve().parent.parent / "published"
    elsewhere, left_out = Counter(), Counter()
    for path in sorted(folder.glob("*.json")):
        print("source", path.stem)
        for case in json.loads(path.read_text(encoding="utf-8"))["cases"]:
            call = case["call"]
            ways = sorted(ELSEWHERE.get(call, set()) & set(case))
            rows = list(expected(case))
            if call not in CALLS or ways or not rows:
                elsewhere[" with ".join([call, *ways]) + ("" if rows else ", other numbers")] += 1
                continue
            here = set(case["expected"]) & NOT_IN_C.get(call, set())
            left_out.update(f"{call} {name}" for name in here)
            inputs, takes = CALLS[case["call"]]
            unknown = set(case) - ABOUT - takes
            if unknown:
                sys.exit(f"{path.name}: {case['call']} does not take {sorted(unknown)}")
            flat = [case["call"], *inputs(case), len(rows)]
            flat += [item for row in rows for item in row]
            # repr of a double is exact, so C reads the very same number.
            print(*(item if isinstance(item, str) else repr(item) for item in flat))
    for call, count in sorted(elsewhere.items()):
        print(f"not in the C ABI: {call} ({count} cases)", file=sys.stderr)
    for name, count in sorted(left_out.items()):
        print(f"number not in the C ABI: {name} ({count} cases)", file=sys.stderr)


if __name__ == "__main__":
    main()
