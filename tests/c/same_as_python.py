"""The panel and the tolerance of the demo from C and from Python, compared to the last digit.

Run after ``run.sh``, in an environment that has the package: ``python tests/c/same_as_python.py``.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import glycemic as gly

ROOT = Path(__file__).parents[2]
PROGRAM = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "c-tests" / "test_panel"
ZONE = "Europe/Lisbon"

trial = gly.Trial.read(ROOT / "examples" / "demo_trial")
times, glucose = trial.sensor.times_ms.tolist(), trial.sensor.glucose_mg_dl.tolist()
trace = gly.Trace(times, glucose, unit="mg/dL", zone=ZONE)


def ask(program, *arguments):
    """Lines of a C program: a name, and numbers."""
    command = [PROGRAM.parent / program, *arguments, ZONE]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return dict(line.split(" ", 1) for line in printed.splitlines())


def digits(*values):
    return " ".join("-" if v is None else f"{v:.17g}" for v in values)


def diary():
    """The demo's meals and activity as the C program reads them."""
    meals, activity = trial.meals.to_dict(), trial.activity.to_dict()
    grams = [meals[name] for name in ("carbs_g", "fiber_g", "protein_g", "fat_g")]
    for i, time in enumerate(meals["time_ms"]):
        numbers = " ".join("nan" if g[i] is None else repr(g[i]) for g in grams)
        yield f"M {time} {numbers} {meals['tags'][i] or '-'}"
    for start, minutes, kind in zip(activity["start_ms"], activity["minutes"], activity["kind"]):
        yield f"A {start} {minutes} {kind}"


def ends(estimate):
    return digits(estimate.value, estimate.low, estimate.high)


with tempfile.TemporaryDirectory() as folder:
    readings, written = Path(folder) / "readings.txt", Path(folder) / "diary.txt"
    readings.write_text("".join(f"{t} {g:.17g}\n" for t, g in zip(times, glucose)))
    written.write_text("".join(line + "\n" for line in diary()))
    from_c = ask("test_panel", readings)
    wanted = {name: digits(value) for name, value in gly.panel(trace).to_dict().items()}
    from_c |= ask("test_meals", readings, written)
    pricked = Path(folder) / "meter.txt"
    pairs = zip(trial.meter.times_ms.tolist(), trial.meter.glucose_mg_dl.tolist())
    pricked.write_text("".join(f"{t} {g:.17g}\n" for t, g in pairs))
    from_c |= ask("test_accounts", readings, pricked)

targets = {"rise_mg_dl": 30, "peak_mg_dl": 140}
responses = gly.meals.responses(trace, trial.meals, targets, trial.activity)
fit = gly.tolerance.fit(responses, 30)
wanted |= {"limit": ends(fit.limit), "safe": ends(fit.safe_g(0.8))}
wanted |= {"predict": ends(fit.predict(25)), "load": ends(fit.equivalent_load(35))}
bent = fit.saturating()
wanted |= {"saturating": digits(bent.power, bent.left_out_mg_dl, bent.weight)}
beside = gly.tolerance.beside_grams(responses)
wanted |= {"walk_beside": digits(*(beside[c][0] for c in ("went_with_mg_dl", "low_mg_dl", "left_out_mg_dl")))}
shown = 80 + 0.8 * (trace.glucose_mg_dl[::6] - 80)
blood = gly.tolerance.limits_in_blood(responses, gly.Meter(trace.times_ms[::6], shown), 30)
wanted |= {"in_blood": digits(blood["value"][0], blood["value"][1], blood["high"][2])}
day = trace.times[0].astype("datetime64[D]")
carried = gly.contrast.carried_out(responses, day, 14, 6, ["lunch", "dinner"], "walk_after", "no_walk", seed=7)
wanted |= {"carried_out": ends(carried.as_assigned.difference)}
sensors = {"sensor": ["A"], "person": ["1"], "inserted_ms": times[:1], "ended_ms": times[-1:], "end": ["completed"]}
accounts = gly.sensor.accounts(sensors | {"length_days": [10]}, [trace], {"1": trial.meter}, warm_up_min=60)
of_sensor = [accounts.sensors[name][0] for name in ("mard_pct", "bias_mg_dl", "capture_pct")]
wanted |= {"accounts_sensor": digits(*of_sensor), "accounts_flow": digits(*accounts.flow["n"].tolist())}
# A figure that only one of them prints is a failure too, or a lost line would pass unseen.
differ = {name for name in wanted.keys() | from_c.keys() if wanted.get(name) != from_c.get(name)}
for name in sorted(differ):
    print(f"{name}: C {from_c.get(name, 'nothing')}, Python {wanted.get(name, 'nothing')}")
print(f"{len(wanted) - len(differ)} passed, {len(differ)} failed: C equal to Python to the last digit")
sys.exit(bool(differ))
