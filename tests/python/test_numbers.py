"""The panel against a transcription of its definitions in NumPy."""

import threading
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import glycemic as gly

from conftest import START_MS, readings


def transcribed(g, unit="mg/dL"):
    """`g` in mg/dL; limits as published for the unit."""
    k = 18.0156
    very_low, low, tight, high, very_high = (
        (54, 70, 140, 180, 250) if unit == "mg/dL" else tuple(v * k for v in (3.0, 3.9, 7.8, 10.0, 13.9))
    )
    share = lambda mask: 100 * np.count_nonzero(mask) / g.size  # noqa: E731
    q = lambda p: float(np.quantile(g, p))  # noqa: E731
    mean, sd = g.mean(), g.std(ddof=1)
    return {
        "n": g.size, "mean_mg_dl": mean, "sd_mg_dl": sd, "cv_pct": 100 * sd / mean, "mean_mmol_l": mean / k,
        "min_mg_dl": g.min(), "max_mg_dl": g.max(), "p05_mg_dl": q(0.05), "p25_mg_dl": q(0.25),
        "median_mg_dl": q(0.5), "p75_mg_dl": q(0.75), "p95_mg_dl": q(0.95), "iqr_mg_dl": q(0.75) - q(0.25),
        "gmi_pct": 3.31 + 0.02392 * mean, "gmi_mmol_mol": 12.71 + 4.70587 * mean / k, "ea1c_pct": (mean + 46.7) / 28.7,
        "very_low_pct": share(g < very_low), "low_pct": share((g >= very_low) & (g < low)),
        "in_range_pct": share((g >= low) & (g <= high)), "high_pct": share((g > high) & (g <= very_high)),
        "very_high_pct": share(g > very_high), "below_70_pct": share(g < low), "above_180_pct": share(g > high),
        "tight_range_pct": share((g >= low) & (g <= tight)),
    }  # fmt: skip


def check(trace, unit="mg/dL"):
    p = gly.panel(trace)
    for name, truth in transcribed(trace.glucose_mg_dl, unit).items():
        # Sums in another order differ in the last digits.
        assert getattr(p, name) == pytest.approx(truth, rel=1e-12, abs=1e-10 if name == "sd_mg_dl" or name == "cv_pct" else 1e-12), name


def test_panel_of_two_weeks(trace):
    check(trace)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(40, 400), min_size=2, max_size=300).filter(lambda g: 40 <= np.median(g) <= 400))
def test_panel_of_any_readings(glucose):
    check(gly.Trace(START_MS + 300_000 * np.arange(len(glucose)), glucose))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(22, 222), min_size=2, max_size=300))
def test_panel_in_mmol(tenths):
    glucose = np.array(tenths) / 10
    check(gly.Trace(START_MS + 300_000 * np.arange(len(tenths)), glucose, unit="mmol/L"), "mmol/L")


def test_local_measures(trace):
    local = (trace.times_ms // 60_000 + 60) % 1440  # Lisbon in May
    day = (trace.times_ms // 60_000 + 60) // 1440
    g = trace.glucose_mg_dl
    p = gly.panel(trace)
    assert p.overnight_mg_dl == pytest.approx(g[local < 360].mean(), rel=1e-12)
    morning = (local >= 360) & (local < 420)
    truth = np.median([np.median(g[morning & (day == d)]) for d in np.unique(day[morning])])
    assert p.fasting_mg_dl == pytest.approx(truth, rel=1e-12)


def test_same_bits_in_any_order_and_thread():
    times, glucose = readings(days=14)
    order = np.random.default_rng(1).permutation(len(times))
    one, other = gly.Trace(times, glucose, zone="UTC"), gly.Trace(times[order], glucose[order], zone="UTC")
    assert gly.panel(one).to_dict() == gly.panel(other).to_dict()
    found = []
    threads = [threading.Thread(target=lambda: found.append(gly.panel(one).to_dict())) for _ in range(4)]
    [t.start() for t in threads]
    [t.join() for t in threads]
    assert all(f == found[0] for f in found)


def test_other_threads_run_during_a_computation():
    """While one thread computes, this one goes on: its steps stay short."""
    times, glucose = readings(days=56)
    trace = gly.Trace(times, glucose)
    # Every eight hours, so that windows without food show the noise, which is what takes long.
    meals = {"time_ms": times[96::96], "carbs_g": np.full(len(times[96::96]), 40.0)}
    started, done = threading.Event(), []

    def work():
        started.set()
        begin = time.perf_counter()
        for _ in range(3):
            gly.meals.responses(trace, meals)
        done.append(time.perf_counter() - begin)

    thread = threading.Thread(target=work)
    thread.start()
    started.wait()
    steps, last, longest = 0, time.perf_counter(), 0.0
    while thread.is_alive():
        time.sleep(0.0005)
        now = time.perf_counter()
        longest, last, steps = max(longest, now - last), now, steps + 1
    one_call = done[0] / 3
    assert one_call > 0.02, "too short to show anything"
    assert longest < one_call / 2 and steps > 10
