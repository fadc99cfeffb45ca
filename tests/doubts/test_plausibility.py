"""Values that cannot be what they say. The bands are the data contract's own rules (common practice, no source)."""

from __future__ import annotations

import pytest

from wearcast.doubts.doubt import doubt


@pytest.mark.parametrize(
    ("value", "unit", "kind"),
    [
        ("7982", "mm", "unit_slip"),  # µm typed as mm
        ("7.982", "um", "unit_slip"),
        ("0.3143", "mm", "unit_slip"),  # 7.982 mm in inches
        ("7.982", "in", "unit_slip"),
        ("79.82", "mm", "decimal_slip"),
        ("0.7982", "mm", "decimal_slip"),
        ("9.3", "mm", "outlier"),
    ],
)
def test_a_wall_out_of_its_band_is_named_by_what_would_bring_it_back(doubted, value, unit, kind) -> None:
    found = doubted([{"value": value, "unit": unit}, {"date": "2025-01-01", "counter_h": "15000"}])
    (query,) = found[kind]
    assert query.rows == (2,)
    assert list(found) == [kind]


@pytest.mark.parametrize(
    ("value", "kind"), [("8.500", None), ("8.501", "outlier"), ("7.485", None), ("7.484", "outlier")]
)
def test_the_band_of_a_wall_is_half_a_millimetre_beyond_new(doubted, value, kind) -> None:
    found = doubted([{"value": value}])
    assert set(found) - {"unrecorded_renewal"} == ({kind} if kind else set())


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        ("0.750", None),
        ("0.751", "outlier"),
        ("0.074", None),
        ("0.024", "decimal_slip"),
        ("9.45", "unit_slip"),
    ],
)
def test_other_values_are_believed_between_a_third_and_three_times_new(doubted, value, kind) -> None:
    """9.45 is 0.24 mm in thousandths of an inch."""
    found = doubted([{"quantity": "clearance", "half": "", "value": value}])
    assert set(found) == ({kind} if kind else set())


def test_a_doubted_value_does_not_count_until_confirmed(history_of, counted) -> None:
    rows = [{"value": "9.300"}, {"date": "2025-01-01", "counter_h": "15000"}]
    assert counted(history_of(rows)) == {2: False, 3: True}
    history = history_of(rows, corrections=[{"old": "9.300"}])
    assert counted(history) == {2: True, 3: True}
    assert doubt(history).queries == ()


def test_a_new_wall_of_the_events_table_is_looked_at_too(doubted, history_of) -> None:
    renewal = {"date": "2020-03-01", "counter_h": "100", "new_value": "7995", "unit": "mm"}
    (query,) = doubted([{}], [renewal])["unit_slip"]
    assert (query.table, query.rows, query.column) == ("events", (2,), "new_value")
    confirmed = {"table": "events", "column": "new_value", "old": "7995"}
    as_the_dial = {"hours_per_year": "2830"}
    assert not doubt(history_of([{}], [renewal], corrections=[confirmed], engine=as_the_dial)).queries


def test_a_housing_bore_far_from_that_of_the_engine(doubted) -> None:
    bore = {"quantity": "housing_bore", "half": ""}
    assert not doubted([bore | {"value": "236.230"}])
    assert list(doubted([bore | {"value": "23.6230"}])) == ["decimal_slip"]


def test_a_correction_that_mends_the_value_ends_the_query(doubted) -> None:
    replaced = {"old": "7982", "new": "7.982", "action": "replace"}
    assert not doubted([{"value": "7982"}], corrections=[replaced])
