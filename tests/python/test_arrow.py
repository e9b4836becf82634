"""Tables reach other libraries whole, and leave nothing behind."""

import gc
import resource

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import glycemic as gly

from conftest import readings


def test_trace_roundtrip(trace):
    table = pa.table(trace)
    assert table.schema.field("time_ms").type == pa.timestamp("ms", "UTC")
    assert table["time_ms"].cast(pa.int64()).to_pylist() == trace.times_ms.tolist()
    assert table["glucose_mg_dl"].to_pylist() == trace.glucose_mg_dl.tolist()
    for frame in (table, pl.DataFrame(trace), table.to_pandas()):
        again = gly.Trace.from_frame(frame, time="time_ms", glucose="glucose_mg_dl", zone="Europe/Lisbon")
        assert again == trace


def test_floating_times_claim_no_zone():
    tr = gly.Trace(["2025-05-05T08:00", "2025-05-05T08:05"], [100, 104])
    assert pa.table(tr).schema.field("time_ms").type == pa.timestamp("ms")
    assert pl.DataFrame(tr).schema["time_ms"] == pl.Datetime("ms", None)
    assert gly.Trace.from_frame(pa.table(tr), time="time_ms", glucose="glucose_mg_dl") == tr


@pytest.mark.parametrize("read", [lambda t: pa.table(t).to_pydict(), lambda t: pl.DataFrame(t).to_dict(as_series=False)])
def test_every_kind_of_column_and_its_nulls(responses, read):
    found, expected = read(responses), responses.to_dict()
    assert list(found) == list(expected)
    for name, column in expected.items():
        if name == "time_ms":
            assert [round(t.timestamp() * 1000) for t in found[name]] == column
        else:
            assert found[name] == column, name
    assert None in expected["label"] + expected["walk_minutes"]


def test_schema_alone(responses):
    assert pa.schema(responses) == pa.table(responses).schema
    assert pa.RecordBatchReader.from_stream(responses).schema == pa.schema(responses)


def test_empty_table():
    tr = gly.Trace(["2025-05-05T08:00Z"], [100])
    table = pa.table(gly.meals.responses(tr, []))
    assert table.num_rows == 0 and "rise_mg_dl" in table.column_names
    assert pl.DataFrame(gly.meals.responses(tr, [])).height == 0


def test_table_is_whole_after_it_is_dropped():
    times, glucose = readings(days=3)
    table = pa.table(gly.Trace(times, glucose))
    column = table["glucose_mg_dl"]
    del table
    gc.collect()
    assert column.to_pylist() == glucose.tolist()
    column.validate(full=True)


def test_gaps_are_null():
    tr = gly.Trace(["2025-05-05T08:00Z", "2025-05-05T08:05Z", "2025-05-05T10:00Z"], [100, 104, 110])
    grid = tr.resample(5)
    assert pa.table(grid)["glucose_mg_dl"].null_count == 22
    assert np.isnan(grid["glucose_mg_dl"]).sum() == 22 == grid.to_dict()["glucose_mg_dl"].count(None)
    assert grid.to_pandas()["time_ms"].dtype == pd.DatetimeTZDtype("ms", "UTC")


def test_nothing_leaks():
    times, glucose = readings(days=28)
    tr = gly.Trace(times, glucose)

    def loop(n):
        for _ in range(n):
            pa.table(tr)
            pl.DataFrame(tr)
            tr.__arrow_c_stream__()  # never taken
            tr.__arrow_c_schema__()
            pa.schema(tr)
            pa.RecordBatchReader.from_stream(tr)  # opened, never read

    loop(200)
    gc.collect()
    before, pool = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, pa.total_allocated_bytes()
    loop(600)
    gc.collect()
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    # One table is 129 kB; 600 that leaked would be 77 MB for each of the ways.
    assert grown_mb < 15 and pa.total_allocated_bytes() == pool
