"""Decisions as worded rows: what terminal and pages show."""

from __future__ import annotations

from wearcast.decide.compare import compare_at
from wearcast.decide.order import order_at
from wearcast.decide.plan import plan_at
from wearcast.decide.sections import order_rows, place_rows, window_rows

TARN = ("Tarn Ivelle", "ME")


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
