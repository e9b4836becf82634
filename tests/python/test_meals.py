"""Meals and tolerance: what the bindings give, on the demo and by hand."""

import numpy as np
import pytest

import glycemic as gly

DAY_MS = 86_400_000
START_MS = 1_741_564_800_000  # 2025-03-10 00:00 UTC


def triangles(doses, per_gram=1.0, tags="grain"):
    """A trace with a triangle of `per_gram` times the dose after each of three meals a day, and its diary."""
    times = START_MS + 300_000 * np.arange(288 * (len(doses) // 3 + 1))
    starts = [START_MS + (i // 3) * DAY_MS + (8 + 5 * (i % 3)) * 3_600_000 for i in range(len(doses))]
    glucose = np.full(len(times), 100.0)
    for start, dose in zip(starts, doses):
        hours = (times - start) / 3_600_000
        glucose += per_gram * dose * np.clip(1 - np.abs(hours - 1), 0, None)
    meals = {"time_ms": starts, "carbs_g": list(doses), "label": ["bowl"] * len(doses)}
    meals["tags"] = [tags] * len(doses) if isinstance(tags, str) else tags
    return gly.Trace(times, np.round(glucose), zone="UTC"), meals


@pytest.fixture(scope="module")
def demo(trial):
    return trial.responses()


def test_misfits_finds_a_planted_meal():
    rng = np.random.default_rng(4)
    doses = np.array([10, 20, 30, 45, 60] * 6, dtype=float)
    rises = doses + rng.normal(0, 3, len(doses))
    rises[7] += 60  # nobody knows why
    trace, meals = triangles(rises)
    meals["carbs_g"] = doses
    meals["tags"] = ["eating-out" if i in (11, 20, 25) else "" for i in range(len(doses))]
    r = gly.meals.responses(trace, meals)
    found = gly.tolerance.misfits(r, 30)
    assert len(found) == len(doses)
    assert list(np.array(found["time_ms"])[found["listed"]]) == [meals["time_ms"][7]]
    excess = dict(zip(found["time_ms"], found["excess_mg_dl"]))
    assert abs(excess[meals["time_ms"][7]] - 60) < 12
    # Stricter lists no more.
    assert found["listed"].sum() >= gly.tolerance.misfits(r, 30, rate=0.01)["listed"].sum()


def test_loads_of_a_tag_are_not_in_their_own_fit():
    doses = [10, 20, 30, 45, 60] * 6
    trace, meals = triangles([1.6 * d if i % 10 == 2 else d for i, d in enumerate(doses)])
    meals["carbs_g"] = doses
    meals["tags"] = ["eating-out" if i % 10 == 2 else "home" for i in range(len(doses))]
    r = gly.meals.responses(trace, meals)
    loads = gly.tolerance.equivalent_loads(r, 30)
    assert len(loads) == 3 and set(loads["diary_net_carbs_g"]) == {30.0}
    np.testing.assert_allclose(loads["equivalent_g"], 48, atol=1.5)
    np.testing.assert_allclose(loads["shrunken_g"], 48, atol=1.5)
    assert len(gly.tolerance.equivalent_loads(r, 30, tag="nothing")) == 0


def test_limits_by_sort_of_the_demo(demo):
    t = gly.tolerance.limits_by_sort(demo, 30, level=0.9)
    assert set(t["by"]) == {"kind", "time"} and {"breakfast", "midday", "evening"} <= set(t["sort"])
    # Every row has a limit, an end of it, or says why not.
    bounds = [t[name] for name in ("limit_g", "low_g", "high_g")]
    told = ~np.all(np.isnan(bounds), axis=0)
    assert all(told[i] or t["reason"][i] for i in range(len(t)))


def test_two_targets_at_once_by_hand():
    # Rises of 5 + g from 100 mg/dL: a peak of 130 allows 30, so 25 g, less than the 35 of the rise.
    grams = [10.0, 20, 30, 45, 60] * 4
    frame = {"net_carbs_g": grams, "rise_mg_dl": [5 + g for g in grams]}
    frame["baseline_mg_dl"] = [100.0] * 20
    both = gly.tolerance.fit(frame, 35, peak_mg_dl=130)
    assert abs(both.safe_g(0.8).value - 25) < 1e-3 and both.peak_mg_dl == 130
    frame["baseline_mg_dl"][3] = None
    with pytest.raises(gly.GlycemicError, match="baseline_mg_dl") as e:
        gly.tolerance.fit(frame, 35, peak_mg_dl=130)
    assert e.value.index == 3
    del frame["baseline_mg_dl"]
    with pytest.raises(gly.GlycemicError, match="no baseline_mg_dl"):
        gly.tolerance.fit(frame, 35, peak_mg_dl=130)


def test_portions():
    t = gly.tolerance.portions(["rice", "Rice", "figs"], [60, 80, 20], safe_g=35)
    assert t["label"].tolist() == ["rice"] and t["usual_g"][0] == 70 and t["safe_share"][0] == 0.5
    with pytest.raises(gly.GlycemicError) as e:
        gly.tolerance.portions(["rice"], [60, 80])
    assert e.value.code == "length_mismatch"


def test_an_unlogged_meal_is_offered_not_assumed():
    # Smooth rises of 40 that peak after an hour, and noise of 2 mg/dL.
    _, meals = triangles([40] * 18)
    times = START_MS + 300_000 * np.arange(288 * 7)
    glucose = 100 + np.random.default_rng(5).normal(0, 2, len(times))
    for start in meals["time_ms"]:
        hours = np.clip((times - start) / 3_600_000, 0, None)
        glucose += 40 * hours**2 * np.exp(2 - 2 * hours)
    trace = gly.Trace(times, np.round(glucose), zone="UTC")
    diary = {k: [v for i, v in enumerate(column) if i != 10] for k, column in meals.items()}
    found = gly.meals.unlogged(trace, diary)
    near = np.abs(found["onset_ms"] - meals["time_ms"][10]) <= 20 * 60_000
    assert near.sum() == 1 and found["probability"][near][0] > 0.5 and abs(found["size_mg_dl"][near][0] - 40) < 15
    r = gly.meals.responses(trace, diary)
    assert len(r) == 17 and r.suspected == found


def test_recovery_counts_those_not_yet_back():
    rows = {
        "recovery_min": [40, 55, 60, 70, 75, np.nan, 95, 120, 130, 150],
        "recovery_censored_min": [np.nan] * 5 + [180] + [np.nan] * 4,
        "walk": [True] * 5 + [False] * 5,
    }
    c = gly.meals.compare_recovery(rows, "walk", shuffles=999)
    assert c.n == (5, 5) and c.recovered == (5, 4) and c.restricted_mean_min == (60.0, 75.0)
    assert c.difference.value == -15 and c.p_value < 0.05
    with pytest.raises(gly.GlycemicError):
        gly.meals.compare_recovery({"recovery_min": [1.0], "walk": [1]}, "walk")


def test_index_and_load():
    # FAO/WHO (1998), chapter 4: the worked subject has 62; the standard wants ten subjects.
    one = ([93.0], [[113.95, 155.25, 179.1667]])
    assert round(gly.meals.glycaemic_index(*one).index_pct) == 62
    ten = gly.meals.glycaemic_index([50.0] * 10, [[100.0, 100.0]] * 10)
    assert ten.enough and ten.index_pct == 50 and ten.sem_pct == 0
    assert gly.meals.glycaemic_load(60, 25) == 15


def test_smallest_rise(demo):
    assert demo.smallest_rise_mg_dl >= demo.noise["floor_rise_mg_dl"]


def test_a_walk_beside_grams():
    doses = np.array([15, 25, 35, 45, 60] * 6, dtype=float)
    walked = np.arange(30) % 4 == 1
    trace, meals = triangles(doses - 10 * walked)
    meals["carbs_g"] = doses
    starts = np.array(meals["time_ms"])[walked] + 900_000
    activity = {"start_ms": starts, "minutes": [20] * len(starts), "kind": ["walk"] * len(starts)}
    found = gly.tolerance.beside_grams(gly.meals.responses(trace, meals, activity=activity), level=0.9)
    assert list(found["term"]) == ["walk", "fiber", "protein", "fat", "before"]
    assert found["went_with_mg_dl"][0] == pytest.approx(-10, abs=1)
    assert found["low_mg_dl"][0] < -10 + 1 and found["high_mg_dl"][0] > -10 - 1
    assert found["left_out_mg_dl"][0] < found["left_out_without_mg_dl"][0]
    assert "fiber" in found["reason"][1] and found["meals"][1] == 0


def test_limits_in_blood_follow_the_gain():
    doses = np.array([15, 25, 35, 45, 60] * 8, dtype=float)
    _, meals = triangles(doses)
    starts = np.array(meals["time_ms"])
    # Blood by the minute, the tissue behind it by a time constant of 8 min, a sensor of gain 1.25.
    minutes = np.arange(1440 * (len(doses) // 3 + 1))
    blood, tissue = np.full(len(minutes), 100.0), np.full(len(minutes), 100.0)
    for start, dose in zip((starts - START_MS) // 60_000, doses):
        blood += dose * np.clip(1 - np.abs(minutes - start - 60) / 60, 0, None)
    for i in minutes[1:]:
        tissue[i] = tissue[i - 1] + (blood[i] - tissue[i - 1]) / 8
    trace = gly.Trace(START_MS + 60_000 * minutes[::5], np.round(100 + 1.25 * (tissue[::5] - 100)), zone="UTC")
    r = gly.meals.responses(trace, meals)
    after = np.array([35, 45, 75, 90])[np.arange(len(starts)) % 4]
    places = np.sort(np.concatenate([(starts - START_MS) // 60_000, (starts - START_MS) // 60_000 + after]))
    times, shown = START_MS + 60_000 * places, blood[places]
    meter = gly.Meter(times, shown)
    found = gly.tolerance.limits_in_blood(r, meter, 30, level=0.9)
    gain, safe, limit = found["value"]
    # The ratio of mean changes, the sensor read later by its lag; sharp peaks are flatter on the sensor.
    later = trace.at((times + 60_000 * gly.align.lag(meter, trace, level=0.9).value).astype(np.int64))
    assert gain == pytest.approx((later[1::2] - later[::2]).sum() / (shown[1::2] - shown[::2]).sum(), abs=2e-4)
    assert 1.1 < gain < 1.25
    # Of the gain 6 % are not known of the meter: t(0.95; 39) = 1.685 (table of Student's t).
    assert found["high"][0] - gain > 1.685 * 0.06 * gain
    # A rise of 30 in blood is one of 30 times the gain on the sensor.
    assert limit == pytest.approx(gly.tolerance.fit(r, 30 * gain).limit_g, rel=1e-6) and safe <= limit
    few = gly.Meter(times[:14], shown[:14])
    told = gly.tolerance.limits_in_blood(r, few, 30)
    assert list(told["reason_code"]) == ["too_few_pairs"] * 3 and told["n"][0] == 7
    with pytest.raises(gly.GlycemicError, match="probability"):
        gly.tolerance.limits_in_blood(r, few, 30, probability=2)
