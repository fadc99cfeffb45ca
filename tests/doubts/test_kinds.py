"""Each row of the tables of quantities and of kinds of query, put through the same tests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from wearcast.doubts.doubt import FAMILIES, doubt
from wearcast.doubts.drafts import DRAFTS
from wearcast.lives.build import build
from wearcast.quantities import QUANTITIES, Quantity
from wearcast.queries import KINDS
from wearcast.records.read import read

MODEL = {"outlier", "opening_error", "end_swap", "quickened", "slowed", "rate_changed"}
"""Raised by the fitted model."""

ENGINES, PLACES, OPENINGS = 3, 4, 5


def test_every_doubt_is_raised_somewhere_and_drafted_somehow() -> None:
    raised = {kind for family in FAMILIES for kind in family.kinds} | MODEL
    assert raised == {name for name, kind in KINDS.items() if not kind.stops_run}
    assert {kind.draft for kind in KINDS.values()} == set(DRAFTS)


def plain_fleet(quantity: Quantity, write: Callable[..., Path]) -> Path:
    """Sister engines of which one quantity was read, place by place, on its way from new to its limit."""
    new, limit = ((0.0, 0.0), 0.5) if quantity.starts_at_zero else ((0.4, 0.41), 0.6)
    if quantity.side == "min":
        new, limit = (10.0, 10.005), 9.9
    where = {"quantity": quantity.name, "half": "lower" if quantity.half == "required" else ""}
    rng = np.random.default_rng(4)
    usual = sum(new) / 2
    readings = []
    for engine in range(ENGINES):
        for opening in range(OPENINGS):
            on = dt.date(2015 + 2 * opening, 3, 1 + engine)
            for place in range(PLACES):
                share = 0.09 * (opening + 1) * (1 + 0.15 * place)
                value = usual + share * (limit - usual) + rng.normal(0, 0.002)
                row = {"vessel": f"Alder {engine}", "position": str(place + 1), "value": f"{value:.3f}"}
                readings.append(row | where | {"date": str(on), "counter_h": str(5000 + 10000 * opening)})
    limits = {
        "new_min": str(new[0]),
        "new_max": str(new[1]),
        "limit": str(limit),
        "limit_side": quantity.side,
    }
    engines = [{"vessel": f"Alder {engine}"} for engine in range(ENGINES)]
    return write(readings=readings, engines=engines, limits=[where | limits])


@pytest.mark.parametrize("name", [one.name for one in QUANTITIES.values() if one.forecast])
def test_a_plain_fleet_of_any_quantity_raises_no_query(name: str, record_folder: Callable[..., Path]) -> None:
    """A steady change from new towards the limit: nothing to ask about, nothing left out."""
    history = build(read(plain_fleet(QUANTITIES[name], record_folder)))
    assert len(history.readings) == ENGINES * PLACES * OPENINGS
    found = doubt(history)
    assert [query.text for query in found.queries] == []
    assert found.counted.all()
    assert np.isfinite(history.readings["wear_um"]).all()
