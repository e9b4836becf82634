#!/usr/bin/env python3
"""Do the tests notice? Changes one thing in the core at a time and runs the tests on each change.

    python3 tests/mutate.py [--only WORD] [--list]

Works on a copy of the workspace in a temporary folder; the sources here stay as they are. Build
results go to CARGO_TARGET_DIR (one folder for all changes). Ends with 1 if a change survives its
tests, 2 if a change no longer fits the source or the unchanged copy fails. Standard library only.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CORE = "glycemic-core/src/"
TEST = ["cargo", "test", "-p", "glycemic-tests", "-p", "glycemic-core", "--lib", "--tests", "-q"]
COPIED = ["glycemic-core", "glycemic-py", "glycemic-ffi", "tests", "benches", "examples"]
ROOT_FILES = ["Cargo.toml", "Cargo.lock", "clippy.toml", "rustfmt.toml"]
LEFT_OUT = shutil.ignore_patterns("target", "__pycache__", ".venv", "*.so", "node_modules", "dist")

# (what is changed, file, old text, new text); the old text stands exactly once in the file.
MUTATIONS = [
    ("a bias with the wrong sign", "agreement/bland_altman.rs",
     "zip(reference).map(|(m, r)| m - r)", "zip(reference).map(|(m, r)| r - m)"),
    ("a limit that is no longer inside", "agreement/rule.rs",
     ".abs() <= limit + SLACK", ".abs() < limit - SLACK"),
    ("the switch itself by the absolute limit", "agreement/rule.rs",
     "switch_by.of(reference, measured) < self.switch_mg_dl", "switch_by.of(reference, measured) <= self.switch_mg_dl"),
    ("a standard deviation with n", "stats/moments.rs",
     "((squares - sum * sum / n) / (n - 1.0))", "((squares - sum * sum / n) / n)"),
    ("the rounded unit factor", "units.rs",
     "MG_DL_PER_MMOL_L: f64 = 18.0156;", "MG_DL_PER_MMOL_L: f64 = 18.0;"),
    ("a limit of one unit for both", "units.rs",
     "HIGH: Limit = Limit { mg_dl: 180.0, mmol_l: 10.0 }", "HIGH: Limit = Limit { mg_dl: 180.0, mmol_l: 9.9 }"),
    ("the triangle at the crossing dropped", "area.rs",
     "(true, false) => s.left * (s.left / (s.left - s.right)) * s.minutes / 2.0,", "(true, false) => 0.0,"),
    ("a clipped trapezoid at the crossing", "area.rs",
     "(false, true) => s.right * (s.right / (s.right - s.left)) * s.minutes / 2.0,",
     "(false, true) => s.right * s.minutes / 2.0,"),
    ("another definition of the quantile", "stats/quantile.rs",
     "sorted.len().checked_sub(1)? as f64 * p;", "(sorted.len() as f64 * p - 0.5).clamp(0.0, sorted.len().checked_sub(1)? as f64);"),
    ("a slope of the GMI", "panel/order_free.rs",
     "3.31 + 0.02392 * mean_mg_dl", "3.31 + 0.02329 * mean_mg_dl"),
    ("a constant of the GMI in mmol/mol", "panel/order_free.rs",
     "12.71 + 4.70587", "12.17 + 4.70587"),
    ("a constant of the estimated A1c", "panel/order_free.rs",
     "(mean_mg_dl + 46.7) / 28.7", "(mean_mg_dl + 46.7) / 28.1"),
    ("180 out of range", "panel/count.rs",
     "place(code(units::HIGH) + 1)", "place(code(units::HIGH))"),
    ("54 very low", "panel/count.rs",
     "place(code(units::VERY_LOW)),", "place(code(units::VERY_LOW) + 1),"),
    ("a variance with n", "panel/count.rs",
     "n as f64 * (n as f64 - 1.0)", "n as f64 * n as f64"),
    ("an exponent of the risk function", "panel/risk.rs",
     "1.084) - 5.381", "1.026) - 5.381"),
    ("another point where lows lose all", "panel/order_free.rs",
     "0.0, 15.0)", "0.0, 10.0)"),
    ("emptying that forgets what was eaten", "simulate/model.rs",
     "5.0 / (2.0 * dose * (1.0 - self.b))", "5.0 / (2.0 * dose * self.b)"),
    ("a wrong weight of the last Runge-Kutta slope", "simulate/model.rs",
     "+ fourth[i]) / 6.0", "+ first[i]) / 6.0"),
    ("noise without memory", "simulate/noise.rs",
     "PHI: f64 = 0.7;", "PHI: f64 = 0.2;"),
    ("a meter clock that is never wrong", "simulate/meter.rs",
     "minute + knobs.clock_ahead_min", "minute"),
    ("Student's t with a degree of freedom too many", "agreement/bland_altman.rs",
     "t_two_sided(level, n - 1.0)", "t_two_sided(level, n)"),
    ("the variance between subjects left out", "agreement/bland_altman.rs",
     "((ms_between - ms_within) / divisor).max(0.0) + ms_within", "ms_within"),
    ("one tail for two", "stats/binomial.rs",
     "let tail = 0.5 * (1.0 - level);", "let tail = 1.0 - level;"),
    ("the upper end of a share from the wrong count", "stats/binomial.rs",
     "1.0 - lower(n - count, n, tail)", "1.0 - lower(n - count + 1.0, n, tail)"),
    ("no variance of the new reading", "stats/line.rs",
     ".max(0.0) + extra_variance;", ".max(0.0) + 0.0 * extra_variance;"),
    ("gaps crossed", "interpolate.rs",
     "Method::Linear if length <= self.max_gap =>", "Method::Linear if length <= 9.0 * self.max_gap =>"),
    ("a gap after four intervals instead of three", "series/coverage.rs",
     "let limit = 3 * self.trace().nominal_ms();", "let limit = 4 * self.trace().nominal_ms();"),
    ("a higher threshold of recovery", "meals/response.rs",
     "if glucose[i] > baseline + 10.0 {", "if glucose[i] > baseline + 15.0 {"),
    ("a recovery that need not last", "meals/response.rs",
     "times[i] - times[from] >= 15 * MINUTE", "times[i] - times[from] >= 5 * MINUTE"),
    ("a lag of the other sign", "align/lag.rs",
     "s.time_ms + d * MINUTE", "s.time_ms - d * MINUTE"),
    ("pairs read earlier by the lag", "align/scale.rs",
     "read(sensor, spot.time_ms + lag,", "read(sensor, spot.time_ms - lag,"),
    ("readings just before a calibration kept", "align/scale.rs",
     "spot.last_ms >= t - before", "spot.last_ms > *t"),
    ("the farther of two readings kept", "align/scale.rs",
     "*held = own.min(*held);", "*held = own.max(*held);"),
    ("a reading of the sensor before", "align/pair.rs",
     "&& !view.spans_break(t.min(at), t.max(at))", ""),
    ("Greenwood without those that go on", "stats/survival.rs",
     "sum += d / (n * (n - d));", "sum += d / (n * n);"),
    ("causes as if the others were censored", "stats/survival.rs",
     "before *= (n - all) / n;", "before *= (n - d) / n;"),
    ("half of the error in a change", "agreement/changes.rs",
     "- 2.0 * sd * sd", "- sd * sd"),
    ("a jackknife with the wrong factor", "agreement/changes.rs",
     "(g as f64 - 1.0) / g as f64 * squares", "squares / (g as f64 - 1.0) / g as f64"),
    ("bursts counted as one reading", "sensor/counting.rs",
     "self.in_pairs += pairs.readings.iter().sum::<usize>();", "self.in_pairs += pairs.len();"),
    ("a median of those that outlast a half", "stats/survival.rs",
     "is_some_and(|v| v <= 0.5 + 1e-12)", "is_some_and(|v| v < 0.5 - 1e-12)"),
    ("a meter without a bias of its own", "sensor/recalibration.rs",
     "* meter_bias_sd_pct / 100.0 * level;", "* 0.0 * meter_bias_sd_pct / 100.0 * level;"),
    ("a low that the meter confirmed called pressure", "sensor/pressure.rs",
     "d.meter.is_some_and(|m| m.says == Says::TrueLow)", "d.meter.is_some_and(|m| m.says != Says::TrueLow)"),
    ("the spread between solutions left out", "tolerance/pooling.rs",
     "weight * (m.covariance[i][j] + off[i] * off[j])", "weight * (m.covariance[i][j] + 0.0 * off[i] * off[j])"),
    ("a peak that asks nothing of the spread", "tolerance/peak.rs",
     ".map(|(e, a)| e - (a - mean))", ".map(|(e, _)| *e)"),
    ("deviations that count as kept to", "contrast/carried.rs",
     "pairs(&sittings, |s| s.deviations.is_empty())", "pairs(&sittings, |_| true)"),
    ("hours of the clock with the wrong sign", "align/clock_error.rs",
     "rest(v.0 + 60.0 * hours as f64)", "rest(v.0 - 60.0 * hours as f64)"),
    ("pairs of the wrong sensor in the accounts", "sensor/accounts_tables.rs",
     "let record = |i: &usize| self.sensors.get(*i).map(|s| &s.record);", "let record = |_: &usize| self.sensors.first().map(|s| &s.record);"),
    ("the last conflicting reading lost from the report", "series/build.rs",
     'cleaning.rejected.push(reject(i, "conflict"));', ""),
    ("a column made up of the others taken for one", "stats/cholesky.rs",
     "rest <= least * whole.abs()", "rest <= 0.0 * least * whole.abs()"),
]


def main():
    args = arguments()
    chosen = [m for m in MUTATIONS if args.only in m[0] or args.only in m[1]]
    if args.list:
        for what, file, _, _ in chosen:
            print(f"{file}: {what}")
        return 0
    unfit = [problem for m in chosen if (problem := does_not_fit(m))]
    if unfit or not chosen:
        print("\n".join(unfit) or "no such change", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="mutate-") as folder:
        copy = Path(folder)
        copy_workspace(copy)
        env = dict(os.environ)
        env.setdefault("CARGO_TARGET_DIR", str(ROOT / "target" / "mutate"))
        # Nobody looks at these builds with a debugger, and most of the time goes into them.
        env.update(RUST_BACKTRACE="0", CARGO_PROFILE_DEV_DEBUG="0", CARGO_PROFILE_TEST_DEBUG="0")
        if not passes(copy, env, show=True):
            print("the unchanged copy does not pass its tests", file=sys.stderr)
            return 2
        survived = [m for m in chosen if not killed(m, copy, env)]
    print(f"{len(chosen) - len(survived)} of {len(chosen)} changes were noticed")
    for what, file, _, _ in survived:
        print(f"survived: {file}: {what}")
    return 1 if survived else 0


def arguments():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="", metavar="WORD", help="changes whose name or file holds WORD")
    parser.add_argument("--list", action="store_true", help="list the changes and stop")
    return parser.parse_args()


def does_not_fit(mutation):
    what, file, old, new = mutation
    count = (ROOT / CORE / file).read_text(encoding="utf-8").count(old)
    if count == 1 and old != new:
        return None
    return f"{file}: {what}: the old text stands {count} times: {old}"


def copy_workspace(copy):
    for name in COPIED:
        if (ROOT / name).exists():
            shutil.copytree(ROOT / name, copy / name, ignore=LEFT_OUT)
    for name in ROOT_FILES:
        if (ROOT / name).exists():
            shutil.copy2(ROOT / name, copy / name)


def killed(mutation, copy, env):
    what, file, old, new = mutation
    path = copy / CORE / file
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(old, new), encoding="utf-8")
    begun = time.monotonic()
    try:
        noticed = not passes(copy, env)
    finally:
        path.write_text(text, encoding="utf-8")
    seconds = time.monotonic() - begun
    print(f"{'killed' if noticed else 'SURVIVED'}: {file}: {what} ({seconds:.0f} s)", flush=True)
    return noticed


def passes(copy, env, show=False):
    """Whether the tests pass. A change that doesn't compile is a mistake in the list above."""
    build = subprocess.run([*TEST, "--no-run"], cwd=copy, env=env, capture_output=True, text=True)
    if build.returncode:
        sys.exit(f"does not compile:\n{build.stderr[-3000:]}")
    run = subprocess.run(TEST, cwd=copy, env=env, capture_output=True, text=True)
    if show and run.returncode:
        print(run.stdout[-3000:], run.stderr[-1000:], file=sys.stderr)
    return run.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
