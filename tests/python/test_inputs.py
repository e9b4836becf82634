"""Times and glucose of every kind make the same trace."""

from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import glycemic as gly

START = datetime(2025, 5, 5, 8, 0, tzinfo=timezone.utc)
AWARE = [START + timedelta(minutes=5 * i) for i in range(4)]
MS = [int(t.timestamp() * 1000) for t in AWARE]
GLUCOSE = [100.0, 104.0, 110.0, 108.0]
LISBON = [t.astimezone(ZoneInfo("Europe/Lisbon")).replace(tzinfo=None) for t in AWARE]

INSTANTS = {
    "datetimes": AWARE,
    "another zone": [t.astimezone(ZoneInfo("Asia/Tokyo")) for t in AWARE],
    "iso Z": [t.strftime("%Y-%m-%dT%H:%M:%SZ") for t in AWARE],
    "iso offset": [t.astimezone(ZoneInfo("Asia/Kolkata")).isoformat() for t in AWARE],
    "iso no seconds": [t.strftime("%Y-%m-%d %H:%M+00:00") for t in AWARE],
    "ms list": MS,
    "ms array": np.array(MS),
    "ms uint": np.array(MS, dtype=np.uint64),
    "ms pandas": pd.Series(MS),
    "ms polars": pl.Series(MS),
    "pandas series": pd.Series(AWARE),
    "pandas index": pd.DatetimeIndex(AWARE).tz_convert("Europe/Lisbon"),
    "pandas ns": pd.Series(AWARE).astype("datetime64[ns, UTC]"),
    "pandas s": pd.Series(AWARE).astype("datetime64[s, UTC]"),
    "pandas arrow": pd.Series(AWARE).astype(pd.ArrowDtype(pa.timestamp("us", "UTC"))),
    "pandas object": pd.Series(AWARE, dtype=object),
    "pandas text": pd.Series([t.isoformat() for t in AWARE]),
    "polars": pl.Series(AWARE).dt.convert_time_zone("America/New_York"),
    "polars text": pl.Series([t.isoformat() for t in AWARE]),
    "pyarrow": pa.array(AWARE, pa.timestamp("ms", "UTC")),
    "pyarrow chunked": pa.chunked_array([pa.array(AWARE, pa.timestamp("ns", "Asia/Tokyo"))]),
}

LOCAL = {
    "datetimes": LISBON,
    "iso": [t.isoformat() for t in LISBON],
    "iso space": [t.strftime("%Y-%m-%d %H:%M") for t in LISBON],
    **{f"numpy {u}": np.array(LISBON, dtype=f"datetime64[{u}]") for u in ("m", "s", "ms", "us", "ns")},
    "pandas": pd.Series(LISBON),
    "pandas ns": pd.DatetimeIndex(LISBON).as_unit("ns"),
    "polars": pl.Series(LISBON),
    "polars ns": pl.Series(LISBON, dtype=pl.Datetime("ns")),
    "pyarrow": pa.array(LISBON, pa.timestamp("us")),
    "strided": np.array([x for t in LISBON for x in (t, t)], dtype="datetime64[us]")[::2],
}


@pytest.mark.parametrize("kind", INSTANTS)
def test_instants(kind):
    tr = gly.Trace(INSTANTS[kind], GLUCOSE)
    assert tr.times_ms.tolist() == MS and tr.zone is None
    assert gly.Trace(INSTANTS[kind], GLUCOSE, zone="Europe/Lisbon").zone == "Europe/Lisbon"
    assert tr.at(INSTANTS[kind]).tolist() == GLUCOSE


@pytest.mark.parametrize("kind", LOCAL)
def test_local_times(kind):
    tr = gly.Trace(LOCAL[kind], GLUCOSE, zone="Europe/Lisbon")
    assert tr.times_ms.tolist() == MS
    assert tr.at(LOCAL[kind]).tolist() == GLUCOSE
    floating = gly.Trace(LOCAL[kind], GLUCOSE)
    assert floating.zone == "floating" and floating.times_ms[0] == MS[0] + 3_600_000


@pytest.mark.parametrize("zone", ["Europe/Lisbon", ZoneInfo("Europe/Lisbon"), timezone(timedelta(hours=1)), [(0, 60)]])
def test_zones(zone):
    assert gly.Trace(LISBON, GLUCOSE, zone=zone).times_ms.tolist() == MS


VALUES = {
    "list": GLUCOSE,
    "ints": [100, 104, 110, 108],
    "float32": np.array(GLUCOSE, dtype=np.float32),
    "int16": np.array(GLUCOSE, dtype=np.int16),
    "strided": np.repeat(GLUCOSE, 2)[::2],
    "pandas": pd.Series(GLUCOSE),
    "pandas nullable": pd.Series(GLUCOSE, dtype="Float64"),
    "pandas nullable int": pd.Series([100, 104, 110, 108], dtype="Int64"),
    "pandas arrow": pd.Series(GLUCOSE, dtype=pd.ArrowDtype(pa.float64())),
    "polars": pl.Series(GLUCOSE),
    "pyarrow": pa.array(GLUCOSE),
    "text": ["100", "104", " 110 ", "108.0"],
    "objects": np.array(GLUCOSE, dtype=object),
}


@pytest.mark.parametrize("kind", VALUES)
def test_glucose(kind):
    tr = gly.Trace(MS, VALUES[kind])
    assert tr.glucose_mg_dl.tolist() == GLUCOSE


MISSING = {
    "nan": [100, float("nan"), 110, 108],
    "none": [100, None, 110, 108],
    "pandas NA": pd.Series([100, pd.NA, 110, 108], dtype="Int64"),
    "polars null": pl.Series([100, None, 110, 108]),
    "pyarrow null": pa.array([100, None, 110, 108]),
    "empty text": ["100", "", "110", "108"],
}


@pytest.mark.parametrize("kind", MISSING)
def test_missing_glucose_is_reported(kind):
    tr = gly.Trace(MS, MISSING[kind])
    assert len(tr) == 3 and tr.cleaning.missing == 1
    assert tr.cleaning.rejected[0].index == 1 and tr.cleaning.rejected[0].why == "missing"


def test_readings_at_a_limit():
    tr = gly.Trace(MS, ["LOW", "high", "<54", 120])
    assert tr.glucose_mg_dl.tolist() == [40, 400, 54, 120] and tr.censored.tolist() == [-1, 1, -1, 0]
    assert (tr.cleaning.censored_low, tr.cleaning.censored_high) == (2, 1)
    p = gly.panel(tr)
    assert (p.censored_low, p.censored_high) == (2, 1)
    mmol = gly.Trace(MS, pd.Series(["Low", "HI", ">22", 6.0], dtype=object), unit="mmol/L")
    assert (mmol.glucose_mg_dl / 18.0156).round(9).tolist() == [2.2, 22.2, 22.0, 6.0]


FRAMES = {
    "dict": {"t": AWARE, "g": GLUCOSE},
    "rows": [{"t": t, "g": g} for t, g in zip(AWARE, GLUCOSE)],
    "pandas": pd.DataFrame({"t": AWARE, "g": GLUCOSE}),
    "polars": pl.DataFrame({"t": AWARE, "g": GLUCOSE}),
    "pyarrow": pa.table({"t": pa.array(AWARE, pa.timestamp("ms", "UTC")), "g": GLUCOSE}),
    "batch": pa.record_batch({"t": pa.array(AWARE, pa.timestamp("ms", "UTC")), "g": GLUCOSE}),
}


@pytest.mark.parametrize("kind", FRAMES)
def test_frames(kind):
    tr = gly.Trace.from_frame(FRAMES[kind], time="t", glucose="g")
    assert tr == gly.Trace(AWARE, GLUCOSE)
    with pytest.raises(gly.GlycemicError) as caught:
        gly.Trace.from_frame(FRAMES[kind], time="t", glucose="sugar")
    assert (caught.value.code, caught.value.column) == ("missing_column", "sugar")


def test_what_only_gives_an_arrow_stream():
    tr = gly.Trace(AWARE, GLUCOSE)
    assert not hasattr(tr, "column_names")
    assert gly.Trace.from_frame(tr, time="time_ms", glucose="glucose_mg_dl") == tr


def test_area_takes_any_column():
    for wrap in (list, np.array, pd.Series, pl.Series, pa.array, tuple):
        assert gly.area.incremental(wrap([0, 30, 60]), wrap([90, 150, 90])) == 1800.0


def test_order_and_doubles_are_reported():
    tr = gly.Trace([MS[2], MS[0], MS[0], MS[1], MS[1]], [110, 100, 100, 104, 105])
    c = tr.cleaning
    assert (c.given, c.kept, c.duplicates, c.conflicts) == (5, 3, 1, 1) and c.sorted > 0


def test_sensor_changes_are_not_joined():
    tr = gly.Trace(AWARE, GLUCOSE)
    at = [START + timedelta(minutes=7)]
    assert tr.at(at)[0] == pytest.approx(106.4)
    assert np.isnan(tr.with_breaks([START + timedelta(minutes=8)]).at(at))[0]
