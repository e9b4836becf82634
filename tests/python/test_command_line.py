"""The command line: help, exit codes, and messages that say where."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "examples" / "demo_trial"


def glycemic(*arguments):
    command = [sys.executable, "-m", "glycemic", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=300)


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(DEMO, tmp_path / "trial")
    return tmp_path / "trial"


@pytest.mark.parametrize("command", [[], ["review"], ["check"], ["init"], ["demo"], ["simulate"], ["cohort"]])
def test_every_command_has_help(command):
    done = glycemic(*command, "--help")
    assert done.returncode == 0 and "usage: glycemic" in done.stdout


def test_a_review_writes_page_and_json(folder, tmp_path):
    done = glycemic("review", folder, "--json", tmp_path / "review.json")
    assert done.returncode == 0, done.stderr
    assert (folder / "review.html").exists() and "Not a medical device" in done.stdout
    assert json.loads((tmp_path / "review.json").read_text())["schema"] == "glycemic.review/1"


def test_bad_rows_are_all_named_and_nothing_is_written(folder):
    with (folder / "meals.csv").open("a") as out:
        out.write("yesterday,,10,,,,,,,,\n")
    with (folder / "meter.csv").open("a") as out:
        out.write("2001-01-01 08:00,100,\n")
    done = glycemic("review", folder)
    assert done.returncode == 2 and not (folder / "review.html").exists()
    assert "meals.csv, line" in done.stderr and "meter.csv, line" in done.stderr
    skipped = glycemic("review", folder, "--on-bad-rows", "skip", "--no-page")
    assert skipped.returncode == 0
    assert glycemic("check", folder).returncode == 2


@pytest.mark.parametrize("what", ["missing", "file"])
def test_a_folder_that_is_none(tmp_path, what):
    path = tmp_path / what
    if what == "file":
        path.write_text("x")
    done = glycemic("review", path)
    assert done.returncode == 2 and str(path) in done.stderr


def test_data_that_cannot_answer_say_so(tmp_path):
    rows = ["time,glucose"] + [f"2025-03-14 {h:02d}:{m:02d},100" for h in range(3) for m in range(0, 60, 5)]
    (tmp_path / "sensor.csv").write_text("\n".join(rows) + "\n")
    done = glycemic("review", tmp_path, "--no-page")
    assert done.returncode == 1, done.stderr
    assert "Can't tell" in done.stdout


def test_init_then_simulate(tmp_path):
    assert glycemic("init", tmp_path / "new", "--zone", "Europe/Lisbon").returncode == 0
    assert glycemic("init", tmp_path / "new").returncode == 2
    assert glycemic("review", tmp_path / "new").returncode == 2
    assert glycemic("simulate", tmp_path / "made", "--seed", "3").returncode == 0
    assert (tmp_path / "made" / "truth.json").exists()
    assert glycemic("check", tmp_path / "made").returncode == 0
