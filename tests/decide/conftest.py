"""One stand of the demo fleet for all tests of decisions: it costs a forecast."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import demo_results
import pytest

from wearcast.decide.stand import Stand

RUN = dt.date(2026, 11, 1)


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    return Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="session")
def demo_records():
    return demo_results.demo_records()


@pytest.fixture(scope="session")
def demo() -> Stand:
    return demo_results.demo_stand()


@pytest.fixture(scope="session")
def truth(demo_folder) -> dict:
    return json.loads((demo_folder / "truth.json").read_text(encoding="utf-8"))
