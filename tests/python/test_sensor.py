"""What the sensor did: drift, steps, first day, setting it, pressure, losses, alarms, how long it lasts."""

import math

import numpy as np
import pytest
from scipy import stats

import glycemic as gly

START = 1_741_046_400_000  # 2025-03-04T00:00Z
DAY = 86_400_000
I = np.arange(10 * 288)
TIMES = START + I * 300_000
#: Three a day, at 01:00, 09:00 and 17:00, for ten days.
PRICKED = START + np.arange(30) * DAY // 3 + 3_600_000


def refused(call, code, argument=None):
    with pytest.raises(gly.GlycemicError) as caught:
        call()
    assert caught.value.code == code, caught.value
    if argument:
        assert caught.value.argument == argument


def meter(values, zone=None):
    return gly.Meter(PRICKED, values, zone=zone)


@pytest.fixture(scope="module")
def noisy():
    """A sensor that reads 12 mg/dL above the meter and gains 1 mg/dL a day, with noise."""
    rng = np.random.default_rng(5)
    blood = 110 + 25 * np.sin(I / 288 * 4 * np.pi)
    sensor = gly.Trace(TIMES, np.round(blood + 12 + I / 288 + rng.normal(0, 3, I.size)), zone="UTC")
    at = ((PRICKED - START) // 300_000).astype(int)
    return gly.Meter(PRICKED, np.round(blood[at] + rng.normal(0, 3, 30)), zone="UTC"), sensor


def test_drift_is_the_line_of_numpy(noisy):
    meter_, sensor = noisy
    t = gly.sensor.drift(meter_, sensor)
    at = ((PRICKED - START) // 300_000).astype(int)
    days = (PRICKED - START) / DAY
    # The rate is the slope over 10 min before to 5 after, as the pairs have it.
    rate = gly.align.pair(meter_, sensor).rate_mg_dl_min
    keep = (days >= 1) & ~(np.abs(rate) > 2)
    difference = sensor.glucose_mg_dl[at] - meter_.glucose_mg_dl
    slope = np.polyfit(days[keep], difference[keep], 1)[0]
    assert t["drift_mg_dl_day"][0] == pytest.approx(slope)
    pct = np.polyfit(days[keep], (100 * difference / meter_.glucose_mg_dl)[keep], 1)[0]
    assert t["drift_pct_day"][0] == pytest.approx(pct)
    assert t["pairs"][0] == keep.sum() and t["drift_low_mg_dl_day"][0] < slope < t["drift_high_mg_dl_day"][0]
    assert t["drift_low_mg_dl_day"][0] < 1 < t["drift_high_mg_dl_day"][0] and t["reason"][0] is None
    wider = gly.sensor.drift(meter_, sensor, level=0.99)
    assert wider["drift_low_mg_dl_day"][0] < t["drift_low_mg_dl_day"][0]


def test_too_few_days_is_a_reason_not_a_number():
    short = gly.Trace(TIMES[: 3 * 288], [100] * (3 * 288))
    t = gly.sensor.drift(meter([100] * 30), short)
    assert math.isnan(t["drift_mg_dl_day"][0]) and "at least 5 days" in t["reason"][0]
    refused(lambda: gly.sensor.drift(meter([100] * 30), short, level=1.0), "out_of_range", "level")
    refused(lambda: gly.sensor.drift(meter([100] * 30), short, lag_min=math.nan), "not_finite")
    naive = gly.Trace(["2025-03-04T00:00"], [100])
    refused(lambda: gly.sensor.drift(meter([100] * 30), naive), "mixed_times", "zone")


def test_fasting_drift_needs_no_meter(noisy):
    t = gly.sensor.fasting_drift(noisy[1])
    assert t["mornings"][0] >= 9 and t["fasting_drift_low_mg_dl_day"][0] < 1 < t["fasting_drift_high_mg_dl_day"][0]


def test_steps_take_any_frame():
    import polars as pl

    swap = START + 5 * DAY
    sensor = gly.Trace(TIMES, np.where(I < 5 * 288, 100, 110), zone="UTC").with_breaks([swap])
    rows = {"time_ms": [swap], "event": ["inserted"], "sensor": ["B"]}
    m = meter([100] * 30, zone="UTC")
    t = gly.sensor.steps(m, sensor, rows)
    assert t["sensor"].tolist() == ["B"] and t["event"].tolist() == ["inserted"]
    assert t["difference_mg_dl"].tolist() == pytest.approx([10.0]) and t["overnight_mg_dl"].tolist() == [10.0]
    # The first 24 h of the second sensor are left out.
    assert t["pairs_before"].tolist() == [12] and t["pairs_after"].tolist() == [12]
    assert gly.sensor.steps(m, sensor, pl.DataFrame(rows)) == t
    assert gly.sensor.steps(m, sensor, {"time": ["2025-03-09T00:00"], **{k: rows[k] for k in ("event", "sensor")}}) == t
    assert len(gly.sensor.steps(m, sensor, [])) == 0
    refused(lambda: gly.sensor.steps(m, sensor, {**rows, "event": ["fell off"]}), "unknown_choice", "event")
    refused(lambda: gly.sensor.steps(m, sensor, {"time_ms": [swap]}), "missing_column")


def test_first_day(noisy):
    t = gly.sensor.first_day(*noisy)
    assert t["mean_mg_dl"][0] == pytest.approx(noisy[1].glucose_mg_dl.mean())
    # An even drift is no unsteady first day.
    assert t["steady_from_low_h"][0] == 0 or t["steady_from_reason"][0]
    hours = gly.sensor.first_day_hours(*noisy)
    pairs = gly.align.pair(*noisy)
    slow = ~(np.abs(pairs.rate_mg_dl_min) > 2)
    assert hours["pairs"].sum() == slow.sum()
    first = slow & (pairs.times_ms - START < 6 * 3_600_000)
    assert hours["mean_mg_dl"][0] == pytest.approx(np.mean((pairs.measured_mg_dl - pairs.reference_mg_dl)[first]))
    assert hours["from_h"].tolist() == [0, 6, 12, 24, 48] and math.isnan(hours["to_h"][4])


def test_recalibration_is_asked_for_and_leaves_the_trace_alone(noisy):
    meter_, sensor = noisy
    before = sensor.glucose_mg_dl.copy()
    found = gly.sensor.recalibrate(meter_, sensor)
    kind = found.table["kind"][0]
    assert kind != "none" and found.tried["kind"][found.tried["chosen"]].tolist() == [kind]
    set_ = found.apply(sensor)
    assert (sensor.glucose_mg_dl == before).all() and set_ != sensor and set_.zone == sensor.zone
    row = {name: found.table[name][0] for name in found.table.column_names}
    by_hand = (before - row["set_offset_mg_dl"] - row["set_drift_mg_dl_day"] * (TIMES - START) / DAY) / row["set_gain"]
    assert np.abs(set_.glucose_mg_dl - by_hand).max() <= 0.5 + 1e-9
    pairs = gly.align.pair(meter_, set_)
    assert abs(np.mean(pairs.measured_mg_dl - pairs.reference_mg_dl)) < row["before_bias_mg_dl"] / 4
    # The meter's own bias is in the interval in blood: 6 % of the mean meter value, at z.
    used = (np.abs(gly.align.pair(meter_, sensor).rate_mg_dl_min) <= 2) & ((PRICKED - START) >= DAY)
    unknown = stats.norm.ppf(0.975) * 0.06 * meter_.glucose_mg_dl[used].mean()
    arm = math.hypot(row["offset_high_mg_dl"] - row["offset_mg_dl"], unknown)
    assert row["offset_in_blood_high_mg_dl"] == pytest.approx(row["offset_mg_dl"] + arm)
    assert found.applied(sensor)["readings"].tolist() == [2880] and found.left_out["unsettled"] == 3
    text = " ".join(found.provenance)
    assert text.startswith("sensor 1: less") and "not agreement with blood" in text and found.caution in text
    assert "none" not in repr(found)


def test_a_sensor_with_few_pairs_is_left_as_it_is():
    sensor = gly.Trace(TIMES, [130] * 2880).with_breaks([START, START + 8 * DAY])
    found = gly.sensor.recalibrate(meter([99, 100, 101] * 10), sensor)
    assert found.table["kind"].tolist() == ["offset", "none"]
    assert found.table["reason"].tolist() == [None, "needs at least 8 pairs with the meter, has 3"]
    assert found.apply(sensor).glucose_mg_dl[[0, -1]].tolist() == [100.0, 130.0]
    assert "left as it is" in found.provenance[1]
    refused(lambda: gly.sensor.recalibrate(meter([100] * 30), sensor, meter_bias_sd_pct=-1), "out_of_range")


def dipping(depth=30):
    i = np.arange(288)
    glucose = 100 + np.tile([0, 1, 0, -1], 72) - np.where((i >= 36) & (i < 44), depth, 0)
    return gly.Trace(START + i * 300_000, glucose, zone="UTC")


def test_pressure_is_possible_never_removed():
    trace = dipping()
    found = gly.sensor.pressure_lows(trace)
    assert len(found) == 1 and found.table["night"].tolist() == [True] and found.reason is None
    assert found.table["depth_low_mg_dl"][0] < 30 < found.table["depth_high_mg_dl"][0] + 4
    assert "can't be excluded without a meter reading" in found.caution and len(trace) == 288
    inside = START + 40 * 300_000
    low = gly.sensor.pressure_lows(trace, meter=gly.Meter([inside], [70], zone="UTC"))
    high = gly.sensor.pressure_lows(trace, meter=gly.Meter([inside], [100], zone="UTC"))
    p = [f.table["probability"][0] if len(f) else 0.0 for f in (low, found, high)]
    assert p[0] < p[1] < p[2]
    both = gly.sensor.without_pressure(dipping(35))
    assert both["measure"].tolist() == ["mean_mg_dl", "below_70_pct", "very_low_pct", "in_range_pct"]
    assert both["with"][0] == pytest.approx(dipping(35).glucose_mg_dl.mean()) and both["without"][0] > both["with"][0]
    assert both["without"][1] == 0.0 < both["with"][1]
    coarse = gly.Trace(START + np.arange(100) * 900_000, [100] * 100)
    nothing = gly.sensor.pressure_lows(coarse)
    assert len(nothing) == 0 and nothing.reason_code == "readings_too_far_apart"
    refused(lambda: gly.sensor.pressure_lows(trace, least_probability=2), "out_of_range", "least_probability")


def test_flat_lines_and_noise():
    i = np.arange(576)
    glucose = np.where((i >= 200) & (i < 225), 104, 100 + (i * 7) % 11)
    found = gly.sensor.flat_lines(gly.Trace(START + i * 300_000, glucose))
    assert found.table["readings"].tolist() == [25] and found.longest_readings == 25 and found.noise_assumed
    assert found.threshold_readings <= 25
    square = gly.Trace(START + i * 300_000, np.where(i // 3 % 2 == 0, 104, 100))
    noise = gly.sensor.noise(square)
    assert noise.jitter_mg_dl.value == pytest.approx(4) and noise.sd_mg_dl is None and noise.reason
    assert noise.table["wear_day"].tolist() == [1, 2]
    refused(lambda: gly.sensor.flat_lines(square, chance=0), "out_of_range", "chance")


def test_losses_are_counted():
    keep = np.r_[0:100, 106:288]
    trace = gly.Trace(START + keep * 300_000, [100] * 282, zone="UTC")
    wear = {"time_ms": [START - 3_600_000, START + DAY], "event": ["inserted", "failed"], "sensor": ["A", "A"]}
    found = gly.sensor.drop_outs(trace, wear)
    assert found.table["minutes"].tolist() == [35.0] and found.table["hour"].tolist() == [8]
    assert found.capture["capture_pct"][0] == pytest.approx(100 * 282 / 288)
    assert found.sensors["wait_min"].tolist() == [60.0] and found.sensors["failed"].tolist() == [True]
    assert found.sensors["first_hours_lost_pct"][0] == pytest.approx(100 * 6 / 144)
    assert found.by_length == [0, 1, 0, 0] and found.lost_by_hour[8] == 6 and found.failed == 1
    assert found.per_day.reason_code == "too_few_days"
    assert gly.sensor.drop_outs(gly.Trace([START], [100])).lost_by_hour is None


def test_alarms():
    trace = gly.Trace(START + np.arange(8) * 300_000, [80, 69, 72, 68, 75, 66, 80, 90], zone="UTC")
    noted = {"time_ms": [START + 300_000, START + DAY], "event": ["alarm", "alarm"]}
    found = gly.sensor.alarms(trace, meter=gly.Meter([START + 35 * 60_000], [92], zone="UTC"), wear=noted)
    assert found.table["checked"].tolist() == ["nobody_checked", "contradicted"]
    assert found.noted_only_ms == [START + DAY] and found.levels["level"].tolist() == ["low", "high"]
    assert found.levels["contradicted"].tolist() == [1, 0] and "no reason to switch one off" in found.caution
    assert found.levels["confirmed_high_pct"][0] == pytest.approx(100 * stats.binomtest(0, 1).proportion_ci(0.95).high)
    mine = gly.sensor.alarms(trace, levels=[("mine", "above", 85.0)])
    assert mine.table["level"].tolist() == ["mine"] and mine.table["glucose_mg_dl"].tolist() == [90.0]
    assert len(gly.sensor.alarms(trace, snooze_min=60)) == 1
    refused(lambda: gly.sensor.alarms(trace, levels=[("a", "under", 70.0)]), "unknown_choice", "levels")
    refused(lambda: gly.sensor.alarms(trace, levels=[]), "too_few_values")


def test_survival_as_scipy_has_it():
    times, failed = [3, 5, 5, 7, 9, 10, 14, 14, 14, 14], [1, 1, 0, 1, 0, 1, 0, 0, 0, 0]
    t = gly.sensor.survival(times, failed)
    right = [x for x, f in zip(times, failed) if not f]
    curve = stats.ecdf(stats.CensoredData(uncensored=[x for x, f in zip(times, failed) if f], right=right)).sf
    assert t["survival"].tolist() == pytest.approx(curve.evaluate(t["time"]).tolist())
    ends = curve.confidence_interval(method="log-log")
    assert t["low"].tolist() == pytest.approx(ends.low.evaluate(t["time"]).tolist())
    assert t["high"].tolist() == pytest.approx(ends.high.evaluate(t["time"]).tolist())
    assert gly.sensor.lasts(times, failed, at=8).value == pytest.approx(curve.evaluate(8))
    median = gly.sensor.lasts(times, failed)
    assert not median.estimable and median.reason
    one = gly.sensor.incidence(times, failed)
    assert (1 - one["incidence"]).tolist() == pytest.approx(t["survival"].tolist())
    two = gly.sensor.incidence(times, [1, 2, 0, 1, 0, 2, 0, 0, 0, 0])
    last = [two["incidence"][two["cause"] == c][-1] for c in (1, 2)]
    assert sum(last) == pytest.approx(1 - t["survival"][-1])
    refused(lambda: gly.sensor.survival([1, 2], [1, 2]), "out_of_range", "failed")
    refused(lambda: gly.sensor.survival([], []), "too_few_values")
    refused(lambda: gly.sensor.survival([1, -2], [1, 0]), "out_of_range", "times")
    refused(lambda: gly.sensor.incidence([1], [-1]), "out_of_range", "cause")


def test_pairing_by_rules():
    start = 1_741_000_200_000
    sensor = gly.Trace(start + np.arange(12) * 300_000, [100] * 11 + [39], zone="UTC")
    minutes = np.array([5.5, 6, 21, 40, 55])
    m = gly.Meter((start + minutes * 60_000).astype(np.int64), [98, 102, 104, 98, 50], zone="UTC")
    wear = {"time_ms": [start, start + 42 * 60_000], "event": ["inserted", "calibrated"], "sensor": ["A", "A"]}
    pairs = gly.align.pair_by_rules(m, sensor, wear, sensor_range=(40, 400))
    # The first two are a burst; 40 min is just before the calibration, 55 min below the sensor's range.
    assert pairs.reference_mg_dl.tolist() == [100, 104]
    assert pairs.sensor[0] == "A" and pairs.wear_day[0] == 1 and pairs.readings[0] == 2
    assert [u.why for u in pairs.unpaired] == ["calibration"]
    assert pairs.outside["why"].tolist() == ["sensor_low"] and pairs.outside["measured_mg_dl"].tolist() == [39.0]
    # A burst stands at the time of its first reading.
    hour = (start % DAY) / 3_600_000 + minutes[0] / 60
    assert pairs.local_hour[0] == pytest.approx(hour % 24)
    assert pairs.away_min[1] == pytest.approx(1)
    first = gly.align.pair_by_rules(m, sensor, wear, bursts="first")
    assert first.left_in_bursts == 1 and first.reference_mg_dl[0] == 98
    with_all = gly.align.pair_by_rules(m, sensor, wear, calibrations_in=True)
    assert len(with_all) == len(first) + 1
    plain = gly.align.pair(m, sensor)
    assert np.isnan(plain.wear_day).all() and set(plain.sensor) == {None}
    refused(lambda: gly.align.pair_by_rules(m, sensor, bursts="some"), "unknown_choice", "bursts")
    refused(lambda: gly.align.pair_by_rules(m, sensor, sensor_range=(400, 40)), "out_of_range", "sensor_range_mg_dl")


def test_sensitivity_has_the_rules_asked_for_among_its_rows(noisy):
    found = gly.align.sensitivity(*noisy, estimated_lag_min=5)
    t = found.table
    row = (t["window_min"] == 5) & (t["how"] == "nearest") & (t["lag_min"] == 0)
    pairs = gly.align.pair_by_rules(*noisy)
    s = gly.agreement.summary(pairs.reference_mg_dl, pairs.measured_mg_dl, pairs.day)
    assert t["mard_pct"][row].tolist() == pytest.approx([s.mard_pct])
    spread = found.spread
    mard = spread["figure"] == "mard_pct"
    assert spread["lowest"][mard][0] == np.nanmin(t["mard_pct"]) and spread["highest"][mard][0] == np.nanmax(t["mard_pct"])
    assert set(spread["choice"]) >= {"window", "how", "lag"} and found.reason is None
    few = gly.align.sensitivity(gly.Meter(PRICKED[:2], [100, 100], zone="UTC"), noisy[1])
    assert len(few.spread) == 0 and few.reason_code


def test_changes():
    meals = START + np.arange(8) * DAY
    times = np.sort(np.r_[meals, meals + 3_600_000])
    rng = np.random.default_rng(2)
    up = rng.normal(60, 20, 8)
    reference = np.ravel(np.column_stack([np.full(8, 100), 100 + up]))
    measured = np.ravel(np.column_stack([np.full(8, 105), 105 + 0.8 * up + rng.normal(0, 3, 8)]))
    day = np.repeat(np.arange(8), 2)
    c = gly.agreement.changes(times, reference, measured, day, meals)
    d = np.diff(measured)[::2] - np.diff(reference)[::2]
    assert c.bias_mg_dl.value == pytest.approx(d.mean()) and len(c) == 8 and c.skipped == []
    deming = gly.agreement.deming(np.diff(reference)[::2], np.diff(measured)[::2])
    assert c.slope.value == pytest.approx(deming.slope.value)
    # A known error of the meter: covariance over variance less 2 s^2.
    known = gly.agreement.changes(times, reference, measured, day, meals, meter_sd_mg_dl=4)
    cov = np.cov(np.diff(reference)[::2], np.diff(measured)[::2])
    assert known.slope.value == pytest.approx(cov[0, 1] / (cov[0, 0] - 2 * 16))
    missing = gly.agreement.changes(times[:-1], reference[:-1], measured[:-1], day[:-1], meals)
    assert missing.skipped == [(7, "no_pair_after")]
    few = gly.agreement.changes(times[:2], reference[:2], measured[:2], day[:2], meals[:1])
    assert few.bias_mg_dl.value is None and few.bias_mg_dl.reason
    refused(lambda: gly.agreement.changes(times, reference, measured, day[1:], meals), "length_mismatch")


def test_sensors_repeats_and_design():
    t = gly.agreement.by_sensor([100] * 12, [110] * 5 + [80] * 5 + [90] * 2, ["A"] * 5 + ["B"] * 5 + ["C"] * 2)
    assert t["mard_pct"].tolist()[:2] == [10.0, 20.0] and math.isnan(t["mard_pct"][2]) and t["reason"][2]
    refused(lambda: gly.agreement.by_sensor([100], [100], [None]), "value_missing", "sensor")
    bursts = [[98, 102, 100], [198, 202], [150]]
    r = gly.agreement.repeatability(bursts)
    squares = sum(np.var(b, ddof=1) * (len(b) - 1) for b in bursts[:2])
    assert r["value"][0] == pytest.approx(math.sqrt(squares / 3)) and r["n"][0] == 2
    assert r["low"][0] == pytest.approx(math.sqrt(squares / stats.chi2.ppf(0.975, 3)))
    assert gly.agreement.repeatability([[100]])["reason_code"].tolist() == ["no_bursts", "no_bursts"]
    t = gly.agreement.checklist("icgm", device="continuous_sensor", comparator="home_meter", persons=1)
    state = dict(zip(t["what"], t["state"]))
    assert state["device"] == "met" and state["comparator"] == "not_met" and state["wear"] == "unknown"
    assert set(t["status"]) <= {"confirmed", "unconfirmed"}
    refused(lambda: gly.agreement.checklist("mine"), "unknown_choice", "standard")
    refused(lambda: gly.agreement.checklist("icgm", device="watch"), "unknown_choice", "device")


def test_a_simulated_trial_goes_through(trial):
    sensor, m, wear = trial.sensor, trial.meter, trial.wear
    assert len(gly.sensor.drift(m, sensor)) == len(sensor.breaks_ms) + 1
    assert len(gly.sensor.recalibrate(m, sensor).table) == len(sensor.breaks_ms) + 1
    assert len(gly.sensor.drop_outs(sensor, wear).sensors) >= 1
    assert gly.sensor.pressure_lows(sensor, trial.meals, trial.activity, m).looked_at_days > 5
    assert len(gly.align.pair_by_rules(m, sensor, wear)) > 20


def study(**changes):
    """Two days of 110 mg/dL beside a meter of 100 every six hours; a sensor that lasted, one that came off."""
    trace = gly.Trace(START + np.arange(576) * 300_000, np.full(576, 110))
    readings = gly.Meter(START + 10_800_000 + np.arange(8) * 21_600_000, [100] * 8)
    sensors = {
        "sensor": ["A", "B", "C"],
        "person": ["1", "2", "2"],
        "inserted_ms": [START, START, START + DAY],
        "ended_ms": [START + 2 * DAY, START + DAY, START + 2 * DAY],
        "end": ["completed", "failed", "failed"],
        "cause": [None, "came off", None],
        "lot": ["L1", "L2", None],
        "length_days": [2, 2, 2],
    }
    calibrated = [None, [START + 190 * 60_000], None]
    given = {"sensors": sensors, "traces": [trace, trace, None], "meters": {"1": readings, "2": readings}}
    return given | {"calibrated": calibrated} | changes


def test_accounts_by_hand():
    found = gly.sensor.accounts(**study(required=[(70, 181, None, None, 90)]))
    flow = found.flow.to_dict()
    rows = zip(flow["unit"], flow["step"], flow["reason"], flow["n"])
    of_meter = {reason or step: n for unit, step, reason, n in rows if unit == "meter readings while worn"}
    assert (of_meter["had"], of_meter["calibration"], of_meter["sensor_without_readings"], of_meter["left"]) == (16, 1, 4, 11)
    assert sum(n for why, n in of_meter.items() if why not in ("had", "left")) == 5
    assert found.sensors["pairs"].tolist() == [8, 3, 0] and found.sensors.to_dict()["cause"] == [None, "came off", "unknown"]
    assert found.lasts.value == pytest.approx(1 / 3) and found.incidence["cause"].tolist() == ["came off", "unknown"]
    assert found.survival["failed"].tolist() == [2] and found.by_lot.to_dict()["group"] == [None, "L1", "L2"]
    assert found.median_mard_pct is None and found.reason_code == "too_few_sensors" and found.best is None
    assert found.level_rate["met"].tolist()[-1] == "met" and len(found.pairs) == 11
    assert found.repeat_sd_mg_dl.reason_code == "no_bursts"


def test_accounts_of_nothing_are_answers():
    names = ("sensor", "person", "inserted_ms", "ended_ms", "end")
    found = gly.sensor.accounts({name: [] for name in names}, [], {})
    assert found.lasts.reason_code == "no_sensors" and found.capture_pct is None
    assert len(found.survival) == len(found.by_part) == len(found.pairs) == 0


def test_accounts_refuse():
    def call(**changes):
        return lambda: gly.sensor.accounts(**study(**changes))

    sensors = study()["sensors"]
    refused(call(traces=[None]), "length_mismatch", "traces")
    refused(call(meters={}), "missing", "meters")
    refused(call(sensors=sensors | {"end": ["lost"] * 3}), "unknown_choice", "end")
    refused(call(sensors=sensors | {"person": [None, "2", "2"]}), "missing")
    refused(call(sensors={"sensor": ["A"]}, traces=[None], calibrated=None), "missing_column")
    refused(call(sensors=sensors | {"ended_ms": sensors["inserted_ms"]}), "out_of_range", "ended_ms")
    refused(call(warm_up_min=-1), "out_of_range", "warm_up_min")
    refused(call(level=math.nan), "not_finite", "level")
    refused(call(required=[(None, None, None, None, 101)]), "out_of_range", "required")
    refused(call(calibrated=[None]), "length_mismatch", "calibrated")
    with pytest.raises(TypeError):
        gly.sensor.accounts(**study(traces=[1, 2, 3]))


def test_local_times_of_a_study_are_those_of_the_trace():
    local = gly.Trace(["2025-03-04T00:00", "2025-03-04T00:05"], [100, 100], zone="Europe/Lisbon")
    sensors = {"sensor": ["A"], "person": ["1"], "inserted": ["2025-07-04T00:00"], "ended": ["2025-07-05T12:00"], "end": ["worn"]}
    readings = gly.Meter(["2025-07-04T00:30"], [100], zone="Europe/Lisbon")
    found = gly.sensor.accounts(sensors, [local], {"1": readings})
    # Half past midnight in summer is 23:30 UTC the day before: inside the wear only by local time.
    assert found.flow["n"].tolist()[5] == 1 and found.sensors["days"].tolist() == [1.5]
