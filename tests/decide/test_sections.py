"""Decisions as worded rows: what terminal and pages show."""

from __future__ import annotations

from decimal import Decimal

import pytest

from wearcast.decide.compare import compare_at
from wearcast.decide.order import order_at
from wearcast.decide.plan import plan_at
from wearcast.decide.sections import order_rows, place_rows, window_rows
from wearcast.decide.shares import share_in_words

TARN = ("Tarn Ivelle", "ME")


@pytest.mark.parametrize("chance", [0.0, 0.004, 0.0999, 0.1001, 0.5, 0.994, 0.9999, 1.0])
def test_a_chance_is_never_carried_to_certainty_or_over_the_risk(chance: float) -> None:
    said = share_in_words(chance, 0.10)
    assert (said == "0 %") == (chance == 0)
    assert (said == "100 %") == (chance == 1)
    if said[0].isdigit() and chance != 0.10:
        assert (Decimal(said.split()[0]) > 10) == (chance > 0.10)


def test_the_order_of_one_engine_is_driven_by_its_own_places(demo) -> None:
    rows = {row.part: row for row in order_rows(order_at(demo, 0.95), TARN)}
    assert rows["main lower U50"].headline == "order 1, order now"
    assert all(place.startswith("Tarn Ivelle") for row in rows.values() for place in row.driven_by)
    assert all(reason[0].isupper() or reason[0].isdigit() for row in rows.values() for reason in row.reasons)


def test_the_windows_of_one_engine_come_soonest_first(demo) -> None:
    rows = window_rows(plan_at(demo, 0.10), TARN)
    assert [row.window[:10] for row in rows] == sorted(row.window[:10] for row in rows)
    first = rows[0]
    assert {"main 6", "main 3"} <= {one.position for one in first.openings if one.standing == "open"}
    assert all(one.read and one.photograph for one in first.openings)


def test_places_are_told_with_rank_or_why_there_is_none(demo) -> None:
    rows = place_rows(compare_at(demo), TARN)
    assert all(bool(row.rank) != bool(row.not_comparable) for row in rows)
    assert not any(row.out_of_line for row in rows)
