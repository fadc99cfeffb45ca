"""One stand of the demo fleet for all tests of decisions: it costs a forecast."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

import wearcast
from wearcast.decide.stand import Stand, take_stand

RUN = dt.date(2026, 11, 1)


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    return Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="session")
def demo_records(demo_folder):
    return wearcast.read(demo_folder, RUN)


@pytest.fixture(scope="session")
def demo(demo_records) -> Stand:
    return take_stand(demo_records)


@pytest.fixture(scope="session")
def truth(demo_folder) -> dict:
    return json.loads((demo_folder / "truth.json").read_text(encoding="utf-8"))
