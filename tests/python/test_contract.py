"""The names that callers rely on, and that every object has a dict and a pickle."""

import inspect
import json
import pickle

import numpy as np
import pytest

import glycemic as gly

PANEL = """n days active_pct nominal_interval_min censored_low censored_high mean_mg_dl sd_mg_dl cv_pct
min_mg_dl max_mg_dl p05_mg_dl p25_mg_dl median_mg_dl p75_mg_dl p95_mg_dl iqr_mg_dl gmi_pct gmi_mmol_mol
ea1c_pct very_low_pct low_pct in_range_pct high_pct very_high_pct below_70_pct above_180_pct
tight_range_pct fasting_mg_dl overnight_mg_dl""".split()

SIGNATURES = {
    "Trace": "(times, glucose, unit='mg/dL', zone=None)",
    "area.total": "(minutes, values)",
    "area.incremental": "(minutes, values, baseline=None, rule='positive')",
    "align.pair": "(meter, sensor, window_min=5.0, how='nearest', lag_min=0.0)",
    "align.pair_by_rules": "(meter, sensor, wear=None, window_min=5.0, how='nearest', lag_min=0.0, bursts='averaged', "
    "once=True, calibrations_in=False, calibration_min=15.0, sensor_range=None, meter_range=None)",
    "align.sensitivity": "(meter, sensor, wear=None, estimated_lag_min=None, window_min=5.0, how='nearest', lag_min=0.0, level=0.95)",
    "sensor.drift": "(meter, sensor, lag_min=0.0, level=0.95)",
    "sensor.fasting_drift": "(sensor, meals=None, level=0.95)",
    "sensor.steps": "(meter, sensor, wear, lag_min=0.0, level=0.95)",
    "sensor.first_day": "(meter, sensor, meals=None, lag_min=0.0, level=0.95)",
    "sensor.recalibrate": "(meter, sensor, lag_min=0.0, lag_se_min=0.0, meter_bias_pct=0.0, meter_bias_sd_pct=6.0, level=0.95)",
    "sensor.pressure_lows": "(trace, meals=None, activity=None, meter=None, least_probability=0.05, least_depth_mg_dl=10.0, "
    "per_night=0.3, per_day=0.1, meter_ahead_min=0.0, level=0.95)",
    "sensor.drop_outs": "(trace, wear=None, first_hours=12.0, level=0.95)",
    "sensor.survival": "(times, failed, level=0.95)",
    "sensor.accounts": "(sensors, traces, meters, calibrated=None, required=[], warm_up_min=0.0, window_min=5.0, how='nearest', "
    "lag_min=0.0, bursts='averaged', once=True, calibrations_in=False, calibration_min=15.0, sensor_range=None, meter_range=None, "
    "level=0.95)",
    "contrast.carried_out": "(r, first_day, days, pairs, slots, with_, without, masked_days=2, seed=1, sleep=None, notes=None, "
    "outcome='rise', level=0.95)",
    "agreement.changes": "(times, reference, measured, day, meals, before=(-45.0, 5.0), after=(30.0, 150.0), "
    "meter_sd_mg_dl=None, variance_ratio=1.0, level=0.95)",
    "agreement.within": "(reference, measured, mg_dl=15.0, pct=15.0, switch_mg_dl=100.0, cluster=None, level=0.95)",
    "agreement.bland_altman": "(reference, measured, subject=None, level=0.95)",
    "agreement.error_grid": "(reference, measured, grid='clarke', unit='mg/dL')",
    "agreement.deming": "(x, y, variance_ratio=1.0, level=0.95)",
    "agreement.passing_bablok": "(x, y, level=0.95)",
    "agreement.concordance": "(x, y, level=0.95)",
    "agreement.iso15197": "(reference, measured, cluster=None, level=0.95, edition=2013)",
    "agreement.icgm": "(reference, measured, reference_rate=None, measured_rate=None, cluster=None, level=0.95)",
    "meals.responses": "(trace, meals, targets=None, activity=None, before_min=30.0, after_min=180.0, seed=1)",
    "tolerance.fit": "(r, rise_mg_dl, peak_mg_dl=None, level=0.95)",
    "tolerance.limits_by_sort": "(r, rise_mg_dl, level=0.95)",
    "tolerance.misfits": "(r, rise_mg_dl, rate=0.1)",
    "tolerance.equivalent_loads": "(r, rise_mg_dl, tag='eating-out', level=0.95)",
    "meals.unlogged": "(trace, meals, activity=None, least_probability=0.2, least_size_mg_dl=15.0)",
    "contrast.compare": "(r, by, outcome='rise_mg_dl', adjust=['net_carbs_g'], level=0.95)",
    "panel": "(trace, meals=None, *, m_reference_mg_dl=120.0, grade='mean', risk_constants='mg_dl', "
    "mage_sd='whole_trace', modd_pairs='all', episode_length='count_times_interval', lability='weekly_sum', "
    "reporting_period=None)",
    "Trace.modal_day": "(self, /, step_min=15, percentiles=(5.0, 25.0, 50.0, 75.0, 95.0), smoothing='local', width_min=30.0)",
    "Trace.shares": "(self, /, ranges, unit='mg/dL')",
    "Trace.episodes": "(self, /, rule, episode_length='count_times_interval')",
    "Trace.by": "(self, /, parts)",
    "Trace.days_needed": "(self, /, measure, half_width, level=0.95)",
    "Histogram": "(unit='mg/dL')",
    "Stream": "(unit='mg/dL', nominal_min=5.0, zone=None)",
}


def find(name):
    found = gly
    for part in name.split("."):
        found = getattr(found, part)
    return found


@pytest.mark.parametrize("name", SIGNATURES)
def test_signatures(name):
    assert str(inspect.signature(find(name))) == SIGNATURES[name]


def test_rooms_can_be_imported():
    import glycemic.area
    from glycemic.meals import responses

    assert glycemic.area.total is gly.area.total
    assert responses.__module__ == "glycemic.meals"


def test_all_is_what_there_is():
    assert sorted(gly.__all__) == gly.__all__
    assert all(hasattr(gly, name) for name in gly.__all__)


def test_panel_fields(trace):
    p = gly.panel(trace)
    assert set(PANEL) <= set(p.to_dict()) and set(PANEL) <= set(dir(p))
    assert list(p.to_dict()) == list(gly.measures()["name"])
    assert all(getattr(p, name) == p.to_dict()[name] for name in PANEL)
    assert isinstance(p.n, int) and p.reasons == {}
    with pytest.raises(AttributeError):
        p.mean


def test_panel_intervals(trace):
    found = gly.panel(trace).intervals(level=0.9, resamples=100, seed=2)
    e = found["mean_mg_dl"]
    assert e.low < e.value < e.high and e.level == 0.9 and e.n == 14 and e.reason is None
    blood = gly.panel(trace).intervals(blood=(5.0, 1.0))["mean_mg_dl"]
    assert blood.value == pytest.approx(e.value - 5) and blood.low < e.low


def test_short_trace_says_why():
    tr = gly.Trace(["2025-03-14T07:30Z"], [100])
    p = gly.panel(tr)
    assert p.sd_mg_dl is None and "at least 2" in p.reasons["sd_mg_dl"]
    e = p.intervals()["mean_mg_dl"]
    assert e.low is None and e.reason_code == "no_zone"


SENSORS = {"sensor": ["A"], "person": ["1"], "inserted_ms": [1_736_000_000_000], "ended_ms": [1_760_000_000_000], "end": ["worn"]}


def everything(trace, trial, responses, review):
    pairs = gly.align.pair(trial.meter, trial.sensor)
    r, m = pairs.reference_mg_dl, pairs.measured_mg_dl
    fit = gly.tolerance.fit(responses, rise_mg_dl=30)
    histogram, stream = gly.Histogram(), gly.Stream()
    histogram.extend(trace)
    stream.extend(trace.times_ms[:500], trace.glucose_mg_dl[:500])
    return [
        trace, trace.cleaning, trace.coverage(), trace.resample(15), *trace.gaps()[:1],
        *gly.Trace([1_746_403_200_000] * 2, [100, 104]).cleaning.rejected,
        histogram, stream, trace.sufficiency(), trace.episode_summary("high"), trace.days_needed("mean_mg_dl", 2),
        trace.by("day"), trace.modal_day(), gly.panel(trace).assess("type2"), gly.panel(trace).beside_normals(),
        gly.panel(trace), gly.panel(trace).intervals()["mean_mg_dl"], gly.measures(),
        trial, trial.meter, trial.sensor, trial.meals, trial.notes, responses, responses.table, pairs,
        *trial.sensor.gaps()[:1],
        gly.align.lag(trial.meter, trial.sensor), gly.align.clock_offset(trial.meter, trial.sensor, (8, 2)),
        gly.agreement.summary(r, m, pairs.day), gly.agreement.within(r, m), gly.agreement.bland_altman(r, m),
        gly.agreement.error_grid(r, m), gly.agreement.risk_grid(r, m, [50, 150], [50, 150], [[0, 2], [-2, 0]]),
        gly.agreement.deming(r, m), gly.agreement.passing_bablok(r, m), gly.agreement.concordance(r, m),
        gly.agreement.icc(np.column_stack([r, m])), gly.agreement.limits(r, m), gly.agreement.trend(r, m),
        gly.agreement.limits(r, m, pairs.day), gly.agreement.icgm(r, m), gly.agreement.paired_precision(r, m),
        gly.agreement.expected_difference((15, 0.95), (10, 0.9)), gly.agreement.accuracy_table(r, m, bands="consensus"),
        gly.agreement.expected_difference((15, 0.95, 20), (10, 0.9)),
        gly.sensor.recalibrate(trial.meter, trial.sensor), gly.sensor.pressure_lows(trial.sensor, trial.meals),
        gly.sensor.flat_lines(trial.sensor), gly.sensor.drop_outs(trial.sensor, trial.wear), gly.sensor.noise(trial.sensor),
        gly.sensor.alarms(trial.sensor), gly.align.sensitivity(trial.meter, trial.sensor),
        gly.align.pair_by_rules(trial.meter, trial.sensor, trial.wear),
        gly.agreement.changes(pairs.times_ms, r, m, pairs.day, trial.meals["time_ms"]),
        gly.sensor.accounts(SENSORS, [trial.sensor], {"1": trial.meter}),
        gly.contrast.carried_out(responses, "2025-03-10", 14, 6, ["lunch"], "walk_after", "no_walk"), fit.saturating(),
        gly.agreement.iso15197(r, m), fit, fit.safe_g(0.8), fit.predict(30), fit.equivalent_load(40),
        gly.align.clock_error(trial.meter, trial.sensor), gly.contrast.paired([1, 2, 3], [2, 4, 4], [True, False, True]),
        gly.meals.compare_recovery(responses, "walk_after"), gly.meals.glycaemic_index([93], [[114, 155, 179]]),
        gly.contrast.compare(responses, by="walk_after"), review, gly.simulate.trial(people="healthy", days=3),
    ]  # fmt: skip


def test_every_object_pickles_and_has_a_dict(trace, trial, responses, review):
    seen = set()
    for item in everything(trace, trial, responses, review):
        again = pickle.loads(pickle.dumps(item))
        assert again == item, item
        json.dumps(item.to_dict(), allow_nan=False)
        assert type(item).__name__ in repr(item)
        seen.add(type(item).__name__)
    classes = {n for n in gly.__all__ if isinstance(getattr(gly, n), type)} - {"GlycemicError", "Unpaired"}
    assert seen == classes


def test_arrays_are_whole_and_read_only(trace):
    assert trace.times_ms.dtype == np.int64 and trace.glucose_mg_dl.dtype == np.float64
    assert trace.times.dtype == "datetime64[ms]"
    with pytest.raises(ValueError):
        trace.glucose_mg_dl[0] = 1.0


def test_fit_is_the_same_from_responses_and_from_any_frame(responses):
    import polars as pl
    import pyarrow as pa

    fit = gly.tolerance.fit(responses, rise_mg_dl=30)
    for frame in (responses.table, responses.to_pandas(), pl.DataFrame(responses), pa.table(responses), responses.to_dict()):
        assert gly.tolerance.fit(frame, rise_mg_dl=30) == fit
    assert fit.estimable and fit.low_g < fit.limit_g < fit.high_g and fit.reason is None
    assert fit.safe_g(0.8).value < fit.limit_g
    assert fit.safe_g(0.8) == gly.tolerance.fit(responses, rise_mg_dl=30).safe_g(0.8)


def test_responses_are_the_same_from_any_frame(trial, responses):
    import polars as pl
    import pyarrow as pa

    for wrap in (lambda t: t, lambda t: t.to_pandas(), pl.DataFrame, pa.table, lambda t: t.to_dict()):
        again = gly.meals.responses(trial.sensor, wrap(trial.meals), trial.targets, wrap(trial.activity))
        assert again == responses
    rows = trial.meals.to_pandas().to_dict("records")
    assert gly.meals.responses(trial.sensor, rows, trial.targets, trial.activity) == responses
    assert len(gly.meals.responses(trial.sensor, [])) == 0


def test_review(review, tmp_path):
    assert len(review.questions) == 10 == len(review.sentences())
    data = review.to_dict()
    assert data["schema"].startswith("glycemic.review/") and next(iter(data)) == "schema"
    assert review.estimate("limit_g").level == 0.95
    assert "medical device" in review.text() and review.methods()
    assert len(review.table("data", "days")) == 15
    assert review._repr_html_().startswith("<")
    for name in ("r.json", "r.txt", "r.html"):
        review.save(tmp_path / name)
        assert (tmp_path / name).stat().st_size > 500
    with pytest.raises(gly.GlycemicError) as caught:
        review.save(tmp_path / "r.docx")
    assert caught.value.argument == "path"
    with pytest.raises(KeyError):
        review.estimate("none")


def test_progress_is_told_and_may_cancel(trial):
    seen = []
    trial.review(progress=seen.append)
    assert seen == list(range(1, 11))
    with pytest.raises(gly.GlycemicError) as caught:
        trial.review(progress=lambda n: n < 3)
    assert caught.value.code == "cancelled"
    with pytest.raises(ZeroDivisionError):
        trial.review(progress=lambda n: 1 / 0)
