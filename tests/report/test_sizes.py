"""Pages stay small enough to mail: a fleet of any size, 14 positions an engine, plan, orders and what-if in it.

The limits are this project's own: 2 MB an engine sheet, 8 MB an index of 50 engines. `tests/benchmarks/report.py`
draws all 50.
"""

from __future__ import annotations

import datetime as dt

import pytest
from wide_fleet import LAST, POSITIONS, write_wide_fleet

from wearcast.decide.compare import compare_at
from wearcast.decide.joint_needs import joint_needs
from wearcast.decide.order import order_at
from wearcast.decide.plan import plan_at
from wearcast.decide.stand import stand_of
from wearcast.forecasting.run import forecast
from wearcast.records.read import read
from wearcast.report.decided import Decided
from wearcast.report.sheets import render
from wearcast.report.what_if import WhatIfSource

ENGINE_BYTES, INDEX_BYTES = 2_000_000, 8_000_000
FEW, MANY, GOAL = 6, 12, 50
DRAWS = 500  # quantities are only counted here

pytestmark = pytest.mark.slow


def sizes_of(folder, engines: int) -> dict[str, int]:
    """Bytes of every page of a fleet, decisions and what-if included."""
    made = forecast(read(write_wide_fleet(folder, engines), LAST + dt.timedelta(days=60)))
    stand = stand_of(made)
    plan = plan_at(stand, made.settings.risk)
    order = order_at(stand, made.settings.service, needs=joint_needs(stand, DRAWS))
    decided = Decided(plan, order, compare_at(stand))
    pages = render(made, "0.0.0+test", what_if=WhatIfSource(made, plan, order), decided=decided)
    return {name: len(text.encode()) for name, text in pages.items()}


@pytest.fixture(scope="module")
def sizes(tmp_path_factory):
    return {n: sizes_of(tmp_path_factory.mktemp(f"fleet{n}"), n) for n in (FEW, MANY)}


def test_an_engine_sheet_of_14_positions_is_under_2_mb(sizes) -> None:
    assert len(POSITIONS) == 14
    sheets = [size for name, size in sizes[MANY].items() if name != "index.html"]
    assert len(sheets) == MANY
    assert max(sheets) < ENGINE_BYTES


def test_an_engine_sheet_does_not_grow_with_the_fleet(sizes) -> None:
    largest = {n: max(size for name, size in of.items() if name != "index.html") for n, of in sizes.items()}
    assert largest[MANY] < 1.02 * largest[FEW]


def test_an_index_of_50_engines_comes_out_under_8_mb(sizes) -> None:
    few, many = (sizes[n]["index.html"] for n in (FEW, MANY))
    an_engine = (many - few) / (MANY - FEW)
    assert an_engine > 10_000  # it holds them
    assert many + (GOAL - MANY) * an_engine < INDEX_BYTES
