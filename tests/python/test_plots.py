"""Pictures of agreement, meals, limits and schedules: what is drawn is what was computed."""

import re

import numpy as np
import pytest

import glycemic as gly

RNG = np.random.default_rng(7)
REFERENCE = np.linspace(60, 220, 40)
MEASURED = REFERENCE * 1.05 + RNG.normal(0, 6, 40)


def dots(svg):
    """How many dots the pictures hold in their scatter groups."""
    return len(re.findall(r"<use ", svg))


def test_agreement_pictures():
    for grid in ("clarke", "consensus_type1", "consensus_type2"):
        svg = gly.plots.error_grid(REFERENCE, MEASURED, grid)
        share = gly.agreement.error_grid(REFERENCE, MEASURED, grid=grid).percent["A"]
        assert f"A {share:.1f} %" in svg and all(f">{zone}<" in svg for zone in "AB")
    svg = gly.plots.bland_altman(REFERENCE, MEASURED)
    bias = np.mean(MEASURED - REFERENCE)
    assert f"bias {bias:.1f}" in svg and "lower" in svg and "upper" in svg
    days = np.repeat(np.arange(8), 5)
    limits = gly.agreement.limits(REFERENCE, MEASURED, subject=days)
    assert f"upper {limits.upper.value:.1f}" in gly.plots.bland_altman(REFERENCE, MEASURED, subject=days)
    table = gly.agreement.accuracy_table(REFERENCE, MEASURED, groups=[f"day {d + 1}" for d in days])
    for value in ("bias_mg_dl", "mard_pct", "relative_bias_pct"):
        svg = gly.plots.agreement_by(table, value)
        assert ">day 8<" in svg and "n 5" in svg
    assert dots(gly.plots.changes([10, 20, 30], [12, 22, 29])) >= 3
    assert "recalibrated" in gly.plots.before_after(REFERENCE, MEASURED, MEASURED / 1.05)
    profile = {"shift_min": [0, 5, 10], "residual_sd_mg_dl": [9.0, 7.0, 8.0], "inside": [False, True, False]}
    assert "best at 5 min" in gly.plots.lag_profile(profile)


def test_meal_pictures(trial):
    r = trial.responses()
    svg = gly.plots.meals(trial.sensor, r)
    with_baseline = int(np.sum(~np.isnan(r["baseline_mg_dl"])))
    assert f"after {with_baseline} meals" in svg and "target" in svg
    fit = gly.tolerance.fit(r, 30)
    svg = gly.plots.tolerance(fit, 0.9)
    assert "mean limit" in svg and "safe, 90 %" in svg
    table = {
        "exposure": ["walk_after", "poor_night"], "planned": [True, False], "difference": [-8.0, 3.0],
        "low": [-13.0, -2.0], "high": [-3.0, 8.0], "adjusted_low": [-14.0, None], "adjusted_high": [-2.0, 9.0],
        "n_exposed": [12, 4], "verdict": ["helps", "cant_tell"], "unit": ["mg/dL", "mg/dL"],
    }  # fmt: skip
    svg = gly.plots.forest(table, margin=5)
    assert "walk after" in svg and "lower with it" in svg and "n 12" in svg and "too small to matter" in svg
    svg = gly.plots.schedule(gly.contrast.schedule(14, 4, ["lunch"], "walk_after", "no_walk"))
    assert "4 pairs" in svg and "walk after" in svg


def test_nothing_to_draw():
    for call in (
        lambda: gly.plots.error_grid([], []),
        lambda: gly.plots.bland_altman([1, 2], [1]),
        lambda: gly.plots.agreement_by(gly.agreement.accuracy_table([60], [60])),
        lambda: gly.plots.tolerance(gly.tolerance.fit({"net_carbs_g": [1.0], "rise_mg_dl": [2.0]}, 30)),
        lambda: gly.plots.schedule({"day": [], "slot": []}),
        lambda: gly.plots.forest({"difference": [None], "exposure": ["x"]}),
    ):
        with pytest.raises(gly.GlycemicError) as e:
            call()
        assert e.value.code == "nothing_to_draw"
