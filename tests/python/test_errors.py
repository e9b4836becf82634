"""Bad input is an error with a name and a place, and no panic crosses."""

import pickle
from datetime import datetime

import numpy as np
import pandas as pd
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import glycemic as gly

T = 1_746_403_200_000
OK = [T, T + 300_000, T + 600_000]
G = [100, 104, 110]


def trace(times=OK, glucose=G, **more):
    return gly.Trace(times, glucose, **more)


nat = np.array(["2025-05-05T08:00", "NaT", "2025-05-05T08:10"], dtype="datetime64[s]")
doubled = ["2025-10-26T00:55", "2025-10-26T01:30", "2025-10-26T02:05"]
missing = np.array(["2025-03-30T00:55", "2025-03-30T01:30", "2025-03-30T02:05"], dtype="datetime64[ns]")

CASES = {
    "NaT": (lambda: trace(nat), "missing_time", 1),
    "pandas NaT": (lambda: trace(pd.Series(nat)), "missing_time", 1),
    "pandas aware NaT": (lambda: trace(pd.Series(nat).dt.tz_localize("UTC")), "missing_time", 1),
    "polars null": (lambda: trace(pl.Series([datetime(2025, 5, 5), None, datetime(2025, 5, 6)])), "missing_time", 1),
    "None": (lambda: trace(["2025-05-05T08:00", None, "2025-05-05T08:10"]), "missing_time", 1),
    "NaN": (lambda: trace([float(T), float("nan"), T + 6e5]), "missing_time", 1),
    "doubled hour": (lambda: trace(doubled, zone="Europe/Lisbon"), "local_time", 1),
    "doubled datetime": (lambda: trace([datetime.fromisoformat(t) for t in doubled], zone="Europe/Lisbon"), "local_time", 1),
    "missing hour": (lambda: trace(missing, zone="Europe/Lisbon"), "local_time", 1),
    "not a time": (lambda: trace(["2025-05-05T08:00", "soon", "2025-05-05T08:10"]), "time_format", 1),
    "day only": (lambda: trace(["2025-05-05", "2025-05-06", "2025-05-07"]), "time_format", 0),
    "aware and naive": (lambda: trace(["2025-05-05T08:00Z", "2025-05-05T08:05", "2025-05-05T08:10Z"]), "mixed_times", 1),
    "seconds": (lambda: trace([t // 1000 for t in OK]), "implausible_time", 0),
    "nanoseconds": (lambda: trace([t * 10**6 for t in OK]), "implausible_time", 0),
    "months": (lambda: trace(np.array(["2025-05", "2025-06", "2025-07"], dtype="datetime64[M]")), "time_type", None),
    "bool times": (lambda: trace(np.array([True, False, True])), "time_type", None),
    "2-D times": (lambda: trace(np.array([OK, OK])), "shape", None),
    "2-D glucose": (lambda: trace(glucose=np.array([G, G])), "shape", None),
    "lengths": (lambda: trace(glucose=[100, 104]), "length_mismatch", None),
    "empty": (lambda: trace([], []), "too_few_values", None),
    "infinite": (lambda: trace(glucose=[100, np.inf, 110]), "not_finite", 1),
    "negative": (lambda: trace(glucose=[100, -1, 110]), "out_of_range", 1),
    "text": (lambda: trace(glucose=["100", "sweet", "110"]), "not_numbers", 1),
    "wrong unit": (lambda: trace(glucose=[5.5, 5.8, 6.1]), "implausible_unit", None),
    "unknown unit": (lambda: trace(unit="mg"), "unknown_choice", None),
    "unknown zone": (lambda: trace(zone="Lisbon"), "unknown_zone", None),
    "zone type": (lambda: trace(zone=3), "unknown_zone", None),
    "method": (lambda: trace().at(OK, method="cubic"), "unknown_choice", None),
    "gap": (lambda: trace().at(OK, max_gap_min=float("nan")), "not_finite", None),
    "query in seconds": (lambda: trace().at([T // 1000]), "implausible_time", 0),
    "query without zone": (lambda: trace().at(["2025-05-05T08:00"]), "no_zone", None),
    "step": (lambda: trace().resample(0), "out_of_range", None),
    "area order": (lambda: gly.area.total([0, 30, 30], [90, 150, 90]), "unordered_time", 2),
    "area NaN": (lambda: gly.area.total([0, 30, 60], [90, np.nan, 90]), "not_finite", 1),
    "area baseline": (lambda: gly.area.incremental([0, 30], [90, 95], baseline=np.nan), "not_finite", None),
    "area rule": (lambda: gly.area.incremental([0, 30], [90, 95], rule="best"), "unknown_choice", None),
    "area text": (lambda: gly.area.total(["a", "b"], [90, 95]), "not_numbers", None),
    "no pairs": (lambda: gly.agreement.summary([], []), "too_few_values", None),
    "zero reference": (lambda: gly.agreement.within([100, 0], [100, 1]), "out_of_range", 1),
    "level": (lambda: gly.agreement.summary([100], [100], level=95), "out_of_range", None),
    "panel level": (lambda: gly.panel(trace()).intervals(level=1.0), "out_of_range", None),
    "meals column": (lambda: gly.meals.responses(trace(), {"carbs_g": [3]}), "missing_column", None),
    "meals grams": (lambda: gly.meals.responses(trace(), {"time_ms": OK, "carbs_g": [3, 4, -1]}), "out_of_range", 2),
    "meals target": (lambda: gly.meals.responses(trace(), [], targets={"rise": 3}), "unknown_choice", None),
    "meals window": (lambda: gly.meals.responses(trace(), [], after_min=5), "out_of_range", None),
    "meals frame": (lambda: gly.meals.responses(trace(), 7), "frame_type", None),
    "fit target": (lambda: gly.tolerance.fit({"net_carbs_g": [1], "rise_mg_dl": [1]}, 0), "out_of_range", None),
    "fit column": (lambda: gly.tolerance.fit({"net_carbs_g": [1]}, 30), "missing_column", None),
    "compare by": (lambda: gly.contrast.compare({"w": [0, 2], "rise_mg_dl": [1, 2]}, "w", adjust=[]), "out_of_range", 1),
    "no folder": (lambda: gly.Trial.read("/nowhere/at/all"), "file", None),
    "scenario": (lambda: gly.simulate.files("none"), "unknown_choice", None),
    "clocks": (lambda: gly.align.pair(gly.Meter(["2025-05-05T08:00"], [99]), trace()), "mixed_times", None),
}


@pytest.mark.parametrize("name", CASES)
def test_error_has_a_name_and_a_place(name):
    call, code, index = CASES[name]
    with pytest.raises(gly.GlycemicError) as caught:
        call()
    error = caught.value
    assert (error.code, error.index) == (code, index), str(error)
    assert isinstance(error, ValueError) and str(error)
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.__dict__) == (str(error), error.__dict__)


def test_bad_rows_come_all_at_once(tmp_path):
    rows = "time,glucose\n2025-05-05T08:00,100\nsoon,101\n2025-05-05T08:10,sweet\n2025-05-05T08:15,104\n"
    (tmp_path / "sensor.csv").write_text(rows)
    with pytest.raises(gly.GlycemicError) as caught:
        gly.Trial.read(tmp_path)
    error = caught.value
    assert (error.code, error.file, error.line, error.column) == ("bad_rows", "sensor.csv", 3, "time")
    assert [(p["line"], p["column"]) for p in error.problems] == [(3, "time"), (4, "glucose")]
    trial = gly.Trial.read(tmp_path, on_bad_rows="skip")
    assert len(trial.sensor) == 2 and trial.problems == error.problems
    with pytest.raises(gly.GlycemicError):
        gly.Trial.read(tmp_path, on_bad_rows="ignore")


def test_a_panic_is_an_error(capfd):
    with pytest.raises(gly.GlycemicError) as caught:
        gly._glycemic._panic()
    assert caught.value.code == "internal" and "asked to panic" in str(caught.value)
    assert capfd.readouterr() == ("", "")


odd = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.datetimes(), st.binary(max_size=3),
    st.lists(st.one_of(st.integers(), st.floats(), st.text(max_size=3), st.none(), st.datetimes()), max_size=4),
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(odd, odd, odd)
def test_no_panic_crosses(a, b, c):
    tr = trace()
    calls = [
        lambda: gly.Trace(a, b, zone=c),
        lambda: tr.at(a),
        lambda: gly.area.incremental(a, b, c),
        lambda: gly.agreement.summary(a, b, c),
        lambda: gly.agreement.bland_altman(a, b, c),
        lambda: gly.meals.responses(tr, {"time": a, "carbs_g": b, "tags": c}),
        lambda: gly.meals.responses(tr, a, activity=b),
        lambda: gly.tolerance.fit({"net_carbs_g": a, "rise_mg_dl": b}, 30),
        lambda: gly.contrast.compare({"x": a, "rise_mg_dl": b, "net_carbs_g": c}, "x"),
        lambda: gly.Meter(a, b, context=c),
        lambda: gly.panel(tr, a),
    ]
    for call in calls:
        try:
            call()
        except gly.GlycemicError as error:
            assert error.code != "internal", error
        except (TypeError, ValueError, OverflowError):
            pass  # refused at the border by type
