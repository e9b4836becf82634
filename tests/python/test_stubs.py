"""The stubs say what the built module has."""

import subprocess
import sys
from pathlib import Path

import glycemic as gly


def test_stubs_match_the_module(tmp_path):
    command = [sys.executable, "-m", "mypy.stubtest", "glycemic"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_every_measure_stands_in_the_stub():
    stub = (Path(gly.__file__).parent / "_glycemic.pyi").read_text(encoding="utf-8")
    missing = [name for name in gly.measures()["name"] if f"    {name}: " not in stub]
    assert not missing, f"add to class Panel in _glycemic.pyi: {missing}"
