"""Measures of many people: this library against numpy, pandas and polars.

    python benches/panels.py [--people 1000] [--days 14] [--runs 5] [--memory]

Every contestant gets the same three buffers (person int64, time int64 epoch ms, glucose float64)
and gives one array for each measure, in the order of the people; making frames, sorting and
conversions count. Each result is checked against ours to 1e-9 relative (or absolute, for zeros)
before anything is timed. What the others compute are the measures that don't depend on order; ours
also cleans, sorts by time and reports, and is timed twice: the same measures, and all of them.

Threads are limited by the processor affinity of a process of its own, by POLARS_MAX_THREADS and
OMP_NUM_THREADS, and by `threads=` here. With two threads the numpy ways work on halves of the
people in two Python threads; pandas has no threads and runs as it does with one.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from statistics import median

STEP_MS = 300_000
START_MS = 1_746_403_200_000
FACTOR = 18.0156
#: Limits in each unit: very low, low, tight, high, very high.
LIMITS = {"mg/dL": (54, 70, 140, 180, 250), "mmol/L": (3.0, 3.9, 7.8, 10.0, 13.9)}
PERCENTILES = {"p05_mg_dl": 0.05, "p25_mg_dl": 0.25, "median_mg_dl": 0.5, "p75_mg_dl": 0.75, "p95_mg_dl": 0.95}
SHARES = ["very_low_pct", "low_pct", "in_range_pct", "high_pct", "very_high_pct", "below_70_pct", "above_180_pct", "tight_range_pct"]
FIELDS = ["mean_mg_dl", "sd_mg_dl", "cv_pct", "min_mg_dl", "max_mg_dl", *PERCENTILES, "iqr_mg_dl", "gmi_pct", *SHARES, "lbgi", "hbgi", "j_index", "grade"]


#: Measures that weigh each reading; nobody computes them where ours are not there to compare.
RISKS = ["lbgi", "hbgi", "grade"]


def derived(out):
    """What follows from mean, SD and percentiles."""
    mean, sd = out["mean_mg_dl"], out["sd_mg_dl"]
    out["cv_pct"] = 100 * sd / mean
    out["gmi_pct"] = 3.31 + 0.02392 * mean  # Bergenstal 2018
    out["j_index"] = 0.001 * (mean + sd) ** 2  # Wojcicki 1995
    out["iqr_mg_dl"] = out["p75_mg_dl"] - out["p25_mg_dl"]
    return out


def risk(np, mg_dl):
    """Low and high risk of each reading (Kovatchev 1997)."""
    f = 1.509 * (np.log(mg_dl) ** 1.084 - 5.381)
    r = 10 * f * f
    return np.where(f < 0, r, 0.0), np.where(f > 0, r, 0.0)


def grade(np, mg_dl):
    """Hill 2007, each reading capped at 50."""
    return np.minimum(425 * (np.log10(np.log10(mg_dl / FACTOR)) + 0.16) ** 2, 50)


def summary(np, g, unit, axis):
    """The measures of readings along an axis."""
    very_low, low, tight, high, very_high = LIMITS[unit]
    share = lambda inside: 100 * np.mean(inside, axis=axis)  # noqa: E731
    out = dict(zip(SHARES, [
        share(g < very_low), share((g >= very_low) & (g < low)), share((g >= low) & (g <= high)), share((g > high) & (g <= very_high)),
        share(g > very_high), share(g < low), share(g > high), share((g >= low) & (g <= tight)),
    ]))  # fmt: skip
    mg = g if unit == "mg/dL" else g * FACTOR
    out["mean_mg_dl"], out["sd_mg_dl"] = np.mean(mg, axis=axis), np.std(mg, axis=axis, ddof=1)
    out["min_mg_dl"], out["max_mg_dl"] = np.min(mg, axis=axis), np.max(mg, axis=axis)
    out.update(zip(PERCENTILES, np.quantile(mg, list(PERCENTILES.values()), axis=axis)))
    if RISKS:
        rl, rh = risk(np, mg)
        out["lbgi"], out["hbgi"] = np.mean(rl, axis=axis), np.mean(rh, axis=axis)
        out["grade"] = np.mean(grade(np, mg), axis=axis)
    return derived(out)


def in_halves(np, of, person, glucose, unit, threads):
    """Sorts by person if need be, and gives each thread its part of the people."""
    if np.any(person[1:] < person[:-1]):
        order = np.argsort(person, kind="stable")
        person, glucose = person[order], glucose[order]
    starts = np.flatnonzero(np.r_[True, person[1:] != person[:-1]])
    ends = np.r_[starts[1:], len(person)]
    if threads == 1:
        return of(np, glucose, starts, ends, unit)
    cuts = np.array_split(np.arange(len(starts)), threads)
    with ThreadPoolExecutor(threads) as pool:
        parts = list(pool.map(lambda k: of(np, glucose, starts[k], ends[k], unit), cuts))
    return {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}


def rectangle(np, glucose, starts, ends, unit):
    """Only where all people have as many readings."""
    return summary(np, glucose[starts[0] : ends[-1]].reshape(len(starts), -1), unit, 1)


def ragged(np, glucose, starts, ends, unit):
    rows = [summary(np, glucose[a:b], unit, 0) for a, b in zip(starts, ends)]
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


def by_pandas(np, pd, person, glucose, unit):
    very_low, low, tight, high, very_high = LIMITS[unit]
    g, mg = glucose, glucose if unit == "mg/dL" else glucose * FACTOR
    frame = pd.DataFrame({"person": person, "mg": mg})
    if RISKS:
        (frame["lbgi"], frame["hbgi"]), frame["grade"] = risk(np, mg), grade(np, mg)
    inside = [g < very_low, (g >= very_low) & (g < low), (g >= low) & (g <= high), (g > high) & (g <= very_high), g > very_high, g < low, g > high, (g >= low) & (g <= tight)]
    for name, where in zip(SHARES, inside):
        frame[name] = where
    groups = frame.groupby("person")
    means = groups[[*SHARES, *RISKS]].mean()
    out = {name: means[name].to_numpy() * (100 if name in SHARES else 1) for name in means}
    for name, found in groups["mg"].agg(["mean", "std", "min", "max"]).items():
        out[{"std": "sd"}.get(name, name) + "_mg_dl"] = found.to_numpy()
    quantiles = groups["mg"].quantile(list(PERCENTILES.values())).to_numpy().reshape(-1, len(PERCENTILES))
    out.update(zip(PERCENTILES, quantiles.T))
    return derived(out)


def by_polars(np, pl, person, glucose, unit):
    very_low, low, tight, high, very_high = LIMITS[unit]
    g, mg = pl.col("g"), pl.col("g") if unit == "mg/dL" else pl.col("g") * FACTOR
    f = 1.509 * (mg.log() ** 1.084 - 5.381)
    inside = [g < very_low, (g >= very_low) & (g < low), (g >= low) & (g <= high), (g > high) & (g <= very_high), g > very_high, g < low, g > high, (g >= low) & (g <= tight)]
    columns, means = {"mg": mg}, []
    if RISKS:
        columns["lbgi"], columns["hbgi"] = [pl.when(side).then(10 * f * f).otherwise(0.0) for side in (f < 0, f > 0)]
        columns["grade"] = pl.min_horizontal(425 * ((mg / FACTOR).log10().log10() + 0.16) ** 2, pl.lit(50.0))
        means = [pl.col(name).mean() for name in RISKS]
    found = pl.DataFrame({"person": person, "g": glucose}).lazy().with_columns(**columns).group_by("person").agg(
        pl.col("mg").mean().alias("mean_mg_dl"), pl.col("mg").std().alias("sd_mg_dl"), pl.col("mg").min().alias("min_mg_dl"), pl.col("mg").max().alias("max_mg_dl"),
        *[pl.col("mg").quantile(p, "linear").alias(name) for name, p in PERCENTILES.items()],
        *[(100 * where.mean()).alias(name) for name, where in zip(SHARES, inside)], *means,
    ).sort("person").collect()  # fmt: skip
    return derived({name: found[name].to_numpy() for name in found.columns if name != "person"})


def buffers(np, people, days, shape, unit, shuffled):
    n = days * 288
    rng = np.random.default_rng(1)
    if shape == "walk":
        walk = 120 + np.cumsum(rng.integers(-6, 7, (people, n), dtype=np.int16), axis=1, dtype=np.int32)
        # Folded into 45-385: a walk that is pressed against a limit would be half constant.
        glucose = (45 + np.abs((walk - 45) % 680 - 340)).astype(np.float64).ravel()
    else:
        glucose = np.full(people * n, 110.0)
    if unit == "mmol/L":
        glucose = np.round(glucose / FACTOR, 1)
    person = np.repeat(np.arange(people, dtype=np.int64), n)
    times = np.tile(START_MS + np.arange(n, dtype=np.int64) * STEP_MS, people)
    if shuffled:
        order = rng.permutation(len(person))
        person, times, glucose = person[order], times[order], glucose[order]
    return person, times, glucose


def compared(np, name, found, ours):
    """Largest difference, relative or absolute, whichever is smaller; stops if it is over 1e-9."""
    worst = 0.0
    for field, expected in ours.items():
        got = np.asarray(found[field], dtype=np.float64)
        off = np.abs(got - expected)
        worst = max(worst, float(np.max(np.minimum(off / np.maximum(np.abs(expected), 1e-300), off))))
        if got.shape != expected.shape or not worst <= 1e-9:
            sys.exit(f"{name}: {field} differs by {worst:g}")
    return worst


def measure(o):
    """All timings for one number of threads, as JSON."""
    import numpy as np
    import pandas as pd
    import polars as pl

    import glycemic as gly

    results = []
    for shape in ["walk", "constant"]:
        for unit in ["mg/dL", "mmol/L"]:
            for shuffled in [False, True]:
                person, times, glucose = buffers(np, o.people, o.days, shape, unit, shuffled)
                whole = gly.panels(person, times, glucose, unit, threads=o.threads)
                fields = [f for f in FIELDS if not np.isnan(whole[f]).all()]
                RISKS[:] = [name for name in RISKS if name in fields]
                ours = {f: whole[f] for f in fields}
                # Read back as arrays, as the others give them.
                arrays = lambda table, names: {f: table[f] for f in names}  # noqa: E731
                ways = {
                    "glycemic, the same measures": lambda: arrays(gly.panels(person, times, glucose, unit, measures=fields, threads=o.threads), fields),
                    "glycemic, all measures": lambda: arrays(gly.panels(person, times, glucose, unit, threads=o.threads), fields),
                    "numpy, rectangular": lambda: in_halves(np, rectangle, person, glucose, unit, o.threads),
                    "numpy, ragged": lambda: in_halves(np, ragged, person, glucose, unit, o.threads),
                    "pandas groupby": lambda: by_pandas(np, pd, person, glucose, unit),
                    "polars group_by": lambda: by_polars(np, pl, person, glucose, unit),
                }
                off = {name: compared(np, name, way(), ours) for name, way in ways.items()}
                spent = {name: [] for name in ways}
                for _ in range(o.runs):  # interleaved: a slow moment hits all
                    for name, way in ways.items():
                        start = time.perf_counter()
                        way()
                        spent[name].append(time.perf_counter() - start)
                seconds = {name: median(s) for name, s in spent.items()}
                results.append({"input": f"{shape}, {unit}, {'shuffled' if shuffled else 'sorted'}", "seconds": seconds, "off": off, "fields": fields})
    print(json.dumps(results))


def memory(o):
    """Peak of the resident memory while panels runs, against the input's size."""
    import numpy as np

    import glycemic as gly

    person, times, glucose = buffers(np, 8, o.days, "walk", "mg/dL", False)
    gly.panels(person, times, glucose)  # whatever is loaded on the first call
    n = o.days * 288
    person, times = np.repeat(np.arange(o.people, dtype=np.int64), n), np.empty(o.people * n, np.int64)
    glucose = np.empty(o.people * n, np.float64)
    for k in range(0, o.people, 8):  # in small steps, so that making it needs no more than it takes
        _, some_times, some = buffers(np, 8, o.days, "walk", "mg/dL", False)
        rows = slice(k * n, min((k + 8), o.people) * n)
        times[rows], glucose[rows] = some_times[: rows.stop - rows.start], some[: rows.stop - rows.start]
    if o.shuffled:
        for column in (person, times, glucose):
            np.random.default_rng(2).shuffle(column)  # the same order for each
    size = person.nbytes + times.nbytes + glucose.nbytes
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    start = time.perf_counter()
    table = gly.panels(person, times, glucose)
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    assert len(table) == o.people and not np.isnan(table["mean_mg_dl"]).any()
    print(json.dumps({"input": size, "before": before, "peak": peak, "seconds": seconds, "rows": len(person)}))


def child(o, *more):
    env = dict(os.environ, POLARS_MAX_THREADS=str(o.threads or ""), OMP_NUM_THREADS=str(o.threads or ""), OPENBLAS_NUM_THREADS="1")
    if not o.threads:
        env = dict(os.environ)
    command = [sys.executable, __file__, "--people", str(o.people), "--days", str(o.days), "--runs", str(o.runs), *more]
    cores = sorted(os.sched_getaffinity(0))[: o.threads or None]
    done = subprocess.run(command, env=env, stdout=subprocess.PIPE, text=True, check=False, preexec_fn=lambda: os.sched_setaffinity(0, cores))
    if done.returncode:
        sys.exit(done.returncode)
    return json.loads(done.stdout)


def table(results, threads):
    names = list(results[0]["seconds"])
    print(f"\n{'One thread' if threads == 1 else f'{threads} threads'}: milliseconds; in brackets how many times as long as ours for the same measures.\n")
    print("| input | " + " | ".join(names) + " |")
    print("| --- " * (len(names) + 1) + "|")
    for r in results:
        ours = r["seconds"][names[0]]
        print(f"| {r['input']} | " + " | ".join(f"{1000 * s:.0f} ({s / ours:.1f})" for s in r["seconds"].values()) + " |")
    print(f"\nLargest difference from ours: {max(max(r['off'].values()) for r in results):.1e}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--people", type=int)
    parser.add_argument("--days", type=int, default=14)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--memory", action="store_true", help="peak memory for 10,000 people instead of times")
    parser.add_argument("--threads", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--child", choices=["times", "memory"], help=argparse.SUPPRESS)
    parser.add_argument("--shuffled", action="store_true", help=argparse.SUPPRESS)
    o = parser.parse_args()
    o.people = o.people or (10_000 if o.memory else 1000)
    if o.child:
        return measure(o) if o.child == "times" else memory(o)
    if o.memory:
        mb = lambda size: f"{size / 1e6:.0f} MB"  # noqa: E731
        bad = False
        for shuffled in [False, True]:
            m = child(o, "--child", "memory", *(["--shuffled"] if shuffled else []))
            # Rows that don't stand together need their order: 8 bytes for each at the most.
            allowed = m["input"] + 200e6 + (8 * m["rows"] if shuffled else 0)
            bad |= m["peak"] > allowed
            print(f"{'shuffled' if shuffled else 'sorted'}: {m['rows']} readings of {o.people} people in {m['seconds']:.2f} s; input {mb(m['input'])}, "
                  f"peak {mb(m['peak'])} (before the call {mb(m['before'])}), allowed {mb(allowed)}: {'TOO MUCH' if m['peak'] > allowed else 'kept'}")  # fmt: skip
        return int(bad)
    print(f"{o.people} people x {o.days} days, {o.people * o.days * 288} readings; median of {o.runs} interleaved runs; load {os.getloadavg()[0]:.1f}")
    for threads in [1, 2]:
        o.threads = threads
        results = child(o, "--child", "times", "--threads", str(threads))
        if threads == 1:
            left = [f for f in FIELDS if f not in results[0]["fields"]]
            print(f"Measures: {', '.join(results[0]['fields'])}." + (f" Not computed here, so not compared: {', '.join(left)}." if left else ""))
        table(results, threads)
    return 0


if __name__ == "__main__":
    sys.exit(main())
