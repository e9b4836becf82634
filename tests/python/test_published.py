"""Published checks, kept as data in tests/published/, against the Python package.

The files are those the Rust runner reads. A call that Python does not offer stands in RUST_ONLY;
a call that stands nowhere fails. Run: python -m pytest -s tests/python/test_published.py
"""

import json
from collections import Counter
from datetime import datetime, timedelta, timezone
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import glycemic as gly

FILES = sorted((Path(__file__).parent.parent / "published").glob("*.json"))
ABOUT = {"call", "expected", "tolerance", "relative", "why"}
START = datetime(2025, 3, 3, 11, 6, 40, tzinfo=timezone.utc)


def panel(glucose, unit, step_min=5, zone=None):
    """Readings `step_min` minutes apart from a fixed instant on."""
    times = [START + timedelta(minutes=step_min * i) for i in range(len(glucose))]
    return gly.panel(gly.Trace(times, glucose, unit=unit, zone=zone))


def sufficiency(readings, period_days):
    """Readings 5 minutes apart from the start of the period on."""
    times = [START + timedelta(minutes=5 * i) for i in range(readings)]
    return gly.Trace(times, [100.0] * readings).sufficiency((START, START + timedelta(days=period_days)))


def error_grid(**inputs):
    """Zones as the files have them: 0 for A to 4 for E."""
    found = gly.agreement.error_grid(**inputs)
    return SimpleNamespace(zones=["ABCDE".index(zone) for zone in found.zones])


def icc(ratings, raters):
    """The files have the rows one after the other."""
    return gly.agreement.icc(np.reshape(ratings, (-1, raters)))


def paired(differences, level):
    """Differences as outcomes with, beside outcomes of 0 without."""
    n = len(differences)
    return gly.contrast.paired(differences, [0.0] * n, [True] * n, level)


def aim(design):
    def repeats(**inputs):
        return float(gly.contrast.repeats(**inputs, design=design))

    return repeats


def power_of_pairs(effect, sd, pairs, level):
    return gly.contrast.power(effect, sd, pairs, level)


def survival_step(times, failed, level, time):
    """What stands at one time of failure."""
    table = gly.sensor.survival(times, failed, level)
    row = table["time"].tolist().index(time)
    names = ("at_risk", "failed", "survival", "se", "low", "high")
    return SimpleNamespace(**{name: table[name].tolist()[row] for name in names})


CALLS = {
    "area.total": lambda **inputs: gly.area.total(**inputs),
    "area.incremental": lambda **inputs: gly.area.incremental(**inputs),
    "panel": panel,
    "panel.sufficiency": sufficiency,
    "agreement.summary": lambda **inputs: gly.agreement.summary(**inputs),
    "agreement.within": lambda **inputs: gly.agreement.within(**inputs),
    "agreement.bland_altman": lambda **inputs: gly.agreement.bland_altman(**inputs),
    "agreement.error_grid": error_grid,
    "agreement.deming": lambda **inputs: gly.agreement.deming(**inputs),
    "agreement.weighted_deming": lambda **inputs: gly.agreement.weighted_deming(**inputs),
    "agreement.passing_bablok": lambda **inputs: gly.agreement.passing_bablok(**inputs),
    "agreement.concordance": lambda **inputs: gly.agreement.concordance(**inputs),
    "agreement.icc": icc,
    "agreement.limits": lambda **inputs: gly.agreement.limits(**inputs),
    "agreement.trend": lambda **inputs: gly.agreement.trend(**inputs),
    "paired": paired,
    "plan.each": aim("groups"),
    "plan.pairs": aim("pairs"),
    "plan.power_of_pairs": power_of_pairs,
    "survival.step": survival_step,
    "survival.median": lambda **inputs: gly.sensor.lasts(**inputs),
}

RUST_ONLY = {
    "beta_quantile",
    "binomial.clopper_pearson",
    "binomial.clopper_pearson_lower",
    "binomial.wilson",
    "chi2_quantile",
    "clock.offset_min",
    "f_quantile",
    "interpolate.linear",
    "interpolate.pchip",
    "line.inverse",
    "share_difference.newcombe",
    "tolerance_factor.pair_of_limits",
    "tolerance_factor.single_limit",
    "panel.days_needed",
    "line.weighted",
    "multiplicity.benjamini_hochberg",
    "multiplicity.holm",
    "noncentral_t",
    "normal_quantile",
    "permutation.signs",
    "quantile.type7",
    "sen.slope",
    "t_quantile",
    "units.from_mg_dl",
    "units.to_mg_dl",
}


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def field(result, name):
    """A result by its name; `bias_low` is the lower end of the interval of `bias`."""
    if name == "value" and isinstance(result, float):
        return result
    if hasattr(result, name):
        found = getattr(result, name)
        return found.value if hasattr(found, "low") else found
    base, _, end = name.rpartition("_")
    pair = getattr(result, base, None)
    if isinstance(pair, tuple):
        return pair[("low", "high").index(end)]
    if end in ("low", "high"):
        return getattr(interval(result, base), end)
    raise AttributeError(f"{type(result).__name__} has no {name}")


def interval(result, name):
    """The estimate of a field: the field itself, or what `intervals` holds under its name."""
    found = getattr(result, name, None)
    if hasattr(found, "low"):
        return found
    held = getattr(result, "intervals", None)
    held = held() if callable(held) else held
    if held is None:
        raise AttributeError(f"{type(result).__name__} has no interval of {name}")
    return held[name] if hasattr(held, "__getitem__") else getattr(held, name)


def check(case):
    inputs = {key: value for key, value in case.items() if key not in ABOUT}
    result = CALLS[case["call"]](**inputs)
    assert case["expected"], "it expects nothing"
    for name, truth in case["expected"].items():
        got = field(result, name)
        if truth is None or got is None:
            assert got is truth, f"{name} is {got}, not {truth}"
            continue
        if isinstance(truth, list):
            assert case["tolerance"] == 0 and got == truth, f"{name} is {got}, not {truth}"
            continue
        allowed = case["tolerance"] + case.get("relative", 0.0) * abs(truth)
        assert abs(got - truth) <= allowed, f"{name} is {got!r}, not {truth!r} within {allowed}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_source(path):
    file = read(path)
    cases = file["cases"]
    assert cases, "no case"
    unknown = {case["call"] for case in cases} - CALLS.keys() - RUST_ONLY
    assert not unknown, f"unknown calls: {sorted(unknown)}"
    own = [(i, case) for i, case in enumerate(cases) if case["call"] in CALLS]
    failures = []
    for i, case in own:
        try:
            check(case)
        except Exception as error:  # every failure of the file in one report
            failures.append(f"case {i}, {case['call']}: {type(error).__name__}: {error}")
    print(f"\n{file['source']}: {len(own)} cases, {len(cases) - len(own)} Rust-only")
    assert not failures, "\n".join(failures)


def test_every_call_has_a_place():
    counts = Counter(case["call"] for path in FILES for case in read(path)["cases"])
    assert not CALLS.keys() & RUST_ONLY
    # No case at all would be no check at all, and a call that no file makes is a leftover.
    assert sum(counts[call] for call in CALLS) > 0
    assert counts.keys() == CALLS.keys() | RUST_ONLY
    print("\nRust-only:", ", ".join(f"{call} ({counts[call]})" for call in sorted(RUST_ONLY)))
    print("Python:", ", ".join(f"{call} ({counts[call]})" for call in CALLS))
