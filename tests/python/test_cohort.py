"""Many people at once: every kind of column gives the same table, and bad ones are refused."""

import ctypes
import gc
import resource
import subprocess
import sys
import threading
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import glycemic as gly

from conftest import START_MS, readings

NAMES = ["ann", "ben", "a much longer name than fits a view"]


def cohort(days=2, people=3):
    """Person codes, epoch ms, glucose with a few missing."""
    parts = [readings(days, seed=k) for k in range(people)]
    times = np.concatenate([t for t, _ in parts])
    glucose = np.concatenate([g for _, g in parts])
    glucose[7::100] = np.nan
    return np.repeat(np.arange(people), len(parts[0][0])), times, glucose


PERSON, TIMES, GLUCOSE = cohort()
WORDS = [NAMES[p] for p in PERSON]
BY_NUMBER = gly.panels(PERSON, TIMES, GLUCOSE, zone="UTC")
BY_NAME = gly.panels(WORDS, TIMES, GLUCOSE, zone="UTC")


def test_a_row_is_the_panel_of_the_trace():
    for k in range(3):
        own = PERSON == k
        alone = gly.panel(gly.Trace(TIMES[own], GLUCOSE[own], zone="UTC")).to_dict()
        row = {name: column[k] for name, column in BY_NUMBER.to_dict().items()}
        assert {name: row[name] for name in alone} == alone
        assert row["person"] == k and row["missing"] == np.isnan(GLUCOSE[own]).sum()
        assert row["given"] == own.sum() == row["n"] + row["missing"]
    assert BY_NAME["person"].tolist() == sorted(NAMES)


def unequal(values, kind=None):
    """A chunked column, cut where others are not."""
    at = 100 + len(str(kind))
    return pa.chunked_array([pa.array(part, kind) for part in (values[:at], values[at:at], values[at:333], values[333:])])


def sliced(values, kind=None):
    """A column that starts in the middle of its buffers."""
    return pa.array([values[0]] * 5 + list(values) + [values[-1]], kind)[5:-1]


INTS = ["int8", "uint8", "int16", "uint16", "int32", "uint32", "int64", "uint64"]
PEOPLE = {
    **{f"numpy {kind}": (lambda kind=kind: PERSON.astype(kind)) for kind in [*INTS, ">i4", "float64", "float32", object]},
    **{f"arrow {kind}": (lambda kind=kind: pa.array(PERSON.tolist(), kind)) for kind in INTS},
    "list": lambda: PERSON.tolist(),
    "strided": lambda: np.column_stack([PERSON, PERSON])[:, 0],
    "pandas": lambda: pd.Series(PERSON),
    "pandas nullable": lambda: pd.Series(PERSON, dtype="Int64"),
    "pandas category": lambda: pd.Series(PERSON).astype("category"),
    "polars": lambda: pl.Series(PERSON),
    "sliced": lambda: sliced(PERSON.tolist()),
    "chunked": lambda: unequal(PERSON.tolist(), pa.int16()),
    "dictionary": lambda: pa.array(PERSON.tolist()).dictionary_encode(),
}
WORD_COLUMNS = {
    "list": lambda: WORDS,
    "numpy object": lambda: np.array(WORDS, dtype=object),
    "numpy text": lambda: np.array(WORDS),
    "pandas": lambda: pd.Series(WORDS),
    "pandas object": lambda: pd.Series(WORDS, dtype=object),
    "pandas category": lambda: pd.Series(pd.Categorical(WORDS, categories=["nobody", *NAMES])),
    "pandas categorical": lambda: pd.Categorical(WORDS),
    "polars": lambda: pl.Series(WORDS),
    "polars category": lambda: pl.Series(WORDS, dtype=pl.Categorical),
    "polars enum": lambda: pl.Series(WORDS, dtype=pl.Enum(["nobody", *NAMES])),
    "utf8": lambda: pa.array(WORDS),
    "large": lambda: pa.array(WORDS, pa.large_string()),
    "view": lambda: pa.array(WORDS, pa.string_view()),
    "sliced": lambda: sliced(WORDS),
    "sliced view": lambda: sliced(WORDS, pa.string_view()),
    "chunked": lambda: unequal(WORDS, pa.large_string()),
    "dictionary": lambda: pa.array(WORDS).dictionary_encode(),
    "dictionaries that differ": lambda: pa.chunked_array([pa.array(WORDS[:600]).dictionary_encode(), pa.array(WORDS[600:]).dictionary_encode()]),
    "small dictionary": lambda: pa.DictionaryArray.from_arrays(pa.array([1 - p if p < 2 else 2 for p in PERSON], pa.int8()), pa.array([NAMES[1], NAMES[0], NAMES[2]], pa.large_string())),
}


@pytest.mark.parametrize("kind", PEOPLE)
def test_people_by_number(kind):
    assert gly.panels(PEOPLE[kind](), TIMES, GLUCOSE, zone="UTC") == BY_NUMBER


@pytest.mark.parametrize("kind", WORD_COLUMNS)
def test_people_by_name(kind):
    assert gly.panels(WORD_COLUMNS[kind](), TIMES, GLUCOSE, zone="UTC") == BY_NAME


STAMPS = TIMES.astype("datetime64[ms]")
TIME_COLUMNS = {
    **{f"numpy {unit}": (lambda unit=unit: STAMPS.astype(f"datetime64[{unit}]")) for unit in ["s", "ms", "us", "ns", "m", "5m"]},
    **{f"arrow {unit}": (lambda unit=unit: pa.array(STAMPS).cast(pa.timestamp(unit))) for unit in ["s", "ms", "us", "ns"]},
    **{f"arrow {unit} zoned": (lambda unit=unit: pa.array(STAMPS).cast(pa.timestamp(unit, "Asia/Tokyo"))) for unit in ["s", "ns"]},
    "ints": lambda: TIMES,
    "list of ints": lambda: TIMES.tolist(),
    "floats": lambda: TIMES.astype(float),
    "arrow ints": lambda: unequal(TIMES.tolist(), pa.int64()),
    "arrow floats": lambda: pa.array(TIMES.astype(float)),
    "pandas": lambda: pd.Series(STAMPS),
    "pandas zoned": lambda: pd.Series(STAMPS).dt.tz_localize("UTC").dt.tz_convert("Asia/Tokyo"),
    "pandas arrow": lambda: pd.Series(STAMPS).astype("timestamp[us][pyarrow]"),
    "polars": lambda: pl.Series(STAMPS).cast(pl.Datetime("us")),
    "polars zoned": lambda: pl.Series(STAMPS).cast(pl.Datetime("ns")).dt.replace_time_zone("UTC"),
    "datetimes": lambda: STAMPS.astype(object),
    "text": lambda: STAMPS.astype(str),
    "arrow text": lambda: pa.array(STAMPS.astype(str)),
    "sliced": lambda: sliced(STAMPS.tolist(), pa.timestamp("us")),
    "strided": lambda: np.column_stack([STAMPS, STAMPS])[:, 1],
}


@pytest.mark.parametrize("kind", TIME_COLUMNS)
def test_times(kind):
    assert gly.panels(PERSON, TIME_COLUMNS[kind](), GLUCOSE, zone="UTC") == BY_NUMBER


NULLS = [None if np.isnan(g) else g for g in GLUCOSE]
READINGS = {
    "float32": lambda: GLUCOSE.astype(np.float32),
    "float16": lambda: GLUCOSE.astype(np.float16),
    "list": lambda: NULLS,
    "arrow": lambda: pa.array(NULLS),
    "arrow nan": lambda: pa.array(GLUCOSE),
    "arrow float32": lambda: unequal(NULLS, pa.float32()),
    "arrow int": lambda: pa.array([g and int(g) for g in NULLS], pa.int16()),
    "sliced": lambda: sliced(NULLS, pa.float64()),
    "pandas": lambda: pd.Series(GLUCOSE),
    "pandas nullable": lambda: pd.Series(NULLS, dtype="Float64"),
    "polars": lambda: pl.Series(NULLS),
    "text": lambda: ["" if g is None else str(g) for g in NULLS],
    "arrow text": lambda: pa.array([None if g is None else str(g) for g in NULLS]),
}


@pytest.mark.parametrize("kind", READINGS)
def test_glucose(kind):
    assert gly.panels(PERSON, TIMES, READINGS[kind](), zone="UTC") == BY_NUMBER


FRAME = {"who": WORDS, "when": STAMPS, "mg": GLUCOSE}


class OnlyStream:
    """An object that gives nothing but an Arrow stream."""

    def __init__(self, table, batch):
        self.batches, self.schema = table.to_batches(max_chunksize=batch), table.schema

    def __arrow_c_stream__(self, requested_schema=None):
        return pa.RecordBatchReader.from_batches(self.schema, self.batches).__arrow_c_stream__(requested_schema)


FRAMES = {
    "dict": lambda: FRAME,
    "pandas": lambda: pd.DataFrame(FRAME),
    "polars": lambda: pl.DataFrame(FRAME),
    "pyarrow": lambda: pa.table(FRAME),
    "batch": lambda: pa.table(FRAME).combine_chunks().to_batches()[0],
    "reader": lambda: pa.table(FRAME).to_reader(max_chunksize=71),
    "stream": lambda: OnlyStream(pa.table(FRAME), 97),
    "sliced": lambda: OnlyStream(pa.table({k: pa.concat_arrays([pa.array(v[:3]), pa.array(v)]) for k, v in FRAME.items()}).slice(3), 1000),
    "rows": lambda: [dict(zip(FRAME, row)) for row in zip(WORDS, STAMPS.tolist(), NULLS)],
}


@pytest.mark.parametrize("kind", FRAMES)
def test_frames(kind):
    assert gly.panels(FRAMES[kind](), person="who", time="when", glucose="mg", zone="UTC") == BY_NAME


def test_misaligned_buffers_are_copied():
    def shifted(array):
        buffers = [None if b is None else pa.py_buffer(b"x" + b.to_pybytes())[1:] for b in array.buffers()]
        return pa.Array.from_buffers(array.type, len(array), buffers)

    columns = [shifted(pa.array(c)) for c in (WORDS, STAMPS, NULLS)]
    assert columns[2].buffers()[1].address % 8
    assert gly.panels(*columns, zone="UTC") == BY_NAME


@pytest.mark.parametrize("threads", [1, 2, 3, None])
def test_shuffled_rows_and_threads_move_no_bit(threads):
    mixed = np.random.default_rng(5).permutation(len(PERSON))
    assert gly.panels(PERSON[mixed], TIMES[mixed], GLUCOSE[mixed], zone="UTC", threads=threads) == BY_NUMBER


def test_missing_people_and_times_are_counted():
    times = STAMPS[:6].copy()
    times[1] = np.datetime64("NaT")
    for person in (["a", "a", None, "b", None, "b"], pa.array(["a", "a", None, "b", None, "b"])):
        for stamps in (times, pa.array(times), pd.Series(times), times.tolist()):
            t = gly.panels(person, stamps, [100, 110, 120, 130, 140, 150], measures=["n"]).to_dict()
            assert t["person"] == ["a", "b", None] and t["n"] == [1, 2, None]
            assert t["given"] == [2, 2, 2] and t["missing_time"] == [1, 0, None]
            assert t["error_code"] == [None, None, "no_person"]
    numbers = [1, float("nan"), 2], pd.Series([1, None, 2], dtype="Int64"), pd.Categorical([1, None, 2]), pl.Series([1, None, 2])
    for person in numbers:
        assert gly.panels(person, TIMES[:3], [100, 101, 102]).to_dict()["person"] == [1, 2, None]


def test_a_bad_person_stops_nobody():
    glucose = GLUCOSE.copy()
    glucose[PERSON == 1] /= 18
    glucose[3] = 1e6
    t = gly.panels(PERSON, TIMES, glucose, zone="UTC").to_dict()
    assert t["error_code"] == ["out_of_range", "implausible_unit", None] and "index 3" in t["error"][0]
    whole = BY_NUMBER.to_dict()
    assert all(t[name][2] == whole[name][2] and t[name][1] is None for name in ["n", "mean_mg_dl", "overnight_mg_dl"])


def test_low_and_high_are_counted():
    t = gly.panels([1, 1, 1, 2], TIMES[:4], ["LOW", "100", ">400", "90"])
    assert t["censored_low"].tolist() == [1, 0] and t["censored_high"].tolist() == [1, 0]


def test_zones():
    # 2025-10-26T01:30 occurs twice in Lisbon, once in Tokyo; without a zone it is kept as written.
    times = np.array(["2025-10-26T01:30", "2025-10-26T01:30"], "datetime64[s]")
    call = lambda zone: gly.panels(["a", "b"], times, [100, 101], zone=zone).to_dict()  # noqa: E731
    assert call("Europe/Lisbon")["error_code"] == ["local_time"] * 2
    assert call({"a": "Europe/Lisbon", "b": ZoneInfo("Asia/Tokyo")})["error_code"] == ["local_time", None]
    assert call(None)["overnight_mg_dl"] == [100, 101]
    utc = gly.panels(["a"], pa.array(times[:1]).cast(pa.timestamp("s", "UTC")), [100]).to_dict()
    assert utc["overnight_mg_dl"] == [None] and "overnight_mg_dl:no_zone" in utc["reasons"][0]


def test_chosen_measures():
    names = ["cv_pct", "n", "fasting_mg_dl"]
    t = gly.panels(PERSON, TIMES, GLUCOSE, zone="UTC", measures=names)
    assert t.column_names[:4] == ["person", *names]
    assert all(t[name].tolist() == BY_NUMBER[name].tolist() for name in names)


@pytest.mark.parametrize(
    ("arguments", "options", "code"),
    [
        ((PERSON, TIMES), {}, "frame_type"),
        ((PERSON, TIMES[:-1], GLUCOSE), {}, "length_mismatch"),
        ((PERSON[:-1], TIMES, GLUCOSE), {}, "length_mismatch"),
        ((PERSON, TIMES, GLUCOSE), {"measures": ["mean"]}, "unknown_choice"),
        ((PERSON, TIMES, GLUCOSE), {"measures": ["n", "n"]}, "unknown_choice"),
        ((PERSON, TIMES, GLUCOSE), {"threads": 0}, "out_of_range"),
        ((PERSON, TIMES, GLUCOSE), {"unit": "mol"}, "unknown_choice"),
        ((PERSON, TIMES, GLUCOSE), {"zone": {0: "Mars/Base"}}, "unknown_zone"),
        ((PERSON[:, None], TIMES, GLUCOSE), {}, "shape"),
        (([1, "a"], TIMES[:2], [100, 101]), {}, "mixed_people"),
        (([1.5, 2], TIMES[:2], [100, 101]), {}, "person_type"),
        (([b"a", b"b"], TIMES[:2], [100, 101]), {}, "column_type"),
        ((pa.array([True, False]), TIMES[:2], [100, 101]), {}, "column_type"),
        ((pa.array(TIMES[:2]), pa.array(["x", "y"]), [100, 101]), {}, "time_format"),
        (([1, 2], pa.array([True, True]), [100, 101]), {}, "column_type"),
        (([1, 2], TIMES[:2], pa.array(STAMPS[:2])), {}, "not_numbers"),
        (([1, 2], TIMES[:2], ["1O0", "90"]), {}, "not_numbers"),
        ((pa.table({"person": [1]}),), {}, "missing_column"),
        ((OnlyStream(pa.table({"person": [1]}), 1),), {}, "missing_column"),
        ((5,), {}, "frame_type"),
    ],
)
def test_refused(arguments, options, code):
    with pytest.raises(gly.GlycemicError) as raised:
        gly.panels(*arguments, **options)
    assert raised.value.code == code, raised.value


def test_a_stream_that_fails_says_why():
    def batches():
        yield pa.record_batch({"person": [1], "time": STAMPS[:1], "glucose": [100.0]})
        raise RuntimeError("the disk is gone")

    schema = pa.schema({"person": pa.int64(), "time": pa.timestamp("ms"), "glucose": pa.float64()})
    with pytest.raises(gly.GlycemicError, match="the disk is gone"):
        gly.panels(pa.RecordBatchReader.from_batches(schema, batches()))


def test_nulls_of_whole_rows_and_offsets_outside_are_refused():
    rows = pa.StructArray.from_arrays([pa.array([1, 2])], ["person"], mask=pa.array([True, False]))
    with pytest.raises(gly.GlycemicError) as raised:
        gly.panels(rows, TIMES[:2], [100, 101])
    assert raised.value.code == "column_type"
    offsets = np.array([0, 9, 3], np.int32)
    bad = pa.Array.from_buffers(pa.string(), 2, [None, pa.py_buffer(offsets), pa.py_buffer(b"abcdefghi")])
    with pytest.raises(gly.GlycemicError) as raised:
        gly.panels(bad, TIMES[:2], [100, 101])
    assert raised.value.code == "arrow"
    codes = pa.DictionaryArray.from_arrays(pa.array([0, 5]), pa.array(["a"]), safe=False)
    with pytest.raises(gly.GlycemicError) as raised:
        gly.panels(codes, TIMES[:2], [100, 101])
    assert raised.value.code == "person_type" and raised.value.index == 1


def test_progress_and_cancelling():
    told = []
    person = np.repeat(np.arange(600), 2)
    times, glucose = np.resize(TIMES[:2], 1200), np.full(1200, 100.0)
    gly.panels(person, times, glucose, progress=told.append)
    assert told == [256, 512, 600]
    with pytest.raises(gly.GlycemicError) as raised:
        gly.panels(person, times, glucose, progress=lambda n: False)
    assert raised.value.code == "cancelled"
    with pytest.raises(ZeroDivisionError):
        gly.panels(person, times, glucose, progress=lambda n: 1 / 0)


def test_an_interrupt_stops_it():
    code = (
        "import os, signal, sys, numpy as np, glycemic as gly\n"
        "p = np.repeat(np.arange(3000), 288); t = np.tile(1746403200000 + np.arange(288) * 300000, 3000)\n"
        "try:\n    gly.panels(p, t, np.full(p.size, 100.0), progress=lambda n: os.kill(os.getpid(), signal.SIGINT))\n"
        "except KeyboardInterrupt:\n    sys.exit(7)\n"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=60, check=False).returncode == 7


def test_other_threads_run_meanwhile():
    person, times, glucose = np.repeat(np.arange(400), 4032), np.tile(START_MS + np.arange(4032) * 300_000, 400), np.full(400 * 4032, 100.0)
    counted, stop = [0], threading.Event()

    def count():
        while not stop.is_set():
            counted[0] += 1

    thread = threading.Thread(target=count)
    thread.start()
    before = counted[0]
    gly.panels(person, times, glucose, threads=1)
    after = counted[0]
    stop.set()
    thread.join()
    assert after > before


def test_nothing_leaks_and_nothing_is_released_twice():
    table = pa.table(FRAME)
    words, stamps = pa.array(WORDS, pa.string_view()), pa.array(STAMPS)

    def loop(n):
        for _ in range(n):
            gly.panels(OnlyStream(table, 50), person="who", time="when", glucose="mg")
            gly.panels(words, stamps, GLUCOSE, measures=["n"])
            with pytest.raises(gly.GlycemicError):
                gly.panels(words, stamps.slice(1), GLUCOSE)

    loop(60)
    gc.collect()
    before, pool = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, pa.total_allocated_bytes()
    loop(300)
    gc.collect()
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    # The columns of one call are 45 kB; of 300 that leaked, 13 MB for each of the ways.
    assert grown_mb < 10 and pa.total_allocated_bytes() == pool
    assert words.to_pylist() == WORDS and table["who"].to_pylist() == WORDS


def test_a_capsule_is_taken_once():
    capsules = pa.array([1, 2]).__arrow_c_array__()

    class Twice:
        def __arrow_c_array__(self, requested_schema=None):
            return capsules

    assert len(gly.panels(Twice(), TIMES[:2], [100, 101])) == 2
    with pytest.raises(gly.GlycemicError, match="released"):
        gly.panels(Twice(), TIMES[:2], [100, 101])
    assert ctypes.pythonapi.PyCapsule_IsValid(ctypes.py_object(capsules[0]), b"arrow_schema")


def test_empty():
    for empty in ([], np.array([], "int64"), pa.array([], pa.string())):
        t = gly.panels(empty, np.array([], "datetime64[ms]"), [])
        assert len(t) == 0 and "mean_mg_dl" in t
    assert len(gly.panels(pl.DataFrame({"person": [], "time": [], "glucose": []}, schema={"person": pl.String, "time": pl.Datetime, "glucose": pl.Float64}))) == 0


def test_the_table_reaches_other_libraries():
    assert pa.table(BY_NAME).num_rows == 3
    frame = pl.DataFrame(BY_NAME)
    assert frame["mean_mg_dl"].to_list() == BY_NAME["mean_mg_dl"].tolist()


@settings(max_examples=60, deadline=None)
@given(
    rows=st.lists(st.tuples(st.sampled_from([None, "a", "bb", "ccc" * 9]), st.one_of(st.none(), st.integers(0, 50)), st.one_of(st.none(), st.integers(39, 402))), max_size=40),
    cuts=st.lists(st.integers(0, 40), max_size=4),
    offset=st.integers(0, 9),
    kind=st.sampled_from([pa.string(), pa.large_string(), pa.string_view(), pa.dictionary(pa.int16(), pa.string())]),
)
def test_any_cut_of_any_column_is_the_same(rows, cuts, offset, kind):
    who, when, what = [r[0] for r in rows], [None if r[1] is None else START_MS + r[1] * 300_000 for r in rows], [r[2] for r in rows]
    expected = gly.panels(who, np.array([np.datetime64(t, "ms") if t else np.datetime64("NaT") for t in when], "datetime64[ms]"), [np.nan if g is None else g for g in what])

    def cut(values, kind, at):
        padded = pa.array([None] * offset + values, pa.string() if pa.types.is_dictionary(kind) else kind)[offset:]
        padded = padded.cast(kind) if pa.types.is_dictionary(kind) else padded
        edges = sorted({0, len(values), *(c for c in at if c <= len(values))})
        return pa.chunked_array([padded[a:b] for a, b in zip(edges, edges[1:])], type=kind)

    found = gly.panels(cut(who, kind, cuts), cut(when, pa.timestamp("ms"), cuts[1:]), cut(what, pa.float32(), [c + 1 for c in cuts]))
    assert found.to_dict() == expected.to_dict()


def command(*arguments, without_pandas=False):
    start = "import sys; sys.modules['pandas'] = None; " if without_pandas else "import sys; "
    code = f"{start}from glycemic.__main__ import main; sys.exit(main(sys.argv[1:]))"
    return subprocess.run([sys.executable, "-c", code, "cohort", *map(str, arguments)], capture_output=True, text=True, timeout=120, check=False)


def write(path, rows, heading="id,at,value"):
    path.write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("without_pandas", [False, True])
def test_command(tmp_path, without_pandas):
    day = [f"2025-05-05T{m // 60:02d}:{m % 60:02d}" for m in range(0, 1440, 5)]
    rows = [f"007,{t},{100 + k % 40}" for k, t in enumerate(day)] + [f"Zoë,{t},5.{k % 9}" for k, t in enumerate(day)]
    rows += [f"x,{day[0]},LOW", f"x,{day[1]},100", f"x,,101", f"x,{day[2]},", f",{day[0]},100"]
    file = write(tmp_path / "readings.csv", rows)
    names = ["--person", "id", "--time", "at", "--glucose", "value", "--zone", "Europe/Lisbon"]
    done = command(file, *names, without_pandas=without_pandas)
    assert done.returncode == 0, done.stderr
    assert "581 readings of 3 people; 2 answered, 1 not" in done.stdout and "1 readings have no person" in done.stdout
    assert "Zoë: the middle value is" in done.stdout and "not a medical device" in done.stdout
    out = pd.read_csv(tmp_path / "readings-panels.csv", dtype={"person": str}).set_index("person")
    assert out.loc["007", "n"] == 288 and out.loc["x", "censored_low"] == 1 and out.loc["Zoë", "error_code"] == "implausible_unit"
    assert out.loc["x", ["given", "missing", "missing_time"]].tolist() == [4, 1, 1]
    trace = gly.Trace(day, [100 + k % 40 for k in range(288)], zone="Europe/Lisbon")
    assert out.loc["007", "overnight_mg_dl"] == gly.panel(trace).overnight_mg_dl
    other = tmp_path / "other.csv"
    assert command(file, *names, "--unit", "mmol/L", "--out", other).returncode == 0
    assert pd.read_csv(other).set_index("person").loc["Zoë", "n"] == 288


@pytest.mark.parametrize("without_pandas", [False, True])
def test_command_that_cannot(tmp_path, without_pandas):
    run = lambda *a: command(*a, without_pandas=without_pandas)  # noqa: E731
    good = write(tmp_path / "good.csv", ["a,1746403200000,100"], "person,time,glucose")
    assert run(good).returncode == 0
    assert run(write(tmp_path / "bad.csv", ["a,1746403200000,9000"], "person,time,glucose")).returncode == 1
    assert run(write(tmp_path / "none.csv", [], "person,time,glucose")).returncode == 1
    for name, text, why in [
        ("a.csv", "person,when,glucose\na,1,2\n", 'no column "time"'),
        ("b.csv", "person,time,glucose\na,2025-05-05T08:00,100\na,yesterday,100\n", "row 2 of readings"),
        ("c.csv", "", ""),
        ("d.csv", b"person,time,glucose\n\xff\xfe,1,2\n", "d.csv"),
    ]:
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        done = run(path)
        assert done.returncode == 2 and why in done.stderr and "Traceback" not in done.stderr, done.stderr
    assert run(tmp_path / "missing.csv").returncode == 2
    assert run(good, "--out", good).returncode == 2 and good.read_text().endswith("100\n")
    assert run(good, "--out", tmp_path / "no" / "folder.csv").returncode == 2
    assert run(good, "--zone", "Mars/Base").returncode == 2
    assert run(good, "--unit", "g").returncode == 2


def test_command_help():
    done = command("--help")
    assert done.returncode == 0 and all(word in done.stdout for word in ["--person", "--zone", "--out", "Exit codes", "Not a medical device"])
