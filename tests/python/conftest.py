"""A trace and a trial that several tests share."""

import numpy as np
import pytest

import glycemic as gly

START_MS = 1_746_403_200_000  # 2025-05-05T00:00Z


def readings(days=14, seed=3, step_min=5):
    """Times (epoch ms) and whole glucose readings with meals in them."""
    n = days * 24 * 60 // step_min
    minutes = np.arange(n) * step_min
    rng = np.random.default_rng(seed)
    wave = 25 * np.maximum(0, np.sin(minutes / 240 * 2 * np.pi)) + 8 * np.sin(minutes / 1440 * 2 * np.pi)
    glucose = np.round(100 + wave + rng.normal(0, 6, n))
    return START_MS + minutes * 60_000, glucose


@pytest.fixture(scope="session")
def trace():
    times, glucose = readings()
    return gly.Trace(times, glucose, zone="Europe/Lisbon")


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("trial")
    gly.simulate.write(path, "demo", seed=1, full=False)
    return path


@pytest.fixture(scope="session")
def trial(folder):
    return gly.Trial.read(folder)


@pytest.fixture(scope="session")
def responses(trial):
    return trial.responses()


@pytest.fixture(scope="session")
def review(trial):
    return trial.review()
