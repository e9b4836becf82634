"""What the panel offers in Python: options, targets, parts of a trace, accumulators, pictures."""

import json
import math
import pickle
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import glycemic as gly

from conftest import START_MS, readings

MINUTE = 60_000


def made(glucose, step_min=5, zone="UTC", unit="mg/dL"):
    return gly.Trace(START_MS + MINUTE * step_min * np.arange(len(glucose)), glucose, unit=unit, zone=zone)


# Options


def test_options_change_what_they_say_and_nothing_else(trace):
    usual = gly.panel(trace)
    for name, value, changed in (
        ("m_reference_mg_dl", 100.0, {"m_value"}),
        ("grade", "median", {"grade"}),
        ("risk_constants", "mmol_l", {"lbgi", "hbgi", "bgri", "adrr"}),
        ("lability", "mean_per_pair", {"lability_index"}),
        ("reporting_period", (START_MS, START_MS + 28 * 1440 * MINUTE), {"active_pct"}),
    ):
        p = gly.panel(trace, **{name: value})
        differ = {k for k, v in p.to_dict().items() if v != usual.to_dict()[k]}
        assert differ and differ <= changed, name
        assert p.options[name] == value and p != usual and name in repr(p)
        again = pickle.loads(pickle.dumps(p))
        assert again == p and again.options == p.options
        assert gly.panel(trace, **p.options) == p
    assert gly.panel(trace, reporting_period=(START_MS, START_MS + 28 * 1440 * MINUTE)).active_pct == 50.0
    assert "=" not in repr(usual)


def test_pairs_and_excursions_by_another_rule():
    """Days that differ: the whole trace's SD is far above that of a day, and so few excursions count."""
    times, glucose = readings(days=6)
    local = (times // MINUTE + 60) // 1440  # Lisbon in May: the first local day is an hour short
    tr = gly.Trace(times, glucose + 60 * (local % 2), zone="Europe/Lisbon")
    usual = gly.panel(tr)
    by_day, whole_days = gly.panel(tr, mage_sd="mean_of_days"), gly.panel(tr, modd_pairs="whole_days_only")
    assert by_day.mage_mg_dl < usual.mage_mg_dl and whole_days.modd_mg_dl != usual.modd_mg_dl
    assert whole_days.mage_mg_dl == usual.mage_mg_dl and by_day.modd_mg_dl == usual.modd_mg_dl


def test_episodes_of_fifteen_minutes_by_either_count():
    glucose = [100] * 20 + [60] * 3 + [100] * 20
    assert gly.panel(made(glucose)).low_episodes == 1
    assert gly.panel(made(glucose), episode_length="span").low_episodes == 0


def test_intervals_of_other_conventions_are_not_made_up(trace):
    found = gly.panel(trace, m_reference_mg_dl=100).intervals()
    assert found["m_value"].reason_code == "other_options" and found["m_value"].low is None
    assert found["m_value"].value == gly.panel(trace, m_reference_mg_dl=100).m_value
    assert found["mean_mg_dl"].low is not None


@pytest.mark.parametrize(
    ("options", "code", "argument"),
    [
        ({"m_reference_mg_dl": 7.0}, "out_of_range", "m_reference_mg_dl"),
        ({"m_reference_mg_dl": math.nan}, "not_finite", "m_reference_mg_dl"),
        ({"grade": "mode"}, "unknown_choice", "grade"),
        ({"risk_constants": "mg"}, "unknown_choice", "risk_constants"),
        ({"mage_sd": ""}, "unknown_choice", "mage_sd"),
        ({"modd_pairs": "some"}, "unknown_choice", "modd_pairs"),
        ({"episode_length": "long"}, "unknown_choice", "episode_length"),
        ({"lability": "sum"}, "unknown_choice", "lability"),
        ({"reporting_period": (START_MS, START_MS)}, "out_of_range", "reporting_period"),
        ({"reporting_period": (START_MS,)}, "shape", "reporting_period"),
        ({"reporting_period": 3}, "shape", "reporting_period"),
    ],
)
def test_bad_options(trace, options, code, argument):
    with pytest.raises(gly.GlycemicError) as caught:
        gly.panel(trace, **options)
    assert (caught.value.code, caught.value.argument) == (code, argument)


def test_every_measure_is_an_attribute(trace):
    p, names = gly.panel(trace), list(gly.measures()["name"])
    assert len(names) == 78 and list(p.to_dict()) == names and set(names) <= set(dir(p))
    for name in names:
        value = getattr(p, name)
        assert (value is None) == (name in p.reasons), name
        assert value is None or math.isfinite(value)


# Targets and normals


def test_targets_of_a_population(trace):
    p = gly.panel(trace)
    for population in ("without_diabetes", "type1", "type2", "pregnancy", "older"):
        t = p.assess(population).to_dict()
        for measure, value, target, bound, met in zip(t["measure"], t["value"], t["target"], t["bound"], t["met"]):
            assert value is not None, (population, measure)
            truth = {"above": lambda v, x: v > x, "below": lambda v, x: v < x, "at_most": lambda v, x: v <= x}
            assert met == (truth[bound](value, target) if bound != "none_set" else None)
    assert set(p.assess("without_diabetes")["bound"]) == {"none_set"}
    t = p.assess("pregnancy").to_dict()
    assert t["value"][t["measure"].index("in_63_to_140_pct")] == pytest.approx(trace.shares([(63, 140)])[0])
    with pytest.raises(gly.GlycemicError) as caught:
        p.assess("adults")
    assert caught.value.argument == "population"


def test_normals_stand_beside(trace):
    p = gly.panel(trace)
    t = p.beside_normals().to_dict()
    rows = list(zip(t["measure"], t["value"], t["low"], t["high"], t["source"], t["outside"]))
    assert all(value == p.to_dict()[name] for name, value, *_ in rows)
    assert all((low is None) == (source is None) and (low is None or low < high) for _, _, low, high, source, _ in rows)
    by_name = {name: (low, outside) for name, _, low, _, _, outside in rows}
    assert by_name["gmi_pct"][0] is None and "with diabetes" in by_name["gmi_pct"][1]
    assert by_name["cv_pct"][1] is None and by_name["lbgi"][0] is not None


# Parts of a trace


def test_shares_are_those_of_the_panel(trace):
    p = gly.panel(trace)
    assert trace.shares([(70, 180), (70, 140), (1, 69)]) == pytest.approx([p.in_range_pct, p.tight_range_pct, p.below_70_pct])
    mmol = made([5.5, 3.9, 3.8, 10.0], unit="mmol/L")
    assert mmol.shares([(3.9, 10.0)], unit="mmol/L") == [75.0] == mmol.shares([(70, 180)])
    with pytest.raises(gly.GlycemicError) as caught:
        trace.shares([(70, 180), (180, 70)])
    assert (caught.value.code, caught.value.index) == ("out_of_range", 1)


def test_episodes_and_their_summary():
    tr = made([100] * 24 + [60] * 6 + [100] * 24 + [200] * 12 + [100] * 1950, zone="Europe/Lisbon")
    t = tr.episodes(["low", "high"]).to_dict()
    assert (t["rule"], t["minutes"], t["extreme_mg_dl"]) == (["low", "high"], [30.0, 60.0], [60.0, 200.0])
    # 02:00 UTC is 03:00 in Lisbon in May.
    assert (t["start_min"], t["nocturnal"]) == ([180.0, 330.0], [True, True])
    assert len(tr.episodes("very_low")) == 0
    s = tr.episode_summary("low")
    assert (s.n, s.cut, s.per_week, s.mean_minutes, s.reason) == (1, 0, 1.0, 30.0, None)
    assert tr.episode_summary("very_high").mean_minutes is None and tr.episode_summary("very_high").reason
    no_zone = gly.Trace(tr.times_ms, tr.glucose_mg_dl).episodes("low").to_dict()
    assert (no_zone["nocturnal"], no_zone["start_min"]) == ([None], [None])
    with pytest.raises(gly.GlycemicError) as caught:
        tr.episodes(["low", "spell"])
    assert caught.value.argument == "rule"


def test_sufficiency(trace):
    s = trace.sufficiency()
    assert (s.n, s.days, s.active_pct, s.enough_days, s.enough_active) == (len(trace), 14.0, 100.0, True, True)
    assert (s.longest_gap_min, s.days_touched, s.full_days, sum(s.readings_by_hour)) == (0.0, 15, 14, len(trace))
    assert (s.hours_unseen, s.hours_thin, s.reason) == ([], [], None)
    half = trace.sufficiency(reporting_period=(START_MS, START_MS + 28 * 1440 * MINUTE))
    assert (half.active_pct, half.enough_active, half.longest_gap_min) == (50.0, False, 14 * 1440.0 + 5)
    naive = gly.Trace(trace.times_ms, trace.glucose_mg_dl).sufficiency()
    assert naive.full_days is None and "zone" in naive.reason


def test_days_needed(trace):
    found = trace.days_needed("mean_mg_dl", 1.0)
    assert found.days >= 2 and found.reason is None
    assert trace.days_needed("mean_mg_dl", 0.5).days > found.days
    assert trace.days_needed("sd_mg_dl", 1.0).reason_code == "not_a_mean"
    with pytest.raises(gly.GlycemicError) as caught:
        trace.days_needed("mean", 1.0)
    assert caught.value.argument == "measure"


def test_the_modal_day_unsmoothed_is_numpys_percentile(trace):
    day = trace.modal_day(step_min=60, percentiles=(10, 50), smoothing="none")
    local = trace.local_times
    minute = (local - local.astype("datetime64[D]")).astype(int) / MINUTE
    for at, value in zip(day["minute_of_day"], day["p50_mg_dl"]):
        near = (minute - at + 30) % 1440 < 60
        assert value == pytest.approx(np.median(trace.glucose_mg_dl[near]), rel=1e-12), at
    assert day.column_names == ["minute_of_day", "days", "n", "p10_mg_dl", "p50_mg_dl", "reason"]


def test_outer_percentiles_need_five_days():
    # Near midnight a reading counts for the day that begins, so three days are four there.
    day = made(readings(days=3)[1]).modal_day().to_dict()
    assert set(day["p05_mg_dl"]) == {None} and None not in day["p25_mg_dl"]
    assert set(day["reason"]) == {"too_few_days"}


@pytest.mark.parametrize(
    ("options", "argument"),
    [
        ({"step_min": 7}, "step_min"),
        ({"percentiles": (50, 5)}, "percentiles"),
        ({"smoothing": "cubic"}, "smoothing"),
        ({"width_min": 0}, "bandwidth_min"),
    ],
)
def test_bad_modal_day(trace, options, argument):
    with pytest.raises(gly.GlycemicError) as caught:
        trace.modal_day(**options)
    assert caught.value.argument == argument


def test_parts_are_what_they_are_called(trace):
    p = gly.panel(trace)
    days = trace.by("day")
    assert len(days) == 15 and days["n"].sum() == len(trace)
    assert np.average(days["mean_mg_dl"], weights=days["n"]) == pytest.approx(p.mean_mg_dl)
    week = trace.by("week_part")
    assert list(week["part"]) == ["weekday", "weekend"] and week["n"].sum() == len(trace)
    night = trace.by([("night", 0, 360), ("late", 1320, 120)])
    assert night["mean_mg_dl"][0] == pytest.approx(p.overnight_mg_dl)
    assert list(night["part"]) == ["night", "late"]


def test_without_local_time_there_is_a_reason():
    tr = gly.Trace(START_MS + 5 * MINUTE * np.arange(50), np.full(50, 100))
    for call in (tr.modal_day, lambda: tr.by("day"), lambda: gly.plots.modal_day(tr)):
        with pytest.raises(gly.GlycemicError) as caught:
            call()
        assert caught.value.code == "no_zone"
    assert len(tr.strips()) == 0 and tr.local_times is None
    assert tr.days_needed("mean_mg_dl", 1).reason_code == "no_zone"


def test_bad_parts(trace):
    for parts in ("hour", [], [("night", 0, 1500)]):
        with pytest.raises(gly.GlycemicError):
            trace.by(parts)


def test_strips_keep_every_reading(trace):
    strips = trace.strips()
    assert strips["readings"].sum() == len(trace)
    assert strips["low_mg_dl"].min() == trace.glucose_mg_dl.min()
    assert strips["high_mg_dl"].max() == trace.glucose_mg_dl.max()
    assert (strips["low_mg_dl"] <= strips["high_mg_dl"]).all() and strips["minute_of_day"].max() == 1425


# Accumulators


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(40, 400), min_size=1, max_size=60), st.integers(0, 60), st.sampled_from(["mg/dL", "mmol/L"]))
def test_a_histogram_is_the_panel_however_it_is_cut(levels, cut, unit):
    values = np.array(levels) if unit == "mg/dL" else np.array(levels) / 10
    one, other = gly.Histogram(unit), gly.Histogram(unit)
    one.extend(values[:cut])
    for v in values[cut:]:
        other.push(v)
    whole = other | one
    assert whole == one | other and len(whole) == len(values)
    other |= one
    assert other == whole
    if 40 <= np.median(levels) <= 250:
        p = gly.panel(made(values, unit=unit)).to_dict()
        found = whole.measures()
        assert {k: p[k] for k in found} == found
        assert set(whole.reasons) == {k for k, v in found.items() if v is None}
    again = gly.Histogram.from_dict(json.loads(json.dumps(whole.to_dict())))
    assert again == whole == pickle.loads(pickle.dumps(whole))


def test_a_histogram_takes_a_trace_with_its_limits():
    tr = gly.Trace(START_MS + 5 * MINUTE * np.arange(3), ["LOW", "100", ">400"])
    h = gly.Histogram()
    h.extend(tr)
    h.push(40, censored=-1)
    assert (h.n, h.censored) == (4, (2, 1))
    h.merge(h)
    assert (h.n, h.censored) == (8, (4, 2))
    assert h.measures(m_reference_mg_dl=100)["m_value"] != h.measures()["m_value"]


def test_what_a_histogram_refuses():
    h = gly.Histogram()
    h.extend([100, 110])
    for call, code, index in (
        (lambda: h.push(100.5), "off_grid", None),
        (lambda: h.push(math.nan), "off_grid", None),
        (lambda: h.extend([100, 100.5]), "off_grid", 1),
        (lambda: h.extend([100, 90, math.nan]), "not_finite", 2),
        (lambda: h.extend(["a"]), "not_numbers", None),
        (lambda: h.push(100, censored=3), "unknown_choice", None),
        (lambda: h.merge(gly.Histogram("mmol/L")), "unknown_choice", None),
        (lambda: h | gly.Histogram("mmol/L"), "unknown_choice", None),
        (lambda: h.extend(made([5.5, 5.6], unit="mmol/L")), "unknown_choice", None),
        (lambda: h.measures(grade="x"), "unknown_choice", None),
        (lambda: gly.Histogram("mg"), "unknown_choice", None),
        (lambda: gly.Histogram.from_dict({"unit": "mg/dL"}), "histogram", None),
        (lambda: gly.Histogram.from_dict({**h.to_dict(), "levels": [[5000, 1]]}), "histogram", None),
    ):
        with pytest.raises(gly.GlycemicError) as caught:
            call()
        assert (caught.value.code, caught.value.index) == (code, index)
    assert h.n == 2


def test_a_stream_is_the_panel_wherever_it_is_cut(trace):
    p, times, glucose = gly.panel(trace).to_dict(), trace.times_ms, trace.glucose_mg_dl
    whole = gly.Stream("mg/dL", 5, zone="Europe/Lisbon")
    whole.extend(times, glucose)
    found = whole.measures()
    assert {"mage_mg_dl", "modd_mg_dl", "mean_mg_dl", "mag_mg_dl_h", "lability_index"} <= set(found)
    assert {k: p[k] for k in found} == found and whole.reasons == {}
    for cut in (1, 100, 2000, len(trace) - 1):
        first, later = gly.Stream(zone="Europe/Lisbon"), gly.Stream(zone="Europe/Lisbon")
        first.extend(times[:cut], glucose[:cut])
        later.extend(times[cut:], glucose[cut:])
        first = pickle.loads(pickle.dumps(first))
        first.join(later)
        assert first.measures() == found and first == whole and len(first) == len(trace)


def test_late_readings_are_put_in_their_place(trace):
    times, glucose = trace.times_ms[:600].tolist(), trace.glucose_mg_dl[:600]
    s = gly.Stream(nominal_min=5)
    said = [s.push(times[i ^ 1], glucose[i ^ 1]) for i in range(600)]
    assert said == ["added", "inserted"] * 300
    straight = gly.Stream()
    straight.extend(trace.times_ms[:600], glucose)
    assert s == straight and s.measures() == straight.measures()
    again = pickle.loads(pickle.dumps(s))
    assert again == s
    assert again.push(times[-1] + 5 * MINUTE, 100) == "added" and again != s and len(s) == 600


def test_what_a_stream_refuses():
    s = gly.Stream("mg/dL", 5)
    s.extend([START_MS, START_MS + 30 * 60 * MINUTE], [100, 110])
    before = s.measures()
    later = START_MS + 31 * 60 * MINUTE
    for call, code, index in (
        (lambda: s.push(later, 100.5), "off_grid", None),
        (lambda: s.push(later, math.nan), "not_finite", None),
        (lambda: s.push(START_MS + MINUTE, 100), "out_of_range", None),
        (lambda: s.push(START_MS + 30 * 60 * MINUTE, 100), "unordered_time", 2),
        (lambda: s.push(5, 100), "implausible_time", 0),
        (lambda: s.push("2025-05-06T08:00", 100), "no_zone", None),
        (lambda: s.push(None, 100), "missing_time", 0),
        (lambda: s.extend([later, later + MINUTE], [100, 100.5]), "off_grid", 1),
        (lambda: s.extend([later, later], [100, 100]), "unordered_time", 1),
        (lambda: s.extend([later], [100, 100]), "length_mismatch", None),
        (lambda: s.join(s), "out_of_range", 0),
        (lambda: s.join(gly.Stream("mmol/L", 5)), "unknown_choice", None),
        (lambda: s.join(gly.Stream("mg/dL", 15)), "out_of_range", None),
        (lambda: gly.Stream("mg/dL", 0), "out_of_range", None),
        (lambda: gly.Stream("mg/dL", 5, zone="Nowhere"), "unknown_zone", None),
    ):
        with pytest.raises(gly.GlycemicError) as caught:
            call()
        assert (caught.value.code, caught.value.index) == (code, index), str(caught.value)
    assert s.measures() == before and len(s) == 2
    assert "mage_mg_dl" in gly.Stream().reasons and gly.Stream().measures()["n"] == 0


# Pictures


def texts(svg):
    root = ElementTree.fromstring(svg)
    return [t.text.strip() for t in root.iter("{http://www.w3.org/2000/svg}text") if t.text]


def test_pictures_are_whole_and_the_same_from_every_source(trace, tmp_path):
    for picture, made_before in (
        (gly.plots.modal_day, trace.modal_day()),
        (gly.plots.daily, trace.strips()),
        (gly.plots.ranges, gly.panel(trace)),
        (gly.plots.episodes, trace.episodes(["low", "high"])),
        (gly.plots.histogram, None),
    ):
        svg = picture(trace)
        ElementTree.fromstring(svg)
        assert svg._repr_svg_() == svg and 'role="img"' in svg and "nan" not in svg.lower()
        if made_before is not None:
            assert picture(made_before) == svg == picture(made_before.to_dict())
        svg.save(tmp_path / "picture.svg")
        assert (tmp_path / "picture.svg").read_text(encoding="utf-8") == svg
    h = gly.Histogram()
    h.extend(trace)
    assert gly.plots.histogram(h) == gly.plots.histogram(trace)


def test_the_ranges_say_percent_and_hours():
    said = texts(gly.plots.ranges(made([50] * 1 + [60] * 1 + [100] * 44 + [150] * 50 + [200] * 3 + [300] * 1)))
    for text in ("1.0 %", "44.0 %", "50.0 %", "3.0 %", "14 min a day", "10.6 h a day", "12.0 h a day", "43 min a day", "141 to 180"):
        assert text in said, (text, said)
    assert "7.9 to 10.0" in texts(gly.plots.ranges(made([5.5] * 9, unit="mmol/L")))


def test_outer_bands_are_missing_where_days_are_few():
    few, enough = (gly.plots.modal_day(made(readings(days=d)[1])) for d in (3, 8))
    assert "3 to 4 days" in few and "8 to 9 days" in enough
    assert "(too few days)" in few and "(too few days)" not in enough
    # A band without values has no outline.
    assert few.count("<path") < enough.count("<path")


def test_nothing_to_draw_is_said():
    for call in (
        lambda: gly.plots.daily(gly.Trace([START_MS], [100])),
        lambda: gly.plots.ranges({}),
        lambda: gly.plots.histogram(gly.Histogram()),
        lambda: gly.plots.modal_day({"minute_of_day": []}),
    ):
        with pytest.raises(gly.GlycemicError) as caught:
            call()
        assert caught.value.code == "nothing_to_draw"


# The review


def test_the_review_shows_panel_days_and_episodes(review):
    data = {a["id"]: a for a in review.to_dict()["answers"]}
    panel = data["levels"]["tables"]["panel"]
    assert panel["measure"] == list(gly.measures()["name"])
    assert panel["value"] == list(gly.panel(review.trial.sensor, review.trial.meals["time_ms"]).to_dict().values())
    marked = dict(zip(panel["measure"], panel["outside_people_without_diabetes"]))
    assert marked["gmi_pct"] and not marked["mean_mg_dl"]
    assert "population_not_stated" in [r["code"] for r in data["levels"]["reasons"]]
    assert data["levels"]["tables"]["modal_day"] == review.trial.sensor.modal_day().to_dict()
    assert data["data"]["tables"]["strips"] == review.trial.sensor.strips().to_dict()
    s = review.trial.sensor.sufficiency()
    assert data["data"]["tables"]["sufficiency"]["had"] == [s.days, s.active_pct]
    assert review.estimate("full_days").value == s.full_days
    assert sum(data["data"]["tables"]["hours"]["readings"]) == len(review.trial.sensor)
    assert sum(data["levels"]["tables"]["histogram"]["readings"]) == len(review.trial.sensor)


def test_a_low_at_night_is_possibly_pressure(tmp_path):
    """One low at 03:00, one at noon; a meter reading beside the first checks it."""
    clock = [f"2025-05-{5 + i // 288:02d}T{i % 288 // 12:02d}:{i % 12 * 5:02d}" for i in range(3 * 288)]
    low = {288 + 36 + k for k in range(4)} | {288 + 144 + k for k in range(4)}
    rows = [f"{t},{60 if i in low else 100}" for i, t in enumerate(clock)]
    (tmp_path / "sensor.csv").write_text("time,glucose\n" + "\n".join(rows), encoding="utf-8")

    def found():
        review = gly.Trial.read(tmp_path).review()
        levels = next(a for a in review.to_dict()["answers"] if a["id"] == "levels")
        table = levels["tables"]["episodes"]
        lows = [row for row in zip(table["rule"], table["from"], table["at_night"], table["note"]) if row[0] == "low"]
        return lows, "possibly_pressure" in [c["code"] for c in levels["cautions"]]

    (night, noon), cautioned = found()
    assert night[1].startswith("2025-05-06 03:00") and night[2] and "possibly pressure" in night[3]
    assert not noon[2] and noon[3] is None and cautioned
    (tmp_path / "meter.csv").write_text("time,glucose\n2025-05-06T03:10,62\n", encoding="utf-8")
    (night, _), cautioned = found()
    assert night[2] and night[3] is None and not cautioned


def test_two_periods_of_one_person():
    hours = np.datetime64("2025-03-03T00:00", "ms") + np.arange(28 * 24) * np.timedelta64(1, "h")
    glucose = 100 + 10 * (np.arange(28 * 24) // 24 % 2) + 20 * (np.arange(28 * 24) >= 336)
    tr = gly.Trace(hours, glucose, zone="UTC")
    first, second = ("2025-03-03T00:00", "2025-03-17T00:00"), ("2025-03-17T00:00", "2025-03-31T00:00")
    found = gly.compare_periods(tr, first, second, level=0.9)
    mean = found["mean_mg_dl"]
    assert mean.value == 20 and 10 < mean.low < 20 < mean.high < 30 and mean.level == 0.9
    back = gly.compare_periods(tr, second, first, level=0.9)["mean_mg_dl"]
    assert back.value == -20
    assert set(found) == set(gly.measures()["name"])
    for a, b in [(first, first), (first[::-1], second), (first, ("2025-03-10T00:00", "2025-03-31T00:00"))]:
        with pytest.raises(gly.GlycemicError) as e:
            gly.compare_periods(tr, a, b)
        assert e.value.code == "out_of_range"
    short = gly.compare_periods(tr, ("2025-03-03T00:00", "2025-03-06T00:00"), second)["mean_mg_dl"]
    assert short.low is None and short.reason_code == "too_few_days"
