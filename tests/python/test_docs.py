"""Every example in a docstring runs, and every public thing has a docstring."""

import doctest
import inspect
import types

import numpy as np
import pytest

import glycemic as gly

ESTIMATES = [
    gly.Estimate, gly.Panel, gly.Panel.intervals, gly.Panel.assess, gly.Panel.beside_normals, gly.Histogram, gly.Stream,
    gly.Trace.days_needed, gly.Sufficiency, gly.panel, gly.Summary, gly.agreement.summary, gly.agreement.within,
    gly.agreement.bland_altman, gly.align.lag, gly.align.clock_offset, gly.meals.responses, gly.tolerance.fit, gly.Fit,
    gly.contrast.compare, gly.Contrast, gly.Review, gly.Trial.review, gly.panels,
    gly.sensor.drift, gly.sensor.fasting_drift, gly.sensor.steps, gly.sensor.first_day, gly.sensor.recalibrate,
    gly.Recalibration, gly.PressureLows, gly.sensor.pressure_lows, gly.sensor.without_pressure, gly.FlatLines, gly.DropOuts,
    gly.SensorNoise, gly.Alarms, gly.sensor.alarms, gly.sensor.survival, gly.sensor.lasts, gly.sensor.incidence,
    gly.PairingSensitivity, gly.align.sensitivity, gly.Changes, gly.agreement.changes,
    gly.Accounts, gly.sensor.accounts, gly.CarriedOut, gly.contrast.carried_out, gly.Saturating, gly.Fit.saturating,
]  # fmt: skip


def documented():
    for name in gly.__all__:
        item = getattr(gly, name)
        if isinstance(item, str):
            continue
        yield name, item
        if isinstance(item, (type, types.ModuleType)):
            for inner in vars(item):
                if not inner.startswith("_") and callable(getattr(item, inner)):
                    yield f"{name}.{inner}", getattr(item, inner)


ITEMS = dict(documented())


@pytest.mark.parametrize("name", ITEMS)
def test_docstring(name):
    doc = inspect.getdoc(ITEMS[name])
    assert doc
    test = doctest.DocTestParser().get_doctest(doc, {"gly": gly, "np": np}, name, None, 0)
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    output = []
    runner.run(test, out=output.append)
    assert runner.summarize(verbose=False).failed == 0, "".join(output)


def test_estimates_carry_the_caution():
    for item in ESTIMATES:
        doc = " ".join(inspect.getdoc(item).split())
        assert "education, coaching and research" in doc, item


def test_functions_have_an_example():
    functions = [n for n, f in ITEMS.items() if inspect.isbuiltin(f) and not isinstance(getattr(f, "__self__", None), type)]
    without = [n for n in functions if ">>>" not in ITEMS[n].__doc__]
    assert set(without) <= {"align.clock_offset", "simulate.scenarios", "simulate.write"}, without
