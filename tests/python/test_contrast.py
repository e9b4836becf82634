"""A schedule carried out, and a form that saturates beside the straight line."""

from datetime import date

import numpy as np
import pytest

import glycemic as gly

START = np.datetime64("2025-03-10T00:00", "ms")
HOUR, DAY = np.timedelta64(3600, "s"), np.timedelta64(86_400, "s")
WISH = {"days": 14, "pairs": 6, "slots": ["lunch"], "with_": "walk_after", "without": "no_walk", "seed": 7}


def refused(call, code, argument=None):
    with pytest.raises(gly.GlycemicError) as caught:
        call()
    assert caught.value.code == code and argument in (None, caught.value.argument), caught.value


def lunches(kept=6):
    """Lunches that rise by 40, by 30 where the schedule assigns a walk; the first so many are walked."""
    drawn = gly.contrast.schedule(**WISH)
    days = [int(d) for d, e in zip(drawn["day"], drawn["exposed"]) if e == 1]
    at = START + 300_000 * np.arange(4032).astype("timedelta64[ms]")
    minutes = np.tile(np.arange(288) * 5, 14) - 13 * 60
    top = np.where(np.isin(np.repeat(np.arange(14), 288) + 1, days), 30, 40)
    glucose = 100 + np.round(top * np.clip(1 - np.abs(minutes - 60) / 60, 0, None))
    lunch = START + 13 * HOUR + np.arange(14) * DAY
    walks = [lunch[d - 1] + HOUR // 4 for d in days[:kept]]
    activity = {"start": walks, "minutes": [20] * kept, "kind": ["walk"] * kept}
    trace = gly.Trace(at, glucose, zone="UTC")
    return gly.meals.responses(trace, {"time": lunch, "carbs_g": [40] * 14}, activity=activity)


def test_what_was_drawn_and_kept_to():
    out = gly.contrast.carried_out(lunches(), date(2025, 3, 10), **WISH)
    d = out.as_assigned.difference
    assert d.n == 6 and d.value == pytest.approx(-10, abs=1) and out.per_protocol == out.as_assigned
    assert out.sittings["deviations"].tolist() == [""] * 12 and out.reason is None
    assert out.answers["what"].tolist() == ["as_assigned", "per_protocol", "carry_over", "period"]
    assert out.answers["value"][0] == d.value and out.balance["what"].tolist()[0] == "net_carbs_g"
    assert (out.pairs, out.outcome, out.unit) == (6, "rise", "mg/dL")


def test_a_walk_that_was_not_made_counts_as_assigned():
    out = gly.contrast.carried_out(lunches(kept=4), "2025-03-10", **WISH)
    assert out.as_assigned.difference.n == 6 and out.per_protocol.difference.n == 4
    assert out.sittings["deviations"].tolist().count("not_as_assigned") == 2
    peaks = gly.contrast.carried_out(lunches(), np.datetime64("2025-03-10"), outcome="peak", **WISH)
    assert peaks.as_assigned.difference.value == pytest.approx(-10, abs=1)


def test_another_first_day_finds_no_meal():
    out = gly.contrast.carried_out(lunches(), "2024-01-01", **WISH)
    assert set(out.sittings["deviations"].tolist()) == {"no_meal"} and out.reason_code == "too_few_pairs"


def test_what_is_refused():
    r = lunches()
    refused(lambda: gly.contrast.carried_out(r, "14.03.2025", **WISH), "time_format", "first_day")
    refused(lambda: gly.contrast.carried_out(r, 20_000, **WISH), "time_format", "first_day")
    refused(lambda: gly.contrast.carried_out(r, "2025-03-10", **WISH, outcome="dip"), "unknown_choice", "outcome")
    refused(lambda: gly.contrast.carried_out(r, "2025-03-10", **WISH | {"pairs": 60}), "out_of_range", "pairs")
    refused(lambda: gly.contrast.carried_out(r, "2025-03-10", **WISH, level=1.0), "out_of_range", "level")
    instants = gly.meals.responses(gly.Trace([1_741_564_800_000], [100]), [])
    refused(lambda: gly.contrast.carried_out(instants, "2025-03-10", **WISH), "no_zone")


def test_forms_are_weighed():
    grams = [10, 20, 30, 45, 60, 80] * 4
    line = {"net_carbs_g": grams, "rise_mg_dl": [5 + g + (3, -3, -2, 2)[i // 6] for i, g in enumerate(grams)]}
    straight = gly.tolerance.fit(line, 35)
    form = straight.saturating()
    # Ties go to the straight line.
    assert not form.preferred and form.weight < 0.5 and form.straight_limit == straight.limit
    assert form.straight_left_out_mg_dl < form.left_out_mg_dl
    # By hand: residuals of the line over one less leverage.
    x, y = np.array(grams, float), np.array(line["rise_mg_dl"], float)
    design = np.column_stack([np.ones_like(x), x])
    hat = design @ np.linalg.pinv(design)
    off = (y - hat @ y) / (1 - np.diag(hat))
    assert form.straight_left_out_mg_dl == pytest.approx(np.sqrt(np.mean(off**2)), rel=0.02)
    assert gly.tolerance.fit({"net_carbs_g": [10], "rise_mg_dl": [10]}, 35).saturating() is None
