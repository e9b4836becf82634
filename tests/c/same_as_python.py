"""The panel of the demo's readings from C and from Python, compared to the last digit.

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

sensor = gly.Trial.read(ROOT / "examples" / "demo_trial").sensor
times, glucose = sensor.times_ms.tolist(), sensor.glucose_mg_dl.tolist()
with tempfile.TemporaryDirectory() as folder:
    path = Path(folder) / "readings.txt"
    path.write_text("".join(f"{t} {g:.17g}\n" for t, g in zip(times, glucose)))
    printed = subprocess.run([PROGRAM, path, ZONE], capture_output=True, text=True, check=True).stdout
from_c = dict(line.split(" ", 1) for line in printed.splitlines())
panel = gly.panel(gly.Trace(times, glucose, unit="mg/dL", zone=ZONE)).to_dict()
failed = 0
for measure, text in from_c.items():
    value = panel[measure]
    here = "-" if value is None else f"{value:.17g}"
    if here != text:
        print(f"{measure}: C {text}, Python {here}")
        failed += 1
print(f"{len(from_c) - failed} passed, {failed} failed: measures of C equal to Python's to the last digit")
sys.exit(bool(failed) or len(from_c) != len(gly.measures()))
